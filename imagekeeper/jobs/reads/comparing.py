"""Compare the reads in several files."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from imagekeeper.comparison.comparison import Comparison, compare
from imagekeeper.errors import UsageError, Where
from imagekeeper.findings import Finding
from imagekeeper.jobs.images.loading import Given, Loaded, Options, all_loaded
from imagekeeper.jobs.images.writing import check_output
from imagekeeper.progress import Progress, silent


def pin_names(part: str) -> dict[str, str]:
    """Name the pin of each data and address line of a chip.

    Raises:
        NotFoundError: `chip-unknown`.

    Example:
        >>> pin_names("27128")["D3"]
        'pin 15 of a 27128'
    """
    from imagekeeper import chips  # the tables, only where they are asked for

    chip = chips.find(part)
    pins = {line: chip.pin_of(line) for line in (*chip.data_lines, *chip.address_lines)}
    return {line: f"pin {pin} of a {chip.id}" for line, pin in pins.items() if pin is not None}


#: A picture of differences has at most this many columns.
MAP_COLUMNS = 128


def compare_files(
    paths: Sequence[Given],
    options: Options,
    *,
    chip: str | None = None,
    volts: Sequence[float | None] | None = None,
    picture_to: str | None = None,
    mapped: bool = False,
    force: bool = False,
    progress: Progress = silent,
) -> Comparison:
    """Compare reads in files of any containers.

    Args:
        paths: The files, or what is in memory in their place.
        options: How to take them.
        chip: The chip that was read, whose pins are then named in hints.
        volts: The supply voltage of each read, or None where it is not known. [volt]
        picture_to: Where a map of the differences will be written, or None: where that cannot be, nothing is done.
        mapped: Count what a map needs also where none is written.
        force: Whether that map may replace what is there.
        progress: Told how far it is.

    Raises:
        UsageError: `usage` when there are not as many voltages as reads.
        NotFoundError: `chip-unknown`.
        ImagekeeperError: A file cannot be read or understood, or a picture not be written there.
    """
    if volts is not None and len(volts) != len(paths):
        raise UsageError("usage/one-voltage-a-read", volts=len(volts), reads=len(paths))
    pins = None if chip is None else pin_names(chip)
    if picture_to is not None:
        check_output(picture_to, force=force, inputs=paths)
    with all_loaded(paths, options) as reads:
        total = sum(read.image.size_bytes for read in reads)
        with progress("Comparing", total) as advance:
            result = compare(
                [read.image for read in reads],
                [read.name for read in reads],
                exact_names=[read.name_base64 for read in reads],
                volts=volts,
                pins=pins,
                map_columns=MAP_COLUMNS if mapped or picture_to is not None else 0,
                advance=advance,
            )
        same = tuple(_same_files(reads))
        left = None if same else result.remaining   # a file that was given twice is no independent read
        return replace(result, findings=(*same, *result.findings), remaining=left)


def _same_files(reads: Sequence[Loaded]) -> Iterator[Finding]:
    """Notice that two paths lead to one file: by its identity, not by its content."""
    seen: dict[tuple[int, int], str] = {}
    for read in reads:
        if read.identity is None:
            continue
        if read.identity in seen:
            yield Finding.of(
                "same-file", "warning", 1.0, Where(file=read.name), one=read.name, seen=seen[read.identity],
                detail={"files": [seen[read.identity], read.name]},
            )  # fmt: skip
        seen.setdefault(read.identity, read.name)
