"""Chips are found by what stands on them, and are what published sheets say they are."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper import chips
from imagekeeper.chips import markings
from imagekeeper.errors import NotFoundError
from imagekeeper.tables.chips import chip_rows

IDS = list(chip_rows())


@pytest.mark.parametrize(
    ("marking", "expected"),
    [
        # makers' prefixes, package letters and speeds: common practice, no source
        ("27C128", "27C128"), ("27c128", "27C128"), ("M27C128-15", "27C128"), ("m27c128a-15xf1", "27C128"),
        ("27 C 128", "27C128"), ("NM27C256Q150", "27C256"), ("AT27C256R-70PC", "27C256"), ("uPD27C256AD-15", "27C256"),
        ("\u00b5PD27C512", "27C512"), ("\u03bcPD27C512", "27C512"), ("M5L2764K", "2764"), ("HN462732G", "2732"),
        ("Intel D2764A", "2764A"), ("D2764-3", "2764"), ("TMS2732AJL-45", "2732A"), ("2732A-25", "2732A"),
        ("2516", "2716"), ("TMS2516", "2716"), ("M2716", "2716"), ("2716 (25V)", "2716"), ("2716 5 V", "2716"),
        ("TMS2716", "2716-three-supply"), ("tms 2716-45", "2716-three-supply"), ("2816A", "28C16"), ("2816", "2816"),
        ("27C4002", "27C4096"), ("SST39SF040-70", "39SF040"), ("N82S126N", "82S126"), ("MCM68766", "68766"),
        ("HM6116LP-3", "6116"), ("MK48T02B", "48T02"), ("  1702a ", "1702A"), ("2364-28", "2364-28"),
    ],
)  # fmt: skip
def test_a_marking_is_understood(marking: str, expected: str) -> None:
    assert chips.find(marking).id == expected


@pytest.mark.parametrize("part", IDS)
def test_every_number_finds_its_own_chip(part: str) -> None:
    for name in (part, *chips.find(part).aliases):
        assert chips.find(name).id == part
        assert chips.find(f" {name.lower()} (5 V)").id == part
        assert chips.find(f"{name}-20").id == part


@pytest.mark.parametrize(
    "marking",
    # 2732C: the letter may change the voltage; 27CX321: not an ordinary EPROM; 27C640: longer numbers are other chips
    ["", " ", "(", "2732C", "2764B", "27CX321", "27C640", "7400",
     "\uff12\uff17\uff11\uff16", "27C128" + "X" * 20, "\x00", "9" * 9999],
)  # fmt: skip
def test_what_is_not_in_the_table_is_said_to_be_unknown(marking: str) -> None:
    with pytest.raises(NotFoundError) as caught:
        chips.find(marking)
    assert caught.value.code == "chip-unknown"
    assert "chip list" in caught.value.hint
    assert len(caught.value.why) < 200


@pytest.mark.parametrize(
    ("marking", "near"), [("27C265", "27C256"), ("2732C", "2732A"), ("M2746", "2764"), ("29F004", "29F040")]
)
def test_near_matches_are_suggested(marking: str, near: str) -> None:
    with pytest.raises(NotFoundError) as caught:
        chips.find(marking)
    assert near in caught.value.hint


@pytest.mark.parametrize(
    ("marking", "meant"), [("MX27C1000", ("27C010", "27C301")), ("27C64/27C128", ("27C64", "27C128"))]
)
def test_a_marking_of_several_chips_is_refused(marking: str, meant: tuple[str, ...]) -> None:
    with pytest.raises(NotFoundError) as caught:
        chips.find(marking)
    assert caught.value.code == "chip-unknown"
    assert all(part in caught.value.why for part in meant)


@given(st.text(max_size=80) | st.from_regex(r"[A-Z]{0,4}2[3789]?[CFS]?[0-9]{2,5}[A-Z]?(-[0-9]+)? ?(\(?[0-9.]+ ?V\)?)?"))
def test_any_text_gives_a_chip_or_our_error(text: str) -> None:
    try:
        found = chips.find(text)
    except NotFoundError as problem:
        assert problem.code == "chip-unknown"
    else:
        assert found.id in IDS


def test_a_stated_voltage_is_compared_with_the_table() -> None:
    """25 V exceeds the 22 V that the SGS-Thomson data sheet M2732A of July 1994, table 2, gives as the most."""
    assert chips.find("2732A (25 V)").cautions[0].startswith("The table does not know 25 V for the 2732A")
    assert chips.find("2732A (21V)").cautions == chips.find("2732A").cautions
    assert chips.find("27C256 12,5V").cautions == chips.find("27C256").cautions
    assert markings.parse("2716 (+25 V, 5V)").volts == (25.0, 5.0)


# The six EPROM pinouts that restorers meet most: the pins that tell them apart, and the rows that they share.
# 2716: SGS-Thomson, M2716, July 1994, page 1. 2732A: Texas Instruments, TMS2732A, February 1988, page 1.
# 2764: STMicroelectronics, M27C64A, March 1998, page 1. 27128, 27256, 27512: Texas Instruments, SMLS128E, SMLS256H and
# SMLS512G, page 1.
@pytest.mark.parametrize(
    ("part", "pins"),
    [
        ("2716", {"D3": 13, "D0": 9, "A0": 8, "A10": 19, "/OE": 20, "/CE": 18, "Vpp": 21, "GND": 12, "A11": None}),
        ("2732A", {"D3": 13, "A10": 19, "A11": 21, "/OE": 20, "Vpp": 20, "/CE": 18, "Vcc": 24, "A12": None}),
        ("2764", {"D3": 15, "D0": 11, "A0": 10, "A10": 21, "A11": 23, "A12": 2, "/PGM": 27, "Vpp": 1, "A13": None}),
        ("27128", {"D3": 15, "A10": 21, "A12": 2, "A13": 26, "/PGM": 27, "Vpp": 1, "GND": 14, "Vcc": 28, "A14": None}),
        ("27256", {"D3": 15, "A13": 26, "A14": 27, "/CE": 20, "/OE": 22, "Vpp": 1, "/PGM": None, "A15": None}),
        ("27512", {"D3": 15, "A14": 27, "A15": 1, "/CE": 20, "/OE": 22, "Vpp": 22, "A16": None}),
        # Atmel, AT28C256, 0006H, and AT29C256, 0046O: A14 and /WE are exchanged between the two
        ("28C256", {"A14": 1, "/WE": 27, "D3": 15}),
        ("29C256", {"/WE": 1, "A14": 27, "D3": 15}),
        # Atmel, AT27C010, 0321J, and Hitachi, HN27C101A and HN27C301A, December 1995
        ("27C010", {"/OE": 24, "A16": 2, "D3": 17, "A10": 23, "/PGM": 31}),
        ("27C301", {"/OE": 2, "A16": 24, "D3": 17}),
        # pin list of the 1702A with voltages, 2006, of a hobbyist
        ("1702A", {"D0": 4, "D3": 7, "D7": 11, "A0": 3, "A7": 17, "Vgg": 16, "Vdd": 24, "GND": None}),
        # from memory
        ("82S129", {"D0": 12, "D3": 9, "A0": 5, "A7": 15}),
        ("27C1024", {"D0": 19, "D15": 3, "A0": 21, "A15": 37, "/OE": 20}),
        ("27C400", {"D0": 13, "D15": 29, "A-1": 29, "A0": 9, "A17": 1}),
    ],
)  # fmt: skip
def test_pins_are_those_of_the_data_sheet(part: str, pins: dict[str, int | None]) -> None:
    chip = chips.find(part)
    assert {signal: chip.pin_of(signal) for signal in pins} == pins
    for signal, pin in pins.items():
        assert pin is None or signal in chip.signals_at(pin)


# Sizes and voltages, from the sheets named: the columns are bytes, pins, Vpp [V].
@pytest.mark.parametrize(
    ("part", "size", "pins", "vpp"),
    [
        ("2716", 2048, 24, (25.0,)),  # SGS-Thomson, M2716, July 1994, page 1
        ("2732A", 4096, 24, (21.0,)),  # Texas Instruments, TMS2732A, February 1988, page 1
        ("27128A", 16384, 28, (12.5,)),  # SGS-Thomson, M27128A, March 1995, page 1
        ("27256", 32768, 28, (12.5,)),  # SGS-Thomson, M27256, March 1995
        ("27C080", 1048576, 32, (12.75,)),  # STMicroelectronics, M27C801, March 2000, page 1
        ("27C1024", 131072, 40, (12.75,)),  # Advanced Micro Devices, Am27C1024, page 5
        ("28C256", 32768, 28, ()),  # Atmel, AT28C256, 0006H
        ("39SF040", 524288, 32, ()),  # SST and Microchip, DS20005022C, page 1
        ("82S129", 128, 16, ()),  # Signetics, Bipolar memories, 1973, contents: 256 x 4
        ("146818", 64, 24, ()),  # Digital Equipment Corporation, workstation technical manual, MC146818BM
    ],
)
def test_sizes_and_voltages(part: str, size: int, pins: int, vpp: tuple[float, ...]) -> None:
    chip = chips.find(part)
    assert (chip.bytes, chip.pins, chip.vpp_v) == (size, pins, vpp)


def test_lines_and_pins_lead_to_each_other() -> None:
    chip = chips.find("27128")
    assert chip.address_lines == tuple(f"A{n}" for n in range(14))
    assert chip.data_lines == ("D0", "D1", "D2", "D3", "D4", "D5", "D6", "D7")
    assert chips.find("82S129").data_lines == ("D0", "D1", "D2", "D3")
    assert chip.pin_of("oe") == chip.pin_of("/OE") == chip.pin_of(" /oe ") == 22
    assert chip.pin_of("") is None
    assert [chip.signals_at(n) for n in (0, 29, -1)] == [(), (), ()]
    assert chips.find("1702A").pins_of("vcc") == (12, 22, 23)


@pytest.mark.parametrize("part", IDS)
def test_every_line_has_its_own_pin(part: str) -> None:
    chip = chips.find(part)
    for lines in (chip.address_lines, chip.data_lines):
        pins = [chip.pin_of(line) for line in lines]
        assert None not in pins
        assert len(set(pins)) == len(lines)
    assert [pin.number for pin in chip.pinout.pins] == list(range(1, chip.pins + 1))


def test_a_four_bit_chip_makes_a_file_of_whole_bytes() -> None:
    """A reader gives one byte a word, the upper half unused: common practice, no source."""
    assert (chips.find("82S129").bytes, chips.find("82S129").file_bytes) == (128, 256)
    assert all(chip.file_bytes == chip.bytes for chip in map(chips.find, IDS) if chip.bits != 4)


@pytest.mark.parametrize("part", IDS)
def test_whoever_could_destroy_it_or_be_hurt_is_warned(part: str) -> None:
    chip = chips.find(part)
    text = " ".join(chip.cautions)
    assert ("Reading takes" in text and "socket setting destroys" in text) == (set(chip.supplies_v) != {"Vcc"})
    assert ("Programming takes Vpp" in text) == bool(chip.vpp_v)
    assert ("harms eyes" in text) == (chip.carrier == "eprom")
    assert ("data sheet" in text) == bool(chip.vpp_v or len(chip.supplies_v) > 1)


def test_the_odd_supplies_are_those_of_the_early_chips() -> None:
    """-9 V for PMOS: pin list of the 1702A, 2006. Three supplies: Intel data book of 1977, as quoted on classiccmp."""
    odd = {part: chips.find(part).supplies_v for part in IDS if len(chips.find(part).supplies_v) > 1}
    three = {"Vcc": 5.0, "Vdd": 12.0, "Vbb": -5.0}
    assert odd == {
        "1702A": {"Vcc": 5.0, "Vdd": -9.0, "Vgg": -9.0}, "2704": three, "2708": three, "2716-three-supply": three,
    }  # fmt: skip


def test_what_a_chip_rests_on_is_told() -> None:
    chip = chips.find("2716")
    given = {basis.source.id: basis.gives for basis in chip.sources}
    assert "vpp_v" in given["st-m2716"]
    assert "pins 1-24" in given["st-m2716"]
    assert "row_spacing_inch" in chip.unsourced
    assert [dispute.field for dispute in chip.disputed] == ["vcc_programming_v", "pin 18"]
    assert chips.find("2708").unsourced[-2:] == ("pins 1-17", "pins 21-24")
    assert chip.derived["bytes"] == "words x bits / 8"


def test_listing_by_kind_and_size() -> None:
    assert [chip.id for chip in chips.listed().chips] == IDS
    assert [chip.id for chip in chips.listed(carrier="eprom", size=65536).chips] == ["27512", "27C512"]
    assert chips.listed(carrier="floppy").chips == ()
