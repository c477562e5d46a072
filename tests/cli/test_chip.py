"""The commands chip list and chip show: text, documents, exit codes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from imagekeeper.chips import Chip, ChipList
from imagekeeper.jsonable import schema_of
from imagekeeper.tables.chips import chip_rows
from tests.conftest import Ran

Cli = Callable[..., Ran]


def fits(document: Any, cls: type) -> None:
    """The members are exactly those of the schema, in its order."""
    assert list(document) == schema_of(cls)["required"]


def test_list_has_every_chip(cli: Cli) -> None:
    ran = cli("chip", "list")
    assert (ran.code, ran.err) == (0, "")
    assert [line.split()[0] for line in ran.out.splitlines()] == ["chip", *chip_rows()]


def test_list_as_json(cli: Cli) -> None:
    ran = cli("chip", "list", "--json", "--kind", "eprom", "--size", "16K")
    assert ran.code == 0
    fits(ran.json, ChipList)
    assert ran.json["schema"] == "chip-list/1"
    assert [(one["id"], one["bytes"]) for one in ran.json["chips"]] == [
        ("27128", 16384), ("27128A", 16384), ("27C128", 16384),
    ]  # fmt: skip


def test_list_with_nothing_to_show(cli: Cli) -> None:
    ran = cli("chip", "list", "--size", "3K")
    assert (ran.code, ran.out.strip()) == (0, "The table has no such chip.")


def test_show_has_size_pins_voltages_cautions_and_grounds(cli: Cli) -> None:
    ran = cli("chip", "show", "M2716")
    assert (ran.code, ran.err) == (0, "")
    for text in ("2716: NMOS EPROM", "2048 bytes (2K)", "Vcc +5 V ±5%", "Vpp 25 V", "Vpp never above 26.5 V; Vcc 5 V",
                 "GND  12 |      | 13  D3", "21  Vpp", "caution: Programming takes Vpp 25 V", "harms eyes",
                 "M2716, data sheet, July 1994", "from memory", "disputed: pin 18"):  # fmt: skip
        assert text in ran.out, text


def test_text_and_document_ask_for_the_maker_alike(cli: Cli) -> None:
    out, document = " ".join(cli("chip", "show", "27C64").out.split()), cli("chip", "show", "27C64", "--json").json
    assert "no voltage without the maker" in out
    assert document["ask_maker"] in out
    assert (document["vpp_v"], document["maker"]) == ([], None)
    assert all(f"by {one['maker']}" in out for one in document["makers"])
    assert document["cautions"][0] in out
    named = cli("chip", "show", "27C64", "--maker", "st", "--json").json
    assert (named["vpp_v"], named["maker"]) == ([12.5], "SGS-Thomson")
    assert "not known Vcc meanwhile, method" in " ".join(cli("chip", "show", "27C64", "--maker", "st").out.split())
    listed = {line.split()[0]: line for line in cli("chip", "list", "--size", "8K").out.splitlines()}
    assert "by maker" in listed["27C64"]
    assert "12.5 V" in listed["2764A"]


@pytest.mark.parametrize("part", list(chip_rows()))
def test_every_chip_can_be_shown(cli: Cli, part: str) -> None:
    """All its pins are drawn, no line is too wide, and no member goes by its bare name."""
    ran = cli("chip", "show", part)
    assert ran.code == 0
    assert max(map(len, ran.out.splitlines())) <= 100
    assert sum(" |      | " in line for line in ran.out.splitlines()) == chip_rows()[part].pins // 2
    assert "_" not in ran.out.replace("jedec_probe", "")
    assert "None" not in ran.out


@pytest.mark.parametrize("part", list(chip_rows()))
def test_every_chip_as_json(cli: Cli, part: str) -> None:
    ran = cli("chip", "show", part, "--json")
    assert ran.code == 0
    fits(ran.json, Chip)
    assert (ran.json["schema"], ran.json["id"], len(ran.json["pinout"]["pins"])) == (
        "chip/1", part, chip_rows()[part].pins,
    )  # fmt: skip


def test_early_chips_come_with_a_warning_of_their_supplies(cli: Cli) -> None:
    for part in ("1702A", "2708", "TMS2716"):
        assert "caution: Reading takes Vdd" in cli("chip", "show", part).out


def test_pins_from_memory_are_marked(cli: Cli) -> None:
    """Of the 2708 three pins have a source; of the 82S123 none has, and a sentence says so instead."""
    assert cli("chip", "show", "2708").out.count("*") == 1 + 24 - 3
    out = cli("chip", "show", "82S123").out
    assert "*" not in out
    assert "pins 1-16" in out.partition("from memory")[2]


def test_an_unknown_chip(cli: Cli) -> None:
    ran = cli("chip", "show", "27C265")
    assert (ran.code, ran.out) == (5, "")
    assert "27C256" in ran.err
    ran = cli("chip", "show", "27C265", "--json")
    assert ran.code == 5
    assert (ran.json["schema"], ran.json["code"]) == ("error/1", "chip-unknown")


def test_hostile_markings_are_shown_safely(cli: Cli) -> None:
    ran = cli("chip", "show", "\x1b[2J\udcff\n" + "8" * 5000)
    assert ran.code == 5
    assert "\x1b" not in ran.err
    assert len(ran.err) < 500


def test_a_kind_that_is_none(cli: Cli) -> None:
    assert cli("chip", "list", "--kind", "teapot").code == 2
