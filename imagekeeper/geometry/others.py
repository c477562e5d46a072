"""Disks of other recordings that are of the very size of an image: rivals of what a controller could have written.

Rule: where such a disk has tracks that are all alike, its sectors lie in the file where those of any other disk of that
geometry do, so that content speaks for both alike; a file allocation table (FAT) excepted, for the systems that have
one write FM and MFM by the common controllers. How much each weighs: our judgement.
"""

from __future__ import annotations

from collections.abc import Iterator

from imagekeeper.geometry.known import Known
from imagekeeper.geometry.proposals import Proposal
from imagekeeper.geometry.shapes import Shape, Track
from imagekeeper.ranked import Evidence
from imagekeeper.tables.other_disks import ENCODINGS, OtherDisk
from imagekeeper.units import size_text

#: How usual the most usual disk of a size is, and any other of this table, as weight of evidence.
_COMMON, _SELDOM = 2.5, 0.5


def proposed(known: Known) -> Iterator[tuple[OtherDisk, Proposal]]:
    """Propose the disks of other recordings that agree, each with the shape by which content is weighed.

    Example:
        >>> [disk.id for disk, _ in proposed(Known(size_bytes=143_360))]
        ['5.25-35x1x16x256-gcr', '5.25-35x1x16x256-16holes']
    """
    for disk in known.others():
        evidence = [Evidence(f"how usual it is: {disk.title}", _COMMON if disk.common else _SELDOM)]
        if known.size_bytes is not None:
            evidence.append(Evidence(f"{size_text(disk.bytes)} is exactly {disk.geometry}", 3.0))
        yield disk, Proposal(shape=_shape(disk), evidence=tuple(evidence))


def _shape(disk: OtherDisk) -> Shape:
    track = Track(disk.encoding, disk.cell_rate, disk.rotation)
    return Shape(
        cylinders=disk.cylinders, heads=disk.heads, sectors=disk.zones[0][1], sector_bytes=disk.sector_bytes,
        track=track,
    )  # fmt: skip


def against_fats(disk: OtherDisk) -> Evidence:
    """Say what file allocation tables tell against a disk of another recording."""
    how = f"with {disk.holes} sector holes" if disk.holes else f"in {ENCODINGS[disk.encoding]}"
    return Evidence(f"systems with FATs write by the common controllers, and not {how} as this disk is", -9.0)
