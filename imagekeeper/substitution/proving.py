"""Every proposal goes over the simulated bus before anyone sees it; what contradicts the solver is refused."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from imagekeeper.chips import Chip
from imagekeeper.substitution.proofs import Flaw, Simulation
from imagekeeper.substitution.results import Fit
from imagekeeper.substitution.seating import seatable
from imagekeeper.substitution.simulation import Rig, Unit


def proved(fit: Fit, chip: Chip, rig: Rig) -> Fit:
    """Run a proposal through all cycles of the bus; refuse it where that contradicts it.

    Args:
        fit: What the solver proposes.
        chip: The chip.
        rig: The board and its socket.
    """
    if not fit.dangers and fit.verdict in ("straps", "adapter", "never") and seatable(chip, rig.socket):
        fit = replace(fit, dangers=tuple(_harm(rig.plugged(chip), fit)))
    if fit.image is None:
        return fit
    done = tried(fit, chip, rig)
    if done.writes != fit.writes:
        says = f"what the board writes is {done.writes}, and the pins said {fit.writes}"
        done = replace(done, flaws=(*done.flaws, Flaw(kind="write", pin=None, says=says, harm=False)))
    return replace(fit, simulation=done) if not done.flaws else refused(fit, done)


def _harm(flaws: Sequence[Flaw], fit: Fit) -> Iterator[str]:
    """Give what would be harmed by a chip that is plugged in as it is, where no pin alone shows it.

    Where a mask chose the selects, nobody knows what they do there: nothing is said then.
    """
    if not fit.masks and fit.technology != "mask-rom":
        yield from (f"{f'pin {one.pin}: ' if one.pin else ''}{one.says}" for one in flaws if one.harm)


def tried(fit: Fit, chip: Chip, rig: Rig) -> Simulation:
    """Run a proposal, whatever comes of it."""
    image = fit.image
    if image is None:
        return Simulation(cycles=0, kinds={}, flaws=(), writes="none")
    units = [Unit(wires=fit.wires, image=image)]
    if fit.second:
        units.append(Unit(wires=fit.second, image=image, first_line=8))
    return rig.run(chip, units, fit.masks, pulled_up=fit.pull_ups)


def read_back(fit: Fit, chip: Chip, socket: Chip, original: bytes, burnt: bytes) -> tuple[int | None, int]:
    """Read what is burnt over the simulated wiring, and hold it against the original.

    Args:
        fit: How the chip is wired; of two, either.
        chip: The chip.
        socket: The chip that the socket was made for.
        original: What the machine must read there; of two chips, the half of this one.
        burnt: What is put into the chip.

    Returns:
        The first address at which the machine would read something else, or None [word]; and how many were tried.
    """
    image = fit.image
    if image is None:
        return None, 0
    size = 2 if socket.bits == 16 and fit.units == 1 else 1
    tried = 0
    for board, own in Rig(socket).addresses(chip, Unit(wires=fit.wires, image=image), fit.masks):
        there = int.from_bytes(burnt[own * size : (own + 1) * size], "little")
        seen = sum((there >> line & 1) << n for n, line in enumerate(image.data_to))
        wanted = int.from_bytes(original[board * size : (board + 1) * size], "little")
        if seen != wanted & ((1 << len(image.data_to)) - 1):
            return board, tried
        tried += 1
    return None, tried


def refused(fit: Fit, done: Simulation) -> Fit:
    """Take back what the simulation contradicts, and say so."""
    flaw = next((one for one in done.flaws if one.harm), done.flaws[0])
    where = f"pin {flaw.pin}: " if flaw.pin is not None else ""
    why = f"the pins say that it serves, and the simulation of the bus contradicts that: {where}{flaw.says}"
    return replace(
        fit, verdict="never", says=f"no: {why}", refused=why, image=None, wires=(), second=(), ohmmeter=None, units=1,
        additions=(), conditions=(), masks=(), pull_ups=False, cautions=(), simulation=done, score=0.0, evidence=(),
    )  # fmt: skip
