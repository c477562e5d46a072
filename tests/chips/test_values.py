"""What the tables say of chips is what the documents say; each is named beside its figures."""

from __future__ import annotations

import re
from typing import Any

import pytest

from imagekeeper import chips
from imagekeeper.chips.cells import change
from imagekeeper.errors import NotFoundError
from imagekeeper.planning.chip import erasing_text
from imagekeeper.substitution import fit
from imagekeeper.tables.chips import chip_rows, methods, pin_numbers, pinout_rows, signatures
from imagekeeper.tables.makers import maker_rows

# --- figures of makers: Vpp, its limit, limit of A9, Vcc meanwhile, its limit [V], methods ---


@pytest.mark.parametrize(
    ("chip", "maker", "figures", "named"),
    [
        # SGS-Thomson, M2716, July 1994 and November 2000, tables 2, 7 and 8
        ("2716", "SGS-Thomson", ((25.0,), 26.5, None, (5.0,), 6.0), ("fixed-50ms",)),
        # Intel, 2716, 210310-003, September 1989, pages 5-3 to 5-7
        ("2716", "Intel", ((25.0,), 26.5, None, (5.0,), None), ("fixed-50ms",)),
        ("2716", "NTE", ((), 28.0, None, (), None), ()),  # NTE Electronics, NTE2716, page 1
        # Texas Instruments, TMS2532, revised May 1982, pages 146-149, and TMS2564, revised May 1982, pages 153-156
        ("2532", "Texas Instruments", ((25.0,), 28.0, None, (5.0,), 6.0), ("fixed-50ms",)),
        ("2564", "Texas Instruments", ((25.0,), 28.0, None, (5.0,), 6.0), ("fixed-50ms",)),
        # General Instrument, 27256, DS11000B, 1987, pages 8-11: both methods are compared at 5 V at the end
        ("27256", "General Instrument", ((12.5, 12.75), 14.0, 13.5, (6.0, 6.25), 6.25),
         ("adaptive-1ms-times-3", "quick-100us-at-5v")),
        ("27C512", "Texas Instruments", ((13.0,), None, None, (), None), ()),  # TMS27C512, SMLS512G, page 1
        # Microchip, AT27C512R, section 4.2: one blind pulse, then checks
        ("27C512", "Atmel", ((), None, None, (), None), ("quick-100us-two-passes",)),
        # Atmel, AT27C040, 0189J, page 6; Hitachi, HN27C4001G, ADE-203-362B; National, NM27C040, February 1999, page 2;
        # Texas Instruments, TMS27C040, SMLS040F, page 1
        ("27C040", "Atmel", ((13.0,), None, None, (6.5,), None), ("quick-100us-two-passes",)),
        ("27C040", "Hitachi", ((12.5,), None, None, (), None), ()),
        ("27C040", "National Semiconductor", ((12.75,), None, None, (6.25,), None), ()),
        ("27C040", "Texas Instruments", ((13.0,), None, None, (), None), ()),
        # STMicroelectronics, M27C801, March 2000 and later, pages 1 and 10
        ("27C080", "SGS-Thomson", ((12.75,), None, None, (6.25,), None), ("quick-50us-margin",)),
        # Advanced Micro Devices, Am27C1024, page 5; Atmel, AT27C1024, page 6
        ("27C1024", "AMD", ((12.75,), None, None, (6.25,), None), ("quick-100us",)),
        ("27C1024", "Atmel", ((13.0,), None, None, (6.5,), None), ()),
        # STMicroelectronics, M27C4002, pages 9-11; Atmel, AT27BV4096, page 9; Hitachi, HN27C4096AG, page 1
        ("27C4096", "SGS-Thomson", ((12.75,), None, None, (6.25,), None), ("quick-100us-margin",)),
        ("27C4096", "Atmel", ((13.0,), None, None, (6.5,), None), ("quick-50us-two-passes",)),
        ("27C4096", "Hitachi", ((12.5,), None, None, (), None), ()),
        # STMicroelectronics, M27C400, May 1999, pages 1-2; Atmel, AT27C400, 0844C, May 2000, pages 3 and 7-9
        ("27C400", "SGS-Thomson", ((12.5,), None, None, (), None), ("quick-100us-words",)),
        ("27C400", "Atmel", ((13.0,), 14.0, 14.0, (6.5,), 7.0), ("quick-50us-two-passes",)),
        ("27C800", "Atmel", ((13.0,), None, None, (6.5,), None), ("quick-50us-two-passes",)),  # Atmel, 27C800, page 8
        # Catalyst, 25005-0A, February 1998, and MD-1084 K, 2009
        ("28F010", "Catalyst", ((), 14.0, 13.5, (), None), ()),
        ("28F512", "Catalyst", ((), 14.0, 13.5, (), None), ()),
    ],
)  # fmt: skip
def test_a_makers_chip(chip: str, maker: str, figures: tuple[Any, ...], named: tuple[str, ...]) -> None:
    one = next(row for row in maker_rows()[chip] if row.maker == maker)
    found = (one.vpp_v.figures, one.vpp_max_v, one.a9_max_v, one.vcc_programming_v.figures, one.vcc_max_v)
    assert (found, one.methods) == (figures, named)


