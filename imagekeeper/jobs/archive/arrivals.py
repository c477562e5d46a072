"""What arrives from another archive: each carrier and machine checked and tried before any is taken in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from imagekeeper.archive.audits.vetting import object_files, vet
from imagekeeper.archive.exchange.bag_check import bad
from imagekeeper.archive.exchange.quarantine import Quarantine, Record, Trial
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.ocfl.troubles import Unfit
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ArchiveError, ImagekeeperError, Where
from imagekeeper.jobs.archive.reproving import refuse_contradicted
from imagekeeper.jobs.pages.gathering import gather, gather_pictures
from imagekeeper.jobs.pages.values import Made
from imagekeeper.jsonable import one_line
from imagekeeper.legible import shortened
from imagekeeper.progress import Advance
from imagekeeper.provenance.ids import is_carrier_id
from imagekeeper.provenance.machines import MachineRecord
from imagekeeper.sentences.say import Phrase


@dataclass(frozen=True)
class Arrival:
    """A carrier or machine of the other archive, found whole and fit to be kept.

    Attributes:
        inventory: Its inventory there.
        uuid: Its identity across archives.
    """

    inventory: Inventory
    uuid: str

    @property
    def id(self) -> str:
        """Its id there."""
        return self.inventory.id


@dataclass(frozen=True)
class Arrivals:
    """What another archive holds.

    Attributes:
        fit: What can be taken in, by id.
        unfit: What is set aside, by id.
        files: All files of both, as paths of a bag.
    """

    fit: tuple[Arrival, ...]
    unfit: tuple[Unfit, ...]
    files: frozenset[str]


def arrivals(source: ArchiveStore, shown: Trial, advance: Advance, *, in_bag: bool) -> Arrivals:
    """Check and try everything that another archive holds.

    Args:
        source: The other archive, which is only read.
        shown: Shows a record as the caller would; what it raises speaks against the record.
        advance: Told the bytes read.
        in_bag: Whether it is the payload of a bag, in which nothing unexpected may lie among the carriers.

    Raises:
        InputError: `bag-damaged` where nothing at all can be taken in, or a folder is no carrier's.
        ArchiveError: `archive-damaged` where nothing at all can be taken in of an archive that is no bag.
    """
    fit: dict[str, Arrival] = {}
    why: dict[str, str] = {}
    files: set[str] = set()
    by_uuid: dict[str, list[str]] = {}

    def shown_and_gathered(archive: ArchiveStore, record: Record, inventory: Inventory) -> None:
        shown(archive, record, inventory)
        _gathered(archive, record, inventory)

    with Quarantine(shown_and_gathered) as quarantine:
        for folder, object_id in _folders(source, in_bag=in_bag):
            found = _tried(source, quarantine, object_id, advance, in_bag=in_bag)
            if isinstance(found, Arrival):
                fit[object_id] = found
                by_uuid.setdefault(found.uuid, []).append(object_id)
                files.update(f"data/carriers/{folder}/{path}" for path in object_files(found.inventory))
            else:
                why[object_id] = found
                files.add(f"data/carriers/{folder}/")
    for ids in by_uuid.values():
        for one in ids if len(ids) > 1 else ():   # neither is taken for the right one
            other = next(name for name in ids if name != one)
            why[one] = str(Phrase("archive-damaged/same-uuid", id=one, other=other))
            del fit[one]
    if why and not fit:
        first = min(why)
        raise _refused(in_bag, first, why[first])
    return Arrivals(
        tuple(fit[one] for one in sorted(fit)),
        tuple(Unfit(one, shortened(one_line(why[one]), 400)) for one in sorted(why)), frozenset(files),
    )  # fmt: skip


def _folders(source: ArchiveStore, *, in_bag: bool) -> Iterator[tuple[str, str]]:
    """Give the folders of carriers and machines with their ids."""
    for folder in source.folders():
        object_id = source.layout.object_id(folder)
        if is_carrier_id(object_id) and source.layout.object_folder(object_id) == folder:
            yield folder, object_id
        elif in_bag:
            raise bad(Phrase("bag-damaged/no-carrier", folder=folder), folder)


def _tried(
    source: ArchiveStore, quarantine: Quarantine, object_id: str, advance: Advance, *, in_bag: bool
) -> Arrival | str:
    part = vet(source, object_id, advance)
    for problem in (*part.damaged, *part.missing, *(part.unexpected if in_bag else ())):
        return str(Phrase("archive-damaged/of", name=problem.path, trouble=problem.why))
    try:
        inventory = source.inventory(object_id)
    except ImagekeeperError as problem:
        return str(Phrase("archive-damaged/of", name=object_id, trouble=problem.why))
    record = quarantine.tried(source, inventory)
    if not isinstance(record, str):
        try:
            refuse_contradicted(source, inventory)
        except ArchiveError as problem:
            return str(Phrase("archive-damaged/of", name=object_id, trouble=problem.why))
    return record if isinstance(record, str) else Arrival(inventory, record.uuid)


def _gathered(archive: ArchiveStore, record: Record, inventory: Inventory) -> None:
    """Gather what the pages about a record show."""
    if isinstance(record, MachineRecord):
        gather_pictures(archive, record, inventory)
    else:
        gather(archive, record.id, Made("", "", "", ""))


def _refused(in_bag: bool, where: str, why: str) -> ImagekeeperError:
    if in_bag:
        return bad(shortened(one_line(why), 400), where)
    return ArchiveError("archive-damaged/other-archive", trouble=why, where=Where(file=one_line(where)))
