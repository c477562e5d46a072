"""The solver comes to the answers that others have published, or that are the trade's common knowledge.

Each row names its source. "From memory" is common knowledge that no document at hand confirms. Where data sheets are
named, the answer follows from their pinouts, on the page named.
"""

from __future__ import annotations

import pytest

from imagekeeper import chips
from imagekeeper.errors import UsageError
from imagekeeper.substitution import Fit, fit, substitutes
from imagekeeper.substitution.lines import not_judged
from imagekeeper.substitution.seating import seatable
from imagekeeper.tables.chips import chip_rows


def moved(one: Fit) -> dict[int, tuple[int, ...]]:
    """The pins of the chip that are not wired straight down, and where they go."""
    return {wire.chip_pin: wire.socket_pins for wire in one.wires if not wire.straight}


# socket, chip, verdict, the part of the chip that is seen, how much is missing [word]
@pytest.mark.parametrize(
    ("socket", "chip", "verdict", "part", "short"),
    [
        # SGS-Thomson, M2716, July 1994, page 1, and Texas Instruments, TMS2732A, February 1988, page 1: +5 V into A11
        ("2716", "2732A", "image-placed", "upper half", 0),
        ("2716", "2732", "image-placed", "upper half", 0),
        # STMicroelectronics, M28C16, November 1997: /WE where the 2716 has Vpp at +5 V
        ("2716", "28C16", "drops-in", "all", 0),
        # from memory: which levels the mask must have
        ("2716", "2316", "drops-in", "all", 0),
        # M2716 and TMS2732A: the board's A11 would reach Vpp; lifted and tied to +5 V, half the program is there
        ("2732", "2716", "straps", "all", 2048),
        # classiccmp, December 2005, on 2532 and 2732
        ("2732", "2532", "adapter", "all", 0),
        ("2732", "2332", "adapter", "all", 0),
        ("2532", "2732A", "adapter", "all", 0),
        ("2332", "2732A", "adapter", "all", 0),
        # classiccmp, September 2015, on the 24-pin 2364, MCM68764 and MCM68766
        ("2364", "2764", "adapter", "all", 0),
        ("2364", "68764", "drops-in", "all", 0),
        ("2364", "68766", "drops-in", "all", 0),
        # from memory: pins 2, 20, 22, 23, 26 and 27 all differ
        ("2564", "2764", "adapter", "all", 0),
        # Texas Instruments, SMLS128E, page 1, and STMicroelectronics, M27C64A, page 1: nothing reaches A13
        ("2764", "27128", "straps", "lower half", 0),
        # SMLS128E and SMLS256H, page 1: Vcc into A14
        ("27128", "27256", "image-placed", "upper half", 0),
        # the same, and M27C64A: A14 at Vcc, A13 to be tied
        ("2764", "27256", "straps", "quarter 4 of 4", 0),
        # SMLS256H and SMLS512G, page 1: Vcc into A15
        ("27256", "27512", "image-placed", "upper half", 0),
        # the same: A15 would reach Vpp; lifted and tied, the image appears twice
        ("27512", "27256", "straps", "all", 32768),
        # Atmel, AT28C256, 0006H: pins 1 and 27 exchanged, /WE to be held high
        ("27256", "28C256", "adapter", "all", 0),
        # Atmel, AT29C256, 0046O: Vcc into /WE
        ("27256", "29C256", "drops-in", "all", 0),
        # Atmel, AT28C64, 0001H: Vcc into READY and /WE
        ("2764", "28C64", "drops-in", "all", 0),
        # Atmel, AT27C010, 0321J, and AT28C010, 0353E; the pins of the flash chips from memory
        ("27C010", "29F010", "drops-in", "all", 0),
        ("27C010", "39SF010A", "drops-in", "all", 0),
        ("27C010", "28C010", "drops-in", "all", 0),
        # Hitachi, HN27C101A and HN27C301A, December 1995: pins 2 and 24 exchanged
        ("27C010", "27C301", "adapter", "all", 0),
        # Texas Instruments, SMLS020C, page 1, and AT27C010: nothing reaches A17
        ("27C010", "27C020", "straps", "lower half", 0),
        # Texas Instruments, SMLS020C and SMLS040F, page 1: Vcc into A18
        ("27C020", "27C040", "image-placed", "upper half", 0),
        # SMLS020C; the pins of the flash chip from memory
        ("27C020", "39SF020A", "drops-in", "all", 0),
        # SMLS040F; the pins of the flash chips from memory: cross 1 and 31
        ("27C040", "29F040", "adapter", "all", 0),
        ("27C040", "39SF040", "adapter", "all", 0),
        # SMLS040F, and STMicroelectronics, M27C801, March 2000, page 1: Vcc into A19
        ("27C040", "27C080", "image-placed", "upper half", 0),
    ],
)  # fmt: skip
def test_a_published_verdict(socket: str, chip: str, verdict: str, part: str, short: int) -> None:
    one = fit(socket, chip)
    assert one.image is not None
    assert (one.verdict, one.image.part, one.short) == (verdict, part, short)