def test_a_method_of_a_row_and_its_document() -> None:
    """STMicroelectronics, M27C801, page 10; Atmel, AT27C400, pages 7-9, and 27C800, page 8: two kinds of 50 us."""
    for part, named, source in (
        ("27C080", ("quick-50us-margin",), "st-m27c801"), ("27C800", ("quick-50us-two-passes",), "atmel-27c800"),
        ("27C400", ("quick-100us-words", "quick-50us-two-passes"), "atmel-at27c400"),
        ("27C512", ("quick-100us-margin", "quick-100us-two-passes"), "microchip-at27c512r"),
    ):  # fmt: skip
        assert chip_rows()[part].methods == named
        assert source in {one.id for one in chip_rows()[part].sources if "methods" in one.gives}


def test_what_one_maker_takes_is_never_told_as_the_only_figure() -> None:
    """The figures of the makers above, and 12.75 V of the 27C020: Am27C020, 11507 H; 13 V: TMS27C020, SMLS020C."""
    for part in ("27C512", "27C010", "27C020", "27C040", "27C1024", "27C4096", "27C400"):
        theirs = {volts for one in maker_rows()[part] for volts in one.vpp_v.figures}
        assert len(theirs) > 1
        assert theirs <= set(chips.find(part).vpp_v)
        assert chips.find(part).vpp_kind == "any"


# --- one value of a row, and the document that gives it ---


