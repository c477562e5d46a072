"""How much of the image is content: where the fill begins, and whether the read or the chip is too large or small."""

from __future__ import annotations

from collections.abc import Iterator

from imagekeeper.errors import Where
from imagekeeper.findings import Finding
from imagekeeper.inspection.content import Content
from imagekeeper.inspection.naming import PinNames
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import address_digits, range_text


def size_of_chip(content: Content, bench: PinNames) -> Iterator[Finding]:
    """Compare the size with the chip's."""
    chip = bench.chip
    if chip is None or content.size == chip.file_bytes:
        return
    yield bench.finding(
        "chip-size-differs", "warning", 0.9, chip=chip.id,
        detail={"size_bytes": content.size, "chip_bytes": chip.file_bytes},
    )  # fmt: skip


def tail(content: Content, bench: PinNames) -> Iterator[Finding]:
    """One value fills the end: the program is smaller than the chip, or the rest was not read.

    Common practice, no source.
    """
    if not content.runs or not content.gapless:
        return
    last = content.runs[-1]
    if last.at + last.length != content.size or last.at == 0:
        return
    begin, digits = content.address_of(last.at), address_digits(content.start + content.size)
    span = range_text(begin, last.length, digits)
    half = content.size % last.at == 0 and content.size // last.at in (2, 4, 8)
    if half:
        line = last.at.bit_length() - 1
        yield bench.finding(
            "truncated", "note", 0.4, lines=[f"A{line}"], where=Where(address=begin, length=last.length),
            digits=digits, line=f"A{line}", span=span,
            detail={"at": begin, "length": last.length, "fill": f"{last.value:02X}"},
        )  # fmt: skip
        return
    fits = 1 << max(last.at - 1, 0).bit_length()
    yield bench.finding(
        "ends-in-fill", "note", 0.9, where=Where(address=begin, length=last.length), digits=digits, span=span,
        smaller=Phrase("ends-in-fill/smaller-chip", size=fits) if fits < content.size else "",
        detail={"at": begin, "length": last.length, "fill": f"{last.value:02X}"},
    )  # fmt: skip
