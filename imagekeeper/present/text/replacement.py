"""A new chip or disk, and what proves it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import Tone, page, painted
from imagekeeper.units import plural

if TYPE_CHECKING:
    from imagekeeper.jobs.carriers.replacing import Replaced


def replacement_text(result: Replaced) -> str:
    """Show a replacement and its proof."""
    made = result.replacement
    tone: Tone = "good" if made.grade == "proved" else "bad" if made.grade == "failed" else "care"
    head = f"{result.id} {made.id}: " + painted(made.grade, tone)
    lines = [head, *parts.wrapped("  because  ", made.because)]
    of = f"{made.part or 'unknown part'}, from image {made.image}, {made.placed}"
    lines += parts.wrapped("  made of  ", of)
    known = (
        ("marked", made.markings), ("date code", made.date_code), ("blank", made.blank),
        ("look again", made.look_again),
    )  # fmt: skip
    for word, text in known:
        if text:
            lines += parts.wrapped(f"  {word:11}", text)
    lines += parts.insisted("           ", made.insisted)
    for back in made.read_backs:
        how = (back.reader, back.vcc and f"{back.vcc} V", back.operator, parts.between(back))
        where = ", ".join(part for part in how if part)
        says = {"whole": "equal", "in-part": "equal to the image alone", "no": "differs"}[back.matches]
        says = "taken back" if back.taken_back else says
        lines += parts.wrapped("  back     ", f"{back.file}: {says}" + (f" ({where})" if where else ""))
        lines += parts.insisted("           ", back.insisted)
    for one in result.differences:
        at = "" if one.first is None else f", the first at {one.first:04X}"
        sizes = f"; {one.size_bytes} bytes instead of {one.expected_bytes}"
        sizes = "" if one.size_bytes == one.expected_bytes else sizes
        lines += parts.wrapped("  differs  ", f"{one.file}: {plural(one.bytes, 'byte')}{at}{sizes}")
    vague = [
        f"{made.id}/{n}" for n, back in enumerate(made.read_backs, 1)
        if back.matches == "whole" and not back.taken_back and None in (back.reader, back.operator, back.date)
    ]  # fmt: skip
    if made.grade == "repeated" and vague:   # more read-backs do not make up for what is unsaid of these
        lines += parts.wrapped(
            "  next: ", f"take back what is not told in full ({', '.join(vague)}), and give each such file again with "
            f"--reader, --operator and --date: imagekeeper carrier withdraw {result.id} {vague[0]} --reason TEXT, "
            f"then: imagekeeper carrier replace {result.id} --add-to {made.id} FILE",
        )  # fmt: skip
    elif made.grade in ("unread", "single", "repeated"):
        lines += parts.wrapped(
            "  next: ", "read it back on another reader or at another supply voltage (a disk: in another drive), then: "
            f"imagekeeper carrier replace {result.id} --add-to {made.id} FILE, with --reader, --operator and --date",
        )  # fmt: skip
    if made.grade == "failed":
        wrong = next(n for n, back in enumerate(made.read_backs, 1) if back.matches == "no" and not back.taken_back)
        lines += parts.wrapped(
            "  next: ",
            "do not use it: clean the contacts, read it again, and program another one. If only a wrong file was "
            f"given: imagekeeper carrier withdraw {result.id} {made.id}/{wrong} --reason TEXT",
        )  # fmt: skip
    return page(lines)
