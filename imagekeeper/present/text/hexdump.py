"""The bytes of an image as hexadecimal digits and text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from imagekeeper.addresses import Doubt
from imagekeeper.hexdumps import HexdumpRow, text_of
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import finished, painted
from imagekeeper.units import address_digits, plural


def legend(doubts: Sequence[Doubt]) -> Iterator[str]:
    """Say what the mark of a doubtful byte means, and why those bytes are doubtful.

    Example:
        >>> for line in legend([Doubt(start=8, length=4, code="record-sum", why="the sum is wrong", line=3)]):
        ...     print(line)
        <BLANKLINE>
        ? behind a byte: its file speaks against it
          line 3, 0008 to 000B: the sum is wrong (record-sum)
    """
    if not doubts:
        return
    yield ""
    if any(doubt.length for doubt in doubts):
        yield "? behind a byte: its file speaks against it"
    else:
        yield "The file speaks against itself:"
    for doubt in doubts[: parts.SHOWN]:
        line = "" if doubt.line is None else f"line {doubt.line}, "
        yield from (finished(text) for text in parts.wrapped("  ", line + parts.doubt(doubt)))
    if len(doubts) > parts.SHOWN:
        yield f"  and {plural(len(doubts) - parts.SHOWN, 'more doubt')}; --json lists all"


class HexdumpText:
    """Rows of a hexdump as lines; it notices whether any row differed.

    Args:
        end: The first address after all rows, for the width of addresses.
        everything: Show rows that repeat the one before.
        only_differences: Leave out the rows that agree.
    """

    def __init__(self, end: int, *, everything: bool, only_differences: bool) -> None:
        self._digits = address_digits(end)
        self._everything = everything
        self._only_differences = only_differences
        self.differed = False

    def lines(self, rows: Iterable[HexdumpRow]) -> Iterator[str]:
        """Turn rows into lines as they come."""
        before: HexdumpRow | None = None
        repeated = 0
        for row in rows:
            self.differed = self.differed or row.other is not None
            if self._only_differences and row.other is None:
                continue
            if self._repeats(row, before):
                assert before is not None
                repeated += 1
                before = row
                continue
            if repeated:
                yield self._repeat_line(repeated)
                repeated = 0
            yield finished(self._row(row))
            if row.other is not None:
                yield self._other(row)
            before = row
        if repeated:
            yield self._repeat_line(repeated)

    def _repeats(self, row: HexdumpRow, before: HexdumpRow | None) -> bool:
        return (
            not self._everything
            and before is not None
            and row.cells == before.cells
            and row.address == before.address + len(row.cells)
            and not any(row.doubtful)
            and not any(before.doubtful)
        )

    def _repeat_line(self, count: int) -> str:
        return " " * self._digits + f"  ... {plural(count, 'more row')} like this"

    def _row(self, row: HexdumpRow) -> str:
        shown = []
        for i, (cell, doubtful, differs) in enumerate(zip(row.cells, row.doubtful, row.differs, strict=True)):
            digits = "  " if cell is None else f"{cell:02X}"
            mark = "*" if differs else "?" if doubtful else " "
            shown.append((painted(digits, "bad") if differs else digits) + mark + (" " if i % 4 == 3 else ""))
        return f"{row.address:0{self._digits}X}  {''.join(shown)} {text_of(row.cells)}".rstrip()

    def _other(self, row: HexdumpRow) -> str:
        assert row.other is not None
        cells = "".join(
            (("  " if other is None else f"{other:02X}") if differ else "··") + " " + (" " if i % 4 == 3 else "")
            for i, (other, differ) in enumerate(zip(row.other, row.differs, strict=True))
        )
        return f"{'other':>{self._digits}}  {cells} {text_of(row.other)}".rstrip()
