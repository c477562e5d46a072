"""Everything that is known of a carrier, with what the record shows by itself, and damage above all else."""

from __future__ import annotations

import hashlib
from dataclasses import replace

from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.archive.ocfl.reading import file_blocks
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.evidence.outdated import with_findings
from imagekeeper.evidence.standing import standing
from imagekeeper.jobs.carriers.resting import with_resting
from imagekeeper.provenance.kinds import DISKS
from imagekeeper.provenance.records import CarrierRecord

#: More than this is not read again each time that a carrier is shown; an audit does. [byte]
LOOKED_AT_BYTES = 64 << 20


def show_carrier(archive: ArchiveStore, carrier_id: str) -> CarrierRecord:
    """Give a carrier's record, with what is not what was kept, late reads, what rests on none, and what is on a disk.

    Raises:
        NotFoundError: `carrier-missing`.
        ArchiveError: `archive-damaged` for a record that cannot be read.
    """
    inventory = archive.inventory(carrier_id)
    record = with_resting(archive, with_findings(load_record(archive, carrier_id, inventory)))
    damage = damaged_files(archive, inventory)
    if damage:
        record = replace(record, standing=standing(record, damage))
    if record.kind not in DISKS:
        if record.standing is None or record.standing.grade != "disputed":
            return record
        from imagekeeper.jobs.carriers.next_reads import with_next_read  # slow to load: only where reads differ

        return with_next_read(archive, record, inventory)
    from imagekeeper.jobs.carriers.viewing_disks import with_contents  # the readers of disks, only for a disk

    return with_contents(archive, record)


def damaged_files(archive: ArchiveStore, inventory: Inventory) -> tuple[str, ...]:
    """Name the files of a carrier's newest version that are not what was kept; where it is large, none is read."""
    held, folder = inventory.by_digest(), archive.object_path(inventory.id)
    places = {path: folder / held.get(digest, path) for path, digest in sorted(inventory.state.items())}
    found: list[str] = []
    sizes: dict[str, int] = {}
    for path, place in places.items():
        try:
            sizes[path] = place.stat().st_size
        except OSError:
            found.append(path)
    if sum(sizes.values()) > LOOKED_AT_BYTES:
        return tuple(found)
    for path in sizes:
        digest = hashlib.sha512()
        try:
            for block in file_blocks(places[path]):
                digest.update(block)
        except OSError:
            found.append(path)
            continue
        if digest.hexdigest() != inventory.state[path]:
            found.append(path)
    return tuple(sorted(found))
