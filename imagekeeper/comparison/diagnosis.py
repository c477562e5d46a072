"""Why reads differ: findings with their confidence, from any number of reads of whatever size.

Reads of one size are explained by `joint`; reads of unlike sizes by what makes them unlike, if that is found.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from imagekeeper.comparison import shapes
from imagekeeper.comparison.explaining import transferred
from imagekeeper.comparison.joint import Ranked, explain_all
from imagekeeper.comparison.next_read import next_read
from imagekeeper.comparison.pair import Account, Bytes
from imagekeeper.comparison.reads import Reads
from imagekeeper.findings import Finding
from imagekeeper.sentences.say import Phrase

#: A second cause as likely as this, and as this share of the first, cannot be told from it.
RIVAL, RIVAL_SHARE = 0.2, 0.5

#: A read that is less than so small a part of another is not followed through it byte by byte: its size tells enough.
MOST_UNLIKE = 16

#: So many causes are named where the reads cannot tell them apart.
MOST_NAMED = 3


#: How sure a cause may be of what a shift leaves between reads of unlike sizes.
MOST_OF_REST = 0.95


def diagnose(
    first: Bytes,
    second: Bytes,
    names: tuple[str, str],
    *,
    start: int = 0,
    gapless: bool = True,
    volts: tuple[float | None, float | None] = (None, None),
    holds_charge: bool = True,
    pins: Mapping[str, str] | None = None,
) -> tuple[Finding, ...]:
    """Explain why two reads differ.

    Args:
        first: Bytes of the one.
        second: Bytes of the other; the two may differ in size.
        names: What to call them.
        start: Address of the first byte. [byte]
        gapless: Whether the bytes stand at consecutive addresses from a chip's first on; address lines are looked at
            only then.
        volts: The supply voltage of each read, where it is known. [volt]
        holds_charge: Whether the memory can lose its charge, as far as is known.
        pins: For each line, such as D3, what to call its pin in hints.

    Returns:
        Findings, the most likely first; none where the reads are equal.

    Example:
        >>> data = np.random.default_rng(1).integers(0, 256, 2048, np.uint8)
        >>> found = diagnose(data, data | 8, ("good.bin", "bad.bin"))
        >>> found[0].code, found[0].detail["line"], found[0].confidence > 0.9
        ('data-line-stuck', 'D3', True)
    """
    size = min(len(first), len(second))
    if not size:
        return ()
    if len(first) != len(second):
        unlike = of_unequal_sizes(first, second, names, start, pins=pins or {})
        if unlike:
            return unlike
    if np.array_equal(first[:size], second[:size]):
        return ()
    reads = Reads(
        images=(np.ascontiguousarray(first[:size]), np.ascontiguousarray(second[:size])), numbers=((1,), (2,)),
        names=names, volts=((volts[0],), (volts[1],)), start=start, gapless=gapless, holds_charge=holds_charge,
    )  # fmt: skip
    return diagnosed(reads, pins or {})


def diagnosed(reads: Reads, pins: Mapping[str, str]) -> tuple[Finding, ...]:
    """Explain why reads of one size differ, as findings.

    Where the reads cannot tell the likeliest causes apart, that is the first finding.
    """
    found = explain_all(reads)
    named = _Pins(pins)
    findings = tuple(_finding(one, named) for one in found)
    return (*_cannot_tell(found), *findings)


def of_unequal_sizes(
    first: Bytes, second: Bytes, names: tuple[str, str], start: int, *, pins: Mapping[str, str],
    right: str | None = None,
) -> tuple[Finding, ...]:
    """Explain why two reads are of unlike sizes; nothing where that is not known.

    Args:
        first: Bytes of the one.
        second: Bytes of the other.
        names: What to call them.
        start: Address of the first byte. [byte]
        pins: For each line what to call its pin in hints.
        right: The name of the one that more reads give, if one is.
    """
    shape = shapes.of_unequal_sizes(first, second, names, start)
    if shape is not None:
        return (_finding(Ranked(account=shape, confidence=0.99, depth=0, cause=shape.code, reads=()), _Pins(pins)),)
    if max(len(first), len(second)) > MOST_UNLIKE * min(len(first), len(second)):
        return ()
    found: list[tuple[float, Account, Bytes, Bytes, tuple[str, str]]] = []
    for one, other, called in ((first, second, names), (second, first, names[::-1])):
        if called[1] == right:
            continue
        found += [
            (bits, account, foretold, other, called)
            for account, bits, foretold in transferred(one, other, called, start)
        ]
    if not found:
        return ()
    bits, account, foretold, read, called = min(found, key=lambda f: f[0])
    if bits >= 8.0 * min(len(first), len(second)) / 2:   # it would describe anything
        return ()
    named = _Pins(pins)
    moved = _finding(Ranked(account=account, confidence=0.95, depth=0, cause=account.code, reads=()), named)
    if np.array_equal(foretold, read):
        return (moved,)
    rest = Reads(
        images=(foretold, np.ascontiguousarray(read)), numbers=((1,), (2,)), names=called,
        volts=((None,), (None,)), start=start, gapless=False,
    )  # fmt: skip
    left = [replace(one, reads=(), confidence=min(one.confidence, MOST_OF_REST)) for one in explain_all(rest)]
    return (moved, *(_finding(one, named) for one in left if one.depth == 0))


def cut_short(
    ended: tuple[int, int, int], size: int, names: Sequence[str], start: int, *, pins: Mapping[str, str]
) -> tuple[Finding, ...]:
    """Say that one of large reads holds one value from a place on, where the others go on.

    Args:
        ended: Which read, the place, and the value.
        size: Of all of them. [byte]
        names: What to call them.
        start: Address of the first byte. [byte]
        pins: For each line what to call its pin in hints.
    """
    read, place, fill = ended
    account = shapes.cut_from(place, fill, size, (names[0 if read else 1], names[read]), start)
    return (_finding(Ranked(account=account, confidence=0.95, depth=0, cause=account.code, reads=()), _Pins(pins)),)


def _cannot_tell(found: Sequence[Ranked]) -> Iterator[Finding]:
    """Say which causes explain the differences about equally well."""
    likely = [one for one in found if one.depth == 0]
    if not likely:
        return
    best = likely[0]
    close = max(RIVAL, best.confidence * RIVAL_SHARE)
    others = [one for one in likely if one.cause != best.cause and one.part == best.part]
    rivals = [one for one in others if one.twin or one.confidence >= close]
    codes = list(dict.fromkeys(one.account.code for one in (best, *rivals)))
    if len(codes) < 2 or len(codes) > MOST_NAMED:
        return
    sum_of = min(sum(one.confidence for one in likely if one.account.code in codes), 0.99)
    step = next_read([(one.account.code, one.confidence) for one in likely])
    yield Finding.of(
        "cannot-tell", "fault", round(max(sum_of, best.confidence), 3), causes=_named(codes),
        does=step.does if step is not None else "",
        detail={"causes": codes, "confidences": [one.confidence for one in likely if one.account.code in codes]},
    )  # fmt: skip


def _named(codes: Sequence[str]) -> list[str]:
    return [str(Phrase(f"cause/{code}")) for code in codes]


class _Pins:
    """Puts pin numbers into hints: {D3} becomes "D3 (pin 15 of a 27128)" where that is known."""

    def __init__(self, pins: Mapping[str, str]) -> None:
        self._pins = pins

    def __getitem__(self, line: str) -> str:
        pin = self._pins.get(line)
        return f"{line} ({pin})" if pin else line

    def of(self, lines: Sequence[str]) -> dict[str, str]:
        """Give those that are known."""
        return {line: self._pins[line] for line in lines if line in self._pins}


def _finding(ranked: Ranked, pins: _Pins) -> Finding:
    account = ranked.account
    detail = dict(account.detail)
    if named := pins.of(account.lines):
        detail["pins"] = named
    if ranked.reads:
        detail["reads"] = list(ranked.reads)
    values = {**account.values, "pins": [pins[line] for line in account.lines]}
    if ranked.also:
        detail["also_in"] = [
            Finding.of(other.about, other.severity, 1.0, detail=other.detail,
                       **{**other.values, "pins": values["pins"]}).why
            for other in ranked.also
        ]  # fmt: skip
    return Finding.of(account.about, account.severity, ranked.confidence, detail=detail, **values)
