"""The simulated bus: it sees every wrong wire, knows nothing of the solver, and what it contradicts is refused."""

from __future__ import annotations

import ast
import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import imagekeeper.substitution.simulation as simulation
from imagekeeper import chips, substitution
from imagekeeper.chips import Chip
from imagekeeper.errors import UsageError
from imagekeeper.present.text.substitution import substitute_text, substitutes_text
from imagekeeper.substitution import Fit, fit, proving, substitutes
from imagekeeper.substitution.proofs import Flaw
from imagekeeper.substitution.results import Wire
from imagekeeper.substitution.seating import seatable
from imagekeeper.substitution.simulation import Rig
from imagekeeper.tables.chips import chip_rows

pytestmark = pytest.mark.long

#: Pairs of every kind: straps, crossed lines, gates, inverters, masks, RAM, EEPROM, three supplies, open outputs, two
#: chips for one socket, and 16 bits read by bytes.
PAIRS = [
    ("2532", "2732A"), ("2732", "2532"), ("2364", "2764"), ("2564", "2764"), ("27256", "28C256"), ("2716", "82S191"),
    ("82S191", "2716"), ("6116", "6264"), ("6264", "6116"), ("6264", "62256"), ("28C64", "28C16"), ("28C64", "2764"),
    ("27512", "27256"), ("27C010", "27C301"), ("27C1024", "27C512"), ("27C040", "27C400"), ("2708", "2716"),
    ("82S123", "82S23"), ("27C4096", "27C400"), ("2332", "2732A"),
]  # fmt: skip


def flaws_of(one: Fit, chip: Chip, socket: Chip) -> tuple[Flaw, ...]:
    return proving.tried(one, chip, Rig(socket)).flaws


def pin(number: int, chip: str) -> str:
    return chips.find(chip).signals_at(number)[0]


