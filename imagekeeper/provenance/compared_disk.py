"""What reads of one disk agree on, by cylinder, side and sector."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, kw_only=True)
class ComparedSector:
    """A sector in which not all reads are equal.

    Attributes:
        cylinder: Counted from 0.
        side: Counted from 0.
        sector: Its place on the track as the image has it, counted from 1.
        alike: For each read the number of the first read with the same bytes, counted from 1; 0 where a read ends
            before it.
        fills: Numbers of the reads that hold nothing but fill there, counted from 1.
    """

    cylinder: int
    side: int
    sector: int
    alike: tuple[int, ...]
    fills: tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class ComparedTrack:
    """One side of a cylinder.

    Attributes:
        cylinder: Counted from 0.
        side: Counted from 0.
        sectors: How many it has.
        agree: In how many of them all reads are equal.
        majority: In how many of the others more than half of the reads are.
        apart: For each read in how many sectors it differs from what most reads hold, or from the first read where no
            content has a majority.
    """

    cylinder: int
    side: int
    sectors: int
    agree: int
    majority: int
    apart: tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class ComparedDisk:
    """What reads of one disk agree on.

    Attributes:
        geometry: Cylinders, heads, sectors and bytes, by which the reads were laid out.
        geometry_from: `given`; `content` where a file system on the disk tells it; `size` where only the size does, so
            that it is the likeliest.
        side_order: In which order the reads have the tracks of two sides.
        sectors: How many the disk has.
        agree: In how many of them all reads are equal.
        tracks: One side of a cylinder each, by cylinder and side.
        differing: The sectors in which not all reads are equal, in the order of the tracks.
    """

    geometry: str
    geometry_from: Literal["given", "content", "size"]
    side_order: Literal["alternating", "side-after-side", "side-1-reversed"]
    sectors: int
    agree: int
    tracks: tuple[ComparedTrack, ...]
    differing: tuple[ComparedSector, ...]
