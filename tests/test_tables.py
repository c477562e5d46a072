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
from imagekeeper.tables.chips import (
    AVAILABILITY,
    TECHNOLOGIES,
    ambiguous,
    chip_rows,
    methods,
    pin_numbers,
    pinout_rows,
    signatures,
)

CHIPS = tables.load("chips")["chip"]
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
    assert row.words & (row.words - 1) == 0
    assert row.bits in (4, 8, 16)
    assert row.technology in TECHNOLOGIES
    assert row.carrier in KINDS
    assert row.carrier == (row.technology[5:] if row.technology.endswith("-eprom") else row.technology)


@pytest.mark.parametrize("row", chip_rows().values(), ids=list(chip_rows()))
def test_the_pinout_has_every_line_of_the_chip_once_and_no_other(row: Any) -> None:
    pinout = pinout_rows()[row.pinout]
    assert pinout.pins == row.pins
    signals = Counter(signal for pin in pinout.signals for signal in pin)
    lines = {f"A{n}" for n in range((row.words - 1).bit_length())} | {f"D{n}" for n in range(row.bits)}
    found = {signal: n for signal, n in signals.items() if re.fullmatch(r"[AD]\d+", signal)}
    assert found == dict.fromkeys(lines, 1)
    assert signals["GND"] or row.technology == "pmos-eprom"
    assert set(row.supplies_v) <= set(signals)
    if row.vpp_v:
        assert {"Vpp", "PGM"} & set(signals)


@pytest.mark.parametrize("row", chip_rows().values(), ids=list(chip_rows()))
def test_voltages_and_times_are_sane(row: Any) -> None:
    """Nothing erased has no blank byte; no programming voltage is above its own absolute maximum."""
    assert row.blank in ("FF", "00", None)
    assert (row.blank is None) == (row.carrier in ("mask-rom", "ram", "clock-ram"))
    assert all(volts <= most for volts in row.vpp_v for most in row.vpp_max_v)
    assert list(row.access_ns) == sorted(row.access_ns)
    assert all(20 <= time <= 1500 for time in row.access_ns)
    assert row.supplies_v["Vcc"] == 5.0
    assert row.supply_tolerance_percent in (5.0, 10.0, None)
    assert row.row_spacing_inch in (0.3, 0.6)


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


def test_there_are_chips_of_every_kind() -> None:
    """From the 1702A to the 27C080, with fuse PROMs, mask ROMs, EEPROM, flash memory and battery RAM."""
    rows = chip_rows()
    assert len(rows) >= 80
    assert {row.technology for row in rows.values()} == set(TECHNOLOGIES)
    assert {"1702A", "2708", "2716", "2732A", "27512", "27C080", "27C4096", "28C256", "39SF040", "48Z02"} <= set(rows)


METHODS = tables.load("programming")["method"]


@pytest.mark.parametrize("row", METHODS, ids=ids(METHODS))
def test_every_field_of_a_method_is_sourced_or_from_memory(row: dict[str, Any]) -> None:
    sourced = {field for one in row["sources"] for field in one["gives"]}
    assert sourced | set(row["unsourced"]) == set(row) - GROUNDS
    assert not sourced & set(row["unsourced"])
    assert all(one["field"] in row for one in row.get("disputed", []))


def test_methods_are_used_and_their_pulses_are_sane() -> None:
    """The longest pulse of any is 50 ms and a tenth; the over-pulse of 15 or 25 pulses of 1 ms stays within 75 ms."""
    assert {name for row in chip_rows().values() for name in row.methods} == set(methods())
    for one in methods().values():
        assert list(one.pulse_us) == sorted(one.pulse_us)
        assert all(1 <= pulse <= 55_000 for pulse in one.pulse_us)
        if one.overpulse is not None and one.most_pulses is not None:
            assert one.most_pulses * one.overpulse * one.pulse_us[-1] <= 75_000


# By method: pulse [us], most pulses, over-pulse.
@pytest.mark.parametrize(
    ("method", "pulse_us", "most", "overpulse"),
    [
        ("loops", (100, 1000), None, None),  # Intel data books of 1976 and 1977, as quoted on classiccmp
        ("fixed-50ms", (45000, 55000), 1, None),  # NTE Electronics, NTE2764, page 1: 420 s; the limits from memory
        ("adaptive-1ms-times-4", (1000, 1000), 15, 4),  # from memory
        ("adaptive-1ms-times-3", (1000, 1000), 25, 3),  # from memory
        ("quick-100us-margin", (100, 100), 25, None),  # STMicroelectronics, M27C512, pages 7-8
        ("quick-100us-two-passes", (95, 105), 11, None),  # Atmel, AT27C010, page 7: one, then up to 10 more
        ("quick-50us", (47.5, 52.5), None, None),  # Atmel, 27C800, page 8
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
        ("39SF010A", "BF B5", "jedec-probe"), ("27C256", "20 8D", "st-m27v256"),
    ],
)  # fmt: skip
def test_signatures_that_were_read_in_a_document(part: str, code: str, source: str) -> None:
    assert [one.sources for one in signatures()[part] if one.code == code] == [(source,)]


def test_every_pinout_is_used() -> None:
    assert {row.pinout for row in chip_rows().values()} == set(pinout_rows())
