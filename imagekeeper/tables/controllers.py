"""The rows of controllers.toml and cables.toml: what lies between a computer and a drive."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from imagekeeper.tables import Cited, Dispute, bases, load
from imagekeeper.tables.floppy import GROUNDS

#: The connectors of boards and drives, in words: number of lines, then their form.
CONNECTORS: dict[str, str] = {
    "34-header": "34 pins", "34-edge": "a card edge of 34 lines", "50-header": "50 pins",
    "50-edge": "a card edge of 50 lines",
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class StepRates:
    """How fast a controller can step at a data rate.

    Attributes:
        data_rate: [bit/s]
        ms: From a track to the next: those that it has, or where `every` is given the least and the most. [ms]
        every: All between least and most that are so far apart; null where `ms` names them all. [ms]
    """

    data_rate: int
    ms: tuple[float, ...]
    every: float | None = None

    def safe(self, drive_ms: float) -> float | None:
        """Give the fastest that is no faster than a drive, or None where it cannot step so slowly. [ms]

        Example:
            >>> [StepRates(data_rate=250_000, ms=(6, 12, 20, 30)).safe(ms) for ms in (3, 8, 40)]
            [6, 12, None]
            >>> StepRates(data_rate=250_000, ms=(2, 32), every=2).safe(3)
            4
        """
        if self.every is None:
            return next((one for one in self.ms if one >= drive_ms), None)
        steps = -(-(drive_ms - self.ms[0]) // self.every)
        found = self.ms[0] + max(steps, 0) * self.every
        return found if found <= self.ms[-1] else None


@dataclass(frozen=True, kw_only=True)
class ControllerRow:
    """A class of controllers as its row gives it.

    Attributes:
        id: Its name.
        title: What it is.
        data_rates: Those that every one of the class has, in MFM; in FM half. [bit/s]
        some_data_rates: Those that only some have, by the clock of their board. [bit/s]
        encodings: fm, mfm, perpendicular: those that every one has.
        some_encodings: Those that only some have.
        steps: From a track to the next, at data rates.
        line_2: What it puts on line 2 of a drive, in words.
        connectors: Of its board, where the class is a board; none where the board decides.
        sources: Which document gives which fields.
        unsourced: Fields from memory.
        derived: Fields that follow from others, with the rule.
        disputed: What speaks against a field.
        recalibrate_steps: After so many step pulses towards track 00 it gives up, or null.
        note: What else must be known, or null.
    """

    id: str
    title: str
    data_rates: tuple[int, ...]
    some_data_rates: tuple[int, ...]
    encodings: tuple[str, ...]
    some_encodings: tuple[str, ...]
    steps: tuple[StepRates, ...]
    line_2: str
    connectors: tuple[str, ...]
    sources: tuple[Cited, ...]
    unsourced: tuple[str, ...]
    derived: dict[str, str]
    disputed: tuple[Dispute, ...]
    recalibrate_steps: int | None = None
    note: str | None = None

    def steps_at(self, data_rate: float) -> StepRates | None:
        """Find how fast it steps at a data rate in MFM, or None where that is not known.

        At 300 kbit/s all times are those at 500 in the proportion of the rates.

        Source:
            ITE, IT8673F data sheet, page 82: at 300 kbit/s all times of the controller are those at 500 times 5/3.

        Example:
            >>> [round(ms, 1) for ms in controller_rows()["it8673f"].steps_at(300_000).ms]
            [1.7, 26.7]
        """
        found = {one.data_rate: one for one in self.steps}
        if data_rate == 300_000 and 300_000 not in found and (at_500 := found.get(500_000)) and at_500.every:
            slower = 500_000 / 300_000
            return StepRates(data_rate=300_000, ms=tuple(ms * slower for ms in at_500.ms), every=at_500.every * slower)
        return found.get(int(data_rate))


@dataclass(frozen=True, kw_only=True)
class CableRow:
    """A class of cables or adapters as its row gives it.

    Attributes:
        id: Its name.
        title: What it is.
        controller_lines: At the controller: 34 or 50.
        drive_lines: At the drive: 34 or 50.
        twist: Whether lines 10 to 16 are exchanged before the last plug.
        plugs: What it may have at the drive.
        open_lines: Lines that carry nothing.
        longest_m: As long as makers allow. [m]
        harm: What a wrong use of it destroys.
        sources: Which document gives which fields.
        unsourced: Fields from memory.
        derived: Fields that follow from others, with the rule.
        disputed: What speaks against a field.
    """

    id: str
    title: str
    controller_lines: int
    drive_lines: int
    twist: bool
    plugs: tuple[str, ...]
    open_lines: tuple[int, ...]
    longest_m: float
    harm: str
    sources: tuple[Cited, ...]
    unsourced: tuple[str, ...]
    derived: dict[str, str]
    disputed: tuple[Dispute, ...]


@cache
def controller_rows() -> dict[str, ControllerRow]:
    """Every class of controllers, by its id, in the order of the table.

    Example:
        >>> [row.id for row in controller_rows().values() if 300_000 in row.data_rates]
        ['82077aa', 'pc8477b', 'fdc37', 'it8673f']
    """
    return {
        row["id"]: ControllerRow(
            steps=tuple(StepRates(data_rate=one["data_rate"], ms=tuple(one["ms"]), every=one.get("every"))
                        for one in row["steps"]),
            **_plain(row, "steps"),
        )
        for row in load("controllers")["controller"]
    }  # fmt: skip


@cache
def cable_rows() -> dict[str, CableRow]:
    """Every class of cables, by its id, in the order of the table.

    Example:
        >>> cable_rows()["34-cut-odd"].open_lines[:3]
        (3, 5, 7)
    """
    return {row["id"]: CableRow(**_plain(row)) for row in load("cables")["cable"]}


def _plain(row: dict[str, Any], *apart: str) -> dict[str, Any]:
    return {
        name: tuple(value) if isinstance(value, list) else value
        for name, value in row.items()
        if name not in (*GROUNDS, *apart)
    } | {"derived": {}} | bases(row)
