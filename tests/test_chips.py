"""Chips are found by what stands on them, and are what published sheets say they are."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper import chips
from imagekeeper.chips import markings
from imagekeeper.errors import NotFoundError
from imagekeeper.tables.chips import chip_rows
from tests.refusals import refuses

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
        ("W27C512-45", "W27C512"), ("Winbond W27C512", "W27C512"), ("Winbond 27C512", "W27C512"),
        ("27C512 winbond", "W27C512"), ("W-27C512-45", "W27C512"),
        ("W27E512", "W27C512"), ("W27C020-70", "W27C020"), ("W27E010", "W27C010"),
        ("SST27SF512-70", "27SF512"), ("MX26C512APC-10", "26C512A"), ("27C512", "27C512"), ("MX27C512", "27C512"),
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
    assert "list of all chips" in caught.value.hint
    assert len(caught.value.why) < 200


@pytest.mark.parametrize(
    ("marking", "near"), [("27C265", "27C256"), ("2732C", "2732A"), ("M2746", "2764"), ("29F004", "29F040")]
)
def test_near_matches_are_suggested(marking: str, near: str) -> None:
    with refuses(NotFoundError, "chip-unknown", "there is no such chip in the table") as caught:
        chips.find(marking)
    assert near in caught.value.hint


@pytest.mark.parametrize("marking", ["27513", "D27513-250", "27C513", "27011", "P27C011-200V10"])
def test_a_paged_chip_is_never_taken_for_one_of_like_number(marking: str) -> None:
    """From memory: 16 KB at a time behind 14 address lines, the page by a write on pin 27."""
    with refuses(NotFoundError, "chip-unknown", "there is no such chip in the table") as caught:
        chips.find(marking)
    assert "pages of 16 KB" in caught.value.why
    assert "(from memory)" in caught.value.why
    assert "near" not in caught.value.hint
    assert not any(name in caught.value.hint for name in ("27512", "27C512", "27C010"))


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
        ("2732A", 4096, 24, ()),  # Texas Instruments, TMS2732A, February 1988, page 1; voltages by maker
        ("W27C512", 65536, 28, (12.0,)),  # Winbond, W27C512, revision A4, November 1999, page 1
        ("27SF020", 262144, 32, (12.0,)),  # SST, S71152-08-000, April 2004, page 1
        ("27128A", 16384, 28, (12.5,)),  # SGS-Thomson, M27128A, March 1995, page 1
        ("27256", 32768, 28, (12.5,)),  # SGS-Thomson, M27256, March 1995
        ("27C080", 1048576, 32, (12.75,)),  # STMicroelectronics, M27C801, March 2000, page 1
        ("27C1024", 131072, 40, (12.75, 13.0)),  # Advanced Micro Devices, Am27C1024, page 5; Atmel, AT27C1024, page 6
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
        if chip.technology == "serial-eeprom" or part == "68705P3":   # their words are reached by no pins
            assert set(pins) == {None}
            continue
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
    odd = set(chip.supplies_v.values()) != {5.0}
    assert ("Reading takes" in text and "socket setting destroys" in text) == odd
    assert ("Programming takes Vpp" in text) == bool(chip.vpp_v)
    assert ("harms eyes" in text) == (chip.carrier == "eprom")
    assert ("data sheet" in text) == bool(chip.vpp_v or odd or chip.ask_maker or chip.ask_marking)
    assert ("nothing above 5 V goes to the chip" in text) == (chip.ask_marking is not None)
    assert ("It holds two images" in text) == (chip.technology == "shadow-ram")
    assert ("No programming voltage is given without the maker" in text) == (chip.ask_maker is not None)
    assert ("light does not erase it" in text) == (chip.technology == "electric-eprom")


def test_chips_of_like_number_warn_of_each_others_voltage() -> None:
    """SGS-Thomson, M2732A, July 1994, table 2: 21 V, 22 V at most. 25 V for the 2732: a post on classiccmp only."""
    for part in ("2732", "2732A"):
        told = next(text for text in chips.find(part).cautions if text.startswith("A 2732A takes Vpp 21 V and"))
        assert "never more than 22 V: the 25 V of a 2732 (by a mailing list only" in told
        assert ") destroys it. Only the last letter" in told
    assert any("2732B" in text and "limit is not known" in text for text in chips.find("2732B").cautions)
    assert any("the 25 V of a 2532 is more" in text for text in chips.find("2532A").cautions)   # from memory
    assert any("the 21 V of a 2764 destroys it" in text for text in chips.find("2764A").cautions)
    assert not any("last letter" in text for part in ("2716", "2564", "27C64") for text in chips.find(part).cautions)


@pytest.mark.parametrize(
    ("part", "says"),
    [
        ("2816", "Vpp 21 V (from memory)."), ("TMS2716", "Vpp 26 V (from memory)."), ("2716", "Vpp 25 V and never"),
        ("2732", "Vpp 25 V (by a mailing list only, no data sheet seen)."),
    ],
)  # fmt: skip
def test_a_voltage_without_a_data_sheet_says_so_itself(part: str, says: str) -> None:
    """Of the 2716: SGS-Thomson, M2716, July 1994, tables 2 and 7."""
    assert any(text.startswith(f"Programming takes {says}") for text in chips.find(part).cautions)


@pytest.mark.parametrize(("part", "size", "least", "most"), [("2716", 2048, 100, 105), ("2532", 4096, 200, 210),
                                                             ("2732", 4096, 200, 210)])  # fmt: skip
def test_the_time_to_program_is_that_of_the_chip(part: str, size: int, least: int, most: int) -> None:
    """Pulses of 50 ms: SGS-Thomson, M2716, table 8, and Texas Instruments, TMS2532, page 149."""
    says = next(one.says for one in chips.find(part).methods if one.id == "fixed-50ms")
    found = re.search(r"The pulses of all ([0-9]+) bytes take ([0-9]+) s\.", says)
    assert found is not None
    assert int(found[1]) == size
    assert least <= int(found[2]) <= most
    assert "8192" not in says


def test_one_pulse_a_byte_takes_just_under_what_a_maker_says_for_the_whole_chip() -> None:
    """NTE Electronics, NTE2764, data sheet, page 1: 420 s for 8192 bytes, the time between the pulses included."""
    told = [one.says for known in chips.find("2764").makers for one in known.methods if one.id == "fixed-50ms"]
    found = [int(one.rpartition("take ")[2].removesuffix(" s.")) for one in told]
    assert found
    assert all(0.95 * 420 < one <= 420 for one in found)


def test_the_odd_supplies_are_those_of_the_early_chips() -> None:
    """-9 V for PMOS: pin list of the 1702A, 2006. Three supplies: Intel data book of 1977, as quoted on classiccmp."""
    odd = {part: chips.find(part).supplies_v for part in IDS if set(chips.find(part).supplies_v.values()) != {5.0}}
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


@pytest.mark.parametrize("marking", ["W27C040", "W-27C040", "Winbond 27C256", "27C040 Winbond", "W27C4096",
                                     "winbond w27c1024"])  # fmt: skip
def test_the_electric_kind_is_never_taken_for_the_windowed_one(marking: str) -> None:
    """From memory: one maker's W27 chips are all erased electrically; a lamp and other voltages would be wrong."""
    with pytest.raises(NotFoundError, match="erased electrically") as caught:
        chips.find(marking)
    assert caught.value.code == "chip-unknown"
    assert "never erase it under a lamp" in caught.value.hint


