"""The command hexdump."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import click

from imagekeeper.cli import _shell
from imagekeeper.hexdumps import HexdumpRow, listed, text_of
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.reads.hexdumping import hexdump_rows
from imagekeeper.units import address_digits, plural


@click.command(epilog="Example: imagekeeper hexdump u4-first.bin --against u4-second.bin --only-differences")
@click.argument("file")
@click.option("--against", metavar="OTHER", help="Mark where another file's image differs.")
@click.option("--only-differences", is_flag=True, help="With --against: leave out the rows that agree.")
@click.option("--start", type=_shell.ADDRESS, metavar="ADDRESS", help="First address, in hexadecimal.")
@click.option("--length", type=_shell.SIZE, metavar="SIZE", help="How many bytes, such as 256, 1K or 0x100.")
@click.option("--width", type=click.IntRange(1, 64), default=16, show_default=True, help="Bytes in a row.")
@click.option("--all", "everything", is_flag=True, help="Show repeated rows too, instead of counting them.")
@_shell.reading_options
@_shell.json_option
def hexdump(
    file: str, against: str | None, only_differences: bool, start: int | None, length: int | None, width: int,
    everything: bool, options: Options, as_json: bool,
) -> int:  # fmt: skip
    """Show the bytes that FILE stands for, from any container, as hexadecimal digits and text.

    A gap is shown as blanks, a doubtful byte with ? behind it. With --against, a row that differs is followed by the
    other file's bytes, where they differ. The exit code is then 1 if anything differs, as with compare.
    """
    if only_differences and against is None:
        raise click.UsageError("--only-differences needs --against, which names the other file")
    with hexdump_rows(
        file, options, against=against, start=start, length=length, width=width
    ) as (rows, end):
        if as_json:
            chosen = (row for row in rows() if row.other is not None or not only_differences)
            return _shell.show(listed(chosen, against=against is not None), str, as_json)
        shown = HexdumpText(end, everything=everything or against is not None, only_differences=only_differences)
        lines = 0
        for line in shown.lines(rows()):
            _shell.write(line)
            lines += 1
        if not lines and not only_differences:
            _shell.write(f"no bytes there: the last address is {end - 1:0{address_digits(end)}X}")
    return 1 if shown.differed else 0


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
            yield self._row(row.address, row.cells, row.doubtful, row.differs)
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

    def _row(
        self, address: int, cells: tuple[int | None, ...], doubtful: tuple[bool, ...], differs: tuple[bool, ...]
    ) -> str:
        parts = []
        for i, (cell, doubt_, differ) in enumerate(zip(cells, doubtful, differs, strict=True)):
            text = "  " if cell is None else f"{cell:02X}"
            mark = "*" if differ else "?" if doubt_ else " "
            shown = _shell.paint(text, fg="red", bold=True) if differ else text
            parts.append(shown + mark + (" " if i % 4 == 3 else ""))
        return f"{address:0{self._digits}X}  {''.join(parts)} {text_of(cells)}".rstrip()

    def _other(self, row: HexdumpRow) -> str:
        assert row.other is not None
        cells = "".join(
            (("  " if other is None else f"{other:02X}") if differ else "··") + " " + (" " if i % 4 == 3 else "")
            for i, (other, differ) in enumerate(zip(row.other, row.differs, strict=True))
        )
        return f"{'other':>{self._digits}}  {cells} {text_of(row.other)}".rstrip()
