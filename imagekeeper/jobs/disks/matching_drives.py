"""Find the drives for a format, or for the disk that a file is of."""

from __future__ import annotations

import os

from imagekeeper import drives
from imagekeeper.drives import DriveMatch
from imagekeeper.drives.bench import Bench
from imagekeeper.errors import NotFoundError
from imagekeeper.floppy import formats
from imagekeeper.jobs.images.loading import STDIN, Given, Options
from imagekeeper.sentences.say import Phrase
from imagekeeper.tables.other_disks import other_disks


def drives_for(text: str, options: Options, archive_path: str | None = None) -> DriveMatch:
    """Match drives to a format by one of its names, or to the disk that an image is of.

    Args:
        text: A name of a format, or the path of an image; a file of that name goes first. `-` is standard input.
        options: How files are to be taken.
        archive_path: The archive whose bench is asked first; None for one that encloses this folder, if there is one.

    Raises:
        NotFoundError: `format-unknown` where it is neither a format nor a file, or the file is of none;
            `archive-missing` for an archive that was named.
        InputError: `bench-form` for a bench file that cannot be understood.
        ImagekeeperError: Whatever is wrong with the file.

    Example:
        >>> drives_for("360K", Options()).drives[0].drive
        '5.25-48tpi'
    """
    return drives_for_disk(text, options, bench_at(archive_path))


def drives_for_disk(given: Given, options: Options, bench: Bench | None) -> DriveMatch:
    """Match drives to a format by one of its names, or to the disk that an image is of; see `drives_for`.

    Args:
        given: A name of a format, or an image; a file of that name goes first.
        options: How files are to be taken.
        bench: What is at hand, or None.
    """
    if not isinstance(given, str) or given == STDIN or os.path.lexists(given):
        return _for_file(given, options, bench)
    try:
        return drives.match(formats.find_other(given) or formats.find(given), bench=bench, today=today_for(bench))
    except NotFoundError as problem:
        if os.sep in given or "." in given:   # it may have been meant as a file
            problem.adding(why=Phrase("format-unknown/no-file-either"))
        raise


def bench_at(archive_path: str | None) -> Bench | None:
    """Find the bench of an archive; without an archive there is none, and nothing is wrong."""
    from imagekeeper.jobs.bench.equipping import bench_of  # slow to load: only with an archive
    from imagekeeper.jobs.session import open_archive

    try:
        return bench_of(open_archive(archive_path))
    except NotFoundError:
        if archive_path is not None:
            raise
        return None


def today_for(bench: Bench | None) -> str | None:
    """Give the day from which the age of a bench's trials is told, or None where there are none."""
    if bench is None or not bench.interchanges:
        return None
    from imagekeeper.jobs.session import now  # slow to load: only with an archive

    return now()


def _for_file(path: Given, options: Options, bench: Bench | None) -> DriveMatch:
    """Work out which disk an image is of, and match drives to the most likely."""
    from imagekeeper.geometry import Known  # slow to load: only where a disk is worked out
    from imagekeeper.jobs.disks.solving import solve_file

    found = solve_file(path, options, Known())
    best = found.candidates[0] if found.candidates else None
    ahead = found.leading_rival
    if ahead is not None:
        also = tuple(name for one in found.candidates if one.exact for name in one.formats)
        return drives.match(other_disks()[ahead.format], also, bench, today_for(bench))
    if best is None or best.format is None:
        raise NotFoundError("format-unknown/of-file", found=found.says)
    others = tuple(name for name in best.formats if name != best.format)
    return drives.match(formats.find(best.format), others, bench, today_for(bench))
