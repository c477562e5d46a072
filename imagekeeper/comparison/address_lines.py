"""Causes of differences that lie in address lines: stuck, unstable, inverted."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from imagekeeper.comparison.coding import choice_bits, noise_bits, subset_bits
from imagekeeper.comparison.pair import Account, Bytes, Explanation, Pair, ones
from imagekeeper.units import plural, size_text


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
            yield Explanation(
                accounts=(
                    Account(
                        code="address-line-stuck",
                        why=f"{pair.names[1]} holds the same bytes where A{line} is 0 and where it is 1: those that "
                        f"{pair.names[0]} has where it is {value} ({plural(changed, 'address', 'addresses')} changed)",
                        hint=f"look for an open, shorted or bent {{A{line}}}, check that the right device size is set, "
                        "and "
                        f"read again",
                        lines=(f"A{line}",),
                        detail={"line": f"A{line}", "value": value, "changed": changed, "read": pair.names[1]},
                    ),
                ),
                bits=choice_bits(2 * pair.address_lines) + noise_bits(pair.size, left), foretold=foretold,
            )  # fmt: skip


def unstable(pair: Pair) -> Iterator[Explanation]:
    """Now and then the second read has the byte that belongs to the address with one line the other way."""
    at = pair.at
    some = at[:: max(len(at) // 4096, 1)]
    for line in range(pair.address_lines):
        near = some ^ (1 << line)
        near = np.where(near < pair.size, near, some)
        if np.count_nonzero(pair.second[some] == pair.first[near]) * 2 < len(some):
            continue
        partner = at ^ (1 << line)
        inside = partner < pair.size
        hit = np.zeros(len(at), bool)
        hit[inside] = pair.second[at[inside]] == pair.first[partner[inside]]
        if np.count_nonzero(hit) * 3 < len(at) * 2 or not _fits(pair, line):
            continue
        low, high = _halves(pair.first, line)
        open_to = int(np.count_nonzero(low != high))   # pairs of addresses where it would show
        is_high = (at >> line) & 1 == 1
        for bits, chosen, to in (
            (subset_bits(2 * open_to, int(np.count_nonzero(hit))), hit, "both ways"),
            (subset_bits(open_to, int(np.count_nonzero(hit & is_high))), hit & is_high, "0 in place of 1"),
            (subset_bits(open_to, int(np.count_nonzero(hit & ~is_high))), hit & ~is_high, "1 in place of 0"),
        ):
            count = int(np.count_nonzero(chosen))
            if not count:
                continue
            foretold = pair.first.copy()
            foretold[at[chosen]] = pair.second[at[chosen]]
            left = ones(foretold ^ pair.second)
            cost = choice_bits(3 * pair.address_lines) + choice_bits(pair.size) / 2 + bits + noise_bits(pair.size, left)
            yield Explanation(
                accounts=(
                    Account(
                        code="address-line-unstable",
                        why=f"at {count} of {plural(len(at), 'differing address', 'differing addresses')} the byte is "
                        f"the one that belongs where A{line} is the other way ({to})",
                        hint=f"clean {{A{line}}} and its socket contact, read more slowly, and read again",
                        lines=(f"A{line}",),
                        detail={"line": f"A{line}", "addresses": count, "of_addresses": len(at), "way": to},
                    ),
                ),
                bits=cost,
                foretold=foretold,
            )


#: Reorderings inside small groups: what is combined with the address by exclusive or, and what that is called.
_ORDERS = {
    1: "the two bytes of each pair",
    2: "the two pairs of each four bytes",
    3: "the four bytes of each group of four, backwards",
    7: "the eight bytes of each group of eight, backwards",
}


def exchanged_bytes(pair: Pair) -> Iterator[Explanation]:
    """The second read is the first with bytes or blocks exchanged within each group: some address lines inverted."""
    masks = {**_ORDERS, **{1 << k: f"the two halves of each {size_text(2 << k)}" for k in range(2, pair.address_lines)}}
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
                Account(
                    code="bytes-exchanged",
                    why=f"{pair.names[1]} is {pair.names[0]} with {what} exchanged "
                    f"({plural(changed, 'address', 'addresses')} changed)",
                    hint="the byte order of one of the two is set differently, or two chips of a pair changed places: "
                    "find "
                    "out which order the machine uses, and reorder the other",
                    severity="warning", lines=tuple(f"A{k}" for k in range(pair.address_lines) if mask >> k & 1),
                    detail={"address_xor": mask, "changed": changed},
                ),
            ),
            bits=choice_bits(4 + pair.address_lines) + noise_bits(pair.size, left), foretold=foretold,
        )  # fmt: skip