# What the rows above say is dangerous as it is: the pin, and the words that must be there.
@pytest.mark.parametrize(
    ("socket", "chip", "says"),
    [
        # SGS-Thomson, M2716, page 1, and Retrocmp's page on the 2708 (pin 19); pin 21 from memory
        ("2716", "2708", "pin 19: Vdd needs +12 V"), ("2716", "2708", "pin 21: Vbb needs -5 V"),
        ("2716", "TMS2716", "pin 19: Vdd needs +12 V"),
        # classiccmp, post on what to watch among EPROM types: +12 V and -5 V destroy the 2716 of 5 V
        ("2708", "2716", "pin 19: +12 V would reach A10"), ("2708", "2716", "pin 21: -5 V would reach Vpp"),
        ("TMS2716", "2716", "pin 19: +12 V would reach A10"), ("TMS2716", "2716", "pin 21: -5 V would reach Vpp"),
        ("2732", "2716", "pin 21: Vpp would follow the address line A11"),
        ("2732", "2532", "pin 21: Vpp would follow the address line A11"),
        ("27512", "27256", "pin 1: Vpp would follow the address line A15"),
        ("27256", "28C256", "pin 27: /WE would be pulled low by A14: reading would write"),
        ("27C040", "29F040", "pin 31: /WE would be pulled low by A18: reading would write"),
        ("27C040", "39SF040", "pin 31: /WE would be pulled low by A18: reading would write"),
        ("27C010", "27C301", "it ignores the board's /OE (pin 24)"),
        ("2564", "2764", "it ignores the board's /CS1 (pin 2)"),
    ],
)  # fmt: skip
def test_a_published_danger(socket: str, chip: str, says: str) -> None:
    one = fit(socket, chip)
    assert any(text.startswith(says) for text in one.dangers), one.dangers
    assert one.verdict in ("straps", "adapter", "never")


@pytest.mark.parametrize("chip", ["2708", "TMS2716"])
def test_chips_of_three_supplies_never_go_where_there_is_one(chip: str) -> None:
    """SGS-Thomson, M2716, July 1994, page 1: 5 V alone. Retrocmp, page on the 2708: pin 19 takes +12 V."""
    one = fit("2716", chip)
    assert (one.verdict, one.image, one.wires) == ("never", None, ())
    assert not one.whole


