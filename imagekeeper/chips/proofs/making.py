"""How a chip is made against how it is erased and written."""

from __future__ import annotations

import re
from collections.abc import Iterator

from imagekeeper.chips.proofs.subject import RowSubject
from imagekeeper.findings import Finding
from imagekeeper.tables.chips import AVAILABILITY, LIGHT, TECHNOLOGIES, carrier_of

#: Technologies that nobody writes with a programmer.
NEVER_PROGRAMMED = ("mask-rom", "mcu-rom", "ram", "clock-ram")

#: Those that a board itself can write, through a line for it.
WRITTEN_IN_PLACE = ("eeprom", "shadow-ram", "flash", "ram", "clock-ram")

#: Lines that write, as pinouts name them.
_WRITE = frozenset({"/WE", "/WR", "R/W", "WRITE"})

#: What only what is programmed has.
_PROGRAMMING = ("vpp_v", "vpp_max_v", "vcc_programming_v", "methods", "programming", "pulse", "blank", "ask_maker")


def kind(it: RowSubject) -> Iterator[Finding]:
    """Its technology is a known one, and its kind of carrier that of the technology."""
    if it.row.technology not in TECHNOLOGIES:
        yield Finding.of(
            "row-contradicts/technology", "fault", 1, detail={"field": "technology"}, technology=it.row.technology
        )
    elif it.row.carrier != carrier_of(it.row.technology):
        yield Finding.of(
            "row-contradicts/carrier", "fault", 1, detail={"field": "carrier"}, carrier=it.row.carrier,
            expected=carrier_of(it.row.technology),
        )  # fmt: skip
    if it.row.availability not in (*AVAILABILITY, None):
        yield Finding.of(
            "row-contradicts/availability", "fault", 1, detail={"field": "availability"}, value=it.row.availability
        )


def erasing(it: RowSubject) -> Iterator[Finding]:
    """Light erases what has a dose of it, and nothing else; what is erased electrically says how."""
    light = it.row.technology in LIGHT
    if light != bool(it.row.erase_dose_ws_cm2):
        yield Finding.of(
            "row-contradicts/no-dose" if light else "row-contradicts/dose", "fault", 1,
            detail={"field": "erase_dose_ws_cm2"}, technology=TECHNOLOGIES.get(it.row.technology, it.row.technology),
        )  # fmt: skip
    if any(not 1 <= dose <= 60 for dose in it.row.erase_dose_ws_cm2):
        yield Finding.of(
            "row-contradicts/dose-size", "fault", 1, detail={"field": "erase_dose_ws_cm2"},
            doses=it.row.erase_dose_ws_cm2,
        )  # fmt: skip
    if (it.row.technology == "electric-eprom") != (it.row.erasing is not None):
        yield Finding.of("row-contradicts/erasing", "fault", 1, detail={"field": "erasing"})


def blank(it: RowSubject) -> Iterator[Finding]:
    """What is programmed has a blank byte, 00 or FF, or says that it is not known; what is not has nothing of that."""
    if it.row.technology in NEVER_PROGRAMMED:
        for field in _PROGRAMMING:
            if getattr(it.row, field):
                yield Finding.of(
                    "row-contradicts/never-programmed", "fault", 1, detail={"field": field},
                    technology=TECHNOLOGIES[it.row.technology],
                )  # fmt: skip
    elif it.row.technology == "shadow-ram" or (it.row.carrier == "prom" and "not known" in it.remarks):
        if it.row.blank is not None:
            yield Finding.of("row-contradicts/blank", "fault", 1, detail={"field": "blank"}, value=it.row.blank)
    elif it.row.blank not in ("00", "FF"):
        yield Finding.of("row-contradicts/blank", "fault", 1, detail={"field": "blank"}, value=it.row.blank or "none")


def writing(it: RowSubject) -> Iterator[Finding]:
    """What a board writes has a line for it, or a pin for the pulse that writes it; what it does not has none."""
    lines = _WRITE & it.names
    if it.row.technology in WRITTEN_IN_PLACE and not lines and "Vpp" not in it.names:
        yield Finding.of("row-contradicts/no-write-line", "fault", 1, detail={"field": "pinout"})
    if it.row.technology in ("mask-rom", "prom") and lines:
        yield Finding.of("row-contradicts/write-line", "fault", 1, detail={"field": "pinout"}, names=sorted(lines))


def kept(it: RowSubject) -> Iterator[Finding]:
    """Where the battery is, is said of RAM alone; which outputs it has, of fuse PROMs."""
    if (it.row.carrier in ("ram", "clock-ram")) != (it.row.cell in ("inside", "outside")):
        yield Finding.of("row-contradicts/cell", "fault", 1, detail={"field": "cell"})
    if (it.row.carrier == "prom") != (it.row.outputs in ("open-collector", "three-state")):
        yield Finding.of("row-contradicts/outputs", "fault", 1, detail={"field": "outputs"})


def access(it: RowSubject) -> Iterator[Finding]:
    """Access times are fastest first, each once, and of this world."""
    times = it.row.access_ns
    if list(times) != sorted(set(times)) or any(not 10 <= time <= 2500 for time in times):
        yield Finding.of("row-contradicts/access", "fault", 1, detail={"field": "access_ns"}, times=times)


def signatures(it: RowSubject) -> Iterator[Finding]:
    """A signature is two bytes, each pair once, and asked for through A9."""
    codes = [one.code for one in it.signatures]
    for code in sorted(set(codes)):
        if not re.fullmatch(r"[0-9A-F]{2} [0-9A-F]{2}", code) or codes.count(code) > 1:
            yield Finding.of("row-contradicts/signature", "fault", 1, detail={"field": "signatures"}, code=code)
    if codes and "A9" not in it.names:
        yield Finding.of("row-contradicts/signature-pin", "fault", 1, detail={"field": "signatures"})


PROOFS = (kind, erasing, blank, writing, kept, access, signatures)
