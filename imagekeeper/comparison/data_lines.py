"""Causes of differences that lie in data lines: stuck, unstable, shorted, inverted.

Exchanged lines are in `exchanges`.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np

from imagekeeper.comparison.coding import choice_bits, noise_bits, subset_bits
from imagekeeper.comparison.pair import Account, Explanation, Pair, ones, plane_ones, told_bits
from imagekeeper.units import plural

#: What speaks against a loss in one read when that which it would have lost looks like chance in the other. [bit]
CHANCE = 16.0

#: A line may differ from the rule at one address in so many: a second, smaller fault may lie over the first.
EXCEPTIONS = 100


def stuck(pair: Pair) -> Iterator[Explanation]:
    """A line reads the same at every address of the second, and both values in the first.

    Sign of the fault: AND over all bytes 1, or OR over all bytes 0, in one bit. Common practice, no source.
    """
    first, second = pair.planes
    for line in range(8):
        high = plane_ones(second[line])
        exceptions, value = min((high, 0), (pair.size - high, 1))
        if exceptions * EXCEPTIONS > pair.size:
            continue
        mask = np.uint8(1 << line)
        foretold = pair.first | mask if value else pair.first & ~mask
        changed = int(np.count_nonzero(foretold != pair.first))
        if changed <= exceptions:
            continue
        where = "at all" if not exceptions else f"at all but {exceptions} of the"
        # where the rule has exceptions, a line that only repeats this one tells nothing of it: it may be shorted to it
        alike = int(mask)
        if exceptions:
            alike = sum(1 << j for j in range(8) if plane_ones(first[line] ^ first[j]) * EXCEPTIONS <= pair.size)
        told, by_chance = told_bits(pair.first & mask > 0, pair.first & np.uint8(255 ^ alike))
        yield Explanation(
            accounts=(
                Account(
                    code="data-line-stuck",
                    why=f"D{line} reads {value} {where} {pair.size} addresses of {pair.names[1]}, where "
                    f"{pair.names[0]} "
                    f"has both values ({plural(changed, 'address', 'addresses')} changed)",
                    hint=f"look for an open, shorted or dirty contact at {{D{line}}}, reseat the chip and read again; "
                    "a "
                    f"line stuck in the reader shows in every chip",
                    lines=(f"D{line}",),
                    detail={"line": f"D{line}", "value": value, "changed": changed, "read": pair.names[1]},
                ),
            ),
            # naming the line and its value, and what is left over
            bits=choice_bits(16) + noise_bits(pair.size, ones(foretold ^ pair.second)) + (CHANCE if by_chance else 0.0),
            foretold=foretold,
            richer_by=told,
        )


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
            (subset_bits(low, up), True, False),
            (subset_bits(high, down), False, True),
        ]
        for bits, with_up, with_down in ways:
            taken = up * with_up + down * with_down
            eligible = pair.size if with_up and with_down else low if with_up else high
            if not taken or (with_up and with_down and not (up and down)):
                continue
            if taken * 10 > eligible * 9:   # always wrong is not unstable
                continue
            foretold = pair.first.copy()
            where = ((pair.up if with_up else 0) | (pair.down if with_down else 0)) & mask
            foretold[pair.at] ^= where.astype(np.uint8)
            to = "both ways" if with_up and with_down else "from 0 to 1" if with_up else "from 1 to 0"
            yield Explanation(
                accounts=(
                    Account(
                        code="data-line-unstable",
                        why=f"{taken} of {plural(pair.flips, 'differing bit')} are on D{line}, {to}, at {taken} of the "
                        f"{plural(eligible, 'address', 'addresses')} where it could be",
                        hint=f"clean {{D{line}}} and its socket contact, reseat the chip, and read again more slowly",
                        lines=(f"D{line}",),
                        detail={
                            "line": f"D{line}", "zero_to_one": up * with_up, "one_to_zero": down * with_down,
                            "of_bits": pair.flips,
                        },
                    ),
                ),
                # naming line and way, which addresses, and one more number than a stuck line has
                bits=choice_bits(24) + choice_bits(pair.size) / 2 + bits + noise_bits(pair.size, pair.flips - taken),
                foretold=foretold,
                richer_by=richer_by,
            )  # fmt: skip


def shorted(pair: Pair) -> Iterator[Explanation]:
    """Two lines of the second carry the same: both the AND, or both the OR, of what they carry in the first.

    Which of the two depends on what drives the lines: a stronger low gives AND, a stronger high OR. From memory.
    """
    first, second = pair.planes
    base = [plane_ones(first[line] ^ second[line]) for line in range(8)]
    for i, j in combinations(range(8), 2):
        unequal = plane_ones(second[i] ^ second[j])
        if not base[i] + base[j] or unequal * EXCEPTIONS > pair.size:
            continue
        for kind in ("and", "or"):
            joined = first[i] & first[j] if kind == "and" else first[i] | first[j]
            left = plane_ones(joined ^ second[i]) + plane_ones(joined ^ second[j])
            changed = base[i] + base[j]
            if left * 4 > changed:
                continue
            both = np.uint8(1 << i | 1 << j)
            bits = pair.first & both
            set_both = bits == both if kind == "and" else bits != 0
            foretold = (pair.first & ~both) | np.where(set_both, both, np.uint8(0))
            told, by_chance = told_bits((bits != 0) & (bits != both), pair.first & ~both)
            cost = choice_bits(56) + noise_bits(pair.size, pair.flips - changed + left)
            yield Explanation(
                accounts=(
                    Account(
                        code="data-lines-shorted",
                        why=f"D{i} and D{j} are equal at all{f' but {unequal}' if unequal else ''} addresses of "
                        f"{pair.names[1]}, each the {kind.upper()} of "
                        f"what they are in {pair.names[0]}",
                        hint=f"look for a solder bridge or bent pin between {{D{i}}} and {{D{j}}}, then read again",
                        lines=(f"D{i}", f"D{j}"),
                        detail={"lines": [f"D{i}", f"D{j}"], "wired": kind, "changed": changed, "read": pair.names[1]},
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
            Account(
                code="inverted", why=f"{pair.flips} of {total} bits are opposite",
                hint="one of the two went through an inverting buffer or was taken from a part whose blank state is 0: "
                "find "
                "out which is true, and invert the other",
                severity="warning", detail={"bits": pair.flips},
            ),
        ),
        bits=choice_bits(2) + noise_bits(pair.size, total - pair.flips), foretold=foretold,
    )  # fmt: skip


def scattered(pair: Pair) -> Iterator[Explanation]:
    """Differences without a line of their own: charge loss in one direction, or noise in both.

    A programmed cell of an EPROM reads 0 because of its charge; when that is lost it reads 1. So charge loss shows as
    bits that go from 0 to 1, in cells all over the chip and not in lines. Sources: makers' data sheets give the
    erased state as 1; the effect of supply voltage is common practice, no source.
    """
    up, down = ones(pair.up), ones(pair.down)
    total_ones = ones(pair.first)
    zeros = 8 * pair.size - total_ones
    shared = {"zero_to_one": up, "one_to_zero": down}
    by_line = [int(np.count_nonzero((pair.up | pair.down) & np.uint8(1 << line))) for line in range(8)]
    spread = f"spread over {plural(sum(count > 0 for count in by_line), 'data line')}"
    if up and up >= 9 * down and up * 10 < zeros * 9:   # a chip that lost nearly all its zeros is blank
        foretold = pair.first.copy()
        foretold[pair.at] |= pair.up
        yield Explanation(
            accounts=(
                Account(
                    code="charge-loss",
                    why=f"{up} of {plural(pair.flips, 'differing bit')} read 0 in {pair.names[0]} and 1 in "
                    f"{pair.names[1]}, {spread}",
                    hint="cells are near the threshold: read again at a lower supply voltage within the data sheet, "
                    "cool, "
                    "several times, and trust the 0 where reads differ; make a replacement soon",
                    detail={**shared, "read": pair.names[1], "by_data_line": by_line},
                ),
            ),
            bits=choice_bits(2) + subset_bits(zeros, up) + (subset_bits(total_ones, down) if down else 0),
            foretold=foretold,
        )  # fmt: skip
    foretold = pair.first.copy()
    foretold[pair.at] ^= pair.up | pair.down
    yield Explanation(
        accounts=(
            Account(
                code="random-noise",
                why=f"{plural(pair.flips, 'differing bit')} at {plural(len(pair.at), 'address', 'addresses')}, {up} "
                f"from 0 to 1 and {down} from 1 to 0, {spread}, in no pattern that fits better",
                hint="reseat the chip, check the supply and the cable, read more slowly, and take three reads or more",
                detail={**shared, "by_data_line": by_line},
            ),
        ),
        bits=pair.plain_bits,
        foretold=foretold,
    )