def test_windowed_chips_name_their_electric_twins_and_those_name_no_lamp() -> None:
    """Winbond, W27C512, revision A4, November 1999, page 1: erased with 14 V, programmed with 12 V.

    A9 at most 13.5 V: STMicroelectronics, M27C256B, page 3, and Microchip, 27C512A, page 2.
    """
    twin, windowed = chips.find("W27C512"), chips.find("27C512")
    assert (twin.vpp_v, twin.erase_dose_ws_cm2, twin.erased_by_light) == ((12.0,), (), False)
    assert "14 V" in (twin.erasing or "")
    assert not any("ultraviolet" in text or "lamp" in text for text in twin.cautions)
    assert any("13.5 V" in text for text in twin.cautions)
    assert any("W27C512" in text and "erased electrically" in text for text in windowed.cautions)


@pytest.mark.parametrize("part", ["2732A", "2764", "27128", "27C64", "27C128", "27C256"])
def test_no_maker_no_voltage(part: str) -> None:
    chip = chips.find(part)
    assert chip.voltage_unknown
    assert (chip.vpp_v, chip.vpp_max_v, chip.vcc_programming_v, chip.methods) == ((), (), (), ())
    assert chip.cautions[0].startswith("No programming voltage is given without the maker")
    assert chip.makers
    cited = {basis.source.id for basis in chip.sources}
    for one in chip.makers:
        assert one.sources
        assert set(one.sources) <= cited
        assert chips.find(part, one.maker).vpp_v == one.vpp_v


