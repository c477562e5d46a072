"""The command chip unknown: text, document, exit codes, and what is refused."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from imagekeeper.chips.unmarked import UnknownChip
from imagekeeper.jsonable import schema_of
from tests.conftest import Ran

Cli = Callable[..., Ran]


def test_dangers_stand_before_candidates_and_these_before_steps(cli: Cli) -> None:
    ran = cli("chip", "unknown", "--pins", "24", "--size", "1K")
    assert (ran.code, ran.err) == (0, "")
    said = ("danger: 2708 takes", "It could be:", "all agree on: 1 A7", "They differ on:", "\n  pin 19",
            "In this order:", "connect +5 V")  # fmt: skip
    places = [ran.out.index(text) for text in said]
    assert places == sorted(places)
    assert "and 5 more" in ran.out
    whole = cli("chip", "unknown", "--pins", "24", "--size", "1K", "--all").out
    pins = whole.partition("They differ on:")[2].partition("In this order:")[0]
    assert "6381-1" in pins
    assert "more" not in pins


def test_the_document_has_the_members_of_its_schema(cli: Cli) -> None:
    ran = cli("chip", "unknown", "--pins", "24", "--size", "2K", "--kind", "eprom", "--measured", "21=5v", "--json")
    assert ran.code == 0
    assert list(ran.json) == schema_of(UnknownChip)["required"]
    assert ran.json["measured"] == {"21": "5v"}
    assert [one["part"] for one in ran.json["candidates"]] == ["2716", "27C16"]
    assert list(ran.json["ruled_out"]) == ["2716-three-supply"]


def test_none_like_it_is_exit_code_1(cli: Cli) -> None:
    ran = cli("chip", "unknown", "--pins", "25")
    assert ran.code == 1
    assert "The table has no chip of 25 pins" in ran.out


@pytest.mark.parametrize("value", ["12", "12=gnd", "x=ground", "=5v", "12=5v=5v", "-1=ground", "123=ground"])
def test_what_is_no_finding_is_refused(cli: Cli, value: str) -> None:
    ran = cli("chip", "unknown", "--pins", "24", "--measured", value)
    assert ran.code == 2
    assert "such as 12=ground" in ran.err


def test_one_pin_goes_to_one_place(cli: Cli) -> None:
    ran = cli("chip", "unknown", "--pins", "24", "--measured", "12=ground", "--measured", "12=bus")
    assert ran.code == 2
    assert "cannot go to both ground and the address or data bus" in ran.err
