"""The classes of controllers and cables that the tables have."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from imagekeeper.tables import Source, sources
from imagekeeper.tables.controllers import CableRow, ControllerRow, cable_rows, controller_rows


@dataclass(frozen=True)
class ConnectionList:
    """The classes of controllers and cables, with what each can do and where that is from.

    Attributes:
        controllers: The classes of controllers.
        cables: The classes of cables and adapters.
        sources: The documents that they rest on.
    """

    SCHEMA: ClassVar[Literal["connection-list/1"]] = "connection-list/1"

    controllers: tuple[ControllerRow, ...]
    cables: tuple[CableRow, ...]
    sources: tuple[Source, ...]


def listed() -> ConnectionList:
    """List them.

    Example:
        >>> [one.id for one in listed().cables][:2]
        ['34-twisted', '34-straight']
    """
    controllers, cables = tuple(controller_rows().values()), tuple(cable_rows().values())
    rows: tuple[ControllerRow | CableRow, ...] = (*controllers, *cables)
    cited = dict.fromkeys(one.id for row in rows for one in row.sources)
    cited |= dict.fromkeys(name for row in rows for one in row.disputed for name in one.sources)
    return ConnectionList(controllers, cables, tuple(sources()[name] for name in cited))
