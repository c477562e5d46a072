"""Whether a chip answered at all: blank, not selected, or a bus that floats."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from imagekeeper.chips import Chip
from imagekeeper.findings import Finding
from imagekeeper.inspection.content import SAMPLE_BYTES, Content
from imagekeeper.inspection.naming import PinNames
from imagekeeper.sentences.say import Phrase

#: An image follows the address when so much of it does.
FOLLOWS = 0.95


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
    if chip is not None and chip.blank is not None and (value ^ int(chip.blank, 16)) & mask == 0:
        return bench.finding(
            "blank/as-chip", "warning", 0.9, size=content.size, chip=chip.id, latched=_latched(chip, value),
            detail={"value": f"{value:02X}"},
        )  # fmt: skip
    if chip is None and value == 0xFF:
        return bench.finding("blank", "warning", 0.7, size=content.size, detail={"value": "FF"})
    blank: Phrase | str = ""
    if chip is not None and chip.blank is not None:
        blank = Phrase("not-selected/blank", chip=chip.id, value=chip.blank)
    perhaps: Phrase | str = ""
    if chip is None and value == 0:
        perhaps = Phrase("not-selected/some-proms")
    elif chip is not None and chip.blank is None:
        perhaps = Phrase("not-selected/selects", chip=chip.id)
    odd = [k for k in range(8) if value == 0xFF ^ 1 << k]
    return bench.finding(
        "not-selected", "fault", 0.9, size=content.size, blank=blank, perhaps=perhaps, latched=_latched(chip, value),
        stuck=Phrase("not-selected/stuck", pin=bench[f"D{odd[0]}"]) if odd else "", detail={"value": f"{value:02X}"},
    )  # fmt: skip


def _latched(chip: Chip | None, value: int) -> Phrase | str:
    """A cause of its own, where the chip takes in the address as /CE falls and keeps it: the chip tables tell which."""
    if chip is None or chip.latches_address is None:
        return ""
    if chip.latches_address == "always":
        return Phrase("not-selected/latched-always", chip=chip.id, value=f"{value:02X}")
    return Phrase("not-selected/latched-some", chip=chip.id, value=f"{value:02X}")


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
        (addresses & 0xFF, Phrase("floating-bus/low")),
        (~addresses & 0xFF, Phrase("floating-bus/low-complement")),
        (addresses >> 8 & 0xFF, Phrase("floating-bus/high")),
        (~(addresses >> 8) & 0xFF, Phrase("floating-bus/high-complement")),
    )
    for foretold, what in shapes:
        follows = int(np.count_nonzero(data == foretold))
        if follows < size * FOLLOWS or len(np.unique(foretold)) < 8:
            continue
        whole = content.size > 256
        yield bench.finding(
            "floating-bus" if whole else "floating-bus/or-table", "fault" if whole else "warning",
            0.95 if whole else 0.6, what=what, detail={"follows": follows, "of_bytes": size},
        )  # fmt: skip
        return
