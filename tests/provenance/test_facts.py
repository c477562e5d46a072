"""Facts that cannot be, each rule at its boundaries."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.chips.voltages import supply_limits
from imagekeeper.errors import UsageError
from imagekeeper.provenance.dates import date_code_start
from imagekeeper.provenance.facts import (
    Answer,
    OddFact,
    insist,
    odd_before_chip,
    odd_before_replacement,
    odd_change,
    odd_date,
    odd_date_code,
    odd_name,
    odd_temperature,
    odd_voltage,
    refuse,
    settle,
)
from imagekeeper.tables.chips import chip_rows

NOW = "2026-03-02T12:00:00Z"


@pytest.mark.parametrize(
    ("text", "odd"),
    [
        ("1949", True), ("1949-12-31", True), ("1950", False), ("1950-01-01T00:00:00Z", False), ("2026", False),
        ("2026-12", True), ("2026-03", False), ("2026-03-03", False), ("2026-03-04", True), ("2027", True),
        ("2026-03-02T12:09:00Z", False), ("2026-03-02T12:11:00Z", True), ("2026-03-02T14:05:00+02:00", False),
        ("0001", True), ("9999", True),
    ],
)  # fmt: skip
def test_dates(text: str, odd: bool) -> None:
    assert bool(list(odd_date(text, NOW))) is odd


@pytest.mark.parametrize(("volts", "odd"), [("0", True), ("0.001", False), ("30", False), ("30.000001", True)])
def test_supplies_of_a_part_that_is_not_known(volts: str, odd: bool) -> None:
    assert bool(list(odd_voltage(volts))) is odd


@pytest.mark.parametrize(
    ("volts", "odd"),
    [("2.49", True), ("2.5", False), ("4.5", False), ("5.5", False), ("7.0", False), ("7.01", True), ("12.5", True)],
)
def test_supplies_of_a_part_of_five_volts(volts: str, odd: bool) -> None:
    """ST, M27C256B data sheet: the absolute maximum of the supply is 7 V; 12.75 V is the programming voltage."""
    assert bool(list(odd_voltage(volts, "27C256", supply_limits(chip_rows()["27C256"])))) is odd


def test_no_programming_voltage_passes_for_a_supply() -> None:
    seen = 0
    for row in chip_rows().values():
        least, most = supply_limits(row)
        assert 0 < least < row.supplies_v["Vcc"] < most
        high = [volts for volts in row.vpp_v.figures if volts > 7.25]   # what is programmed at 5 V has no other voltage
        seen += len(high)
        assert all(list(odd_voltage(str(volts), row.id, (least, most))) for volts in high)
    assert seen > 20


@pytest.mark.parametrize(("celsius", "odd"), [("-60", False), ("-60.1", True), ("150", False), ("151", True)])
def test_temperatures(celsius: str, odd: bool) -> None:
    assert bool(list(odd_temperature(celsius))) is odd


@pytest.mark.parametrize(
    ("code", "day", "odd"),
    [
        ("8512", "1984", True), ("8512", "1985", False), ("8512", "1985-03-11", True), ("8512", "1985-03-12", False),
        ("1285", "1985-03-11", True), ("1985", "1984-12-31", True), ("1985", "1985-01-01", False),
        ("5A", "1950", False), (None, "1950", False), ("99999", "1950", False), ("0112", "2000", True),
    ],
)  # fmt: skip
def test_reads_before_the_chip_was_made(code: str | None, day: str, odd: bool) -> None:
    assert bool(list(odd_before_chip(day, code))) is odd


@given(st.dates(date(1960, 1, 8), date(2039, 12, 31)))
def test_no_chip_is_called_younger_than_the_week_it_was_made_in(day: date) -> None:
    """ISO 8601, weeks: a chip that bears the week of a day was there on that day, or in the week before at most."""
    year, week, _ = day.isocalendar()
    start = date_code_start(f"{year % 100:02}{week:02}")
    assert start is not None
    assert start[:10] <= day.isoformat()


def test_date_codes_are_held_against_the_clock_and_the_reads() -> None:
    assert not list(odd_date_code("8512", NOW, {"r1": "1985", "r2": None}))
    assert [fact.member for fact in odd_date_code("4444", NOW, {})] == ["date_code"]
    assert "lies after r1" in str(next(odd_date_code("8512", NOW, {"r1": "1984"})).says)


def test_times_that_run_backwards() -> None:
    assert list(odd_before_replacement("2026-03-01", "w1", "2026-03-02"))
    assert not list(odd_before_replacement("2026-03", "w1", "2026-03-02"))
    assert not list(odd_before_replacement("2026-03-02", "w1", None))
    assert list(odd_change("u4.bin", "2026-03-02T12:11:00Z", NOW))
    assert not list(odd_change("u4.bin", "2026-03-02T12:09:00Z", NOW))
    assert not list(odd_change("u4.bin", None, NOW))


def _odd() -> list[OddFact]:
    return [*odd_name("reader", "benhc reader", ["bench reader"]), *odd_voltage("0"), *odd_temperature("900")]


def test_everything_odd_is_told_at_once() -> None:
    with pytest.raises(UsageError) as caught:
        settle(_odd(), refuse)
    assert caught.value.code == "odd-facts"
    assert all(word in caught.value.why for word in ("benhc reader", "bench reader", "0 V", "900"))
    assert settle(_odd(), insist).insisted == ("reader", "vcc", "temperature")
    assert settle([], refuse).insisted == ()


def test_nobody_is_asked_about_a_name_where_something_cannot_be() -> None:
    asked = []

    def decide(fact: OddFact) -> Answer:
        asked.append(fact.member)
        return "refuse" if fact.near is None else "near"

    with pytest.raises(UsageError):
        settle(_odd(), decide)
    assert asked == ["vcc", "temperature"]
    assert settle(_odd()[:1], decide).names == {"reader": "bench reader"}


def test_tomorrow_is_a_day_of_the_calendar() -> None:
    """Around the ends of months and years, by Python's own calendar."""
    for day in (date(2023, 12, 31), date(2024, 2, 28), date(2024, 2, 29), date(2025, 2, 28)):
        now = f"{day.isoformat()}T23:30:00Z"
        assert not list(odd_date((day + timedelta(days=1)).isoformat(), now))
        assert list(odd_date((day + timedelta(days=2)).isoformat(), now))
