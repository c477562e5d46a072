"""The command chip substitute: texts for the bench, documents, exit codes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import jsonschema
import pytest

from imagekeeper.jsonable import schema_of
from imagekeeper.substitution import Substitution
from imagekeeper.tables.chips import chip_rows
from tests.conftest import Ran

pytestmark = pytest.mark.long

Cli = Callable[..., Ran]

BENCH = ["strap", "Static destroys", "qualified under the local rules", "data sheet of the chip in your hand"]


def checked(document: Any) -> None:
    jsonschema.validate(document, schema_of(Substitution))


def test_best_answers_first_and_danger_in_words(cli: Cli) -> None:
    ran = cli("chip", "substitute", "M2716")
    assert (ran.code, ran.err) == (0, "")
    out = ran.out
    assert out.startswith("In the socket of a 2716, a 28C16 drops in, with the image as it is.")
    order = [out.index(text) for text in ("NEVER plug these in", "Drops in, with the image as it is:",
                                          "Drops in, with the image repeated", "With an adapter")]  # fmt: skip
    assert order == sorted(order)
    assert "2708: pin 19: Vdd needs +12 V and meets A10" in " ".join(out.split())
    assert all(text in " ".join(out.split()) for text in BENCH)


def test_one_chip_with_its_wiring(cli: Cli) -> None:
    ran = cli("chip", "substitute", "2532", "2732A")
    assert ran.code == 0
    rows = [line.split() for line in ran.out.splitlines()]
    assert ["18", "/CE", "socket", "20", "/CE"] in rows
    assert ["21", "A11", "socket", "18", "A11"] in rows
    assert "every other pin n of the chip goes straight to the socket pin of its own number" in ran.out
    out = cli("chip", "substitute", "2364", "2764").out
    assert "every other pin n of the chip goes straight to socket pin n - 2" in out
    assert "ONLY IF  the mask made the original's CS1 active low" in out


def test_a_gate_and_inverters_are_named_pin_by_pin(cli: Cli) -> None:
    out = cli("chip", "substitute", "82S191", "2716").out
    assert "inverted" in out
    assert "an inverter for the line of socket pin" in out
    assert "OR gate" in out


def test_danger_comes_before_the_cure(cli: Cli) -> None:
    out = cli("chip", "substitute", "27256", "28C256").out
    assert out.index("NEVER plug a 28C256 in as it is") < out.index("wiring")
    assert "DANGER: /WE would be pulled low by A14" in out


@pytest.mark.parametrize("pair", [("2732", "2732A"), ("2732A", "2732"), ("2732",)])
def test_what_the_voltage_of_the_other_letter_destroys(cli: Cli, pair: tuple[str, ...]) -> None:
    """SGS-Thomson, M2732A, July 1994, table 2: Vpp 22 V at most."""
    says = "A 2732A takes Vpp 21 V and never more than 22 V: the 25 V of a 2732"
    assert says in " ".join(cli("chip", "substitute", *pair).out.split())
    document = cli("chip", "substitute", *pair, "--json").json
    checked(document)
    assert any(one.startswith(says) for one in (*document["fits"][0]["cautions"], *document["cautions"]))


@pytest.mark.parametrize("socket", ["6116", "6264", "62256"])
def test_a_ram_is_replaced_by_its_like_and_by_a_clock_last_of_all(cli: Cli, socket: str) -> None:
    """A clock is in the last 8 bytes: STMicroelectronics, M48T02 and M48T08, name the clock; the place from memory."""
    document = cli("chip", "substitute", socket, "--json").json
    fits = [one for one in document["fits"] if one["verdict"] != "never" and not one["short"]]
    assert fits[0]["part"] == socket
    ticking = [one["technology"] == "clock-ram" for one in fits]
    assert ticking == sorted(ticking)
    out = " ".join(cli("chip", "substitute", socket).out.split())
    assert out.startswith(f"Another {socket} is the first choice.")
    assert ("they change by themselves" in out) == any(ticking)
    for text in ("image", "copies", "quarter"):
        assert text not in out
    for one in fits:
        assert "repeated" not in one["says"]
        told = any("they change by themselves" in text for text in one["cautions"])
        assert told == (one["technology"] == "clock-ram")


def test_a_ram_with_a_battery_inside_is_not_simply_replaced_by_one_without(cli: Cli) -> None:
    """STMicroelectronics, M48Z02, page 1: it keeps its contents for 10 years without supply."""
    document = cli("chip", "substitute", "48Z02", "--json").json
    assert document["fits"][0]["part"] == "48Z02"
    plain = next(one for one in document["fits"] if one["part"] == "6116")
    assert any("a battery of the board feeds this socket" in text for text in plain["conditions"])
    assert "a 6116 drops in" not in document["says"]


def test_one_pin_is_rewired_and_no_heading_stands_over_nothing(cli: Cli) -> None:
    out = cli("chip", "substitute", "6264", "48Z08").out
    assert "adapter, 1 pin rewired" in out
    assert "sources\n" in out
    assert "1 pins" not in cli("chip", "substitute", "6264", "--all").out


def test_what_must_never_be_plugged_in(cli: Cli) -> None:
    ran = cli("chip", "substitute", "2716", "2708")
    assert ran.code == 1
    assert "must never be plugged in" in ran.out
    assert "wiring" not in ran.out


@pytest.mark.parametrize("part", list(chip_rows()))
def test_every_socket_is_answered_in_100_columns(cli: Cli, part: str) -> None:
    for arguments in ([part], [part, "--all"]):
        ran = cli("chip", "substitute", *arguments)
        assert ran.code in (0, 1)
        assert ran.err == ""
        assert max(map(len, ran.out.splitlines())) <= 100
        assert "None" not in ran.out
        assert "data sheet" in ran.out


@pytest.mark.parametrize("socket", ["1702A", "2708", "2316", "2364", "82S181", "2564", "27C010", "27C400", "29F020"])
def test_every_single_answer_fits_100_columns(cli: Cli, socket: str) -> None:
    for one in cli("chip", "substitute", socket, "--json").json["fits"]:
        ran = cli("chip", "substitute", socket, one["part"])
        assert ran.code == int(one["verdict"] == "never" or one["short"] > 0 or one["fast_enough"] is False)
        assert max(map(len, ran.out.splitlines())) <= 100, one["part"]
        assert ("wiring" in ran.out) == bool(one["wires"])
        assert all(f"! {text}" in " ".join(ran.out.split()) for text in one["dangers"])


def test_as_json(cli: Cli) -> None:
    ran = cli("chip", "substitute", "2764", "--json", "--access-ns", "200", "--tied", "26=high")
    assert ran.code == 0
    document = ran.json
    checked(document)
    assert (document["schema"], document["socket"], document["access_ns"], document["tied"]) == (
        "substitution/1", "2764", 200, {"26": "high"},
    )  # fmt: skip
    assert len(document["fits"]) + len(document["not_compared"]) == len(chip_rows())
    cited = {source["id"] for source in document["sources"]}
    assert all(set(one["sources"]) <= cited for one in document["fits"])
    single = cli("chip", "substitute", "2764", "28C64", "--json").json
    checked(single)
    assert [one["part"] for one in single["fits"]] == ["28C64"]


def test_a_time_excludes_slow_chips(cli: Cli) -> None:
    assert "ns, too slow" not in cli("chip", "substitute", "2716", "--access-ns", "150").out
    out = cli("chip", "substitute", "2716", "--access-ns", "150", "--all").out
    assert "170 to 450 ns, too slow" in out
    assert "150 ns or faster" in out


def test_without_any_substitute_the_answer_is_no(cli: Cli) -> None:
    ran = cli("chip", "substitute", "146818")
    assert ran.code == 1
    assert "no chip that surely takes the place" in ran.out


@pytest.mark.parametrize("tied", ["26", "26=up", "=high", "x=high", "260=high", "26=high=low"])
def test_levels_that_are_none(cli: Cli, tied: str) -> None:
    ran = cli("chip", "substitute", "2764", "--tied", tied)
    assert ran.code == 2
    assert "26=high" in ran.err


def test_a_board_does_not_both_write_and_never_write(cli: Cli) -> None:
    for flags in (("--writes", "--never-writes"), ("--never-writes", "--writes")):
        ran = cli("chip", "substitute", "2816", "28C16", *flags)
        assert (ran.code, ran.out) == (2, "")
        assert "--writes and --never-writes cannot both be true" in ran.err


def test_a_pin_that_cannot_be_tied(cli: Cli) -> None:
    ran = cli("chip", "substitute", "2764", "--tied", "28=low")
    assert ran.code == 2
    assert "pin 28 of the 2764 carries Vcc +5 V" in ran.err


def test_unknown_and_hostile_parts(cli: Cli) -> None:
    for arguments in (["27C265"], ["2716", "27C265"], ["\x1b[2J" + "8" * 5000]):
        ran = cli("chip", "substitute", *arguments)
        assert ran.code == 5
        assert "\x1b" not in ran.err
    assert cli("chip", "substitute", "2716", "--access-ns", "0").code == 2
    ran = cli("chip", "substitute", "2716", "6116", "--json")
    assert (ran.code, ran.json["code"]) == (2, "does-not-fit")


def test_a_chip_of_unknown_speed_is_no_answer_to_a_wanted_speed(cli: Cli) -> None:
    listed, one = (cli("chip", "substitute", "2764", *more, "--access-ns", "1") for more in ((), ("48Z08",)))
    assert (listed.code, one.code) == (1, 1)
    assert listed.out.startswith("The table has no chip that surely takes the place of a 2764.")
    assert "Its speed is not known." in one.out
    assert cli("chip", "substitute", "2764", "27C64", "--access-ns", "150").code == 0


def test_a_chip_slower_than_every_original_says_so_first(cli: Cli) -> None:
    """The times of 82S123 are from memory, those of the 28C64 from its data sheet: 50 ns against 120."""
    assert "It is slower than the original" in cli("chip", "substitute", "82S123", "28C64", "--json").json["says"]
    assert "slower" not in cli("chip", "substitute", "2764", "28C64", "--json").json["says"]


def test_a_pin_is_not_tied_both_ways(cli: Cli) -> None:
    ran = cli("chip", "substitute", "2764", "--tied", "26=high", "--tied", "26=low")
    assert (ran.code, ran.out) == (2, "")
    assert "pin 26 cannot be both high and low" in ran.err
    assert cli("chip", "substitute", "2764", "--tied", "26=high", "--tied", "26=high").code == 0
