"""A carrier or machine as one archive holds it, and how two archives' copies of it stand to each other."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal, TypeVar

from imagekeeper.archive.ocfl.inventory import INVENTORY, Inventory
from imagekeeper.archive.ocfl.reading import Source, file_blocks, file_bytes
from imagekeeper.archive.ocfl.troubles import damaged
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.jsonable import one_line, to_json
from imagekeeper.provenance import places
from imagekeeper.provenance.derivations import Derivation
from imagekeeper.provenance.events import last_digest
from imagekeeper.provenance.fields import from_json, list_from_json, read_json
from imagekeeper.provenance.machines import Machine
from imagekeeper.provenance.reads import Read
from imagekeeper.provenance.records import Carrier
from imagekeeper.sentences.say import Phrase

T = TypeVar("T")

#: So many digits of a chain's last digest tell it from any other.
KEY_DIGITS = 16


@dataclass(frozen=True)
class NamesHere:
    """What things of the other archive are called here, where that differs.

    Attributes:
        ids: New ids of carriers and machines, by those there.
        things: New ids of reads and derived images, by those there, by the id of the carrier there.
    """

    ids: dict[str, str] = field(default_factory=dict)
    things: dict[str, dict[str, str]] = field(default_factory=dict)

    def thing(self, carrier: str, what: str) -> str:
        """Name a read or derived image as it is called here; `agreed` stays what it is."""
        return self.things.get(carrier, {}).get(what, what)

    def derivation(self, made: Derivation) -> Derivation:
        """Name the sources of a derived image as they are called here."""
        return replace(made, sources=tuple(
            replace(
                one, carrier=self.ids.get(one.carrier, one.carrier), what=self.thing(one.carrier, one.what)
            )
            for one in made.sources
        ))  # fmt: skip

    def machine(self, name: str | None) -> str | None:
        """Name a machine that is named by its id as it is called here."""
        known = {there.casefold(): here for there, here in self.ids.items()}
        return None if name is None else known.get(name.strip().casefold(), name)


class Side:
    """One archive's copy of a carrier or machine."""

    def __init__(self, archive: ArchiveStore, inventory: Inventory) -> None:
        self.archive = archive
        self.inventory = inventory
        self.folder = archive.object_path(inventory.id)
        self.is_machine = places.MACHINE in inventory.state
        self.place = places.MACHINE if self.is_machine else places.CARRIER

    @property
    def state(self) -> dict[str, str]:
        """The newest version's paths with their digests."""
        return dict(self.inventory.state)

    def chain_end(self) -> str | None:
        """Give the digest of the last event."""
        return last_digest(self.data(places.EVENTS)) if places.EVENTS in self.state else None

    def data(self, path: str) -> bytes:
        """Read a file, checked."""
        return self.archive.read_file(self.inventory.id, path, self.inventory)

    def at(self, path: str, version: int) -> bytes | None:
        """Read a file as a version had it, checked; None where it had none."""
        digest = self.inventory.versions[version - 1].state.get(path)
        if digest is None:
            return None
        place = self.folder / self.inventory.by_digest()[digest]
        return b"".join(verified(place, digest))

    def stored(self, path: str) -> Iterator[bytes]:
        """Give a file in pieces, checked while it is read."""
        digest = self.state.get(path)
        if digest is None:
            raise damaged(self.inventory.id, Phrase("archive-damaged/names-missing", path=path))
        return verified(self.folder / self.inventory.by_digest()[digest], digest)

    def own(self) -> Carrier | Machine:
        """Read what is said of the carrier or machine itself."""
        cls: type[Carrier] | type[Machine] = Machine if self.is_machine else Carrier
        return from_json(cls, read_json(self.data(self.place), self.place), self.place)

    def one(self, cls: type[T], path: str) -> T | None:
        """Read a record; None where there is none."""
        return from_json(cls, read_json(self.data(path), path), path) if path in self.state else None

    def several(self, cls: type[T], path: str) -> list[T]:
        """Read a list of records."""
        if path not in self.state:
            return []
        return list(list_from_json(cls, read_json(self.data(path), path), path))

    def reads(self) -> list[Read]:
        """Read the records of all reads."""
        found = (self.one(Read, places.read_record(name)) for name in places.read_ids(list(self.state)))
        return [read for read in found if read is not None]


