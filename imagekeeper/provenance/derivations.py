"""The record of a derived image: what it was made from, and how, so that it can be made again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from imagekeeper.addresses import Doubt


@dataclass(frozen=True, kw_only=True)
class Derivation:
    """An image that was made from others, so that it can be made again.

    Attributes:
        id: Its id within the carrier: d1, d2, ...
        title: What it is for, or null.
        sources: What it was made from, in the order in which the steps take them.
        steps: What was done, as `imagekeeper convert` records it: each with its name and its parameters.
        sha256: Of the result.
        size_bytes: Of the result. [byte]
        path: Where the result lies within the carrier's object, or null where only its digest is kept.
        software: The program and version that made it.
        added: When, RFC 3339.
        first_address: Of the result. [byte]
        doubts: Bytes of it that are doubtful, since those were that they were made from.
    """

    id: str
    title: str | None
    sources: tuple[DerivationSource, ...]
    steps: tuple[dict[str, Any], ...]
    sha256: str
    size_bytes: int
    path: str | None
    software: str
    added: str
    first_address: int = 0
    doubts: tuple[Doubt, ...] = ()


@dataclass(frozen=True)
class DerivationSource:
    """An image that went into another.

    Attributes:
        carrier: The id of the carrier that holds it.
        what: `agreed` for its agreed image, or the id of a read or derivation.
        sha256: Of the image.
    """

    carrier: str
    what: str
    sha256: str
