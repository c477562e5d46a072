"""Erase doses and times, and how soon the lamp harms."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper import chips
from imagekeeper.chips.erasing import EXPOSURE_LIMIT, USUAL_DOSE, dose, exposure


def test_the_usual_dose() -> None:
    """STMicroelectronics, M27C1001, page 9, and Advanced Micro Devices, Am27C010, page 5: 15 W s/cm2 at 12 mW/cm2.

    Both name 15 to 20 minutes beside it, which is less: 10.8 and 14.4 W s/cm2. The dose takes 1250 s.
    """
    assert USUAL_DOSE == 15.0
    assert dose(12, 1250) == pytest.approx(15.0)
    assert dose(12, 15 * 60) == pytest.approx(10.8)
    assert dose(12, 20 * 60) == pytest.approx(14.4)
    assert exposure(12).longest_s == exposure(12).shortest_s == pytest.approx(1250)
    assert chips.find("27C010").erase_dose_ws_cm2 == (15.0,)


def test_the_day_of_an_eye_is_over_in_half_a_second() -> None:
    """ACGIH, threshold limit values, 2021: 6 mJ/cm2 of 254 nm in eight hours, at 12 mW/cm2."""
    assert EXPOSURE_LIMIT == 0.006
    assert exposure(12).harm_s == pytest.approx(0.5)
    assert "eyes and skin" in exposure(12).caution


def test_older_sheets_name_smaller_doses() -> None:
    """From memory: 6 W s/cm2 for the 1702A, 10 for the 2708."""
    assert chips.find("1702A").erase_dose_ws_cm2 == (6.0, 15.0)
    assert chips.find("2708").erase_dose_ws_cm2 == (10.0, 15.0)
    assert "erase_dose_ws_cm2" in chips.find("1702A").unsourced


@given(st.floats(0.1, 1000), st.floats(0.5, 100), st.floats(0.5, 100), st.floats(0.1, 100))
def test_farther_takes_longer_and_nearer_promises_nothing(
    lamp: float, measured: float, distance: float, needed: float
) -> None:
    """That light falls with the distance near a tube and with its square far off: common practice, no source."""
    found = exposure(lamp, measured_cm=measured, distance_cm=distance, dose_ws_cm2=needed)
    there = exposure(lamp, measured_cm=measured, distance_cm=measured, dose_ws_cm2=needed)
    assert dose(lamp, there.longest_s) == pytest.approx(needed)
    assert found.shortest_s <= found.longest_s
    assert found.shortest_s >= there.shortest_s * 0.999999
    if distance > measured:
        assert found.longest_s == pytest.approx(there.longest_s * (distance / measured) ** 2)
    else:
        assert found.harm_s <= there.harm_s * 1.000001


@pytest.mark.parametrize("lamp", [0, -1, 1e9, float("nan"), float("inf")])
def test_absurd_lamps_are_refused(lamp: float) -> None:
    with pytest.raises(ValueError, match="lamp"):
        exposure(lamp)


@pytest.mark.parametrize("distance", [0, -2.5, 1e9, float("nan")])
def test_absurd_distances_are_refused(distance: float) -> None:
    with pytest.raises(ValueError, match="distances"):
        exposure(12, distance_cm=distance)


@pytest.mark.parametrize(("lamp", "seconds"), [(-1, 1), (1, -1), (float("nan"), 1)])
def test_no_negative_dose(lamp: float, seconds: float) -> None:
    with pytest.raises(ValueError, match="negative"):
        dose(lamp, seconds)