def test_it_knows_nothing_of_the_solver() -> None:
    """An opinion of its own: none of the modules that come to a verdict is imported, nor what these rest on."""
    allowed = {"proofs", "results", "simulation"}
    used = set()
    for path in Path(simulation.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("imagekeeper.substitution."):
                used.add((node.module or "").split(".")[2])
    assert used == allowed


@pytest.mark.parametrize(("socket", "chip"), PAIRS)
def test_what_is_proposed_runs_without_fault(socket: str, chip: str) -> None:
    one = fit(socket, chip)
    done = one.simulation
    assert done is not None
    assert done.flaws == ()
    assert done.cycles == sum(done.kinds.values())
    assert done.kinds["read"] > 2 * len(chips.find(socket).address_lines)


def altered(one: Fit, socket: Chip) -> Iterator[tuple[str, int, Fit]]:
    """Give a wiring with one wire wrong: open, or in another pin of the socket; and what was wrong with it."""
    for where, wire in enumerate(one.wires):
        for pins in [(), *((other,) for other in range(1, socket.pins + 1))]:
            if pins != wire.socket_pins:
                wrong = replace(wire, socket_pins=pins, socket_signal="open", gate=None, inverted=())
                wires = (*one.wires[:where], wrong, *one.wires[where + 1 :])
                yield f"{wire.chip_signal} to {pins}", wire.chip_pin, replace(one, wires=wires)


@pytest.mark.parametrize(("socket", "chip"), PAIRS)
def test_every_wrong_wire_is_seen(socket: str, chip: str) -> None:
    """Each pin of the chip in each other pin of the socket: only what changes nothing for the chip passes."""
    original, other = chips.find(socket), chips.find(chip)
    passed = Counter[str]()
    tried = 0
    for _, at, wrong in altered(fit(socket, chip), original):
        tried += 1
        if not flaws_of(wrong, other, original):
            passed[pin(at, chip)] += 1
    assert tried > 150
    # what carries nothing may hang anywhere that no odd voltage is; a pin at Vcc may take it from any pin at Vcc, and
    # of two selects that share a line, or are active together, the simulation of levels alone minds only the line
    harmless = {name for name in passed if name in ("NC", "READY", "/INT") or name.startswith("D")}
    selects = {name for name in passed if name.lstrip("/").startswith(("CE", "CS", "OE"))}
    held = {name for name in passed if name in ("Vpp", "Vcc", "/PGM", "/WE", "GND", "PGM", "/BYTE")}
    addresses = {name for name in passed if name[0] == "A"}
    assert set(passed) <= harmless | selects | held | addresses
    for name in held:
        wanted = [fits_there(original, n, name, other) for n in range(1, original.pins + 1)]
        assert passed[name] <= sum(wanted), (name, passed[name])
    for name in addresses:   # an address line that is held: only another pin at the same level
        assert all(wire.socket_signal.split()[0] in ("Vcc", "GND", "Vpp", "/PGM", "/WE", "PGM", "ground")
                   for wire in fit(socket, chip).wires if wire.chip_signal == name), name  # fmt: skip


def fits_there(socket: Chip, n: int, name: str, chip: Chip) -> bool:
    low = name == "GND" or (name == "PGM" and "Vdd" in chip.supplies_v)
    there = socket.signals_at(n)[0]
    return there in ("GND", "PGM") if low else there in ("Vcc", "Vpp", "/PGM", "/WE", "/RESET", "/BYTE")


def rewired(one: Fit, **pins: tuple[int, ...]) -> Fit:
    wires = [
        wire if (name := f"pin{wire.chip_pin}") not in pins
        else replace(wire, socket_pins=pins[name], gate=None, inverted=())
        for wire in one.wires
    ]
    return replace(one, wires=tuple(wires))


@pytest.mark.parametrize(
    ("socket", "chip", "wrong", "kind", "says", "harm"),
    [
        # a second enable of a RAM behind the inverted output enable: while the board writes, /OE is high, and nothing
        # is written. Read cycles alone do not show it. From memory: so RAMs work
        ("6116", "6264", Wire(chip_pin=26, chip_signal="CE2", socket_pins=(20,), socket_signal="/OE", gate=None,
                              inverted=(20,), straight=False), "write", "loses some", False),
        # /WE of a RAM at +5 V: it is read, and never written
        ("6116", "6264", Wire(chip_pin=27, chip_signal="/WE", socket_pins=(24,), socket_signal="Vcc", gate=None,
                              inverted=(), straight=False), "write", "lost", False),
        # Atmel, AT28C256, 0006H, against SMLS256H, page 1: A14 on /WE
        ("27256", "28C256", Wire(chip_pin=27, chip_signal="/WE", socket_pins=(27,), socket_signal="A14", gate=None,
                                 inverted=(), straight=True), "read", "/WE is low while the board only reads", True),
        # M2716 and TMS2732A: the board's A11 on Vpp
        ("2732", "2716", Wire(chip_pin=21, chip_signal="Vpp", socket_pins=(21,), socket_signal="A11", gate=None,
                              inverted=(), straight=True), "supply", "not held high all the time", True),
        # classiccmp, December 2005: the 2532's one enable on pin 18 alone, without the gate: /OE is ignored
        ("2732", "2532", Wire(chip_pin=20, chip_signal="/CE", socket_pins=(18,), socket_signal="/CE", gate=None,
                              inverted=(), straight=False), "stand-by", "against others", True),
        # one of two enables of the socket ignored while the battery feeds it
        ("6264", "62256", Wire(chip_pin=20, chip_signal="/CE", socket_pins=(20,), socket_signal="/CE1", gate=None,
                               inverted=(), straight=True), "power-down", "may lose what it holds", False),
    ],
)  # fmt: skip
def test_a_wire_that_is_known_to_be_wrong(
    socket: str, chip: str, wrong: Wire, kind: str, says: str, harm: bool
) -> None:
    one = fit(socket, chip)
    wires = tuple(wrong if wire.chip_pin == wrong.chip_pin else wire for wire in one.wires)
    refused = proving.proved(replace(one, wires=wires), chips.find(chip), Rig(chips.find(socket)))
    assert (refused.verdict, refused.image, refused.wires, refused.whole) == ("never", None, (), False)
    assert refused.simulation is not None
    assert any(
        (flaw.kind, says in flaw.says, flaw.harm) == (kind, True, harm) for flaw in refused.simulation.flaws
    ), refused.simulation.flaws


@pytest.mark.parametrize(
    ("socket", "chip", "number", "says"),
    [
        # SGS-Thomson, M2716, page 1; Retrocmp, page on the 2708 (pin 19)
        ("2716", "2708", 19, "Vdd needs +12 V"), ("2708", "2716", 19, "A10 gets +12 V"),
        ("2708", "2716", 21, "Vpp gets -5 V"),
        # from memory: a 2816 of the first generation is written with 21 V there
        ("2816", "28C16", 21, "/WE gets +21 V whenever the board writes"), ("2816", "2716", 21, "Vpp gets +21 V"),
        # a chip that gets no supply feeds itself through its other pins: common knowledge, no source
        ("2716", "2764", 28, "Vcc gets no supply: the chip would feed itself through its other pins"),
    ],
)  # fmt: skip
def test_what_harms_a_chip_that_is_plugged_in_as_it_is(socket: str, chip: str, number: int, says: str) -> None:
    flaws = Rig(chips.find(socket)).plugged(chips.find(chip))
    assert any(flaw.pin == number and flaw.says.startswith(says) for flaw in flaws), flaws


def test_a_contradiction_is_refused_and_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """The solver is made to leave out the gate of a 2532; the answer is no, with the reason, in both texts."""
    honest = substitution.judge

    def careless(chip: Chip, socket: Chip, asked: substitution.Asked) -> Fit:
        found = honest(chip, socket, asked)
        return rewired(found, pin20=(18,)) if chip.id == "2532" else found

    monkeypatch.setattr(substitution, "judge", careless)
    one = substitutes("2732", "2532")
    assert (one.fits[0].verdict, one.exit_code) == ("never", 1)
    text = " ".join(substitute_text(one).split())
    assert "the simulation of the bus contradicts that: it drives the bus while a select of the board is" in text
    assert "goes to" not in text
    listed = " ".join(substitutes_text(substitutes("2732")).split())
    assert "REFUSED: 2532: the pins say that it serves, and the simulation of the bus contradicts that" in listed


def test_the_list_says_how_much_was_simulated() -> None:
    found = substitutes("28C64")
    done = [one.simulation for one in found.fits if one.simulation is not None]
    text = " ".join(substitutes_text(found).split())
    assert f"proved: {len(done)} proposals on a simulated bus, {sum(one.cycles for one in done)} cycles (read, " in text
    assert "levels only, no times" in text


def test_a_board_that_writes_is_written_to_in_the_simulation() -> None:
    kinds = {part: fit(part, other).simulation for part, other in (
        ("2716", "2732"), ("28C64", "28C256"), ("6116", "6264"), ("48Z02", "28C16"))
        if other != "28C16"}  # fmt: skip
    assert {part: set(done.kinds) for part, done in kinds.items() if done is not None} == {
        "2716": {"read", "stand-by"}, "28C64": {"read", "stand-by", "write"},
        "6116": {"read", "stand-by", "write", "power-down"},
    }  # fmt: skip
    unwritten = fit("28C64", "28C256", writes=False).simulation
    assert unwritten is not None
    assert "write" not in unwritten.kinds


def test_a_battery_feeds_the_gate_as_well() -> None:
    """Without its supply a gate pulls the select of the RAM low, and the battery is emptied: from memory."""
    one = fit("6264", "6116")
    assert all("so that the battery feeds it too" in text for text in one.additions)
    assert not any("battery" in text for text in fit("2732", "2532").additions)


def test_a_pin_of_a_kind_that_is_not_known_is_refused_and_breaks_nothing() -> None:
    chip = chips.find("2716")
    pins = tuple(replace(one, signals=("WAKE",)) if one.number == 18 else one for one in chip.pinout.pins)
    strange = replace(chip, id="strange", pinout=replace(chip.pinout, pins=pins))
    assert any("of a kind" in flaw.says for flaw in Rig(chip).plugged(strange))
    assert Rig(strange).plugged(chip)   # nothing reaches the pin where the enable is
    assert substitution.plain.beyond(strange) is not None


def test_a_paged_chip_is_told_apart() -> None:
    """64K in four pages of 16K, picked by a write: the pins of such a chip, from memory, on those of a 27128."""
    plain = chips.find("27128")
    names = {1: ("/RST",), 22: ("/OE", "Vpp"), 27: ("/WE",)}
    pins = tuple(replace(one, signals=names.get(one.number, one.signals)) for one in plain.pinout.pins)
    paged = replace(plain, id="paged", words=65536, bytes=65536, pinout=replace(plain.pinout, pins=pins))
    for socket, chip in ((paged, chips.find("27512")), (chips.find("27512"), paged), (paged, plain)):
        with pytest.raises(UsageError) as caught:
            fit(socket, chip)
        assert "the paged: it is paged: its 65536 words have 14 address lines" in caught.value.why
        assert "serves only where the machine never changes the page" in caught.value.why


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        ({"socket": "2716", "chip": "2732", "writes": True}, "it has no pin for that"),
        ({"socket": "6116", "chip": "6264", "writes": False}, "it is a RAM"),
    ],
)  # fmt: skip
def test_writes_are_asked_of_what_can_be_written_or_not(arguments: dict[str, Any], why: str) -> None:
    with pytest.raises(UsageError) as caught:
        fit(**arguments)
    assert (caught.value.code, why in caught.value.why) == ("usage", True)


