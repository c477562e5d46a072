"""Causes of differences that lie in address lines: stuck, unstable, shorted, inverted."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray

from imagekeeper.comparison.coding import choice_bits, noise_bits, open_places, subset_bits
from imagekeeper.comparison.pair import Account, Bytes, Explanation, Pair, ones
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import address_digits, range_text


def _halves(data: Bytes, line: int) -> tuple[Bytes, Bytes]:
    """Part data by an address line: where it is 0, and where it is 1; the size must be a multiple of both halves."""
    cube = data.reshape(-1, 2, 1 << line)
    return cube[:, 0, :], cube[:, 1, :]


def _fits(pair: Pair, line: int) -> bool:
    return pair.size % (2 << line) == 0


def _with_line(data: Bytes, line: int, value: int) -> Bytes:
    """Read data with an address line held at a value; where that leads outside, the byte stays."""
    if len(data) % (2 << line) == 0:
        foretold = np.empty_like(data)
        for half in _halves(foretold, line):
            half[:] = _halves(data, line)[value]
        return foretold
    at = np.arange(len(data))
    source = at | 1 << line if value else at & ~(1 << line)
    return data[np.where(source < len(data), source, at)]


#: Where a stuck line would change fewer than one address in so many, it must explain more than it leaves.
QUIET = 32


def stuck(pair: Pair) -> Iterator[Explanation]:
    """A line does nothing in the second read: where it is 0 and where it is 1 the same bytes come.

    With line k stuck at v, the second read at x is the first at x with bit k set to v. Source: Intel, Embedded Design
    Handbook (683689), section on memory testing: with A1 stuck low, location 2 and location 0 are one cell.
    """
    for line in range(pair.address_lines):
        partner = pair.sample ^ (1 << line)
        inside = partner < pair.size
        here, there = pair.second[pair.sample[inside]], pair.second[partner[inside]]
        if not len(here) or np.count_nonzero(here != there) * 10 > len(here):
            continue
        for value in (0, 1):
            foretold = _with_line(pair.first, line, value)
            left = ones(foretold ^ pair.second)
            if left >= pair.flips:
                continue
            changed = int(np.count_nonzero(foretold != pair.first))
            if changed * QUIET < pair.size and left >= changed:   # the line tells little in the first read either
                continue
            yield Explanation(
                accounts=(
                    Account.of(
                        "address-line-stuck/reads", lines=(f"A{line}",), other=pair.names[0],
                        detail={"line": f"A{line}", "value": value, "changed": changed, "read": pair.names[1]},
                    ),
                ),
                bits=choice_bits(2 * pair.address_lines) + noise_bits(pair.size, left),
                foretold=foretold,
            )


#: Of so many pairs of addresses that a line tells apart, a loose one leaves one at least.
SHOWS = 32

#: So many lines may be loose at once: each explains its part of the places.
MOST_LOOSE = 3


def unstable(pair: Pair) -> Iterator[Explanation]:
    """Now and then the second read has the byte that belongs to the address with one line the other way.

    Where the line is loose in both reads, some of the bytes are the neighbour's in the one, some in the other.
    """
    at = pair.at
    some = at[:: max(len(at) // 4096, 1)]
    for line in range(pair.address_lines):
        if not _fits(pair, line):
            continue
        near = some ^ (1 << line)
        likely = (pair.second[some] == pair.first[near]) | (pair.first[some] == pair.second[near])
        if np.count_nonzero(likely) * MOST_LOOSE < len(some):
            continue
        partner = at ^ (1 << line)
        hit = pair.second[at] == pair.first[partner]
        if np.count_nonzero(hit) * MOST_LOOSE >= len(at):
            yield from _loose_in_one(pair, line, hit)
        if np.count_nonzero(hit) * 3 < len(at) * 2 <= np.count_nonzero(likely) * 3 * (len(at) / len(some)):
            yield from _loose_in_both(pair, line, hit, (pair.first[at] == pair.second[partner]) & ~hit)


def _loose_in_one(pair: Pair, line: int, hit: NDArray[np.bool_]) -> Iterator[Explanation]:
    """The second has the neighbour's bytes at some places, either way or one way only."""
    low, high = _halves(pair.first, line)
    open_to = int(np.count_nonzero(low != high))   # pairs of addresses where it would show
    if int(np.count_nonzero(np.not_equal(*_halves(pair.second, line)))) * SHOWS < open_to:
        return   # there the line does nothing at all
    is_high = (pair.at >> line) & 1 == 1
    for where, chosen, to in (
        (2 * open_to, hit, "both ways"), (open_to, hit & is_high, "0 in place of 1"),
        (open_to, hit & ~is_high, "1 in place of 0"),
    ):  # fmt: skip
        if np.count_nonzero(chosen) > 1 and np.count_nonzero(chosen) * 20 <= where * 19:   # always is stuck
            yield _unstable(pair, line, where, chosen, to)