@pytest.mark.parametrize(
    ("part", "field", "value", "source"),
    [
        # Intel, 2716, pages 5-1 and 5-4: 350, 390 and 450 ns, 5 V
        ("2716", "access_ns", (350, 390, 450), "intel-2716"), ("2716", "supplies_v", {"Vcc": 5.0}, "intel-2716"),
        # Hitachi, HN482764G, page 272: 200, 250 and 300 ns, 5 V within 5 %
        ("2764", "access_ns", (200, 250, 300), "hitachi-hn482764"),
        ("2764", "supply_tolerance_percent", 5.0, "hitachi-hn482764"),
        # Intel, 27128, 210224-004, pages 1 to 5: 250, 300 and 450 ns, 5 V within 5 %, blank FF
        ("27128", "access_ns", (250, 300, 450), "intel-27128"), ("27128", "blank", "FF", "intel-27128"),
        ("27128", "words", 16384, "intel-27128"),
        # Hitachi, HN27512, pages 4-24 to 4-27: 250 and 300 ns, 5 V within 10 %, 15 W s/cm2, the pulse on /CE
        ("27512", "access_ns", (250, 300), "hitachi-hn27512"),
        ("27512", "supply_tolerance_percent", 10.0, "hitachi-hn27512"),
        ("27512", "erase_dose_ws_cm2", (15.0,), "hitachi-hn27512"),
        ("27C080", "vcc_programming_v", (6.25,), "st-m27c801"),  # STMicroelectronics, M27C801, page 10
        ("27C080", "access_ns", (45,), "st-m27c801"),
        ("27C400", "vpp_max_v", (14.0,), "atmel-at27c400"),  # Atmel, AT27C400, page 3
        # Intel, 28F010, 290207-012, December 1997: 12 V, 5 V within 10 %
        ("28F010", "vpp_v", (12.0,), "intel-28f010"), ("28F010", "supply_tolerance_percent", 10.0, "intel-28f010"),
        ("28F020", "vpp_v", (12.0,), "intel-28f020"),  # Intel, 28F020
        ("28F512", "vpp_v", (12.0,), "amd-am28f512"),  # Advanced Micro Devices, Am28F512, 11561 G, January 1998
        # Atmel, AT29C010A, 0394B, page 4-129, and AT29C020, 0291H, page 4-153: 5 V within 10 %
        ("29C010", "supply_tolerance_percent", 10.0, "atmel-at29c010a"),
        ("29C020", "supply_tolerance_percent", 10.0, "atmel-at29c020"),
        # Philips and Signetics, 82S126 and 82S129, 853-0148, pages 273-275
        ("82S129", "outputs", "three-state", "signetics-82s126"),
        ("82S126", "outputs", "open-collector", "signetics-82s126"),
        ("82S129", "supply_tolerance_percent", 5.0, "signetics-82s126"),
        ("82S129", "blank", "00", "signetics-82s126"),
        # General Instrument, RO-3-9316, pages 2-4 to 2-6; Fujitsu, MB831000, pages 2-3 and 2-5
        ("2316", "access_ns", (350, 450, 850), "gi-9316"), ("2316", "supply_tolerance_percent", 5.0, "gi-9316"),
        ("23C1000", "access_ns", (150, 200), "fujitsu-831000"),
        # NEC, uPD23128, page 131; Toshiba, TMM23256P, pages 529-531: the address is taken in as /CE falls
        ("23128", "latches_address", "some", "nec-23128"), ("23256", "latches_address", "some", "toshiba-23256"),
        # Hitachi, HM62256B, ADE-203-135D; STMicroelectronics, M48Z02, 2420; Motorola, MC146818, page 3-997: 3 to 6 V
        ("62256", "supply_tolerance_percent", 10.0, "hitachi-hm62256b"),
        ("48Z02", "supplies_v", {"Vcc": 5.0}, "st-48z02"),
        ("146818", "supplies_v", {"Vcc": 5.0}, "mot-146818"),
    ],
)  # fmt: skip
def test_a_value_and_its_document(part: str, field: str, value: object, source: str) -> None:
    assert getattr(chips.find(part), field) == value
    assert source in {one.id for one in chip_rows()[part].sources if field in one.gives}


# --- the words that keep somebody from harm ---


@pytest.mark.parametrize(
    ("part", "field", "words"),
    [
        # Advanced Micro Devices, Am29F010B, 22336 C, table 2: eight of 16 KB; AMIC, A29010, page 1: four of 32 KB
        ("29F010", "programming", ("eight sectors of 16 KB (AMD)", "four of 32 KB (AMIC)")),
        # AMIC, A29002 and A290021, page 6, tables 2 and 3: two maps, one the other upside down
        ("29F020", "programming", ("16, 8, 8, 32 KB and three of 64 KB (bottom)", "64, then 32, 8, 8 and 16 KB (top)")),
        # STMicroelectronics, M28C16, November 1997: pages of 64 bytes; Atmel, AT28C16, 0540B: none, 1 ms a byte, and
        # 12 V on /OE, pin 20, with a pulse on /WE erases the whole chip
        ("28C16", "programming", ("64 bytes", "Atmel's has no pages")),
        ("28C16", "note", ("Never bring 12 V to pin 20", "A 2816A has no pages")),   # of the 2816A: from memory
        ("28C64", "programming", ("of 64 bytes", "a 58C65 by one of 32")),  # AT28C64B, 0270L; Hitachi, ADE-203-374A
        # Atmel, AT29C040A, 0333I: 256 bytes; of the plain 29C040: from memory
        ("29C040A", "programming", ("256-byte page, 10 ms",)), ("29C040", "programming", ("512-byte page",)),
        # Advanced Micro Devices, Am28F512A, 18880 C; Macronix, MX28F1000P, PM0340: other commands
        ("28F512", "programming", ("28F512A writes and erases by itself",)),
        ("28F010", "programming", ("MX28F1000P", "other commands")),
        # STMicroelectronics, M48Z02, 2420, page 10; Motorola, MC146818, page 3-1005
        ("48Z02", "note", ("the first write after power comes is lost",)),
        ("146818", "note", ("Reading register D", "read D once, first")),
        ("2816", "programming", ("FF first, which erases it",)),  # from memory
        # early parts of 21 V: from memory
        ("27C64", "ask_maker", ("NEC, Fujitsu and Hitachi", "21 V")), ("27C256", "ask_maker", ("21 V",)),
    ],
)  # fmt: skip
def test_what_must_be_said(part: str, field: str, words: tuple[str, ...]) -> None:
    said = getattr(chips.find(part), field)
    assert [one for one in words if one not in said] == []


