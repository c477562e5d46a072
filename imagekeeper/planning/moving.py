"""How fast a drive may be stepped and how long it must rest: what the program that writes must be told."""

from __future__ import annotations

from collections.abc import Iterator

from imagekeeper.drives.at_hand import Hung
from imagekeeper.planning.sheet import Fact
from imagekeeper.tables.controllers import StepRates


def moving(chosen: Hung) -> Iterator[Fact]:
    """Give the facts on the controller, on steps and on settling.

    Example:
        >>> from imagekeeper.drives import DiskForDrive
        >>> from imagekeeper.drives.bench import Bench, OwnController
        >>> from imagekeeper.drives.at_hand import AtHand
        >>> from imagekeeper.floppy.formats import find
        >>> from imagekeeper.tables.drives import drive_rows
        >>> bench = Bench(controllers=(OwnController(name="old card", controller="wd1770"),))
        >>> found = AtHand(DiskForDrive.of(find("720K 5.25")), bench).hung(drive_rows()["5.25-96tpi-dd"])
        >>> for fact in moving(found):
        ...     print(fact.name, "-", fact.value)
        controller - old card: WD1770
        step rate - 6 ms: the drive takes 3 ms, and this is the next that the controller has
        settle - 20 ms after the last step; 15 ms is met too
    """
    row, controller, unsourced = chosen.row, chosen.controller, chosen.row.unsourced
    steps = None
    if controller is not None:
        yield Fact("controller", f"{controller.name}: {controller.row.title}")
        steps = None if chosen.mode is None else controller.row.steps_at(chosen.mode.data_rate)
    if row.step_ms:
        memory = "step_ms" in unsourced or (controller is not None and "steps" in controller.row.unsourced)
        words = [_step(ms, steps) for ms in dict.fromkeys((row.step_ms[0], row.step_ms[-1]))]
        oldest, later = ("for the oldest drives of the class, ", "; for later ones, ") if len(words) > 1 else ("", "")
        yield Fact("step rate", later.join([f"{oldest}{words[0]}", *words[1:]]), memory)
    if row.settle_ms:
        slowest, *faster = row.settle_ms
        also = f"; {faster[-1]:g} ms is met too" if faster else ""
        yield Fact("settle", f"{slowest:g} ms after the last step{also}", "settle_ms" in unsourced)


def _step(drive_ms: float, steps: StepRates | None) -> str:
    """Say how fast to step a drive.

    Example:
        >>> [_step(40, one) for one in (None, StepRates(data_rate=250_000, ms=(6, 12, 20, 30)))]
        ['40 ms', '40 ms, and the controller steps no slower than 30 ms: not with this one']
    """
    if steps is None:
        return f"{drive_ms:g} ms"
    safe = steps.safe(drive_ms)
    if safe is None:
        return f"{drive_ms:g} ms, and the controller steps no slower than {steps.ms[-1]:g} ms: not with this one"
    if safe == drive_ms:
        return f"{drive_ms:g} ms"
    return f"{safe:.3g} ms: the drive takes {drive_ms:g} ms, and this is the next that the controller has"
