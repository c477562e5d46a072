"""Hold the images of an archive against a list of digests from elsewhere."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any, ClassVar, Literal

from imagekeeper import digests
from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.ocfl.reading import Source, file_blocks
from imagekeeper.archive.ocfl.troubles import Unfit, damaged, unfit
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ArchiveError, NotFoundError
from imagekeeper.evidence.settling import settled_as
from imagekeeper.evidence.standing import standing
from imagekeeper.jobs.carriers.agreeing import agree
from imagekeeper.jobs.carriers.csv_tables import TableLine, read_sheet, wrong
from imagekeeper.jobs.session import Session, next_event, user
from imagekeeper.jsonable import one_line
from imagekeeper.progress import Advance, Progress, silent
from imagekeeper.provenance import places
from imagekeeper.provenance.events import append_events, last_digest
from imagekeeper.provenance.fields import write_json
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.references import BY_LENGTH, NAMES, Reference
from imagekeeper.provenance.vouching import vouched
from imagekeeper.sentences.say import Phrase

#: The digests that a list may give, with their number of hexadecimal digits.
DIGITS = {"crc32": 8, "md5": 32, "sha1": 40, "sha256": 64, "sha384": 96, "sha512": 128}

#: What can be recorded with an agreed image, the strongest first.
RECORDED = [name for _, name in sorted(BY_LENGTH.items(), reverse=True)]

#: Words in names that tell nothing of what it is.
_COMMON = {"bin", "rom", "img", "hex", "dat", "raw", "dump", "image", "read", "file", "disk", "eprom", "the", "of"}

#: So many entries that are only alike are named for a carrier.
ALIKE = 3


@dataclass(frozen=True, kw_only=True)
class DigestMatch:
    """An image of which an entry of the list gives the digests.

    Attributes:
        carrier: The carrier.
        what: `agreed` for its agreed image, or the id of the first read that gives the image.
        line: Line of the list, counted from 1.
        name: What the list calls it, or null.
        by: The digests that are equal; there is none that is not.
        recorded: Whether the reference is now with the agreed image, or would be.
        because: Why it is not, or null.
    """

    carrier: str
    what: str
    line: int
    name: str | None
    by: tuple[str, ...]
    recorded: bool
    because: str | None = None


@dataclass(frozen=True)
class Unlike:
    """An entry that seems to be about a carrier and does not fit it; it is told, never taken for a match.

    Attributes:
        carrier: The carrier.
        line: Line of the list, counted from 1.
        name: What the list calls it, or null.
        why: In what it is alike, and in what not.
    """

    carrier: str
    line: int
    name: str | None
    why: str


@dataclass(frozen=True, kw_only=True)
class Corroboration:
    """What a list of reference digests says of the images of an archive.

    Attributes:
        path: The list, made printable.
        dry_run: Whether nothing was recorded.
        entries: How many entries it has.
        matches: Images that it bears out.
        unlike: Entries that are alike in size and name, or in part of their digests, and no match.
        unmatched: Carriers with images of which it says nothing.
        unknown: Columns that mean nothing here, as they are written.
        set_aside: Carriers that were not compared, because something is wrong with them.
    """

    SCHEMA: ClassVar[Literal["corroboration/1"]] = "corroboration/1"

    path: str
    dry_run: bool
    entries: int
    matches: tuple[DigestMatch, ...]
    unlike: tuple[Unlike, ...]
    unmatched: tuple[str, ...]
    unknown: tuple[str, ...]
    set_aside: tuple[Unfit, ...] = ()

    @property
    def exit_code(self) -> int:
        """4 where a carrier was set aside, 1 where an entry speaks against one, else 0."""
        if self.set_aside:
            return 4
        return 1 if self.unlike else 0


@dataclass(frozen=True)
class _Entry:
    line: int
    name: str | None
    size: int | None
    digests: dict[str, str]


@dataclass
class _List:
    """The entries, to be found by digest and by size."""

    entries: dict[int, _Entry] = field(default_factory=dict)
    by_digest: dict[tuple[str, str], list[_Entry]] = field(default_factory=dict)
    by_size: dict[int | None, list[_Entry]] = field(default_factory=dict)

    def add(self, entry: _Entry) -> None:
        self.entries[entry.line] = entry
        self.by_size.setdefault(entry.size, []).append(entry)
        for pair in entry.digests.items():
            self.by_digest.setdefault(pair, []).append(entry)

    def algorithms(self, size: int) -> set[str]:
        """Name the digests that entries for this size give."""
        return {name for key in (size, None) for entry in self.by_size.get(key, ()) for name in entry.digests}


def corroborate(
    archive: ArchiveStore, path: str, session: Session, *,
    source: str | None = None, dry_run: bool = False, progress: Progress = silent,
) -> Corroboration:  # fmt: skip
    """Find which images a list of digests bears out, and record that with the agreed images among them.

    An image matches an entry where every digest that the entry gives is equal, and the size where it gives one.
    Nothing is concluded from names.

    Args:
        archive: The archive.
        path: A CSV file with columns among `name`, `size`, `crc32`, `md5`, `sha1`, `sha256`, `sha384`, `sha512`.
        session: Who works, and when.
        source: Where the list comes from; its file's name where that is not said.
        dry_run: Record nothing.
        progress: Told the bytes read.

    Raises:
        NotFoundError: `not-found`.
        InputError: `table-form` with line and column.
        UsageError: `archive-busy`, `cannot-write`.
    """
    sheet = read_sheet(path, ("name", "size", *DIGITS), need=tuple(DIGITS))
    listed = _List()
    for line in sheet.lines:
        listed.add(_entry(sheet.name, line))
    origin = source or sheet.name
    matches: list[DigestMatch] = []
    unlike: list[Unlike] = []
    unmatched: list[str] = []
    aside: list[Unfit] = []
    with progress("Comparing with the list", 0) as advance:
        for one in archive.ids():
            try:
                job = _job(archive, one, listed)
                if job is None:
                    continue
                found = job.matches(advance)
                if not dry_run:
                    job.keep(found, origin, session)
            except (ArchiveError, NotFoundError) as problem:
                aside.append(unfit(one, problem))
                continue
            matches += found
            unlike += job.unlike
            if not found and not job.unlike and job.images():
                alike = job.alike()
                unlike += alike
                unmatched += [] if alike else [one]
    return Corroboration(
        path=sheet.name, dry_run=dry_run, entries=len(listed.entries), matches=tuple(matches), unlike=tuple(unlike),
        unmatched=tuple(unmatched), unknown=sheet.unknown, set_aside=tuple(aside),
    )  # fmt: skip


def _entry(name: str, line: TableLine) -> _Entry:
    found: dict[str, str] = {}
    for algorithm, digits in DIGITS.items():
        text = re.sub(r"^0x|[\s:-]", "", line.cells.get(algorithm, "").lower())
        if not text:
            continue
        if algorithm == "crc32":
            text = text.rjust(8, "0")   # spreadsheets drop leading zeros
        if not re.fullmatch(rf"[0-9a-f]{{{digits}}}", text):
            raise wrong(name, line.number, Phrase("table-form/digest", text=text, digits=digits), algorithm)
        found[algorithm] = text
    if not found:
        raise wrong(name, line.number, Phrase("table-form/no-digest"))
    size = line.cells.get("size", "").strip()
    if size and not re.fullmatch(r"[0-9]{1,15}", size):
        raise wrong(name, line.number, Phrase("table-form/size", size=size), "size")
    return _Entry(line.number, line.cells.get("name", "").strip() or None, int(size) if size else None, found)


def _job(archive: ArchiveStore, object_id: str, listed: _List) -> _Job | None:
    """Load a carrier to be compared; None for a machine."""
    inventory = archive.inventory(object_id)
    if places.MACHINE in inventory.state and places.CARRIER not in inventory.state:
        return None
    return _Job(archive, load_record(archive, object_id, inventory), inventory, listed)


class _Job:
    """One carrier against the list."""

    def __init__(self, archive: ArchiveStore, record: CarrierRecord, inventory: Inventory, listed: _List) -> None:
        self.archive = archive
        self.record = record
        self.inventory = inventory
        self.listed = listed
        self.unlike: list[Unlike] = []

    def images(self) -> dict[str, tuple[str, str]]:
        """Give the carrier's different images: by SHA-256, what it is and where it lies."""
        found: dict[str, tuple[str, str]] = {}
        agreed = self.record.agreed
        if agreed is not None and agreed.sha256 is not None and agreed.image is not None:
            found[agreed.sha256] = ("agreed", agreed.image)
        for read in self.record.reads:
            if read.image.size_bytes:
                found.setdefault(read.image.sha256, (read.id, read.image_path))
        return found

    def matches(self, advance: Advance) -> list[DigestMatch]:
        found: list[DigestMatch] = []
        for sha256, (what, path) in self.images().items():
            place = self.archive.content_path(self.record.id, path, self.inventory)
            size = place.stat().st_size
            wanted = self.listed.algorithms(size) | {"sha256"}
            figures = self.figures(path, sorted(wanted), sha256)
            advance(size)
            near = {id(e): e for pair in figures.items() for e in self.listed.by_digest.get(pair, ())}
            for entry in sorted(near.values(), key=lambda one: one.line):
                if problem := _against(entry, figures, size):
                    self.unlike.append(Unlike(self.record.id, entry.line, entry.name, f"{what}: {problem}"))
                    continue
                found.append(self.match(what, entry))
        return found

    def figures(self, path: str, algorithms: Sequence[str], sha256: str) -> dict[str, str]:
        """Digest an image as it lies there, and see that it is what its record says."""
        place = self.archive.content_path(self.record.id, path, self.inventory)
        streams: dict[str, Any] = {
            name: digests.Crc32() if name == "crc32" else digests.new(name) for name in algorithms
        }
        digests.feed(file_blocks(place), streams.values())
        figures: dict[str, str] = {name: stream.hexdigest().lower() for name, stream in streams.items()}
        if figures["sha256"] != sha256:
            raise damaged(self.archive.name_of(place), Phrase("archive-damaged/stated-otherwise"))
        return figures

    def match(self, what: str, entry: _Entry) -> DigestMatch:
        because = None
        agreed = self.record.agreed
        best = next((name for name in RECORDED if name in entry.digests), None)
        if what != "agreed":
            because = "the carrier's agreed image is another" if agreed and agreed.sha256 else (
                str(Phrase("step/settle-first", id=self.record.id))
            )
        elif best is None:
            because = f"only {', '.join(RECORDED)} are recorded as references"
        elif agreed and any(one.digest.lower() == entry.digests[best] for one in agreed.references):
            because = "it was recorded before"
        return DigestMatch(
            carrier=self.record.id, what=what, line=entry.line, name=entry.name, by=tuple(entry.digests),
            recorded=because is None, because=because,
        )  # fmt: skip

    def keep(self, found: Sequence[DigestMatch], origin: str, session: Session) -> None:
        """Record the references with the agreed image."""
        references: dict[str, str | None] = {}
        for match in found:
            if match.recorded:
                entry = self.listed.entries[match.line]
                best = next(name for name in RECORDED if name in entry.digests)
                references[entry.digests[best]] = f"{origin}, line {entry.line}" + (
                    f" ({one_line(entry.name)[:80]})" if entry.name else ""
                )
        if not references:
            return
        agreed = self.record.agreed
        assert agreed is not None
        if agreed.voted_by is None:
            agree(self.archive, self.record.id, session, references=references)
        else:
            self.add(references, session)

    def add(self, references: dict[str, str | None], session: Session) -> None:
        """Add references to an image that was settled by a vote, which stands as it is."""
        agreed = self.record.agreed
        assert agreed is not None
        added = tuple(
            Reference(BY_LENGTH[len(digest)], digest.upper() if len(digest) == 8 else digest, source)
            for digest, source in references.items()
        )
        said = " ".join(f"The reference {NAMES[one.algorithm]} from {one.source} agrees." for one in added)
        now = session.now()
        events = self.archive.read_file(self.record.id, places.EVENTS, self.inventory)
        event = next_event(
            last_digest(events), session, now, "validation", said, sources=[places.AGREED_IMAGE]
        )
        base = replace(agreed, references=(*agreed.references, *added))
        changed = settled_as(standing(replace(self.record, agreed=base)), base)
        changes: dict[str, Source | None] = {places.AGREED: write_json(changed)}
        changes[places.EVENTS] = append_events(events, vouched([event], changes))
        self.archive.commit(
            self.record.id, changes,
            message="reference digests recorded", user=user(session), now=now, expected_head=self.inventory.head,
        )  # fmt: skip

    def alike(self) -> list[Unlike]:
        """Name entries of the same size whose name has words in common with this carrier."""
        record = self.record
        names = [record.id, record.label, record.position, *(read.file for read in record.reads)]
        own = _words(" ".join(name for name in names if name))
        sizes = {read.image.size_bytes for read in record.reads}
        near = []
        for size in sizes:
            for entry in self.listed.by_size.get(size, ()):
                common = own & _words(entry.name or "")
                if common:
                    near.append((-len(common), entry.line, entry, common, size))
        return [
            Unlike(
                record.id, entry.line, entry.name,
                f"{size} bytes as here, and the name has {' and '.join(sorted(common))} too, but the digests differ: "
                "another revision, a bad read, or another thing",
            )
            for _, _, entry, common, size in sorted(near, key=lambda one: one[:2])[:ALIKE]
        ]  # fmt: skip


def _against(entry: _Entry, figures: dict[str, str], size: int) -> str | None:
    """Say what speaks against an entry of which a digest is equal, or None."""
    equal = [name for name, digest in entry.digests.items() if figures.get(name) == digest]
    other = [name for name in entry.digests if name not in equal]
    if entry.size is not None and entry.size != size:
        return f"its {' and '.join(equal)} is equal, but it gives {entry.size} bytes, and there are {size}"
    if other:
        return f"its {' and '.join(equal)} is equal, but its {' and '.join(other)} is not"
    return None


def _words(text: str) -> set[str]:
    return {word for word in re.findall(r"[a-z0-9]+", text.casefold()) if len(word) > 1} - _COMMON
