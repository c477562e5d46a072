"""Chips that are read otherwise than by levels on pins, half-good ones, and families of one size: as sheets say."""

from __future__ import annotations

import pytest

from imagekeeper import chips
from imagekeeper.chips.cells import change, write
from imagekeeper.errors import NotFoundError
from imagekeeper.substitution import substitutes
from imagekeeper.substitution.lines import not_judged


# Markings in whose like another chip hides: common practice, no source, but where named.
@pytest.mark.parametrize(
    ("marking", "expected"),
    [
        ("D2758", "2758"), ("D2758 S1865", "2758-S1865"), ("2758-S1865", "2758-S1865"), ("TMS2532A", "2532A"),
        ("D8748", "8748"), ("D8748H", "8748H"), ("P8749H", "8749H"), ("D8741A-8", "8741A"), ("P8048AH", "8048"),
        ("D8751H", "8751H"), ("D8751BH", "8751BH"), ("D87C51FA", "87C51"), ("MC68705P3S", "68705P3"),
        ("NM93C46N", "93C46"), ("93LC46B/P", "93C46"), ("NMC9346N", "93C46"), ("93C06", "93C06"), ("X2212P", "X2212"),
        ("SN74S288N", "74S288"), ("DM74S571N", "74S571"), ("TBP28S42N", "28S42"), ("TBP24SA10", "24SA10"),
        ("AM27S19PC", "74S288"), ("HM7603", "7603"), ("MM6301-1J", "6301-1"), ("MMI63S141", "6301-1"),
        ("MB7052", "6301-1"), ("TMM23256P", "TMM23256"), ("uPD23128C", "uPD23128"), ("23256", "23256"),
        ("DS1220AB-150", "DS1220"), ("DS12C887", "DS12887"), ("MC146818AP", "146818A"), ("MC146818P", "146818"),
        ("RTC72421A", "MSM6242"), ("MSM6242BRS", "MSM6242"), ("MM58167AN", "MM58167"), ("M48T35Y", "48T35"),
        ("M27C160-50", "27C160"), ("M27C322", "27C322"), ("HN58C65P-25", "58C65"), ("2817A", "28C17"),
    ],
)  # fmt: skip
def test_a_marking_is_understood(marking: str, expected: str) -> None:
    assert chips.find(marking).id == expected


@pytest.mark.parametrize(
    "marking",
    # processors and memories that share the figures of a PROM, a first generation of other voltages (from memory)
    ["HD6301V1", "HD6303", "IDT7132", "MC6850", "2817", "8748A", "8049B", "68705U3", "6301", "27HC641"],
)
def test_figures_alone_are_no_marking(marking: str) -> None:
    with pytest.raises(NotFoundError):
        chips.find(marking)


# Part: pins by name. The sources are named in front.
@pytest.mark.parametrize(
    ("part", "pins"),
    [
        # STMicroelectronics, M27C160, February 1999, and M27C322, March 2006: what differs between the two
        ("27C160", {"A19": 42, "/OE": 13, "Vpp": 32, "A-1": 30, "A20": None}),
        ("27C322", {"A20": 32, "/OE": 13, "Vpp": 13, "D15": 30, "A-1": None}),
        # Motorola, MC68(7)05P series, ADI-1031, section 13
        ("68705P3", {"GND": 1, "Vcc": 3, "Vpp": 6, "TIMER": 7, "/RESET": 28}),
        # a re-typesetting of Intel's MCS-48 manuals, October 2007, pages 1 and 20
        ("8748H", {"EA": 7, "ALE": 11, "D0": 12, "A8": 21, "A9": 22, "A10": None, "PROG": 25, "Vdd": 26}),
        ("8749H", {"A10": 23}),
        # Microchip, DS21712C, page 1; Fairchild, NM93C46, revision E, page 2; Microchip, DS21132C
        ("93C46", {"CS": 1, "CLK": 2, "DI": 3, "DO": 4, "GND": 5, "ORG": 6, "Vcc": 8}),
        ("93C06", {"ORG": None, "Vcc": 8}), ("93C86", {"ORG": 6, "PE": 7}),
        # Xicor, X22C12, 3817-2.4, and X20C05, 3827, page 1
        ("X2212", {"/STORE": 9, "/RECALL": 10, "/WE": 11, "D0": 12, "A7": 1, "A6": 17, "Vcc": 18}),
        ("X20C05", {"/NE": 1, "A8": 25, "AS": 26, "/WE": 27}),
        # Atmel, 0541B, page 1; Hitachi, ADE-203-374A, page 1
        ("28C17", {"READY": 1, "/CE": 20, "A10": 21, "/WE": 27}), ("58C65", {"READY": 1, "A12": 2, "/WE": 27}),
        # Texas Instruments, TTL data book, pages 251, 253 and 260
        ("28SA46", {"CE4": 18, "CE3": 19, "/CE2": 20, "/CE1": 21, "A8": 23}), ("28SA42", {"/CE": 15, "A8": 19}),
        ("28S2708A", {"/CE": 20, "A9": 22, "Vcc": 24}),
        # NEC, uPD23128, page 129; Toshiba, TMM23256P, page 529
        ("uPD23128", {"CS1": 27, "/OE": 22, "/CE": 20}), ("TMM23256", {"A14": 27, "/OE": 22, "/CE": 20}),
        # a pin list of the HN62304, of a restorer of game boards
        ("HN62304", {"Vcc": 16, "A0": 21, "A18": 23, "A9": 32}),
        # Dallas, DS1287, 050898, and DS12887, page 1; Motorola, MC146818A, ADI-1026, page 1
        ("DS1287", {"MOT": 1, "D0": 4, "AS": 14, "DS": 17, "SQW": 23}), ("DS12887", {"/RCLR": 21, "A6": 10}),
        ("146818A", {"MOT": 1, "/STBY": 16}),
        # Intersil, HM-6551, 2988.1; NTE Electronics, NTE65101
        ("6551", {"/CE": 18, "/WE": 20, "D0": 10, "DI0": 9}), ("5101", {"GND": 8, "OD": 18}),
    ],
)  # fmt: skip
def test_pins_are_those_of_the_data_sheet(part: str, pins: dict[str, int | None]) -> None:
    chip = chips.find(part)
    assert {signal: chip.pin_of(signal) for signal in pins} == pins


