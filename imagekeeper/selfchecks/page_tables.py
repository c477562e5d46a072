"""Tables of the sums of every page, which a program compares one by one to tell which part of its ROM is at fault.

The sums of the pages, in their order or the other way round, are looked for as a run of bytes anywhere in the image.
The page that holds the table cannot fit its own entry but by chance, so its entry need not.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from imagekeeper.selfchecks.chance import Odds
from imagekeeper.selfchecks.figures import ByteOrder
from imagekeeper.selfchecks.trials import Trial

if TYPE_CHECKING:
    from numpy.typing import NDArray

PRACTICE = "common practice, no source"

#: The pages that are tried. [byte]
PAGES = (256, 1024, 2048, 4096, 8192)

#: Fewer pages have too few sums to be told from chance.
FEWEST = 4

#: A table must be this much rarer than one in any image to be tried at all. [bit]
_LEAST_BITS = 8

#: So many entries are enough to judge a table by.
_JUDGED = 64

#: So many places are looked at where half a table fits; only regular data have more.
_MOST_PLACES = 64

#: Convention, its title, width of an entry [byte], byte order.
_RULES: tuple[tuple[str, str, int, ByteOrder | None], ...] = (
    ("sum8", "8-bit sums", 1, None),
    ("sum8-complement", "two's complements of the 8-bit sums", 1, None),
    ("sum8-inverse", "one's complements of the 8-bit sums", 1, None),
    ("xor8", "exclusive ors", 1, None),
    ("sum16-le", "16-bit sums", 2, "little"),
    ("sum16-be", "16-bit sums", 2, "big"),
)


@dataclass(frozen=True, kw_only=True)
class _Table:
    """What a table would hold.

    Attributes:
        entries: Its bytes, in the order of the table.
        width: Size of an entry. [byte]
        pages: The numbers of the pages, in the same order.
        page: Size of a page. [byte]
    """

    entries: bytes
    width: int
    pages: tuple[int, ...]
    page: int

    @property
    def own_pages(self) -> int:
        """How many pages the table itself lies in, at most."""
        return -(-len(self.entries) // self.page)

    def bits(self, size: int) -> float:
        """What speaks for such a table where it is found among so many bytes: equal and evenly rising sums do not."""
        width = self.width
        end = min(len(self.pages), _JUDGED) * width
        values = [int.from_bytes(self.entries[at : at + width]) for at in range(0, end, width)]
        rises = {b - a for a, b in itertools.pairwise(values)}
        telling = min(len(set(values)), len(rises) + 1, len(self.pages) - self.own_pages)
        return 8 * telling - size.bit_length()   # a 16-bit sum of a page varies in little more than its low byte

    def find(self, data: bytes) -> tuple[int, tuple[int, ...]] | None:
        """Find the table: where it begins, and the pages whose entries fit."""
        half = len(self.pages) // 2 * self.width
        for part, behind in ((self.entries[:half], 0), (self.entries[half:], half)):
            at, places = data.find(part), 0
            while at >= 0 and places < _MOST_PLACES:
                if (fits := self._fitting(data, at - behind)) is not None:
                    return at - behind, fits
                at, places = data.find(part, at + 1), places + 1
        return None

    def _fitting(self, data: bytes, start: int) -> tuple[int, ...] | None:
        if not 0 <= start <= len(data) - len(self.entries):
            return None
        own = range(start // self.page, (start + len(self.entries) - 1) // self.page + 1)
        held, width, fits = data[start : start + len(self.entries)], self.width, []
        for number, page in enumerate(self.pages):
            at = number * width
            if held[at : at + width] == self.entries[at : at + width]:
                fits.append(page)
            elif page not in own:
                return None
        return tuple(sorted(fits)) if len(own) <= self.own_pages else None


def table_trials(data: bytes) -> Iterator[Trial]:
    """Look for a table of the sums of pages of every size."""
    import numpy as np  # slow to load: only where there is work for it

    smallest = PAGES[0]
    if len(data) % smallest or len(data) < FEWEST * smallest:
        return
    rows = np.frombuffer(data, np.uint8).reshape(-1, smallest)
    sums, xors = rows.sum(axis=1, dtype=np.int64), np.bitwise_xor.reduce(rows, axis=1)
    blank = (rows == rows[:, :1]).all(axis=1)
    for page in PAGES:
        if len(data) % page or len(data) < FEWEST * page:
            continue
        by = page // smallest
        telling = np.flatnonzero(~blank.reshape(-1, by).all(axis=1))
        if len(telling) < FEWEST:
            continue
        first, last = int(telling[0]), int(telling[-1]) + 1
        by_page = np.bitwise_xor.reduce(xors.reshape(-1, by), axis=1)
        values = _values(sums.reshape(-1, by).sum(axis=1)[first:last], by_page[first:last])
        for rule, title, width, order in _RULES:
            entries = values[rule]
            for backwards in (False, True):
                pages = range(first, last)
                table = _Table(
                    entries=(entries[::-1] if backwards else entries).tobytes(), width=width,
                    pages=tuple(reversed(pages) if backwards else pages), page=page,
                )  # fmt: skip
                bits = table.bits(len(data))
                if bits >= _LEAST_BITS:
                    of = f"{title} of pages of {page} bytes{', the last page first' if backwards else ''}"
                    yield _trial(data, table, f"page-{rule}", of, order, 2.0**-bits)


def _values(sums: NDArray[Any], xors: NDArray[Any]) -> dict[str, NDArray[Any]]:
    """The entries by convention, in the bytes in which they would be stored."""
    return {
        "sum8": sums.astype("u1"), "sum8-complement": (-sums).astype("u1"), "sum8-inverse": (~sums).astype("u1"),
        "xor8": xors, "sum16-le": sums.astype("<u2"), "sum16-be": sums.astype(">u2"),
    }  # fmt: skip


def _trial(data: bytes, table: _Table, rule: str, title: str, order: ByteOrder | None, chance: float) -> Trial:
    found = table.find(data)
    at, fits = found or (None, ())
    over: list[tuple[int, int]] = []
    for number in fits:
        start, end = number * table.page, (number + 1) * table.page
        if over and over[-1][1] == start:
            start = over.pop()[0]
        over.append((start, end))
    shown = table.entries[: 8 * table.width]
    held = b"" if at is None else data[at : at + len(shown)]
    return Trial(
        id=rule, title=f"a table of the {title}: {len(fits)} of {len(table.pages)} fit", source=PRACTICE,
        tier="possible", odds=Odds(chance), holds=found is not None, bits=8 * table.width,
        over=tuple(over) or ((0, len(data)),), at=at, stored=held.hex(" ", table.width).upper(),
        computed=shown.hex(" ", table.width).upper(), order=order, place="table", length=len(table.entries),
    )  # fmt: skip
