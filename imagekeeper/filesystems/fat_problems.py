"""What is noticed while a volume with a FAT is read, before anything is checked on purpose."""

from __future__ import annotations

from imagekeeper.filesystems.fat_table import ENDINGS
from imagekeeper.filesystems.fat_tree import FatTree
from imagekeeper.filesystems.problems import Problems
from imagekeeper.units import plural

_AGAIN = "read the disk again and compare the reads; what the chain gives up to there is kept"


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
            "volume-cut-short", "fault",
            f"the volume states {plural(layout.length, 'byte')}, and {missing} of them are not there",
            "read the disk again to its end, or look whether the image belongs to a smaller format",
            at=len(tree.data), missing_bytes=missing,
        )  # fmt: skip
    _layout_problems(tree, problems)
    for number, node in enumerate(tree.nodes):
        if node.record is None or node.deleted:
            continue
        if node.ending not in (None, "end"):
            assert node.ending is not None
            code = "outside-volume" if node.ending == "outside" else "chain-broken"
            after = f" after {plural(len(node.clusters), 'cluster')}" if node.clusters else ""
            problems.add(
                code, "fault", f"{node.path}: its chain {ENDINGS[node.ending]} ({node.leads_to}){after}", _AGAIN,
                at=node.record.at, length=32, path=node.path, ending=node.ending, leads_to=node.leads_to,
                clusters=len(node.clusters),
            )  # fmt: skip
        if node.record.behind_end:
            _behind(tree, number, problems)
        if node.is_directory:
            _directory_problems(tree, number, problems)
        elif not full and node.record.size > len(node.clusters) * layout.cluster_bytes and node.ending in (None, "end"):
            size_problem(tree, number, problems)
    for number, behind in sorted(tree.behind_end.items()):
        where = tree.nodes[number].path or "the root directory"
        problems.add(
            "directory-damaged", "note",
            f"{where}: {plural(len(behind), 'record')} behind its end that are not empty, and no files",
            "look at them with hexdump; old content of the cluster may show there",
            at=behind[0].at, length=32, records=len(behind),
        )  # fmt: skip
    if tree.full:
        problems.add(
            "directory-damaged", "fault", f"there are more than {len(tree.nodes) - 1} entries: the rest is left out",
            "the directories are damaged; look at their sectors with hexdump",
        )  # fmt: skip


def size_problem(tree: FatTree, number: int, problems: Problems) -> None:
    """Note that a file's size and its chain disagree."""
    node = tree.nodes[number]
    assert node.record is not None
    size, has = node.record.size, len(node.clusters)
    needs = -(-size // tree.layout.cluster_bytes)
    less = has < needs
    problems.add(
        "size-disagrees", "fault" if less else "warning",
        f"{node.path}: its size of {plural(size, 'byte')} needs {plural(needs, 'cluster')}, and its chain has {has}",
        "its end is missing: read the disk again" if less
        else "the file is given as long as its size says; more may lie in the clusters behind",
        at=node.record.at, length=32, path=node.path, size_bytes=size, needed=needs, clusters=has,
    )  # fmt: skip


def _layout_problems(tree: FatTree, problems: Problems) -> None:
    layout = tree.layout
    if layout.clusters + 1 > layout.last:
        problems.add(
            "volume-header", "fault",
            f"the FAT has room for {plural(layout.last - 1, 'cluster')}, and the volume states {layout.clusters}",
            "the boot sector is damaged, or the volume was enlarged; clusters without an entry are not read",
            at=22, length=2,
        )  # fmt: skip


def _directory_problems(tree: FatTree, number: int, problems: Problems) -> None:
    node = tree.nodes[number]
    record = node.record
    assert record is not None
    if node.cut:
        problems.add(
            "directory-damaged", "fault", f"{node.path}: its content is left out: {node.cut}",
            "two directories cannot hold the same; look at their sectors with hexdump",
            at=record.at, length=32, path=node.path,
        )  # fmt: skip
    if not node.clusters and record.start == 0:
        problems.add(
            "directory-damaged", "fault", f"{node.path}: a directory without a cluster",
            "look at its record with hexdump", at=record.at, length=32, path=node.path,
        )  # fmt: skip


def _behind(tree: FatTree, number: int, problems: Problems) -> None:
    node = tree.nodes[number]
    assert node.record is not None
    problems.add(
        "directory-damaged", "warning", f"{node.path}: it stands behind the end of its directory, and is listed",
        "an entry before it was damaged; no system will show this one", at=node.record.at, length=32, path=node.path,
    )  # fmt: skip
