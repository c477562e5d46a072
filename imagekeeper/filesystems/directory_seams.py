"""Whether the text of files goes on across the seams of records: what tells the right order of sectors from wrong ones.

Two characters that follow each other often within records do so at the seams too, where the records were put in the
right order; in a wrong order the two are as any two. The measure is their mutual information, summed over the seams.
Common practice, no source.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from itertools import pairwise

from imagekeeper.containers.model import Data
from imagekeeper.filesystems.directory_parameters import RECORD

#: How much of the image is counted, and how many seams are looked at. [byte, 1]
_COUNTED, _SEAMS = 1 << 18, 4096


class Seams:
    """What follows what within the records of an image.

    Args:
        data: The image.

    Example:
        >>> line = b"level 3.02 m at the outer gauge, "
        >>> text = (line * 40)[:1280]
        >>> seams = Seams(text)
        >>> right, wrong = range(0, 1280, 128), [0, 512, 128, 640, 256, 768, 384, 896, 1152, 1024]
        >>> seams.measure(text, [right]) > 5 > seams.measure(text, [wrong])
        True
    """

    def __init__(self, data: Data) -> None:
        pairs: Counter[tuple[int, int]] = Counter()
        first: Counter[int] = Counter()
        second: Counter[int] = Counter()
        for at in range(0, min(len(data), _COUNTED), RECORD):
            record = data[at : at + RECORD]
            if record.count(record[0]) == len(record):
                continue
            pairs.update(pairwise(record))
            first.update(record[:-1])
            second.update(record[1:])
        self._pairs, self._first, self._second = pairs, first, second
        self._total = max(sum(first.values()), 1)
        self._kept: dict[tuple[int, int], float] = {}

    def _information(self, pair: tuple[int, int]) -> float:
        found = self._kept.get(pair)
        if found is None:
            by_chance = self._first[pair[0]] * self._second[pair[1]] / self._total
            found = self._kept[pair] = math.log((self._pairs[pair] + 0.5) / (by_chance + 0.5))
        return found

    def measure(self, data: Data, files: Iterable[Iterable[int]]) -> float:
        """Sum the mutual information over the seams of files.

        Args:
            data: The image.
            files: Of each file, where its records lie, in order. [byte]
        """
        total, left = 0.0, _SEAMS
        for records in files:
            before = None
            for at in records:
                if before is not None and at < len(data):
                    one, two = data[before + RECORD - 1], data[at]
                    if one != two:   # fill goes on in any order
                        total += self._information((one, two))
                        left -= 1
                before = at
                if not left:
                    return total
        return total