@pytest.mark.parametrize(
    ("part", "field", "words", "source"),
    [
        # STMicroelectronics, M27C160: 12.5 V for the next larger chip; of the 27C800 of that maker: from memory
        ("27C800", "vpp_v", "12.5 V for another maker's part (from memory)", "st-m27c160"),
        # SGS-Thomson, M27256, page 1; of 21 V: from memory
        ("27256", "vpp_v", "take 21 V (from memory)", "st-m27256"),
        # Texas Instruments, series 24 and 28, September 1979, revised August 1984: supplied with every bit high
        ("82S123", "blank", "TBP24 and TBP28", "ti-series-24-28"),
    ],
)  # fmt: skip
def test_what_speaks_against_a_value(part: str, field: str, words: str, source: str) -> None:
    assert any(one.field == field and words in one.says and source in one.sources for one in chips.find(part).disputed)


def test_the_ends_of_the_quick_methods_differ() -> None:
    """Am27C010, 10205 G: checked at 5.25 V. General Instrument, 27256, pages 8-11: compared at 5 V.

    STMicroelectronics, M27C801, pages 10-11: 6 V and 4.2 V; Atmel, AT27C400, page 9: 5 V, after one blind pulse.
    """
    ends = {name: methods()[name].says.rpartition("; ")[2] for name in methods() if name.startswith("quick")}
    assert ends["quick-100us"].endswith("5.25 V.")
    assert ends["quick-100us-at-5v"].endswith("Vcc 5 V.")
    assert ends["quick-50us-margin"].endswith("6.0 V and again at 4.2 V.")
    assert ends["quick-50us-two-passes"].endswith("at 5 V.")
    assert "unchecked" in methods()["quick-50us-two-passes"].says


# --- pins, copied from the documents once more ---

_BYTE_24 = "1-8 A7..A0, 9-11 D0..D2, 12 GND, 13-17 D3..D7"
_BYTE_28 = "2 A12, 3-10 A7..A0, 11-13 D0..D2, 14 GND, 15-19 D3..D7, 21 A10, 23 A11, 24 A9, 25 A8, 28 Vcc"
_FLASH = ("2 A16, 3 A15, 4 A12, 5-12 A7..A0, 13-15 D0..D2, 16 GND, 17-21 D3..D7, 22 /CE, 23 A10, 24 /OE, 25 A11, "
          "26 A9, 27 A8, 28 A13, 29 A14, 31 /WE, 32 Vcc")  # fmt: skip


def pins_said(text: str) -> dict[int, str]:
    """Read a list of pins: `1-3 A7..A5, 4 GND`."""
    found: dict[int, str] = {}
    for one in text.split(", "):
        where, signal = one.split(" ", 1)
        numbers = pin_numbers(where)
        if run := re.fullmatch(r"([AD])(\d+)\.\.\1(\d+)", signal):
            first, last = int(run[2]), int(run[3])
            step = 1 if last > first else -1
            lines = range(first, last + step, step)
            assert len(lines) == len(numbers), one
            found |= {pin: f"{run[1]}{line}" for pin, line in zip(numbers, lines, strict=True)}
        else:
            found |= dict.fromkeys(numbers, signal)
    return found


