"""Calls that lead to where subroutines begin: a sign that code is in order, whatever it does.

A subroutine mostly begins where another ended, so that a byte before the target of a call is a return or belongs to a
jump far more often than chance has it. Crossed lines make another opcode of the call, or send it elsewhere. The opcodes
are from memory; the counting is our own.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from imagekeeper.inspection.content import Bytes

Offsets = NDArray[np.int64]

#: Fewer calls say nothing.
FEWEST = 4
#: Where the calls' own chance is measured: so far beside their targets, records of four and eight bytes too. [byte]
_BESIDE = np.array([[4], [-4], [5], [-6], [8], [9], [14], [16]])
#: So many addresses at which an image may lie are tried.
BASES = 6
#: Those that hold this share of the most targets that any holds.
NEARLY = 0.8
#: A processor of 8 bits has so many addresses. [byte]
SPACE = 0x10000


@dataclass(frozen=True, kw_only=True)
class CallKind:
    """How one family of processors calls.

    Attributes:
        of: Its name.
        called: What the call is called.
        opcode: Of the call.
        width: Bytes of its operand.
        order: Of these.
        relative: Whether the operand is a distance.
        ends: For a distance before the target: the opcodes that would stand there.
    """

    of: str
    called: str
    opcode: int
    width: int
    order: Literal["big", "little"]
    relative: bool = False
    ends: dict[int, tuple[int, ...]]

    def places(self, data: Bytes) -> Offsets:
        """Where calls may stand."""
        return np.flatnonzero(data[: -self.width] == self.opcode)

    def targets(self, at: Offsets, operand: list[Offsets]) -> Offsets:
        """Where calls at these offsets lead, by the bytes of their operand in the order of addresses."""
        raw = np.zeros(len(at), np.int64)
        for k, part in enumerate(operand if self.order == "little" else reversed(operand)):
            raw |= part << 8 * k
        if not self.relative:
            return raw
        sign = 1 << (8 * self.width - 1)
        return at + 1 + self.width + (raw ^ sign) - sign

    def begins(self, data: Bytes) -> NDArray[np.bool_]:
        """At which offsets a subroutine may begin, as what stands before them is the end of another."""
        found = np.zeros(len(data), bool)
        for distance, opcodes in self.ends.items():
            for opcode in opcodes:
                found[distance:] |= data[:-distance] == opcode
        return found


_X86_ENDS = {1: (0xC3, 0xCB, 0x90, 0xCC), 3: (0xC2, 0xCA, 0xE9)}
KINDS = (
    CallKind(
        of="Z80, 8080 or 8085", called="CALL", opcode=0xCD, width=2, order="little",
        ends={1: (0xC9, 0xE9), 3: (0xC3,), 2: (0x18,)},
    ),
    CallKind(of="6502", called="JSR", opcode=0x20, width=2, order="little", ends={1: (0x60, 0x40), 3: (0x4C, 0x6C)}),
    CallKind(
        of="6800, 6809 or 68HC11", called="JSR", opcode=0xBD, width=2, order="big",
        ends={1: (0x39, 0x3B), 3: (0x7E,), 2: (0x20, 0x35)},
    ),
    CallKind(
        of="6805 family", called="JSR", opcode=0xCD, width=2, order="big",
        ends={1: (0x81, 0x80), 3: (0xCC,), 2: (0x20,)},
    ),
    CallKind(
        of="8051", called="LCALL", opcode=0x12, width=2, order="big", ends={1: (0x22, 0x32), 3: (0x02,), 2: (0x80,)},
    ),
    CallKind(of="x86", called="CALL", opcode=0xE8, width=2, order="little", relative=True, ends=_X86_ENDS),
    CallKind(of="x86", called="CALL", opcode=0xE8, width=4, order="little", relative=True, ends=_X86_ENDS),
)  # fmt: skip


@dataclass(frozen=True)
class Calls:
    """What the calls of one family say.

    Attributes:
        bits: How much less likely chance makes it than a program does. [bit]
        of: The family, or empty.
        hits: How many different targets follow an end.
        targets: How many different targets lie in the image.
    """

    bits: float
    of: str
    hits: int
    targets: int


def calls(data: Bytes, anywhere: bool = False) -> Calls:
    """Give what the calls of the family say that fits best.

    Args:
        data: Bytes in the order of addresses; no more than 64 KiB of them have addresses of 16 bits.
        anywhere: Whether the image may lie at any multiple of 256 bytes, as a part of a program does, and not only
            where a chip would.
    """
    return max(_weighed(data, anywhere), key=lambda found: found.bits, default=Calls(0.0, "", 0, 0))


def _weighed(data: Bytes, anywhere: bool) -> Iterator[Calls]:
    if len(data) < 64:
        return
    for kind in KINDS:
        at = kind.places(data)
        if len(at) >= FEWEST:
            targets = kind.targets(at, [data[at + 1 + k].astype(np.int64) for k in range(kind.width)])
            begins = kind.begins(data)
            tried: Iterable[int] = (0,)
            if not kind.relative:
                tried = range(0, SPACE, 256) if anywhere else bases(targets, len(data))[:BASES]
            for base in tried:
                yield _told(kind.of, begins, targets - base)
    words = data[: len(data) // 2 * 2].view(">u2").astype(np.int64)
    yield _told("68000", np.concatenate(([False], returns(words))), branches(words))


def branches(words: Offsets) -> Offsets:
    """Give the numbers of the words that BSR of the 68000 leads to, from the words of a program.

    A distance of 16 bits follows where that of 8 is 0.
    """
    at = np.flatnonzero(words[:-1] >> 8 == 0x61)
    short = words[at] & 0xFF
    distance = np.where(short == 0, (words[at + 1] ^ 0x8000) - 0x8000, (short ^ 0x80) - 0x80)
    targets = 2 * at + 2 + distance
    found: Offsets = targets[targets % 2 == 0] // 2
    return found


def returns(words: Offsets) -> NDArray[np.bool_]:
    """Whether each word is RTS or RTE of the 68000."""
    found: NDArray[np.bool_] = (words == 0x4E75) | (words == 0x4E73)
    return found


def one_of(opcodes: tuple[int, ...]) -> NDArray[np.bool_]:
    """For each byte: whether it is one of these."""
    table = np.zeros(256, bool)
    table[list(opcodes)] = True
    return table


def bases(targets: Offsets, size: int) -> list[int]:
    """Give the addresses at which an image may lie, multiples of 4 KiB, where most targets are inside.

    Returns:
        Those that hold nearly as many as the best, for what is no call has targets, too: multiples of the size first,
        at which chips mostly lie.

    Example:
        >>> bases(np.array([0x8123, 0x8456, 0x9789, 0x0030]), 0x4000)
        [32768, 24576, 28672]
    """
    if size >= SPACE or not len(targets):
        return [0]
    below = np.concatenate(([0], np.cumsum(np.bincount(targets >> 12, minlength=16))))
    pages = -(-size // 4096)
    inside = below[pages:] - below[:-pages]
    most = np.flatnonzero(inside >= NEARLY * inside.max()).tolist()
    return sorted((page << 12 for page in most), key=lambda base: (base % size != 0, -int(inside[base >> 12])))


def _told(of: str, begins: NDArray[np.bool_], targets: Offsets) -> Calls:
    size = len(begins)
    inside = np.unique(targets[(targets >= 3) & (targets < size)])
    hits = int(begins[inside].sum())
    if hits < FEWEST:
        return Calls(0.0, of, hits, len(inside))
    beside = begins[np.minimum(np.maximum(inside + _BESIDE, 0), size - 1)].mean(axis=1)
    chance = min(max(float(beside.max()), float(begins.mean()), 1 / 256), 0.5)
    return Calls(bits(hits, len(inside), chance), of, hits, len(inside))


def bits(hits: int, of: int, chance: float, fewest: int = FEWEST) -> float:
    """How much less likely chance makes so many hits than a program does; nothing is said by fewer than some. [bit]

    Example:
        >>> bits(1, 100, 0.02), round(bits(50, 100, 0.02))
        (0.0, 184)
    """
    if hits < fewest or hits / of <= max(2 * chance, 0.1):
        return 0.0
    share = hits / of
    rest = (1 - share) * float(np.log2((1 - share) / (1 - chance))) if share < 1 else 0.0
    return of * (share * float(np.log2(share / chance)) + rest)
