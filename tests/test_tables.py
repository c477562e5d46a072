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
from imagekeeper.tables.chips import TECHNOLOGIES, ambiguous, chip_rows, pin_numbers, pinout_rows

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
    if row.vpp_v and row.carrier != "eeprom":
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


def test_every_pinout_is_used() -> None:
    assert {row.pinout for row in chip_rows().values()} == set(pinout_rows())
