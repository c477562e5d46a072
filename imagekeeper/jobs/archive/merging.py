"""One carrier, kept in two archives that both moved on: what becomes of it.

Nothing of either side is lost. Reads, remarks, pictures, replacements and derived images of both are kept, equal ones
once; an id that both sides gave to different things changes for theirs. A text that one side corrected is taken over;
where both corrected it, the later correction stands, and the event names the other. An agreed image stands where the
two sides agree on it or only one has settled it anew; otherwise what the reads of both say of it stands. The whole
copy of the other archive, with its own chain of events, is kept beside, under `merged/`.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from imagekeeper.archive.carriers import assembled
from imagekeeper.archive.ocfl.reading import Source
from imagekeeper.evidence.examining import merged
from imagekeeper.evidence.replacements import regraded
from imagekeeper.evidence.settling import settled_as
from imagekeeper.evidence.standing import standing
from imagekeeper.jobs.archive.corrected import Corrected, Value, of_read, of_read_back, one_of
from imagekeeper.jobs.archive.sides import KEY_DIGITS, NamesHere, Side, merged_key, next_id
from imagekeeper.jobs.carriers.correcting import READ_TEXTS
from imagekeeper.jobs.carriers.describing import CARRIER_TEXTS, MACHINE_TEXTS
from imagekeeper.jsonable import one_line, to_json
from imagekeeper.provenance import places
from imagekeeper.provenance.agreed import Agreed
from imagekeeper.provenance.derivations import Derivation
from imagekeeper.provenance.events import event_digest, parse_events
from imagekeeper.provenance.fields import read_json, write_json
from imagekeeper.provenance.reads import Read
from imagekeeper.provenance.records import Carrier
from imagekeeper.provenance.remarks import Note, Photo
from imagekeeper.provenance.replacements import ReadBack, Replacement
from imagekeeper.provenance.testimony import Deaccession, Examination, MachineTrial, StatedReason, Withdrawal
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import plural

#: The members of a read-back that may be corrected.
BACK_TEXTS = tuple(name for name in READ_TEXTS if name in ReadBack.__dataclass_fields__)


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
        self.corrected = Corrected(ours, theirs)
        self.called: dict[str, str] = {}   # what their explanations, trials, replacements and files are called here

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
            winner, open_question = self.corrected.later(
                self.history(self.ours, name), self.history(self.theirs, name)
            )
            if winner == "theirs":
                corrected[name] = b
            kept, left = (a, b) if winner == "ours" else (b, a)
            if winner == "theirs" or open_question:
                self.say(one_of(name, kept, left, open_question))
        if corrected:
            self.change(self.ours.place, write_json(replace(own, **corrected)))

    def history(self, side: Side, name: str) -> list[Value]:
        """Give the values that a text of the carrier or machine itself had."""

        def look(raw: Any) -> Any:
            value = raw.get(name) if isinstance(raw, dict) else None
            return self.names.machine(value) if name == "machine" and side is self.theirs else value

        return self.corrected.values(side, side.place, look)

    # --- reads ---

    def here(self, what: str) -> str:
        """Name something of theirs as it is called here: a read, a derived image, what people said, a file."""
        return self.called.get(what) or self.names.thing(self.theirs.inventory.id, what)

    def reads(self) -> list[Read]:
        read = self.ours.reads()
        held = {one.id: at for at, one in enumerate(read)}
        new = []
        for one in self.theirs.reads():
            at = held.get(self.here(one.id))
            if at is None:
                new.append(one)
            else:
                read[at] = self.read(read[at], one)
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

    def read(self, mine: Read, other: Read) -> Read:
        """Take over what they corrected of a read that both have."""
        places_of = (places.read_record(mine.id), places.read_record(other.id))
        taken, said = self.corrected.members(mine, other, places_of, READ_TEXTS, of_read)
        for words in said:
            self.say(f"{mine.id}: {words}")
        if not taken:
            return mine
        after = replace(mine, **taken)
        self.change(places.read_record(mine.id), write_json(after))
        return after

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
        same = {json.dumps([one.sha256, one.caption]): one.path for one in own}
        for one in other:
            if one not in new:
                self.called[one.path] = same[json.dumps([one.sha256, one.caption])]
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
            self.called[one.path] = place
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
        changed = False
        for one in self.theirs.several(Replacement, places.REPLACEMENTS):
            at = held.get(_replacement_key(one))
            if at is None:
                own.append(self.replacement(one, next_id("w", taken)))
                taken.add(own[-1].id)
                self.called[one.id] = own[-1].id
                new += 1
                continue
            self.called[one.id] = own[at].id
            before = own[at]
            own[at] = self.read_backs(before, one.read_backs)
            backs += len(own[at].read_backs) - len(before.read_backs)
            changed = changed or own[at] != before
        if new:
            self.say(plural(new, "replacement"))
        if backs:
            self.say(plural(backs, "read-back"))
        if new or changed:
            self.change(places.REPLACEMENTS, write_json(own))

    def replacement(self, one: Replacement, here: str) -> Replacement:
        old, place = f"replacements/{one.id}/", f"replacements/{here}/"
        self.copy_below(old, place)
        self.called |= {back.path: back.path.replace(old, place, 1) for back in one.read_backs}
        return replace(
            one, id=here, image=self.here(one.image),
            written=None if one.written is None else one.written.replace(old, place, 1),
            read_backs=tuple(replace(back, path=back.path.replace(old, place, 1)) for back in one.read_backs),
        )  # fmt: skip

    def read_backs(self, one: Replacement, theirs: Sequence[ReadBack]) -> Replacement:
        """Bring together what was read back from one replacement, and what was corrected or taken back of that."""
        backs = list(one.read_backs)
        held = {_back_key(back): at for at, back in enumerate(backs)}
        for back in theirs:
            at = held.get(_back_key(back))
            if at is None:
                place = places.read_back(one.id, len(backs) + 1)
                self.change(place, self.theirs.stored(back.path))
                backs.append(replace(back, path=place))
            else:
                place = backs[at].path
                taken, said = self.corrected.members(
                    backs[at], back, (places.REPLACEMENTS, places.REPLACEMENTS), BACK_TEXTS, of_read_back
                )
                for words in said:
                    self.say(f"{one.id}/{at + 1}: {words}")
                backs[at] = replace(backs[at], **taken, taken_back=backs[at].taken_back or back.taken_back)
            self.called[back.path] = place
        if tuple(backs) == one.read_backs:
            return one
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
        known = {one.sha256: one for one in seen}
        new = [one for one in theirs if _says_more(one, known.get(one.sha256))]
        both = sorted(merged(seen, new), key=lambda one: one.sha256)   # the same on both sides, whoever merges first
        if new and both != seen:
            self.change(places.EXAMINATIONS, write_json(both))
        self.said_of_it(StatedReason, places.EXPLANATIONS, "e", "explanation")
        self.said_of_it(MachineTrial, places.TRIALS, "t", "trial")
        self.said_of_it(Deaccession, places.DEACCESSIONS, "x", "deaccession")
        self.said_of_it(Withdrawal, places.WITHDRAWALS, "", "withdrawal")

    def said_of_it(self, cls: Any, place: str, letter: str, word: str) -> None:
        """Take over explanations, trials or withdrawals, equal ones once."""
        own: list[Any] = self.ours.several(cls, place)
        held = {_testimony_key(one): one for one in own}
        new = 0
        for one in self.theirs.several(cls, place):
            here = self.as_here(one)
            known = held.get(_testimony_key(here))
            if known is None:
                known = replace(here, id=f"{letter}{len(own) + 1}") if letter else here
                own.append(known)
                new += 1
            if letter:
                self.called[one.id] = known.id
        if new:
            self.say(plural(new, word))
            self.change(place, write_json(own))

    def as_here(self, one: Any) -> Any:
        """Name what a trial or withdrawal is about as it is called here."""
        return one if isinstance(one, (StatedReason, Deaccession)) else replace(one, what=self.here(one.what))

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
        winner, open_question = self.corrected.later(first, second)
        if open_question:   # both settled it, differently
            self.unsettle(self.weighed(reads), "the two archives had settled it differently")
            self.result.disputed = True
        elif winner == "theirs" and not _thought_only(own, other):
            self.settle(self.take(other), reads)
        elif own is not None:
            self.settle(own, reads)

    def settle(self, agreed: Agreed | None, reads: Sequence[Read], *, again: bool = False) -> None:
        """Have the image graded anew where all reads agree on it and more of them than it rests on."""
        plain = self.weighed(reads)
        if agreed is not None and agreed.sha256 is not None and plain.sha256 == agreed.sha256:
            self.result.settle = again or {*plain.reads} != {*agreed.reads}

    def weighed(self, reads: Sequence[Read]) -> Agreed:
        """Say how the evidence stands with the reads of both, but for those that either took back."""
        record = assembled(self.ours, self.ours.inventory.id, self.ours.inventory.head)
        data = self.result.changes.get(places.WITHDRAWALS)
        raw: Any = read_json(data, places.WITHDRAWALS) if isinstance(data, bytes) else []
        back = {one.what for one in self.ours.several(Withdrawal, places.WITHDRAWALS)} | {one["what"] for one in raw}
        left = tuple(read for read in reads if read.id not in back)
        return settled_as(standing(replace(record, reads=left, agreed=None)))

    def settlements(self, side: Side) -> list[Value]:
        """Give which image was agreed since the last common version, each with the time; None before there was one."""
        return self.corrected.values(
            side, places.AGREED, lambda raw: None if raw is None else raw.get("sha256") or raw.get("grade")
        )

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
            places.TRIALS, places.WITHDRAWALS, places.DEACCESSIONS, places.ERASED,
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
    """What makes a remark the same: all but where it lies."""
    return json.dumps({k: v for k, v in to_json(one).items() if k != "path"}, sort_keys=True)


def _back_key(one: ReadBack) -> str:
    """What makes a read-back the very one that both know, whatever was corrected of it since."""
    return json.dumps([one.file, one.modified, one.sha256, one.added])


def _thought_only(own: Agreed | None, other: Agreed | None) -> bool:
    """Whether two records only tell what was thought on a day: that follows from the evidence, and is no news."""
    return own is not None and other is not None and own.voted_by is None and other.voted_by is None


def _says_more(one: Examination, known: Examination | None) -> bool:
    """Whether an examination says more than the one that is kept; of two alike, both sides take the same."""
    return known is None or _worth(one) > _worth(known)


def _worth(one: Examination) -> tuple[bool, str]:
    return one.checks is not None, json.dumps(to_json(one), sort_keys=True)


def _testimony_key(one: Any) -> str:
    """What makes an explanation, trial or withdrawal the same: all but its id."""
    return json.dumps({k: v for k, v in to_json(one).items() if k != "id"}, sort_keys=True)


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

