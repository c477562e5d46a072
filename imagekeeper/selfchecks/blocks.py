"""Blocks that check themselves one by one: how many of them hold, and whether so many can hold by chance.

The blocks of one size are one trial: not each of a thousand blocks that happens to fit is news, but how many do.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from imagekeeper.selfchecks.chance import Odds, tail
from imagekeeper.selfchecks.trials import Trial

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

SMALLEST_BYTES = 256
SHIFTS = 64
PRACTICE = "common practice, no source"
MODULES = "modules of 8 KiB that each sum to zero: from memory; other sizes: common practice, no source"

#: Rule, its title for one block, width of its value. [bit]
RULES = (
    ("sum8-zero", "the 8-bit sum of every block of {size} is zero", 8, MODULES),
    ("words-le-zero", "the 16-bit sum of words, low byte first, of every block of {size} is zero", 16, PRACTICE),
    ("words-be-zero", "the 16-bit sum of words, high byte first, of every block of {size} is zero", 16, PRACTICE),
    ("xor8-zero", "the exclusive or of every block of {size} is zero", 8, PRACTICE),
)

#: So many blocks of all that fit are worth telling only where chance gives them less often than this. [probability]
_SOME = 2.0**-16


@dataclass(frozen=True, kw_only=True)
class _Level:
    """Every block of one size: its figures, which blocks are equal, and which are all one byte."""

    size: int
    even: NDArray[np.int64]
    odd: NDArray[np.int64]
    xor: NDArray[np.uint8]
    same: NDArray[np.int64]
    blank: NDArray[np.bool_]

    def values(self) -> dict[str, NDArray[Any]]:
        """The value of every rule for every block."""
        return {
            "sum8-zero": (self.even + self.odd) & 0xFF,
            "words-le-zero": (self.even + 256 * self.odd) & 0xFFFF,
            "words-be-zero": (256 * self.even + self.odd) & 0xFFFF,
            "xor8-zero": self.xor,
        }

    def telling(self) -> NDArray[np.int64]:
        """The numbers of the blocks that are not all one byte and not equal to an earlier one."""
        import numpy as np  # slow to load: only where there is work for it

        varied = np.flatnonzero(~self.blank)
        return varied[np.sort(np.unique(self.same[varied], return_index=True)[1])]

    def doubled(self) -> _Level:
        """The blocks of twice the size."""
        import numpy as np  # slow to load: only where there is work for it

        left, right = self.same[0::2], self.same[1::2]
        same = np.unique(left * (int(self.same.max()) + 1) + right, return_inverse=True)[1].astype(np.int64)
        return _Level(
            size=2 * self.size, even=self.even[0::2] + self.even[1::2], odd=self.odd[0::2] + self.odd[1::2],
            xor=self.xor[0::2] ^ self.xor[1::2], same=same, blank=self.blank[0::2] & (left == right),
        )  # fmt: skip


def block_trials(data: bytes) -> Iterator[Trial]:
    """Try every rule on the blocks of every size from 256 bytes to half the range.

    Blocks that are all one byte, and blocks that are there already, do not count: they prove nothing.
    """
    if len(data) % SMALLEST_BYTES or len(data) < 2 * SMALLEST_BYTES:
        return
    level = _level(data, SMALLEST_BYTES)
    while True:
        yield from _of_level(data, level)
        size = level.size * 2
        if 2 * size > len(data) or len(data) % size:
            return
        level = level.doubled()


def _level(data: bytes, size: int) -> _Level:
    """Take the figures of every block of one size."""
    import numpy as np  # slow to load: only where there is work for it

    rows = np.frombuffer(data, np.uint8).reshape(-1, size)
    numbers: dict[bytes, int] = {}
    same = [
        # a digest, so that no second copy of the image is kept
        numbers.setdefault(hashlib.blake2b(row.data, digest_size=16).digest(), len(numbers)) for row in rows
    ]
    return _Level(
        size=size, even=rows[:, 0::2].sum(axis=1, dtype=np.int64), odd=rows[:, 1::2].sum(axis=1, dtype=np.int64),
        xor=np.bitwise_xor.reduce(rows, axis=1), same=np.array(same, np.int64), blank=(rows == rows[:, :1]).all(axis=1),
    )  # fmt: skip


def _of_level(data: bytes, level: _Level) -> Iterator[Trial]:
    import numpy as np  # slow to load: only where there is work for it

    size, telling = level.size, level.telling()
    if len(telling) < 2:
        return
    values = level.values()
    for rule, title, bits, source in RULES:
        fitting = values[rule][telling] == 0
        fits, blocks, each = int(np.count_nonzero(fitting)), len(telling), 2.0**-bits
        if fits >= 2 and 2 * fits >= blocks:
            each = max(each, _rate(data, size, rule))
        least = _least(blocks, each)
        holds = fits >= least
        shown = title.format(size=f"{size} bytes")
        if holds and fits < blocks:
            shown = shown.replace("every block", f"{fits} of {blocks} blocks")
        over = ((0, len(data)),) if fits == blocks or not holds else _where(telling[fitting], size)
        zero = "0" * (bits // 4)
        yield Trial(
            id=rule, title=shown, source=source, tier="possible", odds=Odds(each, blocks, fits if holds else least),
            holds=holds, bits=bits, over=over, stored=zero, computed=zero if holds else "", place="blocks", block=size,
        )  # fmt: skip


def _least(blocks: int, each: float) -> int:
    """How many blocks must fit to be worth telling: all, or at least half where that is rare."""
    least = max(2, -(-blocks // 2))
    while least < blocks and tail(blocks, least, each) > _SOME:
        least += max(1, (blocks - least) // 64)
    return min(least, blocks)


def _where(numbers: NDArray[np.int64], size: int) -> tuple[tuple[int, int], ...]:
    return tuple((int(n) * size, (int(n) + 1) * size) for n in numbers)


def _rate(data: bytes, size: int, rule: str) -> float:
    """How often the rule holds for windows that lie across the blocks, as it would on tables and ramps. [probability]

    A check value belongs to its block; where windows at any offset fit as well, the content is what fits.
    """
    import numpy as np  # slow to load: only where there is work for it

    fits = windows = 0
    values = np.frombuffer(data, np.uint8)
    count = min(len(data) // size - 1, 16)
    for number in range(1, SHIFTS + 1):
        start = size * number // (SHIFTS + 1) // 2 * 2
        if start == 0:
            continue
        rows = values[start : start + count * size].reshape(-1, size)
        level = _level(rows.tobytes(), size)
        fits += int(np.count_nonzero((level.values()[rule] == 0) & ~level.blank))
        windows += int(np.count_nonzero(~level.blank))
    return fits / windows if windows else 1.0
