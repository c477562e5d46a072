"""Content for tests of the diagnosis, what chance does to it, and how to ask."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from imagekeeper.comparison.comparison import Comparison, compare
from imagekeeper.comparison.pair import Bytes, Pair
from imagekeeper.containers.model import Image
from imagekeeper.findings import Finding
from imagekeeper.jobs import specimen

NAMES = ("good.bin", "bad.bin")
PROGRAM = np.frombuffer(specimen.program(), np.uint8)
GLYPHS = np.frombuffer(specimen.character_generator(), np.uint8)
RANDOM = np.random.default_rng(85).integers(0, 256, 8192, np.uint8)


def pair(good: Bytes, bad: Bytes) -> Pair:
    return Pair(first=good, second=bad.astype(np.uint8), names=NAMES)


def chance(good: Bytes, seed: int, share: float) -> Bytes:
    """Draw places."""
    return np.flatnonzero(np.random.default_rng(seed).random(len(good)) < share)


def flipped(good: Bytes, seed: int, count: int, only: int | None = None) -> Bytes:
    """Turn so many bits anywhere, or of those that hold a value."""
    dice = np.random.default_rng(seed)
    bits = np.unpackbits(good)
    places = np.arange(len(bits)) if only is None else np.flatnonzero(bits == only)
    bits[dice.choice(places, count, replace=False)] ^= 1
    return np.packbits(bits)


def compared(
    *reads: Bytes, volts: Sequence[float | None] | None = None, technology: str | None = None
) -> Comparison:
    names = [f"r{number}.bin" for number in range(1, len(reads) + 1)]
    return compare([Image.from_bytes(read.tobytes()) for read in reads], names, volts=volts, technology=technology)


def causes(
    *reads: Bytes, volts: Sequence[float | None] | None = None, technology: str | None = None
) -> tuple[Finding, ...]:
    """Ask why reads differ."""
    return compared(*reads, volts=volts, technology=technology).findings


def same_in_any_order(good: Bytes, bad: Bytes) -> Finding:
    """Give the first finding, which is the same whichever read comes first, and however often the good one comes."""
    there, back = causes(good, bad)[0], causes(bad, good)[0]
    among = causes(good, bad, good)[0]
    assert there.code == back.code == among.code, (there.code, back.code, among.code)
    for one, ill in ((there, 2), (back, 1), (among, 2)):
        assert one.detail["reads"] == [ill], one
        assert one.detail["read"] == f"r{ill}.bin", one
    for key in set(there.detail) - {"read", "reads"}:
        assert there.detail[key] == back.detail[key] == among.detail[key], key
    return there
