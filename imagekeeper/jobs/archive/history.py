"""A carrier or machine as each of its versions had it: records, and the events that were added with them."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import cached_property
from pathlib import Path
from typing import Any, TypeVar

from imagekeeper.archive.audits.reproof import Conclusion, ReproofOutcome
from imagekeeper.archive.carriers import assembled
from imagekeeper.archive.ocfl.inventory import Inventory, Version
from imagekeeper.archive.ocfl.reading import file_bytes, size_if_any
from imagekeeper.archive.ocfl.troubles import damaged
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.digests import sha256_hex
from imagekeeper.files import reason
from imagekeeper.provenance import places
from imagekeeper.provenance.events import Event, parse_events
from imagekeeper.provenance.fields import from_json, read_json
from imagekeeper.provenance.machines import Machine
from imagekeeper.provenance.reads import Read
from imagekeeper.provenance.records import Carrier, CarrierRecord
from imagekeeper.provenance.vouching import vouchers
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import MIB

T = TypeVar("T")

#: Larger files are not derived again: it would take their whole size in memory. [byte]
LARGEST = 256 * MIB

#: Smaller ones are read once. [byte]
_REMEMBERED = MIB


class History:
    """All versions of a carrier or machine; each file is read and checked once.

    Args:
        archive: The archive, which is only read.
        inventory: The inventory of the carrier or machine.
    """

    def __init__(self, archive: ArchiveStore, inventory: Inventory) -> None:
        self.archive = archive
        self.inventory = inventory
        self.id = inventory.id
        self.folder = archive.object_path(inventory.id)
        self.content = inventory.by_digest()
        self._bytes: dict[str, bytes] = {}
        self._parsed: dict[tuple[str, str], Any] = {}
        self._records: dict[int, CarrierRecord] = {}

    @property
    def is_machine(self) -> bool:
        """Whether this is a machine."""
        return places.MACHINE in self.inventory.state

    @property
    def head(self) -> int:
        """The number of the newest version."""
        return self.inventory.head

    def version(self, number: int) -> Version:
        """Give what the inventory says of a version."""
        return self.inventory.versions[number - 1]

    def state(self, number: int) -> Mapping[str, str]:
        """Give the files of a version by logical path; none before the first."""
        return self.inventory.versions[number - 1].state if number else {}

    def place(self, digest: str) -> Path:
        """Give where a file lies."""
        return self.folder / self.content[digest]

    def file(self, digest: str) -> bytes:
        """Read a file whole, checked.

        Raises:
            ArchiveError: `archive-damaged`.
        """
        if digest not in self._bytes:
            place = self.place(digest)
            try:
                data = file_bytes(place)
            except OSError as problem:
                raise damaged(self.archive.name_of(place), reason(problem)) from problem
            if hashlib.sha512(data).hexdigest() != digest:
                raise damaged(self.archive.name_of(place), Phrase("archive-damaged/digest"))
            if len(data) > _REMEMBERED:
                return data
            self._bytes[digest] = data
        return self._bytes[digest]

    def parsed(self, cls: type[T], digest: str, path: str) -> tuple[T, ...]:
        """Read a file of records.

        Raises:
            ArchiveError: `archive-damaged`.
        """
        key = (digest, path)
        if key not in self._parsed:
            name = f"{self.id}: {path}"
            items = read_json(self.file(digest), name)
            self._parsed[key] = tuple(
                from_json(cls, item, name) for item in (items if isinstance(items, list) else [items])
            )
        found: tuple[T, ...] = self._parsed[key]
        return found

    def at(self, number: int) -> AtVersion:
        """Give the record files of a version."""
        return AtVersion(self, number)

    def record(self, number: int) -> CarrierRecord:
        """Put a carrier's record together as a version had it, without events."""
        if number not in self._records:
            files = self.at(number)
            record = assembled(files, None, number, in_short=True)
            self._records[number] = record
        return self._records[number]

    @cached_property
    def told(self) -> dict[int, tuple[Event, ...]]:
        """The events that each version added."""
        found: dict[int, tuple[Event, ...]] = {}
        before = b""
        for number in range(1, self.head + 1):
            digest = self.state(number).get(places.EVENTS)
            data = before if digest is None else self.file(digest)
            # where old events were changed the chain is broken, which the strict audit tells
            found[number] = parse_events(data[len(before):] if data.startswith(before) else data)
            before = data
        return found

    @cached_property
    def vouched(self) -> dict[int, dict[str, str]]:
        """The SHA-256 of the record files that the events of each version vouch for."""
        return {number: vouchers(events) for number, events in self.told.items()}

    def since(self, path: str) -> int:
        """Give the version since which a file is what it is now."""
        number, digest = self.head, self.inventory.state.get(path)
        while number > 1 and self.state(number - 1).get(path) == digest:
            number -= 1
        return number

    @cached_property
    def images(self) -> dict[str, str]:
        """The SHA-512 of every image of any version, by its SHA-256; those that are too large are left out."""
        return {
            sha256_hex(self.file(digest)): digest
            for path, digest in self.inventory.manifest.items()
            if "/content/merged/" not in path and not places.is_record(path.partition("/content/")[2])
            and self.size(digest) <= LARGEST
        }  # fmt: skip

    def size(self, digest: str) -> int:
        """Give the size of a file; 0 where there is none. [byte]"""
        return size_if_any(self.place(digest))

    def find(self, sha256: str) -> bytes | None:
        """Find an image by its SHA-256: among the reads, and what was agreed, derived or written in any version."""
        digest = self.images.get(sha256)
        return None if digest is None else self.file(digest)

    def conclude(
        self, path: str, what: str, outcome: ReproofOutcome, why: str | None = None, *, expected: object = None,
        found: object = None,
    ) -> Conclusion:  # fmt: skip
        """Say what came of deriving something again."""
        return Conclusion(
            carrier=self.id, path=path, what=what, outcome=outcome, why=why, expected=_short(expected),
            found=_short(found),
        )  # fmt: skip

    def held(
        self, path: str, what: str, expected: object, found: object, why: str,
        otherwise: ReproofOutcome = "contradicted",
    ) -> Conclusion:  # fmt: skip
        """Hold what stands in a record against what should stand there."""
        if expected == found:
            return self.conclude(path, what, "proved")
        return self.conclude(path, what, otherwise, why, expected=expected, found=found)


class AtVersion:
    """The record files of one version, as `assembled` takes them."""

    def __init__(self, history: History, number: int) -> None:
        self.history = history
        self.number = number
        self.state = history.state(number)

    def data(self, path: str) -> bytes:
        """Give a file's bytes, checked against its digest."""
        return self.history.file(self.state[path])

    def one(self, cls: type[T], path: str) -> T:
        """Read a file that holds one record."""
        found = self.several(cls, path)
        if not found:
            raise damaged(self.history.id, Phrase("archive-damaged/names-missing", path=path))
        return found[0]

    def several(self, cls: type[T], path: str) -> tuple[T, ...]:
        """Read a file that holds a list of records; none where there is no such file."""
        return self.history.parsed(cls, self.state[path], path) if path in self.state else ()

    def own(self) -> Carrier | Machine | None:
        """Read what is said of the carrier or machine itself."""
        if places.CARRIER in self.state:
            return self.one(Carrier, places.CARRIER)
        return self.one(Machine, places.MACHINE) if places.MACHINE in self.state else None

    def read(self, read_id: str) -> Read | None:
        """Read the record of a read; None where there is none."""
        path = places.read_record(read_id)
        return self.one(Read, path) if path in self.state else None


def _short(value: object) -> str | None:
    return None if value is None else str(value)[:200]
