"""Whether a chip is a plain memory on a bus, so that its pins alone tell what can take its place."""

from __future__ import annotations

from imagekeeper.chips import Chip
from imagekeeper.substitution.lines import lines_of, not_judged

#: What a latch inside that picks the page asks of whatever stands in its place.
PAGED = (
    "it is paged: its {words} words have {lines} address lines, and what the machine writes into a latch inside it "
    "picks the page. A plain chip of all its words needs that latch on its adapter, with the original's reset; a plain "
    "chip of one page serves only where the machine never changes the page"
)

_STROBES = ("/RAS", "/CAS")


def beyond(chip: Chip) -> str | None:
    """Say what makes a chip more than a plain memory, or None.

    Example:
        >>> from imagekeeper.chips import find
        >>> beyond(find("93C46"))
        'the 93C46 is read in series'
        >>> beyond(find("2716")) is None
        True
    """
    lines = lines_of(chip)
    addresses = {line.number for line in lines if line.kind == "address"}
    wanted = set(range(len(chip.address_lines)))
    missing = wanted - addresses
    if addresses and missing and addresses < wanted and min(missing) > max(addresses):
        names = {name for pin in chip.pinout.pins for name in pin.signals}
        if not names & set(_STROBES) and any(line.writes for line in lines):
            return f"the {chip.id}: " + PAGED.format(words=chip.words, lines=len(addresses))
    if (reason := not_judged(chip)) is not None:
        return reason
    if missing:
        return f"the {chip.id} has no pin for A{min(missing)}: its addresses come in parts, one after the other"
    if {line.number for line in lines if line.kind == "data"} != set(range(chip.bits)):
        return f"the {chip.id} has not one pin for each of its {chip.bits} data lines"
    return None
