"""A chip whose number the table does not have: what it could be follows from pins alone, and nothing is guessed."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper import chips
from imagekeeper.chips.unmarked import MEASURED, narrow
from imagekeeper.chips.unmarked.pins import expected_at, kind_of, speaks_against
from imagekeeper.errors import UsageError
from imagekeeper.tables.chips import chip_rows
from tests.refusals import refuses

ROWS = chip_rows()


@pytest.mark.parametrize(("pins", "size"), [(24, 1024), (24, 2048), (24, 8192), (28, 32768), (16, 32), (40, 1024)])
def test_every_chip_of_that_package_and_size_could_be_it(pins: int, size: int) -> None:
    found = narrow(pins, size=size)
    assert {one.part for one in found.candidates} == {
        row.id for row in ROWS.values()
        if row.pins == pins and size in (row.bytes, row.words * ((row.bits + 7) // 8))
    }  # fmt: skip
    assert sum(one.score for one in found.candidates) == pytest.approx(1, abs=0.01)
    assert [one.number for one in found.pinout] == list(range(1, pins + 1))
    for pin in found.pinout:
        parts = [part for meaning in pin.meanings for part in meaning.parts]
        assert sorted(parts) == sorted(one.part for one in found.candidates)
    assert len(found.agreed) + len(found.differing) == pins


def test_with_nothing_measured_none_is_likelier_than_another() -> None:
    found = narrow(24, size=2048)
    assert len({one.score for one in found.candidates}) == 1
    assert all(one.evidence == () for one in found.candidates)
    assert "nothing here says" in found.says


# Of three early EPROMs of 24 pins, what the socket shows. 2708: Intel data books of 1976 and 1977, as quoted on
# classiccmp. 2716: SGS-Thomson, M2716, page 1. TMS2532: Texas Instruments, page 145.
@pytest.mark.parametrize(
    ("measured", "left", "out"),
    [
        ({21: "5v"}, "2716", "2716-three-supply"), ({19: "bus"}, "2716", "2716-three-supply"),
        ({19: "other-supply"}, "2716-three-supply", "2716"), ({12: "ground", 24: "5v"}, "2716", None),
    ],
)  # fmt: skip
def test_what_was_measured_rules_out(measured: dict[int, str], left: str, out: str | None) -> None:
    found = narrow(24, size=2048, carrier="eprom", measured=measured)   # type: ignore[arg-type]
    assert left in [one.part for one in found.candidates]
    if out is None:
        assert found.ruled_out == {}
    else:
        assert out not in [one.part for one in found.candidates]
        assert f"pin {min(measured)} goes to" in found.ruled_out[out]


def test_a_pin_that_can_be_nothing_else_speaks_for_a_chip_more_than_one_that_a_board_may_hold() -> None:
    found = narrow(24, size=2048, measured={21: "5v"})
    shares = {one.part: one.score for one in found.candidates}
    assert shares["2716"] > shares["28C16"] > 0
    assert [one.evidence[0].weight for one in found.candidates] == sorted(
        (one.evidence[0].weight for one in found.candidates), reverse=True
    )


def test_dangers_come_first_and_worst_first() -> None:
    """A 2708 takes +12 V and -5 V: Intel data book of 1977, as quoted on classiccmp."""
    found = narrow(24, size=1024)
    assert found.dangers[0].startswith("2708 takes more supplies than +5 V (pin 19: Vdd +12 V, pin 21: Vbb -5 V)")
    assert "destroy the others (2758" in found.dangers[0]
    rams = narrow(24, size=2048)
    assert any("Pin 21 is /WE in 28C16, 6116" in text and "Hold it high" in text for text in rams.dangers)
    assert any("memory that forgets (6116" in text for text in rams.dangers)
    big = narrow(32, size=524288)
    assert any("Pin 16 is the supply of HN62304 and the ground of" in text for text in big.dangers)
    assert any("the address in as /CE falls" in text for text in narrow(28, size=32768).dangers)


def test_the_pins_proposed_tell_the_candidates_apart() -> None:
    found = narrow(24, size=1024)
    numbers = [one.number for one in found.next_pins]
    assert numbers[0] == 21
    assert set(numbers) <= {one.number for one in found.differing}
    for one in found.next_pins:
        assert len(one.outcomes) > 1
        assert sorted(part for parts in one.outcomes.values() for part in parts) == sorted(
            like.part for like in found.candidates
        )
    assert 21 not in [one.number for one in narrow(24, size=1024, measured={21: "5v"}).next_pins]


def test_no_supply_is_connected_before_ground_and_every_supply_are_found() -> None:
    for found in (narrow(24, size=1024), narrow(25), narrow(8)):
        said = ("pull its plug", "Ground is", "Other supplies", "Diode test", "connect +5 V", "at 5 V only")
        order = [next(n for n, step in enumerate(found.steps) if words in step) for words in said]
        assert order == sorted(order)
        assert "limited to 150 mA" in found.steps[order[4]]
        assert found.dangers


def test_where_the_table_has_none_that_is_the_answer() -> None:
    found = narrow(25)
    assert (found.candidates, found.pinout, found.exit_code) == ((), (), 1)
    assert "no chip of 25 pins" in found.says
    assert found.dangers[0].startswith("Nothing is known of its supplies")
    gone = narrow(24, size=2048, carrier="eprom", measured={12: "open"})
    assert gone.candidates == ()
    assert "3 chips that had it before" in gone.says
    assert narrow(42, size=4194304).says.endswith("this is a lead, and no answer.")


def test_a_pin_that_is_not_there_is_refused() -> None:
    with refuses(UsageError, "usage", "the chip has no such pin"):
        narrow(24, measured={25: "bus"})


def test_width_and_rows_narrow_it_as_well() -> None:
    assert {one.bits for one in narrow(18, bits=4).candidates} == {4}
    assert "X2212" not in [one.part for one in narrow(22, inch=0.3).candidates]
    assert {one.part for one in narrow(22, inch=0.4).candidates} == {"5101", "6551"}
    assert "93C46" in [one.part for one in narrow(8, bits=8).candidates]   # as wide as ORG makes it


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(sorted(ROWS)), st.data())
def test_the_chip_itself_always_stands_what_a_plain_board_shows(part: str, data: st.DataObject) -> None:
    """Whatever is measured where its own pins expect it, it is never ruled out, and no other is likelier."""
    chip = chips.find(part)
    pins = data.draw(st.lists(st.integers(1, chip.pins), unique=True, max_size=6))
    measured = {pin: what for pin in pins if (what := expected_at(chip, pin)) is not None}
    found = narrow(chip.pins, size=chip.bytes, measured=measured)
    shares = {one.part: one.score for one in found.candidates}
    assert shares[part] == max(shares.values())


@given(st.sampled_from(sorted(ROWS)), st.data(), st.sampled_from(sorted(MEASURED)))
def test_a_supply_or_an_output_is_never_explained_away(part: str, data: st.DataObject, found: str) -> None:
    chip = chips.find(part)
    pin = data.draw(st.integers(1, chip.pins))
    kind = kind_of(chip, pin)
    if kind in ("ground", "supply", "other-supply", "data"):
        assert speaks_against(chip, pin, found) == (expected_at(chip, pin) != found)   # type: ignore[arg-type]
    if kind in ("input", "none"):
        assert not speaks_against(chip, pin, found)   # type: ignore[arg-type]
