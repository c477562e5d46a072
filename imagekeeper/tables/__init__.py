"""Facts as data files, each row with its source; this is the one place that reads them."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from imagekeeper.digests import sha256_hex
from imagekeeper.findings import Finding
from imagekeeper.own import in_force, remembered

#: Which of the kinds of rows that a person may write stand in a table.
_KINDS = {"pinouts": "pinout", "formats": "format", "drives": "drive", "media": "medium"}


@cache
def load(name: str) -> dict[str, Any]:
    """Read one table of this package by its file name without the ending."""
    return tomllib.loads(resources.files(__name__).joinpath(f"{name}.toml").read_text("utf-8"))


def rows(kind: str, *names: str) -> list[dict[str, Any]]:
    """Read the rows of one kind of some tables, with a person's own rows in force laid over them.

    Example:
        >>> rows("medium", "media")[0]["id"]
        '8-inch'
    """
    ours = [row for name in names for row in load(name)[kind]]
    if not in_force().of(kind):
        return ours
    from imagekeeper.tables.overlay import laid_over  # most people have no rows of their own

    return [dict(row) for row in laid_over(kind, ours)]


@remembered()
def edition(*names: str) -> str:
    """Give the first twelve digits of a digest over tables: another edition may say something else.

    A person's own rows in force are part of it where they stand in one of these tables.

    Example:
        >>> len(edition("eproms", "pinouts"))
        12
    """
    files = b"".join(resources.files(__name__).joinpath(f"{name}.toml").read_bytes() for name in names)
    kinds = {_KINDS.get(name, "chip") for name in names}
    own = [one for one in in_force().rows if one.kind in kinds]
    if not own:
        return sha256_hex(files)[:12]
    from imagekeeper.tables.overlay import values_of  # most people have no rows of their own

    return sha256_hex(files + b"".join(sorted(map(values_of, own))))[:12]


@dataclass(frozen=True, kw_only=True)
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


@dataclass(frozen=True, kw_only=True)
class Source:
    """A document that facts of the tables were read in.

    Attributes:
        id: The name by which rows refer to it.
        kind: data sheet, data book, manual, mailing list and so on: how far it can be trusted.
        author: Who published it.
        title: What it is called, or what it is about where it has no title.
        number: Its number, edition included, or null.
        date: Its date as printed, or null.
        pages: The page or pages where the facts stand, or the place in words, or null.
    """

    id: str
    kind: str
    author: str
    title: str
    number: str | None = None
    date: str | None = None
    pages: str | None = None

    def __str__(self) -> str:
        """Cite it on one line.

        Example:
            >>> print(sources()["ti-tms27c128"])
            Texas Instruments, TMS27C128, data sheet SMLS128E, October 1984, revised January 1993, pages 1-8
        """
        parts = [self.author, self.title, f"{self.kind} {self.number}" if self.number else self.kind]
        parts += [self.date] if self.date else []
        if self.pages:
            word = "page " if self.pages.isdecimal() else "pages " if self.pages[0].isdigit() else ""
            parts.append(word + self.pages)
        return ", ".join(parts)


@dataclass(frozen=True)
class Cited:
    """A source, and what of a row it gives.

    Attributes:
        id: Which source.
        gives: The fields that it gives; of a pinout, the pins.
    """

    id: str
    gives: tuple[str, ...]


@dataclass(frozen=True)
class Basis:
    """A document that facts were read in.

    Attributes:
        source: The document.
        gives: The members that it gives; of a chip also its pins, as `pins 1-24`.
    """

    source: Source
    gives: tuple[str, ...]


@dataclass(frozen=True)
class Dispute:
    """What speaks against a value of a row.

    Attributes:
        field: Which field; of a pinout, which pin.
        says: What else is claimed, and by whom.
        sources: The ids of the sources that do, where there are any.
    """

    field: str
    says: str
    sources: tuple[str, ...]


@remembered()
def sources() -> dict[str, Source]:
    """Every document that rows refer to, by its id; what a person's own rows rest on is among them.

    Example:
        >>> sources()["intel-2716"].date
        'September 1989'
    """
    found = {row["id"]: Source(**row) for row in load("sources")["source"]}
    if own := in_force().rows:
        from imagekeeper.tables.overlay import documents_of  # most people have no rows of their own

        found |= {name: Source(**row) for one in own for name, row in documents_of(one).items()}
    return found


def resting_on(*named: tuple[str, str]) -> tuple[Finding, ...]:
    """Say which of a person's own rows an answer rests on; nothing where it rests on none.

    Args:
        named: What it was made from: kinds of rows, each with the first member of their key.

    Example:
        >>> from imagekeeper.own import OwnRow, OwnRows, supplied
        >>> mine = OwnRow(kind="medium", members={"id": "5.25-dd", "coating": "ferrite", "unsourced": ["coating"]},
        ...               file="a.toml", line=3)
        >>> with supplied(lambda: OwnRows((mine,))):
        ...     found = resting_on(("medium", "5.25-dd"), ("medium", "8-inch"))
        >>> len(found), found[0].detail["changes"]
        (1, ['coating is ferrite instead of iron oxide'])
        >>> resting_on(("medium", "5.25-dd"))
        ()
    """
    if not in_force().rows:
        return ()
    from imagekeeper.tables.own_grounds import by_name, finding_of  # most people have no rows of their own

    return tuple(finding_of(row) for one in dict.fromkeys(named) for row in by_name().get(one, ()))


def bases(row: dict[str, Any]) -> dict[str, Any]:
    """Give what a row says of its own grounds, as fields for its class: sources, derived, unsourced, disputed."""
    return {
        "sources": tuple(Cited(one["id"], tuple(one["gives"])) for one in row.get("sources", ())),
        "unsourced": tuple(row.get("unsourced", ())),
        "disputed": tuple(
            Dispute(one["field"], one["says"], tuple(one["sources"])) for one in row.get("disputed", ())
        ),
    } | ({"derived": dict(row["derived"])} if "derived" in row else {})
