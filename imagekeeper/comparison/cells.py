"""Causes of differences that lie in single cells: lost charge, cells that follow the supply, and noise.

A programmed cell of an EPROM reads 0 because of its charge; when that is lost it reads 1, and at a higher supply
voltage sooner. So charge loss shows as bits that go from 0 to 1, in cells all over the chip and not in lines. Memories
that hold no charge, such as mask ROMs, fuse PROMs and static RAM, cannot lose it.

Sources: makers' data sheets give the erased state as 1; the effect of the supply voltage is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from imagekeeper.comparison.coding import choice_bits, subset_bits
from imagekeeper.comparison.pair import Account, Explanation, Pair, ones, stretches_of
from imagekeeper.sentences.say import Phrase

#: What a known order of supply voltages speaks for charge loss, and against it. [bit]
VOLTS_FIT, VOLTS_AGAINST = 4.0, 8.0

#: Where so many cells changed that their shares on each line can be told, no line has so many times another's share.
MANY, UNEVEN = 64, 2.0

#: So many cells at least must have changed one way before it is a way. [bit]
FEWEST = 4


def scattered(pair: Pair) -> Iterator[Explanation]:
    """Differences without a line of their own: charge loss in one direction, or noise in both."""
    if not len(pair.at):
        return
    up, down = ones(pair.up), ones(pair.down)
    shared = {"zero_to_one": up, "one_to_zero": down, "by_data_line": pair.by_line}
    spread = sum(count > 0 for count in pair.by_line)
    total_ones = ones(pair.first)
    zeros = 8 * pair.size - total_ones
    heavy = up >= MANY and up * 6 > zeros
    one_way = up >= FEWEST and up >= 9 * down and up * 10 < zeros * 9   # one that lost nearly all is blank
    one_way = one_way and not (heavy and _uneven(pair))
    if pair.holds_charge and one_way:
        foretold = pair.first.copy()
        foretold[pair.at] |= pair.up
        phrase, against, bits = _at_volts(pair)
        yield Explanation(
            accounts=(
                Account.of(
                    "charge-loss", up=up, flips=pair.flips, other=pair.names[0], lines_hit=spread, at_volts=phrase,
                    detail={**shared, "read": pair.names[1], **against},
                ),
            ),
            bits=choice_bits(2) + min(subset_bits(zeros, up), _along_the_array(pair, up))
            + (subset_bits(total_ones, down) if down else 0.0) + bits,
            foretold=foretold,
        )  # fmt: skip
    foretold = pair.first.copy()
    foretold[pair.at] ^= pair.up | pair.down
    yield Explanation(
        accounts=(
            Account.of(
                "random-noise", flips=pair.flips, addresses=len(pair.at), up=up, down=down, lines_hit=spread,
                detail=shared,
            ),
        ),
        bits=pair.plain_bits,
        foretold=foretold,
    )


#: In so many stretches at most a loss is told stretch by stretch.
MOST_STRETCHES = 8

#: Columns of an array lie so many addresses apart, and stand for so many places at least. [byte]
COLUMNS, PLACES = (8, 16, 32, 64, 128, 256, 512, 1024), 16


def _along_the_array(pair: Pair, up: int) -> float:
    """Bits to say which cells lost their charge, where they lie in a few rows or in one column of the array.

    Rows and columns of cells share their lines; addresses that follow one another share a row, those a power of two
    apart a column. Common practice, no source.
    """
    bits = math.inf
    stretches = stretches_of(pair.at)
    if len(stretches) <= MOST_STRETCHES:
        zeros = sum(ones(~pair.first[begin:end]) for begin, end in stretches)
        if up * 10 < zeros * 9:   # where all went, it was not cell by cell
            bits = 2 * len(stretches) * choice_bits(pair.size) + subset_bits(zeros, up)
    for apart in COLUMNS:
        column = int(pair.at[0]) % apart
        if pair.size >= PLACES * apart and np.all(pair.at % apart == column):
            zeros = ones(~pair.first[column::apart])
            if up * 10 < zeros * 9:
                bits = min(bits, choice_bits(len(COLUMNS)) + choice_bits(apart) + subset_bits(zeros, up))
    return bits


def _uneven(pair: Pair) -> bool:
    """Whether some lines lost far more of their zeros than others, which cells all over a chip do not."""
    lost = [int(np.count_nonzero(pair.up & np.uint8(1 << line))) for line in range(8)]
    zeros = [pair.size - int(np.count_nonzero(pair.first & np.uint8(1 << line))) for line in range(8)]
    shares = [one / of for one, of in zip(lost, zeros, strict=True) if of * 16 > pair.size]
    return len(shares) > 1 and max(shares) > UNEVEN * min(shares)


def _at_volts(pair: Pair) -> tuple[Phrase | str, dict[str, object], float]:
    """Say what the supply voltages of the two reads tell of a charge lost in the second."""
    other, lossy = pair.volts
    if lossy is None or other is None or lossy == other:
        return "", {}, 0.0
    fits = lossy > other
    phrase = Phrase("charge-loss/volts-fit" if fits else "charge-loss/volts-against", lossy=lossy, other=other)
    return phrase, {"volts": [other, lossy], "volts_against": not fits}, -VOLTS_FIT if fits else VOLTS_AGAINST
