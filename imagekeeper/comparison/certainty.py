"""How sure a cause is: from the lengths of all explanations to a confidence that keeps what it promises.

One bit longer is half as likely, if the lengths were exact. They are estimates: rules see what they look for and not
what nobody thought of. So differences count for less than they say, and few witnesses never make a cause certain. The
figures were fitted on one half of many injected faults; `tests/benchmarks/joint.py` shows, on the other half, how often
a finding of each confidence is right.
"""

from __future__ import annotations

from collections.abc import Sequence

#: So many bits of difference count as one. [bit]
TEMPER = 2.0

#: Nothing that is concluded from reads alone is surer than this.
SUREST = 0.99

#: So many witnesses leave half of the doubt that one leaves.
WITNESSES = 0.5


def shares(lengths: Sequence[float]) -> list[float]:
    """Turn lengths of explanations into shares of belief, in the same order.

    Args:
        lengths: Of different causes. [bit]

    Example:
        >>> [round(one, 2) for one in shares([100.0, 102.0, 140.0])]
        [0.67, 0.33, 0.0]
    """
    shortest = min(lengths)
    weights = [2.0 ** -min((length - shortest) / TEMPER, 60.0) for length in lengths]
    total = sum(weights)
    return [weight / total for weight in weights]


def seen_by(witnesses: int) -> float:
    """Give the most that so many differing places allow to be said.

    Example:
        >>> round(seen_by(1), 2), round(seen_by(20), 2)
        (0.67, 0.98)
    """
    return min(witnesses / (witnesses + WITNESSES), SUREST)
