"""The order in which a disk image holds sides and sectors: from one to another, and cut or padded to a geometry.

An image of a disk holds whole tracks one after the other. Which side comes when, and whether sectors are stored by
number or as they pass the head, is a habit of whoever made the file: the file itself does not say.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Literal

from imagekeeper.errors import UsageError
from imagekeeper.floppy.order import placed
from imagekeeper.units import plural, size_text

if TYPE_CHECKING:
    from imagekeeper.tables.floppy import FormatRow

#: How the tracks of two sides follow each other in a file. Common practice, no source.
SideOrder = Literal["alternating", "side-after-side", "side-1-reversed"]

SIDE_ORDERS: dict[SideOrder, str] = {
    "alternating": "cylinder 0 side 0, cylinder 0 side 1, cylinder 1 side 0, and so on",
    "side-after-side": "all of side 0, then all of side 1, both from cylinder 0",
    "side-1-reversed": "all of side 0, then side 1 from its last cylinder back to 0",
}

#: The largest image that a geometry may stand for: hostile or mistaken figures end here. [byte]
LIMIT = 1 << 28

#: What each figure of a geometry may be. Odd sector sizes occur on hard-sectored disks.
RANGES = {"cylinders": (1, 65535), "heads": (1, 255), "sectors": (1, 255), "sector_bytes": (32, 16384)}


@dataclass(frozen=True, kw_only=True)
class Geometry:
    """What an image of a disk consists of.

    Attributes:
        cylinders: How many.
        heads: How many sides.
        sectors: On each track.
        sector_bytes: Size of a sector. [byte]
        first_track: Sectors and their size on track 00 of side 0 where they are others, or None. [1, byte]

    Raises:
        UsageError: `usage` for a figure beyond `RANGES`, or an image beyond `LIMIT`.

    Example:
        >>> Geometry(cylinders=77, heads=2, sectors=26, sector_bytes=256, first_track=(26, 128)).bytes
        1021696
    """

    cylinders: int
    heads: int
    sectors: int
    sector_bytes: int
    first_track: tuple[int, int] | None = None

    def __post_init__(self) -> None:
        figures = [(name, getattr(self, name)) for name in RANGES]
        if self.first_track is not None:
            figures += [("sectors", self.first_track[0]), ("sector_bytes", self.first_track[1])]
        for name, value in figures:
            least, most = RANGES[name]
            if not least <= value <= most:
                raise _usage(
                    "that is no geometry of a disk", f"{name.replace('_', ' ')} would be {value}",
                    f"give a number from {least} to {most}",
                )  # fmt: skip
        if self.bytes > LIMIT:
            raise _usage(
                "that is no geometry of a floppy disk", f"{self.text} are {size_text(self.bytes)}",
                f"the limit is {size_text(LIMIT)}; look for a wrong figure",
            )  # fmt: skip

    @classmethod
    def of(cls, row: FormatRow) -> Geometry:
        """Take the geometry of a format, with the exception for its first track.

        Example:
            >>> from imagekeeper.tables.floppy import format_rows
            >>> Geometry.of(format_rows()["8-77x2x26x256-fm0"]).first_track
            (26, 128)
        """
        first = None if row.first_track is None else (row.first_track.sectors, row.first_track.sector_bytes)
        return cls(
            cylinders=row.cylinders, heads=row.heads, sectors=row.sectors, sector_bytes=row.sector_bytes,
            first_track=first,
        )  # fmt: skip

    @property
    def text(self) -> str:
        """Cylinders, heads, sectors and bytes, as the trade writes them."""
        return f"{self.cylinders}x{self.heads}x{self.sectors}x{self.sector_bytes}"

    @property
    def track_bytes(self) -> int:
        """The size of a track; the first may have another. [byte]"""
        return self.sectors * self.sector_bytes

    @property
    def first_track_bytes(self) -> int:
        """The size of track 00 of side 0. [byte]"""
        return self.first_track[0] * self.first_track[1] if self.first_track else self.track_bytes

    @property
    def bytes(self) -> int:
        """The size of an image of the whole disk. [byte]"""
        return self.first_track_bytes + (self.cylinders * self.heads - 1) * self.track_bytes


def tracks(cylinders: int, order: SideOrder) -> list[tuple[int, int]]:
    """Name the tracks of two sides in the order in which a file has them: (cylinder, side).

    Example:
        >>> tracks(2, "side-1-reversed")
        [(0, 0), (1, 0), (1, 1), (0, 1)]
    """
    inwards = range(cylinders)
    if order == "alternating":
        return [(cylinder, side) for cylinder in inwards for side in (0, 1)]
    back = inwards[::-1] if order == "side-1-reversed" else inwards
    return [(cylinder, 0) for cylinder in inwards] + [(cylinder, 1) for cylinder in back]


def order_sides(data: bytes, geometry: Geometry, sides_from: SideOrder, sides_to: SideOrder) -> bytes:
    """Put the tracks of two sides into another order.

    Args:
        data: An image of the whole disk.
        geometry: Its geometry; a first track of another size is followed.
        sides_from: The order that it has.
        sides_to: The order wanted.

    Raises:
        UsageError: `does-not-fit` where the size is not that of the geometry; `usage` where there are not two sides.

    Example:
        >>> sides = b"a" * 32 + b"A" * 32 + b"b" * 32 + b"B" * 32   # side 1 in capitals
        >>> order_sides(sides, Geometry(
        ...     cylinders=2, heads=2, sectors=1, sector_bytes=32
        ... ), "alternating", "side-after-side")[::32]
        b'abAB'
    """
    if geometry.heads != 2:
        raise _usage(
            "there are no two sides to put in order", f"the geometry {geometry.text} has {geometry.heads}",
            "give a geometry of two sides, or leave the order of sides alone",
        )  # fmt: skip
    check_size(data, geometry)
    view, at = memoryview(data), 0
    pieces: dict[tuple[int, int], memoryview] = {}
    for track in tracks(geometry.cylinders, sides_from):
        length = geometry.track_bytes if track != (0, 0) else geometry.first_track_bytes
        pieces[track] = view[at : at + length]
        at += length
    return b"".join(pieces[track] for track in tracks(geometry.cylinders, sides_to))


def passing(count: int, interleave: int, turn: int = 0) -> tuple[int, ...]:
    """Number the sectors of a track as they pass the head, the track turned on by some sectors.

    Args:
        count: How many sectors.
        interleave: From one number to the next it goes this many sectors on.
        turn: How many sectors later than the first the track begins: skew times the track's number.

    Example:
        >>> passing(9, 2), passing(9, 2, turn=1)
        ((1, 6, 2, 7, 3, 8, 4, 9, 5), (5, 1, 6, 2, 7, 3, 8, 4, 9))
    """
    plain, turn = placed(count, interleave), turn % count
    return plain[count - turn :] + plain[: count - turn]


def order_sectors(
    data: bytes, geometry: Geometry, *,
    interleave_from: int = 1, skew_from: int = 0, interleave_to: int = 1, skew_to: int = 0,
) -> bytes:  # fmt: skip
    """Put the sectors of every track into another order: by number (interleave 1, skew 0) or as they pass the head.

    Skew counts the tracks in the order in which the file has them: the first begins with sector 1, the next that many
    sectors later, and so on.

    Args:
        data: An image of the whole disk.
        geometry: Its geometry; a first track of other sectors is ordered for itself.
        interleave_from: The interleave in which the file has the sectors.
        skew_from: The skew that it has. [sector]
        interleave_to: The interleave wanted.
        skew_to: The skew wanted. [sector]

    Raises:
        UsageError: `does-not-fit` where the size is not that of the geometry; `usage` for an interleave or skew that
            a track of so many sectors cannot have.

    Source:
        Common practice, no source: there are other habits, and the disk decides.

    Example:
        >>> track = b"".join(bytes([number]) * 32 for number in (1, 4, 2, 5, 3))
        >>> order_sectors(track, Geometry(
        ...     cylinders=1, heads=1, sectors=5, sector_bytes=32
        ... ), interleave_from=2)[::32].hex(" ")
        '01 02 03 04 05'
    """
    for name, value, least in (
        ("interleave", interleave_from, 1), ("interleave", interleave_to, 1),
        ("skew", skew_from, 0), ("skew", skew_to, 0),
    ):  # fmt: skip
        most = max(geometry.sectors - 1, least)
        if not least <= value <= most:
            raise _usage(
                f"a track of {plural(geometry.sectors, 'sector')} has no {name} {value}",
                f"it can be {least} to {most}", f"give the {name} of the disk",
            )  # fmt: skip
    check_size(data, geometry)
    view = memoryview(data)

    @cache
    def moves(count: int, turn_from: int, turn_to: int) -> tuple[int, ...]:
        place = {number: slot for slot, number in enumerate(passing(count, interleave_from, turn_from))}
        return tuple(place[number] for number in passing(count, interleave_to, turn_to))

    def sectors() -> Iterator[memoryview]:
        at = 0
        for track in range(geometry.cylinders * geometry.heads):
            count, size = geometry.sectors, geometry.sector_bytes
            if track == 0 and geometry.first_track:
                count, size = geometry.first_track
            for slot in moves(count, track * skew_from % count, track * skew_to % count):
                yield view[at + slot * size : at + (slot + 1) * size]
            at += count * size

    return b"".join(sectors())


def fit(data: bytes, geometry: Geometry, fill: int, *, cut_data: bool = False) -> bytes:
    r"""Cut an image to a geometry, or pad it with whole tracks; both happen at the end of the file.

    Args:
        data: An image that begins with the first track.
        geometry: The geometry wanted.
        fill: The byte to pad with, and the only one that may be cut away.
        cut_data: Cut away whatever there is.

    Raises:
        UsageError: `does-not-fit` where a file that is too short breaks off within a track; `would-lose` where bytes
            other than the fill would be cut away.

    Example:
        >>> small = Geometry(cylinders=2, heads=1, sectors=1, sector_bytes=32)
        >>> len(fit(bytes(32), small, 0xE5)), len(fit(bytes(64) + b"\xe5" * 32, small, 0xE5))
        (64, 64)
    """
    missing = geometry.bytes - len(data)
    if missing > 0:
        first, track = geometry.first_track_bytes, geometry.track_bytes
        short = first - len(data) if len(data) <= first else -(len(data) - first) % track
        if short:
            raise UsageError(
                "does-not-fit", "the file breaks off within a track",
                why=f"its {size_text(len(data))} are {size_text(short)} fewer than whole tracks of {geometry.text}",
                hint=f"read the disk again, or pad the file to {len(data) + short} bytes on purpose first",
            )  # fmt: skip
        return data + bytes([fill]) * missing
    kept, rest = data[: geometry.bytes], data[geometry.bytes :]
    lost = len(rest) - rest.count(fill)
    if lost and not cut_data:
        raise UsageError(
            "would-lose", "cutting the image to this geometry would lose data",
            why=f"of the {size_text(len(rest))} beyond {geometry.text}, {lost} are not the fill byte {fill:02X}",
            hint="look at them first; --cut-data cuts them away all the same",
        )  # fmt: skip
    return kept


def check_size(data: bytes, geometry: Geometry) -> None:
    """Refuse an image whose size is not that of its geometry.

    Raises:
        UsageError: `does-not-fit`, saying by how many bytes.
    """
    more = len(data) - geometry.bytes
    if more:
        first = geometry.first_track
        but = f" with a first track of {first[0]}x{first[1]}" if first else ""
        raise UsageError(
            "does-not-fit", "the image has not the size of its geometry",
            why=f"{geometry.text}{but} are {size_text(geometry.bytes)}, and the image has "
            f"{size_text(abs(more))} {'more' if more > 0 else 'fewer'}",
            hint="look for the geometry with `imagekeeper floppy solve`, or cut or pad the image to it with "
            "--fit-geometry",
        )  # fmt: skip


def _usage(what: str, why: str, hint: str) -> UsageError:
    return UsageError("usage", what, why=why, hint=hint)
