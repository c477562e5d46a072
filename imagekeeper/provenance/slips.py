"""Names that differ by a slip of the pen."""

from __future__ import annotations

import re
import unicodedata


def is_slip(a: str, b: str) -> bool:
    """Whether two names are likely the same one, typed wrongly once.

    One letter changed, lost, added or exchanged with its neighbour; two in names of eight letters or more. Names that
    differ in a figure are names of two things. Capitals, blanks and Unicode forms do not matter; equal names are none.

    Example:
        >>> is_slip("bench reader", "benhc reader"), is_slip("reader 1", "reader 2"), is_slip("Ann", "Bea")
        (True, False, False)
    """
    one, other = _plain(a), _plain(b)
    if one == other or re.findall(r"\d+", one) != re.findall(r"\d+", other):
        return False
    shorter = min(len(one), len(other))
    if shorter < 4:
        return False
    most = 2 if shorter >= 8 else 1
    return abs(len(one) - len(other)) <= most and _distance(one, other) <= most


def _plain(text: str) -> str:
    return " ".join(unicodedata.normalize("NFKC", text).split()).casefold()[:200]


def _distance(a: str, b: str) -> int:
    rows = [list(range(len(b) + 1))]
    for i, x in enumerate(a, 1):
        row = [i]
        for j, y in enumerate(b, 1):
            best = min(rows[-1][j] + 1, row[j - 1] + 1, rows[-1][j - 1] + (x != y))
            if i > 1 and j > 1 and x == b[j - 2] and a[i - 2] == y:
                best = min(best, rows[-2][j - 2] + 1)
            row.append(best)
        rows.append(row)
    return rows[-1][-1]
