"""The command fingerprint."""

from __future__ import annotations

import click

from imagekeeper.cli import _shell
from imagekeeper.fingerprints import Fingerprints
from imagekeeper.jobs.images.loading import STDIN, Options
from imagekeeper.jobs.reads.fingerprinting import fingerprint_file
from imagekeeper.present.text.fingerprint import fingerprint_text


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
            if number:
                _shell.write("")
            _shell.show(result, fingerprint_text, as_json)
    return _shell.show(Fingerprints(tuple(results)), str, as_json) if as_json else 0
