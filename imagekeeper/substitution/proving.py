"""Every proposal goes over the simulated bus before anyone sees it; what contradicts the solver is refused."""

from __future__ import annotations

from dataclasses import replace

from imagekeeper.chips import Chip
from imagekeeper.substitution.proofs import Flaw, Simulation
from imagekeeper.substitution.results import Fit
from imagekeeper.substitution.simulation import Bench, Unit


def proved(fit: Fit, chip: Chip, bench: Bench) -> Fit:
    """Run a proposal through all cycles of the bus; refuse it where that contradicts it.

    Args:
        fit: What the solver proposes.
        chip: The chip.
        bench: The board and its socket.
    """
    if fit.image is None:
        return fit
    done = tried(fit, chip, bench)
    if done.writes != fit.writes:
        says = f"what the board writes is {done.writes}, and the pins said {fit.writes}"
        done = replace(done, flaws=(*done.flaws, Flaw(kind="write", pin=None, says=says, harm=False)))
    return replace(fit, simulation=done) if not done.flaws else refused(fit, done)


def tried(fit: Fit, chip: Chip, bench: Bench) -> Simulation:
    """Run a proposal, whatever comes of it."""
    image = fit.image
    if image is None:
        return Simulation(cycles=0, kinds={}, flaws=(), writes="none")
    units = [Unit(wires=fit.wires, image=image)]
    if fit.second:
        units.append(Unit(wires=fit.second, image=image, first_line=8))
    return bench.run(chip, units, fit.masks, pulled_up=fit.pull_ups)


def refused(fit: Fit, done: Simulation) -> Fit:
    """Take back what the simulation contradicts, and say so."""
    flaw = next((one for one in done.flaws if one.harm), done.flaws[0])
    where = f"pin {flaw.pin}: " if flaw.pin is not None else ""
    why = f"the pins say that it serves, and the simulation of the bus contradicts that: {where}{flaw.says}"
    return replace(
        fit, verdict="never", says=f"no: {why}", refused=why, image=None, wires=(), second=(), ohmmeter=None, units=1,
        additions=(), conditions=(), masks=(), pull_ups=False, cautions=(), simulation=done, score=0.0, evidence=(),
    )  # fmt: skip
