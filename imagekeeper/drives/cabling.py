"""Which cable joins a controller and a drive, and which would do harm."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from imagekeeper.drives.bench import OwnCable
from imagekeeper.tables.controllers import CONNECTORS, CableRow, ControllerRow, cable_rows
from imagekeeper.tables.drives import DriveRow

#: What a drive of a size has for its cable. From memory; some 3.5-inch drives have a card edge.
PLUGS: dict[float, str] = {8: "50-edge", 5.25: "34-edge", 3.5: "34-header"}

#: Odd lines that carry the supply of a drive by one of the makers' tables.
#: Source: Hewlett-Packard, 9122C CE Service Handbook, table 9-2.
SUPPLY_LINES = frozenset({3, 5, 7, 9, 11, 29, 31, 33})


def as_owned(own: OwnCable) -> CableRow:
    """Give the row of a cable's class with what is known of this one.

    Example:
        >>> as_owned(OwnCable("grey", "34-straight", ("34-edge",))).plugs
        ('34-edge',)
    """
    row = cable_rows()[own.cable]
    return replace(row, plugs=own.plugs) if own.plugs else row


def lines_of(controller: ControllerRow | None) -> frozenset[int]:
    """Give the numbers of lines that the board of a controller may have; both where that is not known.

    Example:
        >>> from imagekeeper.tables.controllers import controller_rows
        >>> sorted(lines_of(controller_rows()["pc-adapter"])), sorted(lines_of(None))
        ([34], [34, 50])
    """
    known = controller.connectors if controller is not None and controller.connectors else tuple(CONNECTORS)
    return frozenset(int(name.partition("-")[0]) for name in known)


def misfit(drive: DriveRow, controller: ControllerRow | None, cable: CableRow) -> str | None:
    """Say why a cable cannot join a drive and a controller, the harm first; None where it can.

    Example:
        >>> from imagekeeper.tables.drives import drive_rows
        >>> misfit(drive_rows()["3.5-600"], None, cable_rows()["34-twisted"])
        'it joins odd lines that may carry the supply of this drive to ground'
        >>> misfit(drive_rows()["8in-one-side"], None, cable_rows()["34-twisted"])
        'it has 34 lines at the drive, and the drive has 50'
        >>> misfit(drive_rows()["3.5-hd"], None, cable_rows()["34-twisted"]) is None
        True
    """
    if drive.interface not in (34, 50):
        return "the drive has a connector of its own, and no cable from it to a common controller is known"
    if drive.odd_supply and not set(cable.open_lines) >= SUPPLY_LINES:
        return "it joins odd lines that may carry the supply of this drive to ground"
    if cable.drive_lines != drive.interface:
        return f"it has {cable.drive_lines} lines at the drive, and the drive has {drive.interface}"
    if cable.controller_lines not in lines_of(controller):
        return f"it has {cable.controller_lines} lines at the controller, and the controller has not"
    plug = PLUGS.get(drive.disk_inch)
    if plug is not None and plug not in cable.plugs:
        plugs = " and ".join(CONNECTORS[one] for one in cable.plugs)
        return f"its plugs at the drive are for {plugs}, and the drive has {CONNECTORS[plug]}"
    return None


def fitting(drive: DriveRow, controller: ControllerRow | None) -> tuple[str, ...]:
    """Name the classes of cables that join them, the plainest first.

    Where the board's connector is not known, and a cable without an adapter exists, adapters are left out.

    Example:
        >>> from imagekeeper.tables.drives import drive_rows
        >>> [fitting(drive_rows()[name], None) for name in ("3.5-hd", "8in-one-side", "3.5-600", "3in-40")]
        [('34-twisted', '34-straight'), ('50-straight',), ('34-cut-odd',), ()]
    """
    found = [row for row in cable_rows().values() if misfit(drive, controller, row) is None]
    if not drive.odd_supply:   # a cable with lines cut has less ground than another drive wants
        found = [row for row in found if not row.open_lines]
    plain = [row for row in found if row.controller_lines == row.drive_lines]
    return tuple(row.id for row in plain or found)


def rules(drive: DriveRow, cable: CableRow | None) -> Iterator[str]:
    """Name the rules on connecting a drive, the weightiest first.

    Example:
        >>> from imagekeeper.tables.drives import drive_rows
        >>> list(rules(drive_rows()["3.5-hd"], cable_rows()["34-twisted"]))
        ['power-order', 'line-2-of-3.5', 'drive-select']
    """
    yield "power-order"
    if drive.disk_inch == 3.5:
        yield "line-2-of-3.5"
    if cable is not None and cable.controller_lines != cable.drive_lines:
        yield from ("supplies", "fifty-to-34")
    yield "drive-select"
