"""The conclusions of a carrier's records derived again: from the files that were read, by today's rules."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, replace

from imagekeeper import digests
from imagekeeper.archive.audits.reproof import Conclusion, ReproofOutcome
from imagekeeper.archive.index.remembered import Remembered
from imagekeeper.containers.model import Image, Segment
from imagekeeper.errors import ImagekeeperError, NotFoundError
from imagekeeper.evidence.examining import examine
from imagekeeper.evidence.replacements import regraded
from imagekeeper.evidence.rules import evidence_rules, examination_rules
from imagekeeper.evidence.settling import settled_as
from imagekeeper.evidence.standing import standing
from imagekeeper.jobs.archive.history import History
from imagekeeper.jobs.session import SOFTWARE
from imagekeeper.jsonable import to_json
from imagekeeper.provenance import places
from imagekeeper.provenance.agreed import Agreed
from imagekeeper.provenance.derivations import Derivation
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.replacements import Replacement, placement
from imagekeeper.provenance.testimony import Examination

#: Finds the bytes of an image that another carrier holds, by the carrier's id and the image's SHA-256.
Elsewhere = Callable[[str, str], bytes | None]

#: The contradictions that rest on tables, which may change without the rules that weigh evidence.
_OF_TABLES = ("chip-size-differs", "part-unlike-marking", "part-unlike-package")

#: The members of an agreement that are words of the day.
_WORDS = ("because",)

# --- what images show by themselves ---


def examinations_again(history: History, memory: Remembered | None) -> Iterator[Conclusion]:
    """Look at every image again that was looked at, by today's rules; what just this came of before is remembered."""
    files = history.at(history.head)
    for one in files.several(Examination, places.EXAMINATIONS):
        yield _examined(history, one, memory)


def _examined(history: History, one: Examination, memory: Remembered | None) -> Conclusion:
    path, what = places.EXAMINATIONS, f"what the image {one.sha256[:12]}… shows by itself"
    number = _first_with(history, one)
    record = history.record(number)
    if one.part != record.part:
        why = f"it was held against another part than version {number} names"
        return history.conclude(path, what, "contradicted", why, expected=record.part, found=one.part)
    image = image_of(history, record, one.sha256)
    if image is None:
        return history.conclude(path, what, "contradicted", "the carrier holds no such image")
    if memory is not None and one.rules == examination_rules() and memory.knows(record.kind, one):
        return history.conclude(path, what, "proved")
    again = examine(image, record.kind, one.part, checks=one.checks is not None)
    if _hintless(again) == _hintless(one):
        if memory is not None:
            memory.keep(record.kind, one)
        return history.conclude(path, what, "proved")
    name = next(
        (f.name for f in fields(Examination) if f.name != "rules" and _plain(again, f.name) != _plain(one, f.name)),
        "rules",
    )
    figures_hold = all(one.figures.get(name) in (None, value) for name, value in again.figures.items())
    expected, found = _plain(again, name), _plain(one, name)
    only_words = _program(history, number) != SOFTWARE and _wordless(again) == _wordless(one)
    if (one.rules == again.rules and not only_words) or not figures_hold:
        why = f"looked at again, its {name} are not those that are recorded"
        return history.conclude(path, what, "contradicted", why, expected=expected, found=found)
    if name == "rules":
        return history.conclude(path, what, "proved")   # other rules, and the same came out
    why = f"today's rules or tables give other {name}"
    return history.conclude(path, what, "stale", why, expected=expected, found=found)


def _hintless(one: Examination) -> object:
    """Leave out what is advised, in which a command line has words of its own."""
    return to_json(replace(one, signs=tuple(replace(sign, hint="") for sign in one.signs)))


def _wordless(one: Examination) -> object:
    """Leave out the words of the day, which another version of the program chose otherwise."""
    return to_json(replace(one, rules="", signs=tuple(replace(sign, why="", hint="") for sign in one.signs)))


def _plain(one: Examination, name: str) -> object:
    return to_json(getattr(one, name))


def _first_with(history: History, one: Examination) -> int:
    """Give the version that added an examination."""
    number = history.head
    while number > 1 and one in history.at(number - 1).several(Examination, places.EXAMINATIONS):
        number -= 1
    return number


def image_of(history: History, record: CarrierRecord, sha256: str) -> Image | None:
    """Give an image of a carrier at its addresses, by its SHA-256."""
    data = history.find(sha256)
    reads = (*record.reads, *record.withdrawn)
    like = next((read for read in reads if read.image.sha256 == sha256), None) or next(iter(reads), None)
    if data is None or like is None:
        return None
    segments, at = [], 0
    for span in like.image.segments:
        segments.append(Segment(span.start, data[at : at + span.length]))
        at += span.length
    if at != len(data):
        return Image.from_bytes(data)
    return Image(segments=tuple(segments), container=like.container, wrapped_in=like.wrapped_in, addressed=True)


