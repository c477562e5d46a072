"""The trial of a carrier or machine from elsewhere before it is taken in: whatever will be done with it later is done.

Its record is loaded, put into an index in memory, written as JSON and read back, and its events must hold together. The
caller adds what only it can do, such as showing it. What fails in any of this would fail in every later command that
goes over the archive.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Self

from imagekeeper.archive.carriers import load_machine, load_record
from imagekeeper.archive.index.holding import IndexTrial
from imagekeeper.archive.index.unholdable import UNFORESEEN
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.errors import ImagekeeperError
from imagekeeper.jsonable import dumps
from imagekeeper.provenance import places
from imagekeeper.provenance.events import verify_chain
from imagekeeper.provenance.fields import from_json
from imagekeeper.provenance.machines import MachineRecord
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.sentences.say import Phrase

if TYPE_CHECKING:
    from imagekeeper.archive.store import ArchiveStore

Record = CarrierRecord | MachineRecord

#: What else is done with a record; what it raises speaks against the record.
Trial = Callable[["ArchiveStore", Record, Inventory], object]


def nothing_more(archive: ArchiveStore, record: Record, inventory: Inventory) -> None:
    """Do nothing else with a record."""


class Quarantine:
    """Where records are tried; use it in a `with` statement.

    Args:
        more: What else is done with each record.
    """

    def __init__(self, more: Trial = nothing_more) -> None:
        self._more = more
        self._index = IndexTrial()

    def __enter__(self) -> Self:
        """Use it."""
        return self

    def __exit__(self, *problem: object) -> None:
        """Forget what was tried."""
        self._index.__exit__(*problem)

    def tried(self, source: ArchiveStore, inventory: Inventory) -> Record | str:
        """Load a record and do with it what will be done later.

        Args:
            source: The archive that holds it, of which nothing is changed.
            inventory: The carrier's or machine's inventory there.

        Returns:
            The record, or in words what speaks against it.
        """
        try:
            record = loaded(source, inventory)
            if why := self._index.refuses(record):
                return str(Phrase("archive-damaged/not-held", name=inventory.id, trouble=why))
            if not _is_read_back(record):
                return str(Phrase("archive-damaged/not-read-back", name=inventory.id))
            if places.EVENTS in inventory.state:
                broken = verify_chain(source.read_file(inventory.id, places.EVENTS, inventory))
                if broken is not None:
                    line = Phrase("archive-damaged/event-line", line=broken.line, trouble=broken.why)
                    return str(Phrase("archive-damaged/of", name=inventory.id, trouble=line))
            self._more(source, record, inventory)
        except ImagekeeperError as problem:
            return str(Phrase("archive-damaged/of", name=inventory.id, trouble=problem.why))
        except (*UNFORESEEN, sqlite3.Error) as odd:
            # a fault of our own that this record brings out: it must not come out of the archive each day
            return str(Phrase("archive-damaged/brings-fault", name=inventory.id, trouble=type(odd).__name__))
        return record


def _is_read_back(record: Record) -> bool:
    """Whether a record, written out, is the same when it is read back; what is derived of it is left out."""
    if isinstance(record, CarrierRecord):
        record = replace(record, standing=None)
    return from_json(type(record), json.loads(dumps(record)), record.id) == record


def loaded(source: ArchiveStore, inventory: Inventory) -> Record:
    """Load the record of a carrier or machine, whichever it is.

    Raises:
        ArchiveError: `archive-damaged`.
    """
    if places.MACHINE in inventory.state and places.CARRIER not in inventory.state:
        return load_machine(source, inventory.id, inventory)
    return load_record(source, inventory.id, inventory)
