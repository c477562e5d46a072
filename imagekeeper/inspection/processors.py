"""Whose program it may be: reset vectors, and calls that lead to where subroutines begin.

Sources of the vectors: Zilog, Z80 CPU User Manual UM0080 (restarts, 0066); Motorola, M68000 User's Manual, table 6-2;
Plug and Play BIOS Specification 1.0A, section 3.1 (55 AA); the 6502's, 6800's, 6809's and 8051's from memory, as are
the opcodes. The counting of calls is our own: a subroutine mostly begins where another ended, so that a byte before
the target of a call is a return or belongs to a jump far more often than chance has it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imagekeeper.inspection.content import Bytes
from imagekeeper.inspection.results import ProcessorHint
from imagekeeper.ranked import Candidate, Evidence, rank

#: Code is looked for in so many bytes at most. [byte]
LIMIT = 1 << 20
#: Below this nothing is said. [bit]
LEAST_BITS = 8.0
#: No single kind of evidence counts for more. [bit]
MOST_BITS = 20.0

#: Fewer calls say nothing.
_REPEATED = 3


@dataclass(frozen=True)
class Program:
    """The bytes that may be a program.

    Attributes:
        data: The bytes; one copy where the image holds several.
        start: Address of the first byte, where the file states it, else None.
    """

    data: Bytes
    start: int | None = None

    @property
    def size(self) -> int:
        """[byte]"""
        return len(self.data)

    def word(self, at: int, order: str) -> int:
        """Read a 16-bit word; `order` is `big` or `little`."""
        return int.from_bytes(self.data[at : at + 2].tobytes(), "big" if order == "big" else "little")

    def bases(self) -> list[int]:
        """Addresses where a chip of this size may lie in 64 KiB; the stated one if there is one."""
        if self.start is not None:
            return [self.start]
        if self.size > 0x10000:
            return [0]
        step = max(1 << (self.size - 1).bit_length(), 0x1000)
        return sorted({*range(0, 0x10000 - self.size + 1, step), 0x10000 - self.size})


Rule = Callable[[Program], Iterator[Evidence]]


def _leads(program: Program, targets: NDArray[np.int64], ends: dict[int, tuple[int, ...]]) -> tuple[int, int, float]:
    """Count the targets that lie where a subroutine begins.

    Args:
        program: The bytes.
        targets: Offsets that are called; others than those inside are dropped.
        ends: For a distance before the target: the opcodes that would stand there.

    Returns:
        How many follow an end, of how many, and the share that chance gives.
    """
    longest = max(ends)
    inside = np.unique(targets[(targets >= longest) & (targets < program.size)])
    if not len(inside):
        return 0, 0, 1.0
    hit = np.zeros(len(inside), bool)
    by_chance = 0.0
    for distance, opcodes in ends.items():
        hit |= np.isin(program.data[inside - distance], opcodes)
        by_chance += float(np.isin(program.data, opcodes).mean())
    return int(hit.sum()), len(inside), min(max(by_chance, 1 / 256), 0.5)


def _bits(hits: int, of: int, by_chance: float) -> float:
    """How much less likely chance makes so many hits than a program does. [bit]"""
    share = hits / of if of else 0.0
    if hits < _REPEATED or share <= max(2 * by_chance, 0.1):
        return 0.0
    rest = (1 - share) * np.log2((1 - share) / (1 - by_chance)) if share < 1 else 0.0
    return min(float(of * (share * np.log2(share / by_chance) + rest)), MOST_BITS)


def _absolute(opcode: int, order: str, ends: dict[int, tuple[int, ...]], name: str) -> Rule:
    """Make a rule for calls with a 16-bit address."""

    def rule(program: Program) -> Iterator[Evidence]:
        data = program.data.astype(np.int64)
        at = np.flatnonzero(data[:-2] == opcode)
        words = data[at + 1] << 8 | data[at + 2] if order == "big" else data[at + 1] | data[at + 2] << 8
        best = (0.0, 0, 0, 0)
        bases = program.bases()
        for base in bases:
            hits, of, by_chance = _leads(program, words - base, ends)
            best = max(best, (_bits(hits, of, by_chance), hits, of, base))
        bits, hits, of, base = best
        bits -= float(np.log2(len(bases)))
        if bits > 0:
            yield Evidence(
                f"{hits} of {of} addresses called by {name} ({opcode:02X}) follow the end of a subroutine, with the "
                f"image at {base:04X}",
                round(bits, 1),
            )

    return rule


def _relative(program: Program, width: int) -> Iterator[Evidence]:
    data = program.data
    at = np.flatnonzero(data[: -width - 1] == 0xE8)
    raw = np.zeros(len(at), np.int64)
    for k in range(width):
        raw |= data[at + 1 + k].astype(np.int64) << 8 * k
    targets = at + 1 + width + np.where(raw >> (8 * width - 1) & 1, raw - (1 << 8 * width), raw)
    hits, of, by_chance = _leads(program, targets, {1: (0xC3, 0xCB, 0x90, 0xCC), 3: (0xC2, 0xCA, 0xE9)})
    bits = _bits(hits, of, by_chance)
    if bits > 0:
        yield Evidence(
            f"{hits} of {of} addresses called by CALL (E8) with {8 * width}-bit distances follow the end of a "
            "subroutine",
            round(bits, 1),
        )


def _x86_vectors(program: Program) -> Iterator[Evidence]:
    data, size = program.data, program.size
    if size < 32:
        return
    if data[0] == 0x55 and data[1] == 0xAA:
        yield Evidence("it begins with 55 AA, the mark of extension ROMs", 10.0)
    if size & (size - 1) == 0 and data[size - 16] in (0xEA, 0xE9):
        dated = data[size - 9] == 0x2F and data[size - 6] == 0x2F
        yield Evidence(
            f"a jump stands 16 bytes before the end, where the processor starts{', and a date after it' * int(dated)}",
            14.0 if dated else 5.0,
        )


def _68000(program: Program) -> Iterator[Evidence]:
    data, size = program.data, program.size
    if size < 1024:
        return
    stack, entry = program.word(0, "big") << 16 | program.word(2, "big"), int.from_bytes(data[4:8].tobytes(), "big")
    base = program.start or (entry & ~(size - 1) if size & (size - 1) == 0 else 0)
    if stack % 2 == 0 and entry % 2 == 0 and 0 < stack < 1 << 24 and 8 <= entry - base < size and entry < 1 << 24:
        yield Evidence(f"long words 0 and 4 could be a stack ({stack:06X}) and an entry ({entry:06X}), both even", 8.0)
        vectors = np.frombuffer(data[8:256].tobytes(), ">u4")
        fit = int(np.count_nonzero((vectors % 2 == 0) & (vectors >= base) & (vectors < base + size) & (vectors > 0)))
        if fit > 50:
            yield Evidence(f"{fit} of the 62 long words after them could be vectors into the image", 8.0)
    words = np.frombuffer(data[: size // 2 * 2].tobytes(), ">u2")
    at = np.flatnonzero(words >> 8 == 0x61)
    short = (words[at] & 0xFF).astype(np.int64)
    nearby = at[short != 0] * 2 + 2 + np.where(short[short != 0] > 127, short[short != 0] - 256, short[short != 0])
    far = at[(short == 0) & (at + 1 < len(words))]
    distances = words[far + 1].astype(np.int64)
    targets = np.concatenate((nearby, far * 2 + 2 + np.where(distances > 0x7FFF, distances - 0x10000, distances)))
    ends = np.unique(targets[(targets >= 2) & (targets < size - 1) & (targets % 2 == 0)]) // 2
    hits = int(np.count_nonzero(np.isin(words[ends - 1], (0x4E75, 0x4E73)))) if len(ends) else 0
    bits = _bits(hits, len(ends), max(float(np.isin(words, (0x4E75, 0x4E73)).mean()), 1 / 1024))
    if bits > 0:
        yield Evidence(
            f"{hits} of {len(ends)} addresses called by BSR (61) follow RTS or RTE (4E75, 4E73)", round(bits, 1)
        )


def _top_vectors(count: int, order: str, openings: tuple[int, ...]) -> Rule:
    """Make a rule for vectors at the end of the image, which then lies at the top of 64 KiB."""

    def rule(program: Program) -> Iterator[Evidence]:
        size = program.size
        if not 256 <= size <= 0x10000:
            return
        base = 0x10000 - size
        vectors = [program.word(size - 2 * k, order) for k in range(count, 0, -1)]
        inside = [v for v in vectors if base <= v < 0x10000 - 2 * count]
        reset = vectors[-1] if order == "big" else vectors[-2]
        if reset not in inside or len(inside) < count - 1:
            return
        # vectors of chance lie inside a large image as well, so that they say less there
        bits = min(len(set(inside)) * float(np.log2(0x10000 / max(size, 0x100))), 10.0)
        opening = int(program.data[reset - base])
        says = f"{len(inside)} of the last {count} words, {order} end first, point into the image at {base:04X}"
        if opening in openings:
            bits += float(np.log2(256 / len(openings))) - 1
            says += f", and at {reset:04X} stands {opening:02X}, with which programs begin"
        elif size > 0x8000:
            return
        yield Evidence(says, round(bits, 1))

    return rule


def _z80_start(program: Program) -> Iterator[Evidence]:
    if program.size < 256 or program.start not in (None, 0):
        return
    first = int(program.data[0])
    if first == 0xC3 and program.word(1, "little") < program.size:
        yield Evidence(f"it begins with a jump to {program.word(1, 'little'):04X}, inside the image", 8.0)
    elif first in (0xF3, 0x31):
        yield Evidence(f"it begins with {first:02X}, as programs at 0000 do", 4.0)
    jumps = [at for at in range(8, 0x40, 8) if program.data[at] == 0xC3]
    inside = sum(program.word(at + 1, "little") < program.size for at in jumps)
    if inside > 1:
        yield Evidence(f"{inside} of the restart addresses 0008 to 0038 hold jumps into the image", 4.0 * inside)


def _8051_start(program: Program) -> Iterator[Evidence]:
    if program.size < 256 or program.start not in (None, 0) or program.data[0] != 0x02:
        return
    if program.word(1, "big") >= min(program.size, 0x10000):
        return
    vectors = [at for at in (0x03, 0x0B, 0x13, 0x1B, 0x23) if program.data[at] in (0x02, 0x32)]
    yield Evidence(
        f"it begins with LJMP to {program.word(1, 'big'):04X}, and {len(vectors)} of the five interrupt addresses hold "
        "LJMP or RETI",
        6.0 + 3.0 * len(vectors),
    )


PROCESSORS: tuple[tuple[str, tuple[Rule, ...]], ...] = (
    ("Z80, 8080 or 8085", (_z80_start, _absolute(0xCD, "little", {1: (0xC9, 0xE9), 3: (0xC3,), 2: (0x18,)}, "CALL"))),
    ("6502", (
        _top_vectors(3, "little", (0x78, 0xD8, 0xA2, 0x4C, 0xA9)),
        _absolute(0x20, "little", {1: (0x60, 0x40), 3: (0x4C, 0x6C)}, "JSR"),
    )),
    ("6800, 6809 or 68HC11", (
        _top_vectors(4, "big", (0x8E, 0x0F, 0x7E, 0x10, 0x1A, 0x86, 0xCE)),
        _absolute(0xBD, "big", {1: (0x39, 0x3B), 3: (0x7E,), 2: (0x20, 0x35)}, "JSR"),
    )),
    ("8051", (_8051_start, _absolute(0x12, "big", {1: (0x22, 0x32), 3: (0x02,), 2: (0x80,)}, "LCALL"))),
    ("68000", (_68000,)),
    ("x86", (_x86_vectors, lambda program: _relative(program, 2), lambda program: _relative(program, 4))),
)  # fmt: skip


def processors(program: Program) -> tuple[ProcessorHint, ...]:
    """Weigh which processor's program the bytes may be: hints, never a verdict.

    Args:
        program: The bytes, without fill and several copies as far as that is known.

    Returns:
        Those for which something speaks, the most likely first.
    """
    program = Program(program.data[:LIMIT] if program.size > LIMIT else program.data, program.start)
    if program.size < 256:
        return ()
    candidates = []
    for name, rules in PROCESSORS:
        evidence = sorted((e for rule in rules for e in rule(program)), key=lambda e: -e.weight)
        bits = sum(e.weight for e in evidence)
        if bits >= LEAST_BITS:
            candidates.append(Candidate(name, round(min(1 - 2 ** (-bits / 8), 0.95), 2), tuple(evidence)))
    return tuple(ProcessorHint(c.answer, c.score, c.evidence) for c in rank(candidates))
