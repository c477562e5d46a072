"""Pins against sizes and supplies: lines that are there once, and as many as the words and bits need."""

from __future__ import annotations

import re
from collections.abc import Iterator

from imagekeeper.chips.proofs.subject import RowSubject
from imagekeeper.findings import Finding

#: Packages with two rows of pins: how many pins, and how far apart the rows are. [inch] Common practice, no source.
PACKAGES = frozenset({
    (8, 0.3), (14, 0.3), (16, 0.3), (18, 0.3), (20, 0.3), (22, 0.3), (22, 0.4), (24, 0.3), (24, 0.4), (24, 0.6),
    (28, 0.3), (28, 0.4), (28, 0.6), (32, 0.3), (32, 0.4), (32, 0.6), (36, 0.6), (40, 0.6), (42, 0.6), (48, 0.6),
    (64, 0.9),
})  # fmt: skip

#: What chooses a chip, or lets it answer.
_SELECT = re.compile(r"/?(?:CE|CS|OE|RAS)\d*")


def address_lines(it: RowSubject) -> Iterator[Finding]:
    """Address pins reach the words: 2 to their number, or twice that power where /RAS and /CAS take them in twice."""
    lines = _numbers(it, "A")
    yield from _gaps(it, "A", lines)
    if not lines or it.row.words < 1:
        return
    count, needed = len(lines), (it.row.words - 1).bit_length()
    if {"/RAS", "/CAS"} <= it.names:
        good = count < needed <= 2 * count and it.row.words == 1 << needed
    else:
        good = it.row.words == 1 << count
    if not good:
        yield Finding.of(
            "row-contradicts/address-lines", "fault", 1, detail={"field": "words"}, lines=count, reach=1 << count,
            words=it.row.words,
        )  # fmt: skip


def data_lines(it: RowSubject) -> Iterator[Finding]:
    """There are as many data pins as a word has bits, or none, where it is said to be read in another way."""
    lines = _numbers(it, "D")
    yield from _gaps(it, "D", lines)
    if len(lines) != it.row.bits and (lines or it.row.reading is None):
        yield Finding.of(
            "row-contradicts/data-lines", "fault", 1, detail={"field": "bits"}, lines=len(lines), bits=it.row.bits
        )


def repeated_lines(it: RowSubject) -> Iterator[Finding]:
    """No address or data line has two pins."""
    for name in sorted(it.names):
        pins = it.pins_of(name)
        if re.fullmatch(r"[AD]\d+", name) and len(pins) > 1:
            yield Finding.of(
                "row-contradicts/line-repeated", "fault", 1, detail={"field": "pinout"}, line=name, pins=pins
            )


def size(it: RowSubject) -> Iterator[Finding]:
    """Its bytes are its words times its bits, by eight."""
    if it.row.bytes * 8 != it.row.words * it.row.bits:
        yield Finding.of(
            "row-contradicts/size", "fault", 1, detail={"field": "bytes"}, words=it.row.words, bits=it.row.bits,
            bytes=it.row.bytes,
        )  # fmt: skip


def supplies(it: RowSubject) -> Iterator[Finding]:
    """Every supply has its pin, and every supply pin its voltage or a sentence; there is ground, but in PMOS."""
    for name in it.row.supplies_v:
        if name not in it.names:
            yield Finding.of(
                "row-contradicts/supply-without-pin", "fault", 1, detail={"field": "supplies_v"}, name=name
            )
    for name in sorted(it.names):
        supply = re.fullmatch(r"V[a-z]{2}", name) and name not in ("Vpp", "Vss")
        if supply and name not in it.row.supplies_v and not re.search(rf"\b{name}\b", it.remarks):
            yield Finding.of(
                "row-contradicts/pin-without-supply", "fault", 1, detail={"field": "supplies_v"}, name=name
            )
    if not {"GND", "Vss"} & it.names and it.row.technology != "pmos-eprom":
        yield Finding.of("row-contradicts/no-ground", "fault", 1, detail={"field": "pinout"})


def package(it: RowSubject) -> Iterator[Finding]:
    """There is a package of so many pins, in rows so far apart, and its pinout has them all."""
    if it.row.pins != it.pinout.pins or it.pinout.pins != len(it.pinout.signals):
        yield Finding.of(
            "row-contradicts/pins", "fault", 1, detail={"field": "pins"}, pins=it.row.pins,
            given=len(it.pinout.signals),
        )  # fmt: skip
    elif (it.row.pins, it.row.row_spacing_inch) not in PACKAGES:
        yield Finding.of(
            "row-contradicts/package", "fault", 1, detail={"field": "row_spacing_inch"}, pins=it.row.pins,
            inch=it.row.row_spacing_inch,
        )  # fmt: skip


def selects(it: RowSubject) -> Iterator[Finding]:
    """Something lets the chip answer, and the level at which it does is said, or that it was chosen with the mask."""
    found = [name for name in it.names if _SELECT.fullmatch(name)]
    if not found and it.row.reading is None:
        yield Finding.of("row-contradicts/no-select", "fault", 1, detail={"field": "pinout"})
    open_ones = sorted(
        name for name in found
        if re.fullmatch(r"CS\d*", name) and not re.search(rf"\b{name} (?:is )?(?:high|low)\b", it.remarks)
    )  # fmt: skip
    chosen = it.row.technology == "mask-rom" and "chosen with the mask" in it.remarks
    if open_ones and not chosen:
        yield Finding.of("row-contradicts/select-level", "fault", 1, detail={"field": "pinout"}, names=open_ones)


def organisations(it: RowSubject) -> Iterator[Finding]:
    """However its words are cut, they hold the same bits, and the bits of address reach them."""
    for one in it.row.organisations:
        if one.words * one.bits != it.row.words * it.row.bits or one.words > 1 << one.address_bits:
            yield Finding.of(
                "row-contradicts/organisation", "fault", 1, detail={"field": "organisations"}, words=one.words,
                bits=one.bits, address_bits=one.address_bits,
            )  # fmt: skip


def latches(it: RowSubject) -> Iterator[Finding]:
    """What takes the address in as a select falls has one, and says whether all makers' parts do."""
    value = it.row.latches_address
    if value is None:
        return
    if value not in ("always", "some"):
        yield Finding.of("row-contradicts/latches", "fault", 1, detail={"field": "latches_address"}, value=value)
    if not any(re.fullmatch(r"/?(?:CE|CS)\d*", name) for name in it.names):
        yield Finding.of("row-contradicts/latches-by", "fault", 1, detail={"field": "latches_address"})


def _numbers(it: RowSubject, letter: str) -> list[int]:
    return sorted(int(name[1:]) for name in it.names if re.fullmatch(rf"{letter}\d+", name))


def _gaps(it: RowSubject, letter: str, lines: list[int]) -> Iterator[Finding]:
    missing = [f"{letter}{n}" for n in range(max(lines, default=0)) if n not in lines]
    if missing:
        yield Finding.of("row-contradicts/line-missing", "fault", 1, detail={"field": "pinout"}, lines=missing[:4],
                         last=f"{letter}{lines[-1]}")  # fmt: skip


PROOFS = (address_lines, data_lines, repeated_lines, size, supplies, package, selects, organisations, latches)