# Microchip, DS21132C, and National Semiconductor, NM93C06 to NM93C66: words, bits and bits of address.
@pytest.mark.parametrize(
    ("part", "ways"),
    [
        ("93C06", [(16, 16, 6)]), ("93C46", [(64, 16, 6), (128, 8, 7)]), ("93C56", [(128, 16, 8), (256, 8, 9)]),
        ("93C66", [(256, 16, 8), (512, 8, 9)]), ("93C76", [(512, 16, 10), (1024, 8, 11)]),
        ("93C86", [(1024, 16, 10), (2048, 8, 11)]),
    ],
)  # fmt: skip
def test_how_the_words_of_a_serial_chip_are_cut(part: str, ways: list[tuple[int, int, int]]) -> None:
    found = chips.find(part).organisations
    assert [(one.words, one.bits, one.address_bits) for one in found] == ways


# What an unwritten one reads. TBP24 and TBP28: Texas Instruments, series 24 and series 28, August 1984. 82S: Signetics,
# 82S27, July 1975. HM-6617: Harris. The others, and how little is known of two families: from memory.
@pytest.mark.parametrize(
    ("part", "blank"),
    [("28S42", "FF"), ("24SA10", "FF"), ("82S135", "00"), ("HM-6617", "00"), ("74S288", "00"), ("7603", "FF"),
     ("6331-1", None), ("MB7051", None)],
)  # fmt: skip
def test_what_a_new_prom_reads_hangs_on_its_family(part: str, blank: str | None) -> None:
    chip = chips.find(part)
    assert chip.blank == blank
    assert change(chip) == {"FF": "clears", "00": "sets", None: "unknown"}[blank]


def test_of_a_family_whose_blank_is_not_known_nothing_is_pretended() -> None:
    with pytest.raises(ValueError, match="unwritten 6331-1"):
        write(chips.find("6331-1"), bytes(32), b"\x01")


def test_a_voltage_of_ea_hangs_on_the_exact_marking() -> None:
    """8748H: 17.5 to 18.5 V in a re-typesetting of Intel's MCS-48 manuals, pages 20 to 23. 8748 and 8048: by posts."""
    for part in ("8748", "8749", "8741A", "8048", "8049", "8041"):
        chip = chips.find(part)
        assert chip.cautions[0].startswith("No voltage for EA is given: ")
        assert "EA 1" not in (chip.reading or "")
        assert chip.reading is not None
        assert chip.reading.index("/RESET low") < chip.reading.index("EA to its high voltage")
    assert "EA 17.5 to 18.5 V" in (chips.find("8748H").reading or "")
    assert chips.find("8748H").ask_marking is None


def test_no_candidate_is_ever_proved_with_a_68705() -> None:
    """Motorola, MC68(7)05P series, ADI-1031, sections 9.4 and 9.5: the loader programs before it compares."""
    chip = chips.find("68705P3")
    assert (chip.reading or "").startswith("not at all.")
    assert (chip.reading or "").endswith("Never prove an image with it")
    assert "protected, not readable by its interface" in (chip.protection or "")


@pytest.mark.parametrize(
    ("part", "why"),
    [
        ("93C46", "the 93C46 is read in series"), ("2508", "what pin 19 of the 2508 wants is not known"),
        ("8748", "addresses and data share its pins, or those of the original"), ("2758", None),
        ("X2212", "the X2212 is read with more than addresses and selects: /STORE, /RECALL"), ("6306-1", None),
    ],
)  # fmt: skip
def test_what_cannot_be_judged_pin_by_pin_says_why(part: str, why: str | None) -> None:
    assert not_judged(chips.find(part)) == why
    if why is not None:
        found = substitutes("2716").not_compared
        assert found[chips.find(part).id] == why


def test_the_good_half_of_a_2716_reads_at_its_own_level_of_pin_19() -> None:
    """Low on a plain 2758 and high on one marked S1865: from memory."""
    for part, half in (("2758", 0), ("2758-S1865", 1)):
        plan = substitutes(part, "2716").fits[0].image
        assert plan is not None
        assert (plan.seen_first, plan.seen_last) == (half * 1024, half * 1024 + 1023)


def test_a_fuse_prom_for_the_socket_of_a_2708_meets_its_supplies_with_unused_pins_only() -> None:
    """Texas Instruments, TTL data book, page 260: pins 18, 19 and 21 are not connected."""
    fit = substitutes("2708", "28S2708A").fits[0]
    assert fit.verdict == "straps"   # nobody relies on an unused pin to be unused in every maker's part
    assert {text.partition(":")[0] for text in fit.dangers} <= {"pin 19", "pin 21"}
    assert all(text.endswith("an unused pin") for text in fit.dangers)
