"""The tree of directories and files of a volume with a FAT, with every cluster's owner.

A hostile or damaged disk can lead in circles and share everything with everything: each cluster is read as a directory
once, chains are followed only as long as the volume could hold them, and the number of entries has a limit.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from imagekeeper import budget
from imagekeeper.containers.model import Data
from imagekeeper.filesystems import fat_names as names
from imagekeeper.filesystems.fat_directory import DOT, DOT_DOT, ShortEntry, records
from imagekeeper.filesystems.fat_layout import FatLayout
from imagekeeper.filesystems.fat_table import Ending, FatTable
from imagekeeper.sentences.say import Phrase

#: Directories deeper than this are left out: no system of the period could name them.
DEEPEST = 64

#: More entries than this are left out. A volume of 65,524 clusters holds as many files that are not empty.
MOST_ENTRIES = 1 << 16

#: So many records of a directory are read between two looks at the clock.
_A_LOOK = 1024

#: So many clusters at least may be run through more than once on a large volume: each time costs memory.
_RUN_TWICE = 1 << 20

#: The owners of clusters that belong to nothing, and to nobody that can be named.
NOBODY = 0


@dataclass(slots=True, kw_only=True)
class Node:
    """A directory or file with its chain.

    Attributes:
        record: Its record in the directory; None for the root.
        path: Directories and name, printable.
        parent: The number of the directory that holds it.
        depth: How many directories lie above it.
        deleted: Whether it, or a directory above it, is marked deleted.
        clusters: Its chain, in order.
        ending: How the chain ends; None where there is none.
        leads_to: The value behind the last cluster.
        children: How many entries it holds, if it is a directory.
        cut: Why its content was not, or not all, read as a directory; None if it was.
    """

    record: ShortEntry | None
    path: str
    parent: int
    depth: int
    deleted: bool = False
    clusters: array[int] = field(default_factory=lambda: array("I"))
    ending: Ending | None = None
    leads_to: int = 0
    children: int = 0
    cut: Phrase | None = None

    @property
    def is_directory(self) -> bool:
        """Whether it is a directory."""
        return self.record is None or self.record.is_directory


@dataclass(slots=True)
class Shared:
    """Clusters that two chains have in common.

    Attributes:
        first: The number of the node that had them first.
        second: The other's.
        cluster: The first of them.
        count: How many.
    """

    first: int
    second: int
    cluster: int
    count: int = 0


class FatTree:
    """All entries of a volume; node 0 is the root.

    Args:
        data: The volume.
        layout: Where its parts lie.
        table: The FAT to go by.
        code_page: The code of names.
        deleted: Whether to keep entries that are marked deleted.
    """

    def __init__(
        self, data: Data, layout: FatLayout, table: FatTable, code_page: str, *, deleted: bool = False
    ) -> None:
        self.data, self.layout, self.table, self.code_page = data, layout, table, code_page
        self.deleted = deleted
        self.nodes: list[Node] = [Node(record=None, path="", parent=0, depth=0)]
        self.labels: list[ShortEntry] = []
        self.owner = array("i", [NOBODY]) * len(table.entries)   # the number of a node plus 1
        self.shared: dict[tuple[int, int], Shared] = {}
        self.long_troubles: list[tuple[str, ShortEntry]] = []
        self.behind_end: dict[int, list[ShortEntry]] = {}   # by directory: records behind the end that are no entries
        self.dots: dict[int, tuple[ShortEntry | None, ShortEntry | None]] = {}
        self.full = False   # whether entries were left out for their number
        self._allowed, self._looked_at = budget.current(), 0
        self._steps = min(4 * len(table.entries), len(table.entries) + _RUN_TWICE) + 65536
        self._read = bytearray(len(table.entries))   # clusters that were read as a directory
        self._passed: array[int] | None = None   # by cluster the last node, plus 1, that ran through another's
        self._walk()

    def _walk(self) -> None:
        stack: list[tuple[int, Iterator[ShortEntry]]] = [(0, self._records(self._root_pieces()))]
        while stack:
            number, rest = stack[-1]
            inside = self._next(number, rest)
            if inside is None:
                stack.pop()
            else:
                stack.append(inside)

    def _next(self, number: int, rest: Iterator[ShortEntry]) -> tuple[int, Iterator[ShortEntry]] | None:
        """Go through a directory up to the next one inside it; None at its end."""
        directory = self.nodes[number]
        for record in rest:
            self._looked_at += 1
            if not self._looked_at % _A_LOOK:
                self._allowed.tick()
            if len(self.nodes) >= MOST_ENTRIES:
                self.full = True
                return None
            if not self._belongs(number, record):
                continue
            node = self._node(number, directory, record)
            mine = len(self.nodes)
            self.nodes.append(node)
            directory.children += 1
            if node.deleted:
                if record.is_directory and self._open_deleted(node):
                    return mine, self._records([(self.layout.start_of(record.start), self._cluster(record.start))])
                continue
            self._claim(mine, node, record.start)
            if record.is_directory and self._may_open(node):
                return mine, self._records(self._pieces(mine))
        return None

    def _belongs(self, number: int, record: ShortEntry) -> bool:
        """Whether a record is an entry to list; notes what it is otherwise."""
        if record.attributes & 0x3F == names.LONG_NAME or record.long_trouble:
            self.long_troubles.append((self.nodes[number].path, record))
            if record.attributes & 0x3F == names.LONG_NAME:
                return False
        if number and record.is_dot and not record.deleted:
            own, above = self.dots.get(number, (None, None))
            if record.name == DOT and own is None:
                self.dots[number] = (record, above)
                return False
            if record.name == DOT_DOT and above is None:
                self.dots[number] = (own, record)
                return False
        if record.deleted or self.nodes[number].deleted:
            return self.deleted and not record.is_label and not record.is_dot
        if record.behind_end and not self._plausible(record):
            self.behind_end.setdefault(number, []).append(record)
            return False
        if record.is_label:
            self.labels.append(record)
            return False
        return True

    def _plausible(self, record: ShortEntry) -> bool:
        """Whether a record behind the end can be an entry that lost its place: its clusters are still in use."""
        sound = not record.attributes & 0xC8 and not any(b < 33 and b != 32 for b in record.name)
        inside = 2 <= record.start < len(self.table.entries)
        return sound and inside and self.table.entries[record.start] != 0

    def _node(self, number: int, directory: Node, record: ShortEntry) -> Node:
        long = names.long_text(record.long_parts) if record.long_parts else ""
        name = long or names.short_name(record.name, self.code_page, deleted=record.deleted)
        path = f"{directory.path}/{name}" if number else name
        return Node(
            record=record, path=path, parent=number, depth=directory.depth + 1,
            deleted=record.deleted or directory.deleted,
        )  # fmt: skip

    def _claim(self, mine: int, node: Node, at: int) -> None:
        """Follow the chain of an entry from a cluster on, and put its name to the clusters."""
        entries, owner, bad = self.table.entries, self.owner, self.table.bad
        last, me, found = len(entries) - 1, mine + 1, node.clusters
        if at == 0:
            return
        while True:
            if at < 2 or at > last:
                node.ending = "end" if at > bad and found else "bad" if at == bad and found else "outside"
                if at == 0:
                    node.ending = "free"
                break
            if owner[at] == NOBODY:
                if entries[at] == 0 or entries[at] == bad:   # it is marked free or bad itself
                    node.ending = "bad" if entries[at] else "free"
                    node.leads_to = at
                    return
                owner[at] = me
            else:
                if self._passed is None:
                    self._passed = array("i", [NOBODY]) * len(entries)
                if owner[at] == me or self._passed[at] == me or self._steps <= 0:
                    node.ending = "loop"
                    break
                self._passed[at] = me
                self._share(owner[at] - 1, mine, at)
            self._steps -= 1
            found.append(at)
            at = entries[at]
        node.leads_to = at

    def _share(self, first: int, second: int, cluster: int) -> None:
        found = self.shared.setdefault((first, second), Shared(first, second, cluster))
        found.count += 1

    def _may_open(self, node: Node) -> bool:
        if node.depth >= DEEPEST:
            node.cut = Phrase("directory-damaged/deep", limit=DEEPEST)
            return False
        if not node.clusters:
            return False
        if self._read[node.clusters[0]]:
            node.cut = Phrase("directory-damaged/first-shared")
            return False
        return True

    def _open_deleted(self, node: Node) -> bool:
        """Whether a deleted directory is still there: its first cluster is free and begins with its own record."""
        assert node.record is not None
        start = node.record.start
        if node.depth >= DEEPEST or not 2 <= start < len(self.table.entries) or self._read[start]:
            return False
        if self.table.entries[start] != 0 or not self._cluster(start).startswith(DOT):
            return False
        self._read[start] = 1
        return True

    def _records(self, pieces: Iterable[tuple[int, bytes]]) -> Iterator[ShortEntry]:
        return records(pieces, wide=self.layout.wide is not None)

    def _root_pieces(self) -> Iterator[tuple[int, bytes]]:
        """Give the root directory: an area of its own, or in FAT32 a chain of clusters like any other's."""
        if self.layout.wide is not None:
            self._claim(0, self.nodes[0], self.layout.wide.root_cluster)
            yield from self._pieces(0)
            return
        start = self.layout.root_start
        for at in range(start, start + self.layout.root_bytes, 1 << 16):
            yield at, self.data[at : min(at + (1 << 16), start + self.layout.root_bytes)]

    def _pieces(self, number: int) -> Iterator[tuple[int, bytes]]:
        node = self.nodes[number]
        for cluster in node.clusters:
            if self._read[cluster]:
                node.cut = Phrase("directory-damaged/part-shared")
                return
            self._read[cluster] = 1
            yield self.layout.start_of(cluster), self._cluster(cluster)

    def _cluster(self, cluster: int) -> bytes:
        start = self.layout.start_of(cluster)
        return self.data[start : start + self.layout.cluster_bytes]
