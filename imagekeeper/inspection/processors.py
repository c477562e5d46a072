"""Whose program it may be: reset vectors, and calls that lead to where subroutines begin.

Sources of the vectors: Zilog, Z80 CPU User Manual UM0080 (restarts, 0066); Motorola, M68000 User's Manual, table 6-2;
Plug and Play BIOS Specification 1.0A, section 3.1 (55 AA); the 6502's, 6800's, 6809's and 8051's from memory.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imagekeeper.inspection.calls import KINDS, CallKind, bits, branches, one_of, returns
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
        table = one_of(opcodes)
        hit |= table[program.data[inside - distance]]
        by_chance += float(table[program.data].mean())
    return int(hit.sum()), len(inside), min(max(by_chance, 1 / 256), 0.5)


def _bits(hits: int, of: int, by_chance: float) -> float:
    return min(bits(hits, of, by_chance, _REPEATED), MOST_BITS)


def _calls(kind: CallKind) -> Rule:
    """Make a rule for the calls of one kind."""

    def rule(program: Program) -> Iterator[Evidence]:
        at = kind.places(program.data)
        targets = kind.targets(at, [program.data[at + 1 + k].astype(np.int64) for k in range(kind.width)])
        bases = [0] if kind.relative else program.bases()
        best = (0.0, 0, 0, 0)
        for base in bases:
            hits, of, by_chance = _leads(program, targets - base, kind.ends)
            best = max(best, (_bits(hits, of, by_chance), hits, of, base))
        weight, hits, of, base = best
        weight -= float(np.log2(len(bases)))
        if weight > 0:
            called = f"{hits} of {of} addresses called by {kind.called} ({kind.opcode:02X})"
            follow = "follow the end of a subroutine"
            yield Evidence(
                f"{called} with {8 * kind.width}-bit distances {follow}" if kind.relative
                else f"{called} {follow}, with the image at {base:04X}",
                round(weight, 1),
            )  # fmt: skip

    return rule


def _calls_of(name: str) -> tuple[Rule, ...]:
    return tuple(_calls(kind) for kind in KINDS if kind.of == name)


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
    words = data[: size // 2 * 2].view(">u2").astype(np.int64)
    ended = returns(words)
    targets = branches(words)
    begun = np.unique(targets[(targets >= 1) & (targets < len(words))])
    hits = int(ended[begun - 1].sum())
    weight = _bits(hits, len(begun), max(float(ended.mean()), 1 / 1024))
    if weight > 0:
        yield Evidence(
            f"{hits} of {len(begun)} addresses called by BSR (61) follow RTS or RTE (4E75, 4E73)", round(weight, 1)
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


PROCESSORS: tuple[tuple[str, tuple[Rule, ...]], ...] = tuple((name, (*rules, *_calls_of(name))) for name, rules in (
    ("Z80, 8080 or 8085", (_z80_start,)),
    ("6502", (_top_vectors(3, "little", (0x78, 0xD8, 0xA2, 0x4C, 0xA9)),)),
    ("6800, 6809 or 68HC11", (_top_vectors(4, "big", (0x8E, 0x0F, 0x7E, 0x10, 0x1A, 0x86, 0xCE)),)),
    ("8051", (_8051_start,)),
    ("68000", (_68000,)),
    ("x86", (_x86_vectors,)),
))  # fmt: skip


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
