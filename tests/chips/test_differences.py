"""Makers' parts of one number that differ, the order of supplies, and what a chip's figures rest on."""

from __future__ import annotations

from dataclasses import replace

import pytest

from imagekeeper.chips import find
from imagekeeper.chips.differences import dangers, differing
from imagekeeper.chips.power import order_cautions, order_steps
from imagekeeper.chips.sourcing import DECISIVE, on_memory
from imagekeeper.errors import NotFoundError
from imagekeeper.planning.chip import erasing_text
from imagekeeper.tables import Cited
from imagekeeper.tables.chips import Signature, chip_rows
from imagekeeper.tables.makers import MakerRow
from imagekeeper.tables.volts import Volts
from tests.benchmarks.sourcing import shares

ONE = MakerRow(chip="T64", maker="One", sources=(Cited("sheet", ()),))
OTHER = replace(ONE, maker="Other")


@pytest.mark.parametrize(
    ("one", "other", "says"),
    [
        ({"vpp_v": Volts((21.0,))}, {"vpp_max_v": 14.0}, "the Vpp of 21 V that One's part takes is past the 14 V"),
        ({"vpp_v": Volts((21.0,))}, {"vpp_v": Volts((12.5,))}, "One's part takes a Vpp of 21 V, and Other's 12.5 V"),
        ({"vcc_programming_v": Volts((6.0,))}, {"vcc_max_v": 6.0}, "the Vcc of 6 V that One's part takes is the limit"),
        ({"methods": ("fixed-50ms",)}, {"methods": ("fixed-10ms",)}, "One's part takes pulses of 45 ms or more"),
    ],
)  # fmt: skip
def test_what_one_makers_part_takes_may_destroy_anothers(
    one: dict[str, object], other: dict[str, object], says: str
) -> None:
    pair = (replace(ONE, **one), replace(OTHER, **other))
    assert [text.startswith(says) for text in dangers(pair)] == [True]
    assert dangers(reversed(pair)) == dangers(pair)
    assert dangers(pair[:1]) == ()


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ({"vpp_v": Volts((13.0,))}, {"vpp_v": Volts((12.5,)), "vpp_max_v": 13.5}),
        ({"vpp_v": Volts((14.0,))}, {"vpp_max_v": 14.0}), ({"vpp_v": Volts((15.5,))}, {"vpp_v": Volts((12.5,))}),
        ({"vcc_programming_v": Volts((5.0,))}, {"vcc_max_v": 5.0}),
        ({"vcc_programming_v": Volts((6.25,)), "vcc_max_v": 6.25}, {"vcc_max_v": 6.25}),
        ({"methods": ("fixed-50ms",)}, {"methods": ("adaptive-1ms-times-4",)}),
    ],
)  # fmt: skip
def test_what_differs_without_harm_is_no_danger(one: dict[str, object], other: dict[str, object]) -> None:
    assert dangers((replace(ONE, **one), replace(OTHER, **other))) == ()


def test_what_makers_differ_in_is_named() -> None:
    pair = (replace(ONE, methods=("loops",)), replace(OTHER, methods=("fixed-50ms",)))
    assert differing(pair) == ("methods",)
    assert differing((ONE, OTHER)) == ()
    codes = [Signature("One", "01 02", None, ()), Signature("Other", "03 04", None, ())]
    assert differing((), codes) == ("signatures",)
    assert differing((), [codes[0], replace(codes[1], maker="One")]) == ()   # an older and a newer chip of one maker
    assert differing((replace(ONE, vpp_v=Volts((12.5,))), OTHER)) == ()   # of the other nothing was seen
    assert find("27C010").makers_differ_in == ("vpp_v", "vcc_programming_v", "methods", "signatures")


def test_what_makers_differ_in_is_not_filled_in_for_one_whose_sheet_does_not_say() -> None:
    """Of Microchip's 27C512A the limits were seen, page 2: which of the other makers' voltages it takes, was not."""
    chip = find("27C512", "Microchip")
    assert find("27C512").vpp_kind == "any"
    assert (chip.vpp_v, chip.vpp_kind, chip.methods, chip.vpp_max_v) == ((), None, (), (14.0,))
    # what all makers' parts have in common stays
    assert find("27C020", "SGS-Thomson").words == 262144


def test_with_its_maker_a_chip_has_that_makers_signature_only() -> None:
    """Texas Instruments, TMS27C128, page 5: 97 83."""
    assert [one.code for one in find("27C128", "TI").its_signatures] == ["97 83"]
    assert len(find("27C128").its_signatures) == len(find("27C128").signatures) > 1
    assert find("27C256", "Fairchild").its_signatures == ()


