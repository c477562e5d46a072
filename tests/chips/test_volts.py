"""Voltages as rows give them: single, a range, a choice, one after the other; and printed as that."""

from __future__ import annotations

from typing import Any

import pytest

from imagekeeper.chips import find, listed
from imagekeeper.tables.chips import chip_rows
from imagekeeper.tables.makers import maker_rows
from imagekeeper.tables.volts import NO_VOLTS, Volts, volts_of


@pytest.mark.parametrize(
    ("given", "figures", "kind", "says"),
    [
        (21, (21.0,), "single", "21 V"), (-48.0, (-48.0,), "single", "-48 V"),
        ({"from": 25.0, "to": 27.0}, (25.0, 27.0), "range", "26 V (25 to 27 V)"),
        ({"any": [12.5, 21.0]}, (12.5, 21.0), "any", "12.5 V or 21 V, by maker"),
        ({"steps": [6.0, 5.0]}, (6.0, 5.0), "steps", "6 V, then 5 V"),
    ],
)  # fmt: skip
def test_a_voltage_is_read_and_said_as_what_it_is(given: Any, figures: tuple[float, ...], kind: str, says: str) -> None:
    volts = volts_of(given)
    assert (volts.figures, volts.kind_or_none, volts.text(), bool(volts)) == (figures, kind, says, True)


@pytest.mark.parametrize(
    "given",
    [[25.0, 27.0], "21 V", {}, {"from": 25.0}, {"from": 1.0, "to": 2.0, "at": 1.5}, {"any": [21.0]}, {"any": []},
     {"steps": [5.0]}, {"one": [1.0, 2.0]}, {"any": [1.0, 2.0], "steps": [1.0, 2.0]}],
)  # fmt: skip
def test_what_is_no_voltage_is_refused(given: Any) -> None:
    with pytest.raises(ValueError, match="no voltage"):
        volts_of(given)


def test_where_none_is_given_there_is_none() -> None:
    assert volts_of(None) is NO_VOLTS
    assert (NO_VOLTS.figures, NO_VOLTS.kind_or_none, NO_VOLTS.aims, NO_VOLTS.near(0.0, 99.0)) == ((), None, (), False)


def test_all_of_a_range_is_near_and_only_the_figures_of_a_choice() -> None:
    spread, choice = Volts((25.0, 27.0), "range"), Volts((25.0, 27.0), "any")
    assert [spread.near(volts, 0.5) for volts in (24.4, 24.5, 26.0, 27.5, 27.6)] == [False, True, True, True, False]
    assert [choice.near(volts, 0.5) for volts in (24.5, 25.6, 26.0, 26.5)] == [True, False, False, True]


def test_the_early_eproms_take_a_range() -> None:
    """Intel's data book of 1976, as quoted on classiccmp: 25 to 27 V. A marking with 26 V is nothing odd."""
    for part in ("2704", "2708"):
        chip = find(part)
        assert (chip.vpp_v, chip.vpp_kind) == ((25.0, 27.0), "range")
        assert chip.vpp.text(chip.by) == "26 V (25 to 27 V)"
        assert find(f"{part} (26 V)").cautions == chip.cautions
        assert find(f"{part} (21 V)").cautions != chip.cautions


def test_one_maker_lowers_the_supply_within_its_method() -> None:
    """Advanced Micro Devices, 08005 A, May 1986, pages 6-26 and 6-28: pulses at 6 V, then a pass at 5 V."""
    for part in ("2764A", "27128A", "27256", "27512"):
        amd = next(one for one in maker_rows()[part] if one.maker == "AMD")
        assert amd.vcc_programming_v == Volts((6.0, 5.0), "steps")
        assert find(part, "AMD").vcc_programming.text("method") == "6 V, then 5 V"


def test_a_choice_hangs_on_the_maker_until_that_is_named() -> None:
    """Hitachi, HN482764G, pages 274-275: 5 V with single pulses, 6 V with pulses that are checked."""
    assert find("27C010").vpp.text(find("27C010").by).endswith(", by maker")
    chip = find("2764", "Hitachi")
    assert chip.vcc_programming.text(chip.by) == "5 V or 6 V, by method"


def test_documents_hold_the_figures_as_a_list_and_what_they_are_beside_it() -> None:
    for line in listed().chips:
        row = chip_rows()[line.id]
        assert (line.vpp_v, line.vpp_kind) == (row.vpp_v.figures, row.vpp_v.kind_or_none)
        assert (line.vpp_kind is None) == (not line.vpp_v)
