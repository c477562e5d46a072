"""Search the archive for what is written, and for digests; `recognising` looks for an image."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar, Literal

from imagekeeper.archive.index.hits import Filters, Hit
from imagekeeper.archive.index.search import search
from imagekeeper.archive.index.sqlite.base import Index
from imagekeeper.archive.ocfl.troubles import Unfit
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import UsageError
from imagekeeper.jobs.archive.differing import DifferingText
from imagekeeper.progress import Progress, silent
from imagekeeper.provenance.dates import check_date, time_span
from imagekeeper.sentences.say import Phrase

#: More than this is no search but a mistake. [character]
TERMS_LIMIT = 2000

Relation = Literal["same", "same-content", "part-of", "made-of", "near"]


@dataclass(frozen=True, kw_only=True)
class KnownImage:
    """An image of the archive that the file's image is, or resembles.

    Attributes:
        relation: `same`; `same-content` once padding and repetition are taken away; `part-of` for a lane or half of the
            archive's image; `made-of` where that is a lane or half of the file's; `near` where they share much.
        says: How the two are related, in words.
        score: From 0 to 1; only the order is meant.
        carrier: The carrier that holds it.
        held_as: As what: ids of reads and derived images, and `agreed`.
        container: What kind of file the first of these reads came as, or null.
        first_address: The lowest address that this file gave, or null. [byte]
        size_bytes: The size of the archive's image, or null where it is not known. [byte]
        sha256: Its digest.
        part: The carrier's type as marked, or null.
        machine: The carrier's machine, or null.
        board: The carrier's board, or null.
        position: The carrier's place there, or null.
        grade: Of the carrier's agreed image, or null.
        open: The codes of what speaks against it, with a blank between them, or null.
        taken_out: Why the carrier was taken out of the collection, or null.
        shared: Which part of the file's image, in runs of 32 bytes, stands somewhere in the archive's: 0 to 1, or null.
        shared_back: Which part of the archive's stands in the file's, or null.
        differing_bytes: How many bytes differ where both are near and of one size, else null. [byte]
        texts: Texts that differ.
    """

    relation: Relation
    says: str
    score: float
    carrier: str
    held_as: tuple[str, ...]
    container: str | None
    first_address: int | None
    size_bytes: int | None
    sha256: str
    part: str | None
    machine: str | None
    board: str | None
    position: str | None
    grade: str | None
    shared: float | None = None
    shared_back: float | None = None
    differing_bytes: int | None = None
    texts: tuple[DifferingText, ...] = ()
    open: str | None = None
    taken_out: str | None = None


@dataclass(frozen=True, kw_only=True)
class Search:
    """What a search found.

    Attributes:
        terms: What was looked for.
        file: The file that was asked about, made printable, or null.
        hits: Carriers and machines, best first.
        images: Images that the file's is, or resembles, best first.
        more: Whether there is more than the limit let through.
        unread: How many images of the archive could not be looked at.
        hint: What to try where nothing was found, else null.
        set_aside: Carriers and machines whose record cannot be read, and why: they are found by nothing but their id.
    """

    SCHEMA: ClassVar[Literal["search/1"]] = "search/1"

    terms: tuple[str, ...]
    file: str | None
    hits: tuple[Hit, ...]
    images: tuple[KnownImage, ...]
    more: bool
    unread: int
    hint: str | None
    set_aside: tuple[Unfit, ...] = ()

    @property
    def exit_code(self) -> int:
        """1 where nothing was found, else 0."""
        return 0 if self.hits or self.images else 1


def filters(
    *, kind: str | None = None, machine: str | None = None, grade: str | None = None, size_bytes: int | None = None,
    read_after: str | None = None, read_before: str | None = None, added_after: str | None = None,
    added_before: str | None = None,
) -> Filters:  # fmt: skip
    """Make filters; days, months and years count from their first to their last second.

    Raises:
        UsageError: `usage` for a date that cannot be understood.

    Example:
        >>> filters(read_before="2026-03").read_before
        '2026-03-31T23:59:59'
    """
    return Filters(
        kind=kind, machine=machine, grade=grade, size_bytes=size_bytes, read_after=_first(read_after),
        read_before=_last(read_before), added_after=_first(added_after), added_before=_last(added_before),
    )  # fmt: skip


def _first(date: str | None) -> str | None:
    return None if date is None else time_span(check_date(date))[0]


def _last(date: str | None) -> str | None:
    return None if date is None else time_span(check_date(date))[1]


def search_text(
    archive: ArchiveStore, terms: Sequence[str], wanted: Filters, *, limit: int = 20, progress: Progress = silent
) -> Search:
    """Search what is written about carriers and machines, and the digests of what they hold.

    Args:
        archive: The archive.
        terms: Words, or digests or their beginnings from 8 digits on; all of them must be there.
        wanted: Which carriers and machines are wanted.
        limit: How many at most.
        progress: Told the carriers that the index has to read.

    Raises:
        UsageError: `usage` for terms too long to be meant, or neither terms nor filters.
        ArchiveError: `archive-damaged` where the storage root cannot be read.
    """
    if sum(map(len, terms)) > TERMS_LIMIT:
        raise UsageError("usage/too-many-words", limit=TERMS_LIMIT)
    if not terms and wanted == Filters():
        raise UsageError("usage/nothing-to-search")
    with Index(archive, progress=progress) as index:
        hits, more = search(index, terms, wanted, limit)
        unreadable = index.unread()
    return Search(
        terms=tuple(terms), file=None, hits=hits, images=(), more=more, unread=0,
        hint=None if hits else _hint(terms, wanted), set_aside=unreadable,
    )  # fmt: skip


def _hint(terms: Sequence[str], wanted: Filters) -> str:
    if wanted != Filters():
        return str(Phrase("step/fewer-choices"))
    if len(terms) > 1:
        return str(Phrase("step/fewer-words"))
    return str(Phrase("step/other-words"))