# The wires that published adapters have; all other pins go straight down.
@pytest.mark.parametrize(
    ("socket", "chip", "tied", "wires"),
    [
        # classiccmp, December 2005: the 2732's A11 from pin 18, both its enables from pin 20
        ("2532", "2732A", {}, {18: (20,), 21: (18,)}),
        # the same for a 2332 whose second select the board holds at a level, as for a 2532
        ("2332", "2732A", {21: "high"}, {18: (20,), 21: (18,)}),
        # the same post, the other way round: A11 from 21, the enable from 18 and 20 joined, Vpp to +5 V
        ("2732", "2532", {}, {18: (21,), 20: (18, 20), 21: (24,)}),
        # classiccmp, September 2015: A11 from 18, A12 from 21, the enable from 20, Vpp, /PGM and Vcc from 24
        ("2364", "2764", {}, {1: (24,), 2: (21,), 20: (20,), 23: (18,), 27: (24,), 28: (24,)}),
        # Atmel, AT28C256, 0006H, against SMLS256H, page 1
        ("27256", "28C256", {}, {1: (27,), 27: (28,)}),
        # SMLS040F, page 1; pins of the flash chips from memory
        ("27C040", "29F040", {}, {1: (31,), 31: (32,)}),
        ("27C040", "39SF040", {}, {1: (31,), 31: (32,)}),
        # Hitachi, HN27C101A and HN27C301A, December 1995
        ("27C010", "27C301", {}, {2: (24,), 24: (2,)}),
        # straps: M2716 against TMS2732A, SMLS256H against SMLS512G, pages 1; Vpp to +5 V
        ("2732", "2716", {}, {21: (24,)}),
        ("27512", "27256", {}, {1: (28,)}),
        # from memory, an old change of many boards: A10 of the 2716 to ground, Vpp to +5 V
        ("2708", "2716", {}, {19: (12,), 21: (24,)}),
    ],
)  # fmt: skip
def test_published_wires(socket: str, chip: str, tied: dict[int, str], wires: dict[int, tuple[int, ...]]) -> None:
    one = fit(socket, chip, tied=tied)  # type: ignore[arg-type]
    assert moved(one) == wires


def test_both_enables_of_a_2764_may_hang_on_the_one_select_of_a_2364() -> None:
    """Classiccmp, September 2015: pin 22 to ground or to pin 20; ours is pin 20, where it sits already."""
    one = fit("2364", "2764")
    assert {wire.chip_pin: wire.socket_pins for wire in one.wires if wire.chip_signal in ("/CE", "/OE")} == {
        20: (20,), 22: (20,),
    }  # fmt: skip
    assert one.conditions == ("the mask made the original's CS1 active low",)
    assert any("answer later" in text for text in one.cautions)


def test_two_enables_of_the_board_are_joined_by_a_gate_for_a_chip_of_one() -> None:
    """Classiccmp, December 2005: the 2532's enable from pin 18, or from 18 OR 20; without the gate it ignores /OE."""
    one = fit("2732", "2532")
    assert [wire.gate for wire in one.wires if wire.chip_pin == 20] == ["OR"]
    assert one.additions == ("an OR gate for the lines of socket pins 18 and 20",)


def test_a_mask_rom_in_the_place_of_an_eprom_depends_on_its_mask() -> None:
    """From memory: a 2316 stands for a 2716 if pins 18 and 20 are active low and pin 21 is active high."""
    assert fit("2716", "2316").conditions == (
        "the mask made the chip's CS2 active low", "the mask made the chip's CS1 active low",
        "the mask made the chip's CS3 active high",
    )  # fmt: skip
    # Synertek, data book 1981-1982: the 2332 copies the 2532, the 2333 the 2732
    assert fit("2532", "2332").verdict == fit("2732", "2333").verdict == "drops-in"
    # classiccmp, September 2015
    assert fit("2364", "68764").conditions == ("the mask made the original's CS1 active low",)


def test_an_unconnected_pin_that_the_board_ties_to_vcc_shows_the_upper_part() -> None:
    """M27C64A, page 1: pin 26 is unconnected. Classiccmp, October 2015: boards for 24 and 28 pins tie it to Vcc."""
    one, two = fit("2764", "27128", tied={26: "high"}), fit("2764", "27256", tied={26: "high"})
    assert one.image is not None
    assert two.image is not None
    assert (one.verdict, one.image.part) == ("image-placed", "upper half")
    assert (two.verdict, two.image.part) == ("image-placed", "quarter 4 of 4")


def test_pins_of_a_24_pin_chip_in_a_28_pin_socket() -> None:
    """Classiccmp, December 2005 and October 2015: at the ground end, pin n in pin n + 2; its Vcc then is in pin 26."""
    one = fit("2764", "2716")
    assert {m.chip_pin: m.socket_pin for m in one.meetings}[24] == 26
    tied = fit("27C64", "2716", tied={26: "high"})
    assert all(m.chip_pin != 24 or m.outcome == "idle" for m in tied.meetings)


