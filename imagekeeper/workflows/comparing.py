"""Compare the reads in several files, and draw where they differ."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import replace

from imagekeeper import files
from imagekeeper.compare.comparison import Comparison, compare
from imagekeeper.errors import Where
from imagekeeper.findings import Finding
from imagekeeper.progress import Progress, silent
from imagekeeper.workflows.loading import Loaded, Options, all_loaded

#: A picture of differences has at most this many columns.
MAP_COLUMNS = 128


def compare_files(
    paths: Sequence[str],
    options: Options,
    *,
    picture: str | None = None,
    force: bool = False,
    progress: Progress = silent,
) -> Comparison:
    """Compare reads in files of any containers.

    Args:
        paths: The files.
        options: How to take them.
        picture: Where to write an SVG map of the differences, or None.
        force: Replace the picture if it is there.
        progress: Told how far it is.

    Raises:
        ImagekeeperError: A file cannot be read or understood, or the picture not be written.
    """
    if picture is not None and not force and os.path.lexists(picture):
        raise files.taken(files.display_name(picture))
    with all_loaded(paths, options) as reads:
        total = sum(read.image.size_bytes for read in reads)
        with progress("Comparing", total) as advance:
            result = compare(
                [read.image for read in reads],
                [read.name for read in reads],
                exact_names=[read.name_base64 for read in reads],
                map_columns=MAP_COLUMNS if picture is not None else 0,
                advance=advance,
            )
        same = tuple(_same_files(reads))
        result = replace(result, findings=(*same, *result.findings))
    if picture is not None:
        from imagekeeper.report import difference_map

        files.write_whole(picture, [difference_map.draw(result).encode()], force=force)
    return result


def _same_files(reads: Sequence[Loaded]) -> Iterator[Finding]:
    """Notice that two paths lead to one file: by its identity, not by its content."""
    seen: dict[tuple[int, int], str] = {}
    for read in reads:
        if read.identity is None:
            continue
        if read.identity in seen:
            yield Finding(
                "same-file", "warning", 1.0, Where(file=read.name),
                f"{read.name} and {seen[read.identity]} are one and the same file",
                "read the chip again into another file; a file always agrees with itself",
                {"files": [seen[read.identity], read.name]},
            )  # fmt: skip
        seen.setdefault(read.identity, read.name)