def test_a_makers_own_figures() -> None:
    """Texas Instruments, TMS2732A, pages 6-14 and 6-17: pulses of 9 to 11 ms; SGS-Thomson, M2732A, table 8: 45 to 55.

    Hitachi, HN482764G, pages 274-275: Vcc 6 V; NTE Electronics, NTE2764, page 1: 6 V is its absolute maximum.
    Advanced Micro Devices, 08005 A, page 6-22, and Am27C020, 11507 H: Vpp 13.5 V at most.
    """
    assert [one.pulse_us for one in chips.find("2732A", "TI").methods] == [(9000, 11000)]
    assert [one.pulse_us for one in chips.find("2732A", "st").methods] == [(45000, 55000)]
    assert 6.0 not in {volts for one in chips.find("2732A").makers for volts in one.vcc_programming_v}
    assert chips.find("2764", "Hitachi").vcc_programming_v == (5.0, 6.0)
    assert chips.find("2764", "NTE").vcc_programming_v == ()
    assert chips.find("27256").vpp_max_v[0] == chips.find("27256", "AMD").vpp_max_v[0] == 13.5
    assert chips.find("27256", "STMicroelectronics").vpp_max_v == (14.0,)
    assert chips.find("27C020").vpp_max_v == (13.5,)
    assert chips.find("27256", "AMD").maker == "AMD"
    assert "vpp_max_v" in {name: basis.gives for basis in chips.find("27256", "AMD").sources
                           for name in [basis.source.id]}["amd-nmos"]  # fmt: skip


@pytest.mark.parametrize(
    ("part", "maker", "says"),
    [("27C64", "NEC", "known are: SGS-Thomson"), ("2732A", "", "known are"), ("28C64", "Atmel", "does not tell"),
     ("27C512", "Winbond", "erased electrically"), ("2732A", "\x1b[2J" * 99, "known are")],
)  # fmt: skip
def test_a_maker_that_the_table_does_not_know(part: str, maker: str, says: str) -> None:
    with pytest.raises(NotFoundError) as caught:
        chips.find(part, maker)
    assert caught.value.code == "maker-unknown"
    assert says in caught.value.why
    assert "\x1b" not in str(caught.value)


@pytest.mark.parametrize(
    ("part", "pin", "signals", "pulse"),
    [
        # Texas Instruments, TMS2532, revised May 1982, pages 145-146, and TMS2564, revised May 1982, pages 152-154
        ("2532", 20, ("/CE", "/PGM"), "low, on pin 20, which rests high"),
        ("2564", 22, ("/CE", "/PGM"), "low, on pin 22, which rests high"),
        # SGS-Thomson, M2716, July 1994, pages 2-3; Intel, 2716, 210310-003, pages 5-3 and 5-8: the other way round
        ("2716", 18, ("/CE", "PGM"), "high, on pin 18, which rests low"),
        # SGS-Thomson, M2732A, July 1994, pages 2-3; Hitachi, HN482764G, pages 272-274; SGS-Thomson, M27256, pages 2-3
        ("2732A", 18, ("/CE",), "low, on pin 18, which rests high"),
        ("2764", 27, ("/PGM",), "low, on pin 27, which rests high"),
        ("27256", 20, ("/CE",), "low, on pin 20, which rests high"),
    ],
)  # fmt: skip
def test_the_level_of_the_program_pulse(part: str, pin: int, signals: tuple[str, ...], pulse: str) -> None:
    chip = chips.find(part)
    assert chip.signals_at(pin) == signals
    assert (chip.pulse or "").startswith(pulse)


def test_a_2816_of_the_first_generation_has_no_write_line() -> None:
    """From memory: Vpp, 21 V, on pin 21. STMicroelectronics, M28C16, November 1997: /WE there, 5 V only."""
    assert (chips.find("2816").signals_at(21), chips.find("2816A").signals_at(21)) == (("Vpp",), ("/WE",))
    assert "21 V" in (chips.find("2816").note or "")
    assert "21 V" in (chips.find("28C16").note or "")
