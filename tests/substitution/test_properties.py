"""What is said to work does work on a simulated board, and what is said to drop in harms nothing."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper import chips
from imagekeeper.chips import Chip
from imagekeeper.errors import UsageError
from imagekeeper.substitution import Fit, arranged, fit, substitutes
from imagekeeper.tables.chips import chip_rows
from tests.substitution import bench

pytestmark = pytest.mark.long

IDS = [part for part in chip_rows() if part != "146818"]   # whose addresses come over its data lines


@cache
def fits() -> dict[tuple[str, str], Fit]:
    """Every pair that can be compared at all."""
    return {(socket, one.part): one for socket in IDS for one in substitutes(socket).fits}


def of_verdicts(*verdicts: str) -> list[tuple[tuple[str, str], Fit]]:
    """Give the pairs of some verdicts that this board can hold: one chip, in words of its own width."""
    return [
        (names, one) for names, one in fits().items()
        if one.verdict in verdicts and one.units == 1
        and (chips.find(names[1]).bits, chips.find(names[0]).bits) != (16, 8)
    ]


@cache
def pairs(verdict: str) -> list[tuple[str, str]]:
    """Names alone, to draw from: hypothesis takes the hash of all it may draw, and that of a `Fit` is dear."""
    return [names for names, _ in of_verdicts(verdict)]


def original_of(socket: Chip, seed: int, repeats: int = 1) -> bytes:
    """Make up what the original held, as a file."""
    made = bytes(random.Random(seed).randbytes(socket.file_bytes // repeats)) * repeats
    return bytes(byte & 0x0F for byte in made) if socket.bits == 4 else made


def word(image: bytes, address: int, bits: int) -> int:
    size = (bits + 7) // 8
    return int.from_bytes(image[address * size : (address + 1) * size], "little")


def reads_the_original(one: Fit, chip: Chip, socket: Chip, seed: int, tied: dict[int, str] | None = None) -> None:
    """Read through the socket: the original's words, and nothing when any select of the board is inactive."""
    assert one.image is not None
    repeats = max(1, socket.words // chip.words)
    original = original_of(socket, seed, repeats)
    content = arranged(original, one.image, (socket.bits + 7) // 8)
    assert len(content) == chip.words * ((socket.bits + 7) // 8)
    rng = random.Random(seed)
    lines = len(socket.address_lines)
    some = [rng.randrange(socket.words) for _ in range(20)]
    for address in {0, socket.words - 1, *(1 << n for n in range(lines)), *some}:
        found = bench.read(one, chip, socket, content, address, tied=tied)
        assert found == word(original, address, socket.bits), (address, one)
    selects = [name for pin in range(1, socket.pins + 1) if pin not in (tied or {})
               and (name := bench.select_name(socket.signals_at(pin)))]  # fmt: skip
    assert selects
    for idle in selects:
        assert bench.read(one, chip, socket, content, 0, idle=idle, tied=tied) is None, (idle, one)


@pytest.mark.parametrize("part", chip_rows())
def test_a_chip_always_takes_its_own_place(part: str) -> None:
    one = fit(part, part)
    assert (one.verdict, one.dangers, one.short, one.wires) == ("drops-in", (), 0, ())
    assert one.image is not None
    assert one.image.says == "the image as it is"
    assert one.whole


@settings(max_examples=250, deadline=None)
@given(st.data(), st.sampled_from(["straps", "adapter"]), st.integers(0, 99))
def test_straps_and_adapters_are_read_on_the_board(data: st.DataObject, verdict: str, seed: int) -> None:
    names = data.draw(st.sampled_from(pairs(verdict)))
    reads_the_original(fits()[names], chips.find(names[1]), chips.find(names[0]), seed)


def test_what_never_works_has_no_image_and_no_wires() -> None:
    found = of_verdicts("never")
    assert len(found) > 100
    assert all(one.image is None and not one.wires and not one.whole and not one.score for _, one in found)


def test_every_pair_that_simply_plugs_in_is_read_on_the_board() -> None:
    """All of them, not a sample; those of the largest chips are few."""
    tried = 0
    for names, one in of_verdicts("drops-in", "image-placed", "image-rearranged"):
        if names[0] != names[1]:
            reads_the_original(one, chips.find(names[1]), chips.find(names[0]), tried)
            tried += 1
    assert tried > 150


def test_nothing_drops_in_where_a_pin_meets_what_harms_it() -> None:
    """Every pair: verdict and dangers never contradict, and what is dangerous is seen on the board as well."""
    dangerous = 0
    for names, one in fits().items():
        if one.verdict in ("drops-in", "image-placed", "image-rearranged"):
            assert one.dangers == (), names
            assert all(m.outcome in ("same", "idle", "fixed-high", "fixed-low", "crossed") for m in one.meetings), names
        if any(m.outcome == "danger" for m in one.meetings):
            dangerous += 1
            assert one.dangers, names
    assert dangerous > 500


@pytest.mark.parametrize("volts", ["+12", "-5", "-9"])
def test_no_odd_supply_of_a_socket_is_ever_wired_to_a_chip_of_5_v(volts: str) -> None:
    """Of each early chip with such a supply: whatever is plugged or wired in, that pin reaches only its like."""
    pins = 0
    for names, one in fits().items():
        socket, chip = chips.find(names[0]), chips.find(names[1])
        if float(volts) not in socket.supplies_v.values() or set(chip.supplies_v) != {"Vcc"}:
            continue
        for wire in one.wires:
            pins += 1
            assert f"{volts} V" not in wire.socket_signal, (names, wire)
    assert pins > 100


@st.composite
def permuted(draw: st.DrawFn) -> Chip:
    """A 27C256 whose maker numbered address and data lines in another way."""
    chip = chips.find("27C256")
    address = draw(st.permutations(range(15)))
    data = draw(st.permutations(range(8)))
    names = {f"A{n}": f"A{to}" for n, to in enumerate(address)} | {f"D{n}": f"D{to}" for n, to in enumerate(data)}
    pins = tuple(replace(pin, signals=tuple(names.get(one, one) for one in pin.signals)) for pin in chip.pinout.pins)
    return replace(chip, id="27C256-permuted", pinout=replace(chip.pinout, pins=pins))


@settings(max_examples=30, deadline=None)
@given(permuted(), st.integers(0, 99))
def test_permuted_lines_take_a_rearranged_image(chip: Chip, seed: int) -> None:
    socket = chips.find("27256")
    one = fit(socket, chip)
    assert one.image is not None
    straight = one.image.address_from == tuple(range(15)) and one.image.data_to == tuple(range(8))
    assert one.verdict == ("drops-in" if straight else "image-rearranged")
    reads_the_original(one, chip, socket, seed)
    for n, board in enumerate(one.image.address_from):
        assert (f"the chip's A{n} carries the board's A{board}" in one.image.says) == (n != board)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(["28C64", "27128", "27C128", "27256", "27C512", "62256"]), st.sampled_from(["high", "low"]))
def test_a_tied_pin_is_taken_into_account(part: str, level: str) -> None:
    """Pin 26 of a 2764 is unconnected; what a board ties it to decides which part of a larger chip is seen."""
    if part == "62256":
        with pytest.raises(UsageError, match="62256"):
            fit("2764", part)
        return
    tied = {26: level}
    one = fit("2764", part, tied=tied)  # type: ignore[arg-type]
    reads_the_original(one, chips.find(part), chips.find("2764"), 1, tied)
    if part in ("27128", "27C128"):
        assert one.image is not None
        assert (one.verdict, one.image.part) == ("image-placed", {"high": "upper half", "low": "lower half"}[level])


def test_the_part_that_is_named_alone_does_as_well() -> None:
    """The image in the part of the chip that is named, and FF everywhere else."""
    tried = 0
    for names, one in of_verdicts("image-placed"):
        plan = one.image
        assert plan is not None
        if one.short:
            continue
        socket, chip = chips.find(names[0]), chips.find(names[1])
        size = (socket.bits + 7) // 8
        original = original_of(socket, 7)
        content = bytearray(b"\xff") * (chip.words * size)
        content[plan.seen_first * size : (plan.seen_last + 1) * size] = original
        for address in (0, 1, socket.words // 2, socket.words - 1):
            assert bench.read(one, chip, socket, bytes(content), address) == word(original, address, socket.bits)
        tried += 1
    assert tried > 20


def test_an_image_that_a_small_chip_cannot_hold_is_refused() -> None:
    plan = fit("2732", "2716").image
    assert plan is not None
    half = bytes(range(256)) * 8
    assert arranged(half * 2, plan) == half
    with pytest.raises(UsageError) as caught:
        arranged(half + bytes(2048), plan)
    assert caught.value.code == "does-not-fit"


def test_no_condition_asks_for_both_levels_of_one_select() -> None:
    """A mask made a select active high or active low; an answer that needs both can never be true."""
    for names, one in fits().items():
        for text in (part for condition in one.conditions for part in condition.split("; and ")):
            other = text.replace("active high", "active LOW").replace("active low", "active high").lower()
            assert other == text.lower() or other not in " ".join(one.conditions).lower(), names
