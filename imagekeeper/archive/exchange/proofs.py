"""What a log of commits says of a carrier's history: that it is the noted one, that it is another, or nothing.

A digest beside an inventory tells that nothing was damaged, never whose history it is: that only a log of commits can
tell, which noted each inventory when it was written. Each inventory repeats all before it, so that a line about one
version proves the earlier ones as well.

A line that was damaged still speaks where most of its digest is left: two digests of different inventories agree in
one hexadecimal digit of sixteen.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from imagekeeper.archive.ocfl.inventory import INVENTORY, Inventory
from imagekeeper.archive.ocfl.inventory_check import parse_inventory
from imagekeeper.archive.ocfl.ledger import Commits, commit_line
from imagekeeper.archive.ocfl.reading import bytes_if_any

if TYPE_CHECKING:
    from imagekeeper.archive.ocfl.folder import ArchiveFolder

#: Fewer digits of a digest than this prove nothing.
LEAST_DIGITS = 32

Word = Literal["noted", "another", "nothing"]


@dataclass(frozen=True)
class Link:
    """One version of a history, as a log would note it.

    Attributes:
        version: Its number.
        created: When it was made, RFC 3339.
        digest: The SHA-512 of its inventory.
    """

    version: int
    created: str
    digest: str

    @classmethod
    def of(cls, inventory: Inventory, data: bytes) -> Link:
        """Give the newest version of an inventory."""
        return cls(inventory.head, inventory.versions[-1].created, hashlib.sha512(data).hexdigest())


class Witness:
    """A log of commits, asked about histories.

    Attributes:
        complete: Whether nothing shows that lines of it are damaged or missing.
    """

    def __init__(self, commits: Commits) -> None:
        self._notes = {carrier: [*found] for carrier, found in commits.notes.items()}
        self._fragments = [*commits.fragments]
        self._digests = {noted_digest(noted.line) for found in commits.notes.values() for noted in found}
        gaps = any(
            {*range(1, commits.newest(carrier) + 1)} != {noted.version for noted in found}
            for carrier, found in commits.notes.items()
        )
        self.complete = bool(commits.notes) and not commits.spoiled and not commits.fragments and not gaps

    def hear(self, commits: Commits) -> None:
        """Take in what a second copy of the log says about versions of which this one says nothing."""
        known = {carrier: {noted.version for noted in found} for carrier, found in self._notes.items()}
        for carrier, found in commits.notes.items():
            new = [noted for noted in found if noted.version not in known.get(carrier, ())]
            self._notes.setdefault(carrier, []).extend(new)
            self._digests |= {noted_digest(noted.line) for noted in new}
        self._fragments += commits.fragments

    def says(self, carrier: str, link: Link, others: Collection[str] = ()) -> Word:
        """Tell whether a version is the noted one.

        Args:
            carrier: The carrier.
            link: The version.
            others: Digests of other inventories that are there: a line with one of these is about that one, whatever
                it says of carrier and version.

        Returns:
            `noted` also where the line that notes it is damaged; `another` where a line notes this version with a
            digest that no damage could have made of this one; `nothing` where no line notes the version.
        """
        digest = link.digest
        if digest in self._digests:
            return "noted"
        right = commit_line(carrier, link.version, link.created, digest)
        own = [
            noted.line for noted in self._notes.get(carrier, ())
            if noted.version == link.version and noted_digest(noted.line) not in others
        ]
        if any(alike(line, right, digest) for line in (*own, *self._fragments)):
            return "noted"
        return "another" if own else "nothing"


def alike(line: bytes, right: bytes, digest: str) -> bool:
    """Whether a line is the right one with some damage: most of what it keeps of the digest is that digest.

    Example:
        >>> right = commit_line("u4", 1, "2026-11-24T22:00:00Z", "0123456789abcdef" * 8)
        >>> alike(right[:90], right, "0123456789abcdef" * 8), alike(right[:40], right, "0123456789abcdef" * 8)
        (True, False)
        >>> alike(right.replace(b"0123", b"3210"), right, "0123456789abcdef" * 8)
        True
    """
    at = right.index(digest.encode())
    part = line[at : at + len(digest)]
    if len(part) < LEAST_DIGITS:
        return False
    same = sum(a == b for a, b in zip(part, digest.encode(), strict=False))
    return 4 * same >= 3 * len(part)


def noted_digest(line: bytes) -> str | None:
    """Read the digest of the inventory that a whole line notes; None where it holds none."""
    found = json.loads(line).get("inventory_sha512")
    return found if isinstance(found, str) else None


def history(archive: ArchiveFolder, inventory: Inventory, above: int = 0) -> Iterator[Link]:
    """Give the versions of a carrier after one."""
    for number in range(above + 1, inventory.head + 1):
        yield Link.of(inventory.at(number), written(archive, inventory, number))


def written(archive: ArchiveFolder, inventory: Inventory, number: int) -> bytes:
    """Give the inventory of a version as it lies there, or, where it is damaged, as it must have been."""
    folder, past = archive.object_path(inventory.id), inventory.at(number)
    for place in (folder / f"v{number}" / INVENTORY, folder / INVENTORY):
        data = bytes_if_any(place)
        if data is not None and parse_inventory(data).inventory == past:
            return data
    return past.to_bytes()


@dataclass(frozen=True)
class Proved:
    """How far a history is proved.

    Attributes:
        version: The newest version that is; 0 for none.
        another: The first version that is not the noted one, or None.
        unproved: The first version of which no log tells, or None.
    """

    version: int
    another: Link | None = None
    unproved: Link | None = None


def proved(carrier: str, links: Sequence[Link], ours: Witness, theirs: Witness | None) -> Proved:
    """Tell how far a history found elsewhere is proved.

    Args:
        carrier: The carrier.
        links: The versions that are asked for, in order.
        ours: The archive's own log, whose word counts most.
        theirs: The log of the copy, which is asked about versions of which ours tells nothing, and only where ours
            has damaged or missing lines: else a copy could change what was noted.
    """
    upto = 0
    for link in links:
        word = ours.says(carrier, link)
        if word == "another":
            return Proved(0, another=link)
        if word == "noted":
            upto = link.version
    if theirs is not None and not ours.complete:
        for link in links:
            if link.version > upto and theirs.says(carrier, link) == "noted":
                upto = link.version
    return Proved(upto, unproved=next((link for link in links if link.version > upto), None))


def contradicted(archive: ArchiveFolder, inventory: Inventory, witness: Witness) -> Link | None:
    """Give the first version of a carrier here of which a log notes another one; None for none."""
    links = [*history(archive, inventory)]
    others = {link.digest for link in links}
    return next((link for link in links if witness.says(inventory.id, link, others) == "another"), None)