def test_whether_the_board_writes_decides_about_an_eeprom() -> None:
    """A 28C64 is written in its socket, a 2764 cannot be: Atmel, AT28C64, 0001H; M27C64A, page 1."""
    unsaid, never, always = (fit("28C64", "2764", writes=writes) for writes in (None, False, True))
    assert [one.writes for one in (unsaid, never, always)] == ["lost", "none", "lost"]
    assert any("the machine never writes to the original" in text for text in unsaid.conditions)
    assert (never.conditions, never.verdict) == ((), "straps")
    assert (always.verdict, always.refused) == ("never", "what the machine writes cannot reach this chip")
    assert fit("28C64", "28C256", writes=True).writes == "kept"
    flash = fit("28C010", "29F010")
    assert flash.writes == "spoils"
    assert fit("28C010", "29F010", writes=True).verdict == "never"


def test_two_chips_share_a_wide_socket() -> None:
    """Advanced Micro Devices, Am27C1024, page 5; SMLS512G, page 1: each data line is there once, all else twice."""
    one = fit("27C1024", "27C512")
    assert (one.verdict, one.units, len(one.wires), len(one.second)) == ("adapter", 2, 28, 28)
    socket = chips.find("27C1024")
    reached = Counter(socket.signals_at(pin)[0] for wire in (*one.wires, *one.second) for pin in wire.socket_pins)
    assert all(reached[f"D{n}"] == 1 for n in range(16))
    assert all(reached[f"A{n}"] == 2 for n in range(16))
    assert reached["/CE"] == reached["/OE"] == 2
    swapped = replace(one, second=one.wires)
    says = {flaw.says for flaw in flaws_of(swapped, chips.find("27C512"), socket)}
    assert {"two outputs drive the board's D0", "nothing drives the board's D8"} <= says


