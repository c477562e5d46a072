"""What is wrong with a volume of 8-bit machines: blocks, parts and counts that contradict each other.

Rules: every block is the directory's, one file's, or free; an entry names as many blocks as its records need; the parts
of a file are numbered without gaps. Source: Digital Research, CP/M 2.2 Interface Guide and Alteration Guide, from
memory. How serious a breach is, is ours: programs may write with gaps, and some keep what they want in the directory.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from imagekeeper.errors import Where
from imagekeeper.filesystems.directory_entries import Slot, kind_of, sound
from imagekeeper.filesystems.directory_files import File
from imagekeeper.filesystems.directory_parameters import RECORD, DiskParameters
from imagekeeper.filesystems.directory_placement import BlockPlacement
from imagekeeper.findings import Finding, Severity
from imagekeeper.units import plural, size_text

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


def _finding(
    code: str, severity: Severity, confidence: float, where: Where, why: str, hint: str, **detail: Any
) -> Finding:
    return Finding(code, severity, confidence, where, why, hint, detail)


def _limited(found: Iterable[Finding]) -> Iterator[Finding]:
    counts: Counter[str] = Counter()
    for one in found:
        counts[one.code] += 1
        if counts[one.code] <= _MOST_OF_A_CODE:
            yield one
    for code, count in counts.items():
        if count > _MOST_OF_A_CODE:
            yield _finding(
                code, "warning", 0.9, Where(), f"there are {count - _MOST_OF_A_CODE} more of this kind",
                "so many speak for a wrong parameter block: look at the other candidates", count=count,
            )  # fmt: skip


def _volume(one: DirectoryUnderCheck) -> Iterator[Finding]:
    wanted = one.parameters.blocks * one.parameters.block_bytes
    there = one.where.logical_bytes
    if there < wanted:
        lost = sum(
            any(number * one.parameters.block_bytes + size > there for number, size in file.blocks(one.parameters))
            for file in one.files
        )
        yield _finding(
            "volume-cut-short", "fault" if lost else "warning", 0.9, Where(),
            f"{plural(one.parameters.blocks, 'block')} are {size_text(wanted)}, and the image has {there} behind the "
            f"reserved tracks; {plural(lost, 'file')} lie beyond its end",
            "read the disk again, or look for another number of blocks", files=lost,
        )  # fmt: skip


def _entries(one: DirectoryUnderCheck) -> Iterator[Finding]:
    hint = "compare the entry with another read of the disk; the rest of the directory can be used"
    for slot in one.slots:
        kind, raw = kind_of(slot.raw, labelled=one.labelled), slot.raw
        if kind == "unknown":
            yield _finding("entry-damaged", "fault", 0.8, one.at(slot),
                           f"entry {slot.index} begins with {raw[0]:02X}, which is no user area and no mark", hint)
        elif kind == "stamps" and slot.index % 4 != 3:
            yield _finding("entry-damaged", "warning", 0.7, one.at(slot),
                           f"entry {slot.index} holds time stamps, whose place is each fourth entry", hint)
        if kind != "file":
            continue
        says = []
        if raw[12] > 31 or raw[14] > 63:
            says.append(f"the extent {raw[14]:02X}{raw[12]:02X}, beyond 1F and 3F")
        if raw[15] > (128 if one.parameters.record_counts == "last-extent" else one.parameters.entry_records):
            says.append(f"{raw[15]} records, more than an extent has")
        if says:
            yield _finding("entry-damaged", "fault", 0.8, one.at(slot), f"{slot.name} states {', '.join(says)}", hint)
        if not sound(bytes([0]) + raw[1:12] + bytes(20)):
            yield _finding("name-damaged", "warning", 0.6, one.at(slot),
                           f"entry {slot.index} is named {slot.letters.hex(' ')}: some of it is no letter of a name",
                           "some programs write small letters and blanks on purpose; otherwise correct the copy")
        yield from _counts(one, slot)


def _counts(one: DirectoryUnderCheck, slot: Slot) -> Iterator[Finding]:
    parameters, numbers = one.parameters, slot.numbers(one.parameters)
    records = slot.records(parameters)
    needed = -(-records * RECORD // parameters.block_bytes)
    more = sum(map(bool, numbers[needed:]))
    missing = 0 < needed <= len(numbers) and not numbers[needed - 1]
    if not more and not missing:
        return
    why = f"{slot.name} counts {plural(records, 'record')}, which need {plural(needed, 'block')}, and "
    why += f"names {more} more" if more else "the last of them has no place"
    yield _finding(
        "size-disagrees", "warning", 0.7, one.at(slot), why,
        "a program that was stopped leaves this; where many files have it, the parameter block is wrong",
        records=records, blocks=sum(map(bool, numbers)),
    )  # fmt: skip


def _blocks(one: DirectoryUnderCheck) -> Iterator[Finding]:
    users: dict[int, list[str]] = {}
    for file in one.files:
        for part in file.parts:
            for number in part.numbers(one.parameters):
                if number >= one.parameters.blocks:
                    yield _finding(
                        "outside-volume", "fault", 0.8, one.at(part),
                        f"{part.name} names block {number}, and the last block is {one.parameters.blocks - 1}",
                        "the entry is damaged, or the disk has more blocks than was assumed", block=number,
                    )  # fmt: skip
                elif number:
                    users.setdefault(number, []).append(part.name)
    for number, names in sorted(users.items()):
        system = number < one.parameters.directory_blocks
        if len(names) + system < 2:
            continue
        shown = [*(["the directory"] if system else []), *names][:_MOST_NAMES]
        rest = len(names) + system - len(shown)
        yield _finding(
            "space-shared", "fault", 0.9, one.of(number),
            f"block {number} belongs to {', '.join(shown)}" + (f" and {rest} more" if rest else ""),
            "only one of them has its own bytes there: look at each; where many are shared, the parameter block is "
            "wrong", block=number, names=shown,
        )  # fmt: skip


def _parts(one: DirectoryUnderCheck) -> Iterator[Finding]:
    for file in one.files:
        slot, name = file.first, file.first.name
        if file.copy:
            yield _finding(
                "extent-twice", "fault", 0.9, one.at(slot),
                f"the directory has part {slot.number(one.parameters)} of {name} in user area {slot.user} again",
                "both are given as files of the same name: compare them, and keep both",
            )  # fmt: skip
            continue
        numbers = [part.number(one.parameters) for part in file.parts]
        gaps = numbers[-1] + 1 - len(numbers)
        if gaps:
            yield _finding(
                "extent-missing", "warning", 0.6, one.at(slot),
                f"{name} has {plural(len(numbers), 'part')}, the last is number {numbers[-1]}: {gaps} are missing",
                "some programs write files with gaps; otherwise look among the deleted entries", missing=gaps,
            )  # fmt: skip
        for part in file.parts[:-1]:
            records = part.records(one.parameters)
            if records < one.parameters.entry_records:
                yield _finding(
                    "size-disagrees", "warning", 0.5, one.at(part),
                    f"part {part.number(one.parameters)} of {name} counts {records} of "
                    f"{one.parameters.entry_records} records, though more parts follow",
                    "some programs write files with gaps; otherwise a part is damaged", records=records,
                )  # fmt: skip
        order = [part.index for part in file.parts]
        if order != sorted(order):
            yield _finding(
                "extent-order", "note", 0.9, one.at(slot), f"the parts of {name} stand in entries {_some(order)}",
                "nothing needs to be done: free entries were used again",
            )  # fmt: skip


def _some(numbers: list[int]) -> str:
    return ", ".join(map(str, numbers[:_MOST_NAMES])) + (" and more" if len(numbers) > _MOST_NAMES else "")
