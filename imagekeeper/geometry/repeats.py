"""Evidence from content that comes again: disks that were read with the wrong steps, sides or number of tracks.

Rule: a 40-track disk read in an 80-track drive without double stepping gives every track twice; a drive or a program
that ignores the side gives side 0 twice; beyond the last track a drive stays where it is and gives that again. Source:
common practice, no source; that the tracks of 48 tpi lie on every second of 96 tpi is arithmetic.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from imagekeeper.geometry.proposals import Proposal
from imagekeeper.geometry.shapes import EXTRA_CYLINDERS, Shape, shapes
from imagekeeper.ranked import Evidence

#: So many written tracks must come again.
_LEAST = 3


def proposed(found: tuple[Proposal, ...], data: bytes) -> Iterator[Proposal]:
    """Give the proposals with what repeats in them, and what the disk would be without."""
    for one in found:
        if not one.exact or one.shape.first_track is not None:
            yield one
            continue
        shape = one.shape
        doubled = _doubled(shape, data) if shape.cylinders >= 70 else 0
        same = _same_sides(shape, data) if shape.heads == 2 else 0
        if doubled:
            says = f"each of {doubled} written cylinders comes twice: a 40-track disk, read without double stepping"
            yield one.because(Evidence(says, -6.0))
            yield from _instead(shape, says, cylinders=-(-shape.cylinders // 2))
        elif same:
            says = f"side 1 equals side 0 on all {same} written tracks: one side was read twice"
            yield one.because(Evidence(says, -6.0))
            yield from _instead(shape, says, heads=1)
        else:
            yield one


def _instead(shape: Shape, says: str, **fewer: int) -> Iterator[Proposal]:
    less = replace(shape, formats=(), **fewer)   # type: ignore[arg-type]
    known = next((one for one in shapes() if one.key == less.key), less)
    yield Proposal(shape=known, extra=shape.bytes - known.bytes, evidence=(Evidence(says, 8.0),))


def _written(piece: bytes) -> bool:
    return piece != piece[:1] * len(piece)


def _doubled(shape: Shape, data: bytes) -> int:
    """Count written cylinders that equal the one before, or 0 where one does not."""
    size, count = shape.cylinder_bytes, 0
    for at in range(0, len(data) - 2 * size + 1, 2 * size):
        first = data[at : at + size]
        if first != data[at + size : at + 2 * size]:
            return 0
        count += _written(first)
    return count if count >= _LEAST else 0


def _same_sides(shape: Shape, data: bytes) -> int:
    """Count written tracks that side 1 repeats, or 0 where one does not."""
    half, size = len(data) // 2, shape.track_bytes
    if data[:half] == data[half : 2 * half]:
        pairs = [data[at : at + size] for at in range(0, half, size)]
    else:
        pairs = []
        for at in range(0, len(data) - 2 * size + 1, 2 * size):
            first = data[at : at + size]
            if first != data[at + size : at + 2 * size]:
                return 0
            pairs.append(first)
    count = sum(map(_written, pairs))
    return count if count >= _LEAST else 0


def weigh(one: Proposal, data: bytes) -> Iterator[Evidence]:
    """Weigh the last cylinders: where they repeat the one before, the drive had gone as far as it could."""
    size, shape = one.shape.cylinder_bytes, one.shape
    if one.start or shape.first_track is not None:
        return
    whole = len(data) // size
    if whole < 2 or one.short:
        return
    last = data[(whole - 1) * size : whole * size]
    same = 0
    while same < EXTRA_CYLINDERS and data[(whole - 2 - same) * size : (whole - 1 - same) * size] == last:
        same += 1
    if not same or not _written(last):
        return
    reached = whole - same - 1
    says = f"the last {same + 1} of {whole} cylinders are equal: the drive went no further than cylinder {reached}"
    if whole - same == shape.cylinders:
        yield Evidence(says, 3.0)
    elif shape.cylinders > whole - same:
        yield Evidence(says, -3.0)
