"""What each pin is while a chip is read: one pin of every kind, of chips whose sheets the table of pinouts names."""

from __future__ import annotations

from dataclasses import replace

import pytest

from imagekeeper.chips import find
from imagekeeper.substitution.lines import NOTHING, PinRole, lines_of


def role(chip: str, pin: int, *, given: bool = False) -> PinRole:
    return lines_of(find(chip), given=given)[pin - 1]


PINS = [
    # lines
    ("2716", 8, PinRole(kind="address", name="A0", number=0)), ("2716", 19, PinRole(
        kind="address", name="A10", number=10
    )),
    ("2716", 17, PinRole(kind="data", name="D7", number=7)),
    # a select is active at one level; where the mask chose the level, nobody knows it
    ("2732", 18, PinRole(kind="select", name="/CE")), ("2532", 20, PinRole(kind="select", name="/CE")),
    ("2708", 20, PinRole(kind="select", name="/CS")),
    ("2732", 20, PinRole(kind="select", name="/OE", output=True)), ("82S129", 13, PinRole(kind="select", name="/CE1")),
    ("2564", 27, PinRole(kind="select", name="/CS2")), ("82S181", 18, PinRole(
        kind="select", name="CE4", active="high"
    )),
    ("2316", 20, PinRole(kind="select", name="CS1", active="mask")),
    ("23256", 20, PinRole(kind="select", name="/CE or CS1", active="mask")),
    ("23256", 22, PinRole(kind="select", name="/OE or CS2", active="mask", output=True)),
    # supplies
    ("2716", 24, PinRole(kind="supply", name="Vcc", volts=5.0)), ("2708", 19, PinRole(
        kind="supply", name="Vdd", volts=12.0
    )),
    ("2708", 21, PinRole(
        kind="supply", name="Vbb", volts=-5.0
    )), ("1702A", 16, PinRole(kind="supply", name="Vgg", volts=-9.0)),
    ("2708", 12, PinRole(kind="ground", name="GND")),
    # held at a level: Vpp and /PGM at Vcc; the program pin of the early three-supply chips at ground, of the 1702A not
    ("2716", 21, PinRole(kind="level", name="Vpp")), ("2764", 27, PinRole(kind="level", name="/PGM")),
    ("2708", 18, PinRole(kind="level", name="PGM", level="low")), ("1702A", 13, PinRole(kind="level", name="PGM")),
    ("1702A", 15, PinRole(kind="level", name="Vbb")), ("27C400", 31, PinRole(kind="level", name="/BYTE")),
    ("146818", 18, PinRole(kind="level", name="/RESET")),
    # what a board writes with
    ("28C64", 27, PinRole(kind="level", name="/WE", writes=True)), ("2816", 21, PinRole(
        kind="level", name="Vpp", pulse_v=21.0
    )),
    # the word or byte select of 16-bit chips shares its pin with D15; a clock's bus carries addresses and data in turn
    ("27C400", 29, PinRole(kind="data", name="D15", number=15)), ("146818", 4, PinRole(kind="unknown", name="D0 A0")),
    ("146818", 14, PinRole(kind="unknown", name="AS")),
    # what one maker connects and another does not: it is needed, unless the mask chose what it does
    ("6264", 26, PinRole(
        kind="select", name="CE2", active="high"
    )), ("29F020", 1, PinRole(kind="level", name="/RESET")),
    ("28C64", 1, PinRole(kind="ready", name="READY")), ("23256", 1, NOTHING), ("2764", 26, NOTHING),
]  # fmt: skip


@pytest.mark.parametrize(("chip", "pin", "expected"), PINS, ids=[f"{chip}-{pin}" for chip, pin, _ in PINS])
def test_what_a_pin_is(chip: str, pin: int, expected: PinRole) -> None:
    assert role(chip, pin) == expected


def test_a_socket_does_not_give_what_some_makers_leave_open() -> None:
    """A board for a 29F020 need not drive pin 1; one for a 6264 drives the pin that most makers have as CE2."""
    assert role("29F020", 1, given=True) == NOTHING
    assert role("6264", 26, given=True) == role("6264", 26)
    assert lines_of(find("29F020"), given=False) != lines_of(find("29F020"), given=True)
    assert lines_of(find("29F020")) == lines_of(find("29F020"), given=False)


def test_the_highest_voltage_that_a_board_may_put_on_a_pin_counts() -> None:
    chip = replace(find("2816"), vpp_v=(12.5, 21.0, 15.0))
    assert lines_of(chip)[20].pulse_v == 21.0


def test_a_role_has_no_number_voltage_or_pulse_unless_it_is_given_one() -> None:
    plain = PinRole(kind="select", name="/CE")
    assert (plain.number, plain.active, plain.volts, plain.level) == (-1, "low", 0.0, "high")
    assert (plain.writes, plain.pulse_v) == (False, 0.0)


#: kind of pin: is it at Vcc, at ground, at another supply, driven by the board
LEVELS = [
    (PinRole(kind="address", name="A0", number=0), (False, False, False, True)),
    (PinRole(kind="data", name="D0", number=0), (False, False, False, False)),
    (PinRole(kind="select", name="/CE"), (False, False, False, True)),
    (PinRole(kind="supply", name="Vcc", volts=5.0), (True, False, False, False)),
    (PinRole(kind="supply", name="Vdd", volts=12.0), (False, False, True, False)),
    (PinRole(kind="supply", name="Vbb", volts=-5.0), (False, False, True, False)),
    (PinRole(kind="ground", name="GND"), (False, True, False, False)),
    (PinRole(kind="level", name="Vpp"), (True, False, False, False)),
    (PinRole(kind="level", name="PGM", level="low"), (False, True, False, False)),
    (PinRole(kind="level", name="/WE", writes=True), (True, False, False, True)),
    (PinRole(kind="ready", name="READY"), (False, False, False, False)),
    (PinRole(kind="unknown", name="AS", volts=5.0, level="low"), (False, False, False, False)),
    (NOTHING, (False, False, False, False)),
]


@pytest.mark.parametrize(("pin", "expected"), LEVELS, ids=[str(pin) for pin, _ in LEVELS])
def test_at_what_a_pin_is(pin: PinRole, expected: tuple[bool, bool, bool, bool]) -> None:
    assert (pin.high, pin.low, pin.odd, pin.driven) == expected


def test_a_pin_in_words() -> None:
    words = ["A0", "/CE", "Vdd +12 V", "Vbb -5 V", "Vpp (at Vcc)", "PGM (at GND)", "/WE", "no connection"]
    pins = [
        PinRole(kind="address", name="A0", number=0), PinRole(kind="select", name="/CE"), PinRole(
            kind="supply", name="Vdd", volts=12.0
        ),
        PinRole(
            kind="supply", name="Vbb", volts=-5.0
        ), PinRole(kind="level", name="Vpp"), PinRole(kind="level", name="PGM", level="low"),
        PinRole(kind="level", name="/WE", writes=True), NOTHING,
    ]  # fmt: skip
    assert [str(pin) for pin in pins] == words
    assert str(PinRole(kind="level", name="Vpp", pulse_v=21.0)) == "Vpp (at Vcc; +21 V to write)"
