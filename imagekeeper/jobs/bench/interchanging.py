"""Keep what disks showed that went between a drive of the bench and that of a machine."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Literal

from imagekeeper.drives.bench import Bench, Wrote
from imagekeeper.drives.bench_form import CYLINDERS, TIMES
from imagekeeper.drives.disk import DiskForDrive
from imagekeeper.drives.interchange import shown
from imagekeeper.drives.verdict import verdict
from imagekeeper.errors import ContradictionError, UsageError
from imagekeeper.floppy import formats
from imagekeeper.jobs.bench.equipping import bench_of, write_entry
from imagekeeper.jobs.images.loading import Options, all_loaded, refuse_same
from imagekeeper.jobs.session import Session
from imagekeeper.provenance.dates import check_date
from imagekeeper.provenance.facts import Decide, odd_date, refuse, settle
from imagekeeper.sentences.say import Phrase
from imagekeeper.tables.drives import drive_rows
from imagekeeper.tables.floppy import FormatRow

if TYPE_CHECKING:
    from imagekeeper.archive.store import ArchiveStore

_PART = re.compile(r"(\d{1,4})(?:-(\d{1,4}))?(?:x(\d{1,4}))?", re.ASCII)


@dataclass(frozen=True, kw_only=True)
class InterchangeNoted:
    """What a disk that went between two drives showed, as it was noted on the bench.

    Attributes:
        drive: The drive of the bench.
        machine_drive: The drive of the machine.
        wrote: here where the drive of the bench wrote the disk, there where the machine's did.
        format: The id of the disk's format.
        failed: Cylinders that were not read right.
        retried: Cylinders that were read after more than one try.
        says: What it shows, in words.
        still: What has not been tried yet, in words, or null.
    """

    SCHEMA: ClassVar[Literal["interchange/1"]] = "interchange/1"

    drive: str
    machine_drive: str
    wrote: Wrote
    format: str
    failed: tuple[int, ...]
    retried: tuple[int, ...]
    says: str
    still: str | None

    @property
    def exit_code(self) -> int:
        """1 where cylinders failed, else 0."""
        return 1 if self.failed else 0


@dataclass(frozen=True, kw_only=True)
class Observed:
    """What a person saw, or has files of.

    Attributes:
        known: The file that was written to the disk, or None.
        read: The file that the other drive gave of it, or None.
        failed: Cylinders that were not read, such as `38-39`.
        retried: Cylinders that were read after more tries, such as `37` or `37x3`.
        cylinders: How many were tried, or None for all.
        all_read: Whether every one was read at the first try, as a person says.
        date: The day, or None for now.
        note: A remark, or None.
    """

    known: str | None = None
    read: str | None = None
    failed: str | None = None
    retried: str | None = None
    cylinders: int | None = None
    all_read: bool = False
    date: str | None = None
    note: str | None = None


def note_interchange(
    archive: ArchiveStore, drive: str, machine_drive: str, wrote: Wrote, format_name: str, seen: Observed,
    options: Options, session: Session, *, decide: Decide = refuse,
) -> InterchangeNoted:  # fmt: skip
    """Note on the bench whether a disk that one drive wrote was read by the other.

    Args:
        archive: The archive.
        drive: The drive, as the bench has it.
        machine_drive: The drive of the machine, in words.
        wrote: Which of the two wrote.
        format_name: A name of the disk's format.
        seen: What was seen.
        options: How to take the files.
        session: Who works, and when.
        decide: Decides about a day that cannot be.

    Raises:
        UsageError: `unknown-name` for a drive that is not on the bench; `usage` where nothing was seen, both all and
            not all cylinders are said to be read, or the files are not of that disk; `odd-facts`.
        ContradictionError: `drive-cannot`: the drive can neither have written nor read such a disk.
        NotFoundError: `format-unknown`.
        InputError: A file, or the bench, cannot be understood.
    """
    row = formats.find(format_name)
    own = next((one for one in (bench_of(archive) or Bench()).drives if one.name == drive), None)
    if own is None:
        known = [one.name for one in (bench_of(archive) or Bench()).drives] or ["none"]
        raise UsageError("unknown-name/on-bench", kind="drive", name=drive, known=known)
    judged = verdict(DiskForDrive.of(row), drive_rows()[own.drive])
    if (judged.can_write if wrote == "here" else judged.can_read) == "no":
        raise ContradictionError("drive-cannot/never", drive=drive, disk=row.title, because=judged.because[0])
    if not machine_drive.strip():
        raise UsageError("usage/no-machine-drive")
    cylinders = row.cylinders if seen.cylinders is None else seen.cylinders
    if not 1 <= cylinders <= min(row.cylinders, CYLINDERS):
        raise UsageError(
            "usage/no-such-number", thing="number of cylinders", value=cylinders, least=1,
            most=min(row.cylinders, CYLINDERS),
        )  # fmt: skip
    failed = {cylinder for cylinder, _ in _cylinders(seen.failed, cylinders)}
    retried = dict(_cylinders(seen.retried, cylinders))
    with_files = seen.known is not None and seen.read is not None
    if with_files != (seen.known is not None or seen.read is not None):
        raise UsageError("usage/one-of-two-reads")
    if not (seen.all_read or failed or retried or with_files):
        raise UsageError("usage/nothing-seen")
    if seen.all_read and (failed or retried):
        raise UsageError("usage/all-and-not-all")
    if seen.known is not None and seen.read is not None:
        failed |= {one for one in _differing(row, seen.known, seen.read, options) if one < cylinders}
    now = session.now()
    on = now[:10] if seen.date is None else check_date(seen.date)
    settle(list(odd_date(on, now)), decide)
    again = {cylinder: times for cylinder, times in retried.items() if cylinder not in failed}
    result = write_entry(
        archive, "interchange", drive=drive, machine_drive=machine_drive.strip(), wrote=wrote, format=row.id,
        cylinders=cylinders, on=on, failed=tuple(sorted(failed)), retried=tuple(sorted(again.items())), note=seen.note,
    )  # fmt: skip
    trials = shown(DiskForDrive.of(row), result.interchanges[-1:], now)
    between = (drive, machine_drive.strip())
    ways = {one.wrote for one in result.interchanges if (one.drive, one.machine_drive) == between}
    still = Phrase("step/interchange-there") if wrote == "here" else Phrase("step/interchange-here")
    return InterchangeNoted(
        drive=drive, machine_drive=machine_drive.strip(), wrote=wrote, format=row.id, failed=tuple(sorted(failed)),
        retried=tuple(sorted(again)), says=trials[0].says if trials else "",
        still=str(still) if len(ways) < 2 else None,
    )  # fmt: skip


def _cylinders(text: str | None, count: int) -> list[tuple[int, int]]:
    """Read a list of cylinders, each with how often it was tried again.

    Raises:
        UsageError: `usage`.

    Example:
        >>> _cylinders("3, 37-39x2", 40)
        [(3, 1), (37, 2), (38, 2), (39, 2)]
    """
    found: dict[int, int] = {}
    for part in (text or "").split(","):
        if not part.strip():
            continue
        match = _PART.fullmatch(part.strip())
        first = int(match[1]) if match else -1
        last = int(match[2]) if match and match[2] else first
        times = int(match[3]) if match and match[3] else 1
        if match is None or not first <= last < count or not 1 <= times <= TIMES:
            raise UsageError("usage/cylinders", text=part, last=count - 1)
        found |= dict.fromkeys(range(first, last + 1), times)
    return sorted(found.items())


def _differing(row: FormatRow, known: str, read: str, options: Options) -> set[int]:
    """Find the cylinders on which a read of a disk is not what was written to it."""
    with all_loaded([known, read], options) as loaded:
        refuse_same(loaded)
        wrote, gave = (one.image.tobytes() for one in loaded)
    if len(wrote) != row.bytes:
        raise UsageError("usage/not-the-disk", size=len(wrote), disk=row.title, disk_size=row.bytes)
    if len(gave) > row.bytes:
        raise UsageError("usage/not-the-disk", size=len(gave), disk=row.title, disk_size=row.bytes)
    each = row.heads * row.sectors * row.sector_bytes
    first = row.bytes - each * (row.cylinders - 1)   # its track 00 may have other sectors
    ends = [first + each * cylinder for cylinder in range(row.cylinders)]
    return {
        cylinder
        for cylinder, end in enumerate(ends)
        for start in (0 if cylinder == 0 else ends[cylinder - 1],)
        if wrote[start:end] != gave[start:end]
    }