@pytest.mark.parametrize(
    ("pinout", "source", "text"),
    [
        # Texas Instruments, DL-S 7512258, May 1975, page 1: S188 and S288, S287 and S387
        ("dip16-82s123", "ti-7512258", "1-7 D0..D6, 8 GND, 9 D7, 10-14 A0..A4, 15 /CE, 16 Vcc"),
        # Philips and Signetics, 853-0148, page 273; Signetics, 82S27, July 1975, page 31
        ("dip16-82s129", "signetics-82s126",
         "1-4 A6..A3, 5-7 A0..A2, 8 GND, 9-12 D3..D0, 13 /CE1, 14 /CE2, 15 A7, 16 Vcc"),
        # classiccmp, post on the MMI 6306-1
        ("dip16-82s131", "post-6306", "1-4 A6..A3, 5-7 A0..A2, 8 GND, 9-12 D3..D0, 13 /CE, 14 A8, 15 A7, 16 Vcc"),
        # Texas Instruments, TTL data book, page 251: TBP28SA42
        ("dip20-82s147", "ti-ttl-proms", "1-5 A0..A4, 6-9 D0..D3, 10 GND, 11-14 D4..D7, 15 /CE, 16-19 A5..A8, 20 Vcc"),
        # Cypress, CY7C291A, 38-04011 revision B, page 1
        ("dip24-82s191", "cypress-cy7c291a", f"{_BYTE_24}, 18 CE3, 19 CE2, 20 /CE1, 21 A10, 22 A9, 23 A8, 24 Vcc"),
        # General Instrument, RO-3-9316, pages 2-4 to 2-6
        ("dip24-2316", "gi-9316", f"{_BYTE_24}, 18 CS2, 19 A10, 20 CS1, 21 CS3, 22 A9, 23 A8, 24 Vcc"),
        # Matra MHS, HM6116, page 9-4; Cypress, CY6116A, page 1; STMicroelectronics, M48Z02, 2420, page 6
        ("dip24-6116", "mhs-hm6116", f"{_BYTE_24}, 18 /CE, 19 A10, 20 /OE, 21 /WE, 22 A9, 23 A8, 24 Vcc"),
        ("dip24-6116", "cypress-cy6116a", f"{_BYTE_24}, 18 /CE, 19 A10, 20 /OE, 21 /WE, 22 A9, 23 A8, 24 Vcc"),
        ("dip24-6116", "st-48z02", f"{_BYTE_24}, 18 /CE, 19 A10, 20 /OE, 21 /WE, 22 A9, 23 A8, 24 Vcc"),
        # Motorola, MC146818, page 3-996
        ("dip24-146818", "mot-146818",
         "1 NC, 2 OSC1, 3 OSC2, 4 D0 A0, 5 D1 A1, 6 D2 A2, 7 D3 A3, 8 D4 A4, 9 D5 A5, 10 D6, 11 D7, 12 GND, 13 /CE, "
         "14 AS, 15 R/W, 16 NC, 17 DS, 18 /RESET, 19 /IRQ, 20 CKFS, 21 CKOUT, 22 PS, 23 SQW, 24 Vcc"),
        # NEC, uPD23128, page 129: 20 /CE, 22 output disable, 27 the select of the mask
        ("dip28-23128", "nec-23128", f"{_BYTE_28}, 1 NC CS3, 20 /CE CS1, 22 /OE CS2, 26 A13, 27 NC CS4"),
        # Toshiba, TMM23256P, page 529
        ("dip28-23256", "toshiba-23256", f"{_BYTE_28}, 1 NC CS3, 20 /CE CS1, 22 /OE CS2, 26 A13, 27 A14"),
        # Fujitsu, MB831000, pages 2-3 and 2-5
        ("dip28-23c1000", "fujitsu-831000", f"{_BYTE_28}, 1 A15, 20 /CE CS1, 22 A16, 26 A13, 27 A14"),
        # STMicroelectronics, M48Z08, 2424 revision 8, page 6
        ("dip28-48z08", "st-48z08", f"{_BYTE_28}, 1 NC, 20 /CE, 22 /OE, 26 NC, 27 /WE"),
        # Hitachi, HM62256B, ADE-203-135D, page 3; Intel, 51256SL, 240572-006, page 2
        ("dip28-62256", "hitachi-hm62256b", f"{_BYTE_28}, 1 A14, 20 /CE, 22 /OE, 26 A13, 27 /WE"),
        ("dip28-62256", "intel-51256sl", f"{_BYTE_28}, 1 A14, 20 /CE, 22 /OE, 26 A13, 27 /WE"),
        # Hitachi, HM6264, page 125, and HM6264B, ADE-203-454B
        ("dip28-6264", "hitachi-hm6264", f"{_BYTE_28}, 1 NC, 20 /CE1, 22 /OE, 26 CE2 NC, 27 /WE"),
        # Silicon Storage Technology, DS20005022C; AMD, Am29F010B, 22336 C; Atmel, AT29C010A and AT29C040A, 0333I
        ("dip32-29f010", "sst-39sf", f"1 NC, {_FLASH}, 30 NC"),
        ("dip32-29f010", "amd-am29f010b", f"1 NC, {_FLASH}, 30 NC"),
        ("dip32-29f010", "atmel-at29c010a", f"1 NC, {_FLASH}, 30 NC"),
        ("dip32-39sf020", "sst-39sf", f"1 NC, {_FLASH}, 30 A17"),
        ("dip32-29f040", "sst-39sf", f"1 A18, {_FLASH}, 30 A17"),
        ("dip32-29f040", "atmel-at29c040a", f"1 A18, {_FLASH}, 30 A17"),
        # Atmel, AT27C400, 0844C, page 1
        ("dip40-27c400", "atmel-at27c400",
         "1 A17, 2-9 A7..A0, 10 /CE, 11 GND, 12 /OE, 13 D0, 14 D8, 15 D1, 16 D9, 17 D2, 18 D10, 19 D3, "
         "20 D11, 21 Vcc, 22 D4, 23 D12, 24 D5, 25 D13, 26 D6, 27 D14, 28 D7, 29 D15 A-1, 30 GND, "
         "31 /BYTE Vpp, 32-40 A16..A8"),
        # Hitachi, HN27C4096AG, page 1
        ("dip40-27c4096", "hitachi-hn27c4096a",
         "1 Vpp, 2 /CE, 3-10 D15..D8, 11 GND, 12-19 D7..D0, 20 /OE, 21-29 A0..A8, 30 GND, 31-39 A9..A17, 40 Vcc"),
        # STMicroelectronics, M27C160, February 1999: the next larger chip of the layout
        ("dip42-27c800", "st-m27c160", "2 A17, 3-10 A7..A0, 11 /CE, 12 GND, 13 /OE, 14 D0, 15 D8, 16 D1, 17 D9, 18 D2, "
         "19 D10, 20 D3, 21 D11, 22 Vcc, 23 D4, 24 D12, 25 D5, 26 D13, 27 D6, 28 D14, 29 D7, 30 D15 A-1, 31 GND, "
         "32 /BYTE Vpp, 33-41 A16..A8"),
    ],
)  # fmt: skip
def test_pins_are_those_of_the_document(pinout: str, source: str, text: str) -> None:
    said = pins_said(text)
    row = pinout_rows()[pinout]
    given = {pin for one in row.sources if one.id == source for where in one.gives for pin in pin_numbers(where)}
    assert given == set(said)
    assert {pin: " ".join(row.signals[pin - 1]) for pin in said} == said


