"""A board, a socket, and a chip wired into it, cycle by cycle: the proof of what the solver proposes.

It knows the pinouts, the wires and the layout of the image, and nothing of how the solver came to them: it has its own
reading of what a pin does, and none of the solver's rules. What it finds wrong is refused, whatever the solver says.

It works with levels. Times, currents and noise are not in it.
"""

from imagekeeper.substitution.proofs import Flaw, Simulation
from imagekeeper.substitution.simulation.rig import Rig, Unit

__all__ = ["Flaw", "Rig", "Simulation", "Unit"]
