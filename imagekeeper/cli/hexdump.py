"""The command hexdump."""

from __future__ import annotations

import click

from imagekeeper.cli import _shell
from imagekeeper.hexdumps import listed
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.reads.hexdumping import hexdump_rows
from imagekeeper.present.text.hexdump import HexdumpText, legend
from imagekeeper.units import address_digits


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

    A gap is shown as blanks, a doubtful byte with ? behind it; below the rows stands what speaks against it. With
    --against, a row that differs is followed by the other file's bytes, where they differ. The exit code is then 1 if
    anything differs, as with compare.
    """
    if only_differences and against is None:
        raise click.UsageError("--only-differences needs --against, which names the other file")
    with hexdump_rows(
        file, options, against=against, start=start, length=length, width=width
    ) as dump:
        if as_json:
            chosen = (row for row in dump.rows() if row.other is not None or not only_differences)
            return _shell.show(listed(chosen, against=against is not None, doubts=dump.doubts), str, as_json)
        shown = HexdumpText(dump.end, everything=everything or against is not None, only_differences=only_differences)
        lines = 0
        with _shell.on_terminal():
            for line in shown.lines(dump.rows()):
                _shell.write(line)
                lines += 1
            for line in legend(dump.doubts):
                _shell.write(line)
        if not lines and not only_differences:
            _shell.write(f"no bytes there: the last address is {dump.end - 1:0{address_digits(dump.end)}X}")
    return 1 if shown.differed else 0