def _loose_in_both(
    pair: Pair, line: int, hit: NDArray[np.bool_], back: NDArray[np.bool_]
) -> Iterator[Explanation]:
    """Some bytes of the second are the neighbour's, and some of the first."""
    told = np.count_nonzero(hit | back)
    if min(np.count_nonzero(hit), np.count_nonzero(back)) * 10 < told or told * 10 < len(hit) * 9:
        return   # a program that was moved by a word has its neighbours' bytes at many places, and others besides
    strange, step = pair.strange_at
    charge = max(-float(strange[hit[::step]].sum()), 0.0) + max(float(strange[back[::step]].sum()), 0.0)
    open_to = sum(int(np.count_nonzero(np.not_equal(*_halves(side, line)))) for side in (pair.first, pair.second))
    yield _unstable(pair, line, 2 * open_to, hit | back, "both ways", in_both=charge * step)


#: A stretch in which the line stayed shows at so many addresses at least, and there are so many stretches at most.
FEWEST_SHOWN, MOST_STRETCHES = 8, 4


def lost_for_a_while(pair: Pair) -> Iterator[Explanation]:
    """For a stretch the second read has what belongs where one line is the other way; before and after it is right.

    Where a line is loose now and then, bytes between are right as well.
    """
    digits = address_digits(pair.start + pair.size)
    for line, value in product(range(pair.address_lines), (0, 1)):
        spans = _stretches(pair, line, value) if _fits(pair, line) else []
        if not spans:
            continue
        told, foretold = _with_line(pair.first, line, value), pair.first.copy()
        for begin, end in spans:
            foretold[begin:end] = told[begin:end]
        yield Explanation(
            accounts=(
                Account.of(
                    "contact-lost/address-line", lines=(f"A{line}",),
                    spans=[range_text(pair.start + begin, end - begin, digits) for begin, end in spans],
                    detail={
                        "stretches": [{"start": pair.start + begin, "length": end - begin} for begin, end in spans],
                        "line": f"A{line}", "value": value, "read": pair.names[1],
                    },
                ),
            ),
            bits=choice_bits(2 * pair.address_lines) + 2 * len(spans) * choice_bits(pair.size)
            + noise_bits(pair.size, ones(foretold ^ pair.second)),
            foretold=foretold,
        )  # fmt: skip


def _stretches(pair: Pair, line: int, value: int) -> list[tuple[int, int]]:
    """Find where a line stays at a value wherever that shows; none if it does so nearly always, or only at times."""
    here = pair.at[(pair.at >> line & 1) != value]
    here = here[pair.second[here] == pair.first[here ^ (1 << line)]]
    if len(here) < FEWEST_SHOWN or len(here) * 3 < len(pair.at) * 2:
        return []
    open_to = np.flatnonzero(_with_line(pair.first, line, value) != pair.first)   # where it would show
    found, shown = [], 0
    for run in np.split(here, np.flatnonzero(np.diff(np.searchsorted(open_to, here)) > 1) + 1):
        begin, end = int(run[0]), int(run[-1]) + 1
        if len(run) >= FEWEST_SHOWN and np.ptp(pair.second[begin:end]):   # one value needs no line
            found.append((begin, end))
            shown += len(run)
    in_one_piece = len(found) <= MOST_STRETCHES and shown * 10 >= len(here) * 9
    return found if in_one_piece and shown * 20 <= len(open_to) * 19 else []   # always is stuck


