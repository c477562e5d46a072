"""Causes of differences that lie in data lines: stuck, unstable, shorted, inverted.

Exchanged lines are in `exchanges`.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np

from imagekeeper.comparison.coding import choice_bits, noise_bits, open_places, subset_bits
from imagekeeper.comparison.pair import Account, Bytes, Explanation, Pair, ones, plane_ones, told_bits
from imagekeeper.sentences.say import Phrase

#: What speaks against a loss in one read when that which it would have lost looks like chance in the other. [bit]
CHANCE = 16.0

#: A line may differ from the rule at one address in so many: a second, smaller fault may lie over the first.
EXCEPTIONS = 16

#: Fill at the end that is a smaller part than this of the whole is not looked at for itself.
SHORT_FILL = 100


def stuck(pair: Pair) -> Iterator[Explanation]:
    """A line reads the same at every address of the second, and both values in the first.

    Sign of the fault: AND over all bytes 1, or OR over all bytes 0, in one bit. Common practice, no source.
    """
    first, second = pair.planes
    fill = before_fill(pair.second)
    for line in range(8):
        high, body = plane_ones(second[line]), pair.size
        if min(high, pair.size - high) * EXCEPTIONS > pair.size:   # a transfer may have filled the end
            high, body = high - int(np.count_nonzero(pair.second[fill:] >> line & 1)), fill
        exceptions, value = min((high, 0), (body - high, 1))
        if exceptions * EXCEPTIONS > body:
            continue
        mask = np.uint8(1 << line)
        foretold = pair.first | mask if value else pair.first & ~mask
        foretold[body:] = pair.first[body:]
        changed = int(np.count_nonzero(foretold != pair.first))
        if changed <= exceptions:
            continue
        # where the rule has exceptions, a line that only repeats this one tells nothing of it: it may be shorted to it
        alike = int(mask)
        if exceptions:
            alike = sum(1 << j for j in range(8) if plane_ones(first[line] ^ first[j]) * EXCEPTIONS <= pair.size)
        told, by_chance = told_bits(pair.first & mask > 0, pair.first & np.uint8(255 ^ alike))
        yield Explanation(
            accounts=(
                Account.of(
                    "data-line-stuck/reads", size=pair.size, other=pair.names[0], lines=(f"D{line}",),
                    at=Phrase("data-line-stuck/but", exceptions=exceptions) if exceptions
                    else Phrase("data-line-stuck/at-all"),
                    detail={"line": f"D{line}", "value": value, "changed": changed, "read": pair.names[1]},
                ),
            ),
            # naming the line and its value, and what is left over
            bits=choice_bits(16) + noise_bits(pair.size, ones(foretold ^ pair.second)) + (CHANCE if by_chance else 0.0),
            foretold=foretold,
            richer_by=told,
        )


def before_fill(data: Bytes) -> int:
    """Give the place from which on there is only fill, of at least a hundredth of the whole."""
    other = np.flatnonzero(data != data[-1])
    begin = int(other[-1]) + 1 if len(other) else 0
    return begin if begin > 0 and (len(data) - begin) * SHORT_FILL > len(data) else len(data)


def unstable(pair: Pair) -> Iterator[Explanation]:
    """Bits of one line differ now and then, and those of other lines hardly ever.

    A bad contact floats towards one value more often than it takes both, so each direction is tried for itself.
    """
    first = pair.planes[0]
    for line in range(8):
        mask = np.uint8(1 << line)
        up, down = int(np.count_nonzero(pair.up & mask)), int(np.count_nonzero(pair.down & mask))
        if not up + down:
            continue
        high = plane_ones(first[line])
        low = pair.size - high
        richer_by: float | None = None
        if not low or not high:   # a line that is constant tells only how often it is 1
            richer_by = choice_bits(pair.size + 1) - told_bits(pair.second & mask > 0, pair.second & ~mask)[0]
        ways = [
            (subset_bits(pair.size, up + down), True, True),
            (subset_bits(open_places(low, up, pair.size), up), True, False),
            (subset_bits(open_places(high, down, pair.size), down), False, True),
        ]
        for bits, with_up, with_down in ways:
            taken = up * with_up + down * with_down
            eligible = pair.size if with_up and with_down else low if with_up else high
            if not taken or (with_up and with_down and not (up and down)):
                continue
            against = up + down - taken   # as many the other way as on other lines are noise; more are the line's own
            if against > 1 + (pair.flips - up - down) / 14:
                continue
            if taken * 10 > eligible * 9:   # always wrong is not unstable
                continue
            foretold = pair.first.copy()
            where = ((pair.up if with_up else 0) | (pair.down if with_down else 0)) & mask
            foretold[pair.at] ^= where.astype(np.uint8)
            way = "both ways" if with_up and with_down else "from 0 to 1" if with_up else "from 1 to 0"
            yield Explanation(
                accounts=(
                    Account.of(
                        "data-line-unstable", taken=taken, eligible=eligible, way=way, lines=(f"D{line}",),
                        detail={
                            "line": f"D{line}", "zero_to_one": up * with_up, "one_to_zero": down * with_down,
                            "of_bits": pair.flips,
                        },
                    ),
                ),
                # naming line and way, which addresses, and one more number than a stuck line has
                bits=choice_bits(24) + choice_bits(pair.size) / 2 + bits + noise_bits(pair.size, pair.flips - taken)
                + (CHANCE if richer_by is not None else 0.0),   # a line that never changes is more likely stuck
                foretold=foretold,
                richer_by=richer_by,
                naming=choice_bits(24) + choice_bits(pair.size) / 2 + choice_bits(eligible + 1),
            )  # fmt: skip


def shorted(pair: Pair) -> Iterator[Explanation]:
    """Two or three lines of the second carry the same: all the AND, or all the OR, of what they carry in the first.

    Which of the two depends on what drives the lines: a stronger low gives AND, a stronger high OR. From memory.
    """
    first, second = pair.planes
    base = [plane_ones(first[line] ^ second[line]) for line in range(8)]
    unequal = {
        lines: plane_ones(second[lines[0]] ^ second[lines[1]]) for lines in combinations(range(8), 2)
    }
    for count in (2, 3):
        for lines in combinations(range(8), count):
            most = max(unequal[two] for two in combinations(lines, 2))
            if sum(base[line] for line in lines) and most * EXCEPTIONS <= pair.size:
                yield from _shorted(pair, lines, most, sum(base[line] for line in lines))


def _shorted(pair: Pair, lines: tuple[int, ...], unequal: int, changed: int) -> Iterator[Explanation]:
    first, second = pair.planes
    every = np.uint8(sum(1 << line for line in lines))
    bits = pair.first & every
    for kind in ("and", "or"):
        joined = first[lines[0]].copy()
        for line in lines[1:]:
            joined = joined & first[line] if kind == "and" else joined | first[line]
        left = sum(plane_ones(joined ^ second[line]) for line in lines)
        if left * 4 > changed:
            continue
        all_set = bits == every if kind == "and" else bits != 0
        foretold = (pair.first & ~every) | np.where(all_set, every, np.uint8(0))
        told, by_chance = told_bits((bits != 0) & (bits != every), pair.first & ~every)
        cost = choice_bits(56 if len(lines) == 2 else 224) + noise_bits(pair.size, pair.flips - changed + left)
        names = tuple(f"D{line}" for line in lines)
        yield Explanation(
            accounts=(
                Account.of(
                    "data-lines-shorted/reads", other=pair.names[0], kind=kind.upper(), lines=names,
                    but=Phrase("data-lines-shorted/but", count=unequal) if unequal else "",
                    detail={"lines": list(names), "wired": kind, "changed": changed, "read": pair.names[1]},
                ),
            ),
            bits=cost + (CHANCE if by_chance else 0.0),
            foretold=foretold,
            richer_by=told,
        )


def inverted(pair: Pair) -> Iterator[Explanation]:
    """Every bit of the one is the opposite of the other's."""
    total = 8 * pair.size
    if pair.flips * 2 < total:
        return
    foretold = ~pair.first
    yield Explanation(
        accounts=(
            Account.of("inverted", "warning", total=total, detail={"bits": pair.flips}),
        ),
        bits=choice_bits(2) + noise_bits(pair.size, total - pair.flips),
        foretold=foretold,
    )
