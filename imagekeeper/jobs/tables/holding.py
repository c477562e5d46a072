"""The own rows that are in force: those of the person, of the archive, and those from elsewhere that were accepted."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from imagekeeper.findings import Finding
from imagekeeper.jobs.tables.places import own_files
from imagekeeper.jobs.tables.proving import senseless
from imagekeeper.jobs.tables.received import accepted_rows
from imagekeeper.own import KEYS, NONE, OwnRow, OwnRows, standing, supplied
from imagekeeper.sentences.say import Phrase
from imagekeeper.tables.own_file import parse, unusable
from imagekeeper.tables.own_form import wrong_in_whole
from imagekeeper.tables.own_grounds import ours

#: Is told what cannot be used, once.
Told = Callable[[Sequence[Finding]], None]


@dataclass(frozen=True)
class OwnHolding:
    """What was found of own rows.

    Attributes:
        rows: Those that are in force, the weaker first.
        faults: What cannot be used, and why.
    """

    rows: OwnRows
    faults: tuple[Finding, ...]


def held(archive: Path | None) -> OwnHolding:
    """Read the own rows that count, and prove each.

    Of two rows of one key the one beside the archive counts more than one of the person's folder, and both more than
    one that was accepted.

    Args:
        archive: The archive's folder, or None for the person's own alone.
    """
    files, faults = own_files(archive)
    accepted = accepted_rows(archive) if archive is not None else ()
    if not files and not accepted:
        return OwnHolding(NONE, tuple(faults))
    rows: list[OwnRow] = []
    for file in files:
        found = parse(file.data, file.name, file.origin)
        faults += found.faults
        rows += found.rows
    same: dict[object, list[OwnRow]] = {}
    for row in rows:
        same.setdefault((row.origin, row.kind, row.key), []).append(row)
    for first, *others in same.values():   # no file has a row twice: that is a fault of the file
        for row in (first, *others) if others else ():
            other = first if row is not first else others[0]
            faults.append(unusable(row, Phrase("own-rows/in-two-files", other=other.file)))
    good, wrong = proved([*accepted, *(first for first, *others in same.values() if not others)])
    return OwnHolding(OwnRows(good), (*faults, *wrong))


def proved(rows: Sequence[OwnRow]) -> tuple[tuple[OwnRow, ...], list[Finding]]:
    """Prove own rows, kind by kind, so that each stands on those that were proved before it.

    Returns:
        Those that can be used, in their order, and what is wrong with the others.
    """
    good: list[OwnRow] = []
    faults: list[Finding] = []
    for kind in KEYS:
        whole = []
        new = set()
        for row in (one for one in rows if one.kind == kind):
            fresh = ours(row) is None and row.key not in new
            why = wrong_in_whole(row, new=fresh)
            if why is not None:
                faults.append(unusable(row, why))
                continue
            new.add(row.key)
            whole.append(row)
        while whole:   # one that makes no sense may have upset another: those that are left are proved again
            with standing((*good, *whole)):
                wrong = [(row, why) for row in whole if (why := senseless(row)) is not None]
            if not wrong:
                break
            faults += [unusable(row, why) for row, why in wrong]
            gone = {id(row) for row, _ in wrong}
            whole = [row for row in whole if id(row) not in gone]
        good += whole
    kept = {id(row) for row in good}
    return tuple(row for row in rows if id(row) in kept), faults


@contextlib.contextmanager
def own_rows_of(archive: Path | None, told: Told | None = None) -> Iterator[None]:
    """Put the own rows in force around a piece of work; they are read when a table is first needed.

    Args:
        archive: The archive's folder, or None for the person's own rows alone.
        told: Is told once what of them cannot be used.
    """

    @cache
    def supply() -> OwnRows:
        return rows_in_force(archive, told)

    with supplied(supply):
        yield


def rows_in_force(archive: Path | None, told: Told | None = None) -> OwnRows:
    """Read the own rows that count, and tell what of them cannot be used."""
    with standing(()):   # proving asks the tables, too
        found = held(archive)
    if found.faults and told is not None:
        told(found.faults)
    return found.rows
