"""Everything else that can be wrong with a volume with a FAT: looked for by `files check`.

Sources: ECMA-107 and ISO/IEC 9293, the clauses on the FAT and on directories. Which characters names cannot have, what
the first two records of a directory hold, and where flags of later systems stand, is from memory.
"""

from __future__ import annotations

from array import array
from dataclasses import replace
from itertools import islice

from imagekeeper.filesystems import fat32_block
from imagekeeper.filesystems import fat_names as names
from imagekeeper.filesystems.fat32_block import Fat32Block
from imagekeeper.filesystems.fat_directory import ShortEntry
from imagekeeper.filesystems.fat_entries import runs
from imagekeeper.filesystems.fat_problems import size_problem
from imagekeeper.filesystems.fat_tables import lost_clusters
from imagekeeper.filesystems.fat_tree import FatTree, Node
from imagekeeper.filesystems.problems import Problems
from imagekeeper.findings import Severity
from imagekeeper.floppy import parameter_block
from imagekeeper.sentences.say import Phrase

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
                    "directory-damaged/size", "note", at=node.record.at, length=32, size=node.record.size,
                    detail={"path": node.path},
                )  # fmt: skip
        elif len(node.clusters) != -(-node.record.size // tree.layout.cluster_bytes):
            size_problem(tree, number, problems)
        _names(node, node.record, problems)
        key = (node.parent, node.record.name)
        if key in seen:
            problems.add(
                "name-twice", "warning", at=node.record.at, length=32, detail={"path": node.path}
            )  # fmt: skip
        seen.add(key)
    for path, record in tree.long_troubles:
        text = names.short_name(record.name, tree.code_page)
        problems.add(
            "name-damaged/long", "note", at=record.at, length=32, trouble=record.long_trouble,
            path=path or Phrase("directory-damaged/root"),
            before=Phrase("name-damaged/end") if record.attributes & 0x3F == names.LONG_NAME else text,
        )  # fmt: skip
    _shared(tree, problems)
    _lost(tree, problems)


def _header(tree: FatTree, problems: Problems) -> None:
    layout, block = tree.layout, tree.layout.block
    if block is None:
        return
    for fault in block.faults:
        if fault.field == "heads" or (fault.field == "small_total" and layout.length > 1 << 22):
            continue   # these are rules for floppy disks
        if layout.wide is not None and fault.field in ("root_entries", "sectors_per_fat", "small_total"):
            continue   # in FAT32 these fields are 0, and others hold
        severity: Severity = "note" if fault.field == "small_total" else "warning"
        problems.add(
            "volume-header/field", severity, at=0, length=62, trouble=fault.trouble, detail={"field": fault.field}
        )  # fmt: skip
    if layout.wide is not None:
        _wide_header(tree, layout.wide, problems)
    elif block.drive is not None and tree.data[37:38][0] & 1:   # a block with a drive reaches to byte 61
        problems.add("volume-header/not-closed", "note", at=37, length=1)
    stated = block.file_system if layout.wide is None else layout.wide.file_system
    if stated in ("FAT12", "FAT16", "FAT32") and stated != f"FAT{layout.bits}":
        problems.add(
            "volume-header/kind", "warning", at=54 if layout.wide is None else 82, length=8, stated=stated,
            clusters=layout.clusters, bits=layout.bits,
        )  # fmt: skip


def _wide_header(tree: FatTree, wide: Fat32Block, problems: Problems) -> None:
    """Hold what a FAT32 volume says of itself against its copy and against what is counted."""
    size, block = tree.layout.sector_bytes, tree.layout.block
    if wide.not_closed:
        problems.add("volume-header/not-closed", "note", at=65, length=1)
    if wide.copy_sector is not None and block is not None:
        at = wide.copy_sector * size
        copy = parameter_block.read(tree.data[at : at + 512])
        # a system clears its flags in the first one only
        if copy is None or fat32_block.read(tree.data[at : at + 512], copy) != replace(wide, not_closed=False) or (
            copy != block
        ):
            problems.add("volume-header/copy", "warning", at=at, length=512, detail={"sector": wide.copy_sector})
    if wide.info_sector is None:
        return
    at = wide.info_sector * size
    told = fat32_block.info(tree.data[at : at + 512])
    free = tree.table.entries.count(0) - tree.table.entries[:2].count(0)
    if told is None:
        problems.add("volume-header/no-info", "note", at=at, length=512, detail={"sector": wide.info_sector})
    elif told.free not in (None, free):
        problems.add("volume-header/free", "note", at=at + 488, length=4, stated=told.free, counted=free)


def _labels(tree: FatTree, problems: Problems) -> None:
    block, labels, wide = tree.layout.block, tree.labels, tree.layout.wide
    for extra in labels[1:]:
        problems.add("entry-damaged/labels", "note", at=extra.at, length=32)
    in_root = labels[0].name.decode("latin-1").rstrip() if labels else None
    stated = None if block is None else block.volume_label if wide is None else wide.volume_label
    in_block = stated
    if in_block in (None, "", "NO NAME"):
        in_block = None
    shown = None if in_root is None else "".join(c if " " <= c < "\x7f" else "." for c in in_root)
    if in_block != shown and stated is not None:
        unheld = 43 if wide is None else 71
        problems.add(
            "volume-header/labels", "note", at=labels[0].at if labels else unheld, length=11,
            in_block=in_block or "none", in_root=shown or "none",
        )  # fmt: skip
    for record in labels:
        if record.start or record.size:
            problems.add(
                "entry-damaged/label", "warning", at=record.at, length=32,
                label=names.text_of(record.name, tree.code_page),
            )  # fmt: skip
        if any(byte < 32 or byte in b'"*+,./:;<=>?[\\]|' or byte == 0x7F for byte in record.name):
            problems.add("name-damaged/label", "note", at=record.at, length=11)


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
        trouble = None
        if record is None or record.at != at:
            trouble = Phrase("directory-damaged/dot" if slot == 0 else "directory-damaged/dots", name=name)
        elif not record.is_directory:
            trouble = Phrase("directory-damaged/dot-kind", name=name)
        elif record.start != wanted:
            trouble = Phrase("directory-damaged/dot-cluster", name=name, found=record.start, wanted=wanted)
        elif record.size:
            trouble = Phrase("directory-damaged/dot-size", name=name)
        if trouble:
            problems.add(
                "directory-damaged/beginning", "warning", at=at, length=32, trouble=trouble, detail={"path": node.path}
            )


def _names(node: Node, record: ShortEntry, problems: Problems) -> None:
    raw = record.name
    trouble = _name_trouble(raw, bool(record.long_parts))
    if trouble:
        problems.add("name-damaged", "note", at=record.at, length=32, trouble=trouble, detail={"path": node.path})
    if record.attributes & 0xC0 or record.flags & ~0x18:
        problems.add(
            "entry-damaged/attributes", "note", at=record.at, length=32,
            attributes=record.attributes, flags=record.flags, detail={"path": node.path},
        )  # fmt: skip


def _name_trouble(raw: bytes, long: bool) -> Phrase | None:
    if raw.isalnum():
        return None
    if any((byte < 32 and not (i == 0 and byte == 5)) or byte == 0x7F for i, byte in enumerate(raw)):
        return Phrase("name-damaged/controls")
    if any(byte in names.FORBIDDEN for byte in raw):
        return Phrase("name-damaged/forbidden")
    if raw[:1] == b" " or b" " in raw[:8].rstrip(b" ") or b" " in raw[8:].rstrip(b" "):
        return Phrase("name-damaged/spaces")
    if not long and sum(byte > 0x7F for byte in raw) > _FOREIGN:
        return Phrase("name-damaged/foreign")
    return None


def _shared(tree: FatTree, problems: Problems) -> None:
    for one in tree.shared.values():
        first, second = tree.nodes[one.first], tree.nodes[one.second]
        problems.add(
            "space-shared/files", "fault", at=tree.layout.start_of(one.cluster), length=tree.layout.cluster_bytes,
            first=first.path, second=second.path,
            detail={"paths": [first.path, second.path], "clusters": one.count, "first_cluster": one.cluster},
        )  # fmt: skip


def _lost(tree: FatTree, problems: Problems) -> None:
    """Name the chains of clusters that are marked used and belong to no file."""
    entries, layout = tree.table.entries, tree.layout
    lost = lost_clusters(tree)
    if not lost:
        return
    followed = bytearray(len(entries))
    for cluster in lost:
        if entries[cluster] < len(entries):
            followed[entries[cluster]] = 1
    heads = array("I", (cluster for cluster in lost if not followed[cluster]))
    size = len(lost) * layout.cluster_bytes
    problems.add(
        "space-lost", "warning", at=layout.start_of(lost[0]), length=layout.cluster_bytes, runs=max(len(heads), 1),
        size=size,
        detail={
            "clusters": len(lost), "chains": len(heads), "first_clusters": heads[:32].tolist(),
            "stretches": [list(run) for run in islice(runs(lost), 32)],
        },
    )  # fmt: skip
