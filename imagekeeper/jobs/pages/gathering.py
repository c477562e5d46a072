"""Gather what a carrier's page shows, from the archive; damage becomes words on the page."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace

from imagekeeper import files
from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.ocfl.reading import file_blocks
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.containers.model import Image, Segment
from imagekeeper.errors import ImagekeeperError, NotFoundError
from imagekeeper.evidence.outdated import with_findings
from imagekeeper.evidence.parts import known_chip
from imagekeeper.evidence.standing import standing as how_it_stands
from imagekeeper.jobs.carriers.agreeing import compare_reads
from imagekeeper.jobs.carriers.next_reads import may_be_told, with_step
from imagekeeper.jobs.carriers.resting import with_resting
from imagekeeper.jobs.carriers.viewing_disks import with_contents
from imagekeeper.jobs.pages.risks import Subject
from imagekeeper.jobs.pages.thumbnails import ENDINGS, data_uri
from imagekeeper.jobs.pages.values import CarrierEntry, CarrierPage, KeptFile, Made, Picture, State
from imagekeeper.jobs.reads.comparing import MAP_COLUMNS
from imagekeeper.progress import Advance
from imagekeeper.provenance import places
from imagekeeper.provenance.kinds import CHIPS
from imagekeeper.provenance.machines import MachineRecord
from imagekeeper.provenance.pictures import media_type
from imagekeeper.provenance.reads import Read, ReadImage
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.remarks import Photo
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import plural, size_text

#: Larger images are neither drawn nor compared on a page; `inspect` and `compare` do that. [byte]
DRAWN_BYTES = 16 << 20

#: More reads are not laid side by side on a page.
DRAWN_READS = 32

#: A larger picture is not copied beside the pages. [byte]
PHOTO_BYTES = 64 << 20

#: What the files of a carrier are.
_ABOUT = {
    places.CARRIER: "what is known of the carrier", places.MACHINE: "what is known of the machine",
    places.EVENTS: "its history, each event tied to the one before", places.AGREED: "the agreed image's grade",
    places.AGREED_IMAGE: "the agreed image's bytes", places.NOTES: "remarks", places.PHOTOS: "captions of the pictures",
    places.REPLACEMENTS: "replacements", places.DERIVATIONS: "how images were made from others",
    places.DEACCESSIONS: "that it was taken out of the collection",
}  # fmt: skip


@dataclass(frozen=True)
class Gathered:
    """A carrier's page before it is tied to its machine, with what the other pages need of it.

    Attributes:
        page: The page.
        photos: Files to be put beside the pages, by name: the path of each within the carrier's object.
        subject: What the list of risks asks of it.
    """

    page: CarrierPage
    photos: dict[str, str]
    subject: Subject


def gather(
    archive: ArchiveStore, carrier_id: str, made: Made, advance: Advance = lambda done: None
) -> Gathered:
    """Gather everything about one carrier; each of its files is read and held against its digest."""
    kept: tuple[KeptFile, ...] = ()
    try:
        inventory = archive.inventory(carrier_id)
        kept = kept_files(archive, inventory, advance)
        record = with_resting(archive, with_findings(load_record(archive, carrier_id, inventory)))
        record = with_contents(archive, record)
    except ImagekeeperError as problem:
        return _unreadable(carrier_id, made, kept, problem)
    damaged = [file for file in kept if file.problem]
    standing = how_it_stands(record, damage=[file.path for file in damaged])
    state: State = "damaged" if damaged else standing.grade
    held = tuple(dict.fromkeys(one.code for one in standing.open))
    row = CarrierEntry(
        id=record.id, kind=record.kind, part=record.part, machine=record.machine, board=record.board,
        position=record.position, label=record.label, reads=len(record.reads), state=state,
        open=held, explained=tuple(dict.fromkeys(one.code for one in standing.explained)),
        recorded=record.agreed is not None, problem=f"{plural(len(damaged), 'file')} damaged" if damaged else None,
        taken_out=record.deaccessions[-1].reason if record.deaccessions else None,
    )  # fmt: skip
    pictures, photos = gather_pictures(archive, record, inventory)
    page = CarrierPage(
        title=f"{record.id}: {record.part or record.kind}", made=made, record=record, row=row, standing=standing,
        files=kept, pictures=pictures,
    )  # fmt: skip
    page = _with_differences(archive, page, record, inventory)
    if page.comparison is not None and may_be_told(record, standing):
        standing = with_step(standing, page.comparison.next_read)
        page = replace(page, standing=standing)
    page = _with_content(archive, page, record, inventory)
    subject = Subject(
        id=record.id, kind=record.kind, state=standing.grade, reads=len(record.reads),
        recorded=record.agreed is not None, damaged=len(damaged),
        doubtful=bool(record.reads) and all(read.image.doubts for read in record.reads),
        outdated=any(found.code == "agreed-outdated" for found in record.findings),
        next=standing.next.does, open=held,
    )  # fmt: skip
    return Gathered(page, photos, subject)


def _unreadable(
    carrier_id: str, made: Made, kept: tuple[KeptFile, ...], problem: ImagekeeperError
) -> Gathered:
    row = CarrierEntry(
        id=carrier_id, kind=None, part=None, machine=None, board=None, position=None, label=None, reads=0,
        state="unreadable", recorded=False, problem=problem.why,
    )  # fmt: skip
    page = CarrierPage(
        title=f"{carrier_id}: damaged", made=made, record=None, row=row, standing=None, files=kept,
        problem=f"{problem.what}: {problem.why}", hint=problem.hint,
    )  # fmt: skip
    count = sum(file.problem is not None for file in kept)
    subject = Subject(
        id=carrier_id, kind=None, state="unreadable", damaged=count, next="restore it from another copy of the archive"
    )
    return Gathered(page, {}, subject)


def kept_files(archive: ArchiveStore, inventory: Inventory, advance: Advance) -> tuple[KeptFile, ...]:
    """Read every file of an object's newest version, and hold it against its digest."""
    places_of = inventory.by_digest()
    folder = archive.object_path(inventory.id)
    found = []
    for path, digest in sorted(inventory.state.items()):
        sha512, sha256, size = hashlib.sha512(), hashlib.sha256(), 0
        about = _about(path)
        try:
            for block in file_blocks(folder / places_of.get(digest, path)):
                sha512.update(block)
                sha256.update(block)
                size += len(block)
                advance(len(block))
        except OSError as problem:
            found.append(KeptFile(path=path, about=about, size_bytes=None, sha256=None, problem=files.reason(problem)))
            continue
        sound = sha512.hexdigest() == digest
        why = None if sound else "its SHA-512 is not the one in the inventory"
        found.append(KeptFile(path=path, about=about, size_bytes=size, sha256=sha256.hexdigest(), problem=why))
    return tuple(found)


