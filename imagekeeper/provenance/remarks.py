"""What is added to a carrier's or machine's record by hand: remarks and pictures."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Note:
    """A remark on a carrier.

    Attributes:
        text: The remark.
        author: Who made it, or null.
        added: When, RFC 3339.
    """

    text: str
    author: str | None
    added: str


@dataclass(frozen=True, kw_only=True)
class Photo:
    """A picture of a carrier.

    Attributes:
        path: Where it lies within the carrier's object.
        file: The file's name as given, made printable.
        sha256: Of the file.
        caption: What it shows, or null.
        added: When, RFC 3339.
    """

    path: str
    file: str
    sha256: str
    caption: str | None
    added: str
