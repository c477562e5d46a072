"""Causes of differences that lie in the time a chip is given: outputs too slow, or the byte before read once more.

A reader counts its addresses upwards, so that what stood on the outputs before is the byte of the address below.
Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from imagekeeper.comparison.coding import choice_bits, noise_bits, open_places, subset_bits
from imagekeeper.comparison.pair import Account, Bytes, Explanation, Pair, ones


def before(data: Bytes) -> Bytes:
    """Give the byte that stood on the outputs before each: that of the address below.

    Example:
        >>> before(np.array([1, 2, 3], np.uint8)).tolist()
        [1, 1, 2]
    """
    return np.concatenate((data[:1], data[:-1]))


def _late_bits(pair: Pair, hit: Bytes, where: Bytes) -> float:
    """Bits to say which bits came late: each for itself, or first which bytes and then which of their bits."""
    taken, late = ones(hit), hit != 0
    each = subset_bits(open_places(ones(where), taken, 8 * pair.size), taken)
    places = open_places(int(np.count_nonzero(where)), int(late.sum()), pair.size)
    together = subset_bits(places, int(late.sum())) + subset_bits(ones(where[pair.at[late]]), taken)
    return min(each, together + 1.0)


#: Of the late bytes in which several bits had to change, so many came late with all of these: no output is so even.
WHOLE, FEWEST_WHOLE = 0.95, 12


def _whole_bytes(hit: Bytes, where: Bytes) -> bool:
    """Whether late bytes are late in every bit that had to change: then the byte before was read, and not its bits."""
    several = (hit != 0) & (np.bitwise_count(where) > 1)
    count = int(np.count_nonzero(several))
    return count >= FEWEST_WHOLE and int(np.count_nonzero(several & (hit == where))) >= WHOLE * count


def slow_outputs(pair: Pair) -> Iterator[Explanation]:
    """Bits of the second are wrong only where the byte before had the other value: they had no time to change.

    One direction alone is tried too, for outputs rise and fall at unlike speeds, and one line alone.
    """
    stale = (pair.first ^ before(pair.first))[pair.at]
    explained = (pair.up | pair.down) & stale
    if ones(explained) * 4 < pair.flips * 3 or _whole_bytes(explained, stale):
        return
    open_to = pair.first ^ before(pair.first)
    rising, falling = open_to & pair.first, open_to & ~pair.first
    ways = [
        ("both ways", explained, open_to, 3), ("rising", explained & pair.down, rising, 3),
        ("falling", explained & pair.up, falling, 3),
    ]  # fmt: skip
    busiest = int(np.argmax([np.count_nonzero(explained & np.uint8(1 << line)) for line in range(8)]))
    mask = np.uint8(1 << busiest)
    ways.append((f"D{busiest}", explained & mask, open_to & mask, 24))
    for way, hit, where, choices in ways:
        taken = ones(hit)
        if taken < 2 or taken * 4 < pair.flips * 3:
            continue
        foretold = pair.first.copy()
        foretold[pair.at] ^= hit
        line = (way,) if choices == 24 else ()
        yield Explanation(
            accounts=(
                Account.of(
                    "slow-outputs", other=pair.names[0], way="both ways" if line else way, lines=line,
                    on=f" on {way}" if line else "",
                    detail={
                        "bits": taken, "of_bits": pair.flips, "open_to": ones(where), "read": pair.names[1],
                        **({"line": way} if line else {}),
                    },
                ),
            ),
            bits=choice_bits(choices) + _late_bits(pair, hit, where) + noise_bits(pair.size, pair.flips - taken),
            foretold=foretold,
            naming=choice_bits(choices) + choice_bits(ones(where) + 1),
        )  # fmt: skip


#: A byte may be held over so many further addresses.
LONGEST_HOLD = 3


def _held(pair: Pair, hit: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Add the places that go on with the byte that was repeated at the place before."""
    every = np.zeros(pair.size, bool)
    every[pair.at[hit]] = True
    same = np.concatenate(([False], (pair.second[1:] == pair.second[:-1]) & (pair.first != pair.second)[1:]))
    for _ in range(LONGEST_HOLD):
        every[1:] |= every[:-1] & same[1:]
    return every[pair.at]


def previous_byte(pair: Pair) -> Iterator[Explanation]:
    """The second holds the byte of the address below at the places that differ: it was read too early."""
    last = before(pair.first)
    hit = pair.second[pair.at] == last[pair.at]
    for chosen in (hit, _held(pair, hit)):
        count = int(chosen.sum())
        if count < 2 or count * 4 < len(pair.at) * 3:
            continue
        open_to = int(np.count_nonzero(pair.first != last))
        foretold = pair.first.copy()
        foretold[pair.at[chosen]] = pair.second[pair.at[chosen]]
        yield Explanation(
            accounts=(
                Account.of(
                    "previous-byte-repeated",
                    detail={"addresses": count, "of_addresses": len(pair.at), "read": pair.names[1]},
                ),
            ),
            bits=1.0 + subset_bits(max(open_to, count), count) + noise_bits(pair.size, ones(foretold ^ pair.second))
            + (0.0 if chosen is hit else 2.0),
            foretold=foretold,
            naming=1.0 + choice_bits(max(open_to, count) + 1),
        )  # fmt: skip
