"""A volume of 8-bit machines read by its disk parameter block: files with their user areas, attributes and extents."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from imagekeeper.containers.model import Data
from imagekeeper.filesystems.directory_check import DirectoryUnderCheck, check
from imagekeeper.filesystems.directory_entries import Slot, kind_of, stamp
from imagekeeper.filesystems.directory_files import File, files, labelled, slots
from imagekeeper.filesystems.directory_parameters import ENTRY, RECORD, DiskParameters
from imagekeeper.filesystems.directory_placement import BlockPlacement
from imagekeeper.filesystems.model import Area, Boot, Entry, Extent, ReadingOptions, SectorGrid, Volume, joined
from imagekeeper.ranked import Evidence
from imagekeeper.units import size_text

KIND = "8-bit-directory"

#: The mark at which the text of a file ends. Source: Digital Research, CP/M 2.2 Interface Guide, from memory.
TEXT_END = 0x1A

#: Bits of a label: which stamps the directory keeps. From memory.
_CREATED, _ACCESSED = 0x10, 0x40


def read_volume(
    data: Data, parameters: DiskParameters, how: ReadingOptions, grid: SectorGrid | None = None,
    evidence: tuple[Evidence, ...] = (),
) -> Volume:  # fmt: skip
    r"""Read a volume.

    Args:
        data: The whole of it.
        parameters: How it is divided.
        how: What is asked for.
        grid: The geometry of the disk, or None.
        evidence: Why it was taken for such a volume.

    Example:
        >>> worked = DiskParameters(
        ...     records_per_track=26, block_bytes=1024, blocks=243, directory_entries=64, reserved_tracks=2,
        ...     extent_mask=0,
        ... )
        >>> entry = b"\3TIDE    D\xc1T" + bytes([0, 0, 0, 2, 2]) + bytes(15)
        >>> disk = bytes(6656) + entry.ljust(2048, b"\xe5") + b"level 3".ljust(256, b"\x1a") + bytes(1000)
        >>> file = read_volume(disk, worked, ReadingOptions()).entries[0]
        >>> file.name, file.group, file.attributes, file.size_bytes, file.extents
        ('TIDE.DAT', '3', ('system',), 256, (Extent(start=8704, length=256),))
        >>> cut_at_mark(disk, file).size_bytes
        7
    """
    where = BlockPlacement(parameters, len(data), grid)
    found = slots(data, where, parameters)
    has_label = labelled(found)
    live = files((one for one in found if kind_of(one.raw, labelled=has_label) == "file"), parameters)
    used = {number for file in live for part in file.parts for number in part.numbers(parameters) if number}
    used.update(range(parameters.kept_blocks))
    maker = _Maker(
        where=where, parameters=parameters, slots=found, start=how.start, budget=4 * (len(data) // RECORD + 1024)
    )
    entries = [maker.entry(file) for file in live]
    if how.deleted:
        gone = files((one for one in found if kind_of(one.raw) == "deleted"), parameters, deleted=True)
        entries += maker.deleted(gone, used)
    free = [number for number in range(parameters.blocks) if number not in used]
    findings = check(DirectoryUnderCheck(
        parameters=parameters, where=where, slots=found, files=live, labelled=has_label, start=how.start
    ))
    label = next((one for one in found if kind_of(one.raw) == "label"), None)
    directory = where.pieces(0, parameters.directory_entries * ENTRY)
    areas = [*_reserved(where, parameters, len(data)), *(("directory", one) for one in _ascending(directory))]
    return Volume(
        kind=KIND,
        title=title_of(parameters),
        start=how.start,
        length=where.begin + parameters.blocks * parameters.block_bytes,
        unit_bytes=parameters.block_bytes,
        units=parameters.blocks,
        free_units=len(free),
        entries=tuple(entries),
        areas=tuple(Area(name, (one.start or 0) + how.start, one.length) for name, one in areas),
        free=tuple(_moved(_ascending(maker.pieces(free)), how.start)),
        grid=grid,
        label=label.name if label else None,
        parameters=_stated(parameters, found, has_label),
        boot=_boot(data, where, parameters),
        evidence=evidence,
        findings=tuple(one for one in findings if how.check or one.severity == "fault"),
    )


def title_of(parameters: DiskParameters) -> str:
    """Say what a volume is, and how it is divided, as `--parameter-block` takes it."""
    return f"directory of an 8-bit machine ({parameters.text})"


def cut_at_mark(data: Data, entry: Entry) -> Entry:
    """Cut a text at its first end mark, which is the byte 1A; without one, nothing is changed.

    Args:
        data: The image that the extents refer to.
        entry: A file.
    """
    at = 0
    for block in entry.blocks(data):
        found = block.find(TEXT_END)
        if found >= 0:
            at += found
            break
        at += len(block)
    else:
        return entry
    kept, left = [], at
    for extent in entry.extents:
        kept.append((extent.start, min(extent.length, left)))
        left -= kept[-1][1]
    return replace(entry, size_bytes=at, size_grain=1, extents=joined(kept))


def _ascending(pieces: Iterable[tuple[int | None, int]]) -> tuple[Extent, ...]:
    return joined(sorted((at, length) for at, length in pieces if at is not None))


def _moved(extents: Iterable[Extent], by: int) -> Iterator[Extent]:
    for one in extents:
        yield Extent(None if one.start is None else one.start + by, one.length)


def _reserved(where: BlockPlacement, parameters: DiskParameters, size: int) -> Iterator[tuple[str, Extent]]:
    starts = (where.track_start(number) for number in range(min(parameters.reserved_tracks, size // RECORD + 1)))
    tracks = ((at, min(where.track_start(1) if not at else parameters.track_bytes, size - at)) for at in starts)
    for one in _ascending((at, length) for at, length in tracks if length > 0):
        yield "reserved tracks", one


def _boot(data: Data, where: BlockPlacement, parameters: DiskParameters) -> Boot:
    values: set[int] = set()
    tracks = 0
    for _, one in _reserved(where, parameters, len(data)):
        tracks += one.length
        for at in range(one.start or 0, (one.start or 0) + one.length, 1 << 16):
            values |= set(data[at : min(at + (1 << 16), (one.start or 0) + one.length)])
    if not tracks:
        return Boot(None, "There are no reserved tracks: a system would be read from elsewhere.", ())
    if len(values) == 1:
        says = f"the {size_text(tracks)} of the reserved tracks are all {values.pop():02X}"
        return Boot(False, "No machine starts from it: its reserved tracks are empty.", (Evidence(says, -3.0),))
    says = f"the {size_text(tracks)} of the reserved tracks hold {len(values)} different values"
    return Boot(None, "Its reserved tracks hold something: whether a system, the machine decides.",
                (Evidence(says, 1.0),))  # fmt: skip


def _stated(parameters: DiskParameters, found: Sequence[Slot], has_label: bool) -> dict[str, Any]:
    kinds = [kind_of(one.raw, labelled=has_label) for one in found]
    return {
        "option": parameters.text,
        "block_bytes": parameters.block_bytes,
        "blocks": parameters.blocks,
        "directory_entries": parameters.directory_entries,
        "directory_entries_free": kinds.count("free") + kinds.count("deleted"),
        "directory_blocks": parameters.directory_blocks,
        "allocation": f"{parameters.allocation:04X}",
        "reserved_tracks": parameters.reserved_tracks,
        "records_per_track": parameters.records_per_track,
        "sector_bytes": parameters.sector_bytes,
        "skew": None if parameters.order else parameters.skew,
        "sector_order": list(parameters.sector_order),
        "extent_mask": parameters.extent_mask,
        "block_number_bytes": parameters.number_bytes,
        "record_counts": parameters.record_counts,
        "last_bytes": parameters.last_bytes,
        "sides": parameters.sides,
        "parameter_block": parameters.as_bytes().hex().upper(),
        "time_stamps": kinds.count("stamps"),
        "passwords": kinds.count("password"),
    }


@dataclass(kw_only=True)
class _Maker:
    """Makes entries of the model; extents beyond a budget, which only a mad directory needs, are left out."""

    where: BlockPlacement
    parameters: DiskParameters
    slots: Sequence[Slot]
    start: int
    budget: int

    def __post_init__(self) -> None:
        label = next((one for one in self.slots if kind_of(one.raw) == "label"), None)
        self.stamped = label.raw[12] if label else 0

    def pieces(self, blocks: Iterable[int]) -> Iterator[tuple[int | None, int]]:
        """Where whole blocks lie in the volume."""
        size = self.parameters.block_bytes
        for number in blocks:
            yield from self.where.pieces(number * size, size)

    def entry(self, file: File, lost: frozenset[int] = frozenset()) -> Entry:
        """Make the entry of a file.

        Args:
            file: Its parts.
            lost: Blocks that belong to another file by now.
        """
        parameters, first = self.parameters, file.first
        size = file.size(parameters)
        pieces: list[tuple[int | None, int]] = []
        left, complete = size, True
        for number, length in file.blocks(parameters):
            length = min(length, left)
            left -= length
            if not number:
                pieces.append((None, length))
            elif number >= parameters.blocks or number in lost or self.budget <= 0:
                pieces.append((None, length))
                complete = False
            else:
                there = list(self.where.pieces(number * parameters.block_bytes, length))
                complete = complete and all(at is not None for at, _ in there)
                self.budget -= len(there)
                pieces += there
        if left:
            pieces.append((None, left))
            complete = False
        name, user = first.name, first.user
        modified, created, accessed = (None, None, None) if file.deleted else self._stamps(first)
        return Entry(
            path=name.replace("/", "_"), name=name, name_hex=first.raw[1:12].hex(), kind="file", size_bytes=size,
            extents=tuple(_moved(joined(pieces), self.start)),
            entries_at=tuple(part.at + self.start for part in file.parts),
            group=None if file.deleted else str(user),
            attributes=first.attributes,
            size_grain=RECORD if parameters.last_bytes == "not-kept" else 1,
            modified=modified, created=created, accessed=accessed, deleted=file.deleted, complete=complete,
        )  # fmt: skip

    def deleted(self, gone: Iterable[File], used: set[int]) -> Iterator[Entry]:
        """Make the entries of deleted files of which some block was not given to another file since."""
        for file in gone:
            blocks = {number for number, _ in file.blocks(self.parameters) if number}
            if blocks - used and max(blocks) < self.parameters.blocks:
                yield self.entry(file, frozenset(blocks & used))

    def _stamps(self, slot: Slot) -> tuple[str | None, str | None, str | None]:
        """Time of last change, time of creation, and day of last use, where the directory keeps them."""
        last = slot.index | 3
        if last == slot.index or last >= len(self.slots) or kind_of(self.slots[last].raw) != "stamps":
            return None, None, None
        begin = 1 + 10 * (slot.index & 3)
        raw = self.slots[last].raw[begin : begin + 10]
        first, modified = stamp(raw[:4]), stamp(raw[4:8])
        if self.stamped & _ACCESSED and not self.stamped & _CREATED:
            return modified, None, first[:10] if first else None
        return modified, first, None
