"""The record of a machine: what is written into its files, and the whole as the commands show it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from imagekeeper.provenance.events import Event
from imagekeeper.provenance.remarks import Note, Photo
from imagekeeper.provenance.testimony import Deaccession, Withdrawal


@dataclass(frozen=True, kw_only=True)
class Machine:
    """The computer or instrument being restored.

    Attributes:
        id: Its id in this archive, which is also its folder's name.
        uuid: Its identity across archives.
        name: What it is called.
        maker: Who made it, or null.
        model: Its model, or null.
        serial: Its serial number, or null.
        owner: Whose it is, or null.
        note: Anything else, or null.
        created: When it was added to the archive, RFC 3339.
    """

    id: str
    uuid: str
    name: str
    maker: str | None
    model: str | None
    serial: str | None
    owner: str | None
    note: str | None
    created: str


@dataclass(frozen=True, kw_only=True)
class MachineRecord:
    """Everything that the archive knows about one machine, without its carriers.

    Attributes:
        id: The machine's id.
        uuid: Its identity across archives.
        name: What it is called; carriers name their machine by this or by the id.
        maker: Who made it, or null.
        model: Its model, or null.
        serial: Its serial number, or null.
        owner: Whose it is, or null.
        note: What was known when it was added, or null.
        created: When it was added, RFC 3339.
        notes: Remarks, in the order they were made.
        photos: Pictures of it.
        events: What happened to it, in order.
        carriers: The ids of its carriers in the collection, and of all of them where that is asked for.
        version: How often its record was changed, counting its creation.
        deaccessions: Where it is not in the collection any more: that it was taken out, when and why.
        withdrawals: What was taken back, with the reasons.
        carriers_left_out: How many of its carriers are not named, for they were taken out of the collection.
    """

    SCHEMA: ClassVar[str] = "machine/1"

    id: str
    uuid: str
    name: str
    maker: str | None
    model: str | None
    serial: str | None
    owner: str | None
    note: str | None
    created: str
    notes: tuple[Note, ...] = ()
    photos: tuple[Photo, ...] = ()
    events: tuple[Event, ...] = ()
    carriers: tuple[str, ...] = ()
    version: int = 1
    deaccessions: tuple[Deaccession, ...] = ()
    withdrawals: tuple[Withdrawal, ...] = ()
    carriers_left_out: int = 0