def test_an_unlisted_maker_is_not_guessed_at() -> None:
    for maker in ("NEC", "Fujitsu"):
        with pytest.raises(NotFoundError, match="that maker's sheet of a 27C64 is not in the table"):
            find("27C64", maker)


# --- the order of supplies ---


def test_minus_five_volts_come_first_and_go_last() -> None:
    early = [row for row in chip_rows().values() if row.supplies_v.get("Vbb", 0) < 0]
    assert {"2704", "2708", "2716-three-supply"} <= {row.id for row in early}
    for row in early:
        first = order_cautions(row)[0]
        assert first.startswith("Vbb -5 V on first and off last (from memory)")
        assert "destroys" in first
        assert order_steps(row)[0].endswith("off: Vbb last (order from memory).")


def test_vcc_comes_before_vpp_and_goes_after_it() -> None:
    """SGS-Thomson, M2716, M2732A and M27256; Intel, 27128; Texas Instruments, TMS2532: notes below their tables."""
    for part in ("2716", "2732A", "27256", "27128", "2532", "27C400"):
        assert order_cautions(chip_rows()[part])[0].startswith("Vcc on before Vpp or with it, Vpp off before Vcc")
        assert "Vcc first" in order_steps(chip_rows()[part])[0]
        assert "programming voltage only to program" in order_steps(chip_rows()[part])[0]   # it is blank checked first
    for part in ("28C64", "6116", "82S123", "2332", "29F040"):
        assert order_cautions(chip_rows()[part]) == order_steps(chip_rows()[part]) == ()
    assert "not in the table" in order_cautions(chip_rows()["1702A"])[0]
    assert "Vbb" not in order_cautions(chip_rows()["1702A"])[0]


def test_dangers_stand_before_all_other_cautions() -> None:
    for part in chip_rows():
        grave = ["destroys" in text or "taken back" in text for text in find(part).cautions]
        assert grave == sorted(grave, reverse=True), part


# --- latches ---


def test_a_chip_that_latches_the_address_says_that_a_read_with_ce_low_repeats_one_byte() -> None:
    """Toshiba, TMM23256P, pages 529-531; NEC, uPD23128, page 131: the address is taken in as /CE falls."""
    assert {find(part).latches_address for part in ("23128", "23256")} == {"some"}
    for part, row in chip_rows().items():
        told = [text for text in find(part).cautions if "one byte over and over, equally in every pass" in text]
        assert len(told) == (row.latches_address is not None)
        assert all(("Some makers' parts" in text) == (row.latches_address == "some") for text in told)
    assert find("27256").latches_address is None


# --- what rests on memory ---


def test_what_is_from_memory_is_named() -> None:
    assert "Vpp" in on_memory(find("2816"))
    assert on_memory(find("2564")) == ()
    guessed = replace(find("2564"), unsourced=("vpp_v", "note", "pins 1-4", "access_ns"))
    assert on_memory(guessed) == ("Vpp", "pins 1-4")


def test_the_shares_are_counted() -> None:
    found = shares()
    assert list(found) == [*DECISIVE.values(), "pin signals"]
    assert all(0 < seen <= every <= len(chip_rows()) for seen, every in found.values())
    assert found["words"][1] == found["pin signals"][1] == len(chip_rows()) > found["Vpp"][1]
    sourced = sum(bool(row.vpp_v) and "vpp_v" not in row.unsourced for row in chip_rows().values())
    assert found["Vpp"][0] == sourced


# --- what every sheet is made from ---


def test_only_what_light_erases_has_minutes_under_a_lamp() -> None:
    for part in chip_rows():
        chip = find(part)
        assert (erasing_text(chip, 12, 2.5) is not None) == chip.erased_by_light == bool(chip.erase_dose_ws_cm2), part


def test_the_time_to_program_is_told_for_the_very_chip_and_for_each_maker() -> None:
    """Texas Instruments, TMS2532, pages 145-146: 200 s for 4096 bytes; the middle of the pulse times the words."""
    seen = 0
    for part in chip_rows():
        ways = (*find(part).methods, *(way for one in find(part).makers for way in one.methods))
        for way in ways:
            if way.most_pulses == 1:
                took = chip_rows()[part].words * sum(way.pulse_us) / 2e6
                assert way.says.endswith(f"all {chip_rows()[part].words} bytes take {took:.0f} s."), part
                seen += 1
    assert seen > 5
