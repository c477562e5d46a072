"""The command fingerprint."""

from __future__ import annotations

import click

from imagekeeper.cli import _shell, _text
from imagekeeper.fingerprints import Fingerprint, Fingerprints
from imagekeeper.jobs.images.loading import STDIN, Options
from imagekeeper.jobs.reads.fingerprinting import fingerprint_file
from imagekeeper.units import address_digits, range_text, size_text


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
    if files.count(STDIN) > 1:
        raise click.UsageError("standard input can be read only once; save it to a file first")
    results = []
    for number, path in enumerate(files):
        result = fingerprint_file(path, options, more=more, progress=_shell.bar)
        if as_json:
            results.append(result)
        else:
            _shell.write(("\n" if number else "") + text(result))
    return _shell.show(Fingerprints(tuple(results)), str, as_json) if as_json else 0


def text(figures: Fingerprint) -> str:
    """Show one file's fingerprint."""
    digits = address_digits(figures.first_address + figures.span_bytes)
    rows = [
        ["size", f"{size_text(figures.size_bytes)}, {_text.container_text(figures.container, figures.wrapped_in)}"],
        ["addresses", range_text(figures.first_address, figures.span_bytes, digits)],
    ]
    if figures.gaps:
        listed = ", ".join(range_text(gap.start, gap.length, digits) for gap in figures.gaps[:_text.SHOWN])
        more = f" and {len(figures.gaps) - _text.SHOWN} more" if len(figures.gaps) > _text.SHOWN else ""
        rows.append(["gaps", f"{listed}{more}: nothing is known of these, and the figures leave them out"])
    rows += [
        ["sums", f"{figures.sum16} (16 bits), {figures.sum8} (8), {figures.sum32} (32), {figures.xor8} (exclusive or)"],
        ["CRC-32", figures.crc32],
        ["SHA-1", figures.sha1],
        ["SHA-256", figures.sha256],
    ]
    rows += [[name, value or "none: an odd number of bytes"] for name, value in figures.more.items()]
    if figures.blank is not None:
        rows.append(["blank", f"every byte is {figures.blank}: an erased chip, or one that was not selected"])
    lines = [figures.name, *_text.table(rows)]
    for one in figures.doubts[:_text.SHOWN]:
        lines.append(f"  doubtful   {_text.doubt(one)}")
    if len(figures.doubts) > _text.SHOWN:
        lines.append(f"  doubtful   and {len(figures.doubts) - _text.SHOWN} more; --json lists all")
    return "\n".join(lines)
