"""Words in an image: letters that follow each other as those of a language do, between what stands around words.

A sign that survives no crossed line: exchanged data lines make other letters of the letters, exchanged address lines
cut words up. What letters follow each other is counted (`tables/frequencies.toml`); that spaces, zeros and signs stand
around words is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from imagekeeper.inspection.content import Bytes
from imagekeeper.tables import load

#: Shorter words come about by chance, longer ones are fill or tables. [character]
SHORTEST, LONGEST = 4, 20
#: Of so many different letters a word is made at least.
VARIETY = 4
#: So much better than chance a word must be. [bit]
LEAST_BITS = 3.0
#: Words that say something are so many, of so many different pairs of letters, with so many of the five vowels.
FEWEST, FEWEST_PAIRS, FEWEST_VOWELS = 6, 25, 4
#: Vowels make up about two fifths of English words; from memory.
LEAST_VOWELS, MOST_VOWELS = 0.25, 0.55
#: So many places are looked at.
MOST = 3000


@dataclass(frozen=True)
class Words:
    """The words of an image.

    Attributes:
        bits: How much less likely chance makes them than a language does. [bit]
        found: The different ones in small letters, the most telling first.
    """

    bits: float
    found: tuple[str, ...]

    @property
    def varied(self) -> bool:
        """Whether they are as varied as words are: a pattern that comes again and again, or figures, are not."""
        letters = "".join(self.found)
        vowels = [letters.count(vowel) for vowel in "aeiou"]
        pairs = {pair for word in self.found for pair in pairwise(word)}
        return (
            len(self.found) >= FEWEST and len(pairs) >= FEWEST_PAIRS and sum(map(bool, vowels)) >= FEWEST_VOWELS
            and LEAST_VOWELS <= sum(vowels) / len(letters) <= MOST_VOWELS
        )  # fmt: skip


@cache
def _follows() -> NDArray[np.float32]:
    """How much likelier each letter follows another than chance has it, small and capital alike. [bit]"""
    counts = np.array(load("frequencies")["letters"]["following"], float)
    bits = np.clip(np.log2(counts / counts.sum(axis=1, keepdims=True) * 26), -6, 3)
    table = np.zeros((256, 256), np.float32)
    for first in (0x41, 0x61):
        for second in (0x41, 0x61):
            table[first : first + 26, second : second + 26] = bits
    return table


def _around() -> NDArray[np.float32]:
    """How much a neighbour speaks for a word beside it. [bit]"""
    bits = np.full(256, -2, np.float32)
    bits[0x80:] = -1
    bits[list(b"0123456789")] = 0
    bits[list(b".,:;!?'\"()-/%=*+<>")] = 0.5
    bits[list(b"\0\t\n\r ")] = 1.5
    return bits


_AROUND = _around()
_CASE = np.zeros(256, np.uint8)
_CASE[0x61:0x7B], _CASE[0x41:0x5B] = 1, 2


def words(data: Bytes) -> Words:
    r"""Find the words.

    Example:
        >>> found = words(np.frombuffer(b"\x01PAPER OUT\0Press START\0\x03", np.uint8))
        >>> found.found, round(found.bits)
        (('press', 'start', 'paper'), 19)
    """
    case = _CASE[data]
    linked = (case[1:] != 0) & ((case[1:] == case[:-1]) | ((case[:-1] == 2) & (case[1:] == 1)))
    edges = np.concatenate(([0], np.flatnonzero(~linked) + 1, [len(data)]))
    lengths = np.diff(edges)
    chosen = (lengths >= SHORTEST) & (lengths <= LONGEST)
    first, after = edges[:-1][chosen], edges[1:][chosen]
    if not len(first):
        return Words(0.0, ())
    told = np.concatenate(([0], np.cumsum(_follows()[data[:-1], data[1:]] * linked, dtype=np.float64)))
    beside = np.append(data, np.uint8(0))
    bits = told[after - 1] - told[first] + _AROUND[beside[first - 1]] + _AROUND[beside[after]] - 1
    good = bits > LEAST_BITS
    small = data | 0x20
    found: dict[bytes, float] = {}
    for begin, end, worth in zip(
        first[good][:MOST].tolist(), after[good][:MOST].tolist(), bits[good][:MOST].tolist(), strict=True
    ):
        word = small[begin:end].tobytes()
        if len(set(word)) >= VARIETY:
            found[word] = worth
    ordered = sorted(found, key=lambda word: (-found[word], word))
    return Words(sum(found.values()), tuple(word.decode("ascii") for word in ordered))
