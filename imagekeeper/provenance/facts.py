"""Facts that are to be recorded and that cannot be, or look like a slip: each is told, and kept only if insisted upon.

What cannot be understood at all, such as the thirteenth month, is no fact and is refused where it is read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Literal

from imagekeeper.errors import UsageError
from imagekeeper.provenance.dates import date_code_start, time_span
from imagekeeper.provenance.reads import MOST_VOLTS
from imagekeeper.provenance.slips import is_spelling, nearest
from imagekeeper.sentences.say import Phrase

#: What a bench, a cold chamber or a warmed chip can have; common practice, no source. [degree Celsius]
COLDEST, WARMEST = -60, 150

#: Nothing was read before: common practice, no source. [year]
FIRST_YEAR = 1950

#: Clocks of two machines at one bench are seldom further apart: common practice, no source. [minute]
CLOCKS_APART = 10


@dataclass(frozen=True)
class OddFact:
    """One fact that cannot be, or that may be a slip.

    Attributes:
        member: The member of the record that holds it: `vcc`, `date`, `reader`, ...
        says: What is odd about it.
        near: The known name that it may be a slip of; None for what cannot be.
    """

    member: str
    says: Phrase
    near: str | None = None


#: What is to become of an odd fact: `refuse` it, `keep` it as it is because it is insisted upon, or take the name that
#: it is `near`, which is the older spelling.
Answer = Literal["refuse", "keep", "near"]
Decide = Callable[[OddFact], Answer]


def refuse(_: OddFact) -> Answer:
    """Insist on nothing."""
    return "refuse"


def insist(_: OddFact) -> Answer:
    """Insist on everything."""
    return "keep"


@dataclass(frozen=True)
class Settled:
    """What became of odd facts.

    Attributes:
        insisted: The members that were insisted upon, in their order, each once.
        names: The older spellings to be recorded, by member.
    """

    insisted: tuple[str, ...]
    names: Mapping[str, str]


def settle(odd: Sequence[OddFact], decide: Decide) -> Settled:
    """Have it decided what becomes of odd facts: first of what cannot be, and then of names.

    Raises:
        UsageError: `odd-facts` with all that is not insisted upon.

    Example:
        >>> vcc, reader = map(list, (odd_voltage("500"), odd_name("reader", "benhc reader", ["bench reader"])))
        >>> settle([*vcc, *reader], insist).insisted
        ('vcc', 'reader')
        >>> settle(reader, lambda fact: "near").names
        {'reader': 'bench reader'}
    """
    impossible = [fact for fact in odd if fact.near is None]
    names = [fact for fact in odd if fact.near is not None]
    answers = [decide(fact) for fact in impossible]
    if "refuse" in answers:   # nobody is asked about names in vain
        names_too = names if decide is refuse else []
        raise odd_error([*_answered(impossible, answers, "refuse"), *names_too])
    answers += [decide(fact) for fact in names]
    told = [*impossible, *names]
    refused = _answered(told, answers, "refuse")
    if refused:
        raise odd_error(refused)
    kept = {fact.member for fact in _answered(told, answers, "keep")}
    return Settled(
        tuple(dict.fromkeys(fact.member for fact in odd if fact.member in kept)),
        {fact.member: fact.near for fact in _answered(told, answers, "near") if fact.near is not None},
    )


def _answered(facts: Sequence[OddFact], answers: Sequence[Answer], answer: Answer) -> list[OddFact]:
    return [fact for fact, given in zip(facts, answers, strict=True) if given == answer]


def odd_error(refused: Sequence[OddFact]) -> UsageError:
    """Make the error that names everything that is odd."""
    says = [fact.says for fact in refused]
    if all(fact.near is not None for fact in refused):
        return UsageError("odd-facts/names", facts=says)
    return UsageError("odd-facts", facts=says)


def odd_voltage(volts: str, part: str | None = None, limits: tuple[float, float] | None = None) -> Iterator[OddFact]:
    """Hold a supply voltage against what the part can take.

    Args:
        volts: A decimal number. [volt]
        part: The part, where it is known.
        limits: The lowest and the highest supply that it can be read at; None where that is not known. [volt]

    Example:
        >>> [str(fact.says) for fact in odd_voltage("12.5", "27128", (2.5, 7.0))]
        ['12.5 V is no supply of a 27128, which takes 2.5 to 7 V; a programming voltage is none']
        >>> list(odd_voltage("5.0", "27128", (2.5, 7.0))), [fact.member for fact in odd_voltage("0")]
        ([], ['vcc'])
    """
    given = Decimal(volts)
    if limits is None:
        if not 0 < given <= MOST_VOLTS:
            yield OddFact("vcc", Phrase("odd-facts/voltage", volts=volts, most=MOST_VOLTS))
    elif not Decimal(str(limits[0])) <= given <= Decimal(str(limits[1])):
        least, most = limits
        yield OddFact("vcc", Phrase("odd-facts/voltage-of-part", volts=volts, part=part, least=least, most=most))


def odd_temperature(celsius: str) -> Iterator[OddFact]:
    """Hold a temperature against what a bench can have.

    Example:
        >>> [fact.member for fact in odd_temperature("210")], list(odd_temperature("21.5"))
        (['temperature'], [])
    """
    if not COLDEST <= Decimal(celsius) <= WARMEST:
        says = Phrase("odd-facts/temperature", celsius=celsius, least=COLDEST, most=WARMEST)
        yield OddFact("temperature", says)


def odd_date(date: str, now: str) -> Iterator[OddFact]:
    """Hold a date against the years in which there was something to read, and against the clock.

    A day may be tomorrow's, which it is elsewhere; a time only as far ahead as two clocks differ.

    Args:
        date: A time, a day, a month or a year.
        now: The time now, RFC 3339.

    Example:
        >>> now = "2026-03-02T10:00:00Z"
        >>> [len(list(odd_date(date, now))) for date in ("1949", "1985-03", "2026", "2026-03-03", "2026-03-04")]
        [1, 0, 0, 0, 1]
    """
    start, end = time_span(date)
    if end is not None and end < f"{FIRST_YEAR}":
        yield OddFact("date", Phrase("odd-facts/date-too-early", date=date, year=FIRST_YEAR))
    elif start is not None and start > (_later(now, minutes=CLOCKS_APART) if "T" in date else _tomorrow(now)):
        yield OddFact("date", Phrase("odd-facts/date-ahead", date=date, now=now))


def odd_before_chip(date: str, date_code: str | None) -> Iterator[OddFact]:
    """Hold the date of a read against the date code on the chip.

    Example:
        >>> [str(fact.says) for fact in odd_before_chip("1984", "8512")]
        ["a read of 1984 lies before the chip was made, as its date code '8512' says"]
    """
    made = date_code_start(date_code or "")
    end = time_span(date)[1]
    if made is not None and end is not None and end < made:
        yield OddFact("date", Phrase("odd-facts/before-chip", date=date, code=date_code))


def odd_before_replacement(date: str, replacement: str, made: str | None) -> Iterator[OddFact]:
    """Hold the date of a read-back against that on which the replacement was made.

    Example:
        >>> [fact.member for fact in odd_before_replacement("2026-03-01", "w1", "2026-03-02")]
        ['date']
    """
    start, end = time_span(made or "")[0], time_span(date)[1]
    if start is not None and end is not None and end < start:
        says = Phrase("odd-facts/before-replacement", date=date, replacement=replacement, made=made)
        yield OddFact("date", says)


def odd_change(name: str, modified: str | None, now: str) -> Iterator[OddFact]:
    """Hold a file's time of last change against the clock.

    Args:
        name: The file.
        modified: That time, RFC 3339 in UTC, or None.
        now: The time now.

    Example:
        >>> [fact.member for fact in odd_change("u4.bin", "2031-01-01T00:00:00Z", "2026-03-02T10:00:00Z")]
        ['modified']
    """
    moment = time_span(modified or "")[0]
    if moment is not None and moment > _later(now, minutes=CLOCKS_APART):
        yield OddFact("modified", Phrase("odd-facts/changed-ahead", name=name, time=modified, now=now))


def odd_date_code(date_code: str, now: str, read_dates: Mapping[str, str | None]) -> Iterator[OddFact]:
    """Hold a chip's date code against the clock, and against the dates of its reads.

    Args:
        date_code: What stands on the chip.
        now: The time now.
        read_dates: The dates of its reads, by their ids.

    Example:
        >>> [str(fact.says) for fact in odd_date_code("8512", "2026-03-02T10:00:00Z", {"r1": "1984"})]
        ["the date code '8512' lies after r1, which was read in or on 1984"]
    """
    made = date_code_start(date_code)
    if made is None:
        return
    if made > _later(now):
        yield OddFact("date_code", Phrase("odd-facts/code-ahead", code=date_code, now=now))
    for read, date in read_dates.items():
        end = time_span(date or "")[1]
        if end is not None and end < made:
            yield OddFact("date_code", Phrase("odd-facts/code-after-read", code=date_code, read=read, date=date))


def odd_name(member: str, name: str, known: Iterable[str], what: str | None = None) -> Iterator[OddFact]:
    """Tell of a name that may be a slip of one that is known.

    Args:
        member: The member of the record that holds it.
        name: The name.
        known: Names of the same sort, the nearest at hand first.
        what: What it names, in words; without it the member.

    Example:
        >>> [str(fact.says) for fact in odd_name("reader", "benhc reader", ["bench reader"])]
        ["the reader 'benhc reader' is only a slip away from 'bench reader'"]
    """
    near = nearest(name, known)
    if near is not None and is_spelling(name, near):
        yield OddFact(member, Phrase("odd-facts/spelling", what=what or member, name=name, near=near), near)
    elif near is not None:
        yield OddFact(member, Phrase("odd-facts/name", what=what or member, name=name, near=near), near)


def _later(now: str, *, minutes: int = 0) -> str:
    moment = datetime.fromisoformat(now.replace("Z", "+00:00")).astimezone(UTC) + timedelta(minutes=minutes)
    return moment.strftime("%Y-%m-%dT%H:%M:%S")


def _tomorrow(now: str) -> str:
    return f"{_later(now, minutes=24 * 60)[:10]}T23:59:59"
