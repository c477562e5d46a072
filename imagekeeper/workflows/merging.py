"""One carrier, kept in two archives that both moved on: what becomes of it.

Nothing of either side is lost. Reads, remarks, pictures, replacements and derived images of both are kept, equal ones
once; an id that both sides gave to different things changes for theirs. A text that one side corrected is taken over;
where both corrected it, the later correction stands, and the event names the other. An agreed image stands where the
two sides agree on it or only one has settled it anew; otherwise what the reads of both say of it stands. The whole
copy of the other archive, with its own chain of events, is kept beside, under `merged/`.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal, TypeVar

from imagekeeper.archive.inventory import INVENTORY, Inventory
from imagekeeper.archive.reading import Source, file_blocks, file_bytes
from imagekeeper.archive.store import Archive
from imagekeeper.archive.troubles import damaged
from imagekeeper.jsonable import one_line, to_json
from imagekeeper.provenance import places
from imagekeeper.provenance.events import event_digest, last_digest, parse_events
from imagekeeper.provenance.fields import from_json, read_json, write_json
from imagekeeper.provenance.grades import grade
from imagekeeper.provenance.records import (
    Agreed,
    Carrier,
    Derivation,
    Machine,
    Note,
    Photo,
    Read,
    Replacement,
)
from imagekeeper.units import plural
from imagekeeper.workflows.describing import CARRIER_TEXTS, MACHINE_TEXTS

T = TypeVar("T")

#: So many digits of a chain's last digest tell it from any other.
KEY_DIGITS = 16


@dataclass(frozen=True)
class Names:
    """What things of the other archive are called here, where that differs.

    Attributes:
        ids: New ids of carriers and machines, by those there.
        reads: New ids of reads, by those there, by the id of the carrier there.
    """

    ids: dict[str, str] = field(default_factory=dict)
    reads: dict[str, dict[str, str]] = field(default_factory=dict)

    def derivation(self, made: Derivation) -> Derivation:
        """Name the sources of a derived image as they are called here."""
        return replace(made, sources=tuple(
            replace(
                one, carrier=self.ids.get(one.carrier, one.carrier),
                what=self.reads.get(one.carrier, {}).get(one.what, one.what),
            )
            for one in made.sources
        ))  # fmt: skip

    def machine(self, name: str | None) -> str | None:
        """Name a machine that is named by its id as it is called here."""
        known = {there.casefold(): here for there, here in self.ids.items()}
        return None if name is None else known.get(name.strip().casefold(), name)


class Side:
    """One archive's copy of a carrier or machine."""

    def __init__(self, archive: Archive, inventory: Inventory) -> None:
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
        digest = self.state[path]
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
        items = read_json(self.data(path), path)
        return [from_json(cls, item, path) for item in (items if isinstance(items, list) else [items])]

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
        raise damaged(one_line(path.name), "its SHA-512 is not the one in the inventory")


Standing = Literal["same", "older", "newer", "both"]


def standing(ours: Side, theirs: Side) -> Standing:
    """Tell how two histories of a carrier stand to each other: theirs is the same, older or newer, or both moved on."""
    a, b = ours.inventory.versions, theirs.inventory.versions
    if a[: len(b)] == b:
        return "same" if len(a) == len(b) else "older"
    if b[: len(a)] == a:
        return "newer"
    return "older" if merged_key(theirs) in _keys(ours) else "both"


def merged_key(side: Side) -> str:
    """Name a state of a carrier by the end of its chain of events."""
    return (side.chain_end() or "without-events")[:KEY_DIGITS]


def _keys(side: Side) -> set[str]:
    return {path.split("/")[1] for path in side.state if path.startswith(places.MERGED)}


def _read_key(read: Read) -> str:
    """What makes a read the same: the file, how it was understood, and the conditions; not when it was added."""
    plain = replace(read, id="", original="", image_path="", software="", added="")
    return json.dumps(to_json(plain), sort_keys=True)


def read_names(ours: Side, theirs: Side) -> tuple[dict[str, str], list[Read]]:
    """Find which reads are new, and what theirs are called here.

    Returns:
        The ids here by those there, all of them; and their reads that are not here, under their ids there.
    """
    here: dict[str, list[str]] = {}
    for read in ours.reads():
        here.setdefault(_read_key(read), []).append(read.id)
    taken = {one for ids in here.values() for one in ids}
    names: dict[str, str] = {}
    new: list[Read] = []
    for read in theirs.reads():
        same = here.get(_read_key(read), [])
        if same:
            names[read.id] = same.pop(same.index(read.id) if read.id in same else 0)
            continue
        new.append(read)
    for read in new:
        names[read.id] = read.id if read.id not in taken else _next("r", taken | {one.id for one in new})
        taken.add(names[read.id])
    return names, new


