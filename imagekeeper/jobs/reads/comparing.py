"""Compare the reads in several files."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from imagekeeper.comparison.comparison import Comparison, compare
from imagekeeper.containers.model import Image
from imagekeeper.errors import UsageError, Where
from imagekeeper.findings import Finding
from imagekeeper.inspection.glance import CODES, worth_inspecting
from imagekeeper.jobs.images.loading import Given, Loaded, Options, all_loaded
from imagekeeper.jobs.images.writing import check_output
from imagekeeper.jobs.reads.comparing_disks import as_disk, disk_of
from imagekeeper.progress import Progress, silent

if TYPE_CHECKING:   # the tables are slow to load, and most reads are compared without them
    from imagekeeper.chips import Chip


def facts_of(chip: Chip | None) -> dict[str, Any]:
    """Give what a comparison uses of the chip that was read: names of its pins, how it is made, own rows under it.

    Example:
        >>> from imagekeeper.chips import find
        >>> facts_of(find("2332"))["pins"]["D3"], facts_of(find("2332"))["technology"], facts_of(None)
        ('pin 13 of a 2332', 'mask-rom', {})
    """
    if chip is None:
        return {}
    pins = {line: chip.pin_of(line) for line in (*chip.data_lines, *chip.address_lines)}
    named = {line: f"pin {pin} of a {chip.id}" for line, pin in pins.items() if pin is not None}
    return {"pins": named, "technology": chip.technology, "resting": chip.own}


#: A picture of differences has at most this many columns.
MAP_COLUMNS = 128


def compare_files(
    paths: Sequence[Given],
    options: Options,
    *,
    chip: str | None = None,
    geometry: str | None = None,
    volts: Sequence[float | None] | None = None,
    picture_to: str | None = None,
    mapped: bool = False,
    force: bool = False,
    progress: Progress = silent,
) -> Comparison:
    """Compare reads in files of any containers.

    Reads of a disk are compared by cylinder, side and sector: where a geometry is given, or where no chip is and the
    content says that it is a disk.

    Args:
        paths: The files, or what is in memory in their place.
        options: How to take them.
        chip: The chip that was read: its pins are then named in hints, and each read is inspected as one of it.
        geometry: Of the disk that was read, such as 40x2x9x512 or the name of a format, or None.
        volts: The supply voltage of each read, or None where it is not known. [volt]
        picture_to: Where a map of the differences will be written, or None: where that cannot be, nothing is done.
        mapped: Count what a map needs also where none is written.
        force: Whether that map may replace what is there.
        progress: Told how far it is.

    Raises:
        UsageError: `usage` when there are not as many voltages as reads, for a chip or voltages together with a
            geometry, and for a geometry that no disk has.
        NotFoundError: `chip-unknown`, `format-unknown`.
        ImagekeeperError: A file cannot be read or understood, or a picture not be written there.
    """
    if volts is not None and len(volts) != len(paths):
        raise UsageError("usage/one-voltage-a-read", volts=len(volts), reads=len(paths))
    if geometry is not None and (chip is not None or volts is not None):
        raise UsageError("usage/disk-or-chip")
    known = None
    if chip is not None:
        from imagekeeper import chips  # the tables, only where they are asked for

        known = chips.find(chip)
    if picture_to is not None:
        check_output(picture_to, force=force, inputs=paths)
    with all_loaded(paths, options) as reads:
        same = _same_files(reads)
        plain = chip is None and volts is None
        images, names = [read.image for read in reads], [read.name for read in reads]
        disk = disk_of(images, names, geometry) if plain and len(reads) > 1 else None
        total = sum(read.image.size_bytes for read in reads)
        with progress("Comparing", total) as advance:
            result = compare(
                images,
                names,
                exact_names=[read.name_base64 for read in reads],
                volts=volts,
                copies=[number for number, earlier in enumerate(same) if earlier is not None],
                **facts_of(known),
                of_chip=disk is None,
                map_columns=MAP_COLUMNS if mapped or picture_to is not None else 0,
                advance=advance,
            )
        told = tuple(_told(reads, same))
        if disk is not None:
            return as_disk(result, images, names, disk).looked_at(same, [()] * len(reads), told)
        return result.looked_at(same, _signs(reads, result, chip), told)


def _same_files(reads: Sequence[Loaded]) -> list[int | None]:
    """Notice that two paths lead to one file, by its identity, not by its content: the number of the first of them."""
    seen: dict[tuple[int, int], int] = {}
    return [
        None if read.identity is None or (first := seen.setdefault(read.identity, number)) == number else first
        for number, read in enumerate(reads, 1)
    ]


def _told(reads: Sequence[Loaded], same: Sequence[int | None]) -> Iterator[Finding]:
    for read, first in zip(reads, same, strict=True):
        if first is not None:
            seen = reads[first - 1].name
            yield Finding.of(
                "same-file", "warning", 1.0, Where(file=read.name), one=read.name, seen=seen,
                detail={"files": [seen, read.name]},
            )  # fmt: skip


def _signs(reads: Sequence[Loaded], result: Comparison, part: str | None) -> list[tuple[Finding, ...]]:
    """Look at each read for itself: as an inspection does where the chip is known, else quickly and at equal ones."""
    found: dict[str, tuple[Finding, ...]] = {}
    for read, compared in zip(reads, result.reads, strict=True):
        key = f"{compared.first_address} {compared.sha256}"
        if key not in found and (part is not None or result.agree):
            found[key] = signs_in(read.image, part)
    return [found.get(f"{one.first_address} {one.sha256}", ()) for one in result.reads]


def signs_in(image: Image, part: str | None = None) -> tuple[Finding, ...]:
    r"""Find what one read shows of a fault; without the chip, only what a quick look makes worth an inspection.

    Args:
        image: The read.
        part: The marking of the chip, or None.

    Returns:
        Faults and warnings, worst first.

    Raises:
        NotFoundError: `chip-unknown`.

    Example:
        >>> [found.code for found in signs_in(Image.from_bytes(b"\xff" * 2048))]
        ['blank']
    """
    if part is None and not worth_inspecting(image):
        return ()
    from imagekeeper import chips  # the tables and numpy, only where something is to be said
    from imagekeeper.inspection.inspection import inspect_image

    told = inspect_image(image, None if part is None else chips.find(part)).findings
    if part is not None:
        return tuple(one for one in told if one.severity != "note")
    return tuple(one for one in told if one.code in CODES and (one.severity == "fault" or one.code == "blank"))
