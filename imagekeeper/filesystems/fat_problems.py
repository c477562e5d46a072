"""What is noticed while a volume with a FAT is read, before anything is checked on purpose."""

from __future__ import annotations

from imagekeeper.filesystems.fat_table import ENDINGS
from imagekeeper.filesystems.fat_tree import FatTree, Node
from imagekeeper.filesystems.problems import Problems
from imagekeeper.sentences.say import Phrase


def reading_problems(tree: FatTree, problems: Problems, *, full: bool) -> None:
    """Note what keeps files from being read whole.

    Args:
        tree: The volume.
        problems: Where to.
        full: Whether a check follows that says more of sizes.
    """
    layout = tree.layout
    missing = layout.length - len(tree.data)
    if missing > 0:
        problems.add(
            "volume-cut-short/missing", "fault", at=len(tree.data), size=layout.length,
            detail={"missing_bytes": missing},
        )  # fmt: skip
    _layout_problems(tree, problems)
    _chain_problem(tree.nodes[0], 44, 4, problems)   # of a root directory that is a chain; its cluster stands there
    for number, node in enumerate(tree.nodes):
        if node.record is None or node.deleted:
            continue
        _chain_problem(node, node.record.at, 32, problems)
        if node.record.behind_end:
            _behind(tree, number, problems)
        if node.is_directory:
            _directory_problems(tree, number, problems)
        elif not full and node.record.size > len(node.clusters) * layout.cluster_bytes and node.ending in (None, "end"):
            size_problem(tree, number, problems)
    for number, behind in sorted(tree.behind_end.items()):
        problems.add(
            "directory-damaged/behind", "note", at=behind[0].at, length=32,
            path=tree.nodes[number].path or Phrase("directory-damaged/root"), detail={"records": len(behind)},
        )  # fmt: skip
    if tree.full:
        problems.add("directory-damaged/too-many", "fault", entries=len(tree.nodes) - 1)


def _chain_problem(node: Node, at: int, length: int, problems: Problems) -> None:
    """Note that a chain ends as it should not, at the place that states its beginning."""
    if node.ending in (None, "end"):
        return
    assert node.ending is not None
    path = node.path if node.record is not None else Phrase("directory-damaged/root")
    problems.add(
        "outside-volume/chain" if node.ending == "outside" else "chain-broken", "fault",
        at=at, length=length, path=path, does=ENDINGS[node.ending],
        after=Phrase("chain-broken/after", clusters=len(node.clusters)) if node.clusters else "",
        detail={
            "path": str(path), "ending": node.ending, "leads_to": node.leads_to, "clusters": len(node.clusters),
        },
    )  # fmt: skip


def size_problem(tree: FatTree, number: int, problems: Problems) -> None:
    """Note that a file's size and its chain disagree."""
    node = tree.nodes[number]
    assert node.record is not None
    size, has = node.record.size, len(node.clusters)
    needs = -(-size // tree.layout.cluster_bytes)
    less = has < needs
    problems.add(
        "size-disagrees/less" if less else "size-disagrees/more-clusters", "fault" if less else "warning",
        at=node.record.at, length=32,
        detail={"path": node.path, "size_bytes": size, "needed": needs, "clusters": has},
    )  # fmt: skip


def _layout_problems(tree: FatTree, problems: Problems) -> None:
    layout = tree.layout
    if layout.clusters + 1 > layout.last:
        at, length = (22, 2) if layout.wide is None else (36, 4)
        room = layout.last - 1
        problems.add("volume-header/room", "fault", at=at, length=length, last=room, clusters=layout.clusters)


def _directory_problems(tree: FatTree, number: int, problems: Problems) -> None:
    node = tree.nodes[number]
    record = node.record
    assert record is not None
    if node.cut:
        problems.add(
            "directory-damaged/left-out", "fault", at=record.at, length=32, because=node.cut,
            detail={"path": node.path},
        )  # fmt: skip
    if not node.clusters and record.start == 0:
        problems.add("directory-damaged/no-cluster", "fault", at=record.at, length=32, detail={"path": node.path})


def _behind(tree: FatTree, number: int, problems: Problems) -> None:
    node = tree.nodes[number]
    assert node.record is not None
    problems.add("directory-damaged/behind-end", "warning", at=node.record.at, length=32, detail={"path": node.path})
