"""Why two reads differ: the explanations that describe the differences most briefly.

Every rule of the neighbouring modules proposes explanations. The one with the shortest description (see `coding`) is
taken, what it leaves is explained in the same way, and so on: so two faults at once come out as two explanations. Rules
that tell one read's fault are tried both ways round, so that the order of the reads does not matter.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from imagekeeper.comparison import (
    address_lines,
    cells,
    data_lines,
    dropouts,
    exchanges,
    shapes,
    timing,
    transfers,
)
from imagekeeper.comparison.coding import noise_bits
from imagekeeper.comparison.pair import Account, Bytes, Explanation, Pair

#: What is said when nothing else fits.
LAST_RESORTS = ("random-noise", "content-differs")

#: What changes a read from end to end, whatever else happened to it, and is tried first beside a second cause.
EVERYWHERE = ("data-line-stuck", "data-lines-shorted", "inverted", "parity-in-bit-7")

#: So many rules are tried together with a second one, where no single rule fits.
LOOK_AHEAD = 6

#: The first of two rules explains one difference in so many at least.
LEAST_PART = 8

#: Where something by chance is tried together with a second rule, at most one difference in so many stays unexplained.
FEW_LEFT = 16

#: How many causes at once are looked for.
ROUNDS = 4

#: So much shorter a rule without exceptions stays, when the estimate is at its bound. [bit]
MARGIN = 16.0

_Rule = Callable[[Pair], Iterator[Explanation]]


@dataclass(frozen=True)
class _Rules:
    """Rules of one nature: those for any bytes, and those that must know which byte stands at which address."""

    always: tuple[_Rule, ...]
    addresses: tuple[_Rule, ...] = ()


#: The second read differs from the first by chance, at some places.
_CHANCE = _Rules(
    (
        data_lines.unstable, cells.scattered, shapes.different_content, dropouts.not_selected_at_times,
        dropouts.contention, dropouts.contact_lost, dropouts.noise_for_a_while,
    ),
    (address_lines.unstable, address_lines.lost_for_a_while, timing.slow_outputs, timing.previous_byte),
)

#: The second read follows from the first, but not the other way: something is lost in it.
_LOSSES = _Rules(
    (data_lines.stuck, data_lines.shorted, shapes.cut_short, shapes.uniform, transfers.parity),
    (address_lines.stuck, address_lines.shorted, dropouts.part_missing, shapes.floating),
)

#: Each read follows from the other.
_REORDERINGS = _Rules(
    (data_lines.inverted, exchanges.roughly_exchanged_data),
    (address_lines.exchanged_bytes, exchanges.exchanged, exchanges.roughly_exchanged_addresses),
)


def cause_of(explanation: Explanation) -> tuple[object, ...]:
    """Name the cause by its codes and lines, whichever read it lies in."""
    return tuple((account.code, account.lines) for account in explanation.accounts)


def candidates(pair: Pair, gapless: bool, depth: int = 0) -> list[Explanation]:
    """Propose explanations of the differences, the shortest of each cause and read, best first.

    Args:
        pair: The two reads.
        gapless: Whether they stand at consecutive addresses from a chip's first on.
        depth: How many causes were found before; what a transfer does to a whole read comes first or not at all.
    """
    found = _shortest(_proposed(pair, gapless, depth))
    whole = [c for c in found if not _in_part(c, pair)]
    if whole[0].accounts[0].code in (*LAST_RESORTS, "contention") and not depth:
        return _looked_ahead(found, pair, gapless)
    return whole


def _in_part(explanation: Explanation, pair: Pair) -> bool:
    """Whether a loose address line leaves so much that it is a cause only beside a second one that is found."""
    loose = explanation.accounts[0].code == "address-line-unstable"
    return loose and explanation.left(pair) * 3 > pair.flips


def rest_of(pair: Pair, best: Explanation, gapless: bool) -> Iterator[tuple[Pair, list[Explanation]]]:
    """Explain what an explanation leaves, cause by cause: what is left, and what explains it."""
    for depth in range(1, ROUNDS):
        left, now = best.left(pair), pair.flips
        pair = best.rest(pair)
        if not left or left >= now or best.accounts[0].code in LAST_RESORTS:
            return
        found = candidates(pair, gapless, depth)
        yield pair, found
        best = found[0]


def _looked_ahead(found: Sequence[Explanation], pair: Pair, gapless: bool) -> list[Explanation]:
    """Look for two causes together, where no single one is better than to list all differences.

    What a rule leaves is priced at the best that a second rule makes of it, instead of as single bits.
    """
    hopeful = [
        c for c in found
        if (not c.by_chance and c.accounts[0].code != "shifted") or c.accounts[0].code == "address-line-unstable"
    ]  # fmt: skip
    hopeful.sort(key=lambda c: c.accounts[0].code not in EVERYWHERE)
    together: dict[int, Explanation] = {}
    for candidate in hopeful[:LOOK_AHEAD]:
        rest = candidate.rest(pair)
        told = pair.flips - rest.flips
        own = candidate.bits - noise_bits(pair.size, rest.flips)
        if not rest.flips or told * LEAST_PART < pair.flips or own > noise_bits(pair.size, told):
            continue   # it tells nothing, or no more briefly than a list
        seconds = list(_proposed(rest, gapless, 0))
        second = min(seconds, key=lambda e: e.bits)
        as_short = {one.accounts[0].code for one in seconds if one.bits <= second.bits}
        if second.accounts[0].code in LAST_RESORTS or (
            as_short & set(LAST_RESORTS) and candidate.accounts[0].code not in EVERYWHERE
        ):
            continue
        if candidate.by_chance and second.left(rest) * FEW_LEFT > pair.flips:   # many places fit chance by chance
            continue
        bits = own + second.bits
        if bits < candidate.bits:
            together[id(candidate)] = replace(candidate, bits=bits)
    kept = (together.get(id(c), c) for c in found if id(c) in together or not _in_part(c, pair))
    return sorted(kept, key=lambda e: e.bits)


def _proposed(pair: Pair, gapless: bool, depth: int) -> Iterator[Explanation]:
    """Propose explanations, each with the length of describing both reads by it, beyond the simpler of the two.

    A rule leads from one read to the other. What the read it starts from has beyond the other must be described too.
    """
    turned = pair.turned()
    limit = min([pair.plain_bits, *(explanation.bits for explanation in shapes.different_content(pair))])
    richer = _trusted(-pair.content_excess, limit)   # by how much the first is, if it is
    for is_turned, one in ((False, pair), (True, turned)):
        for explanation in _of_rules(_CHANCE, one, gapless):
            bits = explanation.bits + _charge(one, explanation, limit)
            yield replace(explanation, turned=is_turned, by_chance=True, bits=bits)
        for explanation in _of_rules(_LOSSES, one, gapless):
            more = explanation.richer_by
            if more is None:
                more = -richer if is_turned else richer
            yield replace(explanation, turned=is_turned, bits=explanation.bits + max(more, 0.0))
    yield from (replace(one, either=True) for one in _of_rules(_REORDERINGS, pair, gapless))
    if depth <= 1:
        for is_turned, one in ((False, pair), (True, turned)):
            for account, bits, foretold in transferred(one.first, one.second, one.names, one.start):
                yield Explanation(
                    accounts=(account,), bits=bits + max(-richer if is_turned else richer, 0.0), foretold=foretold,
                    turned=is_turned,
                )  # fmt: skip


def _charge(pair: Pair, explanation: Explanation, limit: float) -> float:
    """Give the bits by which the read that an explanation trusts is the stranger one, at the places it explains.

    Noise may lie in either read at each place, which takes one bit a place to say.
    """
    if explanation.richer_by is not None:
        return max(explanation.richer_by, 0.0)
    if not pair.few:
        return min(max(-pair.strangers[0], 0.0), limit)
    told, step = pair.strange_at
    at = pair.at[::step]
    explained = explanation.foretold[at] != pair.first[at]
    if explanation.accounts[0].code == "random-noise":
        explained[:] = False
    charge = max(-float(told[explained].sum()), 0.0)
    rest = min(max(-float(told[~explained].sum()), 0.0), float(np.count_nonzero(~explained)))   # noise, as far as known
    return min((charge + rest) * step, limit)


def transferred(
    first: Bytes, second: Bytes, names: tuple[str, str], start: int
) -> Iterator[tuple[Account, float, Bytes]]:
    """Propose what a transfer may have done to the second of two reads, of whatever sizes.

    Returns:
        The finding, the bits it takes, and what the first becomes by it: as long as the second.
    """
    changed = transfers.changed_on_the_way(first, second, names)
    if changed is not None:
        yield (*changed, second)
        return   # bytes lost and gained at certain characters need no other name
    yield from shapes.shifted(first, second, names, start)


def _of_rules(rules: _Rules, pair: Pair, gapless: bool) -> Iterator[Explanation]:
    for rule in rules.always + (rules.addresses if gapless else ()):
        yield from rule(pair)


def _trusted(excess: float, limit: float) -> float:
    """Take an estimate of what one read has beyond the other for what it is worth.

    Compression overstates large differences: one read can never take more by itself than the other and the shortest
    way from it together.
    """
    bound = max(limit - MARGIN, 0.0)
    return max(min(excess, bound), -bound)


def _shortest(found: Iterable[Explanation]) -> list[Explanation]:
    best: dict[object, Explanation] = {}
    for one in found:
        key = (cause_of(one), one.turned)
        if key not in best or one.bits < best[key].bits:
            best[key] = one
    return sorted(best.values(), key=lambda e: e.bits)


def foretell_the_same(one: Explanation, other: Explanation) -> bool:
    """Whether two rules foretell the very same bytes, so that nothing in the reads can tell them apart."""
    if one.by_chance or other.by_chance:   # what happens by chance foretells nothing
        return False
    return one.turned == other.turned and np.array_equal(one.foretold, other.foretold)
