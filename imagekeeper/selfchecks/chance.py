"""How likely a check is to hold by chance, when many are tried.

A check of k bits holds on bytes that know nothing of it once in 2^k. Who tries n of them must expect n / 2^k to hold,
and finds at least one as good with the chance 1 - (1 - 2^-k)^n. Wide checks hardly count against narrow ones and the
other way round: a check whose best result is more common than the one in question cannot bring it about (R. E. Tarone,
A modified Bonferroni method for discrete data, Biometrics 46, 1990).

The trials are shared out in tiers, each with a part of the whole allowance (weights that sum to 1: the weighted
Bonferroni method; S. Holm, Scandinavian Journal of Statistics 6, 1979, section 4): the few conventions that are
met often are not drowned by the many that are merely possible.
"""

from __future__ import annotations

import math
import sys
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Tier = Literal["usual", "used", "asked", "possible", "seldom"]

#: How often a convention is met, wherever it is tried.
Rank = Literal["usual", "possible", "seldom"]

#: How many parts of the allowance a tier has, our judgement: `used` are the usual conventions at the end of the used
#: part, `asked` those at the place that was named before the search.
SHARES: dict[Tier, int] = {"usual": 50, "used": 44, "asked": 40, "possible": 25, "seldom": 5}

#: A check is strong when chance explains it less often than this, all trials counted.
STRONG = 0.001

#: What chance explains in so many searches deserves no confidence at all.
NOTHING = 0.05

#: What a number between 1 and 2 cannot be told from its neighbour by.
EPSILON = sys.float_info.epsilon


@dataclass(frozen=True)
class Odds:
    """How likely one trial is to come out by chance.

    Attributes:
        each: Chance that one check value fits. [probability]
        blocks: How many independent check values the trial looks at.
        fit: How many of them must fit for the trial to hold.

    Example:
        >>> Odds(2.0**-8).alone == 2.0**-8
        True
        >>> f"{Odds(2.0**-8, blocks=4, fit=4).alone:.2g}"
        '2.3e-10'
    """

    each: float
    blocks: int = 1
    fit: int = 1

    @property
    def alone(self) -> float:
        """The chance that the trial holds, as if it were the only one. [probability]"""
        return tail(self.blocks, self.fit, self.each)

    def as_rare_as(self, limit: float) -> float:
        """The chance that the trial comes out at least as rare as some limit. [probability]"""
        if self.blocks == 1:
            return self.each if self.each <= limit else 0.0
        beyond_one = bisect_left(range(self.blocks), True, key=lambda n: tail(self.blocks, 1 + n, self.each) <= limit)
        return tail(self.blocks, 1 + beyond_one, self.each)


def tail(blocks: int, fit: int, each: float) -> float:
    """The chance that at least `fit` of `blocks` values fit, when each fits with the chance `each`.

    Example:
        >>> round(tail(3, 1, 0.5), 6), round(tail(3, 3, 0.5), 6), tail(3, 0, 0.5), tail(5, 5, 1.0)
        (0.875, 0.125, 1.0, 1.0)
    """
    if fit <= 0 or each >= 1:
        return 1.0
    if fit >= blocks:
        return each**blocks if fit == blocks else 0.0
    log_yes, log_no = math.log(each), math.log1p(-each)
    total = 0.0
    for count in range(fit, blocks + 1):
        ways = math.lgamma(blocks + 1) - math.lgamma(count + 1) - math.lgamma(blocks - count + 1)
        term = math.exp(ways + count * log_yes + (blocks - count) * log_no)
        total += term
        if term < total * EPSILON:   # it is behind the peak, and those that follow are smaller still
            break
    return min(total, 1.0)


def corrected(alone: float, tier: Tier, tried: Sequence[tuple[Tier, Odds]]) -> float:
    """Correct a trial's chance for all the others that were tried. [probability]

    The allowance is shared among the tiers in which anything is tried: which these are is settled before any value is
    compared, by what the user asked and by whether the image is filled.

    Args:
        alone: The chance of the trial by itself, see `Odds.alone`.
        tier: Its tier.
        tried: Every trial that was made, this one among them.

    Example:
        >>> hundred = [("usual", Odds(2.0**-16))] * 100
        >>> f"{corrected(2.0**-16, 'usual', hundred):.5f}"
        '0.00152'
        >>> f"{corrected(2.0**-16, 'usual', [*hundred, ('used', Odds(2.0**-8))]):.5f}"   # shared with another tier
        '0.00287'
        >>> round(corrected(2.0**-8, "possible", [("possible", Odds(2.0**-8))] * 3000), 4)
        1.0
    """
    weight = SHARES[tier] / sum(SHARES[one] for one in {tier, *(t for t, _ in tried)})
    log_none = sum(math.log1p(-min(odds.as_rare_as(alone), 1 - EPSILON)) for t, odds in tried if t == tier)
    return min(max(-math.expm1(log_none), alone) / weight, 1.0)


def confidence(chance: float) -> float:
    """Say how far to trust what holds, from 0 where chance gives it in a twentieth of searches, to 1.

    Example:
        >>> confidence(0.3), round(confidence(0.001), 6), confidence(0.0)
        (0.0, 0.98, 1.0)
    """
    return max(0.0, 1 - chance / NOTHING)
