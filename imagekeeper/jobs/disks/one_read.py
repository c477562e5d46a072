"""Ask the image of a floppy disk what its reading did to it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from imagekeeper import budget
from imagekeeper.containers.model import Data
from imagekeeper.errors import InputError
from imagekeeper.findings import Finding
from imagekeeper.floppy.arrangement import Geometry

if TYPE_CHECKING:
    from imagekeeper.geometry import GeometrySolution

#: No smaller image is asked: it is of no disk, but of a device. [byte]
SMALLEST = 70_000

#: From here on a fault of the reading is no matter of opinion, and a disk is not written from the image. Our judgement.
SURE = 0.9


def reading_faults(
    data: Data, solution: GeometrySolution, geometry: Geometry | None = None
) -> tuple[Finding, ...]:
    """Tell what the reading of a disk did to its image, as far as one image shows it.

    Args:
        data: The image, sides by turns.
        solution: What disk it may be of.
        geometry: What a person said of that, or None.
    """
    if len(data) < SMALLEST or budget.current().steps_left < budget.STEPS // 2:   # then it is full of directories
        return ()
    from imagekeeper.disk_reads.one_read import understood  # numpy, and the file systems with it
    from imagekeeper.disk_reads.one_read_telling import told_of  # as above
    from imagekeeper.disk_reads.possible import possible  # as above

    whole = data[:]
    try:
        found = understood(whole, possible(whole, solution) if geometry is None else (geometry,))
    except InputError as problem:
        if problem.code != "too-much-work":
            raise
        return ()   # it is full of what could be anything: then it says nothing of its reading
    return () if found is None else tuple(told_of(found))
