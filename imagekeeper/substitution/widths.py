"""Chips in sockets of another width: a chip of 16 bits that is read by bytes, and two of 8 bits side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from imagekeeper.chips import Chip, Pin
from imagekeeper.substitution.lines import NOTHING, PinRole


def has_bytes(chip: Chip) -> bool:
    """Whether a chip of 16 bits can be read by bytes.

    Example:
        >>> from imagekeeper.chips import find
        >>> has_bytes(find("27C400")), has_bytes(find("27C4096"))
        (True, False)
    """
    return chip.bits == 16 and any("A-1" in pin.signals for pin in chip.pinout.pins) and bool(chip.pins_of("/BYTE"))


def by_bytes(chip: Chip) -> Chip:
    """Give a chip of 16 bits as it is with its width pin low: twice the words, of eight bits.

    The lowest address line stands on the pin of D15, and each other one counts one higher; behind that name stands
    that of the data sheet. D8 to D14 are off.

    Source:
        STMicroelectronics, M27C400, data sheet: the operating modes; which byte comes first is from memory.

    Example:
        >>> from imagekeeper.chips import find
        >>> chip = by_bytes(find("27C400"))
        >>> chip.words, chip.bits, chip.signals_at(29), chip.signals_at(9)
        (524288, 8, ('A0', 'A-1'), ('A1', 'A0'))
    """
    pins = tuple(replace(pin, signals=_as_byte(pin)) for pin in chip.pinout.pins)
    return replace(chip, words=2 * chip.words, bits=8, pinout=replace(chip.pinout, pins=pins))


def _as_byte(pin: Pin) -> tuple[str, ...]:
    name = pin.signals[0]
    if "A-1" in pin.signals:
        return ("A0", "A-1")
    if name[0] == "A" and name[1:].isdecimal():
        return (f"A{int(name[1:]) + 1}", name)
    if name[0] == "D" and name[1:].isdecimal() and int(name[1:]) >= 8:
        return ("NC",)
    return pin.signals


def halved(given: Sequence[PinRole], upper: bool) -> tuple[PinRole, ...]:
    """Give what a socket of 16 bits gives to one of two chips of 8 bits: D0 to D7, or D8 to D15."""
    first = 8 if upper else 0
    return tuple(
        line if line.kind != "data"
        else replace(line, number=line.number - first) if first <= line.number < first + 8
        else NOTHING
        for line in given
    )
