"""The verdict strip: what a carrier is, how its evidence stands, the sums a programmer shows, and the next step."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import painted

if TYPE_CHECKING:   # what makes the results is slow to load, and a list needs none of it
    from imagekeeper.present.text.paper import Tone
    from imagekeeper.provenance.records import CarrierRecord
    from imagekeeper.provenance.standing import Contradiction, Standing
    from imagekeeper.provenance.testimony import Deaccession

_TONE: dict[str, Tone] = {"independent": "good", "corroborated": "good", "disputed": "bad", "none": "bad"}


def strip(record: CarrierRecord, found: Standing) -> list[str]:
    """Show the verdict of a carrier at one glance: damage above all else, then what is open, then the grade."""
    what = " ".join(part for part in (record.kind, record.part) if part)
    where = ", ".join(part for part in (record.machine, record.board, record.position) if part)
    lines = [painted(record.id, "strong") + f"  {what}" + (f" in {where}" if where else "")]
    gone = taken_out(record.deaccessions)
    lines += gone
    lines.append(f"  {verdict(found)}")
    sums = figures(found)
    if sums:
        lines.append(f"  {sums}")
    if found.next.does and not gone:   # nobody has it on the bench any more
        lines += parts.wrapped("  next     ", found.next.does)
        for outcome in found.next.outcomes:
            lines += parts.wrapped("           ", outcome)
    return lines


def taken_out(deaccessions: Sequence[Deaccession]) -> list[str]:
    """Say that something was taken out of the collection, when, by whom and why; nothing where it was not."""
    lines = []
    for one in deaccessions:
        who = f", by {one.by}" if one.by else ""
        lines.append("  " + painted(f"TAKEN OUT of the collection on {one.added}{who} ({one.id})", "care"))
        lines += parts.wrapped("           ", one.reason)
    return lines


def verdict(found: Standing) -> str:
    """Say how a carrier stands in one line.

    Damage of what is kept comes before all else; then the grade, with what is open or was explained beside it.
    """
    if found.damage:
        some = ", ".join(found.damage[:3]) + (", …" if len(found.damage) > 3 else "")
        return painted(f"DAMAGED in the archive: {some}", "bad")
    tone: Tone = "bad" if found.open else _TONE.get(found.grade, "care")
    grade = painted(found.grade, tone)
    settled = "" if found.settled or found.grade == "none" else " (as it stands; not settled)"
    held = ""
    if found.open:
        codes = ", ".join(dict.fromkeys(one.code for one in found.open))
        held = "; " + painted(f"open: {codes}", "bad")
    said = ""
    if found.explained:
        said = f"; explained: {', '.join(dict.fromkeys(one.code for one in found.explained))}"
    return f"{grade}{settled}{held}{said}"


def figures(found: Standing) -> str:
    """Give the figures by which people and programmers know an image; empty where there is none."""
    shown = []
    if "sum16" in found.figures:
        shown.append(f"sum {found.figures['sum16']}")
    if "crc32" in found.figures:
        shown.append(f"CRC-32 {found.figures['crc32']}")
    if found.sha256 is not None:
        shown.append(f"SHA-256 {found.sha256[:16]}…")
    return "  ".join(shown)


def evidence_lines(found: Standing, label: str, *, advised: str = "") -> list[str]:
    """Show the grade with its grounds, and everything that speaks against the image.

    Args:
        found: How the carrier stands.
        label: Whether that is recorded.
        advised: The next step, where it was shown already: nothing is said twice.
    """
    lines = parts.wrapped("  grade    ", f"{found.grade} ({label}): {found.because}")
    if found.recorded is not None and found.recorded != found.grade:
        lines += parts.wrapped("           ", f"recorded as {found.recorded}; the evidence gives {found.grade} today")
    told = found.settled or found.grade == "single"   # else the step is to settle it, which raises nothing
    if told and found.next.does not in ("", advised) and all(found.next.does != one.settle for one in found.open):
        lines += parts.wrapped("           ", f"to raise it: {found.next.does}")
    for one in found.contradictions:
        lines += contradiction_lines(one, advised=advised)
    return lines


def contradiction_lines(one: Contradiction, *, advised: str = "") -> list[str]:
    """Show what speaks against an image, with what would settle it or how it was explained."""
    shown = painted(one.code, "bad" if one.explained is None else "care")
    lines = [f"  {'open' if one.explained is None else 'explained':11}{shown} ({', '.join(one.where)})"]
    lines += parts.wrapped("           ", one.why)
    if one.explained is not None:
        who = f", {one.explained.by}" if one.explained.by else ""
        lines += parts.wrapped("           ", f"{one.explained.id}{who}: {one.explained.reason}")
        return lines
    if one.before is not None:
        lines += parts.wrapped(
            "           ", f"{one.before.id} explained it before there was new evidence: {one.before.reason}"
        )
    return lines if one.settle == advised else lines + parts.wrapped("           ", f"to settle it: {one.settle}")
