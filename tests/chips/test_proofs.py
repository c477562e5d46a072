"""Every row proves itself, and each proof can fail: a member of a good row is made wrong, and the proof names it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from typing import Any

import pytest

from imagekeeper.chips.proofs import PROOFS, RowSubject, contradictions, contradictions_of
from imagekeeper.chips.proofs.grounds import RULES
from imagekeeper.sentences.proofs import SAYS
from imagekeeper.tables import Cited, Dispute
from imagekeeper.tables.chips import ChipRow, Organisation, PinoutRow, Signature, chip_rows, pinout_rows
from imagekeeper.tables.makers import MakerRow
from imagekeeper.tables.volts import NO_VOLTS, Volts


@pytest.mark.parametrize("part", list(chip_rows()))
def test_every_row_proves_itself(part: str) -> None:
    assert [f"{found.detail['field']}: {found.why}" for found in contradictions_of(part)] == []


# --- a good row that is made wrong ---

#: A row of our own with every member that one can have, for a tide recorder's memory: invented, and consistent.
GOOD = ChipRow(
    id="T64", technology="nmos-eprom", carrier="eprom", words=8192, bits=8, bytes=8192, pins=28, row_spacing_inch=0.6,
    pinout="t64", supplies_v={"Vcc": 5.0, "Vbb": -5.0}, aliases=("T64X",), supply_tolerance_percent=5.0,
    vpp_v=Volts((12.5,)), vpp_max_v=(13.5, 14.0), vcc_programming_v=Volts((6.0,)), methods=("adaptive-1ms-times-3",),
    programming="by byte", pulse="low, on pin 27, which rests high", blank="FF", erase_dose_ws_cm2=(15.0,),
    access_ns=(200, 250), availability="surplus", note="Made for the tide recorder.", latches_address="some",
    sources=(Cited("sheet", ("words", "bits", "vpp_v", "vcc_programming_v")),),
    unsourced=(
        "technology", "pins", "row_spacing_inch", "supplies_v", "aliases", "supply_tolerance_percent", "vpp_max_v",
        "methods", "programming", "pulse", "blank", "erase_dose_ws_cm2", "access_ns", "availability", "note",
        "latches_address",
    ),
    derived={"bytes": "words x bits / 8", "carrier": "technology"},
    disputed=(Dispute("vpp_v", "12 V in another place", ()),),
)  # fmt: skip
_SIGNALS = [
    "Vpp", "A12", "A7", "A6", "A5", "A4", "A3", "A2", "A1", "A0", "D0", "D1", "D2", "GND",
    "D3", "D4", "D5", "D6", "D7", "/CE", "A10", "/OE", "A11", "A9", "A8", "Vbb", "/PGM", "Vcc",
]  # fmt: skip
PINS = PinoutRow(
    id="t64", pins=28, signals=tuple((name,) for name in _SIGNALS), sourced=((),) * 28, sources=(), unsourced=("1-28",),
    disputed=(), note=None,
)  # fmt: skip
SHEET = (Cited("sheet", ("vpp_v",)),)
MAKERS = (
    MakerRow(chip="T64", maker="One", sources=SHEET, vpp_v=Volts((12.5,)), vpp_max_v=13.5, vcc_max_v=7.0,
             vcc_programming_v=Volts((6.0,)), methods=("adaptive-1ms-times-3",)),
    MakerRow(chip="T64", maker="Other", sources=SHEET, vpp_v=Volts((13.0,)), vpp_max_v=14.0),
)  # fmt: skip
KNOWN = (Signature("One", "01 08", None, ()), Signature("Other", "02 08", None, ()))


@dataclass(frozen=True, kw_only=True)
class Case:
    """What the proofs look at."""

    row: ChipRow = GOOD
    pinout: PinoutRow = PINS
    makers: tuple[MakerRow, ...] = MAKERS
    known: tuple[Signature, ...] = KNOWN


def row(**changed: Any) -> Case:
    return Case(row=replace(GOOD, **changed))


def pin(number: int, *names: str, **changed: Any) -> Case:
    signals = tuple(names if n == number else kept for n, kept in enumerate(PINS.signals, 1))
    return Case(pinout=replace(PINS, signals=signals), row=replace(GOOD, **changed))


def maker(**changed: Any) -> Case:
    return Case(makers=(MAKERS[0], replace(MAKERS[1], **changed)))


def bare(technology: str, carrier: str, **changed: Any) -> Case:
    """The same chip without what programming needs, as another technology; every member is from memory."""
    nothing: dict[str, Any] = {
        "vpp_v": NO_VOLTS, "vpp_max_v": (), "vcc_programming_v": NO_VOLTS, "methods": (), "programming": None,
        "pulse": None, "blank": None, "erase_dose_ws_cm2": (), "disputed": (), "latches_address": None,
    }  # fmt: skip
    made = replace(GOOD, **nothing | {"technology": technology, "carrier": carrier} | changed)
    plain = pin(1, "NC").pinout
    return Case(row=made, pinout=plain, makers=(), known=())


def wrong(case: Case) -> dict[str, set[str]]:
    found = contradictions(case.row, case.pinout, case.makers, case.known)
    named: dict[str, set[str]] = {}
    for one in found:
        assert (one.severity, one.confidence) == ("fault", 1)
        named.setdefault(one.about.partition("/")[2], set()).add(one.detail["field"])
    return named


def test_the_good_row_is_good() -> None:
    assert wrong(Case()) == {}


SOURCED = GOOD.sources

# Which proof must notice, in which member, and what was changed.
WRONGS: list[tuple[str, str, Callable[[], Case]]] = [
    ("address-lines", "words", lambda: row(words=16384, bytes=16384)),
    ("address-lines", "words", lambda: row(words=6000, bytes=6000)),
    ("address-lines", "words", lambda: pin(2, "NC")),
    ("data-lines", "bits", lambda: row(bits=4, bytes=4096)),
    ("data-lines", "bits", lambda: pin(19, "NC")),
    ("line-missing", "pinout", lambda: pin(10, "NC")),
    ("line-missing", "pinout", lambda: pin(12, "NC")),
    ("line-repeated", "pinout", lambda: pin(2, "A11")),
    ("size", "bytes", lambda: row(bytes=8191)),
    ("supply-without-pin", "supplies_v", lambda: row(supplies_v={"Vcc": 5.0, "Vbb": -5.0, "Vdd": 12.0})),
    ("pin-without-supply", "supplies_v", lambda: row(supplies_v={"Vcc": 5.0})),
    ("no-ground", "pinout", lambda: pin(14, "NC")),
    ("pins", "pins", lambda: row(pins=24)),
    ("package", "row_spacing_inch", lambda: row(row_spacing_inch=0.9)),
    ("no-select", "pinout", lambda: Case(pinout=replace(PINS, signals=tuple(
        ("NC",) if names[0] in ("/CE", "/OE") else names for names in PINS.signals)))),
    ("select-level", "pinout", lambda: pin(20, "CS1")),
    ("select-level", "pinout", lambda: replace(bare("mask-rom", "mask-rom"), pinout=pin(20, "/CE", "CS1").pinout)),
    ("organisation", "organisations", lambda: row(organisations=(Organisation(4096, 8, 12, "ORG low"),))),
    ("organisation", "organisations", lambda: row(organisations=(Organisation(8192, 8, 12, "ORG low"),))),
    ("latches", "latches_address", lambda: row(latches_address="perhaps")),
    ("latches-by", "latches_address", lambda: pin(20, "NC")),
    ("vpp-without-pin", "vpp_v", lambda: pin(1, "NC")),
    ("pin-without-vpp", "vpp_v", lambda: row(vpp_v=NO_VOLTS)),
    ("voltage-shape", "vpp_v", lambda: row(vpp_v=Volts((13.0, 12.0), "range"))),
    ("voltage-shape", "vpp_v", lambda: row(vpp_v=Volts((12.0, 12.5, 13.0), "range"))),
    ("voltage-shape", "vpp_v", lambda: row(vpp_v=Volts((12.5, 12.5), "any"))),
    ("voltage-shape", "vcc_programming_v", lambda: row(vcc_programming_v=Volts((6.0, 5.0), "any"))),
    ("voltage-shape", "vcc_programming_v", lambda: row(vcc_programming_v=Volts((6.0, 5.0)))),
    ("voltage-shape", "vpp_max_v", lambda: row(vpp_max_v=(14.0, 13.5))),
    ("voltage-shape", "vpp_v", lambda: maker(vpp_v=Volts((13.5, 12.5), "range"))),
    ("limit", "vpp_v", lambda: row(vpp_v=Volts((12.5, 13.6), "range"))),
    ("limit", "vpp_v", lambda: maker(vpp_v=Volts((14.5,)))),
    ("limit", "vcc_programming_v", lambda: maker(vcc_programming_v=Volts((6.5,)), vcc_max_v=6.25)),
    ("lowest-limit", "vpp_max_v", lambda: row(vpp_max_v=(14.0,))),
    ("supply", "supplies_v", lambda: row(supplies_v={"Vcc": -5.0, "Vbb": -5.0})),
    ("supply", "supplies_v", lambda: row(supplies_v={"Vcc": 5.0, "Vbb": 5.0})),
    ("supply", "supplies_v", lambda: row(supplies_v={"Vcc": 50.0, "Vbb": -5.0})),
    ("voltage", "vpp_v", lambda: row(vpp_v=Volts((125.0,)))),
    ("voltage", "vpp_v", lambda: row(vpp_v=Volts((-12.5,)))),
    ("voltage", "vcc_programming_v", lambda: row(vcc_programming_v=Volts((60.0,)))),
    ("tolerance", "supply_tolerance_percent", lambda: row(supply_tolerance_percent=50.0)),
    ("asks-and-gives", "ask_maker", lambda: row(ask_maker="makers differ")),
    ("makers-differ", "ask_maker", lambda: maker(vpp_v=Volts((21.0,)), vpp_max_v=22.0)),
    ("makers-differ", "ask_maker", lambda: maker(vcc_max_v=6.0)),
    ("method-unknown", "methods", lambda: row(methods=("by-hand",))),
    ("method", "vpp_v", lambda: row(methods=("quick-100us",))),
    ("method", "vcc_programming_v", lambda: row(vcc_programming_v=Volts((6.25,)))),
    ("method", "vpp_v", lambda: maker(methods=("quick-100us",))),
    ("five-volts-only", "vpp_v", lambda: row(programming="5 V only; by byte")),
    ("pulse-unclear", "pulse", lambda: row(pulse="on pin 27")),
    ("pulse", "pulse", lambda: row(pulse="high, on pin 27, which rests low")),
    ("pulse", "pulse", lambda: row(pulse="low, on pin 26")),
    ("pulse", "pulse", lambda: row(pulse="low, on pin 40")),
    ("technology", "technology", lambda: row(technology="valves")),
    ("carrier", "carrier", lambda: row(carrier="prom")),
    ("availability", "availability", lambda: row(availability="soon")),
    ("no-dose", "erase_dose_ws_cm2", lambda: row(erase_dose_ws_cm2=())),
    ("dose", "erase_dose_ws_cm2", lambda: row(technology="electric-eprom", carrier="flash")),
    ("dose-size", "erase_dose_ws_cm2", lambda: row(erase_dose_ws_cm2=(1500.0,))),
    ("erasing", "erasing", lambda: row(erasing="by 14 V on pin 24")),
    ("erasing", "erasing", lambda: row(technology="electric-eprom", carrier="flash", erase_dose_ws_cm2=())),
    ("never-programmed", "vpp_v", lambda: bare("mask-rom", "mask-rom", vpp_v=Volts((12.5,)))),
    ("never-programmed", "methods", lambda: bare("ram", "ram", methods=("loops",))),
    ("blank", "blank", lambda: row(blank=None)),
    ("blank", "blank", lambda: row(blank="F0")),
    ("blank", "blank", lambda: bare("prom", "prom", outputs="three-state", blank="FF", note="Blank is not known.")),
    ("blank", "blank", lambda: bare("shadow-ram", "eeprom", blank="FF")),
    ("no-write-line", "pinout", lambda: bare("ram", "ram", cell="outside")),
    ("write-line", "pinout", lambda: replace(bare("mask-rom", "mask-rom"), pinout=pin(27, "/WE").pinout)),
    ("cell", "cell", lambda: row(cell="inside")),
    ("cell", "cell", lambda: bare("ram", "ram")),
    ("outputs", "outputs", lambda: row(outputs="three-state")),
    ("outputs", "outputs", lambda: bare("prom", "prom", blank="00")),
    ("access", "access_ns", lambda: row(access_ns=(250, 200))),
    ("access", "access_ns", lambda: row(access_ns=(2,))),
    ("signature", "signatures", lambda: Case(known=(Signature("One", "1 8", None, ()),))),
    ("signature", "signatures", lambda: Case(known=(KNOWN[0], KNOWN[0]))),
    ("signature-pin", "signatures", lambda: pin(24, "NC")),
    ("no-ground-given", "aliases", lambda: row(unsourced=tuple(set(GOOD.unsourced) - {"aliases"}))),
    ("ground-of-nothing", "aliases", lambda: row(aliases=())),
    ("grounds", "words", lambda: row(unsourced=(*GOOD.unsourced, "words"))),
    ("grounds", "bytes", lambda: row(unsourced=(*GOOD.unsourced, "bytes"))),
    ("rule-unknown", "bytes", lambda: row(derived={"bytes": "as usual", "carrier": "technology"})),
    ("derived", "bytes", lambda: row(bytes=4096)),
    ("derived", "carrier", lambda: row(carrier="flash")),
    ("dispute-of-nothing", "cell", lambda: row(disputed=(Dispute("cell", "inside", ()),))),
]


@pytest.mark.parametrize(("proof", "field", "change"), WRONGS, ids=[f"{one[0]}-{one[1]}" for one in WRONGS])
def test_a_wrong_member_is_noticed(proof: str, field: str, change: Callable[[], Case]) -> None:
    found = wrong(change())
    assert field in found.get(proof, set()), found


def test_every_proof_can_fail() -> None:
    assert {f"row-contradicts/{proof}" for proof, _, _ in WRONGS} == set(SAYS)
    for proof in PROOFS:
        cases = (change() for _, _, change in WRONGS)
        assert any(list(proof(RowSubject(one.row, one.pinout, one.makers, one.known))) for one in cases), proof


def test_no_member_can_be_wrong_unseen() -> None:
    """But for names, which say nothing of the chip, and remarks; what they say is for people to judge."""
    changed = {
        one.name
        for _, _, change in WRONGS
        for one in fields(ChipRow)
        if getattr(change().row, one.name) != getattr(GOOD, one.name)
    }
    remarks = {"reading", "ask_marking", "protection"}
    assert {one.name for one in fields(ChipRow)} - changed == {"id", "pinout", "sources"} | remarks


def test_a_source_that_gives_nothing_of_the_row_is_noticed() -> None:
    assert "erasing" in wrong(row(sources=(*SOURCED, Cited("other", ("erasing",)))))["ground-of-nothing"]


def test_rows_taken_twice_are_understood() -> None:
    """A dynamic RAM takes its address in halves: seven pins reach 16384 words (common practice, no source)."""
    few = tuple(("NC",) if names[0] in ("A7", "A8", "A9", "A10", "A11", "A12") else names for names in PINS.signals)
    names = dict(zip((20, 22), (("/RAS",), ("/CAS",)), strict=True))
    signals = tuple(names.get(number, kept) for number, kept in enumerate(few, 1))
    halves = Case(row=replace(GOOD, words=16384, bytes=16384), pinout=replace(PINS, signals=signals))
    assert "address-lines" not in wrong(halves)
    assert "words" in wrong(replace(halves, row=replace(GOOD, words=32768, bytes=32768)))["address-lines"]


def test_what_is_said_of_a_supply_pin_replaces_its_voltage() -> None:
    told = row(supplies_v={"Vcc": 5.0}, note="Vbb is at Vcc when reading.")
    assert "pin-without-supply" not in wrong(told)


def test_every_rule_by_which_something_is_derived_is_recomputed() -> None:
    used = {rule for one in chip_rows().values() for rule in one.derived.values()}
    assert used == set(RULES)
    assert all(pinout_rows()[one.pinout].pins == one.pins for one in chip_rows().values())


def test_what_is_read_in_a_way_of_its_own_needs_no_data_pins_and_says_the_level_of_its_select() -> None:
    serial = tuple(("NC",) if name.startswith("D") else ("CS",) if name == "/CE" else (name,) for name in _SIGNALS)
    silent = Case(pinout=replace(PINS, signals=serial))
    assert {"data-lines", "select-level"} <= set(wrong(silent))
    told = replace(silent, row=replace(GOOD, reading="in series, CS high throughout"))
    assert not {"data-lines", "select-level", "no-select"} & set(wrong(told))