def test_a_larger_chip_overhangs_a_smaller_socket() -> None:
    """The same rule the other way round: pins 1, 2, 27 and 28 of 28 hang over a 24-pin socket."""
    one = fit("2364", "2764")
    assert {m.chip_pin for m in one.meetings if m.socket_pin is None} == {1, 2, 27, 28}


def test_a_faster_chip_replaces_a_slower_one_and_not_the_other_way_round() -> None:
    """Times: STMicroelectronics, M28C16, November 1997 (90 ns); the 2732 from memory (450 ns)."""
    assert fit("2716", "28C16", access_ns=100).fast_enough is True
    assert fit("2716", "28C16", access_ns=80).fast_enough is False
    assert fit("2716", "2732", access_ns=200).fast_enough is False
    assert fit("2716", "27C32", access_ns=200).fast_enough is None
    slow = [one for one in substitutes("2716", access_ns=100).fits if one.fast_enough is False]
    assert slow
    assert not any(one.whole for one in slow)


def test_open_collector_outputs_need_resistors_and_replace_with_a_condition() -> None:
    """Signetics, Bipolar memories, 1973: the 82S23 is open-collector, the 82S123 three-state."""
    one, other = fit("82S123", "82S23"), fit("82S23", "82S123")
    assert (one.verdict, other.verdict) == ("straps", "drops-in")
    assert one.additions[0].startswith("a resistor of 1 to 4.7 kohm from every output to +5 V (from memory)")
    assert other.conditions[0].startswith("no other chip drives the same data lines")


@pytest.mark.parametrize(
    ("socket", "chip", "why"),
    [
        ("2716", "6116", "forgets"), ("2716", "48T02", "clock"), ("6116", "2716", "RAM"),
        ("2716", "27C1024", "16 bits"), ("2716", "82S129", "4 bits"),
        ("2716", "146818", "share its pins"), ("146818", "2716", "share its pins"),
    ],
)  # fmt: skip
def test_what_cannot_be_compared_at_all_is_said(socket: str, chip: str, why: str) -> None:
    with pytest.raises(UsageError) as caught:
        fit(socket, chip)
    assert caught.value.code == "does-not-fit"
    assert why in caught.value.why
    assert chip in substitutes(socket).not_compared


@pytest.mark.parametrize("pin", [0, 1, 9, 12, 24, 25, -3])
def test_only_pins_that_carry_no_signal_or_supply_can_be_tied(pin: int) -> None:
    with pytest.raises(UsageError) as caught:
        fit("2716", "2732", tied={pin: "high"})
    assert caught.value.code == "usage"
    assert f"pin {pin} of the 2716" in caught.value.why


def test_the_ranking_puts_ease_first_then_what_can_be_had() -> None:
    found = substitutes("27256")
    order = {one.part: n for n, one in enumerate(found.fits)}
    # drops in and still made; drops in, surplus; the image placed; an adapter; too small
    assert order["27C256"] < order["29C256"] < order["27512"] < order["28C256"] < order["2764"]
    assert [one.score for one in found.fits] == sorted((one.score for one in found.fits), reverse=True)
    for one in found.fits:
        assert 0 <= one.score <= 1
        assert one.score == pytest.approx(min(1, max(0, sum(e.weight for e in one.evidence))), abs=1e-3)


def test_a_16_bit_chip_in_the_other_kind_of_socket() -> None:
    """STMicroelectronics, M27C400, May 1999, pages 1-2: its pinout is a mask ROM's, not that of the 27C4096."""
    one = fit("27C4096", "27C400")
    assert one.verdict == "adapter"
    assert one.dangers


