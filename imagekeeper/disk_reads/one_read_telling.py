"""What one image tells of its own reading, as findings."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from imagekeeper.disk_reads.one_read import Understood
from imagekeeper.disk_reads.telling import NOTHING_LOST, fill_text, span
from imagekeeper.disk_reads.telling import tracks as track_names
from imagekeeper.findings import Finding
from imagekeeper.sentences.say import Phrase

#: Nothing that only comes twice tells is surer: a person may have stored the same twice.
_ALONE = 0.8

#: How sure it is that files end beyond the image, and that a track of one fill within a file was not read.
_BEYOND, _NOT_READ = 0.85, 0.75

#: So much of a track must belong to files.
_MINE = 0.6

#: So many files must end beyond the image, or so many sectors of them.
_SECTORS = 4

_KEYS = {
    "cylinder-twice": "cylinder-twice/one-read", "cylinder-skipped": "cylinder-skipped/one-read",
    "single-stepped": "single-stepped/one-read", "double-stepped": "double-stepped/one-read",
    "sides-swapped": "sides-swapped/one-read", "sides-order": "sides-order/one-read",
    "side-twice": "side-twice/one-read", "side-missing": "side-missing/one-read",
    "track-lost": "track-lost/one-read", "last-cylinders-missing": "last-cylinders-missing/one-read",
    "first-sector-wrong": "first-sector-wrong/one-read", "sectors-rotated": "sectors-rotated/one-read",
    "sectors-interleaved": "sectors-interleaved/one-read",
}  # fmt: skip

_CALLED = {
    "cylinder-twice": "cylinder-twice/called", "cylinder-skipped": "cylinder-skipped/called",
    "single-stepped": "single-stepped/called", "double-stepped": "double-stepped/called",
    "sides-swapped": "sides-swapped/called", "sides-order": "sides-order/called", "side-twice": "side-twice/called",
    "side-missing": "side-missing/called", "track-lost": "track-lost/called",
    "last-cylinders-missing": "last-cylinders-missing/called", "first-sector-wrong": "first-sector-wrong/called",
    "sectors-rotated": "sectors-rotated/called", "sectors-interleaved": "sectors-interleaved/called",
}  # fmt: skip

_ARRANGED = {
    "side-after-side": "sides-order/side-after-side", "side-1-reversed": "sides-order/side-1-reversed",
}  # fmt: skip


def told_of(found: Understood) -> Iterator[Finding]:
    """Give what an image tells: one fault of order with what else it may be, or what was not read."""
    if found.told:
        yield _fault(found)
        return
    yield from _not_read(found)


def _fault(found: Understood) -> Finding:
    best, event = found.best, found.best.arrangement.event
    system = best.expected is not None
    first, last = event.cylinders
    rivals = [(code, share) for one, share in found.rivals if (code := one.arrangement.code) is not None]
    values: dict[str, Any] = dict(event.values)
    detail = {
        "geometry": best.geometry.text, "cylinders": list(range(first, last + 1)), "sides": list(event.sides),
        "bits": round(best.bits - found.plain.bits), "instead": dict(rivals), **values,
    }  # fmt: skip
    if event.code == "sides-order":
        values["arranged"] = str(Phrase(_ARRANGED[values["order"]]))
    elif event.code == "first-sector-wrong":
        values["way"] = str(Phrase("first-sector-wrong/early" if values["by"] < 0 else "first-sector-wrong/late"))
    elif event.code in ("sectors-rotated", "sectors-interleaved"):
        values["how"] = str(Phrase(values["how"], **{name: values[name] for name in values if name != "how"}))
        detail.pop("how")
    instead = [str(Phrase(_CALLED[code])) for code, _ in rivals]
    about = _KEYS[event.code]
    if event.code == "side-twice" and not system:   # nothing tells which of the two it is
        about = "side-twice/alike"
    return Finding.of(
        about, "warning" if event.code in NOTHING_LOST else "fault",
        found.confidence if system else min(found.confidence, _ALONE), detail=detail,
        **{**values, "first": first, "before": max(first - 1, 0), "sides": span(event.sides, "side"),
           "because": str(Phrase("misread/system" if system else "misread/alone")),
           "instead": str(Phrase("misread/instead", causes=instead)) if instead else ""},
    )  # fmt: skip


def _not_read(found: Understood) -> Iterator[Finding]:
    """Say where files lie that the image does not have, and where a whole track of a file is fill."""
    plain, form = found.plain, found.plain.geometry
    track = form.sectors * form.heads
    if len(plain.lacking) >= _SECTORS:
        there = found.facts.count // track
        yield Finding.of(
            "last-cylinders-missing/files-beyond", "fault", _BEYOND, files=_files(found, plain.lacking),
            cylinders=span(range(there, form.cylinders), "cylinder"), there=there,
            detail={"geometry": form.text, "cylinders": list(range(there, form.cylinders))},
        )  # fmt: skip
    lost = list(_lost_tracks(found))
    if not lost:
        return
    heads = form.heads
    numbers = found.facts.numbers[lost[0]]
    fill = found.facts.contents.fills[int(numbers[0])]
    sides = sorted({one % heads for one in lost})
    cylinders = sorted({one // heads for one in lost})
    at = lost[0] * form.track_bytes
    sectors = [sector for one in lost for sector in range(one * form.sectors, (one + 1) * form.sectors)]
    yield Finding.of(
        "track-lost/filled", "warning", _NOT_READ, fill=fill_text(fill or b""),
        places=track_names([(one // heads, one % heads, 1) for one in lost]), files=_files(found, sectors),
        detail={"geometry": form.text, "cylinders": cylinders, "sides": sides, "at": at},
    )  # fmt: skip


def _lost_tracks(found: Understood) -> Iterator[int]:
    """Name the tracks that are one fill, belong to files for the most part, and end sharply on either side."""
    facts, sectors = found.facts, found.plain.geometry.sectors
    used = np.bincount(np.array(found.plain.filled, np.int64) // sectors) if found.plain.filled else ()
    for track, count in enumerate(used):
        first, last = track * sectors, (track + 1) * sectors - 1
        if count < _MINE * sectors or not 0 < first <= last < facts.count - 1:
            continue
        if len(set(facts.flat[first : last + 1].tolist())) > 1 or facts.fill[[first - 1, last + 1]].any():
            continue
        if _sharp(facts.whole, first - 1, last + 1, first, last):
            yield track


def _sharp(whole: NDArray[np.uint8], before: int, after: int, first: int, last: int) -> bool:
    """Whether what stands on either side does not go on in the fill: what a file holds of it begins anywhere."""
    return bool(whole[before, -1] != whole[first, 0] and whole[after, 0] != whole[last, -1])


def _files(found: Understood, sectors: Any) -> int:
    told = set(sectors)
    return sum(bool(told.intersection(one)) for one in (found.plain.expected.files if found.plain.expected else ()))
