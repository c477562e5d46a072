"""From the tree of a volume with a FAT to the entries of the common model."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice

from imagekeeper.filesystems import fat_names as names
from imagekeeper.filesystems.fat_directory import ShortEntry
from imagekeeper.filesystems.fat_layout import FatLayout
from imagekeeper.filesystems.fat_table import FatTable
from imagekeeper.filesystems.fat_tree import FatTree, Node
from imagekeeper.filesystems.model import Entry, Extent
from imagekeeper.filesystems.problems import Problems

#: All files of a volume together are followed through no more pieces than this, for the memory that each takes.
MOST_EXTENTS = 1 << 20

#: No more stretches of free space than this are listed.
MOST_STRETCHES = 1 << 18


def entries_of(tree: FatTree, start: int, problems: Problems) -> tuple[Entry, ...]:
    """Make entries of all nodes but the root.

    Args:
        tree: The volume.
        start: Where the volume begins in the image. [byte]
        problems: Where to note that files lie in more pieces than are followed.
    """
    left, found = MOST_EXTENTS, []
    for node in tree.nodes:
        if node.record is not None:
            found.append(_entry(tree, node, node.record, start, left))
            left -= len(found[-1].extents)
    if left <= 0:
        problems.add("too-scattered/files", "fault", limit=MOST_EXTENTS)
    return tuple(found)


def stretches(layout: FatLayout, start: int, table: FatTable, value: int, problems: Problems) -> tuple[Extent, ...]:
    """Give the clusters whose entry has a value: those that are free, or marked bad.

    Args:
        layout: Where everything lies.
        start: Where the volume begins in the image. [byte]
        table: The FAT.
        value: What the entries have.
        problems: Where to note that there are more pieces than are listed.
    """
    size = layout.cluster_bytes
    clusters = (cluster for cluster, entry in enumerate(table.entries) if entry == value and cluster >= 2)
    found = tuple(
        Extent(start + layout.start_of(first), count * size)
        for first, count in islice(runs(clusters), MOST_STRETCHES)
    )
    if len(found) == MOST_STRETCHES:
        problems.add("too-scattered/space", "note", limit=MOST_STRETCHES)
    return found


def _entry(tree: FatTree, node: Node, record: ShortEntry, start: int, most: int) -> Entry:
    page = tree.code_page
    directory = record.is_directory
    layout = tree.layout
    size = len(node.clusters) * layout.cluster_bytes if directory else record.size
    clusters: Sequence[int] = node.clusters
    if node.deleted:
        clusters = _left_of(tree, record, size if not directory else layout.cluster_bytes)
        size = min(size or layout.cluster_bytes, layout.cluster_bytes) if directory else size
    pieces = islice(_pieces(tree, clusters, size), max(most, 0))
    extents = tuple(Extent(None if at is None else at + start, length) for at, length in pieces)
    made, hundredths, made_on = record.created
    return Entry(
        path=node.path,
        name=names.short_name(record.name, page, deleted=record.deleted),
        name_hex=record.name.hex(),
        kind="directory" if directory else "file",
        size_bytes=0 if directory else record.size,
        extents=extents,
        entries_at=(*(at + start for at in record.parts_at), record.at + start),
        long_name=names.long_text(record.long_parts) if record.long_parts else None,
        attributes=names.attribute_words(record.attributes),
        modified=names.moment(record.modified[1], record.modified[0]),
        created=names.moment(made_on, made, hundredths),
        accessed=names.day(record.accessed),
        deleted=node.deleted,
        complete=sum(one.length for one in extents if one.start is not None) == size,
    )


def _left_of(tree: FatTree, record: ShortEntry, size: int) -> list[int]:
    """Guess the clusters of a deleted file: its first, if free, and the free ones that follow.

    Source:
        Common practice, no source: systems gave free clusters out in ascending order, and deletion keeps the first.
    """
    entries = tree.table.entries
    needed = -(-size // tree.layout.cluster_bytes)
    if not 2 <= record.start < len(entries) or entries[record.start] != 0:
        return []
    found: list[int] = []
    for cluster in range(record.start, len(entries)):
        if len(found) == needed:
            break
        if entries[cluster] == 0:
            found.append(cluster)
    return found


def _pieces(tree: FatTree, clusters: Sequence[int], size: int) -> Iterator[tuple[int | None, int]]:
    """Say where the first `size` bytes of a chain lie; what the image lacks has no place."""
    layout, there = tree.layout, len(tree.data)
    unit = layout.cluster_bytes
    for first, count in runs(clusters[: -(-size // unit)]):
        at, length = layout.start_of(first), min(count * unit, size)
        size -= length
        inside = max(min(there - at, length), 0)
        if inside:
            yield at, inside
        if inside < length:
            yield None, length - inside


def runs(clusters: Iterable[int]) -> Iterator[tuple[int, int]]:
    """Join clusters that follow each other: (first, how many).

    Example:
        >>> list(runs([2, 3, 4, 9, 8]))
        [(2, 3), (9, 1), (8, 1)]
    """
    first = count = 0
    for cluster in clusters:
        if count and cluster == first + count:
            count += 1
        else:
            if count:
                yield first, count
            first, count = cluster, 1
    if count:
        yield first, count
