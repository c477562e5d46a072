"""Vote over the reads in several files, and write the majority image."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from imagekeeper import files
from imagekeeper.comparison.majority import By, Majority, Ties
from imagekeeper.comparison.voting import vote
from imagekeeper.containers.model import Image
from imagekeeper.errors import UsageError
from imagekeeper.jobs.disks.contents import LIMIT, SMALLEST
from imagekeeper.jobs.images.loading import Given, Options, all_loaded, refuse_same
from imagekeeper.jobs.images.writing import check_output, chosen_kind, write_image
from imagekeeper.jobs.reads.comparing import signs_in
from imagekeeper.jobs.reads.comparing_disks import disk_of, voted_as_disk
from imagekeeper.progress import Progress, silent


def vote_files(
    paths: Sequence[Given],
    output: str | None,
    options: Options,
    *,
    by: By = "byte",
    ties: Ties | None = None,
    volts: Sequence[float | None] | None = None,
    geometry: str | None = None,
    to: str | None = None,
    force: bool = False,
    progress: Progress = silent,
) -> Majority:
    """Vote over reads in files of any containers, and write what the majority gives.

    Nothing is written where addresses without a majority cannot be shown: a raw file has no gaps. Nor is it where fill
    would outvote content. The account says so by having no output.

    Args:
        paths: The files, three or more.
        output: The file to write, whole or not at all; None to write nothing.
        options: How to take the inputs.
        by: Whether to vote on whole bytes or on single bits.
        ties: What becomes of addresses without a majority; without it they stay gaps.
        volts: The supply voltage of each read, or None where it is not known, to weigh votes with. [volt]
        geometry: Of the disk that was read, such as 40x2x9x512 or the name of a format; without it the content tells
            whether it is one.
        to: The kind to write, or None to go by the output's ending, and raw for want of one.
        force: Replace the output if it is there.
        progress: Told how far it is.

    Raises:
        ImagekeeperError: An input cannot be understood, one file was given twice, the kind cannot hold the image, the
            output not be written, or voltages were given together with a geometry.
    """
    if geometry is not None and volts is not None:
        raise UsageError("usage/disk-or-chip")
    if output is not None:
        kind, _ = chosen_kind(output, to)
        check_output(output, force=force, inputs=paths)
    with all_loaded(paths, options) as reads:
        refuse_same(reads)
        images, names = [read.image for read in reads], [read.name for read in reads]
        disk = disk_of(images, names, geometry) if volts is None and len(reads) > 2 else None
        with progress("Voting", sum(read.image.size_bytes for read in reads)) as advance:
            account, image = vote(
                images, names,
                exact_names=[read.name_base64 for read in reads], by=by, ties=ties, volts=volts,
                free=unused(images), of_chip=disk is None, advance=advance,
            )  # fmt: skip
        account = _with_signs(account, image) if disk is None else voted_as_disk(account, images, names, disk)
        if output is None:
            return account
        account = replace(account, container=kind)
        if not _can_be_written(account, image, kind):
            return account
        write_image(image, output, kind, account.sha256, force=force)
    return replace(account, output=files.display_name(output))


def unused(images: Sequence[Image]) -> Callable[[int, int], bool]:
    """Give what tells which stretches the file systems of reads of a disk leave free; of other images, none."""
    spans = {(one.first_address, one.size_bytes, len(one.segments)) for one in images}
    start, size, pieces = next(iter(spans), (0, 0, 0))
    if len(spans) > 1 or pieces != 1 or not SMALLEST <= size <= LIMIT:
        return lambda address, length: False
    from imagekeeper.jobs.disks.free_space import free_in_all  # the file systems come with it: only for disks

    free = free_in_all([one.segments[0].data for one in images])
    return lambda address, length: free(address - start, length)


def _with_signs(account: Majority, image: Image) -> Majority:
    """Say what the voted image shows of a fault that all reads have: no vote mends it, and no chance is reckoned."""
    signs = signs_in(image)
    left = account.remaining
    if signs and left is not None and left.against is None:
        left = replace(left, against=signs[0].code)
    return replace(account, remaining=left, signs=signs)


def _can_be_written(account: Majority, image: Image, kind: str) -> bool:
    """Whether each address without a majority has a value, or a gap that the file will show, and no content goes."""
    if not image.size_bytes or account.fill_outvotes:
        return False
    if account.disputed.ties and account.ties == "gap":
        return kind != "raw"
    return True
