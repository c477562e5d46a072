"""The whole matrix of substitution: every chip in every socket, by the solver and by the simulated bus.

Run it as `python -m tests.benchmarks.substitution`; it takes about a minute. It prints how many pairs have which
verdict, how many verdicts rest on pins from memory, how many bus cycles were simulated, and how many pairs differ
between solver and simulation. The last must be 0.
"""

from __future__ import annotations

import sys
from collections import Counter
from time import process_time

from imagekeeper import chips
from imagekeeper.substitution import Fit, substitutes
from imagekeeper.substitution.seating import seatable
from imagekeeper.substitution.simulation import Rig
from imagekeeper.tables.chips import chip_rows


def differs(one: Fit, socket: str, bench: Rig) -> bool:
    """Whether the simulation contradicts a proposal, or sees harm as it is that the answer does not name."""
    if "contradicts" in (one.refused or ""):
        return True
    chip, original = chips.find(one.part), chips.find(socket)
    masked = one.masks or "mask-rom" in (chip.technology, original.technology)
    if one.part == socket or one.dangers or masked or one.units == 2 or not seatable(chip, original):
        return False
    return any(flaw.harm for flaw in bench.plugged(chip))


def main() -> int:
    began = process_time()
    verdicts, memory, kinds = Counter[str](), Counter[str](), Counter[str]()
    differing = []
    for socket in chip_rows():
        bench = Rig(chips.find(socket))
        found = substitutes(socket)
        verdicts["not compared"] += len(found.not_compared)
        for one in found.fits:
            verdicts[one.verdict] += 1
            memory[one.verdict] += bool(one.from_memory)
            kinds.update(one.simulation.kinds if one.simulation is not None else {})
            if differs(one, socket, bench):
                differing.append((socket, one.part))
    taken = process_time() - began
    print(f"{len(chip_rows())} chips, {sum(verdicts.values())} pairs, {taken:.0f} s of processor time")
    for verdict, count in verdicts.most_common():
        rest = f", {memory[verdict]} of them on pins from memory" if verdict in memory else ""
        print(f"{verdict:18}{count:7}{rest}")
    print("simulated cycles  " + ", ".join(f"{count} {kind}" for kind, count in kinds.most_common()))
    print(f"differ            {len(differing)}{': ' if differing else ''}{differing[:10] or ''}")
    return 1 if differing else 0


if __name__ == "__main__":
    sys.exit(main())
