"""One carrier, kept in two archives that both moved on: what becomes of it.

Nothing of either side is lost. Reads, remarks, pictures, replacements and derived images of both are kept, equal ones
once; an id that both sides gave to different things changes for theirs. A text that one side corrected is taken over;
where both corrected it, the later correction stands, and the event names the other. An agreed image stands where the
two sides agree on it or only one has settled it anew; otherwise what the reads of both say of it stands. The whole
copy of the other archive, with its own chain of events, is kept beside, under `merged/`.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from imagekeeper.archive.carriers import assembled
from imagekeeper.archive.ocfl.reading import Source
from imagekeeper.evidence.replacements import regraded
from imagekeeper.evidence.settling import settled_as
from imagekeeper.evidence.standing import standing
from imagekeeper.jobs.archive.sides import KEY_DIGITS, NamesHere, Side, merged_key, merged_version, next_id
from imagekeeper.jobs.carriers.describing import CARRIER_TEXTS, MACHINE_TEXTS
from imagekeeper.jsonable import one_line, to_json
from imagekeeper.provenance import places
from imagekeeper.provenance.agreed import Agreed
from imagekeeper.provenance.derivations import Derivation
from imagekeeper.provenance.events import event_digest, parse_events
from imagekeeper.provenance.fields import from_json, read_json, write_json
from imagekeeper.provenance.reads import Read
from imagekeeper.provenance.records import Carrier
from imagekeeper.provenance.remarks import Note, Photo
from imagekeeper.provenance.replacements import ReadBack, Replacement
from imagekeeper.provenance.testimony import Deaccession, Examination, MachineTrial, StatedReason, Withdrawal
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import plural


@dataclass(frozen=True)
class Value:
    """What a record said from some version on.

    Attributes:
        version: The version.
        time: When that was made, RFC 3339.
        value: What it said.
    """

    version: int
    time: str
    value: Any


@dataclass(kw_only=True)
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


def merge(ours: Side, theirs: Side, names: NamesHere) -> Merge:
    """Work out what is new in the other archive's copy; nothing is written.

    Args:
        ours: The copy here.
        theirs: The copy there, of which both moved on (`standing`).
        names: What things there are called here; the reads of this carrier must be among them.
    """
    return _Merging(ours, theirs, names).work()


class _Merging:
    def __init__(self, ours: Side, theirs: Side, names: NamesHere) -> None:
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
        self.told_them = merged_version(ours, theirs)
        self.told_us = merged_version(theirs, ours)

    def work(self) -> Merge:
        self.texts()
        reads = self.reads()
        self.notes()
        self.photos()
        self.derivations()
        self.replacements()
        self.testimony()
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
            winner, open_question = self.later(self.history(self.ours, name), self.history(self.theirs, name))
            if winner == "theirs":
                corrected[name] = b
            both = " (both archives had changed it)" if open_question else ""
            kept, left = (a, b) if winner == "ours" else (b, a)
            if winner == "theirs" or both:
                self.say(f"{name.replace('_', ' ')} is {_shown(kept)}, not {_shown(left)}{both}")
        if corrected:
            self.change(self.ours.place, write_json(replace(own, **corrected)))

    def later(self, ours: Sequence[Value], theirs: Sequence[Value]) -> tuple[Literal["ours", "theirs"], bool]:
        """Tell which of two values stands, and whether that is an open question.

        One that the other side knew and replaced gives way. Where neither knew the other's, or both did, the later one
        stands.
        """
        a, b = ours[-1], theirs[-1]
        a_known = a.version <= self.told_them or any(one.value == a.value for one in theirs[:-1])
        b_known = b.version <= self.told_us or any(one.value == b.value for one in ours[:-1])
        if a_known != b_known:
            return ("theirs" if a_known else "ours"), False
        newer = (a.time, json.dumps(a.value)) > (b.time, json.dumps(b.value))
        return ("ours" if newer else "theirs"), not a_known

    def history(self, side: Side, name: str) -> list[Value]:
        """Give the values that a text had since the last common version, each with the time of the change."""
        found: list[Value] = []
        for number in range(self.start, side.inventory.head + 1):
            data = side.at(side.place, number)
            raw = None if data is None else read_json(data, side.place)
            value = raw.get(name) if isinstance(raw, dict) else None
            if name == "machine" and side is self.theirs:
                value = self.names.machine(value)
            if not found or found[-1].value != value:
                found.append(Value(number, side.inventory.versions[number - 1].created, value))
        return found

    # --- reads ---

    def here(self, what: str) -> str:
        """Name one of their reads or derived images as it is called here."""
        return self.names.thing(self.theirs.inventory.id, what)

    def reads(self) -> list[Read]:
        read = self.ours.reads()
        held = {one.id for one in read}
        new = [one for one in self.theirs.reads() if self.here(one.id) not in held]
        for one in new:
            here = self.here(one.id)
            old, place = f"reads/{one.id}/", f"reads/{here}/"
            renamed = replace(
                one, id=here, original=one.original.replace(old, place, 1),
                image_path=one.image_path.replace(old, place, 1),
            )  # fmt: skip
            self.copy_below(old, place)
            self.change(places.read_record(here), write_json(renamed))
            read.append(renamed)
        if new:
            self.say(f"{plural(len(new), 'read')}: {self.renamed(new)}")
        self.result.reads = len(new)
        return read

    def renamed(self, new: Sequence[Any]) -> str:
        told = [
            here if here == one.id else f"{here} (there {one.id})" for one in new[:40] for here in [self.here(one.id)]
        ]
        return ", ".join([*told, *(["..."] if len(new) > 40 else [])])

    def copy_below(self, old: str, place: str) -> None:
        for path in self.theirs.state:
            if path.startswith(old):
                self.change(place + path.removeprefix(old), self.theirs.stored(path))

    # --- lists ---

    def notes(self) -> None:
        own, other = self.ours.several(Note, places.NOTES), self.theirs.several(Note, places.NOTES)
        new = _surplus(own, other, _key)
        if new:
            self.say(plural(len(new), "remark"))
            self.change(places.NOTES, write_json(_ordered([*own, *new])))

    def photos(self) -> None:
        own, other = self.ours.several(Photo, places.PHOTOS), self.theirs.several(Photo, places.PHOTOS)
        new = _surplus(own, other, lambda one: json.dumps([one.sha256, one.caption]))
        taken = set(self.ours.state)
        number = len(own)
        for at, one in enumerate(new):
            place = places.photo(number + 1, one.file)
            while place in taken:
                number += 1
                place = places.photo(number + 1, one.file)
            taken.add(place)
            number += 1
            self.change(place, self.theirs.stored(one.path))
            new[at] = replace(one, path=place)
        if new:
            self.say(plural(len(new), "picture"))
            self.change(places.PHOTOS, write_json(_ordered([*own, *new])))

    def derivations(self) -> None:
        own = self.ours.several(Derivation, places.DERIVATIONS)
        held = {one.id for one in own}
        other = self.theirs.several(Derivation, places.DERIVATIONS)
        new = [one for one in other if self.here(one.id) not in held]
        for one in new:
            here = self.here(one.id)
            place = None if one.path is None else places.derived(here)
            if place is not None and one.path is not None:
                self.change(place, self.theirs.stored(one.path))
            own.append(replace(self.names.derivation(one), id=here, path=place))
        if new:
            self.say(f"{plural(len(new), 'derived image')}: {self.renamed(new)}")
            self.change(places.DERIVATIONS, write_json(own))

    def replacements(self) -> None:
        """Keep the replacements of both, and what was read back from one of them in either archive."""
        own = self.ours.several(Replacement, places.REPLACEMENTS)
        held = {_replacement_key(one): at for at, one in enumerate(own)}
        taken = {one.id for one in own}
        new = backs = 0
        for one in self.theirs.several(Replacement, places.REPLACEMENTS):
            at = held.get(_replacement_key(one))
            if at is None:
                own.append(self.replacement(one, next_id("w", taken)))
                taken.add(own[-1].id)
                new += 1
                continue
            surplus = _surplus(own[at].read_backs, one.read_backs, _key)
            if surplus:
                own[at] = self.read_backs(own[at], surplus)
                backs += len(surplus)
        if new:
            self.say(plural(new, "replacement"))
        if backs:
            self.say(plural(backs, "read-back"))
        if new or backs:
            self.change(places.REPLACEMENTS, write_json(own))

    def replacement(self, one: Replacement, here: str) -> Replacement:
        old, place = f"replacements/{one.id}/", f"replacements/{here}/"
        self.copy_below(old, place)
        return replace(
            one, id=here, image=self.here(one.image),
            written=None if one.written is None else one.written.replace(old, place, 1),
            read_backs=tuple(replace(back, path=back.path.replace(old, place, 1)) for back in one.read_backs),
        )  # fmt: skip

    def read_backs(self, one: Replacement, surplus: Sequence[ReadBack]) -> Replacement:
        backs = list(one.read_backs)
        for back in surplus:
            place = places.read_back(one.id, len(backs) + 1)
            self.change(place, self.theirs.stored(back.path))
            backs.append(replace(back, path=place))
        backs = _ordered(backs)
        made = replace(
            one, read_backs=tuple(backs), read_back_sha256=backs[-1].sha256,
            matches=all(back.matches != "no" for back in backs),
        )  # fmt: skip
        kind = self.ours.own()
        return regraded(made, kind.kind if isinstance(kind, Carrier) else "")

    # --- what speaks for and against it ---

    def testimony(self) -> None:
        """Take over what images showed by themselves, and what people said of it."""
        seen, theirs = (side.several(Examination, places.EXAMINATIONS) for side in (self.ours, self.theirs))
        new = [one for one in theirs if all(one.sha256 != known.sha256 for known in seen)]
        if new:
            self.change(places.EXAMINATIONS, write_json([*seen, *new]))
        said: dict[str, str] = {}   # what people there said, by its ids there: what it is called here
        for cls, place, letter, word in (
            (StatedReason, places.EXPLANATIONS, "e", "explanation"), (MachineTrial, places.TRIALS, "t", "trial"),
            (Deaccession, places.DEACCESSIONS, "x", "deaccession"), (Withdrawal, places.WITHDRAWALS, "", "withdrawal"),
        ):  # fmt: skip
            own: list[Any] = self.ours.several(cls, place)
            theirs_here = [self.as_here(one, said) for one in self.theirs.several(cls, place)]
            surplus = _surplus(own, theirs_here, _testimony_key)
            for one in surplus:
                own.append(replace(one, id=f"{letter}{len(own) + 1}") if letter else one)
            if letter:
                said |= {one.id: _called(one, own) for one in theirs_here}
            if surplus:
                self.say(plural(len(surplus), word))
                self.change(place, write_json(own))

    def as_here(self, one: Any, said: Mapping[str, str]) -> Any:
        """Name what a trial or withdrawal is about as it is called here."""
        if isinstance(one, (StatedReason, Deaccession)):
            return one
        return replace(one, what=said.get(one.what) or self.here(one.what))

    # --- the agreed image ---

    def agreed(self, reads: Sequence[Read]) -> None:
        own, other = self.ours.one(Agreed, places.AGREED), self.theirs.one(Agreed, places.AGREED)
        first, second = self.settlements(self.ours), self.settlements(self.theirs)
        if first[-1].value == second[-1].value:
            if own is None or other is None:
                return
            known = {(one.algorithm, one.digest) for one in own.references}
            added = [one for one in other.references if (one.algorithm, one.digest) not in known]
            self.settle(own, reads, again=bool(added))
            if own.sha256 is None and self.result.reads:
                self.unsettle(self.weighed(reads), "the reads of both differ")
            elif added and own.sha256 is not None:
                self.change(places.AGREED, write_json(replace(own, references=(*own.references, *added))))
                self.say(plural(len(added), "reference digest"))
            return
        winner, open_question = self.later(first, second)
        if open_question:   # both settled it, differently
            self.unsettle(self.weighed(reads), "the two archives had settled it differently")
            self.result.disputed = True
        elif winner == "theirs":
            self.settle(self.take(other), reads)
        elif own is not None:
            self.settle(own, reads)

    def settle(self, agreed: Agreed | None, reads: Sequence[Read], *, again: bool = False) -> None:
        """Have the image graded anew where all reads agree on it and more of them than it rests on."""
        plain = self.weighed(reads)
        if agreed is not None and agreed.sha256 is not None and plain.sha256 == agreed.sha256:
            self.result.settle = again or {*plain.reads} != {*agreed.reads}

    def weighed(self, reads: Sequence[Read]) -> Agreed:
        """Say how the evidence stands with the reads of both."""
        record = assembled(self.ours, self.ours.inventory.id, self.ours.inventory.head)
        return settled_as(standing(replace(record, reads=tuple(reads), agreed=None)))

    def settlements(self, side: Side) -> list[Value]:
        """Give which image was agreed since the last common version, each with the time."""
        found: list[Value] = []
        for number in range(self.start, side.inventory.head + 1):
            data = side.at(places.AGREED, number)
            value = None
            if data is not None:
                record = from_json(Agreed, read_json(data, places.AGREED), places.AGREED)
                value = record.sha256 or record.grade
            if not found or found[-1].value != value:
                found.append(Value(number, side.inventory.versions[number - 1].created, value))
        return found

    def unsettle(self, agreed: Agreed, why: str) -> None:
        """Record what the reads of both sides say, where no image can stand."""
        if agreed.sha256 is not None:   # all reads agree after all: `settle` will record the image
            agreed = Agreed(
                sha256=None, grade="disputed", because=f"When two archives were merged, {why}.",
                raise_by=str(Phrase("step/settle-again")), reads=(), image=None,
            )  # fmt: skip
            self.result.settle = True
        if self.ours.one(Agreed, places.AGREED) == agreed:
            return
        self.say(f"the agreed image is open: {why}")
        self.change(places.AGREED, write_json(agreed))
        if places.AGREED_IMAGE in self.ours.state:
            self.change(places.AGREED_IMAGE, None)

    def take(self, other: Agreed | None) -> Agreed | None:
        """Take over what they settled, with the reads as they are called here."""
        here = None
        if other is None:
            self.change(places.AGREED, None)
        else:
            here = replace(
                other, reads=tuple(map(self.here, other.reads)), voters=tuple(map(self.here, other.voters)),
                image=None if other.image is None else places.AGREED_IMAGE,
            )  # fmt: skip
            self.change(places.AGREED, write_json(here))
        if other is not None and other.image is not None:
            self.change(places.AGREED_IMAGE, self.theirs.stored(other.image))
        elif places.AGREED_IMAGE in self.ours.state:
            self.change(places.AGREED_IMAGE, None)
        shown = "none" if other is None else other.sha256 or other.grade
        self.say(f"the agreed image is theirs: {shown}")
        return here

    # --- what else there is ---

    def others(self) -> None:
        """Take over files that this version of the program knows nothing of, and what they had merged themselves."""
        known = {
            places.CARRIER, places.MACHINE, places.EVENTS, places.AGREED, places.AGREED_IMAGE, places.NOTES,
            places.PHOTOS, places.REPLACEMENTS, places.DERIVATIONS, places.EXAMINATIONS, places.EXPLANATIONS,
            places.TRIALS, places.WITHDRAWALS, places.DEACCESSIONS,
        }  # fmt: skip
        held = parse_events(self.ours.data(places.EVENTS)) if places.EVENTS in self.ours.state else ()
        passed = {event_digest(event)[:KEY_DIGITS] for event in held}
        ours = {*self.ours.state, *self.result.changes}
        key = merged_key(self.theirs)   # under which their whole copy will lie
        anything = bool(self.result.changes)
        for path in self.theirs.state:
            if path in known or path in ours or path.startswith(("reads/", "photos/", "derived/", "replacements/")):
                continue
            if any(one.startswith(f"{path}/") or path.startswith(f"{one}/") for one in ours):
                continue   # a file here is a folder there; it stays in their copy
            if path.startswith(places.MERGED):
                # not what was here once, nor what would lie in the way; and with nothing else to tell, nothing
                if path.split("/")[1] in {*passed, key} or path.count("/") < 2 or not anything:
                    continue
            else:
                self.say(f"the file {one_line(path)[:200]}")
            self.change(path, self.theirs.stored(path))


def _key(one: Any) -> str:
    """What makes a remark or read-back the same: all but where it lies."""
    return json.dumps({k: v for k, v in to_json(one).items() if k != "path"}, sort_keys=True)


def _testimony_key(one: Any) -> str:
    """What makes an explanation, trial or withdrawal the same: all but its id."""
    return json.dumps({k: v for k, v in to_json(one).items() if k != "id"}, sort_keys=True)


def _called(one: Any, own: Sequence[Any]) -> str:
    """Give the id here of what somebody there said."""
    same = [known.id for known in own if _testimony_key(known) == _testimony_key(one)]
    return str(one.id if one.id in same else same[-1])


def _replacement_key(one: Replacement) -> str:
    """What makes a replacement the same: how it was made, not what was read back from it since."""
    return json.dumps([one.part, one.sha256, one.written_sha256, one.operator, one.date, one.note, one.added])


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
