"""What is wrong with a volume of 8-bit machines: blocks, parts and counts that contradict each other.

Rules: every block is the directory's, one file's, or free; an entry names as many blocks as its records need; the parts
of a file are numbered without gaps. Source: Digital Research, CP/M 2.2 Interface Guide and Alteration Guide, from
memory. How serious a breach is, is ours: programs may write with gaps, and some keep what they want in the directory.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from imagekeeper.errors import Where
from imagekeeper.filesystems.directory_entries import Slot, kind_of, sound
from imagekeeper.filesystems.directory_files import File
from imagekeeper.filesystems.directory_parameters import RECORD, DiskParameters
from imagekeeper.filesystems.directory_placement import BlockPlacement
from imagekeeper.findings import Finding
from imagekeeper.sentences.say import Phrase

#: Findings of one code; what is beyond is counted in the last.
_MOST_OF_A_CODE = 40

#: Names in one finding.
_MOST_NAMES = 6


@dataclass(frozen=True, kw_only=True)
class DirectoryUnderCheck:
    """What is checked.

    Attributes:
        parameters: How the disk is divided.
        where: Where its blocks lie.
        slots: All entries.
        files: The files, none deleted.
        labelled: Whether the directory has a label or time stamps.
        start: Where the volume begins in the image. [byte]
    """

    parameters: DiskParameters
    where: BlockPlacement
    slots: Sequence[Slot]
    files: Sequence[File]
    labelled: bool
    start: int = 0

    def at(self, slot: Slot) -> Where:
        """Where an entry stands."""
        return Where(address=self.start + slot.at, length=32)

    def of(self, block: int) -> Where:
        """Where a block begins."""
        size = self.parameters.block_bytes
        at = next(self.where.pieces(block * size, size), (None, 0))[0]
        return Where(address=None if at is None else self.start + at, length=size)


def check(one: DirectoryUnderCheck) -> tuple[Finding, ...]:
    r"""Look for everything that can be wrong; nothing is changed.

    Example:
        >>> from imagekeeper.filesystems.directory_files import files
        >>> worked = DiskParameters(
        ...     records_per_track=26, block_bytes=1024, blocks=243, directory_entries=64, reserved_tracks=2,
        ...     extent_mask=0, skew=6,
        ... )
        >>> entry = b"\0TIDE    DAT" + bytes([0, 0, 0, 9, 2, 250]) + bytes(14)   # 9 records need two blocks
        >>> slots = [Slot(0, 6656, entry)]
        >>> disk = DirectoryUnderCheck(
        ...     parameters=worked, where=BlockPlacement(worked, 256256), slots=slots, files=files(slots, worked),
        ...     labelled=False,
        ... )
        >>> [(finding.code, finding.why) for finding in check(disk)]
        [('outside-volume', 'TIDE.DAT names block 250, and the last block is 242')]
    """
    return tuple(
        found for group in (_volume(one), _entries(one), _blocks(one), _parts(one)) for found in _limited(group)
    )


def _limited(found: Iterable[Finding]) -> Iterator[Finding]:
    counts: Counter[str] = Counter()
    for one in found:
        counts[one.code] += 1
        if counts[one.code] <= _MOST_OF_A_CODE:
            yield one
    for code, count in counts.items():
        if count > _MOST_OF_A_CODE:
            yield Finding.of(f"{code}/many", "warning", 0.9, more=count - _MOST_OF_A_CODE, detail={"count": count})


def _volume(one: DirectoryUnderCheck) -> Iterator[Finding]:
    wanted = one.parameters.blocks * one.parameters.block_bytes
    there = one.where.logical_bytes
    if there < wanted:
        lost = sum(
            any(number * one.parameters.block_bytes + size > there for number, size in file.blocks(one.parameters))
            for file in one.files
        )
        yield Finding.of(
            "volume-cut-short/blocks", "fault" if lost else "warning", 0.9, blocks=one.parameters.blocks,
            wanted=wanted, there=there, detail={"files": lost},
        )  # fmt: skip


def _entries(one: DirectoryUnderCheck) -> Iterator[Finding]:
    for slot in one.slots:
        kind, raw = kind_of(slot.raw, labelled=one.labelled), slot.raw
        if kind == "unknown":
            yield Finding.of("entry-damaged/mark", "fault", 0.8, one.at(slot), entry=slot.index, mark=raw[0])
        elif kind == "stamps" and slot.index % 4 != 3:
            yield Finding.of("entry-damaged/stamps", "warning", 0.7, one.at(slot), entry=slot.index)
        if kind != "file":
            continue
        stated = []
        if raw[12] > 31 or raw[14] > 63:
            stated.append(Phrase("entry-damaged/extent", high=raw[14], low=raw[12]))
        if raw[15] > (128 if one.parameters.record_counts == "last-extent" else one.parameters.entry_records):
            stated.append(Phrase("entry-damaged/records", records=raw[15]))
        if stated:
            yield Finding.of("entry-damaged", "fault", 0.8, one.at(slot), name=slot.name, stated=stated)
        if not sound(bytes([0]) + raw[1:12] + bytes(20)):
            yield Finding.of(
                "name-damaged/entry", "warning", 0.6, one.at(slot), entry=slot.index, letters=slot.letters.hex(' '),
            )
        yield from _counts(one, slot)


def _counts(one: DirectoryUnderCheck, slot: Slot) -> Iterator[Finding]:
    parameters, numbers = one.parameters, slot.numbers(one.parameters)
    records = slot.records(parameters)
    needed = -(-records * RECORD // parameters.block_bytes)
    more = sum(map(bool, numbers[needed:]))
    missing = 0 < needed <= len(numbers) and not numbers[needed - 1]
    holes = sum(not one for one in numbers[: max(needed - 1, 0)])
    if holes:
        yield Finding.of(
            "size-disagrees/hole", "warning", 0.5, one.at(slot), name=slot.name, records=records,
            detail={"blocks": holes},
        )  # fmt: skip
    if not more and not missing:
        return
    detail = {"records": records, "blocks": sum(map(bool, numbers))}
    yield Finding.of(
        "size-disagrees/blocks", "warning", 0.7, one.at(slot), name=slot.name, records=records, needed=needed,
        but=Phrase("size-disagrees/more-named", more=more) if more else Phrase("size-disagrees/last-nowhere"),
        detail=detail,
    )  # fmt: skip


def _blocks(one: DirectoryUnderCheck) -> Iterator[Finding]:
    users: dict[int, list[str]] = {}
    for file in one.files:
        for part in file.parts:
            for number in part.numbers(one.parameters):
                if number >= one.parameters.blocks:
                    yield Finding.of(
                        "outside-volume/block", "fault", 0.8, one.at(part), name=part.name,
                        last=one.parameters.blocks - 1, detail={"block": number},
                    )  # fmt: skip
                elif number:
                    users.setdefault(number, []).append(part.name)
    for number, names in sorted(users.items()):
        system = number < one.parameters.directory_blocks
        if len(names) + system < 2:
            continue
        shown = [*(["the directory"] if system else []), *names][:_MOST_NAMES]
        rest = len(names) + system - len(shown)
        yield Finding.of(
            "space-shared/block", "fault", 0.9, one.of(number),
            rest=Phrase("space-shared/rest", count=rest) if rest else "", detail={"block": number, "names": shown},
        )  # fmt: skip


def _parts(one: DirectoryUnderCheck) -> Iterator[Finding]:
    for file in one.files:
        slot, name = file.first, file.first.name
        if file.copy:
            yield Finding.of(
                "extent-twice", "fault", 0.9, one.at(slot), part=slot.number(one.parameters), name=name,
                user=slot.user,
            )  # fmt: skip
            continue
        numbers = [part.number(one.parameters) for part in file.parts]
        gaps = numbers[-1] + 1 - len(numbers)
        if gaps:
            yield Finding.of(
                "extent-missing", "warning", 0.6, one.at(slot), name=name, parts=len(numbers), last=numbers[-1],
                detail={"missing": gaps},
            )  # fmt: skip
        for part in file.parts[:-1]:
            records = part.records(one.parameters)
            if records < one.parameters.entry_records:
                yield Finding.of(
                    "size-disagrees/part", "warning", 0.5, one.at(part), part=part.number(one.parameters), name=name,
                    entry_records=one.parameters.entry_records, detail={"records": records},
                )  # fmt: skip
        order = [part.index for part in file.parts]
        if order != sorted(order):
            yield Finding.of("extent-order", "note", 0.9, one.at(slot), name=name, entries=_some(order))


def _some(numbers: list[int]) -> Phrase:
    more = Phrase("extent-order/and-more") if len(numbers) > _MOST_NAMES else ""
    return Phrase("extent-order/entries", numbers=numbers[:_MOST_NAMES], more=more)
