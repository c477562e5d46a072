"""Take images out of the archive: a read's, the agreed one, or one that was made from them."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import ClassVar, Literal

from imagekeeper import files, fingerprints
from imagekeeper.addresses import Doubt, Span, joined
from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.ocfl.troubles import damaged
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.containers.model import DataWindow, Image, Segment
from imagekeeper.errors import NotFoundError
from imagekeeper.jobs.images.writing import ChosenBy, check_output, chosen_kind, write_image
from imagekeeper.jobs.session import refuse_inside
from imagekeeper.progress import Progress, silent
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.sentences.say import Phrase


@dataclass(frozen=True, kw_only=True)
class Extraction:
    """An image taken out of the archive.

    Attributes:
        id: The carrier's id.
        what: `agreed`, or the id of a read or of a derived image.
        grade: The grade of the agreed image, or null for another.
        output: Name of the file written, made printable.
        container: The kind of file written.
        chosen_by: `option` where --to named the kind, `ending` where the file name did, `default` otherwise.
        size_bytes: Size of the image. [byte]
        sha256: Of the image, as the archive has it and as it was read back.
        open: The codes of what speaks against the agreed image, or against the carrier's record.
        doubts: Bytes that the file of a read spoke against, where no other read gives the same image without; what is
            written says nothing of them.
    """

    SCHEMA: ClassVar[Literal["extraction/1"]] = "extraction/1"

    id: str
    what: str
    grade: str | None
    output: str
    container: str
    chosen_by: ChosenBy
    size_bytes: int
    sha256: str
    open: tuple[str, ...] = ()
    doubts: tuple[Doubt, ...] = ()


@dataclass(frozen=True)
class StoredImage:
    """An image as the archive holds it.

    Attributes:
        what: `agreed`, or the id of a read or of a derived image.
        image: Its bytes at their addresses, as windows on the file, with their doubts.
        sha256: What the record says that they have.
        name: Of the file, for messages.
    """

    what: str
    image: Image
    sha256: str
    name: str


def stored(
    archive: ArchiveStore, record: CarrierRecord, inventory: Inventory, what: str, stack: ExitStack
) -> StoredImage:
    """Open an image of a carrier; it stays open as long as the stack.

    Args:
        archive: The archive.
        record: The carrier.
        inventory: Its inventory.
        what: `agreed`, or the id of a read (r1) or of a derived image (d1).
        stack: What keeps the file open.

    Raises:
        NotFoundError: `not-found`: the carrier has no such image.
        ArchiveError: `archive-damaged`: the bytes are not those of the record.
    """
    path, sha256, extents, container = _described(record, what)
    where = archive.content_path(record.id, path, inventory)
    image = replace(opened_image(archive, where, extents, stack, container=container), doubts=_doubts(record, what))
    if sum(extent.length for extent in extents) != where.stat().st_size:
        raise damaged(archive.name_of(where), Phrase("archive-damaged/record-size"))
    if fingerprints.take(image, "").sha256 != sha256:
        raise damaged(archive.name_of(where), Phrase("archive-damaged/record-digest"))
    return StoredImage(what, image, sha256, f"{record.id} {what}")


def opened_image(
    archive: ArchiveStore, where: Path, extents: Sequence[Span], stack: ExitStack, *, container: str,
    wrapped_in: str | None = None,
) -> Image:  # fmt: skip
    """Open a file of the archive as an image: windows on the file, which stays open as long as the stack.

    The bytes are not checked.

    Args:
        archive: The archive.
        where: The file.
        extents: The addresses of its bytes.
        stack: What keeps the file open.
        container: The kind of file that the image came from.
        wrapped_in: What lay around that, or None.
    """
    file, about = stack.enter_context(files.opened(where))
    data = files.FileData(file, about.st_size, archive.name_of(where))
    segments, at = [], 0
    for extent in extents:
        segments.append(Segment(extent.start, DataWindow(data, at, extent.length)))
        at += extent.length
    addressed = extents[0].start != 0   # what begins at 0 may do so only for want of an address
    return Image(segments=tuple(segments), container=container, wrapped_in=wrapped_in, addressed=addressed)


def _doubts(record: CarrierRecord, what: str) -> tuple[Doubt, ...]:
    """Give the doubts of an image; of the agreed one, where no read without any gives it too."""
    if what == "agreed" and record.agreed is not None:
        giving = [read.image.doubts for read in record.reads if read.image.sha256 == record.agreed.sha256]
        return min(giving, key=lambda doubts: (sum(span.length for span in joined(doubts)), len(doubts)), default=())
    for read in record.reads:
        if read.id == what:
            return read.image.doubts
    return next((made.doubts for made in record.derivations if made.id == what), ())


def _described(record: CarrierRecord, what: str) -> tuple[str, str, Sequence[Span], str]:
    """Give where an image lies, its SHA-256, the addresses of its bytes, and its container."""
    for read in record.reads:
        if read.id == what:
            return read.image_path, read.image.sha256, read.image.segments, read.container
    for made in record.derivations:
        if made.id == what and made.path is not None:
            return made.path, made.sha256, (Span(made.first_address, made.size_bytes),), "raw"
    agreed = record.agreed
    if what == "agreed" and agreed is not None and agreed.image is not None and agreed.sha256 is not None:
        like = [read for read in record.reads if read.image.sha256 == agreed.sha256]
        voters = [read for read in record.reads if read.id in agreed.voters]   # they hold the same addresses
        shape = (like or voters or record.reads)[0]
        return agreed.image, agreed.sha256, shape.image.segments, shape.container
    if what == "agreed":
        why = (
            "not-found/no-reads-left" if not record.reads
            else "not-found/not-agreed" if agreed is None else "not-found/reads-differ"
        )
        raise NotFoundError(why, id=record.id)
    known = [read.id for read in record.reads] + [made.id for made in record.derivations if made.path]
    raise NotFoundError("not-found/image", id=record.id, name=what, known=["agreed", *known])


def extract(
    archive: ArchiveStore, carrier_id: str, output: str, *, what: str = "agreed", to: str | None = None,
    force: bool = False, progress: Progress = silent,
) -> Extraction:  # fmt: skip
    """Write an image of a carrier to a file, and prove what was written.

    Args:
        archive: The archive.
        carrier_id: The carrier.
        output: The file to write, whole or not at all.
        what: `agreed`, or the id of a read or derived image.
        to: The kind of container, or None to go by the output's ending.
        force: Replace the output if it is there.
        progress: Told how far it is.

    Raises:
        NotFoundError: `carrier-missing`; `not-found` for an image that the carrier has not.
        ArchiveError: `archive-damaged`.
        UsageError: The kind cannot hold the image, or the output not be written.
    """
    kind, chosen_by = chosen_kind(output, to)
    check_output(output, force=force)
    refuse_inside(archive, output)
    inventory = archive.inventory(carrier_id)
    record = load_record(archive, carrier_id, inventory)
    with ExitStack() as stack:
        found = stored(archive, record, inventory, what, stack)
        with progress(f"Writing {carrier_id}", found.image.size_bytes):
            write_image(found.image, output, kind, found.sha256, force=force)
        size = found.image.size_bytes
    standing = record.standing if what == "agreed" else None
    grade = standing.grade if standing is not None else None
    return Extraction(
        id=carrier_id, what=what, grade=grade, output=files.display_name(output), container=kind, chosen_by=chosen_by,
        size_bytes=size, sha256=found.sha256, open=tuple(one.code for one in standing.open) if standing else (),
        doubts=found.image.doubts,
    )  # fmt: skip