# --- the agreed image ---


def agreed_again(history: History) -> Iterator[Conclusion]:
    """Weigh the evidence again as it was when the image was settled, and hold the grade against what comes out."""
    if places.AGREED not in history.state(history.head):
        return
    number = history.since(places.AGREED)
    record = history.record(number)
    agreed = record.agreed
    if agreed is None:
        return
    path, what = places.AGREED, "the agreed image and its grade"
    again = settled_as(standing(record), agreed)
    again = replace(again, raise_by=agreed.raise_by)   # advice: a command line has words of its own for it
    differ = [one.name for one in fields(Agreed) if getattr(again, one.name) != getattr(agreed, one.name)]
    weighty = [name for name in differ if name not in (*_WORDS, "rules")]
    same_words = _program(history, number) == SOFTWARE
    if agreed.rules == evidence_rules() and not weighty and differ and not same_words:
        differ = []
    if not weighty and (agreed.rules != evidence_rules() or not differ):
        yield history.conclude(path, what, "proved")
    else:
        name = (weighty or differ)[0]
        why = f"weighed again as it was then, its {name.replace('_', ' ')} is another"
        yield history.conclude(
            path, what, _by_rules(record, agreed, again), why, expected=getattr(again, name),
            found=getattr(agreed, name),
        )  # fmt: skip
    if agreed.voted_by is not None and agreed.sha256 is not None:
        yield _voted(history, record, agreed)


def _by_rules(record: CarrierRecord, agreed: Agreed, again: Agreed) -> ReproofOutcome:
    """Tell whether other rules or tables may have given what is recorded, or none ever did."""
    if not _possible(record, agreed):
        return "contradicted"
    tables = set(agreed.open).symmetric_difference(again.open)
    if agreed.rules != evidence_rules() or (tables and tables.issubset(_OF_TABLES)):
        return "stale"
    return "contradicted"


def _possible(record: CarrierRecord, agreed: Agreed) -> bool:
    """Whether any rules of any version could have given this grade to these reads."""
    images = {read.id: read.image.sha256 for read in record.reads}
    giving = [name for name in agreed.reads if images.get(name) == agreed.sha256]
    if len(giving) != len(agreed.reads) or (agreed.sha256 is None) != (agreed.image is None):
        return False
    needed = {"single": 1, "repeated": 2, "independent": 2, "corroborated": 2}
    if agreed.grade in needed:
        return agreed.sha256 is not None and len(giving) >= needed[agreed.grade]
    if agreed.grade == "voted":
        return agreed.sha256 is not None and agreed.voted_by is not None
    return agreed.sha256 is None


def _program(history: History, number: int) -> str | None:
    programs = [agent.name for event in history.told[number] for agent in event.agents if agent.kind == "software"]
    return programs[-1] if programs else None


def _voted(history: History, record: CarrierRecord, agreed: Agreed) -> Conclusion:
    from imagekeeper.comparison.voting import vote  # numpy comes with it: only where there is a vote

    path, what = places.AGREED, "the image, voted again"
    reads = [read for read in record.reads if read.id in agreed.voters]
    images = [image_of(history, record, read.image.sha256) for read in reads]
    if agreed.voted_by is None or len(reads) < 3 or len(reads) != len(agreed.voters):
        return history.conclude(path, what, "contradicted", "not all that voted are there")
    first = reads[0].image.first_address
    held = [image.moved(first) for image in images if image is not None]
    volts = [None if read.vcc is None else float(read.vcc) for read in reads]
    weighed = volts if agreed.voted_by == "bit" and any(volt is not None for volt in volts) else None
    try:
        majority, _ = vote(held, [read.id for read in reads], by=agreed.voted_by, volts=weighed)
    except ImagekeeperError as problem:
        return history.conclude(path, what, "contradicted", f"it cannot be voted again: {problem.why}")
    return history.held(path, what, majority.sha256, agreed.sha256, "voted again, it has another SHA-256")


# --- images that were made from others, and what was made of them ---


def derived_again(history: History, elsewhere: Elsewhere) -> Iterator[Conclusion]:
    """Make every derived image again, and hold it against the record."""
    for made in history.at(history.head).several(Derivation, places.DERIVATIONS):
        yield _derived(history, made, elsewhere)


