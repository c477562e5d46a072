"""Everything else that can be wrong with a volume with a FAT: looked for by `files check`.

Sources: ECMA-107 and ISO/IEC 9293, the clauses on the FAT and on directories. Which characters names cannot have, what
the first two records of a directory hold, and where flags of later systems stand, is from memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Any

from imagekeeper.filesystems import fat_names as names
from imagekeeper.filesystems.fat_directory import ShortEntry
from imagekeeper.filesystems.fat_entries import runs
from imagekeeper.filesystems.fat_problems import size_problem
from imagekeeper.filesystems.fat_tree import FatTree, Node
from imagekeeper.filesystems.problems import Problems
from imagekeeper.findings import Severity
from imagekeeper.units import plural, size_text

#: With more characters beyond ASCII than this a name of eleven is more often damage than language. Our judgement.
_FOREIGN = 6


def check(tree: FatTree, problems: Problems) -> None:
    """Look for all that reading does not meet by itself.

    Args:
        tree: The volume, read without deleted entries' content.
        problems: Where to note it.
    """
    _header(tree, problems)
    _labels(tree, problems)
    seen: set[tuple[int, bytes]] = set()
    for number, node in enumerate(tree.nodes):
        if node.record is None or node.deleted:
            continue
        if node.is_directory:
            _dots(tree, number, problems)
            if node.record.size:
                problems.add(
                    "directory-damaged", "note", f"{node.path}: a directory that states a size ({node.record.size})",
                    "directories state 0; the rest of the record may be damaged too", **_at(node.record, node),
                )  # fmt: skip
        elif len(node.clusters) != -(-node.record.size // tree.layout.cluster_bytes):
            size_problem(tree, number, problems)
        _names(node, node.record, problems)
        key = (node.parent, node.record.name)
        if key in seen:
            problems.add(
                "name-twice", "warning", f"{node.path}: its directory has this name twice",
                "systems find only the first; extracting gives both, the second under another name",
                **_at(node.record, node),
            )  # fmt: skip
        seen.add(key)
    for path, record in tree.long_troubles:
        text = names.short_name(record.name, tree.code_page)
        said = "the end of the directory" if record.attributes & 0x3F == names.LONG_NAME else text
        problems.add(
            "name-damaged", "note",
            f"{path or 'the root directory'}: a long name before {said} cannot be used: {record.long_trouble}",
            "the short name is used instead", at=record.at, length=32,
        )  # fmt: skip
    _shared(tree, problems)
    _lost(tree, problems)


def _at(record: ShortEntry, node: Node) -> dict[str, Any]:
    return {"at": record.at, "length": 32, "path": node.path}


def _header(tree: FatTree, problems: Problems) -> None:
    layout, block = tree.layout, tree.layout.block
    if block is None:
        return
    for fault in block.faults:
        if fault.field == "heads" or (fault.field == "small_total" and layout.length > 1 << 22):
            continue   # these are rules for floppy disks
        severity: Severity = "note" if fault.field == "small_total" else "warning"
        problems.add(
            "volume-header", severity, f"the boot sector states {fault.says}",
            "the volume was read as far as the rest allows; compare with another read", at=0, length=62,
            field=fault.field,
        )  # fmt: skip
    if len(tree.data) > 37 and block.drive is not None and tree.data[37:38][0] & 1:
        problems.add(
            "volume-header", "note", "a flag in the boot sector says that the volume was not closed properly",
            "expect lost clusters and sizes that disagree", at=37, length=1,
        )  # fmt: skip
    stated = block.file_system
    if stated in ("FAT12", "FAT16") and stated != f"FAT{layout.bits}":
        problems.add(
            "volume-header", "warning",
            f"the boot sector calls itself {stated}, and {plural(layout.clusters, 'cluster')} make it FAT{layout.bits}",
            "where the files make no sense, the number of sectors or their share of a cluster is damaged",
            at=54, length=8,
        )  # fmt: skip


def _labels(tree: FatTree, problems: Problems) -> None:
    block, labels = tree.layout.block, tree.labels
    for extra in labels[1:]:
        problems.add(
            "entry-damaged", "note", "there is more than one label of the volume", "the first is used",
            at=extra.at, length=32,
        )  # fmt: skip
    in_root = labels[0].name.decode("latin-1").rstrip() if labels else None
    in_block = block.volume_label if block is not None else None
    if in_block in (None, "", "NO NAME"):
        in_block = None
    shown = None if in_root is None else "".join(c if " " <= c < "\x7f" else "." for c in in_root)
    if in_block != shown and block is not None and block.volume_label is not None:
        problems.add(
            "volume-header", "note",
            f"the label in the boot sector is {in_block or 'none'}, in the root directory {shown or 'none'}",
            "systems show the one in the root directory", at=labels[0].at if labels else 43, length=11,
        )  # fmt: skip
    for record in labels:
        if record.start or record.size:
            problems.add(
                "entry-damaged", "warning",
                f"the label {names.text_of(record.name, tree.code_page)} states clusters or a size, as a file does",
                "it may be a file whose attributes are damaged: its clusters show as lost", at=record.at, length=32,
            )  # fmt: skip
        if any(byte < 32 or byte in b'"*+,./:;<=>?[\\]|' or byte == 0x7F for byte in record.name):
            problems.add(
                "name-damaged", "note", "the label of the volume holds bytes that no label can have",
                "look at it with hexdump", at=record.at, length=11,
            )  # fmt: skip


def _dots(tree: FatTree, number: int, problems: Problems) -> None:
    """Each directory but the root begins with a record of itself and one of the directory above."""
    node = tree.nodes[number]
    if not node.clusters or node.cut:
        return
    own, above = tree.dots.get(number, (None, None))
    assert node.record is not None
    start = tree.layout.start_of(node.clusters[0])
    parent = tree.nodes[node.parent].record
    for slot, (record, name, wanted) in enumerate(
        ((own, ".", node.record.start), (above, "..", 0 if parent is None else parent.start))
    ):
        at = start + 32 * slot
        why = ""
        if record is None or record.at != at:
            why = f"it does not {'begin with' if slot == 0 else 'have as second'} the record {name}"
        elif not record.is_directory:
            why = f"its record {name} is no directory"
        elif record.start != wanted:
            why = f"its record {name} leads to cluster {record.start} and should to {wanted}"
        elif record.size:
            why = f"its record {name} states a size"
        if why:
            problems.add(
                "directory-damaged", "warning", f"{node.path}: {why}",
                "it may be no directory, or one whose beginning was overwritten", at=at, length=32, path=node.path,
            )  # fmt: skip


def _names(node: Node, record: ShortEntry, problems: Problems) -> None:
    raw = record.name
    why = "".join(_name_troubles(raw, bool(record.long_parts)))
    if why:
        problems.add(
            "name-damaged", "note", f"{node.path}: its name {why}",
            "the exact bytes are in the listing as JSON; look whether more of the record is damaged",
            **_at(record, node),
        )  # fmt: skip
    if record.attributes & 0xC0 or record.flags & ~0x18:
        problems.add(
            "entry-damaged", "note",
            f"{node.path}: its attributes, {record.attributes:02X} and {record.flags:02X}, have bits that mean nothing",
            "the record may be damaged; some systems keep things of their own there", **_at(record, node),
        )  # fmt: skip


def _name_troubles(raw: bytes, long: bool) -> Iterator[str]:
    if raw.isalnum():
        return
    if any((byte < 32 and not (i == 0 and byte == 5)) or byte == 0x7F for i, byte in enumerate(raw)):
        yield "holds control characters"
    elif any(byte in names.FORBIDDEN for byte in raw):
        yield "holds characters that names cannot have"
    elif raw[:1] == b" " or b" " in raw[:8].rstrip(b" ") or b" " in raw[8:].rstrip(b" "):
        yield "has spaces inside"
    elif not long and sum(byte > 0x7F for byte in raw) > _FOREIGN:
        yield "is mostly beyond ASCII: damage, or another language"


def _shared(tree: FatTree, problems: Problems) -> None:
    for one in tree.shared.values():
        first, second = tree.nodes[one.first], tree.nodes[one.second]
        problems.add(
            "space-shared", "fault",
            f"{first.path} and {second.path} share {plural(one.count, 'cluster')}, from {one.cluster} on",
            "at most one of them is right: compare what they hold with what they should",
            at=tree.layout.start_of(one.cluster), length=tree.layout.cluster_bytes,
            paths=[first.path, second.path], clusters=one.count, first_cluster=one.cluster,
        )  # fmt: skip


def _lost(tree: FatTree, problems: Problems) -> None:
    """Name the chains of clusters that are marked used and belong to no file."""
    entries, owner, bad, layout = tree.table.entries, tree.owner, tree.table.bad, tree.layout
    lost = [c for c in range(2, len(entries)) if entries[c] and entries[c] != bad and not owner[c]]
    if not lost:
        return
    followed = {entries[cluster] for cluster in lost}
    heads = [cluster for cluster in lost if cluster not in followed]
    size = len(lost) * layout.cluster_bytes
    problems.add(
        "space-lost", "warning",
        f"{plural(len(lost), 'cluster')} in {plural(max(len(heads), 1), 'chain')}: marked used, and no file uses them",
        f"they hold {size_text(size)}: files that were never closed, or whose records are lost",
        at=layout.start_of(lost[0]), length=layout.cluster_bytes, clusters=len(lost), chains=len(heads),
        first_clusters=heads[:32], stretches=[list(run) for run in islice(runs(lost), 32)],
    )  # fmt: skip
