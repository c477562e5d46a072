"""The steps for images of disks.

They record the geometry itself, not the name of a format: a table may change.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from imagekeeper.errors import UsageError
from imagekeeper.floppy import arrangement
from imagekeeper.floppy.arrangement import Geometry, SideOrder
from imagekeeper.transforms.chip_steps import Pad, Window
from imagekeeper.transforms.step import Step, fill_byte


def geometry_of(geometry: str, first_track: str | None) -> Geometry:
    """Read a recorded geometry.

    Args:
        geometry: Cylinders x heads x sectors x bytes.
        first_track: Sectors x bytes of track 00 of side 0 where they are others, else None.

    Raises:
        UsageError: `usage` where it is none.

    Example:
        >>> geometry_of("77x2x26x256", "26x128").bytes
        1021696
    """
    figures = re.fullmatch(r"(\d{1,5})x(\d{1,5})x(\d{1,5})x(\d{1,5})", geometry, re.ASCII)
    first = re.fullmatch(r"(\d{1,5})x(\d{1,5})", first_track or "0x0", re.ASCII)
    if figures is None or first is None:
        raise UsageError(
            "usage", "a geometry cannot be read",
            why=f"it is {geometry[:60]!r}, first track {(first_track or '')[:60]!r}",
            hint="write it as cylinders x heads x sectors x bytes, such as 80x2x9x512",
        )  # fmt: skip
    cylinders, heads, sectors, size = map(int, figures.groups())
    return Geometry(
        cylinders=cylinders, heads=heads, sectors=sectors, sector_bytes=size,
        first_track=(int(first[1]), int(first[2])) if first_track else None,
    )  # fmt: skip


def recorded(geometry: Geometry) -> tuple[str, str | None]:
    """Write a geometry as steps record it, with the first track where that is another.

    Example:
        >>> recorded(Geometry(cylinders=80, heads=2, sectors=9, sector_bytes=512)), recorded(Geometry(
        ...     cylinders=77, heads=2, sectors=26, sector_bytes=256, first_track=(26, 128)
        ... ))
        (('80x2x9x512', None), ('77x2x26x256', '26x128'))
    """
    first = geometry.first_track
    return geometry.text, None if first is None else f"{first[0]}x{first[1]}"


@dataclass(frozen=True)
class FitGeometry(Step):
    """Cut or pad to a geometry, at the end of the file.

    Attributes:
        step: Its name.
        geometry: Cylinders x heads x sectors x bytes.
        first_track: Sectors x bytes of track 00 of side 0 where they are others, or null.
        fill: The byte to pad with, and the only one that may be cut away.
        cut_data: Whether to cut away whatever there is.
    """

    step: Literal["fit-geometry"] = field(default="fit-geometry", init=False)
    geometry: str
    first_track: str | None
    fill: int
    cut_data: bool

    def __post_init__(self) -> None:
        geometry_of(self.geometry, self.first_track)
        fill_byte(self.fill)

    def _do(self, data: bytes, others: Sequence[bytes]) -> bytes:
        return arrangement.fit(
            data, geometry_of(self.geometry, self.first_track), self.fill, cut_data=self.cut_data
        )

    def _carry(self, marks: bytes, others: Sequence[bytes]) -> bytes:
        size = geometry_of(self.geometry, self.first_track).bytes
        return marks[:size].ljust(size, b"\0")

    def _undo(self, before_bytes: int) -> Step | None:
        if before_bytes <= geometry_of(self.geometry, self.first_track).bytes:
            return Window(0, before_bytes)
        return None if self.cut_data else Pad(before_bytes, self.fill, "end")


@dataclass(frozen=True)
class OrderSides(Step):
    """Put the tracks of two sides into another order.

    Attributes:
        step: Its name.
        geometry: Cylinders x heads x sectors x bytes.
        first_track: Sectors x bytes of track 00 of side 0 where they are others, or null.
        sides_from: The order before.
        sides_to: The order after.
    """

    step: Literal["order-sides"] = field(default="order-sides", init=False)
    geometry: str
    first_track: str | None
    sides_from: SideOrder
    sides_to: SideOrder

    def __post_init__(self) -> None:
        geometry_of(self.geometry, self.first_track)

    def _do(self, data: bytes, others: Sequence[bytes]) -> bytes:
        geometry = geometry_of(self.geometry, self.first_track)
        return arrangement.order_sides(data, geometry, self.sides_from, self.sides_to)

    def _undo(self, before_bytes: int) -> Step:
        return OrderSides(self.geometry, self.first_track, self.sides_to, self.sides_from)


@dataclass(frozen=True, kw_only=True)
class OrderSectors(Step):
    """Put the sectors of every track into another order; interleave 1 and skew 0 are the order by number.

    Attributes:
        step: Its name.
        geometry: Cylinders x heads x sectors x bytes.
        first_track: Sectors x bytes of track 00 of side 0 where they are others, or null.
        interleave_from: The interleave before.
        skew_from: The skew before, from track to track of the file. [sector]
        interleave_to: The interleave after.
        skew_to: The skew after. [sector]
    """

    step: Literal["order-sectors"] = field(default="order-sectors", init=False)
    geometry: str
    first_track: str | None
    interleave_from: int
    skew_from: int
    interleave_to: int
    skew_to: int

    def __post_init__(self) -> None:
        geometry_of(self.geometry, self.first_track)

    def _do(self, data: bytes, others: Sequence[bytes]) -> bytes:
        return arrangement.order_sectors(
            data, geometry_of(self.geometry, self.first_track), interleave_from=self.interleave_from,
            skew_from=self.skew_from, interleave_to=self.interleave_to, skew_to=self.skew_to,
        )  # fmt: skip

    def _undo(self, before_bytes: int) -> Step:
        return OrderSectors(
            geometry=self.geometry, first_track=self.first_track, interleave_from=self.interleave_to,
            skew_from=self.skew_to, interleave_to=self.interleave_from, skew_to=self.skew_from,
        )  # fmt: skip
