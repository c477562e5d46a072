"""How well a new chip or disk is proved: by what was read back from it.

- `unread`: nothing was read back.
- `failed`: something that was read back is not what was written.
- `single`: one read-back is what was written.
- `repeated`: two or more are, and share what could be wrong with them, or something is missing to prove it.
- `proved`: two or more are that differ in what could be wrong (`conditions` counts that), they show all of the chip,
  and reader, person and a time after the writing are stated for each.

A perfect read-back has the very bytes of the file that was written, so that a copy of that file cannot be told from
one: what proves a replacement is what people state of their read-backs, and the reason says so. A disk is proved by a
second drive, best the machine's own: two passes of one drive share its alignment. A read-back of another specimen says
nothing of this one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from imagekeeper.evidence.conditions import independence
from imagekeeper.evidence.parts import known_chip
from imagekeeper.evidence.support import joined
from imagekeeper.provenance.dates import time_span
from imagekeeper.provenance.kinds import DISKS
from imagekeeper.provenance.replacements import ReadBack, Replacement, ReplacementGrade
from imagekeeper.units import size_text


def proof(made: Replacement, kind: str, chip_bytes: int | None = None) -> tuple[ReplacementGrade, str]:
    """Grade a replacement.

    Args:
        made: The replacement, with its read-backs.
        kind: The kind of the carrier that it replaces.
        chip_bytes: What the part that it was made of holds, where that is known. [byte]

    Returns:
        The grade, and what it rests on.
    """
    backs = [back for back in made.read_backs if not back.taken_back]
    if not backs:
        return "unread", "Nothing was read back."
    wrong = [back.file for back in backs if back.matches == "no"]
    if wrong:
        return "failed", f"{', '.join(wrong[:5])}: not what was written."
    given, backs = backs, _each_once(backs)
    again = [back.file for back in given if back not in backs]
    whole = [back for back in backs if back.matches == "whole"]
    part = " One shows only the image, not what was put around it." if len(whole) < len(backs) else ""
    part += f" {', '.join(again[:5])} was given again, and counts once." if again else ""
    if len(backs) == 1:
        return "single", f"One read-back is what was written.{part}"
    told = f"{len(backs)} read-backs are what was written"
    found = independence(whole, kind)
    differ = "; nothing is known to differ between them."
    if found.differ:
        differ = f"; they differ in {joined(found.differ)}."
    missing = list(_missing(made, kind, whole, chip_bytes))
    if found.enough and not missing:
        return "proved", f"{told}{differ}{part} {_stated(whole)}{_edges(whole)}"
    if not found.enough:
        missing.append(
            "a read-back in another drive, best the machine's own" if kind in DISKS
            else "a read-back on another reader, or at another supply voltage"
        )
    return "repeated", f"{told}{differ}{part} To prove it: {'; '.join(missing)}."


def _each_once(backs: Sequence[ReadBack]) -> list[ReadBack]:
    """Leave out files that were given again: the same name, time of change and bytes."""
    first: dict[object, ReadBack] = {}
    for back in backs:
        key = back.path if back.modified is None else (back.file, back.modified, back.sha256)
        first.setdefault(key, back)
    return list(first.values())


def regraded(made: Replacement, kind: str) -> Replacement:
    """Derive again how well a replacement is proved, from what is kept of it."""
    if not made.read_backs and made.read_back_sha256 is not None:
        return made   # of a version that kept no read-backs: there is nothing to derive it from
    chip = known_chip(made.part) if made.written_bytes is not None and kind not in DISKS else None
    grade, because = proof(made, kind, None if chip is None else chip.file_bytes)
    return replace(made, grade=grade, because=because)


def _missing(made: Replacement, kind: str, whole: Sequence[ReadBack], chip_bytes: int | None) -> list[str]:
    missing = []
    size = made.written_bytes
    if chip_bytes is not None and size is not None and size != chip_bytes and kind not in DISKS:
        missing.append(
            f"what was written is {size_text(size)} and a {made.part} holds {size_text(chip_bytes)}: name the right "
            "part, or write and read back all of it"
        )
    unstated = [
        word
        for word, name in (("the reader", "reader"), ("the person", "operator"), ("the time", "date"))
        if any(getattr(back, name) is None for back in whole)
    ]
    if unstated:
        missing.append(
            f"state {joined(unstated)} of each read-back: a copy of the written file cannot be told from one"
        )
    early = [back.file for back in whole if made.date and back.date and _before(back.date, made.date)]
    if early:
        missing.append(f"{', '.join(early[:3])} is dated before the writing")
    return missing


def _before(date: str, other: str) -> bool:
    """Whether all that a date may mean lies before all that another may."""
    last, first = time_span(date)[1], time_span(other)[0]
    return last is not None and first is not None and last < first


def _stated(backs: Sequence[ReadBack]) -> str:
    """Name who read back, with what and when: as stated, for nobody can see it in the bytes."""
    said = [
        ", ".join(text for text in (back.drive or back.reader, back.operator, back.date) if text)
        for back in backs[:4]
    ]
    more = f" and {len(backs) - 4} more" if len(backs) > 4 else ""
    return f"As stated: {'; '.join(dict.fromkeys(said))}{more}."


def _edges(backs: Sequence[ReadBack]) -> str:
    """Say over which range of the supply it was read back."""
    volts = sorted({float(back.vcc) for back in backs if back.vcc is not None})
    return f" Read back from {volts[0]:g} to {volts[-1]:g} V." if len(volts) > 1 else ""
