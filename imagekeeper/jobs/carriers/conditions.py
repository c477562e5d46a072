"""The conditions of reads and read-backs: understood, held against what can be, and against names that are known."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import NotFoundError
from imagekeeper.jobs.bench.equipping import names_in_archive, names_on_bench, qualification_of
from imagekeeper.jobs.images.loading import Loaded
from imagekeeper.jobs.session import Session, timestamp
from imagekeeper.provenance.dates import check_date
from imagekeeper.provenance.facts import (
    Decide,
    OddFact,
    odd_before_chip,
    odd_change,
    odd_date,
    odd_name,
    odd_temperature,
    odd_voltage,
    settle,
)
from imagekeeper.provenance.names import SORTS, names_in
from imagekeeper.provenance.reads import check_retries, check_temperature, check_vcc
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.slips import collapsed


@dataclass(frozen=True, kw_only=True)
class Conditions:
    """Under which conditions reads were taken; None for what is not known.

    Attributes:
        reader: The reader used.
        operator: Who read.
        date: When: a time, a day, a month or a year.
        vcc: The supply voltage as a decimal number. [volt]
        specimen: Which of several equal chips or disks.
        notes: Remarks.
        temperature: As a decimal number. [degree Celsius]
        adapter: The adapter between reader and chip.
        cable: The cable between reader and chip or drive.
        drive: The drive that read the disk.
        controller: What the drive hung on.
        retries: How often the drive tried a sector again at most.
    """

    reader: str | None = None
    operator: str | None = None
    date: str | None = None
    vcc: str | None = None
    specimen: str | None = None
    notes: tuple[str, ...] = ()
    temperature: str | None = None
    adapter: str | None = None
    cable: str | None = None
    drive: str | None = None
    controller: str | None = None
    retries: str | None = None


def understood(conditions: Conditions, session: Session) -> Conditions:
    """Bring conditions into the form that records have; who works now has read, where nobody else is named.

    Raises:
        UsageError: `usage` for a date, voltage, temperature or number of retries that cannot be understood.
    """
    date, vcc, temperature = conditions.date, conditions.vcc, conditions.temperature
    names: dict[str, str | None] = {name: getattr(conditions, name) for name in (*SORTS, "specimen")}
    empty: dict[str, Any] = {name: None for name, text in names.items() if not (text or "").strip()}
    conditions = replace(conditions, **empty)   # a name without a letter is none
    return replace(
        conditions,
        date=None if date is None else check_date(date),
        vcc=None if vcc is None else check_vcc(vcc),
        temperature=None if temperature is None else check_temperature(temperature),
        retries=None if conditions.retries is None else check_retries(conditions.retries),
        operator=conditions.operator or session.operator,
    )


@dataclass(frozen=True)
class Judged:
    """Conditions as they are to be recorded.

    Attributes:
        conditions: With older spellings where a name was a slip of one.
        insisted: The members that were insisted upon, but for the times of files.
        late: The files whose time of change is yet to come, and was insisted upon.
        qualified: What had shown that the reader works, or None.
    """

    conditions: Conditions
    insisted: tuple[str, ...]
    late: frozenset[str]
    qualified: str | None

    def insisted_of(self, file: Loaded) -> tuple[str, ...]:
        """The members that were insisted upon for one file."""
        return (*self.insisted, "modified") if file.name in self.late else self.insisted


def judged(
    archive: ArchiveStore, record: CarrierRecord, conditions: Conditions, loaded: Sequence[Loaded],
    session: Session, decide: Decide, *, part: str | None, date_code: str | None = None, more: Sequence[OddFact] = (),
) -> Judged:  # fmt: skip
    """Hold the conditions of reads against what can be, and have it decided what becomes of what is odd.

    Args:
        archive: The archive, whose names and bench are looked at.
        record: The carrier.
        conditions: As `understood` gives them.
        loaded: The files.
        session: Who works, and when.
        decide: Decides about each odd fact.
        part: The part that was read, for its supply.
        date_code: The date code on it, or None.
        more: What else is odd.

    Raises:
        UsageError: `odd-facts` with everything that is not insisted upon.
    """
    late = {file.name: list(odd_change(file.name, modified(file), session.file_time())) for file in loaded}
    odd = [*more, *(fact for facts in late.values() for fact in facts)]
    odd += odd_conditions(archive, record, conditions, session.now(), part=part, date_code=date_code)
    settled = settle(odd, decide)
    names: dict[str, Any] = dict(settled.names)
    conditions = replace(conditions, **names)
    return Judged(
        conditions, tuple(one for one in settled.insisted if one != "modified"),
        frozenset(name for name, facts in late.items() if facts), qualification_of(archive, conditions.reader),
    )  # fmt: skip


def odd_conditions(
    archive: ArchiveStore, record: CarrierRecord, conditions: Conditions, now: str, *, part: str | None,
    date_code: str | None,
) -> Iterator[OddFact]:  # fmt: skip
    """Tell of conditions that cannot be, or whose names may be slips; see `judged`."""
    if conditions.vcc is not None:
        yield from odd_voltage(conditions.vcc, part, _supply(part))
    if conditions.temperature is not None:
        yield from odd_temperature(conditions.temperature)
    if conditions.date is not None:
        yield from odd_date(conditions.date, now)
        yield from odd_before_chip(conditions.date, date_code)
    yield from odd_names(archive, record, {sort: getattr(conditions, sort) for sort in (*SORTS, "specimen")})


def insisted_text(members: Sequence[str]) -> str:
    """Say in an event what was insisted upon; nothing where nothing was.

    Example:
        >>> insisted_text(("vcc", "date_code")), insisted_text(())
        ('; insisted upon: vcc, date code', '')
    """
    return f"; insisted upon: {', '.join(members).replace('_', ' ')}" if members else ""


def modified(file: Loaded) -> str | None:
    """Give a file's time of last change as records have it."""
    return None if file.modified is None else timestamp(file.modified)