def _unstable(
    pair: Pair, line: int, where: int, chosen: NDArray[np.bool_], to: str, in_both: float | None = None
) -> Explanation:
    count = int(np.count_nonzero(chosen))
    foretold = pair.first.copy()
    foretold[pair.at[chosen]] = pair.second[pair.at[chosen]]
    where = open_places(where, count, pair.size)
    naming = choice_bits(3 * pair.address_lines) + choice_bits(pair.size) / 2
    cost = naming + subset_bits(where, count)
    naming += choice_bits(where + 1)
    cost += noise_bits(pair.size, ones(foretold ^ pair.second))
    detail = {"line": f"A{line}", "addresses": count, "of_addresses": len(pair.at), "way": to}
    account = Account.of(
        "address-line-unstable" if in_both is None else "address-line-unstable/both", lines=(f"A{line}",),
        detail=detail | ({"read": pair.names[1]} if in_both is None else {"both": True}),
    )  # fmt: skip
    if in_both is None:
        return Explanation(accounts=(account,), bits=cost, foretold=foretold, naming=naming)
    return Explanation(accounts=(account,), bits=cost + count + in_both, foretold=foretold, richer_by=0.0)


def shorted(pair: Pair) -> Iterator[Explanation]:
    """Two lines are tied together in the second read: both carry the AND, or the OR, of the two.

    Then three quarters of the chip are right, or hold what belongs elsewhere. Which of the two depends on what drives
    the lines: a stronger low gives AND, a stronger high OR. From memory.
    """
    if pair.size & (pair.size - 1):
        return
    some = pair.sample
    seen = pair.second[some]
    quiet = pair.first[some] == seen
    for i, j in combinations(range(pair.address_lines), 2):
        both = 1 << i | 1 << j
        unequal = ((some >> i) ^ (some >> j)) & 1 == 1
        if np.count_nonzero(~quiet & ~unequal) * 4 > np.count_nonzero(~quiet):
            continue   # elsewhere nothing changes
        for wired in ("and", "or"):
            source = np.where(unequal, some & ~both if wired == "and" else some | both, some)
            if np.count_nonzero(pair.first[source] != seen) * 4 > np.count_nonzero(~quiet):
                continue
            at = np.arange(pair.size)
            apart = ((at >> i) ^ (at >> j)) & 1 == 1
            foretold = pair.first[np.where(apart, at & ~both if wired == "and" else at | both, at)]
            left = ones(foretold ^ pair.second)
            if left >= pair.flips:
                continue
            lines = (f"A{i}", f"A{j}")
            yield Explanation(
                accounts=(
                    Account.of(
                        "address-lines-shorted/reads", lines=lines, other=pair.names[0], kind=wired.upper(),
                        detail={
                            "lines": list(lines), "wired": wired, "read": pair.names[1],
                            "changed": int(np.count_nonzero(foretold != pair.first)),
                        },
                    ),
                ),
                bits=choice_bits(pair.address_lines**2) + noise_bits(pair.size, left),
                foretold=foretold,
            )  # fmt: skip


#: Reorderings inside small groups: what is combined with the address by exclusive or, and what that is called.
_ORDERS = {
    1: Phrase("bytes-exchanged/pairs"),
    2: Phrase("bytes-exchanged/pairs-of-pairs"),
    3: Phrase("bytes-exchanged/four-backwards"),
    7: Phrase("bytes-exchanged/eight-backwards"),
}


def exchanged_bytes(pair: Pair) -> Iterator[Explanation]:
    """The second read is the first with bytes or blocks exchanged within each group: some address lines inverted."""
    halves = {1 << k: Phrase("bytes-exchanged/halves", size=2 << k) for k in range(2, pair.address_lines)}
    masks = {**_ORDERS, **halves}
    for mask, what in masks.items():
        if pair.size % (1 << mask.bit_length()):
            continue
        sampled = pair.second[pair.sample] != pair.first[pair.sample ^ mask]
        if np.count_nonzero(sampled) * 4 > len(sampled):
            continue
        foretold = pair.first[np.arange(pair.size) ^ mask]
        left = ones(foretold ^ pair.second)
        if left * 2 > pair.flips:
            continue
        changed = int(np.count_nonzero(foretold != pair.first))
        yield Explanation(
            accounts=(
                Account.of(
                    "bytes-exchanged", "warning", read=pair.names[1], other=pair.names[0], what=what,
                    lines=tuple(f"A{k}" for k in range(pair.address_lines) if mask >> k & 1),
                    detail={"address_xor": mask, "changed": changed},
                ),
            ),
            bits=choice_bits(4 + pair.address_lines) + noise_bits(pair.size, left),
            foretold=foretold,
        )
