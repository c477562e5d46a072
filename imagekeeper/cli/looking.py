"""Commands that look at plain files: fingerprint, hexdump, compare."""

from __future__ import annotations

import click

from imagekeeper.cli import _shell, _text
from imagekeeper.fingerprint import Fingerprints
from imagekeeper.hexdump import listed
from imagekeeper.workflows import looking
from imagekeeper.workflows.loading import Options


@click.command(
    epilog="Example: imagekeeper fingerprint u4-first.bin u4-second.hex --figure md5 --figure CRC-16/ARC"
)
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@click.option(
    "--figure", "more", multiple=True, metavar="NAME",
    help="One more figure; may be repeated: md5, sha512, a CRC such as CRC-16/ARC, or a sum such as sum16-words-be. "
    "A wrong name lists them all.",
)  # fmt: skip
@_shell.reading_options
@_shell.json_option
def fingerprint(files: tuple[str, ...], more: tuple[str, ...], options: Options, as_json: bool) -> int:
    """Take size, sums as printed on chip labels, CRC-32, SHA-1 and SHA-256 of what each FILE holds.

    The figures are of the image, not of the file around it: a chip's raw file and its Intel HEX file give the same.
    """
    results = []
    for number, path in enumerate(files):
        result = looking.fingerprint_file(path, options, more=more, progress=_shell.bar)
        if as_json:
            results.append(result)
        else:
            _shell.write(("\n" if number else "") + _text.fingerprint(result))
    return _shell.show(Fingerprints(tuple(results)), str, as_json) if as_json else 0


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
    with looking.hexdump_rows(
        file, options, against=against, start=start, length=length, width=width
    ) as (rows, end):
        if as_json:
            chosen = (row for row in rows() if row.other is not None or not only_differences)
            return _shell.show(listed(chosen, against=against is not None), str, as_json)
        shown = _text.HexdumpText(end, everything=everything or against is not None, only_differences=only_differences)
        for line in shown.lines(rows()):
            _shell.write(line)
    return 1 if shown.differed else 0


@click.command(epilog="Example: imagekeeper compare u4-first.bin u4-second.hex.gz")
@click.argument("reads", nargs=-1, required=True, metavar="READ READ...")
@click.option(
    "--ranges", type=click.IntRange(0, 1000), default=16, show_default=True, help="How many differing ranges to list."
)
@click.option("--picture", metavar="FILE", help="Draw the differences over the addresses, as SVG.")
@click.option("--force", is_flag=True, help="Replace the picture if it is there.")
@_shell.reading_options
@_shell.json_option
def compare(
    reads: tuple[str, ...], ranges: int, picture: str | None, force: bool, options: Options, as_json: bool
) -> int:
    """Tell whether independent READs of one carrier agree, and where they differ.

    The reads may come in any mix of containers. Agreement of reads proves that they were taken alike; it does not
    prove that they are right: a fault that repeats itself repeats itself in every read.
    """
    if len(reads) < 2:
        raise click.UsageError("compare needs two reads or more; read the chip again into another file")
    result = looking.compare_files(reads, options, picture=picture, force=force, progress=_shell.bar)
    return _shell.show(result, lambda r: _text.comparison(r, ranges, picture), as_json)
