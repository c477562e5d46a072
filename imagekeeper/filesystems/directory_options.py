"""What a person knows of a disk parameter block, as text: all, or some, and the rest is looked for on the disk."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Any, get_args

from imagekeeper.errors import UsageError
from imagekeeper.filesystems.directory_parameters import (
    LastBytes,
    RecordCounts,
)
from imagekeeper.floppy.arrangement import SIDE_ORDERS, SideOrder
from imagekeeper.tables.parameter_blocks import parameter_block_rows

#: The length of a block as the system keeps it. [byte]
_BLOCK_BYTES = 15

_LARGEST = 1 << 24

#: Names that are still understood, and what they are called since.
FORMERLY = {"offset": "reserved"}


@dataclass(frozen=True, kw_only=True)
class Given:
    """What is known; None for what is not.

    Attributes:
        block: The size of a block. [byte]
        directory: How many entries the directory has.
        reserved: How many tracks are reserved for the system.
        skew: From one sector to the next it goes this many sectors on.
        order: The sectors of a track in the order in which they are used.
        track: Sectors of a track, and their size. [1, byte]
        records: Records of 128 bytes on a track, where only their number is known.
        blocks: How many.
        mask: The extent mask.
        sides: In which order the tracks of two sides are used.
        counts: What an entry's count of records counts.
        last: What an entry says of the last record of a file.
    """

    block: int | None = None
    directory: int | None = None
    reserved: int | None = None
    skew: int | None = None
    order: tuple[int, ...] | None = None
    track: tuple[int, int] | None = None
    records: int | None = None
    blocks: int | None = None
    mask: int | None = None
    sides: SideOrder | None = None
    counts: RecordCounts | None = None
    last: LastBytes | None = None

    @property
    def any(self) -> bool:
        """Whether anything is known."""
        return self != Given()


def parse(text: str) -> Given:
    """Read the option `--parameter-block`.

    Args:
        text: Words with values, parted by commas; or the id of a row of the table; or the 15 bytes of a block in
            hexadecimal, as they stand in the memory of the machine.

    Raises:
        UsageError: `usage`.

    Example:
        >>> parse("block=1024, directory=64, reserved=2, skew=6").skew
        6
        >>> parse("offset=3").reserved
        3
        >>> parse("1A 00 03 07 00 F2 00 3F 00 C0 00 10 00 02 00").blocks
        243
        >>> parse("8-77x1x26x128-2x1k64").track
        (26, 128)
    """
    plain = text.strip()
    if row := parameter_block_rows().get(plain):
        return Given(
            block=row.block_bytes, directory=row.directory_entries, reserved=row.reserved_tracks, skew=row.skew,
            track=(row.records_per_track * 128 // row.sector_bytes, row.sector_bytes), blocks=row.blocks,
            mask=row.extent_mask,
        )  # fmt: skip
    digits = re.sub(r"[\s:,]|0[xX]", "", plain)
    if re.fullmatch(r"[0-9A-Fa-f]{12,}", digits):
        return _of_bytes(digits)
    found: dict[str, Any] = {}
    for part in filter(None, (one.strip() for one in plain.split(","))):
        name, mark, value = (one.strip() for one in part.partition("="))
        name = FORMERLY.get(name, name)
        if name not in _READERS or not mark:
            raise UsageError(
                "usage/part-of-block", part=part, parts=tuple(f"{one}=" for one in _READERS),
                row=next(iter(parameter_block_rows())),
            )  # fmt: skip
        if name in found:
            raise UsageError("usage/part-twice", name=name)
        found[name] = _READERS[name](name, value)
    if not found:
        raise UsageError("usage/block-of-nothing")
    return Given(**found)


def formerly(text: str) -> dict[str, str]:
    """Give the old names in the text of a parameter block, and what each is called since.

    Example:
        >>> formerly("block=1024, offset = 2"), formerly("reserved=2")
        ({'offset': 'reserved'}, {})
    """
    names = {part.partition("=")[0].strip() for part in text.split(",")}
    return {old: new for old, new in FORMERLY.items() if old in names}


def _of_bytes(digits: str) -> Given:
    if len(digits) != 2 * _BLOCK_BYTES:
        raise UsageError(
            "usage/digits-of-block", digits=len(digits), block_bytes=_BLOCK_BYTES, wanted=2 * _BLOCK_BYTES
        )
    raw = bytes.fromhex(digits)
    word = [int.from_bytes(raw[at : at + 2], "little") for at in range(_BLOCK_BYTES)]
    shift, mask = raw[2], raw[3]
    if not 3 <= shift <= 7 or mask != (1 << shift) - 1:
        raise UsageError("usage/shift-and-mask", shift=shift, mask=mask)
    return Given(
        block=128 << shift, directory=word[7] + 1, reserved=word[13], records=word[0], blocks=word[5] + 1, mask=raw[4]
    )


def _number(name: str, value: str) -> int:
    match = re.fullmatch(r"(\d{1,9})\s*([kK]?)", value)
    if match is None or int(match[1]) > _LARGEST:
        raise UsageError("usage/no-number", name=name, value=value)
    return int(match[1]) * (1024 if match[2] else 1)


def _order(name: str, value: str) -> tuple[int, ...]:
    parts = value.split("/")
    if len(parts) > 255 or not all(part.strip().isdecimal() and len(part) < 6 for part in parts):
        raise UsageError("usage/no-order", name=name, value=value)
    return tuple(map(int, parts))


def _track(name: str, value: str) -> tuple[int, int]:
    match = re.fullmatch(r"(\d{1,3})\s*[xX×]\s*(\d{1,5})", value)
    if match is None or not int(match[1]) or not 32 <= int(match[2]) <= 16384:
        raise UsageError("usage/no-track", name=name, value=value)
    return int(match[1]), int(match[2])


def _word(allowed: tuple[str, ...]) -> Callable[[str, str], str]:
    def read(name: str, value: str) -> str:
        if value not in allowed:
            raise UsageError("usage/no-word", name=name, value=value, known=allowed)
        return value

    return read


_READERS: dict[str, Callable[[str, str], Any]] = {
    "block": _number, "directory": _number, "reserved": _number, "skew": _number, "order": _order, "track": _track,
    "records": _number, "blocks": _number, "mask": _number, "sides": _word(tuple(SIDE_ORDERS)),
    "counts": _word(get_args(RecordCounts)), "last": _word(get_args(LastBytes)),
}  # fmt: skip

assert set(_READERS) == {field.name for field in fields(Given)}
