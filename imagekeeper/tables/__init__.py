"""Facts as data files, each row with its source; this is the one place that reads them."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any


@cache
def load(name: str) -> dict[str, Any]:
    """Read one table of this package by its file name without the ending."""
    return tomllib.loads(resources.files(__name__).joinpath(f"{name}.toml").read_text("utf-8"))


@dataclass(frozen=True)
class Crc:
    """One cyclic redundancy check, described as the catalogue of parametrised CRC algorithms does.

    Attributes:
        name: The catalogue's name.
        width: [bit]
        poly: Generator polynomial without its top bit, most significant bit first.
        init: Register before the first bit, not reflected.
        reflected: Whether bytes go in and the register comes out least significant bit first.
        xorout: What is combined with the register at the end.
        check: The CRC of the nine ASCII bytes `123456789`.
        used: Where it is met.
    """

    name: str
    width: int
    poly: int
    init: int
    reflected: bool
    xorout: int
    check: int
    used: str


@cache
def crcs() -> dict[str, Crc]:
    """Every CRC of the table, by name.

    Example:
        >>> crcs()["CRC-16/ARC"].check == 0xBB3D
        True
    """
    return {row["name"]: Crc(**row) for row in load("crcs")["crc"]}
