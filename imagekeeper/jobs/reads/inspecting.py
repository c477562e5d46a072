"""Inspect the image in one file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from imagekeeper import chips
from imagekeeper.addresses import joined
from imagekeeper.containers.model import Data, Image
from imagekeeper.containers.remarks import remarks
from imagekeeper.errors import Where
from imagekeeper.findings import Finding
from imagekeeper.inspection.inspection import conclusion, inspect_image, worst_first
from imagekeeper.inspection.results import Inspection
from imagekeeper.jobs.images.loading import Given, Options, loaded
from imagekeeper.jobs.images.writing import check_output

#: What is said of an image whatever it was read from; all else an inspection finds is of lines and sockets of memories.
OF_ANY = ("not-diagnosed",)

_ALL_ONE = ("blank", "not-selected")


def inspect_file(
    path: Given, options: Options, *, part: str | None = None, picture_to: str | None = None, force: bool = False
) -> Inspection:
    """Tell what the image in a file says of itself.

    Args:
        path: The file.
        options: How to take it.
        part: The marking of the chip that it was read from, or None.
        picture_to: Where a map of the image will be written, or None: where that cannot be, nothing is done.
        force: Whether that map may replace what is there.

    Raises:
        ImagekeeperError: The file cannot be read or understood, the chip is unknown, or the place of the map is
            taken.
    """
    if picture_to is not None:
        check_output(picture_to, force=force, inputs=[path])
    chip = None if part is None else chips.find(part)
    with loaded(path, options) as file:
        result = inspect_image(file.image, chip).named(file.name, file.name_base64)
        if chip is None and len(file.image.segments) == 1 and not file.image.addressed:
            result = _of_disk(result, file.image.segments[0].data)
        return _doubted(result, file.image)


def _of_disk(result: Inspection, data: Data) -> Inspection:
    """Say also what the image is as that of a disk, and what its reading did to it."""
    from imagekeeper.jobs.disks.contents import disk_contents  # the tables come with it
    from imagekeeper.jobs.disks.looking_into import FLOPPY_LIMIT, Solving  # as above
    from imagekeeper.jobs.disks.one_read import reading_faults  # as above

    solving = Solving(data)
    seen = disk_contents(data, result.name, solving)
    if seen is None:
        return result
    found = [*_not_of_memories(result)]
    if len(data) <= FLOPPY_LIMIT:
        misread = reading_faults(data, solving.solution)
        found += [replace(one, where=Where(file=result.name)) for one in misread]
    findings = worst_first(found)
    says = result.says if findings == result.findings else conclusion(findings)
    return replace(result, disk=seen, findings=findings, says=says)


def _not_of_memories(result: Inspection) -> Iterator[Finding]:
    """What is said of memories is nothing to disks, but that all bytes are one."""
    for one in result.findings:
        if one.code in OF_ANY:
            yield one
        elif one.code in _ALL_ONE:
            yield Finding.of(
                "blank/disk", one.severity, one.confidence, one.where, size=result.size_bytes,
                value=one.detail["value"], detail=one.detail,
            )  # fmt: skip


def _doubted(result: Inspection, image: Image) -> Inspection:
    """Say also how the file was taken, and what it speaks against: no rule that looks at the bytes can see that."""
    found = list(remarks(image, result.name))
    if image.doubts:
        size = sum(span.length for span in joined(image.doubts))
        found.append(Finding.of(
            "doubtful-bytes/inspected", "warning", 1.0, Where(file=result.name, line=image.doubts[0].line),
            first_doubt=image.doubts[0].why, detail={"doubts": len(image.doubts), "bytes": size},
        ))  # fmt: skip
    if not found:
        return result
    findings = worst_first((*found, *result.findings))
    return replace(result, findings=findings, says=conclusion(findings) if result.entropy is not None else result.says)
