"""How much agreeing reads prove: the chance that random faults left a wrong byte in what they support.

The model, and all of it: every read gets every byte wrong with the same chance, the rate p, independently of other
bytes and other reads; a wrong byte has one wrong bit, each of the eight as likely as the others. Two reads that are
wrong at one address then give the same wrong byte once in eight times.

The rate is not known. Addresses where the reads differ show it: among k reads an address is disputed with the chance
q = 1 - (1-p)^k - 8 (p/8)^k. From D disputed addresses of n follows the upper 95 % limit of q, and from that the limit
of p. Without any disputed address q is at most about 3/n, the rule of three.

A fault that repeats itself is outside the model: a stuck line is so in every read.

Sources:
    C. J. Clopper, E. S. Pearson: The use of confidence or fiducial limits illustrated in the case of the binomial.
    Biometrika 26 (1934), 404-413. J. A. Hanley, A. Lippman-Hand: If nothing goes wrong, is everything all right?
    JAMA 249 (1983), 1743-1745 (the rule of three). E. B. Wilson: Probable inference, the law of succession, and
    statistical inference. Journal of the American Statistical Association 22 (1927), 209-212. The error model is our
    own.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from imagekeeper.errors import REPORT_IT, InternalError

#: One-sided level of the limit.
LEVEL = 0.95

#: The normal quantile of that level.
_Z = 1.6448536269514722

#: Up to so many disputed addresses the limit is exact; beyond, Wilson's approximation is within a part in a thousand.
EXACT_LIMIT = 1000

#: Bits that a wrong byte may have wrong.
_BITS = 8

#: Above this rate more errors make fewer disputes, and the model has nothing to say.
_MAX_RATE = 8 / 9

MODEL = (
    "every read gets every byte wrong with the same chance, independently of other bytes and reads, in one bit of the "
    "eight; the rate is the upper 95 % limit that the disputed addresses leave"
)

OUTSIDE = (
    "faults that repeat themselves (a stuck or shorted line, a wrong device size, a cell that lost its charge): vary "
    "the reader, the supply voltage and the specimen, and use inspect, selfcheck and the sum on the label"
)


@dataclass(frozen=True, kw_only=True)
class Remaining:
    """The chance that random faults left a wrong byte in the image that several reads support.

    Attributes:
        chance: Chance that at least one byte is wrong, at the limit of the error rate; 0 to 1.
        wrong_bytes: How many wrong bytes are to be expected, at that limit. [byte]
        image: `agreed` where all reads are equal, `voted` where it takes the majority of three or more.
        reads: How many reads it rests on.
        compared_bytes: How many addresses were compared. [byte]
        disputed: At how many of them the reads differ.
        level: Confidence of the limit, one-sided.
        rate: Chance of a wrong byte in one read as observed, or null where no rate gives so many disputes.
        rate_limit: Its upper limit; the chance above is for this one.
        against: Code of a finding that speaks against random faults, so that the model does not hold; or null.
        model: What is assumed.
        outside: What the chance says nothing about, and what to do about that.
    """

    chance: float
    wrong_bytes: float
    image: Literal["agreed", "voted"]
    reads: int
    compared_bytes: int
    disputed: int
    level: float
    rate: float | None
    rate_limit: float
    against: str | None
    model: str
    outside: str


def remaining(reads: int, compared_bytes: int, disputed: int, *, against: str | None = None) -> Remaining | None:
    """Estimate what random faults may have left in an agreed or voted image.

    Args:
        reads: How many independent reads there are; a copy of a read's file is none.
        compared_bytes: How many addresses were compared. [byte]
        disputed: At how many of them not all reads are equal.
        against: Code of a finding that speaks against random faults, or None.

    Returns:
        None where nothing is agreed: fewer than two reads, nothing compared, or two reads that differ.

    Example:
        >>> two = remaining(2, 16384, 0)
        >>> f"{two.rate_limit:.2e} {two.chance:.1e}"   # 3 / (2 * 16384), and 9 / (32 * 16384)
        '9.14e-05 1.7e-05'
    """
    if reads < 2 or compared_bytes < 1 or (reads == 2 and disputed):
        return None
    limit = rate_of(upper_limit(disputed, compared_bytes), reads)
    observed = rate_of(disputed / compared_bytes, reads)
    quiet, loud = wrong_if_unanimous(limit, reads), wrong_if_disputed(limit, reads)
    if limit == _MAX_RATE:   # reads of which nothing can be said any more
        chance, wrong = 1.0, float(compared_bytes)
    else:
        unanimous = compared_bytes - disputed
        chance = -math.expm1(unanimous * math.log1p(-quiet) + disputed * math.log1p(-loud))
        wrong = unanimous * quiet + disputed * loud
    return Remaining(
        chance=chance,
        wrong_bytes=wrong,
        image="voted" if disputed else "agreed",
        reads=reads,
        compared_bytes=compared_bytes,
        disputed=disputed,
        level=LEVEL,
        rate=None if observed == _MAX_RATE else observed,
        rate_limit=limit,
        against=against,
        model=MODEL,
        outside=OUTSIDE,
    )


def upper_limit(events: int, trials: int, level: float = LEVEL) -> float:
    """Give the one-sided upper limit of a chance from a count: Clopper and Pearson's up to a thousand events.

    Args:
        events: How often it happened.
        trials: How often it could have happened.
        level: Confidence of the limit; beyond `EXACT_LIMIT` events only that of `LEVEL` is known.

    Example:
        >>> f"{upper_limit(0, 1000):.5f}"   # the rule of three: about 3 / 1000
        '0.00299'
    """
    if not 0 <= events <= trials or not trials or (events > EXACT_LIMIT and level != LEVEL):
        raise InternalError(
            "internal", "a chance cannot be worked out", why=f"{events} of {trials} at a confidence of {level}",
            hint=REPORT_IT,
        )  # fmt: skip
    if events == trials:
        return 1.0
    if events == 0:
        return -math.expm1(math.log1p(-level) / trials)
    if events > EXACT_LIMIT:
        return _wilson(events, trials)
    return _bisect(lambda q: -_cumulative(events, trials, q), -math.log1p(-level), events / trials, 1.0)


def _wilson(events: int, trials: int) -> float:
    share, z2 = events / trials, _Z * _Z
    spread = _Z * math.sqrt(share * (1 - share) / trials + z2 / (4 * trials * trials))
    return min((share + z2 / (2 * trials) + spread) / (1 + z2 / trials), 1.0)


def _cumulative(events: int, trials: int, chance: float) -> float:
    """Give the logarithm of the chance of at most so many events, which must not be more than to be expected."""
    if chance >= 1:
        return -math.inf
    top = _log_choose(trials, events) + events * math.log(chance) + (trials - events) * math.log1p(-chance)
    total = term = 1.0
    for count in range(events, 0, -1):   # from the largest term downwards
        term *= count * (1 - chance) / ((trials - count + 1) * chance)
        total += term
        if term < 1e-17 * total:
            break
    return top + math.log(total)


def _log_choose(n: int, k: int) -> float:
    """Give the logarithm of the number of ways to choose k of n; exact products where `lgamma` would cancel."""
    if k <= EXACT_LIMIT:
        return math.fsum(math.log((n - i) / (i + 1)) for i in range(k))
    return math.lgamma(n + 1) - math.lgamma(k + 1) - math.lgamma(n - k + 1)


def _bisect(rising: Callable[[float], float], target: float, low: float, high: float) -> float:
    """Find where a rising function reaches a value; the upper end of the interval that remains."""
    for _ in range(200):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        if rising(middle) < target:
            low = middle
        else:
            high = middle
    return high


def disputed_chance(rate: float, reads: int) -> float:
    """Give the chance that an address is disputed: not all right, and not all wrong alike.

    Example:
        >>> disputed_chance(0.5, 2)   # one wrong: 1/2; both wrong and unlike: 1/4 * 7/8
        0.71875
    """
    return -math.expm1(reads * math.log1p(-rate)) - _BITS * (rate / _BITS) ** reads


def rate_of(disputed: float, reads: int) -> float:
    """Give the error rate at which that share of addresses is disputed; 8/9 where none is high enough."""
    if disputed >= disputed_chance(_MAX_RATE, reads):
        return _MAX_RATE
    if disputed == 0:
        return 0.0
    return _bisect(lambda rate: disputed_chance(rate, reads), disputed, 0.0, _MAX_RATE)


def wrong_if_unanimous(rate: float, reads: int) -> float:
    """Give the chance that an address on which all reads agree is wrong: all of them err alike.

    Example:
        >>> wrong_if_unanimous(0.5, 2)   # 1/4 * 1/8 against 1/4
        0.1111111111111111
    """
    alike = _BITS * (rate / _BITS) ** reads
    return alike / ((1 - rate) ** reads + alike) if alike else 0.0


def wrong_if_disputed(rate: float, reads: int) -> float:
    """Give the chance that a disputed address is decided wrongly: more than half of the reads err alike, not all.

    It is the same for a vote by bytes and by bits: with one wrong bit in a byte, a wrong byte has the majority exactly
    where a wrong bit has it.

    Example:
        >>> f"{wrong_if_disputed(0.001, 3):.2e}"   # about p / 8: the other two err alike where one is right
        '1.25e-04'
    """
    chance = disputed_chance(rate, reads)
    one = rate / _BITS   # a read errs in one given bit
    if one == 0 or chance <= 0:
        return 0.0
    terms = (
        math.exp(_log_choose(reads, alike) + alike * math.log(one) + (reads - alike) * math.log1p(-one))
        for alike in range(reads // 2 + 1, reads)
    )
    return min(_BITS * math.fsum(terms) / chance, 1.0)
