"""Convert a file from one container to another, its image transformed if wanted, and prove what was written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import ClassVar, Literal

from imagekeeper import files, fingerprints
from imagekeeper.addresses import Doubt
from imagekeeper.containers.model import Image
from imagekeeper.containers.remarks import remarks
from imagekeeper.errors import ImagekeeperError, UsageError, Where
from imagekeeper.findings import Finding
from imagekeeper.fingerprints import Fingerprint
from imagekeeper.jobs.images.loading import Given, Loaded, Options, all_loaded
from imagekeeper.jobs.images.transforming import transform
from imagekeeper.jobs.images.wanting import WantedSteps, check
from imagekeeper.jobs.images.writing import ChosenBy, check_output, chosen_kind, write_image
from imagekeeper.progress import Progress, silent
from imagekeeper.transforms.replaying import StepTaken
from imagekeeper.units import ADDRESS_LIMIT


@dataclass(frozen=True, kw_only=True)
class Conversion:
    """What was converted into what.

    Attributes:
        source: The image as it was read, with its container, gaps and doubts.
        joined: The images that were joined with it as further lanes, in order.
        steps: What was done to its bytes, in order: these steps on the bytes of the source give those of the result.
        output: Name of the file written, made printable.
        container: The kind of file written.
        chosen_by: `option` where --to named the kind, `ending` where the file name did, `default` otherwise.
        file_bytes: Size of the file written. [byte]
        base: Address of the first byte in the file written, or null where the kind states none. [byte]
        size_bytes: Size of the image written. [byte]
        sha256: SHA-256 of the image written.
        doubts: Bytes of the image written that a file read speaks against, by their addresses there.
        findings: How the files were taken, where there is something to say of it.
    """

    SCHEMA: ClassVar[Literal["conversion/1"]] = "conversion/1"

    source: Fingerprint
    joined: tuple[Fingerprint, ...]
    steps: tuple[StepTaken, ...]
    output: str
    container: str
    chosen_by: ChosenBy
    file_bytes: int
    base: int | None
    size_bytes: int
    sha256: str
    doubts: tuple[Doubt, ...]
    findings: tuple[Finding, ...] = ()


def convert_file(
    path: Given,
    output: str,
    options: Options,
    *,
    wanted: WantedSteps | None = None,
    to: str | None = None,
    base: int | None = None,
    force: bool = False,
    progress: Progress = silent,
) -> Conversion:
    """Convert one file.

    Args:
        path: The file to read.
        output: The file to write, whole or not at all.
        options: How to take the input, and what is joined with it; its `fill` closes gaps, and pads.
        wanted: What to do to the image's bytes.
        to: The kind to write, or None to go by the output's ending, and raw for want of one.
        base: Where the first byte shall lie, or None to keep its address.
        force: Replace the output if it is there.
        progress: Told how far it is.

    Raises:
        ImagekeeperError: The input cannot be understood, what is wanted does not fit it, the kind cannot hold the
            image, or the output not be written.
    """
    wanted = wanted or WantedSteps()
    check(wanted, options.fill)
    kind, chosen_by = chosen_kind(output, to)
    paths = (path, *wanted.join)
    check_output(output, force=force, inputs=paths)
    with all_loaded(paths, replace(options, fill=None)) as reads:
        _refuse_same_lanes(reads)
        with progress(f"Converting {reads[0].name}", sum(read.image.size_bytes for read in reads)) as advance:
            source, *joined = [
                fingerprints.take(read.image, read.name, name_base64=read.name_base64, advance=advance)
                for read in reads
            ]
        found = tuple(one for read in reads for one in remarks(read.image, read.name))
        image, steps = _transformed(reads, wanted, options.fill)
        if base is not None:
            image = _at_base(image, base)
        sha256 = steps[-1].sha256 if steps else source.sha256
        size = write_image(image, output, kind, sha256, force=force)
    return Conversion(
        source=source, joined=tuple(joined), steps=steps, output=files.display_name(output), container=kind,
        chosen_by=chosen_by, file_bytes=size, base=None if kind == "raw" else image.first_address,
        size_bytes=image.size_bytes, sha256=sha256, doubts=image.doubts, findings=found,
    )  # fmt: skip


def _transformed(reads: Sequence[Loaded], wanted: WantedSteps, fill: int | None) -> tuple[Image, tuple[StepTaken, ...]]:
    image = reads[0].image
    if not wanted.anything and not (fill is not None and image.gaps):
        return image, ()   # bytes that nothing is done to may stay in their file, whatever their amount
    try:
        done = transform([read.image for read in reads], [read.name for read in reads], wanted, fill)
    except ImagekeeperError as problem:
        raise problem.at(file=reads[0].name) from problem.__cause__
    return done.image, done.steps


def _refuse_same_lanes(reads: Sequence[Loaded]) -> None:
    seen: dict[tuple[int, int] | None, str] = {}
    for read in reads:
        if read.identity is not None and read.identity in seen:
            raise UsageError(
                "usage/file-for-two-lanes", one=seen[read.identity], other=read.name, where=Where(file=read.name),
            )  # fmt: skip
        seen[read.identity] = read.name


def _at_base(image: Image, base: int) -> Image:
    if base + image.span_bytes > ADDRESS_LIMIT:
        raise UsageError("address-out-of-range/base", size=image.span_bytes, base=base)
    return image.moved(base)
