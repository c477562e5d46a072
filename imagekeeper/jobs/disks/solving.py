"""Solve the geometry of a file, or of what is known without one."""

from __future__ import annotations

from dataclasses import replace

from imagekeeper.containers.model import Image
from imagekeeper.errors import InputError, Where
from imagekeeper.geometry import GeometrySolution, Known, solve
from imagekeeper.geometry.solving import SIZE_LIMIT
from imagekeeper.jobs.disks.one_read import reading_faults
from imagekeeper.jobs.images.loading import Given, Options, loaded


def solve_file(path: Given | None, options: Options, known: Known) -> GeometrySolution:
    """Tell which disk the image in a file may be of; without a file, which disk the facts allow.

    Args:
        path: The file, or None.
        options: How to take it.
        known: What is known beside it.

    Raises:
        ImagekeeperError: The file cannot be read or understood, has gaps, or facts exclude each other.
    """
    if path is None:
        return solve(None, known)
    with loaded(path, options) as file:
        size = file.image.size_bytes
        if size > SIZE_LIMIT:   # told by the size alone, so that no more than that is ever in memory
            found = solve(None, Known(size_bytes=size))
        else:
            data = _whole(file.image, file.name)
            found = solve(data, known)
            misread = reading_faults(data, found)
            found = replace(found, findings=tuple(replace(one, where=Where(file=file.name)) for one in misread))
        return found.named(file.name, file.name_base64)


def _whole(image: Image, name: str) -> bytes:
    """Give the bytes of an image in one piece."""
    if len(image.segments) > 1:
        raise InputError("gaps/disk", pieces=len(image.segments), where=Where(file=name))
    return b"".join(bytes(segment.data[:]) for segment in image.segments)