def verified(path: Path, sha512: str) -> Iterator[bytes]:
    """Give a file in pieces, and see at its end that it was what its inventory says.

    Raises:
        ArchiveError: `archive-damaged`.
    """
    digest = hashlib.sha512()
    for block in file_blocks(path):
        digest.update(block)
        yield block
    if digest.hexdigest() != sha512:
        raise damaged(one_line(path.name), Phrase("archive-damaged/digest"))


Standing = Literal["same", "older", "newer", "both"]


def standing(ours: Side, theirs: Side) -> Standing:
    """Tell how two histories of a carrier stand to each other: theirs is the same, older or newer, or both moved on."""
    a, b = ours.inventory.versions, theirs.inventory.versions
    if a[: len(b)] == b:
        return "same" if len(a) == len(b) else "older"
    if b[: len(a)] == a:
        return "newer"
    return "older" if merged_key(theirs) in merged_keys(ours) else "both"


def merged_key(side: Side) -> str:
    """Name a state of a carrier by the end of its chain of events."""
    return (side.chain_end() or "without-events")[:KEY_DIGITS]


def merged_keys(side: Side) -> set[str]:
    """Name the states of other archives' copies that were merged into this one."""
    return {path.split("/")[1] for path in side.state if path.startswith(places.MERGED)}


def thing_names(ours: Side, theirs: Side) -> dict[str, str]:
    """Give what their reads and derived images are called here, all of them; new ones get the next numbers."""
    reads = _matched(ours.reads(), theirs.reads(), (kept_key, read_key), "r")
    return reads | _matched(
        ours.several(Derivation, places.DERIVATIONS), theirs.several(Derivation, places.DERIVATIONS),
        (derivation_key,), "d",
    )  # fmt: skip


def _matched(
    ours: Sequence[Any], theirs: Sequence[Any], keys: Sequence[Callable[[Any], str]], letter: str
) -> dict[str, str]:
    names: dict[str, str] = {}
    taken = {one.id for one in ours}
    for key in keys:
        matched = set(names.values())
        here: dict[str, list[str]] = {}
        for one in ours:
            if one.id not in matched:
                here.setdefault(key(one), []).append(one.id)
        for one in theirs:
            same = here.get(key(one), [])
            if same and one.id not in names:
                names[one.id] = same.pop(same.index(one.id) if one.id in same else 0)
    for one in theirs:
        if one.id not in names:
            names[one.id] = next_id(letter, taken)
            taken.add(names[one.id])
    return names


def next_id(letter: str, taken: set[str]) -> str:
    """Give the next number.

    Example:
        >>> next_id("r", {"r1", "r3"})
        'r4'
    """
    numbers = [int(one[1:]) for one in taken if one[:1] == letter and one[1:].isdecimal()]
    return f"{letter}{max(numbers, default=0) + 1}"


def kept_key(read: Read) -> str:
    """What makes a read the very one that both know, whatever was corrected of it since: its file, and its adding."""
    return json.dumps([read.file, read.modified, read.sha256, read.image.sha256, read.added])


def read_key(read: Read) -> str:
    """What makes a read the same: the file, how it was understood, and the conditions; not when it was added."""
    plain = replace(read, id="", original="", image_path="", software="", added="")
    return json.dumps(to_json(plain), sort_keys=True)


def derivation_key(made: Derivation) -> str:
    """What makes a derived image the same; its sources may be called otherwise in each archive."""
    return json.dumps(to_json(replace(made, id="", path=None, sources=())), sort_keys=True)


def copy_of(theirs: Side) -> dict[str, Source | None]:
    """Give the whole copy of the other archive, to be kept under `merged/`; equal bytes are stored once."""
    top = f"{places.MERGED}{merged_key(theirs)}/"
    files: dict[str, Source | None] = {top + INVENTORY: file_bytes(theirs.folder / INVENTORY)}
    for path, digest in theirs.inventory.manifest.items():
        if f"/content/{places.MERGED}" not in path:   # what they merged is taken over beside
            files[top + path] = verified(theirs.folder / path, digest)
    return files


def merged_version(side: Side, other: Side) -> int:
    """Give the newest version of a copy that the other archive has merged into its own; 0 for none."""
    keys = merged_keys(other)
    for number in range(side.inventory.head, 0, -1) if keys else ():
        data = side.at(places.EVENTS, number)
        if data is not None and (last_digest(data) or "")[:KEY_DIGITS] in keys:
            return number
    return 0
