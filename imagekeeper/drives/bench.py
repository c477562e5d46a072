"""The bench: drives, controllers, cables, readers, programmers and disks that a person owns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

#: What a person can have, by the name of its tables in the bench file.
THINGS = ("drive", "controller", "cable", "medium", "reader", "programmer")

#: What stands in the bench file, by the name of its tables.
KINDS = (*THINGS, "interchange")

#: Who wrote the disk of a trial: the drive of the bench, or that of the machine.
Wrote = Literal["here", "there"]


@dataclass(frozen=True)
class OwnDrive:
    """A drive on the bench.

    Attributes:
        name: What its owner calls it.
        drive: The id of its class.
        speeds: At which it is known to turn; none where only its class is known. [rev/min]
        note: A remark, or null.
    """

    name: str
    drive: str
    speeds: tuple[int, ...] = ()
    note: str | None = None


@dataclass(frozen=True, kw_only=True)
class OwnController:
    """A controller on the bench.

    Attributes:
        name: What its owner calls it.
        controller: The id of its class.
        rates: Those that it is known to have, in MFM; none where only its class is known. [kbit/s]
        fm: Whether it was seen to write FM, or null where nobody tried.
        connector: What its board has, one of the table's names, or null.
        note: A remark, or null.
    """

    name: str
    controller: str
    rates: tuple[int, ...] = ()
    fm: bool | None = None
    connector: str | None = None
    note: str | None = None


@dataclass(frozen=True)
class OwnCable:
    """A cable or an adapter on the bench.

    Attributes:
        name: What its owner calls it.
        cable: The id of its class.
        plugs: What it has at the drive; none where only its class is known.
        note: A remark, or null.
    """

    name: str
    cable: str
    plugs: tuple[str, ...] = ()
    note: str | None = None


@dataclass(frozen=True)
class OwnMedium:
    """Disks on the shelf.

    Attributes:
        medium: The id of their class.
        count: How many, or null where nobody counted.
        note: A remark, or null.
    """

    medium: str
    count: int | None = None
    note: str | None = None


@dataclass(frozen=True)
class Tool:
    """A reader or a programmer.

    Attributes:
        name: What its owner calls it.
        note: A remark, or null.
        qualified: What showed that it works, or null.
        qualified_on: When that was seen, or null.
    """

    name: str
    note: str | None = None
    qualified: str | None = None
    qualified_on: str | None = None


@dataclass(frozen=True)
class Retried:
    """A cylinder that was read only after several tries.

    Attributes:
        cylinder: Which.
        times: How often it was tried again.
    """

    cylinder: int
    times: int


@dataclass(frozen=True, kw_only=True)
class Interchange:
    """One disk that went from a drive of the bench to the machine's own, or the other way.

    Attributes:
        drive: The drive of the bench.
        machine_drive: The drive of the machine, in its owner's words.
        wrote: here where the drive of the bench wrote the disk, there where the machine's did.
        format: The id of the disk's format.
        cylinders: How many were tried.
        on: The day, or what of it is known.
        failed: Cylinders that were not read right.
        retried: Cylinders that were read after more than one try.
        note: A remark, or null.
    """

    drive: str
    machine_drive: str
    wrote: Wrote
    format: str
    cylinders: int
    on: str
    failed: tuple[int, ...] = ()
    retried: tuple[Retried, ...] = ()
    note: str | None = None


@dataclass(frozen=True, kw_only=True)
class Bench:
    """What is at hand.

    Attributes:
        drives: The drives.
        media: The disks.
        readers: The readers.
        programmers: The programmers.
        controllers: The controllers.
        cables: The cables and adapters.
        interchanges: What trials between these drives and those of machines showed, the oldest first.
    """

    SCHEMA: ClassVar[Literal["bench/1"]] = "bench/1"

    drives: tuple[OwnDrive, ...] = ()
    media: tuple[OwnMedium, ...] = ()
    readers: tuple[Tool, ...] = ()
    programmers: tuple[Tool, ...] = ()
    controllers: tuple[OwnController, ...] = ()
    cables: tuple[OwnCable, ...] = ()
    interchanges: tuple[Interchange, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """What its owner calls each thing on it; disks have no names.

        Example:
            >>> Bench(drives=(OwnDrive("B", "3.5-hd"),), cables=(OwnCable("grey", "34-twisted"),)).names
            ('B', 'grey')
        """
        sorts = (self.drives, self.controllers, self.cables, self.readers, self.programmers)
        return tuple(one.name for sort in sorts for one in sort)
