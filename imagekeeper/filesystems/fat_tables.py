"""The copies of the FAT against each other: which to go by, and why."""

from __future__ import annotations

from array import array
from itertools import islice

from imagekeeper.containers.model import Data
from imagekeeper.filesystems.fat_entries import runs
from imagekeeper.filesystems.fat_layout import FatLayout
from imagekeeper.filesystems.fat_table import FatTable
from imagekeeper.filesystems.fat_tree import FatTree
from imagekeeper.filesystems.problems import Problems
from imagekeeper.sentences.say import Phrase


def settled(
    data: Data, layout: FatLayout, code_page: str, problems: Problems, *, deleted: bool
) -> tuple[FatTable, FatTree]:
    """Read the volume with the first FAT, or where the copies differ with the one that explains the files better.

    The better copy is the one with which fewer chains break, fewer clusters are shared or lost, and fewer sizes
    disagree.
    """
    active = None if layout.wide is None else layout.wide.active
    first = FatTable.of(data, layout, active or 0)
    tree = FatTree(data, layout, first, code_page, deleted=deleted)
    _beginnings(data, layout, first, problems)
    for number in range(1, layout.fats if active is None else 0):   # one that alone is kept has no copy to hold it to
        if layout.fat_start(number) >= len(data):
            continue
        other = FatTable.of(data, layout, number)
        if other.entries == first.entries:
            continue
        against = faults(tree)
        del tree   # of a large volume two would take too much memory
        tree = FatTree(data, layout, other, code_page, deleted=deleted)
        if _is_better((first, against), (other, faults(tree)), layout, number, problems):
            first = other
        else:
            del tree
            tree = FatTree(data, layout, first, code_page, deleted=deleted)
    return first, tree


def _beginnings(data: Data, layout: FatLayout, table: FatTable, problems: Problems) -> None:
    """The first entry holds the media byte, the second an end mark; systems keep flags in the top bits of that."""
    start = layout.fat_start(layout.wide.active or 0 if layout.wide else 0)
    zero = table.entries[0]
    ones = table.bad & ~0xFF
    if zero & ones != ones or zero & 0xFF != layout.media:
        wanted = ones | layout.media
        problems.add(
            "table-start/first", "warning", at=start, length=2,
            detail={"found": f"{zero:X}", "wanted": f"{wanted:X}"},
        )  # fmt: skip
    one = table.entries[1]
    size = layout.bits // 8
    closed, sound = (0x8000, 0x4000) if layout.bits == 16 else (0x0800_0000, 0x0400_0000)
    whole = table.bad | 0xF
    if layout.bits != 12 and one | closed | sound == whole != one:
        flags = [] if one & closed else [Phrase("table-start/not-closed")]
        flags += [] if one & sound else [Phrase("table-start/drive-errors")]
        problems.add(
            "table-start/flags", "note", at=start + size, length=size, flags=flags, detail={"found": f"{one:X}"}
        )
    elif not table.is_end(one):
        problems.add("table-start/second", "warning", at=start, length=3, detail={"found": f"{one:X}"})


def faults(tree: FatTree) -> int:
    """Count what a table leaves unexplained."""
    unit = tree.layout.cluster_bytes
    count = len(tree.shared)
    for node in tree.nodes[1:]:
        assert node.record is not None
        if node.deleted:
            continue
        if node.ending not in (None, "end"):
            count += 1
        if not node.is_directory and len(node.clusters) != -(-node.record.size // unit):
            count += 1
    return count + lost_chains(tree)


def lost_clusters(tree: FatTree) -> array[int]:
    """Give the clusters that are marked used and belong to nobody, ascending."""
    entries, bad = tree.table.entries, tree.table.bad
    pairs = enumerate(zip(entries, tree.owner, strict=True))
    return array("I", (c for c, (entry, owner) in pairs if entry and not owner and entry != bad and c > 1))


def lost_chains(tree: FatTree) -> int:
    """Count the runs of clusters that are marked used and belong to nobody."""
    return sum(1 for _ in runs(lost_clusters(tree)))


def _is_better(
    one: tuple[FatTable, int], other: tuple[FatTable, int], layout: FatLayout, number: int, problems: Problems
) -> bool:
    """Say which of two copies leaves less unexplained, and note it; with each the contradictions that it leaves."""
    pairs = enumerate(zip(one[0].entries, other[0].entries, strict=True))
    different = (cluster for cluster, (a, b) in pairs if a != b)
    told = [*islice(different, 32)]
    count = len(told) + sum(1 for _ in different)
    against = one[1], other[1]
    chosen = number if against[1] < against[0] else 0
    better, worse = sorted(against)
    if better == worse:
        judged = Phrase("tables-differ/equal", contradictions=better)
    else:
        about = "tables-differ/one-remains" if better == 1 else "tables-differ/likelier"
        judged = Phrase(about, copy=chosen + 1, better=better, worse=worse)
    first = told[0]
    problems.add(
        "tables-differ", "fault" if max(against) else "warning",
        at=layout.fat_start(0) + first * layout.bits // 8, length=2, other=number + 1, first=first, judged=judged,
        detail={
            "entries": count, "clusters": told, "likelier": chosen + 1,
            "contradictions": list(against),
        },
    )  # fmt: skip
    return bool(chosen)
