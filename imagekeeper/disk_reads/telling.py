"""Say what explains the differences between reads of a disk, as findings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Any

import numpy as np

from imagekeeper.disk_reads.content import NAMES
from imagekeeper.disk_reads.explaining import NO_READ_IS_WRONG, Explained, Explaining
from imagekeeper.disk_reads.losses import Mask, Part
from imagekeeper.disk_reads.moves import Mishap
from imagekeeper.disk_reads.sectors import ABSENT, SectorRead, padded
from imagekeeper.findings import Finding, Severity
from imagekeeper.sentences.say import Phrase

#: So many places are named in a sentence, and so many in the detail.
_SHOWN, _KEPT = 6, 1000

#: Codes of which the sectors are all there, in another order.
NOTHING_LOST = ("sides-order", "sectors-rotated", "sectors-interleaved")


_ARRANGED = {
    "side-after-side": "sides-order/side-after-side", "side-1-reversed": "sides-order/side-1-reversed",
}  # fmt: skip


def findings_of(explaining: Explaining) -> tuple[Finding, ...]:
    """Give the findings, the likeliest of each image first; of what is less likely only the main one."""
    found: list[Finding] = []
    rivals: list[Finding] = []
    of_two = len(explaining.images) == 2
    seen: set[int] = set()
    for one in explaining.explained():
        told = list(_findings(one, explaining))
        if id(one.wrong) in seen or (of_two and seen):
            rivals += told[:1]
        else:
            found += told
        seen.add(id(one.wrong))
    return (*found, *rivals)


def _findings(one: Explained, explaining: Explaining) -> Iterator[Finding]:
    by_code = {code: number for number, code in enumerate(one.account.codes)}
    things: list[Mishap | Part] = sorted(
        [*one.account.move.events, *one.account.parts], key=lambda thing: by_code[thing.code]
    )
    for thing in things:
        if isinstance(thing, Mishap):
            yield _of_event(one, thing)
        else:
            yield _of_part(one, thing, explaining)


def _names(one: Explained) -> tuple[str, str]:
    return one.wrong.name, one.right.name or "most reads"


def _detail(one: Explained, cylinders: Sequence[int], sides: Sequence[int]) -> dict[str, Any]:
    told = one.told and one.account.code not in NO_READ_IS_WRONG
    return {
        "reads": list(one.wrong.reads), "against": list(one.right.reads),
        "wrong": list(one.wrong.reads) if told else [], "cylinders": list(cylinders), "sides": list(sides),
    }  # fmt: skip


def _verdict(one: Explained) -> str:
    return str(
        Phrase("sectors-differ/told", read=one.wrong.name) if one.told else Phrase("sectors-differ/untold")
    )


def _of_event(one: Explained, event: Mishap) -> Finding:
    read, other = _names(one)
    first, last = event.cylinders
    values: dict[str, Any] = dict(event.values)
    detail = {**_detail(one, range(first, last + 1), event.sides), **values}
    if event.code == "sides-order":
        arranged = str(Phrase(_ARRANGED[values["order"]]))
        if values["turned"]:
            arranged = str(Phrase("sides-order/back", other=other, read=read, arranged=arranged))
        values["arranged"] = arranged
    elif event.code == "last-cylinders-missing":
        values["instead"] = str(Phrase(values["instead"], reached=values["reached"], fill=""))
        detail.pop("instead")
    elif event.code == "first-sector-wrong":
        values["way"] = str(Phrase("first-sector-wrong/early" if values["by"] < 0 else "first-sector-wrong/late"))
    elif event.code in ("sectors-rotated", "sectors-interleaved"):
        values["how"] = str(Phrase(values["how"], **{name: values[name] for name in values if name != "how"}))
        detail.pop("how")
    elif event.code == "track-of-neighbour":
        values["from_side"] = ""
    severity: Severity = "warning" if event.code in NOTHING_LOST else "fault"
    return Finding.of(
        event.code, severity, one.confidence, detail=detail,
        **{**values, "read": read, "other": other, "verdict": _verdict(one), "first": first,
           "cylinders": span(range(first, last + 1), "cylinder"), "sides": span(event.sides, "side")},
    )  # fmt: skip


def _of_part(one: Explained, part: Part, explaining: Explaining) -> Finding:
    read, other = _names(one)
    heads = explaining.form.heads
    places = [(track // heads, track % heads, sector + 1) for track, sector in np.argwhere(part.where).tolist()]
    cylinders, sides = sorted({place[0] for place in places}), sorted({place[1] for place in places})
    values: dict[str, Any] = dict(part.values)
    detail = {**_detail(one, cylinders, sides), "sectors": len(places), "places": [list(p) for p in places[:_KEPT]]}
    fill = _fill(one.wrong, part.where, explaining)
    if part.code == "last-cylinders-missing":
        values["instead"] = str(Phrase(values["instead"], fill=fill, reached=values["reached"]))
    elif part.code == "track-of-neighbour":
        detail |= values
        values["from_side"] = str(Phrase("track-of-neighbour/side", side=values["from_side"]))
    elif part.code == "radial-decay":
        detail["towards"] = "last" if values["end"] == "radial-decay/inner" else "first"
        values["end"] = str(Phrase(values["end"]))
    elif part.code == "other-disk":
        values["same"] = detail["same"] = part.values["same"]
    elif part.code == "other-version":
        added, gone, changed = explaining.on(one.right).changed(explaining.on(one.wrong)) if one.right.data else (
            [], [], []
        )
        detail |= {"added": added[:_KEPT], "gone": gone[:_KEPT], "changed": changed[:_KEPT]}
        values["changes"] = _changes(added, gone, changed, read, other)
    shown = tracks(places) if part.code == "track-lost" else sectors(places)
    severity: Severity = "warning" if part.code in NO_READ_IS_WRONG else "fault"
    return Finding.of(
        part.code, severity, one.confidence, detail=detail,
        **{**values, "read": read, "other": other, "verdict": _verdict(one), "fill": fill, "places": shown,
           "cylinders": span(cylinders, "cylinder"), "sides": span(sides, "side"), "sectors": len(places)},
    )  # fmt: skip


def _changes(added: list[str], gone: list[str], changed: list[str], read: str, other: str) -> str:
    parts = [
        str(phrase) for names, phrase in (
            (added, Phrase("other-version/added", read=read, names=added[:NAMES])),
            (gone, Phrase("other-version/gone", other=other, names=gone[:NAMES])),
            (changed, Phrase("other-version/changed", names=changed[:NAMES])),
        ) if names
    ]  # fmt: skip
    return str(Phrase("other-version/files", list="; ".join(parts))) if parts else ""


def _fill(read: SectorRead, where: Mask, explaining: Explaining) -> str:
    """Say with what sectors are filled: 00, E5, a text, or that they are not there."""
    numbers = padded(read.numbers, len(where))[where]
    found = []
    for number in dict.fromkeys(numbers.tolist()):
        fill = None if number == ABSENT else explaining.contents.fills[number]
        text = "the end of the file" if number == ABSENT else fill_text(fill) if fill is not None else None
        if text is not None and text not in found:
            found.append(text)
    return " and ".join(found[:3])


def fill_text(fill: bytes) -> str:
    r"""Write what fills a sector.

    Example:
        >>> fill_text(b"\xf6"), fill_text(b"NOT READ ")
        ('F6', '"NOT READ "')
    """
    if len(fill) > 2 and all(32 <= byte < 127 for byte in fill):
        return f'"{fill.decode("ascii")}"'
    return fill[:8].hex(" ").upper()


def span(numbers: Sequence[int], what: str) -> str:
    """Name numbers by their runs.

    Example:
        >>> span([0, 1, 2, 7], "cylinder"), span([1], "side"), span(range(0, 40, 2), "cylinder")
        ('cylinders 0-2, 7', 'side 1', '20 cylinders between 0 and 38')
    """
    runs = []
    for _, group in groupby(enumerate(sorted(numbers)), key=lambda pair: pair[1] - pair[0]):
        members = [number for _, number in group]
        runs.append(f"{members[0]}" if len(members) == 1 else f"{members[0]}-{members[-1]}")
    if len(runs) > _SHOWN:
        return f"{len(numbers)} {what}s between {min(numbers)} and {max(numbers)}"
    return f"{what}{'s' if len(numbers) > 1 else ''} {', '.join(runs)}"


def sectors(places: Sequence[tuple[int, int, int]]) -> str:
    """Name sectors as cylinder/side/sector, the first few.

    Example:
        >>> sectors([(3, 1, 9)])
        '3/1/9'
    """
    shown = ", ".join("/".join(map(str, place)) for place in places[:_SHOWN])
    more = len(places) - _SHOWN
    return f"{shown} and {more} more" if more > 0 else shown


def tracks(places: Sequence[tuple[int, int, int]]) -> str:
    """Name the tracks of sectors.

    Example:
        >>> tracks([(3, 1, 1), (3, 1, 2), (4, 1, 1)])
        'cylinder 3 side 1, cylinder 4 side 1'
    """
    found = list(dict.fromkeys(place[:2] for place in places))
    shown = ", ".join(f"cylinder {cylinder} side {side}" for cylinder, side in found[:_SHOWN])
    more = len(found) - _SHOWN
    return f"{shown} and {more} more" if more > 0 else shown