def test_a_chip_of_16_bits_is_read_by_bytes() -> None:
    """STMicroelectronics, M27C400, May 1999, pages 1-2: /BYTE low, D15 is A-1; which byte comes first, from memory."""
    one = fit("27C040", "27C400")
    assert one.image is not None
    wires = {wire.chip_signal.split()[0]: wire.socket_signal for wire in one.wires}
    assert (one.verdict, one.image.says) == ("adapter", "the image as it is")
    assert (wires["A0"], wires["A1"], wires["A18"], wires["/BYTE"]) == ("A0", "A1", "A18", "GND")
    assert "A18 (A17 on its sheet)" in {wire.chip_signal for wire in one.wires}
    as_socket = fit("27C400", "27C040", tied={31: "low"})
    assert (as_socket.verdict, as_socket.units) == ("adapter", 1)
    assert as_socket.simulation is not None
    assert not as_socket.simulation.flaws
    assert fit("27C400", "27C512", tied={31: "high"}).units == 2


def test_what_rings_is_what_is_wired() -> None:
    """The table for the ohmmeter against the wires, pair by pair, and against the pins beside each other."""
    for socket, chip in PAIRS:
        one = fit(socket, chip)
        meter = one.ohmmeter
        if not one.wires:
            continue
        assert meter is not None
        rings = {(each.unit, each.chip_pin): each.socket_pin for each in meter.rings}
        for unit, wires in ((1, one.wires), (2, one.second)):
            for wire in wires:
                plain = len(wire.socket_pins) == 1 and not wire.inverted
                assert rings.get((unit, wire.chip_pin)) == (wire.socket_pins[0] if plain else None)
        for each in meter.silent:
            there = rings.get((each.unit, each.other)) if each.of == "chip" else each.other
            assert there is None or rings.get((each.unit, each.chip_pin)) != there, (socket, chip, each)
        apart = {(each.chip_pin, each.other) for each in meter.silent if each.unit == 1 and each.why == "neighbours"}
        pins = chips.find(chip).pins
        for low in range(1, pins):
            joined = (1, low) in rings and rings[1, low] == rings.get((1, low + 1))
            assert ((low, low + 1) in apart) == (low != pins // 2 and not joined), (socket, chip, low)
        volts = {each.socket_pin: each.volts for each in meter.supplies}
        assert all(volts[at] == chips.find(socket).supplies_v[name] for at in volts
                   if (name := chips.find(socket).signals_at(at)[0]) in chips.find(socket).supplies_v)  # fmt: skip
        text = " ".join(substitute_text(substitutes(socket, chip)).split())
        assert "must NOT ring" in text
        assert "the socket empty, the machine on" in text


def test_the_sentence_names_the_pins_that_are_tied() -> None:
    """M2716 and TMS2732A: Vpp to +5 V. M2716 and the 2708 of Retrocmp: A10 to ground as well."""
    assert "a 2716 works once a pin is lifted out of the socket and tied: pin 21 (Vpp) to +5 V" in substitutes(
        "2732", "2716").says  # fmt: skip
    assert "pins are lifted out of the socket and tied: pin 19 (A10) to GND, pin 21 (Vpp) to +5 V" in substitutes(
        "2708", "2716").says  # fmt: skip


@pytest.mark.long
@pytest.mark.parametrize("part", chip_rows())
def test_the_whole_matrix_is_the_same_for_solver_and_simulation(part: str) -> None:
    """Every chip in this socket: no proposal is contradicted, and no harm is seen that the answer does not name."""
    socket = chips.find(part)
    bench = Rig(socket)
    for one in substitutes(part).fits:
        if one.part == part:
            continue
        assert "contradicts" not in (one.refused or ""), one
        assert (one.simulation is not None) == (one.verdict != "never"), one.part
        chip = chips.find(one.part)
        masked = one.masks or "mask-rom" in (chip.technology, socket.technology)
        if seatable(chip, socket) and not masked and not one.dangers and one.units == 1:
            assert not harmed(bench.plugged(chip)), one.part


def harmed(flaws: Sequence[Flaw]) -> list[str]:
    return [flaw.says for flaw in flaws if flaw.harm]


def test_a_sample_of_the_matrix() -> None:
    """What the long test does for every socket, for some that are drawn."""
    for part in random.Random(7).sample(list(chip_rows()), 12):
        test_the_whole_matrix_is_the_same_for_solver_and_simulation(part)