def _next(letter: str, taken: set[str]) -> str:
    numbers = [int(one[1:]) for one in taken if one[:1] == letter and one[1:].isdecimal()]
    return f"{letter}{max(numbers, default=0) + 1}"


@dataclass
class Merge:
    """What is to be written to bring a carrier of two archives together.

    Attributes:
        changes: The files, but for the events and the copy of the other archive; none where nothing is new.
        said: What that is, in words.
        reads: How many reads are new here.
        disputed: Whether the two sides had settled the image differently.
        settle: Whether the agreed image is to be graded anew with the reads of both.
    """

    changes: dict[str, Source | None] = field(default_factory=dict)
    said: list[str] = field(default_factory=list)
    reads: int = 0
    disputed: bool = False
    settle: bool = False


def merge(ours: Side, theirs: Side, names: Names) -> Merge:
    """Work out what is new in the other archive's copy; nothing is written.

    Args:
        ours: The copy here.
        theirs: The copy there, of which both moved on (`standing`).
        names: What things there are called here; the reads of this carrier must be among them.
    """
    return _Merging(ours, theirs, names).work()


class _Merging:
    def __init__(self, ours: Side, theirs: Side, names: Names) -> None:
        self.ours = ours
        self.theirs = theirs
        self.names = names
        self.result = Merge()
        common = 0
        for a, b in zip(ours.inventory.versions, theirs.inventory.versions, strict=False):
            if a != b:
                break
            common += 1
        self.start = max(common, 1)   # the last version that both have, whose values both know

    def work(self) -> Merge:
        self.texts()
        reads = self.reads()
        self.listed(Note, places.NOTES, "remark")
        self.photos()
        self.listed(Replacement, places.REPLACEMENTS, "replacement", "w")
        self.derivations()
        if not self.ours.is_machine:
            self.agreed(reads)
        self.others()
        return self.result

    def change(self, path: str, source: Source | None) -> None:
        self.result.changes[path] = source

    def say(self, text: str) -> None:
        self.result.said.append(text)

    # --- what is said of it ---

    def texts(self) -> None:
        """Take over what they corrected."""
        own, other = self.ours.own(), self.theirs.own()
        corrected: dict[str, Any] = {}
        for name in MACHINE_TEXTS if self.ours.is_machine else CARRIER_TEXTS:
            a, b = getattr(own, name), getattr(other, name)
            if name == "machine":
                b = self.names.machine(b)
            if a == b:
                continue
            first, second = self.history(self.ours, name), self.history(self.theirs, name)
            winner = _later(first, second)
            if winner == "theirs":
                corrected[name] = b
            both = "" if _known(first, second) else " (both archives had changed it)"
            kept, left = (a, b) if winner == "ours" else (b, a)
            if winner == "theirs" or both:
                self.say(f"{name.replace('_', ' ')} is {_shown(kept)}, not {_shown(left)}{both}")
        if corrected:
            self.change(self.ours.place, write_json(replace(own, **corrected)))

    def history(self, side: Side, name: str) -> list[tuple[str, Any]]:
        """Give the values that a text had since the last common version, each with the time of the change."""
        found: list[tuple[str, Any]] = []
        for number in range(self.start, side.inventory.head + 1):
            data = side.at(side.place, number)
            raw = None if data is None else read_json(data, side.place)
            value = raw.get(name) if isinstance(raw, dict) else None
            if name == "machine" and side is self.theirs:
                value = self.names.machine(value)
            if not found or found[-1][1] != value:
                found.append((side.inventory.versions[number - 1].created, value))
        return found

    # --- reads ---

    def reads(self) -> list[Read]:
        names, new = read_names(self.ours, self.theirs)
        read = self.ours.reads()
        for one in new:
            here = names[one.id]
            old, place = f"reads/{one.id}/", f"reads/{here}/"
            renamed = replace(
                one, id=here, original=one.original.replace(old, place, 1),
                image_path=one.image_path.replace(old, place, 1),
            )  # fmt: skip
            for path in self.theirs.state:
                if path.startswith(old):
                    self.change(path.replace(old, place, 1), self.theirs.stored(path))
            self.change(places.read_record(here), write_json(renamed))
            read.append(renamed)
        if new:
            told = ", ".join(
                names[one.id] if names[one.id] == one.id else f"{names[one.id]} (there {one.id})" for one in new[:40]
            )
            self.say(f"{plural(len(new), 'read')}: {told}{', ...' if len(new) > 40 else ''}")
        self.result.reads = len(new)
        return sorted(read, key=lambda one: int(one.id[1:]) if one.id[1:].isdecimal() else 0)

    # --- lists ---

    def listed(self, cls: type[Any], path: str, what: str, letter: str = "") -> None:
        """Bring two lists together; what both have is there once."""
        own, other = self.ours.several(cls, path), self.theirs.several(cls, path)
        new = _surplus(own, other, _list_key)
        if not new:
            return
        taken = {one.id for one in own} if letter else set()
        for at, one in enumerate(new):
            if letter and one.id in taken:
                new[at] = replace(one, id=_next(letter, taken | {item.id for item in new}))
            if letter:
                taken.add(new[at].id)
        self.say(plural(len(new), what))
        self.change(path, write_json(_ordered([*own, *new])))

    def photos(self) -> None:
        own, other = self.ours.several(Photo, places.PHOTOS), self.theirs.several(Photo, places.PHOTOS)
        new = _surplus(own, other, lambda one: one.sha256)
        taken = {one.path for one in own} | set(self.ours.state)
        number = len(own)
        for at, one in enumerate(new):
            place = one.path
            while place in taken:
                number += 1
                place = places.photo(number, one.file)
            taken.add(place)
            self.change(place, self.theirs.stored(one.path))
            new[at] = replace(one, path=place)
        if new:
            self.say(plural(len(new), "picture"))
            self.change(places.PHOTOS, write_json(_ordered([*own, *new])))

    def derivations(self) -> None:
        own = self.ours.several(Derivation, places.DERIVATIONS)
        other = [self.names.derivation(one) for one in self.theirs.several(Derivation, places.DERIVATIONS)]
        new = _surplus(own, other, _list_key)
        taken = {one.id for one in own}
        for at, one in enumerate(new):
            here = one.id if one.id not in taken else _next("d", taken | {item.id for item in new})
            taken.add(here)
            place = None if one.path is None else places.derived(here)
            if place is not None and one.path is not None:
                self.change(place, self.theirs.stored(one.path))
            new[at] = replace(one, id=here, path=place)
        if new:
            self.say(plural(len(new), "derived image"))
            self.change(places.DERIVATIONS, write_json(_ordered([*own, *new])))

    # --- the agreed image ---

    def agreed(self, reads: Sequence[Read]) -> None:
        own, other = self.ours.one(Agreed, places.AGREED), self.theirs.one(Agreed, places.AGREED)
        first, second = self.settlements(self.ours), self.settlements(self.theirs)
        if first[-1][1] == second[-1][1]:
            if own is None or other is None:
                return
            known = {(one.algorithm, one.digest) for one in own.references}
            added = [one for one in other.references if (one.algorithm, one.digest) not in known]
            if own.sha256 is not None and (added or self.result.reads):
                self.result.settle = _plain(reads) == own.sha256
            if own.sha256 is None and self.result.reads:
                self.unsettle(grade(reads), "the reads of both differ")
            elif added and own.sha256 is not None:
                self.change(places.AGREED, write_json(replace(own, references=(*own.references, *added))))
                self.say(plural(len(added), "reference digest"))
            return
        if not _known(first, second):   # both settled it, differently
            self.unsettle(grade(reads), "the two archives had settled it differently")
            self.result.disputed = True
        elif _later(first, second) == "theirs":
            self.take(other)
            self.result.settle = other is not None and other.sha256 is not None and _plain(reads) == other.sha256
        elif self.result.reads and own is not None and own.sha256 is not None:
            self.result.settle = _plain(reads) == own.sha256

    def settlements(self, side: Side) -> list[tuple[str, Any]]:
        """Give which image was agreed since the last common version, each with the time."""
        found: list[tuple[str, Any]] = []
        for number in range(self.start, side.inventory.head + 1):
            data = side.at(places.AGREED, number)
            value = None
            if data is not None:
                record = from_json(Agreed, read_json(data, places.AGREED), places.AGREED)
                value = record.sha256 or record.grade
            if not found or found[-1][1] != value:
                found.append((side.inventory.versions[number - 1].created, value))
        return found

    def unsettle(self, agreed: Agreed, why: str) -> None:
        """Record what the reads of both sides say, where no image can stand."""
        if agreed.sha256 is not None:   # all reads agree after all: `settle` will record the image
            agreed = Agreed(
                None, "disputed", f"When two archives were merged, {why}.", "settle it again: carrier agree", (), None
            )
            self.result.settle = True
        if self.ours.one(Agreed, places.AGREED) == agreed:
            return
        self.say(f"the agreed image is open: {why}")
        self.change(places.AGREED, write_json(agreed))
        if places.AGREED_IMAGE in self.ours.state:
            self.change(places.AGREED_IMAGE, None)

    def take(self, other: Agreed | None) -> None:
        """Take over what they settled, with the reads as they are called here."""
        if other is None:
            self.change(places.AGREED, None)
        else:
            names, _ = read_names(self.ours, self.theirs)
            ids = tuple(names.get(one, one) for one in other.reads)
            self.change(places.AGREED, write_json(replace(other, reads=ids)))
        if other is not None and other.image is not None:
            self.change(places.AGREED_IMAGE, self.theirs.stored(other.image))
        elif places.AGREED_IMAGE in self.ours.state:
            self.change(places.AGREED_IMAGE, None)
        shown = "none" if other is None else other.sha256 or other.grade
        self.say(f"the agreed image is theirs: {shown}")

    # --- what else there is ---

    def others(self) -> None:
        """Take over files that this version of the program knows nothing of, and what they had merged themselves."""
        known = {
            places.CARRIER, places.MACHINE, places.EVENTS, places.AGREED, places.AGREED_IMAGE, places.NOTES,
            places.PHOTOS, places.REPLACEMENTS, places.DERIVATIONS,
        }  # fmt: skip
        held = parse_events(self.ours.data(places.EVENTS)) if places.EVENTS in self.ours.state else ()
        passed = {event_digest(event)[:KEY_DIGITS] for event in held}
        for path in self.theirs.state:
            if path in known or path.startswith(("reads/", "photos/", "derived/")) or path in self.ours.state:
                continue
            if path.startswith(places.MERGED) and path.split("/")[1] in passed:
                continue   # they had merged what was here once
            if path.startswith(places.MERGED) and not self.result.changes:
                continue   # with nothing else to tell, there is no need to tell again what was told
            self.change(path, self.theirs.stored(path))
            if not path.startswith(places.MERGED):
                self.say(f"the file {path}")