def test_a_clock_ram_tells_of_a_failing_supply_on_pin_1() -> None:
    """From memory, and marked so: no sheet with the pins of the 48T08 was seen."""
    chip = chips.find("48T08")
    assert (chip.signals_at(1), chip.signals_at(26)) == (("/INT",), ("CE2",))
    assert not any(pin.sources for pin in chip.pinout.pins)
    told = fit("6264", "48T08")
    assert told.verdict == "drops-in"
    assert any("/INT output pulls low while the supply fails" in text for text in told.cautions)


# --- chips whose numbers are alike ---


@pytest.mark.parametrize(("socket", "chip"), [("2816", "28C16"), ("28C16", "2816"), ("2816A", "2816")])
def test_the_two_generations_never_simply_take_each_others_place(socket: str, chip: str) -> None:
    """From memory: 21 V on pin 21 of the first. STMicroelectronics, M28C16, November 1997: /WE there, 5 V only."""
    found = fit(socket, chip)
    assert found.verdict not in ("drops-in", "image-placed")
    assert any("pin 21" in text for text in found.dangers)


def test_the_page_of_a_29c040_is_not_that_of_a_29c040a() -> None:
    """Atmel, AT29C040A, 0333I, operating modes, note 4: 1F A4. No signature of the plain 29C040 was seen."""
    assert chips.find("29C040A").id == "29C040A"
    assert chips.find("AT29C040A-90PC").id == "29C040A"
    assert "29C040" not in signatures()
    assert any("no electronic signature" in text for text in chips.find("29C040").cautions)


