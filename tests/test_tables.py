"""The tables are consistent in themselves, and every claim says what it rests on."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from collections.abc import Iterator
from importlib import resources
from typing import Any

import pytest

from imagekeeper import tables
from imagekeeper.provenance.kinds import KINDS
from imagekeeper.tables import makers as maker_table
from imagekeeper.tables.chips import (
    AVAILABILITY,
    CARRIERS,
    CHIP_TABLES,
    MICROCONTROLLERS,
    TECHNOLOGIES,
    ambiguous,
    chip_rows,
    methods,
    pin_numbers,
    pinout_rows,
    signatures,
)
from imagekeeper.tables.volts import NO_VOLTS

CHIPS = [row for table in CHIP_TABLES for row in tables.load(table)["chip"]]
PINOUTS = tables.load("pinouts")["pinout"]

#: What says something about a row, or names it, and is no claim itself.
GROUNDS = {"id", "pinout", "sources", "derived", "unsourced", "disputed"}


def ids(rows: list[dict[str, Any]]) -> list[str]:
    return [row["id"] for row in rows]


def cited(node: Any) -> Iterator[str]:
    """Every source that a table refers to, wherever it does."""
    if isinstance(node, list):
        for item in node:
            yield from cited(item)
    if isinstance(node, dict):
        for key, value in node.items():
            if key == "sources":
                yield from (one if isinstance(one, str) else one["id"] for one in value)
            elif key == "source" and isinstance(value, str):
                yield value
            else:
                yield from cited(value)


def test_every_source_is_known_and_used() -> None:
    folder = resources.files(tables)
    files = [one for one in folder.iterdir() if one.name.endswith(".toml")]
    used = {name for file in files for name in cited(tomllib.loads(file.read_text("utf-8")))}
    known = ids(tables.load("sources")["source"])
    assert len(files) >= 4
    assert len(known) == len(set(known))
    assert used == set(known)


def test_a_source_is_a_document_not_a_place_on_the_network() -> None:
    for source in tables.sources().values():
        assert source.author, source.id
        assert source.title, source.id
        assert not re.search(r"://|www\.|\.(com|org|net|de|ru|cn|info|us)\b", str(source)), source.id


@pytest.mark.parametrize("rows", [CHIPS, PINOUTS], ids=["chips", "pinouts"])
def test_ids_are_not_repeated(rows: list[dict[str, Any]]) -> None:
    assert [name for name, count in Counter(ids(rows)).items() if count > 1] == []


def test_no_number_stands_for_two_chips_unless_it_is_said_to() -> None:
    names = [name.upper() for row in chip_rows().values() for name in (row.id, *row.aliases)]
    assert [name for name, count in Counter(names).items() if count > 1] == []
    assert not set(ambiguous()) & set(names)
    assert all(len(chips) > 1 and set(chips) <= set(chip_rows()) for chips in ambiguous().values())


@pytest.mark.parametrize("row", CHIPS, ids=ids(CHIPS))
def test_every_field_of_a_chip_is_sourced_derived_or_from_memory(row: dict[str, Any]) -> None:
    sourced = {field for one in row["sources"] for field in one["gives"]}
    derived, unsourced = set(row["derived"]), set(row["unsourced"])
    assert sourced | derived | unsourced == set(row) - GROUNDS
    assert not sourced & derived
    assert not sourced & unsourced
    assert not derived & unsourced
    assert all(one["field"] in row for one in row.get("disputed", []))


@pytest.mark.parametrize("row", PINOUTS, ids=ids(PINOUTS))
def test_every_pin_is_sourced_or_from_memory(row: dict[str, Any]) -> None:
    sourced = {pin for one in row["sources"] for given in one["gives"] for pin in pin_numbers(given)}
    unsourced = {pin for given in row["unsourced"] for pin in pin_numbers(given)}
    assert sourced | unsourced == set(range(1, row["pins"] + 1))
    assert not sourced & unsourced
    assert len(row["signals"]) == row["pins"]
    assert all(int(one["field"]) <= row["pins"] for one in row.get("disputed", []))


@pytest.mark.parametrize("row", chip_rows().values(), ids=list(chip_rows()))
def test_sizes_follow_from_each_other(row: Any) -> None:
    assert row.bytes * 8 == row.words * row.bits
    # the one chip whose own loader takes a part of its addresses
    assert row.words & (row.words - 1) == 0 or row.id == "68705P3"
    assert row.bits in (4, 8, 16)
    assert row.technology in TECHNOLOGIES
    assert row.carrier in KINDS
    assert row.carrier == CARRIERS.get(row.technology, row.technology)
    for one in row.organisations:
        assert one.words * one.bits == row.words * row.bits
        assert one.words <= 1 << one.address_bits
    assert (row.technology == "serial-eeprom") == bool(row.organisations)
    if row.organisations:
        assert (row.organisations[0].words, row.organisations[0].bits) == (row.words, row.bits)


@pytest.mark.parametrize("row", chip_rows().values(), ids=list(chip_rows()))
def test_the_pinout_has_every_line_of_the_chip_once_and_no_other(row: Any) -> None:
    pinout = pinout_rows()[row.pinout]
    assert pinout.pins == row.pins
    signals = Counter(signal for pin in pinout.signals for signal in pin)
    lines = {f"A{n}" for n in range((row.words - 1).bit_length())} | {f"D{n}" for n in range(row.bits)}
    found = {signal: n for signal, n in signals.items() if re.fullmatch(r"[AD]\d+", signal)}
    if row.technology == "serial-eeprom" or row.id == "68705P3":   # whose words no pins reach
        assert (found, bool(row.reading)) == ({}, True)
    else:
        assert found == dict.fromkeys(lines, 1)
    assert signals["GND"] or row.technology == "pmos-eprom"
    assert set(row.supplies_v) <= set(signals)
    if row.vpp_v:
        assert {"Vpp", "PGM"} & set(signals)


@pytest.mark.parametrize("row", chip_rows().values(), ids=list(chip_rows()))
def test_voltages_and_times_are_sane(row: Any) -> None:
    """Nothing erased has no blank byte; no programming voltage is above its own absolute maximum."""
    assert row.blank in ("FF", "00", None)
    never_erased = row.carrier in ("mask-rom", "ram", "clock-ram") or row.technology == "shadow-ram"
    assert row.blank is None if never_erased else row.blank is not None or _says_that_blank_is_not_known(row)
    assert all(volts <= most for volts in row.vpp_v.figures for most in row.vpp_max_v)
    assert list(row.access_ns) == sorted(row.access_ns)
    assert all(20 <= time <= 1500 for time in row.access_ns)
    assert row.supplies_v["Vcc"] == 5.0
    assert row.supply_tolerance_percent in (5.0, 10.0, None)
    assert row.row_spacing_inch in (0.3, 0.4, 0.6)


def _says_that_blank_is_not_known(row: Any) -> bool:
    return row.carrier == "prom" and "is not known for sure" in row.note


@pytest.mark.parametrize("row", chip_rows().values(), ids=list(chip_rows()))
def test_what_is_not_read_by_levels_alone_says_how_it_is_read(row: Any) -> None:
    """The voltage of EA is never given for a marking that may mean several; a lock is told of."""
    if row.technology in (*MICROCONTROLLERS, "serial-eeprom", "shadow-ram"):
        assert row.reading
    if row.technology in MICROCONTROLLERS:
        assert row.protection
        gives_ea = re.search(r"EA [0-9]", row.reading)
        assert not (gives_ea and row.ask_marking)
        assert not gives_ea or row.id in ("8748H", "8749H")
    assert row.ask_marking is None or {"EA"} <= {one for pin in pinout_rows()[row.pinout].signals for one in pin}


@pytest.mark.parametrize("row", chip_rows().values(), ids=list(chip_rows()))
def test_how_a_chip_is_written_erased_and_had(row: Any) -> None:
    """Only windowed kinds are erased with light; both kinds of outputs are told apart where a family has both."""
    assert bool(row.erase_dose_ws_cm2) == (row.carrier == "eprom")
    assert all(1 <= dose <= 50 for dose in row.erase_dose_ws_cm2)
    assert (row.outputs in ("open-collector", "three-state")) == (row.carrier == "prom")
    assert (row.cell in ("inside", "outside")) == (row.carrier in ("ram", "clock-ram"))
    assert row.availability in (*AVAILABILITY, None)
    assert set(row.methods) <= set(methods())
    assert not row.methods or row.carrier in ("eprom", "prom")
    assert "availability" in row.unsourced or row.availability is None
    assert (row.erasing is not None) == (row.technology == "electric-eprom")


def test_there_are_chips_of_every_kind() -> None:
    """From the 1702A to the 27C080, with fuse PROMs, mask ROMs, EEPROM, flash memory and battery RAM."""
    rows = chip_rows()
    assert len(rows) >= 80
    assert {row.technology for row in rows.values()} == set(TECHNOLOGIES)
    assert {"1702A", "2708", "2716", "2732A", "27512", "27C080", "27C4096", "28C256", "39SF040", "48Z02"} <= set(rows)


METHODS = tables.load("programming")["method"]
MAKERS = [row for rows in maker_table.maker_rows().values() for row in rows]


@pytest.mark.parametrize("row", METHODS, ids=ids(METHODS))
def test_every_field_of_a_method_is_sourced_or_from_memory(row: dict[str, Any]) -> None:
    sourced = {field for one in row["sources"] for field in one["gives"]}
    assert sourced | set(row["unsourced"]) == set(row) - GROUNDS
    assert not sourced & set(row["unsourced"])
    assert all(one["field"] in row for one in row.get("disputed", []))


def test_methods_are_used_and_their_pulses_are_sane() -> None:
    """The longest pulse of any is 50 ms and a tenth.

    All over-pulses together: 3.8 to 63 ms in Hitachi's HN482764G, page 275, and 2.85 to 78.75 ms in SGS-Thomson's
    M27256, pages 3 and 6-7.
    """
    named = {name for row in chip_rows().values() for name in row.methods}
    assert named | {name for row in MAKERS for name in row.methods} == set(methods())
    for one in methods().values():
        assert list(one.pulse_us) == sorted(one.pulse_us)
        assert all(1 <= pulse <= 55_000 for pulse in one.pulse_us)
        if one.overpulse is not None and one.most_pulses is not None:
            assert one.most_pulses * one.overpulse * one.pulse_us[-1] == {4: 63_000, 3: 78_750}[one.overpulse]


# By method: pulse [us], most pulses, over-pulse.
@pytest.mark.parametrize(
    ("method", "pulse_us", "most", "overpulse"),
    [
        ("loops", (100, 1000), None, None),  # Intel data books of 1976 and 1977, as quoted on classiccmp
        # SGS-Thomson, M2716, July 1994, table 8; Texas Instruments, TMS2532, revised May 1982, page 149
        ("fixed-50ms", (45000, 55000), 1, None),
        ("fixed-10ms", (9000, 11000), 1, None),  # Texas Instruments, TMS2732A, February 1988, pages 6-14 and 6-17
        ("adaptive-1ms-times-4", (950, 1050), 15, 4),  # Hitachi, HN482764G, pages 274-275
        ("adaptive-1ms-times-3", (950, 1050), 25, 3),  # SGS-Thomson, M27256, pages 3 and 6-7
        ("adaptive-1ms-then-2ms", (1000, 2000), None, None),  # Advanced Micro Devices, 08005 A, pages 6-26 and 6-28
        ("quick-100us-margin", (100, 100), 25, None),  # STMicroelectronics, M27C512, pages 7-8
        ("quick-100us-two-passes", (95, 105), 11, None),  # Atmel, AT27C010, page 7: one, then up to 10 more
        ("quick-100us-at-5v", (95, 105), 25, None),  # General Instrument, 27256, DS11000B, pages 8-11
        ("quick-50us-margin", (50, 50), 25, None),  # STMicroelectronics, M27C801, page 10
        ("quick-50us-two-passes", (47.5, 52.5), 11, None),  # Atmel, AT27C400, 0844C, pages 7-9; 27C800, page 8
    ],
)  # fmt: skip
def test_pulses(method: str, pulse_us: tuple[float, ...], most: int | None, overpulse: int | None) -> None:
    one = methods()[method]
    assert (one.pulse_us, one.most_pulses, one.overpulse) == (pulse_us, most, overpulse)


def test_signatures_belong_to_chips_that_can_have_one() -> None:
    """No part before the A types of the 2764 and 27128 has one (from memory); a pair never stands for two chips."""
    assert set(signatures()) <= set(chip_rows())
    assert all(chip_rows()[part].carrier in ("eprom", "flash") for part in signatures())
    assert not {"2716", "2732", "2732A", "2764", "27128", "2708", "28C64"} & set(signatures())
    codes = Counter(one.code for known in signatures().values() for one in known)
    assert [code for code, count in codes.items() if count > 1] == []
    assert all(re.fullmatch(r"[0-9A-F]{2} [0-9A-F]{2}", code) for code in codes)


# Each with its document: Intel's memory books as quoted on cctech, March 2022; then the data sheets named.
@pytest.mark.parametrize(
    ("part", "code", "source"),
    [
        ("27256", "89 04", "post-27256-signature"), ("27C256", "89 8D", "post-27256-signature"),
        ("27C256", "89 8C", "post-27256-signature"), ("27C256", "8F 04", "ns-nm27c256"),
        ("27C256", "1E 8C", "atmel-at27c256r"), ("27C010", "1E 05", "atmel-at27c010"),
        ("27C080", "20 42", "st-m27c801"), ("27C400", "20 B8", "st-m27c400"), ("27C800", "1E F8", "atmel-27c800"),
        ("29F040", "01 A4", "jedec-probe"), ("29F040", "C2 A4", "page-relabelled"),
        ("39SF010A", "BF B5", "jedec-probe"), ("27C256", "20 8D", "st-m27c256b"), ("27C64", "9B 08", "st-m27c64a"),
        ("27C128", "97 83", "ti-tms27c128"), ("2764A", "01 08", "amd-nmos"), ("27128A", "01 89", "amd-nmos"),
        ("27256", "01 04", "amd-nmos"), ("27512", "01 85", "amd-nmos"), ("27512", "07 94", "hitachi-hn27512"),
        ("27256", "29 04", "gi-27256"), ("27256", "20 04", "st-m27256"), ("27128A", "20 89", "st-m27128a"),
        ("27C512", "20 3D", "st-m27c512"), ("27C512", "1E 0D", "microchip-at27c512r"),
        ("27C010", "20 05", "st-m27c1001"), ("27C010", "01 0E", "amd-am27c010"), ("27C020", "20 61", "st-m27c2001"),
        ("27C020", "01 97", "amd-am27c020"), ("27C400", "1E F4", "atmel-at27c400"),
        ("28F020", "89 BD", "intel-28f020"), ("29F010", "01 20", "amd-am29f010b"), ("29F040", "20 E2", "st-m29f040"),
        ("39SF040", "BF B7", "sst-39sf"), ("29C010", "1F D5", "atmel-at29c010a"),
        ("29C040A", "1F A4", "atmel-at29c040a"),
    ],
)  # fmt: skip
def test_signatures_that_were_read_in_a_document(part: str, code: str, source: str) -> None:
    assert [source in one.sources for one in signatures()[part] if one.code == code] == [True]


def test_every_pinout_is_used() -> None:
    assert {row.pinout for row in chip_rows().values()} == set(pinout_rows())


@pytest.mark.parametrize("row", tables.load("makers")["maker"], ids=lambda row: f"{row['chip']} {row['maker']}")
def test_every_figure_of_a_maker_is_sourced(row: dict[str, Any]) -> None:
    assert {field for one in row["sources"] for field in one["gives"]} == set(row) - {"chip", "maker", "sources"}


@pytest.mark.parametrize("row", MAKERS, ids=lambda row: f"{row.chip} {row.maker}")
def test_no_maker_is_given_a_voltage_above_its_own_limit(row: Any) -> None:
    assert row.chip in chip_rows()
    assert maker_table.maker_named(row.maker) == row.maker
    assert set(row.methods) <= set(methods())
    assert all(volts <= (row.vpp_max_v or volts) for volts in row.vpp_v.figures)
    assert all(volts <= (row.vcc_max_v or volts) for volts in row.vcc_programming_v.figures)
    if 6.0 in row.vcc_programming_v.figures:   # the raised supply stands only beside a method that asks for it
        assert any("Vcc 6" in methods()[one].says for one in row.methods)


@pytest.mark.parametrize("row", chip_rows().values(), ids=list(chip_rows()))
def test_where_makers_differ_the_generic_row_has_the_lowest_limit_or_no_voltage(row: Any) -> None:
    known = maker_table.maker_rows().get(row.id, ())
    assert len({one.maker for one in known}) == len(known)
    if row.ask_maker is not None:
        assert (row.vpp_v, row.vpp_max_v, row.vcc_programming_v) == (NO_VOLTS, (), NO_VOLTS)
        assert (row.methods, row.programming) == ((), None)
    else:
        limits = [one.vpp_max_v for one in known if one.vpp_max_v is not None]
        assert not limits or min(row.vpp_max_v) == min(limits)


def test_makers_must_be_named_where_the_wrong_voltage_destroys() -> None:
    """SGS-Thomson, M2732A, table 2, and NTE Electronics, NTE2764, page 1: Vcc 6 V at most. CMOS: from memory."""
    assert {"2732A", "2764", "27128", "27C16", "27C32", "27C64", "27C128", "27C256"} == {
        row.id for row in chip_rows().values() if row.ask_maker is not None
    }  # fmt: skip


# Chip, maker: Vpp, its limit, limit of A9, Vcc meanwhile, its limit [V]; None where the sheet was not seen to say.
@pytest.mark.parametrize(
    ("chip", "maker", "figures"),
    [
        # SGS-Thomson, M2732A, July 1994, tables 2 and 7
        ("2732A", "SGS-Thomson", ((21.0,), 22.0, None, (5.0,), 6.0)),
        # Texas Instruments, TMS2732A, revised February 1988, pages 6-15 to 6-17
        ("2732A", "Texas Instruments", ((21.0,), 22.0, None, (5.0,), 7.0)),
        ("2764", "NTE", ((), 22.0, None, (), 6.0)),  # NTE Electronics, NTE2764, page 1
        ("2764", "Hitachi", ((21.0,), 26.5, None, (5.0, 6.0), 7.0)),  # Hitachi, HN482764G, pages 272, 274-275
        ("27128", "Intel", ((21.0,), 22.0, 13.5, (5.0, 6.0), None)),  # Intel, 27128, 210224-004, pages 2, 4, 6, 8
        ("27128", "Hitachi", ((21.0,), 26.5, None, (5.0, 6.0), 7.0)),  # Hitachi, HN4827128G, pages 2 and 4
        # Advanced Micro Devices, 08005 A, May 1986, pages 6-20, 6-22, 6-26 and 6-28
        ("2764A", "AMD", ((13.0,), 13.5, 13.5, (6.0, 5.0), None)),
        ("27128A", "AMD", ((13.0,), 13.5, 13.5, (6.0, 5.0), None)),
        ("27256", "AMD", ((13.0,), 13.5, 13.5, (6.0, 5.0), None)),
        ("27512", "AMD", ((13.0,), 13.5, 13.5, (6.0, 5.0), None)),
        # SGS-Thomson, M27128A, March 1995, pages 2, 5-8, and M27256, November 2000, tables 2, 8 and 9
        ("27128A", "SGS-Thomson", ((12.5,), 14.0, 13.5, (6.0,), 6.25)),
        ("27256", "SGS-Thomson", ((12.5,), 14.0, 13.5, (6.0,), 6.25)),
        # General Instrument, 27256, DS11000B, 1987, pages 3, 5, 8-11
        ("27256", "General Instrument", ((12.5, 12.75), 14.0, 13.5, (6.0, 6.25), 6.25)),
        # Hitachi, HN27512, pages 4-21, 4-22 and 4-24
        ("27512", "Hitachi", ((12.5,), 13.5, 13.5, (6.0,), 7.0)),
        ("27C64", "SGS-Thomson", ((12.5,), None, 13.5, (), 7.0)),  # STMicroelectronics, M27C64A, March 1998, page 1
        # Texas Instruments, TMS27C128, SMLS128E, pages 4, 6 and 8
        ("27C128", "Texas Instruments", ((13.0,), 14.0, None, (6.5,), None)),
        ("27C256", "Atmel", ((13.0,), 14.0, 14.0, (6.5,), None)),  # Atmel, AT27C256R, 0014O, pages 3 and 7
        ("27C256", "Fairchild", ((12.75,), None, None, (6.5,), None)),  # Fairchild, FM27C256, revision A, page 7
        ("27C256", "Hitachi", ((12.5,), None, None, (), None)),  # Hitachi, HN27C256HG
        ("27C256", "SGS-Thomson", ((), 14.0, 13.5, (), 7.0)),  # STMicroelectronics, M27C256B, page 3
        ("27C512", "Microchip", ((), 14.0, 13.5, (), 7.25)),  # Microchip, 27C512A, page 2
        # Advanced Micro Devices, Am27C010, 10205 G, and Am27C020, 11507 H, May 1998
        ("27C010", "AMD", ((12.75,), 13.5, 13.5, (6.25,), 7.0)),
        ("27C020", "AMD", ((12.75,), 13.5, 13.5, (6.25,), 7.0)),
        ("W27C020", "Winbond", ((12.0,), None, None, (5.0,), None)),  # Winbond, W27C020, preliminary, page 2
        ("26C512A", "Macronix", ((12.75,), None, None, (), None)),  # Macronix, MX26C512A, PM0455, page 1
    ],
)  # fmt: skip
def test_a_makers_figures_are_those_of_its_sheet(chip: str, maker: str, figures: tuple[Any, ...]) -> None:
    one = next(row for row in maker_table.maker_rows()[chip] if row.maker == maker)
    found = (one.vpp_v.figures, one.vpp_max_v, one.a9_max_v, one.vcc_programming_v.figures, one.vcc_max_v)
    assert found == figures
