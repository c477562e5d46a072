"""Crossed, inverted and shorted lines, and lanes, told from one image: named where they are, and only there."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from imagekeeper import chips
from imagekeeper.containers.model import Image
from imagekeeper.findings import Finding
from imagekeeper.inspection import crossed_addresses, crossed_data
from imagekeeper.inspection.calls import calls
from imagekeeper.inspection.content import Content
from imagekeeper.inspection.inspection import inspect_image
from imagekeeper.inspection.naming import PinNames
from imagekeeper.inspection.words import words
from imagekeeper.jobs import specimen
from imagekeeper.tables import load

Bytes = NDArray[np.uint8]

WIRING = {
    "data-lines-exchanged", "bits-reversed", "inverted", "address-lines-exchanged", "address-lines-shorted",
    "bytes-exchanged", "lane-of",
}  # fmt: skip

#: Instructions with the bytes of their operands. Source: Zilog, Z80 CPU User Manual UM0080, the opcodes of each.
INSTRUCTIONS = [
    (0x3A, 2), (0x32, 2), (0x21, 2), (0x3E, 1), (0xA7, 0), (0x20, 1), (0x28, 1), (0x23, 0), (0xC5, 0), (0xC1, 0),
    (0xE5, 0), (0xE1, 0), (0xAF, 0), (0xFE, 1), (0x19, 0), (0xEB, 0), (0x7E, 0), (0x77, 0), (0xB7, 0), (0x10, 1),
]  # fmt: skip
CALL, RET = 0xCD, 0xC9
MESSAGES = [
    "HARBOUR OFFICE", "TIDE RECORDER", "PAPER OUT", "BATTERY LOW", "Set the clock and press START", "Gauge reading",
    "Station number", "Printer not ready", "Calibrate the float", "Water level above datum", "Record stopped",
    "Enter password", "Memory test passed", "Chart drive motor", "Alarm acknowledged", "Sensor cable open",
    "Mean high water springs", "Barometer correction",
]  # fmt: skip


def program(size: int = 16384, seed: int = 1) -> Bytes:
    """A made-up program: subroutines that call each other, messages, and fill to the end."""
    dice = np.random.default_rng(seed)
    code, starts = bytearray(), [0]
    while len(code) < size * 3 // 4:
        for _ in range(int(dice.integers(4, 20))):
            if dice.random() < 0.2:
                code += bytes([CALL]) + int(dice.choice(starts)).to_bytes(2, "little")
            else:
                opcode, operands = INSTRUCTIONS[int(dice.integers(len(INSTRUCTIONS)))]
                code += bytes([opcode, *dice.integers(0, 256, operands).tolist()])
        code.append(RET)
        starts.append(len(code))
    code += b"\0".join(message.encode() for message in MESSAGES) + b"\0"
    return np.frombuffer(bytes(code).ljust(size, b"\xff"), np.uint8)


PROGRAM = program()
AT = np.arange(len(PROGRAM))


def told(data: Bytes, part: str | None = None) -> list[Finding]:
    found = inspect_image(Image.from_bytes(data.tobytes()), chips.find(part) if part else None).findings
    return [one for one in found if one.code in WIRING and one.severity != "note"]


def exchanged(values: NDArray[np.generic], one: int, other: int) -> NDArray[np.int64]:
    wide = values.astype(np.int64)
    first, second = wide >> one & 1, wide >> other & 1
    return wide & ~(1 << one | 1 << other) | first << other | second << one


class TestDataLines:
    @pytest.mark.parametrize("pair", list(combinations(range(8), 2)))
    def test_an_exchange_of_two_is_named(self, pair: tuple[int, int]) -> None:
        (found,) = told(exchanged(PROGRAM, *pair).astype(np.uint8))
        one, other = (f"D{line}" for line in pair)
        assert (found.code, found.severity) == ("data-lines-exchanged", "warning")
        assert found.detail == {"order": {one: other, other: one}, "inverted": False, "other_orders": 0}

    @pytest.mark.parametrize("seed", range(6))
    def test_any_order_is_named(self, seed: int) -> None:
        places = np.random.default_rng(seed).permutation(8).tolist()
        data = sum((PROGRAM.astype(np.int64) >> line & 1) << place for line, place in enumerate(places))
        (found,) = told(np.asarray(data, np.uint8))
        wanted = {f"D{line}": f"D{place}" for line, place in enumerate(places) if line != place}
        assert found.detail["order"] == wanted

    def test_backwards_and_inverted(self) -> None:
        backwards = np.packbits(np.unpackbits(PROGRAM[:, None], axis=1)[:, ::-1], axis=1)[:, 0]
        assert [(f.code, f.detail["inverted"]) for f in told(backwards)] == [("bits-reversed", False)]
        assert [(f.code, f.detail["order"]) for f in told(~PROGRAM)] == [("inverted", {})]
        crossed = ~exchanged(PROGRAM, 1, 6).astype(np.uint8)
        assert [(f.code, f.detail["inverted"]) for f in told(crossed)] == [("data-lines-exchanged", True)]

    def test_the_evidence_and_the_pins_are_given(self) -> None:
        """D2 and D5 are pins 13 and 17 of a 27128: in the chip tables with its source."""
        (found,) = told(exchanged(PROGRAM, 2, 5).astype(np.uint8), "27128")
        assert "D2 comes out on D5" in found.why
        assert "calls of a Z80, 8080 or 8085" in found.why
        assert "words appear, such as " in found.why
        assert found.detail["pins"] == {"D2": 13, "D5": 17}
        assert "the image is right as it is" in found.hint   # boards cross lines on purpose, too

    @given(st.permutations(range(8)), st.booleans())
    def test_an_order_loses_nothing(self, places: list[int], inverted: bool) -> None:
        table = crossed_data.Lines(tuple(places), inverted).table
        assert sorted(table.tolist()) == list(range(256))


class TestAddressLines:
    @pytest.mark.parametrize("pair", [(0, 1), (0, 13), (1, 4), (2, 9), (3, 5), (4, 12), (6, 8), (7, 13), (11, 12)])
    def test_an_exchange_of_two_is_named(self, pair: tuple[int, int]) -> None:
        (found,) = told(PROGRAM[exchanged(AT, *pair)])
        one, other = (f"A{line}" for line in pair)
        assert (found.code, found.severity) == ("address-lines-exchanged", "warning")
        assert found.detail["order"] == {one: other, other: one}
        assert (found.confidence, "the whole of it" in found.why) == (0.9, False)

    def test_two_exchanges_are_named(self) -> None:
        (found,) = told(PROGRAM[exchanged(exchanged(AT, 2, 10), 5, 7)])
        assert found.detail["order"] == {"A2": "A10", "A10": "A2", "A5": "A7", "A7": "A5"}
        assert (found.confidence, "the order found may not be the whole of it" in found.why) == (0.7, True)

    def test_lanes_and_bytes_of_pairs(self) -> None:
        joined = np.concatenate([PROGRAM[0::2], PROGRAM[1::2]])
        assert [(f.code, f.detail["of"]) for f in told(joined)] == [("lane-of", 2)]
        assert [f.code for f in told(PROGRAM[AT ^ 1])] == ["bytes-exchanged"]

    @pytest.mark.parametrize("pair", [(0, 1), (0, 12), (3, 8), (6, 7), (10, 12)])
    @pytest.mark.parametrize("wired", ["and", "or"])
    def test_shorted(self, pair: tuple[int, int], wired: str) -> None:
        one, other = pair
        both = 1 << one | 1 << other
        differ = (AT >> one & 1) != (AT >> other & 1)
        (found,) = told(PROGRAM[np.where(differ, AT & ~both if wired == "and" else AT | both, AT)])
        assert found.code == "address-lines-shorted"
        assert (found.detail["line_pair"], found.detail["wired"]) == ([f"A{one}", f"A{other}"], wired)
        assert found.severity == ("fault" if other > 4 else "warning")   # a table may repeat itself in low lines

    def test_quarters_that_were_written_so_are_no_fault(self) -> None:
        x, y = PROGRAM[:4096], PROGRAM[4096:8192]
        assert [(f.code, f.severity) for f in told(np.concatenate([x, y, y, y]))] == [
            ("address-lines-shorted", "warning")
        ]
        assert told(np.concatenate([x, y, x, y])) == []   # mirrored, which another rule says

    @given(st.permutations(range(10)), st.integers(0, 1023))
    def test_an_order_can_be_taken_back(self, lines: list[int], turned: int) -> None:
        order = crossed_addresses.Places(tuple(lines), turned)
        addresses = np.arange(1024)
        assert np.array_equal(order.back(order(addresses)), addresses)


class TestNothingWrong:
    @pytest.mark.parametrize("seed", range(8))
    def test_programs_in_order(self, seed: int) -> None:
        assert told(program(8192, seed)) == []

    def test_the_invented_program(self) -> None:
        assert told(np.frombuffer(specimen.program(), np.uint8)) == []

    @pytest.mark.parametrize("seed", range(8))
    def test_noise_and_tables(self, seed: int) -> None:
        dice = np.random.default_rng(seed)
        assert told(dice.integers(0, 256, 16384, np.uint8)) == []
        assert told((dice.integers(0, 16, 16384) * 3 + AT // 64).astype(np.uint8)) == []
        dots = np.repeat(dice.integers(0, 256, 2048, np.uint8) & 0x7E, 8) * (AT % 8 < 7).astype(np.uint8)
        assert told(dots) == []

    @pytest.mark.parametrize("offset", [0, 2048, 8192])
    def test_other_chips_than_the_program_is_of(self, offset: int) -> None:
        """A part that lies elsewhere: few of its calls lead into it, and none of that is a crossed line."""
        assert told(PROGRAM[offset : offset + 2048]) == []

    def test_letters_of_two_bytes(self) -> None:
        """Texts of 16-bit characters: every second byte is a text, and no line is crossed."""
        text = (" ".join(MESSAGES) * 4).encode("utf-16-le")
        assert told(np.frombuffer(text[:4096], np.uint8)) == []
        assert told(np.concatenate([program(4096), np.frombuffer(text[:4096], np.uint8)])) == []

    def test_one_pattern_that_comes_again_is_no_words(self) -> None:
        assert told(np.frombuffer(PROGRAM.tobytes().hex().encode(), np.uint8)) == []   # figures are none, either
        pattern = np.tile(np.frombuffer(b"\x12\x34more\x07", np.uint8), 2000)
        found = words(pattern)
        assert not found.varied

    @given(st.binary(min_size=1, max_size=3000))
    def test_nothing_is_raised(self, data: bytes) -> None:
        content = Content.of(Image.from_bytes(data))
        list(crossed_data.crossed(content, PinNames(None)))
        list(crossed_addresses.crossed(content, PinNames(None)))


class TestSigns:
    def test_calls_lead_to_the_ends_of_others(self) -> None:
        found = calls(PROGRAM)
        assert found.of == "Z80, 8080 or 8085"
        assert found.hits >= 0.9 * found.targets
        assert calls(np.random.default_rng(1).permutation(PROGRAM)).bits < found.bits / 10

    def test_words_stand_between_what_is_no_letter(self) -> None:
        text = np.frombuffer("\0".join(MESSAGES).encode(), np.uint8)
        found = words(text)
        assert found.varied
        assert {"tide", "recorder", "battery"} <= set(found.found)
        assert words(exchanged(text, 0, 2).astype(np.uint8)).bits < found.bits / 4

    def test_the_counts_are_whole(self) -> None:
        rows = load("frequencies")["bytes"]
        assert len({row["of"] for row in rows}) == len(rows) == 7
        for row in rows:
            assert len(row["counts"]) == 256
            assert abs(sum(row["counts"]) - 100_000) < 500
        following = load("frequencies")["letters"]["following"]
        assert len(following) == 26
        assert all(len(row) == 26 and abs(sum(row) - 10_000) < 50 for row in following)
        # nothing but a vowel or u follows q in English words so often
        assert int(np.argmax(following[ord("q") - 0x61])) == ord("u") - 0x61


class TestLatchedAddresses:
    """A chip that takes in its address as /CE falls gives one byte over and over where /CE is held low."""

    @pytest.mark.parametrize("latches", ["always", "some"])
    @pytest.mark.parametrize("value", [0x31, 0xFF])
    def test_the_cause_is_named_with_the_trial(self, latches: str, value: int) -> None:
        chip = replace(chips.find("27256"), latches_address=latches)
        (found,) = inspect_image(Image.from_bytes(bytes([value]) * 32768), chip).findings
        assert found.code == ("blank" if value == 0xFF else "not-selected")
        assert "as /CE falls" in found.hint or "in as /CE falls" in found.hint
        assert ("some makers' 27256" in found.hint) == (latches == "some")
        assert "with /CE raised before each address" in found.hint

    def test_other_chips_have_no_such_cause(self) -> None:
        chip = replace(chips.find("27256"), latches_address=None)
        (found,) = inspect_image(Image.from_bytes(b"\x31" * 32768), chip).findings
        assert "/CE falls" not in found.hint
