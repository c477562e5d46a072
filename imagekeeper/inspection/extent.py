"""How much of the image is content: where the fill begins, and whether the read or the chip is too large or small."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from imagekeeper.errors import Where
from imagekeeper.findings import Finding
from imagekeeper.inspection.content import Content
from imagekeeper.inspection.naming import PinNames
from imagekeeper.units import address_digits, range_text, size_text


def size_of_chip(content: Content, bench: PinNames) -> Iterator[Finding]:
    """Compare the size with the chip's."""
    chip = bench.chip
    if chip is None or content.size == chip.file_bytes:
        return
    yield bench.finding(
        "chip-size-differs", "warning", 0.9,
        f"the image holds {size_text(content.size)}, and a {chip.id} {size_text(chip.file_bytes)}",
        "look at the marking again, set the right type on the reader, and read again",
        size_bytes=content.size, chip_bytes=chip.file_bytes,
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
    where = range_text(begin, last.length, digits)
    half = content.size % last.at == 0 and content.size // last.at in (2, 4, 8)
    detail: dict[str, Any] = {"at": begin, "length": last.length, "fill": f"{last.value:02X}"}
    if half:
        line = last.at.bit_length() - 1
        yield bench.finding(
            "truncated", "note", 0.4,
            f"the content stops at {begin:0{digits}X}, just where A{line} turns from 0 to 1, and "
            f"{last.value:02X} fills the rest ({where}, {size_text(last.length)})",
            f"the program may be of that size; or the rest was not read: check the device size, and {{A{line}}} where "
            "the chip selects its upper part by it",
            lines=[f"A{line}"], where=Where(address=begin, length=last.length), **detail,
        )  # fmt: skip
        return
    fits = 1 << max(last.at - 1, 0).bit_length()
    smaller = f"; a chip of {size_text(fits)} would hold it" if fits < content.size else ""
    yield bench.finding(
        "ends-in-fill", "note", 0.9,
        f"from {begin:0{digits}X} on all bytes are {last.value:02X} ({where}, {size_text(last.length)}): the content "
        f"is smaller than the image{smaller}",
        "nothing to do where the program ends there; where it should be larger, read again with the right size",
        where=Where(address=begin, length=last.length), **detail,
    )  # fmt: skip
