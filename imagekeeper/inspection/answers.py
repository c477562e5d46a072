"""Whether a chip answered at all: blank, not selected, or a bus that floats."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from imagekeeper.findings import Finding
from imagekeeper.inspection.content import SAMPLE_BYTES, Content
from imagekeeper.inspection.naming import PinNames

#: An image follows the address when so much of it does.
FOLLOWS = 0.95

_CHECK = "check that the chip is seated the right way round, powered and selected, and that the right type is set"


def answered(content: Content, bench: PinNames) -> Iterator[Finding]:
    """Say so where no chip seems to have answered; then nothing else about the bytes means anything."""
    if int(np.count_nonzero(content.counts)) == 1:
        yield _uniform(int(content.data[0]), content, bench)
    else:
        yield from _floating(content, bench)


def _uniform(value: int, content: Content, bench: PinNames) -> Finding:
    """One value only.

    FF is what an erased EPROM gives, and also a bus that only pull-up resistors drive; 00 a bus that is held low. Which
    one a blank chip of a type gives is in the chip tables with its source; the rest is common practice, no source.
    """
    chip = bench.chip
    mask = (1 << chip.bits) - 1 if chip and chip.bits < 8 else 0xFF
    why = f"every one of {content.size} bytes is {value:02X}"
    if chip is not None and chip.blank is not None and (value ^ int(chip.blank, 16)) & mask == 0:
        return bench.finding(
            "blank", "warning", 0.9, f"{why}, which is what a blank {chip.id} gives",
            f"the chip is erased, or did not answer: {_CHECK}, and read again; a second read at another supply "
            "voltage shows whether it has faded",
            value=f"{value:02X}",
        )  # fmt: skip
    if chip is None and value == 0xFF:
        return bench.finding(
            "blank", "warning", 0.7, f"{why}: an erased EPROM, or a bus that nothing drives",
            f"{_CHECK}, and read again; with a resistor that pulls a data line down, an erased chip still gives FF "
            "and an absent one does not",
            value="FF",
        )  # fmt: skip
    blank = "" if chip is None or chip.blank is None else f", and a blank {chip.id} would give {chip.blank}"
    hint = f"{_CHECK}, and read again"
    if chip is None and value == 0:
        hint += "; some PROMs give 00 when they are blank: say which with --chip"
    elif chip is not None and chip.blank is None:
        hint += f"; the select inputs of a {chip.id} may be active high or low as its maker was told: try the others"
    odd = [k for k in range(8) if value == 0xFF ^ 1 << k]
    if odd:
        hint += f"; a blank chip would look so if {{D{odd[0]}}} were stuck at 0"
    return bench.finding(
        "not-selected", "fault", 0.9, f"{why}: no program is so{blank}", hint, value=f"{value:02X}"
    )


def _floating(content: Content, bench: PinNames) -> Iterator[Finding]:
    """Bytes that repeat the address: the bus keeps what was last driven on it, and no chip drives it now.

    Source: M. Barr, Programming Embedded Systems in C and C++, section 6.2: a bus without a memory can give back
    by its capacitance what was last driven on it. That the address then shows is common practice, no source.
    """
    if not content.gapless or content.size < 256:
        return
    size = min(content.size, SAMPLE_BYTES)
    addresses = content.start + np.arange(size, dtype=np.int64)
    data = content.data[:size]
    shapes = (
        (addresses & 0xFF, "low byte of its address"),
        (~addresses & 0xFF, "complement of the low byte of its address"),
        (addresses >> 8 & 0xFF, "high byte of its address"),
        (~(addresses >> 8) & 0xFF, "complement of the high byte of its address"),
    )
    for foretold, what in shapes:
        follows = int(np.count_nonzero(data == foretold))
        if follows < size * FOLLOWS or len(np.unique(foretold)) < 8:
            continue
        whole = content.size > 256
        yield bench.finding(
            "floating-bus", "fault" if whole else "warning", 0.95 if whole else 0.6,
            f"{follows} of {size} bytes are the {what}: a bus that no chip drives keeps what was last on it",
            f"{_CHECK}, and read again" + ("" if whole else "; a table for translation may look the same"),
            follows=follows, of_bytes=size,
        )  # fmt: skip
        return
