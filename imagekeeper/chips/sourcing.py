"""What a chip's figures rest on, of those that decide whether a voltage is right and whether it drops in."""

from __future__ import annotations

from imagekeeper.chips.model import Chip

#: The members that a programming voltage, or a place in a socket, rests on, in words; the pins come beside them.
DECISIVE: dict[str, str] = {
    "technology": "technology",
    "words": "words",
    "bits": "width",
    "pins": "number of pins",
    "supplies_v": "supplies",
    "vpp_v": "Vpp",
    "vcc_programming_v": "Vcc when programming",
    "methods": "ways to program",
}


def on_memory(chip: Chip) -> tuple[str, ...]:
    """Name the decisive members of a chip that are from memory, wholly or in part, then its pins.

    A way to program that is from memory in part counts as one.

    Returns:
        Members in words, then pins as `pin 18` or `pins 1-18`; none where a document was seen for all.

    Example:
        >>> from imagekeeper.chips import find
        >>> on_memory(find("2716")), on_memory(find("2732"))[:3]
        ((), ('technology', 'words', 'width'))
    """
    guessed = {name for name in DECISIVE if name in chip.unsourced}
    if any(way.unsourced for way in chip.methods):
        guessed.add("methods")
    pins = tuple(name for name in chip.unsourced if name.startswith(("pin ", "pins ")))
    return (*(words for name, words in DECISIVE.items() if name in guessed), *pins)