def test_an_early_27128_is_never_asked_for_a_signature() -> None:
    """Intel, 27128, 210224-004, page 10: those made before 1982 have none. Hitachi, HN4827128G: inputs 7 V at most."""
    assert any("no electronic signature" in text for text in chips.find("27128").cautions)
    assert "89 83" in next(one.note or "" for one in chips.find("27128").makers if one.maker == "Intel")


ELECTRIC = [
    name for row in chip_rows().values() if row.technology == "electric-eprom" for name in (row.id, *row.aliases)
]


@pytest.mark.parametrize("number", ELECTRIC)
@pytest.mark.parametrize("marking", ["{}", "{}-45", "{}P-70", " {} ", "({})", "{} (12 V)", "Winbond {}", "SST {}"])
def test_no_marking_of_a_chip_that_is_erased_electrically_brings_it_under_a_lamp(number: str, marking: str) -> None:
    """Winbond, W27C512, revision A4, page 1: erased with 14 V; SST, S71152-08-000, page 1: with 12 V."""
    for text in (number, number.replace("W27", "W-27"), number.lower(), number.replace("27", "27 ", 1)):
        try:
            chip = chips.find(marking.format(text))
        except NotFoundError:
            continue
        assert (chip.technology, erasing_text(chip, 12, 2.5)) == ("electric-eprom", None)


# --- what a new fuse PROM gives ---

#: How the numbers of a family begin, and what its parts are before they are written; None where no sheet was seen.
FAMILIES = {
    r"82S": "00",  # Signetics, 82S27, July 1975; Philips and Signetics, 853-0148, page 273
    r"2[48]SA?|28L": "FF",  # Texas Instruments, series 24 and 28, September 1979, revised August 1984
    r"74S|18SA?": "00",  # from memory; of the 74S288, a post on a list for vector games of January 2010 supports it
    r"87S|27S": "00",  # from memory
    r"(HM)?76\d": "FF",  # from memory
    r"63\d\d-1|63S|MB7": None,
    r"HM-?66|HS-?66": "00",  # Harris and Intersil, HM-6617 and HS-6617RH
}


@pytest.mark.parametrize("row", [row for row in chip_rows().values() if row.carrier == "prom"], ids=lambda row: row.id)
def test_a_new_prom_is_blank_as_its_family_is(row: Any) -> None:
    """No number is an alias of one of another level, whatever the size and the pins."""
    for name in (row.id, *row.aliases):
        levels = [level for family, level in FAMILIES.items() if re.match(f"(?:{family})", name)]
        assert levels == [row.blank], name
    chip = chips.find(row.id)
    assert chip.blank is None or change(chip) == {"00": "sets", "FF": "clears"}[chip.blank]


def test_families_of_one_size_begin_at_different_levels() -> None:
    """Signetics, 82S27: 00; Texas Instruments, series 24 and 28: FF. Both have 256 words of 4 bits in 16 pins."""
    one, other = chips.find("82S129"), chips.find("24S10")
    assert (one.words, one.bits, one.pins) == (other.words, other.bits, other.pins) == (256, 4, 16)
    assert (one.blank, other.blank) == ("00", "FF")


@pytest.mark.parametrize("part", ["23128", "23256"])
def test_a_reader_must_let_ce_fall_for_every_byte(part: str) -> None:
    """NEC, uPD23128, page 131, and Toshiba, TMM23256P, pages 529 and 531: the address is taken in as /CE falls."""
    assert any("as /CE falls" in text and "one byte over and over" in text for text in chips.find(part).cautions)
