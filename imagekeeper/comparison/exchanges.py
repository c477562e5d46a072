"""Exchanged lines as an explanation: data lines, address lines, or both at once, with the wiring as evidence."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from imagekeeper.comparison import wiring
from imagekeeper.comparison.coding import choice_bits, noise_bits, permutation_bits
from imagekeeper.comparison.pair import Account, Explanation, Pair, ones, plane_ones
from imagekeeper.comparison.wiring import Wiring
from imagekeeper.sentences.say import Phrase

#: D0 to D7 the other way round.
REVERSED = (7, 6, 5, 4, 3, 2, 1, 0)


def exchanged(pair: Pair) -> Iterator[Explanation]:
    """Any exchange of data lines and of address lines that turns the one read into the other, exactly."""
    found = wiring.find(pair.first, pair.second)
    plain = Wiring(tuple(range(pair.address_lines)), REVERSED)
    if np.array_equal(wiring.exchange_data_lines(pair.first, REVERSED), pair.second):
        # the commonest exchange, where the content leaves a choice
        alike = found[0].data_alike if found else ()
        found = (Wiring(plain.address, REVERSED, alike), *(w for w in found if w.data != REVERSED))
    for solution in found[:1]:
        moved = pair.first
        if solution.moved_address:
            moved = wiring.exchange_address_lines(moved, solution.address)
        foretold = wiring.exchange_data_lines(moved, solution.data)
        bits = permutation_bits(len(solution.address), len(solution.moved_address))
        bits += permutation_bits(8, len(solution.moved_data)) + noise_bits(pair.size, 0)
        yield Explanation(accounts=tuple(_accounts(pair, solution, found)), bits=bits, foretold=foretold)


def roughly_exchanged_data(pair: Pair) -> Iterator[Explanation]:
    """Data lines that were exchanged, with some further damage: each line is matched with the one most like it."""
    first, second = pair.planes
    differing = np.array([[plane_ones(first[j] ^ second[i]) for j in range(8)] for i in range(8)])
    best = tuple(int(row.argmin()) for row in differing)
    if sorted(best) != list(range(8)) or best == tuple(range(8)):
        return
    left = int(sum(differing[i][best[i]] for i in range(8)))
    exact = left == 0 and pair.size & (pair.size - 1) == 0   # which the full search has found already
    if left * 4 > pair.flips or exact:
        return
    solution = Wiring(tuple(range(pair.address_lines)), best)
    foretold = wiring.exchange_data_lines(pair.first, best)
    bits = permutation_bits(8, len(solution.moved_data)) + choice_bits(2)
    bits += noise_bits(pair.size, ones(foretold ^ pair.second))
    yield Explanation(accounts=tuple(_accounts(pair, solution, (solution,))), bits=bits, foretold=foretold)


def roughly_exchanged_addresses(pair: Pair) -> Iterator[Explanation]:
    """Address lines that were exchanged, with some further damage."""
    if len(pair.at) * 20 < pair.size:   # no content moved
        return
    first, second = (np.bincount(side, minlength=256) for side in (pair.first, pair.second))
    if np.array_equal(first, second):   # all of it moved and nothing else, which the full search finds
        return
    address = wiring.find_roughly(pair.first, pair.second)
    if address is None:
        return
    solution = Wiring(address, tuple(range(8)))
    foretold = wiring.exchange_address_lines(pair.first, address)
    left = ones(foretold ^ pair.second)
    if left * 4 > pair.flips:
        return
    bits = permutation_bits(len(address), len(solution.moved_address)) + choice_bits(2) + noise_bits(pair.size, left)
    yield Explanation(accounts=tuple(_accounts(pair, solution, (solution,))), bits=bits, foretold=foretold)


def table(moved: tuple[int, ...], lines: tuple[int, ...], letter: str) -> list[dict[str, str]]:
    """Write the exchange as rows of a wiring table.

    Example:
        >>> table((0, 1), (1, 0, 2), "D")
        [{'line': 'D0', 'carries': 'D1'}, {'line': 'D1', 'carries': 'D0'}]
    """
    return [{"line": f"{letter}{i}", "carries": f"{letter}{lines[i]}"} for i in moved]


def _accounts(pair: Pair, solution: Wiring, found: tuple[Wiring, ...]) -> Iterator[Account]:
    ambiguous = len(found) > 1 or wiring.solutions(solution) > 1
    others = [
        {
            "address": table(other.moved_address, other.address, "A"),
            "data": table(other.moved_data, other.data, "D"),
        }
        for other in found[1:]
    ]
    alike = [[f"D{line}" for line in lines] for lines in solution.data_alike]
    shared = {"ambiguous": ambiguous, "other_solutions": others, "alike": alike}
    doubt = _doubt(len(found), alike)
    if solution.moved_address:
        rows = table(solution.moved_address, solution.address, "A")
        yield Account.of(
            "address-lines-exchanged", read=pair.names[1], other=pair.names[0], rows=_in_words(rows), doubt=doubt,
            lines=tuple(f"A{i}" for i in solution.moved_address),
            detail={"wiring": rows, **shared},
        )
    if solution.moved_data:
        rows = table(solution.moved_data, solution.data, "D")
        backwards = solution.data == REVERSED
        yield Account.of(
            "bits-reversed" if backwards else "data-lines-exchanged", "warning" if backwards else "fault",
            read=pair.names[1], other=pair.names[0], rows=_in_words(rows), doubt=doubt,
            lines=tuple(f"D{i}" for i in solution.moved_data),
            detail={"wiring": rows, **shared},
        )


def _in_words(rows: list[dict[str, str]]) -> list[Phrase]:
    return [Phrase("data-lines-exchanged/carries", line=row["line"], carried=row["carries"]) for row in rows]


def _doubt(solutions: int, alike: list[list[str]]) -> str:
    said = ""
    if solutions > 1:
        said += str(Phrase("address-lines-exchanged/several", count=solutions))
    if alike:
        said += str(Phrase("data-lines-exchanged/alike", groups="; ".join(", ".join(lines) for lines in alike)))
    return said
