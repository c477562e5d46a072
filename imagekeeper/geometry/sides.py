"""The order of sides: how the file has the tracks of a two-sided disk, where its content tells.

Rule: in the right order, what belongs together lies together. The PC's system numbers sectors through both sides of a
cylinder, then the next (common practice, no source): there the tables, the directory and the used clusters show the
order. On other disks only the blank area can show it, and only where the file has it in pieces: a disk that a machine
fills side by side, in a file that has the sides by turns, looks like its opposite. Then nothing is said.
"""

from __future__ import annotations

from itertools import pairwise

from imagekeeper.floppy.arrangement import SIDE_ORDERS, SideOrder, tracks
from imagekeeper.geometry.allocation import FatDivision, division, entries, root
from imagekeeper.geometry.blanks import CELL, Blanks
from imagekeeper.geometry.proposals import Proposal
from imagekeeper.geometry.shapes import Shape
from imagekeeper.ranked import Evidence

ORDERS: tuple[SideOrder, ...] = tuple(SIDE_ORDERS)

#: One order must beat the next by this much, and have no more than this share of its cost. Chosen on the disks of
#: tests/benchmarks/geometry.py.
_MARGIN, _SHARE = 2.0, 0.7


def places(order: SideOrder, cylinders: int) -> list[int]:
    """Where in the file the tracks of a disk stand that is read cylinder by cylinder, counted in tracks.

    Example:
        >>> [places(order, 3) for order in ORDERS]
        [[0, 1, 2, 3, 4, 5], [0, 3, 1, 4, 2, 5], [0, 5, 1, 4, 2, 3]]
    """
    at = {track: number for number, track in enumerate(tracks(cylinders, order))}
    return [at[track] for track in tracks(cylinders, "alternating")]


def ordered(data: bytes, start: int, shape: Shape, order: SideOrder) -> bytes:
    """Bring the tracks of a file into the order of a disk whose cylinders are read side by side."""
    if order == "alternating":
        return data[start:]
    size = shape.track_bytes
    return b"".join(data[start + at * size : start + (at + 1) * size] for at in places(order, shape.cylinders))


def side_order(one: Proposal, data: bytes, found: Blanks | None) -> tuple[SideOrder | None, Evidence | None]:
    """Find the order of the sides, with the reason, or None where the content does not tell."""
    shape = one.shape
    if shape.heads == 1 or shape.first_track is not None or one.short or one.extra > shape.cylinder_bytes:
        return None, None
    where = division(data, one.start, shape)
    if where is not None:
        costs = {order: _cost(ordered(data, one.start, shape, order), where, found) for order in ORDERS}
        says = "FATs, root directory and used clusters agree best with the sides {order}: {cost} against {next}"
    elif found is not None:
        costs = _changes(shape, data, one.start, found)
        says = "with the sides {order} the blank area is in one piece: {cost} changes along the disk against {next}"
    else:
        return None, None
    best, second, *_ = sorted(costs, key=lambda order: costs[order])
    if costs[second] - costs[best] < max(_MARGIN, (1 - _SHARE) * costs[second]):
        return None, None
    if where is None and best == "alternating":
        return None, None
    words = says.format(order=best.replace("-", " "), cost=f"{costs[best]:.1f}", next=f"{costs[second]:.1f}")
    return best, Evidence(words, 1.0)


def _cost(disk: bytes, where: FatDivision, found: Blanks | None) -> float:
    """Count what contradicts itself on a disk with FATs; each weighs as much as it is hard to come by chance."""
    fats = [disk[where.fat_start + i * where.fat_bytes :][: where.fat_bytes] for i in range(where.fats)]
    cost = 3.0 * sum(fat != fats[0] for fat in fats[1:])
    good, wrong = root(disk[where.root_start : where.data_start], where)
    cost += 0.5 * wrong - 0.2 * min(good, 10)
    fills = {bytes([byte]) * where.cluster_bytes for byte in {found.fill if found else 0, 0}}
    heads = _subdirectories(disk[where.root_start : where.data_start])
    for number, entry in enumerate(entries(fats[0], where.clusters)):
        at = where.data_start + (number - 2) * where.cluster_bytes
        if number < 2 or at + where.cluster_bytes > len(disk):
            continue
        blank = disk[at : at + where.cluster_bytes] in fills
        cost += 0.25 * (blank == (entry != 0))
        if number in heads and disk[at : at + 2] != b". ":
            cost += 3.0
    return cost + 0.25 * _seams(disk, where.cluster_bytes, entries(fats[0], where.clusters), where)


def _subdirectories(table: bytes) -> set[int]:
    """Clusters at which the root directory says that a directory begins: each begins with an entry for itself."""
    found = set()
    for at in range(0, len(table) - 31, 32):
        if table[at] not in (0, 0xE5) and table[at + 11] == 0x10:
            found.add(int.from_bytes(table[at + 26 : at + 28], "little"))
    return found


def _seams(disk: bytes, size: int, fat: list[int], where: FatDivision) -> int:
    """Count clusters of a chain that are followed by a cluster of the other kind, text or not."""
    count = 0
    for number, entry in enumerate(fat[:-1]):
        if number >= 2 and entry == number + 1:
            at = where.data_start + (number - 2) * size
            count += is_text(disk[at : at + size]) != is_text(disk[at + size : at + size + 64])
    return count


#: The bytes of which a text consists.
TEXT = bytes(range(32, 127)) + b"\t\r\n\f\x1a"


def is_text(piece: bytes) -> bool:
    r"""Whether a piece is text of a machine of the period.

    Example:
        >>> is_text(b"HIGH WATER 03.12\r\n"), is_text(bytes(64))
        (True, False)
    """
    return not piece.translate(None, TEXT)


def _changes(shape: Shape, data: bytes, start: int, found: Blanks) -> dict[SideOrder, float]:
    """Sum up how much the used part of a track changes from each to the next."""
    fill, size = bytes([found.fill]) * CELL, shape.track_bytes
    cells = max(size // CELL, 1)
    used = []
    for track in range(shape.tracks):
        at = start + track * size
        used.append(sum(data[i : i + CELL] != fill for i in range(at, at + cells * CELL, CELL)) / cells)

    def along(order: SideOrder) -> float:
        return sum(abs(used[a] - used[b]) for a, b in pairwise(places(order, shape.cylinders)))

    return {order: along(order) for order in ORDERS}
