"""How the chips are ranked: ease first, then whether one can be had; weights of our own choosing."""

from __future__ import annotations

from collections.abc import Iterator

from imagekeeper.chips import Chip
from imagekeeper.ranked import Evidence
from imagekeeper.substitution.results import Verdict
from imagekeeper.tables.chips import AVAILABILITY

EASE: dict[Verdict, tuple[float, str]] = {
    "drops-in": (0.85, "drops in"),
    "image-placed": (0.8, "drops in, with the image placed or repeated"),
    "image-rearranged": (0.7, "drops in, with the image rearranged"),
    "straps": (0.55, "some pins must be tied"),
    "adapter": (0.45, "an adapter must be wired"),
    "never": (0.0, "no adapter can be made"),
}

#: Where a clock alone stands in the way, ease counts for no more than this: behind every chip without one that fits.
_CLOCK_EASE = 0.2

_HAD = {"made": 0.1, "made-one-time": 0.07, None: 0.04, "surplus": 0.0}


def evidence(
    chip: Chip, verdict: Verdict, *, additions: int, conditions: int, short: int, fast_enough: bool | None, own: bool,
    clock: bool,
) -> Iterator[Evidence]:
    """Give the reasons for and against a chip; their weights add up to its score, within 0 and 1.

    Args:
        chip: The chip.
        verdict: What it does in the socket.
        additions: How many parts are needed beside wires, a second chip among them.
        conditions: How many things must be true that nobody has looked at.
        short: What it is too small by. [word]
        fast_enough: Whether it is fast enough, or None.
        own: Whether it is the original's own type.
        clock: Whether a clock runs in its last bytes, where the original has none.
    """
    ease, says = EASE[verdict]
    yield Evidence(says, ease)
    if verdict == "never":
        return
    if own:
        yield Evidence("the original's own type", 0.05)
    had = _HAD[chip.availability]
    yield Evidence(AVAILABILITY.get(chip.availability or "", "nothing known of whether it is still made"), had)
    if chip.carrier in ("eeprom", "flash") and not chip.vpp_v:
        yield Evidence("written and erased with 5 V alone", 0.03)
    if clock:
        yield Evidence("a clock runs in its last bytes, which change by themselves", round(_CLOCK_EASE - ease, 4))
    if chip.carrier == "ram" and chip.cell == "inside" and not own:
        yield Evidence("its contents hang on the cell inside it", -0.1)
    if additions:
        yield Evidence("parts beside wires", -0.05 * additions)
    if conditions:
        yield Evidence("a condition must be looked at", -0.04 * conditions)
    if short:
        yield Evidence("too small for the whole image", -0.3)
    if fast_enough is False:
        yield Evidence("too slow", -0.3)
    if chip.carrier == "mask-rom":
        yield Evidence("cannot be written: only one with the same program serves", -0.4)