# The 2816 of the first generation: 21 V on pin 21 writes it. From memory, no maker's sheet was seen; that a 2816A and a
# 28C16 take 5 V alone and have /WE there: STMicroelectronics, M28C16, November 1997.
@pytest.mark.parametrize("chip", [one for one in chip_rows() if one not in ("2816", "146818")])
def test_nothing_takes_the_21_v_of_a_2816(chip: str) -> None:
    """Pin 21 of its socket reaches no pin of any other chip, and the answer says why."""
    try:
        one = fit("2816", chip)
    except UsageError:
        return   # cannot be compared, so nothing is offered
    assert one.verdict in ("straps", "adapter", "never")
    if one.verdict != "never":
        assert all(21 not in wire.socket_pins for wire in one.wires)
    seated = seatable(chips.find(chip), chips.find("2816"))
    assert any("+21 V would reach" in text for text in one.dangers) == seated


def test_whatever_stands_in_for_a_2816_names_its_danger() -> None:
    found = substitutes("2816")
    assert found.says.startswith("Nothing simply drops in.")
    assert "written and erased with 21 V on pin 21" in found.cautions[0]
    assert "pin 21: +21 V would reach /WE" in fit("2816", "2816A").dangers[0]
    # a board whose pin 21 was measured, and stays at +5 V: said so, and still named
    measured = fit("2816", "28C16", tied={21: "high"})
    assert (measured.verdict, measured.dangers) == ("drops-in", ())
    assert any("settings will not be kept" in text for text in measured.cautions)


@pytest.mark.parametrize("socket", [one for one in chip_rows() if one not in ("2816", "146818")])
def test_a_2816_in_the_socket_of_another_names_its_danger(socket: str) -> None:
    try:
        one = fit(socket, "2816")
    except UsageError:
        return
    if one.verdict == "never":
        return
    assert any("written and erased with 21 V on pin 21" in text for text in one.cautions)
    wires = {wire.chip_pin: wire.socket_pins for wire in one.wires}
    met = [chips.find(socket).signals_at(pin)[0] for pin in wires.get(21, (21,))]
    assert set(met) <= {"Vpp", "Vcc", "/PGM"}   # never a line that the machine moves
    assert ("Vpp" in met) <= any("puts more than +5 V" in text for text in one.conditions)


RAMS = [row.id for row in chip_rows().values()
        if row.carrier in ("ram", "clock-ram") and not_judged(chips.find(row.id)) is None]  # fmt: skip


@pytest.mark.parametrize("socket", RAMS)
def test_a_ram_can_be_written_where_a_ram_was(socket: str) -> None:
    """Its /WE is joined to the board's: Hitachi, HM6264, and MHS, HM6116, March 1994, give both pins (27 and 21)."""
    board = chips.find(socket).pin_of("/WE")
    for one in substitutes(socket).fits:
        chip = chips.find(one.part)
        pin = chip.pin_of("/WE")
        assert pin is not None
        wires = {wire.chip_pin: wire.socket_pins for wire in one.wires}
        seat = pin + (chips.find(socket).pins - chip.pins) // 2
        assert one.verdict != "never"
        assert wires.get(pin, (seat,)) == (board,), one.part
        assert "/WE) to +5 V" not in one.says


def test_write_lines_that_must_be_joined_or_held() -> None:
    """Atmel, AT28C256, 0006H, and AT28C64, 0001H: /WE on 27. Flash takes other commands than EEPROM (from memory)."""
    assert moved(fit("28C64", "28C16"))[21] == (27,)
    assert moved(fit("27256", "28C256"))[27] == (28,)   # nothing writes to a 27256: /WE is held high
    flash = fit("28C010", "29F010")
    assert any("written by other commands" in text for text in flash.cautions)
    lost = fit("28C64", "2764")
    assert any("settings will not be kept" in text for text in lost.cautions)


def test_a_chip_that_is_erased_electrically_is_sent_to_no_lamp() -> None:
    """Winbond, W27C512, revision A4, November 1999, page 1: 14 V erases it, and its pins are those of a 27512."""
    found = substitutes("27512", "W27C512")
    assert found.fits[0].verdict == "drops-in"
    assert any("erased electrically" in text and "never with a lamp" in text for text in found.fits[0].cautions)
    assert not any("ultraviolet" in text for text in found.cautions)
    assert any("ultraviolet" in text for text in substitutes("27512", "27C512").cautions)
