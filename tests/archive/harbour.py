"""Small invented archives for the tests of exchange, written as the commands write them."""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from imagekeeper.archive.carriers import load_machine, load_record
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.jobs.carriers.keeping import Conditions, add_reads
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.session import Session, timestamp
from imagekeeper.provenance import places
from imagekeeper.provenance.machines import MachineRecord
from imagekeeper.provenance.records import CarrierRecord

START = 1772452800   # 2 March 2026, 12:00 UTC


@dataclass
class Clock:
    """Gives times a second apart, and UUIDs by number, so that tests can be repeated."""

    seconds: int = START
    number: int = 0
    uuids: Iterator[int] = field(default_factory=lambda: iter(range(1, 1 << 30)))

    def session(self, operator: str | None = "Ann") -> Session:
        return Session(self.now, self.uuid, operator)

    def now(self) -> str:
        self.seconds += 1
        return timestamp(self.seconds)

    def uuid(self) -> str:
        return str(uuid.UUID(int=next(self.uuids) << 64 | 0x4000 << 48))


def found(path: Path, clock: Clock, layout: str = "0002") -> ArchiveStore:
    """Make an archive."""
    return ArchiveStore.create(path, uuid=clock.uuid(), title=path.name, now=clock.now(), layout=layout)


def keep(
    archive: ArchiveStore, carrier: str, data: bytes, clock: Clock, *, name: str = "u4.bin",
    operator: str | None = "Ann", **conditions: str,
) -> CarrierRecord:  # fmt: skip
    """Add a read, as a file that a reader wrote at this moment."""
    folder = archive.path.parent / "files"
    folder.mkdir(exist_ok=True)
    file = folder / name
    file.write_bytes(data)
    clock.seconds += 1
    os.utime(file, (clock.seconds, clock.seconds))
    return add_reads(
        archive, carrier, [str(file)], Options(kind="raw"), Conditions(
            **conditions
        ), clock.session(operator)   # type: ignore[arg-type]
    )  # fmt: skip


def records(archive: ArchiveStore) -> dict[str, CarrierRecord | MachineRecord]:
    """Everything that an archive knows."""
    found: dict[str, CarrierRecord | MachineRecord] = {}
    for one in archive.ids():
        inventory = archive.inventory(one)
        is_machine = places.MACHINE in inventory.state
        found[one] = (load_machine if is_machine else load_record)(archive, one, inventory)
    return found


def tree(folder: Path) -> dict[str, bytes | None]:
    """Every file below a folder with its bytes, and every folder."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else None
        for path in sorted(folder.rglob("*"))
    }
