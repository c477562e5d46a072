"""Why reads differ: the causes that describe the differences most briefly, with the evidence for each.

Every rule of the neighbouring modules proposes explanations. The one with the shortest description (see `coding`) is
taken, what it leaves is explained in the same way, and so on: so two faults at once come out as two findings. The
confidence says how much shorter the best is than the next best of another kind, and how much of the differences it
covers. Rules that tell one read's fault are tried both ways round, so that the order of the reads does not matter.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from imagekeeper.comparison import address_lines, data_lines, exchanges, shapes
from imagekeeper.comparison.coding import noise_bits
from imagekeeper.comparison.pair import Account, Bytes, Explanation, Pair
from imagekeeper.errors import Where
from imagekeeper.findings import Finding
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import address_digits, range_text

#: Larger reads are counted but not diagnosed: no chip or floppy disk of the period is so large. [byte]
SIZE_LIMIT = 64 << 20

#: Of larger reads only the stretch of this size that differs most is diagnosed. [byte]
WINDOW = 4 << 20

#: What is said when nothing else fits.
LAST_RESORTS = ("random-noise", "content-differs")

#: So many rules are tried together with a second one, where no single rule fits.
LOOK_AHEAD = 6

#: How many causes at once are looked for.
ROUNDS = 4

#: Other explanations are mentioned when they are at most so many bits longer. [bit]
CLOSE = 7.0

_Rule = Callable[[Pair], Iterator[Explanation]]

#: So much shorter a rule without exceptions stays, when the estimate is at its bound. [bit]
MARGIN = 16.0


@dataclass(frozen=True)
class _Rules:
    """Rules of one nature: those for any bytes, and those that must know which byte stands at which address."""

    always: tuple[_Rule, ...]
    addresses: tuple[_Rule, ...] = ()


#: The second read differs from the first by chance, at some places.
_CHANCE = _Rules(
    (data_lines.unstable, data_lines.scattered, shapes.different_content), (address_lines.unstable,)
)

#: The second read follows from the first, but not the other way: something is lost in it.
_LOSSES = _Rules(
    (data_lines.stuck, data_lines.shorted, shapes.cut_short, shapes.uniform), (address_lines.stuck,)
)

#: Each read follows from the other.
_REORDERINGS = _Rules(
    (data_lines.inverted, exchanges.roughly_exchanged_data), (address_lines.exchanged_bytes, exchanges.exchanged)
)


@dataclass(frozen=True)
class Ranked:
    """An explanation with its confidence.

    Attributes:
        explanation: The explanation.
        confidence: From 0 to 1.
        depth: 0 for what explains the differences themselves, 1 for what explains the rest of them, and so on.
    """

    explanation: Explanation
    confidence: float
    depth: int


def diagnose(
    first: Bytes,
    second: Bytes,
    names: tuple[str, str],
    *,
    start: int = 0,
    gapless: bool = True,
    volts: tuple[float | None, float | None] = (None, None),
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
    if not size or size > SIZE_LIMIT:
        return ()
    named = _Pins(pins or {})
    if len(first) != len(second):
        shape = shapes.of_unequal_sizes(first, second, names, start)
        if shape is not None:
            return (_finding(shape, 0.99, named),)
        slipped = shapes.shifted(first, second, names, start)
        if slipped is not None:
            return (_finding(slipped[0], 0.95, named),)
    pair = Pair(np.ascontiguousarray(first[:size]), np.ascontiguousarray(second[:size]), names, start)
    if not len(pair.at):
        return ()
    note: tuple[Finding, ...] = ()
    if size > WINDOW:
        for ending in (*shapes.cut_short(pair), *shapes.cut_short(pair.turned())):
            return (_finding(ending.accounts[0], 0.95, named),)
        pair, note = _densest(pair)
    found = tuple(
        _finding(account, ranked.confidence, named)
        for ranked in _explain(pair, gapless, volts)
        for account in ranked.explanation.accounts
    )
    return found + note


def _densest(pair: Pair) -> tuple[Pair, tuple[Finding, ...]]:
    """Take the stretch of a large pair in which most places differ, and say so."""
    begin = int(np.bincount(pair.at // WINDOW).argmax()) * WINDOW
    part = slice(begin, begin + WINDOW)
    window = Pair(pair.first[part].copy(), pair.second[part].copy(), pair.names, pair.start + begin)
    where = range_text(window.start, window.size, address_digits(pair.start + pair.size))
    return window, (
        Finding.of(
            "not-diagnosed/window", "note", 1.0, Where(address=window.start, length=window.size), span=where,
            detail={"start": window.start, "length": window.size, "differing": len(window.at), "of": len(pair.at)},
        ),
    )  # fmt: skip


def _explain(pair: Pair, gapless: bool, volts: tuple[float | None, float | None]) -> list[Ranked]:
    found: list[Ranked] = []
    for depth in range(ROUNDS):
        candidates = _weighed(_candidates(pair, gapless, depth), volts, pair)
        if candidates[0].accounts[0].code in LAST_RESORTS and not depth:
            candidates = _looked_ahead(candidates, pair, gapless)
        best = candidates[0]
        left = best.left(pair)
        now = len(pair.at)
        share = max(now - left, 0) / now if now else 0.0
        ranked = _confidences(candidates)
        found.append(Ranked(best, round(min(ranked[0] * share, _most(best)), 3), depth))
        if not depth:
            found += [
                Ranked(other, round(min(confidence * share, _most(other)), 3), depth)
                for other, confidence in zip(candidates[1:4], ranked[1:4], strict=False)
                if (other.bits - best.bits <= CLOSE or _same(best, other)) and confidence * share >= 0.01
            ]
        pair = best.rest(pair)
        if not left or left >= now or best.accounts[0].code in LAST_RESORTS:
            break
    found.sort(key=lambda r: (r.depth, -r.confidence))
    return found


def _looked_ahead(candidates: Sequence[Explanation], pair: Pair, gapless: bool) -> list[Explanation]:
    """Look for two causes together, where no single one is better than to list all differences.

    What a rule leaves is priced at the best that a second rule makes of it, instead of as single bits.
    """
    hopeful = [c for c in candidates if not c.by_chance and c.accounts[0].code != "shifted"]
    together: dict[int, Explanation] = {}
    for candidate in hopeful[:LOOK_AHEAD]:
        rest = candidate.rest(pair)
        if not 0 < rest.flips < pair.flips:
            continue
        second = min(_candidates(rest, gapless, 1), key=lambda e: e.bits)
        if second.accounts[0].code in LAST_RESORTS:
            continue
        bits = candidate.bits - noise_bits(pair.size, rest.flips) + second.bits
        if bits < candidate.bits:
            together[id(candidate)] = replace(candidate, bits=bits)
    return sorted((together.get(id(c), c) for c in candidates), key=lambda e: e.bits)


def _most(explanation: Explanation) -> float:
    """The most that an explanation may claim: one that only says what it is not is never sure."""
    account = explanation.accounts[0]
    if account.code == "content-differs" or account.detail.get("volts_against"):
        return 0.6
    return 1.0


def _candidates(pair: Pair, gapless: bool, depth: int) -> Iterator[Explanation]:
    """Propose explanations, each with the length of describing both reads by it, beyond the simpler of the two.

    A rule leads from one read to the other. What the read it starts from has beyond the other must be described too.
    """
    turned = pair.turned()
    limit = min([pair.plain_bits, *(explanation.bits for explanation in shapes.different_content(pair))])
    richer = _trusted(-pair.content_excess, limit)   # by how much the first is, if it is
    for by_chance, rules in ((True, _CHANCE), (False, _LOSSES)):
        for is_turned, one in ((False, pair), (True, turned)):
            for explanation in _rules(rules, one, gapless):
                more = explanation.richer_by
                if more is None:
                    more = -richer if is_turned else richer
                yield replace(
                    explanation, turned=is_turned, by_chance=by_chance, bits=explanation.bits + max(more, 0.0)
                )
    yield from _rules(_REORDERINGS, pair, gapless)
    if not depth:
        for is_turned, one in ((False, pair), (True, turned)):
            slipped = shapes.shifted(one.first, one.second, one.names, one.start)
            if slipped is not None:
                account, bits = slipped
                yield Explanation(
                    accounts=(account,), bits=bits + max(-richer if is_turned else richer, 0.0), foretold=one.second,
                    turned=is_turned,
                )  # fmt: skip


def _rules(rules: _Rules, pair: Pair, gapless: bool) -> Iterator[Explanation]:
    for rule in rules.always + (rules.addresses if gapless else ()):
        yield from rule(pair)


def _trusted(excess: float, limit: float) -> float:
    """Take an estimate of what one read has beyond the other for what it is worth.

    Compression overstates large differences: one read can never take more by itself than the other and the shortest
    way from it together.
    """
    bound = max(limit - MARGIN, 0.0)
    return max(min(excess, bound), -bound)


def _weighed(
    candidates: Iterable[Explanation], volts: tuple[float | None, float | None], pair: Pair
) -> list[Explanation]:
    """Keep the shortest of each kind, and sort; what is known of the supply voltages speaks for or against."""
    best: dict[object, Explanation] = {}
    for candidate in candidates:
        if candidate.accounts[0].code == "charge-loss":
            candidate = _with_volts(candidate, volts, pair)
        key = tuple((account.code, account.lines) for account in candidate.accounts)
        if key not in best or candidate.bits < best[key].bits:
            best[key] = candidate
    return sorted(best.values(), key=lambda e: e.bits)


def _with_volts(
    explanation: Explanation, volts: tuple[float | None, float | None], pair: Pair
) -> Explanation:
    """Charge loss grows with the supply voltage at which a chip is read. Common practice, no source."""
    lossy, other = (volts[0], volts[1]) if explanation.turned else (volts[1], volts[0])
    if lossy is None or other is None or lossy == other:
        return explanation
    account = explanation.accounts[0]
    fits = lossy > other
    phrase = Phrase("charge-loss/volts-fit" if fits else "charge-loss/volts-against", lossy=lossy, other=other)
    detail = {**account.detail, "volts": [other, lossy], "volts_against": not fits}
    weighed = replace(account, values={**account.values, "at_volts": phrase}, detail=detail)
    return replace(explanation, accounts=(weighed,), bits=explanation.bits + (-4.0 if fits else 6.0))


def _confidences(candidates: Sequence[Explanation]) -> list[float]:
    """Turn lengths into shares: one bit longer is half as likely. Explanations that foretell the same bytes share."""
    shortest = candidates[0].bits
    weights = [2.0 ** -min(candidate.bits - shortest, 60.0) for candidate in candidates]
    total = sum(weights)
    return [weight / total for weight in weights]


def _same(best: Explanation, other: Explanation) -> bool:
    """Whether two rules foretell the very same bytes, so that nothing in the reads can tell them apart."""
    if best.by_chance or other.by_chance:   # what happens by chance foretells nothing
        return False
    return best.turned == other.turned and np.array_equal(best.foretold, other.foretold)


class _Pins:
    """Puts pin numbers into hints: {D3} becomes "D3 (pin 15 of a 27128)" where that is known."""

    def __init__(self, pins: Mapping[str, str]) -> None:
        self._pins = pins

    def __getitem__(self, line: str) -> str:
        pin = self._pins.get(line)
        return f"{line} ({pin})" if pin else line


def _finding(account: Account, confidence: float, pins: _Pins) -> Finding:
    detail = dict(account.detail)
    named = {line: pins._pins[line] for line in account.lines if line in pins._pins}
    if named:
        detail["pins"] = named
    called = [pins[line] for line in account.lines]
    values = {**account.values, "pins": called}
    return Finding.of(account.about, account.severity, confidence, detail=detail, **values)