def _about(path: str) -> str:
    parts = path.split("/")
    if parts[0] == "reads" and len(parts) > 2:
        what = {"read.json": "its record", "image.bin": "the image's bytes"}
        return f"read {parts[1]}: {what.get(parts[2], 'the file as the reader left it')}"
    if parts[0] == "photos":
        return "a picture"
    if parts[0] == "derived":
        return "an image made from others"
    return _ABOUT.get(path, "")


def gather_pictures(
    archive: ArchiveStore, record: CarrierRecord | MachineRecord, inventory: Inventory
) -> tuple[tuple[Picture, ...], dict[str, str]]:
    """Give the pictures of a carrier or machine, and the files that shall lie beside the pages."""
    pictures: list[Picture] = []
    copies: dict[str, str] = {}
    for number, photo in enumerate(record.photos, 1):
        alt = photo.caption or f"Picture {number} of {record.id}"
        try:
            data = photo_bytes(archive, photo, inventory)
        except ImagekeeperError as problem:
            pictures.append(Picture(
                alt=alt, caption=photo.caption or "", data_uri=None, href=None,
                why=f"It cannot be shown: {problem.why}.",
            ))  # fmt: skip
            continue
        uri, ending = data_uri(data), ENDINGS.get(media_type(data) or "")
        if ending is None:   # a page or program under a picture's name must not be opened by a click
            pictures.append(Picture(
                alt=alt, caption=photo.caption or "", data_uri=None, href=None,
                why="It is in no form known as a picture.",
            ))  # fmt: skip
            continue
        name = f"photos/{record.id}-{number}{ending}"
        copies[name] = photo.path
        pictures.append(Picture(
            alt=alt, caption=photo.caption or "", data_uri=uri, href=name,
            why="" if uri else f"({size_text(len(data))})",
        ))  # fmt: skip
    return tuple(pictures), copies


