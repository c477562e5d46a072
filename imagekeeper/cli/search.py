"""The command search."""

from __future__ import annotations

import click

from imagekeeper.archive.index.hits import Filters
from imagekeeper.cli import _session, _shell
from imagekeeper.jobs.archive import searching
from imagekeeper.jobs.images.loading import Options
from imagekeeper.present.text.search import search_text
from imagekeeper.provenance.agreed import GRADE_NAMES
from imagekeeper.provenance.kinds import KINDS


@click.command(epilog="Example: imagekeeper search harbour u4, or imagekeeper search --file unknown.bin")
@click.argument("terms", nargs=-1, metavar="[TERM]...")
@click.option("--file", "file", metavar="FILE", help="Look for the image in this file, the same or nearly.")
@click.option("--size", type=_shell.SIZE, metavar="SIZE", help="Only carriers with an image or file of this size.")
@click.option(
    "--grade", type=click.Choice(GRADE_NAMES), metavar="GRADE",
    help="Only of this grade: " + ", ".join(GRADE_NAMES) + ".",
)
@click.option(
    "--kind", "carrier_kind", type=click.Choice([*KINDS, "machine"]), metavar="KIND",
    help="Only this kind of carrier, or `machine`.",
)
@click.option("--machine", metavar="NAME", help="Only carriers of this machine; part of its name is enough.")
@click.option("--read-after", metavar="DATE", help="Only with a read of this date or later: 2026-03-02, 2026-03, 2026.")
@click.option("--read-before", metavar="DATE", help="Only with a read of this date or earlier.")
@click.option("--added-after", metavar="DATE", help="Only what was added on this date or later.")
@click.option("--added-before", metavar="DATE", help="Only what was added on this date or earlier.")
@click.option("--limit", type=click.IntRange(1, 10_000), default=20, show_default=True, help="How many at most.")
@_session.archive_option
@_shell.reading_options
@_shell.json_option
def search(
    terms: tuple[str, ...], file: str | None, size: int | None, carrier_kind: str | None, limit: int,
    archive_path: str | None, options: Options, as_json: bool, **chosen: str | None,
) -> int:  # fmt: skip
    """Find carriers and machines by what is written about them, by digests, or by an image.

    All TERMs must be there. The beginning of a word is enough, and a slip of the keys is forgiven in words of four
    letters or more. A TERM of eight hexadecimal digits or more also finds files and images whose digest begins so.

    With --file: is this image kept already, as it is, padded or repeated, as a lane or half of another, or nearly? The
    first time this reads every image of the archive.

    The exit code is 1 when nothing is found.
    """
    archive = _session.archive(archive_path)
    wanted = searching.filters(kind=carrier_kind, size_bytes=size, **chosen)
    if file is not None:
        if terms or wanted != Filters():
            raise click.UsageError("--file stands alone: it cannot be joined with words or other choices")
        from imagekeeper.jobs.archive.recognising import search_image  # slow to load: only where an image is looked for

        result = search_image(archive, file, options, limit=limit, progress=_shell.bar)
    else:
        result = searching.search_text(archive, terms, wanted, limit=limit, progress=_shell.bar)
    return _shell.show(result, search_text, as_json)