def copy_of(theirs: Side) -> dict[str, Source | None]:
    """Give the whole copy of the other archive, to be kept under `merged/`; equal bytes are stored once."""
    top = f"{places.MERGED}{merged_key(theirs)}/"
    files: dict[str, Source | None] = {top + INVENTORY: file_bytes(theirs.folder / INVENTORY)}
    for path, digest in theirs.inventory.manifest.items():
        if f"/content/{places.MERGED}" not in path:   # what they merged is taken over beside
            files[top + path] = verified(theirs.folder / path, digest)
    return files


def _plain(reads: Sequence[Read]) -> str | None:
    """Give the image that all reads agree on, or None."""
    return grade(reads).sha256


def _later(ours: Sequence[tuple[str, Any]], theirs: Sequence[tuple[str, Any]]) -> Literal["ours", "theirs"]:
    """Tell which of two values stands: one that the other side knew and replaced gives way, else the later stays."""
    a_known, b_known = _was(theirs, ours[-1][1]), _was(ours, theirs[-1][1])
    if a_known != b_known:
        return "theirs" if a_known else "ours"
    a, b = ((one[-1][0], json.dumps(one[-1][1])) for one in (ours, theirs))
    return "ours" if a > b else "theirs"


def _known(ours: Sequence[tuple[str, Any]], theirs: Sequence[tuple[str, Any]]) -> bool:
    """Whether one side knew the other's value and replaced it."""
    return _was(theirs, ours[-1][1]) or _was(ours, theirs[-1][1])


def _was(history: Sequence[tuple[str, Any]], value: Any) -> bool:
    return any(known == value for _, known in history[:-1])


def _list_key(one: Any) -> str:
    members = to_json(one)
    return json.dumps({k: v for k, v in members.items() if k not in ("id", "path")}, sort_keys=True)


def _surplus(own: Sequence[Any], other: Sequence[Any], key: Callable[[Any], str]) -> list[Any]:
    """Give what the other list has more of, each as often as it has it more."""
    have: dict[str, int] = {}
    for one in own:
        have[key(one)] = have.get(key(one), 0) + 1
    new = []
    for one in other:
        left = have.get(key(one), 0)
        have[key(one)] = left - 1
        if left <= 0:
            new.append(one)
    return new


def _ordered(items: Sequence[Any]) -> list[Any]:
    """Put a list in the order in which its items were added."""
    return sorted(items, key=lambda one: one.added)


def _shown(text: Any) -> str:
    return "nothing" if text is None else repr(one_line(str(text))[:80])