def photo_bytes(archive: ArchiveStore, photo: Photo, inventory: Inventory) -> bytes:
    """Read a picture, checked against its digest.

    Raises:
        NotFoundError: `not-found`.
        ArchiveError: `archive-damaged`.
    """
    path = archive.content_path(inventory.id, photo.path, inventory)
    with suppress(OSError):
        if path.stat().st_size > PHOTO_BYTES:
            raise NotFoundError("not-found/picture-too-large", limit=PHOTO_BYTES)
    return archive.read_file(inventory.id, photo.path, inventory)


def _with_differences(
    archive: ArchiveStore, page: CarrierPage, record: CarrierRecord, inventory: Inventory
) -> CarrierPage:
    """Compare the reads where they are not all equal."""
    shapes = {(read.image.sha256, read.image.segments) for read in record.reads}
    if len(shapes) < 2:
        return page
    total = sum(read.image.size_bytes for read in record.reads)
    if total > 2 * DRAWN_BYTES or len(record.reads) > DRAWN_READS:
        said = f"{plural(len(record.reads), 'read')} of {size_text(total)}"
        why = str(Phrase("step/too-much-for-a-page", said=said))
        return replace(page, uncompared=why)
    try:
        return replace(page, comparison=compare_reads(archive, record, inventory, map_columns=MAP_COLUMNS))
    except ImagekeeperError as problem:
        return replace(page, uncompared=f"the reads could not be compared: {problem.why}")


def _with_content(
    archive: ArchiveStore, page: CarrierPage, record: CarrierRecord, inventory: Inventory
) -> CarrierPage:
    """Inspect the agreed image, or the first read where nothing is agreed."""
    read, path, words = _to_inspect(record)
    if read is None or not 0 < read.image.size_bytes <= DRAWN_BYTES:
        return page
    from imagekeeper.inspection.inspection import inspect_image  # numpy, only where there is an image

    chip = known_chip(record.part) if record.kind in CHIPS else None
    try:
        image = _image(archive.read_file(record.id, path, inventory), read.image, read)
    except ImagekeeperError:   # it is among the damaged files already
        return page
    result = inspect_image(image, chip).named(f"{record.id}: {words}", None)
    return replace(page, inspection=result, inspected=f"from {words}")


def _to_inspect(record: CarrierRecord) -> tuple[Read | None, str, str]:
    agreed = record.agreed
    if agreed is not None and agreed.sha256 is not None:
        like = next((read for read in record.reads if read.image.sha256 == agreed.sha256), None)
        if like is not None:
            return like, like.image_path, "the agreed image"
        same = next((read for read in record.reads), None)
        if same is not None and agreed.image is not None:   # voted: of the shape that all the reads have
            return same, agreed.image, "the agreed image"
    first = next((read for read in record.reads if read.image.size_bytes), None)
    return first, first.image_path if first else "", f"read {first.id}" if first else ""


def _image(data: bytes, about: ReadImage, read: Read) -> Image:
    segments: list[Segment] = []
    at = 0
    for extent in about.segments:
        piece = data[at : at + extent.length]
        if piece:
            segments.append(Segment(extent.start, piece))
        at += extent.length
    addressed = about.first_address != 0   # what begins at 0 may do so only for want of an address
    return Image(segments=tuple(segments), container=read.container, wrapped_in=read.wrapped_in, addressed=addressed)


def all_bytes(archive: ArchiveStore, ids: tuple[str, ...]) -> int:
    """Add up what `gather` will read, for a progress bar; what cannot be looked at is left out. [byte]"""
    return sum(_sizes(archive, ids))


def _sizes(archive: ArchiveStore, ids: tuple[str, ...]) -> Iterator[int]:
    for name in ids:
        with suppress(ImagekeeperError):
            inventory = archive.inventory(name)
            held = inventory.by_digest()
            for digest in inventory.state.values():
                with suppress(OSError):
                    yield (archive.object_path(name) / held.get(digest, "")).stat().st_size