def _supply(part: str | None) -> tuple[float, float] | None:
    from imagekeeper import chips  # the tables, only where a voltage was given
    from imagekeeper.chips.voltages import supply_limits
    from imagekeeper.tables.chips import chip_rows

    with suppress(NotFoundError):   # of a part that the tables do not have nothing is known
        return None if part is None else supply_limits(chip_rows()[chips.find(part).id])
    return None


def odd_names(
    archive: ArchiveStore, record: CarrierRecord | None, names: Mapping[str, str | None]
) -> Iterator[OddFact]:
    """Tell of names that may be slips of those that the carrier, the bench or the archive knows.

    What the carrier has already under the same name is no new one. Nor is what is on the bench, or in another
    carrier, unless the carrier itself has a name that it may be a slip of: there it would count as a second reader.

    Args:
        archive: The archive.
        record: The carrier that is read, or None for what belongs to none.
        names: Names by their sort; None for what is not known.
    """
    held = [] if record is None else [
        *names_in(record), *(("specimen", read.specimen) for read in record.reads if read.specimen),
    ]  # fmt: skip
    for sort, name in names.items():
        if name is None or not name.strip():
            continue
        own = [one for of, one in held if of == sort]
        if _among(name, own):
            continue
        odd = list(odd_name(sort, name, own))
        if not odd and sort != "specimen":
            bench = names_on_bench(archive, sort)
            others = () if _among(name, bench) else names_in_archive(archive, sort)
            if not _among(name, (*bench, *others)):
                odd = list(odd_name(sort, name, (*bench, *others)))
        yield from odd


def _among(name: str, known: Sequence[str]) -> bool:
    """Whether a name is known, but for capitals and blanks around words, which never make two of one."""
    return any(collapsed(name) == collapsed(one) for one in known)
