"""Make every derived image of an archive again, and hold it against the one that is kept."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack

from imagekeeper.archive.audits.audit_report import Rebuilt, RebuiltImage
from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.ocfl.reading import file_bytes
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.digests import sha256_hex
from imagekeeper.errors import ImagekeeperError, NotFoundError
from imagekeeper.jobs.carriers.extracting import stored
from imagekeeper.progress import Progress, silent
from imagekeeper.provenance import places
from imagekeeper.provenance.derivations import Derivation, DerivationSource
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.transforms.replaying import replay, steps_of


def rebuild_derived(archive: ArchiveStore, ids: Iterable[str] | None = None, *, progress: Progress = silent) -> Rebuilt:
    """Make derived and voted images again; nothing in the archive is changed.

    Args:
        archive: The archive.
        ids: The carriers to look at, or None for all.
        progress: Told the carriers looked at.

    Raises:
        ArchiveError: `archive-damaged` where the storage root cannot be read; damage to one carrier is in the result.
    """
    names = tuple(archive.ids() if ids is None else ids)
    results: list[RebuiltImage] = []
    with progress("Making images again", len(names)) as advance:
        for name in names:
            results += _of_carrier(archive, name)
            advance(1)
    wrong = tuple(one for one in results if one.why is not None)
    return Rebuilt(len(results) - len(wrong), wrong, not wrong)


def _of_carrier(archive: ArchiveStore, carrier_id: str) -> Iterator[RebuiltImage]:
    try:
        inventory = archive.inventory(carrier_id)
        if places.CARRIER not in inventory.state:
            return   # a machine
        record = load_record(archive, carrier_id, inventory)
    except ImagekeeperError as problem:
        yield RebuiltImage(
            carrier=carrier_id, what="all", sha256="", found=None, why=f"the record cannot be read: {problem.why}"
        )
        return
    for made in record.derivations:
        yield _checked(carrier_id, made.id, made.sha256, lambda made=made: _again(archive, made))   # type: ignore[misc]
    agreed = record.agreed
    if agreed is not None and agreed.voted_by is not None and agreed.sha256 is not None:
        yield _checked(carrier_id, "agreed", agreed.sha256, lambda: _voted(archive, record, inventory))


def _checked(carrier: str, what: str, sha256: str, make: Callable[[], str]) -> RebuiltImage:
    try:
        found = make()
    except ImagekeeperError as problem:
        return RebuiltImage(
            carrier=carrier, what=what, sha256=sha256, found=None,
            why=f"it cannot be made again: {problem.what}: {problem.why}",
        )  # fmt: skip
    why = None if found == sha256 else "made again, it has another SHA-256"
    return RebuiltImage(carrier=carrier, what=what, sha256=sha256, found=found, why=why)


def _again(archive: ArchiveStore, made: Derivation) -> str:
    data = [_source(archive, one) for one in made.sources]
    others = {one.sha256: held for one, held in zip(made.sources[1:], data[1:], strict=True)}
    return sha256_hex(replay(data[0], steps_of(list(made.steps)), others))


def _source(archive: ArchiveStore, source: DerivationSource) -> bytes:
    """Find the bytes that went in: those of the record, or of an earlier agreed image where that was settled anew."""
    inventory = archive.inventory(source.carrier)
    record = load_record(archive, source.carrier, inventory)
    with ExitStack() as stack:
        for what in (source.what, *(read.id for read in record.reads)):
            try:
                found = stored(archive, record, inventory, what, stack)
            except NotFoundError:
                continue
            if found.sha256 == source.sha256:
                return found.image.tobytes()
    for number in range(inventory.head, 0, -1):
        place = inventory.content_path(places.AGREED_IMAGE, number)
        if place is not None:
            data = file_bytes(archive.object_path(source.carrier) / place)
            if sha256_hex(data) == source.sha256:
                return data
    raise NotFoundError(
        "not-found", "what it was made from is not there", why=f"{source.carrier} holds no image {source.sha256[:16]}…",
        hint="imagekeeper archive audit tells whether something is missing",
    )  # fmt: skip


def _voted(archive: ArchiveStore, record: CarrierRecord, inventory: Inventory) -> str:
    from imagekeeper.comparison.voting import vote  # numpy comes with it: only where there is a vote

    agreed = record.agreed
    reads = [] if agreed is None else [read for read in record.reads if read.id in agreed.voters]
    if agreed is None or agreed.voted_by is None or not reads:
        raise NotFoundError(
            "no-reads", "the reads that were voted on are not there", why=f"{record.id} does not say which they were",
            hint="settle the image again from the reads that there are",
        )  # fmt: skip
    first = reads[0].image.first_address
    with ExitStack() as stack:
        images = [stored(archive, record, inventory, read.id, stack).image.moved(first) for read in reads]
        volts = [None if read.vcc is None else float(read.vcc) for read in reads]
        weighed = volts if agreed.voted_by == "bit" and any(volt is not None for volt in volts) else None
        majority, _ = vote(images, [read.id for read in reads], by=agreed.voted_by, volts=weighed)
    return majority.sha256
