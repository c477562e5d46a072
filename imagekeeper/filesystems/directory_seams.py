"""Whether text goes on across the seams of records: what tells the right order of sectors and sides from wrong ones.

Two characters that follow each other often within records do so at the seams too, where the records were put in the
right order; in a wrong order the two are as any two. Their mutual information, summed over the seams, is the logarithm
of the odds between the two. Where no pair is more usual than another, as in packed data, the sum is chance, and the
best of many orders looks good by chance alone: so it is said how far chance goes. Common practice, no source.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from itertools import pairwise

from imagekeeper.filesystems.directory_parameters import RECORD

#: How much of the image is counted, and how many seams are looked at. [byte, 1]
_COUNTED, _SEAMS = 1 << 20, 1 << 14

#: Pairs that were never seen may yet be usual: so many are added to what was counted and to what chance would give.
_DOUBT = 2.0

#: One seam speaks against an order no more than this: programs have seams of their own. [logarithm of odds]
_LEAST = -1.0

#: So many pairs of bytes that do not belong together are drawn to know what chance gives; from here on.
_DRAWN, _LEAST_APART = 4096, 1

#: In every division the records of so much follow each other: the smallest block. [record]
_TOGETHER = 8


class Seams:
    r"""What follows what within the records of an image.

    Args:
        data: The image.

    Example:
        >>> text = b"".join(b"%4d.%02d m at the outer gauge\r\n" % (n, n * 37 % 100) for n in range(90))
        >>> seams = Seams(text)
        >>> right, wrong = range(0, 1280, 128), [0, 512, 128, 640, 256, 768, 384, 896, 1152, 1024]
        >>> seams.told(zip(right, right[1:])) > 5 > seams.told(zip(wrong, wrong[1:]))
        True
    """

    def __init__(self, data: bytes) -> None:
        pairs: Counter[tuple[int, int]] = Counter()
        first: Counter[int] = Counter()
        second: Counter[int] = Counter()
        apart = -(-len(data) // _COUNTED)   # of larger images every second record, or every third
        for at in range(0, len(data), max(apart, 1) * RECORD):
            record = data[at : at + RECORD]
            if record.count(record[0]) == len(record):
                continue
            pairs.update(pairwise(record))
            first.update(record[:-1])
            second.update(record[1:])
        self._data = data
        self._pairs, self._first, self._second = pairs, first, second
        self._total = max(sum(first.values()), 1)
        self._kept: dict[tuple[int, int], float] = {}

    def chance(self, count: int) -> float:
        """How far the sum over so many seams strays by chance: its standard deviation in a wrong order.

        Args:
            count: Of seams.
        """
        places = range(_LEAST_APART, len(self._data) - RECORD, max(len(self._data) // _DRAWN, 1))
        drawn = [
            self._information((self._data[at], self._data[-at])) for at in places if self._data[at] != self._data[-at]
        ]
        if not drawn:
            return 0.0
        mean = sum(drawn) / len(drawn)
        return math.sqrt(min(count, _SEAMS) * sum((one - mean) ** 2 for one in drawn) / len(drawn))

    def _information(self, pair: tuple[int, int]) -> float:
        found = self._kept.get(pair)
        if found is None:
            by_chance = self._first[pair[0]] * self._second[pair[1]] / self._total
            told = math.log((self._pairs[pair] + _DOUBT) / (by_chance + _DOUBT))
            found = self._kept[pair] = max(told, _LEAST)
        return found

    def between(self, before: int, after: int) -> float:
        """Tell how much two bytes that follow each other at a seam speak for it; equal ones go on in any order."""
        return 0.0 if before == after else self._information((before, after))

    def told(self, seams: Iterable[tuple[int, int]]) -> float:
        """Sum what seams tell: above 0 for the order.

        Args:
            seams: The places of records of which the second would follow the first. [byte]
        """
        total, left, last = 0.0, _SEAMS, len(self._data) - RECORD
        for before, at in seams:
            if before > last or at > last:
                continue
            pair = self._data[before + RECORD - 1], self._data[at]
            if pair[0] != pair[1]:   # fill goes on in any order
                total += self._information(pair)
                left -= 1
                if not left:
                    break
        return total

    def within(self, records: list[int]) -> float:
        """Sum what the seams within the smallest blocks tell, whatever files lie there.

        Args:
            records: All records in their logical order. [byte]
        """
        return self.told(pair for place, pair in enumerate(pairwise(records), 1) if place % _TOGETHER)

    def inside(self, files: Iterable[list[int]]) -> float:
        """Sum what the seams of files tell that lie within a smallest block.

        Args:
            files: Of each file its records, whole blocks but for the last. [byte]
        """
        return sum(self.within(records) for records in files)

    def across(self, files: Iterable[list[int]]) -> float:
        """Sum what the seams of files tell that are not within a smallest block.

        Args:
            files: Of each file its records, whole blocks but for the last. [byte]
        """
        return self.told(
            pair for records in files for place, pair in enumerate(pairwise(records), 1) if not place % _TOGETHER
        )