def _derived(history: History, made: Derivation, elsewhere: Elsewhere) -> Conclusion:
    from imagekeeper.transforms.replaying import replay, steps_of  # slow to load, and most carriers have none

    path, what = places.DERIVATIONS, f"{made.id}, made again"
    sources: list[bytes] = []
    for source in made.sources:
        data = history.find(source.sha256) if source.carrier == history.id else elsewhere(source.carrier, source.sha256)
        if data is None:
            about = history.archive.has(source.carrier)
            why = f"{source.carrier} {source.what}, which it was made from, is not there"
            return history.conclude(path, what, "contradicted" if about else "not-derivable", why)
        sources.append(data)
    if not sources:
        return history.conclude(path, what, "contradicted", "it was made from nothing")
    others = {one.sha256: data for one, data in zip(made.sources[1:], sources[1:], strict=True)}
    try:
        again = replay(sources[0], steps_of(list(made.steps)), others)
    except ImagekeeperError as problem:
        return history.conclude(path, what, "contradicted", f"it cannot be made again: {problem.why}")
    if digests.sha256_hex(again) != made.sha256:
        why = "made again, it has another SHA-256"
        return history.conclude(path, what, "contradicted", why, expected=digests.sha256_hex(again), found=made.sha256)
    return history.held(path, what, len(again), made.size_bytes, "made again, it has another size")


def replacements_again(history: History) -> Iterator[Conclusion]:
    """Hold what was written and read back against the image, and grade the proof again."""
    for made in history.at(history.head).several(Replacement, places.REPLACEMENTS):
        yield from _replaced(history, made)


def _replaced(history: History, made: Replacement) -> Iterator[Conclusion]:
    path, state = places.REPLACEMENTS, history.state(history.head)
    image = history.find(made.sha256)
    if image is None:
        yield history.conclude(path, f"{made.id}: its image", "contradicted", "the carrier holds no such image")
        return
    if made.written is None or made.written not in state:
        yield history.conclude(path, f"{made.id}: what was written", "not-derivable", "it was not kept")
        return
    written = history.file(state[made.written])
    place = placement(image, written)
    yield history.held(
        path, f"{made.id}: how the image lies in what was written", place.says if place else None, made.placed,
        "it lies otherwise",
    )  # fmt: skip
    for number, back in enumerate(made.read_backs, 1):
        what = f"{made.id}: whether read-back {number} is what was written"
        if back.path not in state:
            yield history.conclude(path, what, "contradicted", "it is not there")
            continue
        data = history.file(state[back.path])
        matches = "whole" if data == written else "in-part" if data == image else "no"
        yield history.held(path, what, matches, back.matches, "held against it again, it is otherwise")
    if made.written_bytes is not None:
        why = "it has another size"
        yield history.held(path, f"{made.id}: the size of what was written", len(written), made.written_bytes, why)
    yield from _graded(history, made)


def _graded(history: History, made: Replacement) -> Iterator[Conclusion]:
    path = places.REPLACEMENTS
    whole = all(back.matches != "no" for back in made.read_backs) if made.read_backs else None
    last = made.read_backs[-1].sha256 if made.read_backs else None
    yield history.held(
        path, f"{made.id}: what its read-backs come to", (whole, last), (made.matches, made.read_back_sha256),
        "they come to something else",
    )  # fmt: skip
    number = history.since(path)
    now = regraded(made, history.record(number).kind)
    by_today = bool(history.vouched[number]) and _program(history, number) == SOFTWARE
    expected, found = (now.grade, now.because), (made.grade, made.because)
    otherwise: ReproofOutcome = "contradicted" if by_today or not _possible_proof(made) else "stale"
    yield history.held(
        path, f"{made.id}: how well it is proved", expected, found, "graded again, it is otherwise", otherwise
    )


def _possible_proof(made: Replacement) -> bool:
    """Whether any rules of any version could have given this grade to these read-backs."""
    backs = [back for back in made.read_backs if not back.taken_back]
    wrong = any(back.matches == "no" for back in backs)
    least = {"single": 1, "repeated": 2, "proved": 2}.get(made.grade, 0)
    return len(backs) >= least and wrong == (made.grade == "failed") and (made.grade != "unread" or not backs)


@dataclass(frozen=True)
class Others:
    """Finds images of other carriers of the archive.

    Attributes:
        history: The carrier that asks.
    """

    history: History

    def __call__(self, carrier: str, sha256: str) -> bytes | None:
        """Give the bytes of an image, or None."""
        try:
            other = History(self.history.archive, self.history.archive.inventory(carrier))
        except NotFoundError:
            return None
        return other.find(sha256)
