"""How good the diagnosis is: faults are injected into content of many kinds, and a confusion matrix is printed.

    python tests/benchmarks/diagnosis.py [--trials 40] [--seed 1] [--clean 1000]

Each trial takes a piece of content, injects one fault with random parameters, and asks for the cause. Trials in which
fewer than 16 bytes changed do not count. "first" is the share in which the injected fault is ranked first; "or equal"
adds those in which another cause foretells the very same bytes, so that nothing could tell the two apart; "line" is the
share of the first in which the line, wiring, place or direction is right as well.

Content: compiled code (this interpreter's own files), text (the documentation), tables (rounded sines), a character
generator and a sparse image (both invented), and random bytes; sizes from 2 KiB to 512 KiB.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from imagekeeper.comparison import wiring
from imagekeeper.comparison.diagnosis import diagnose
from imagekeeper.jobs import specimen

Bytes = NDArray[np.uint8]
Dice = np.random.Generator
SIZES = [1 << k for k in range(11, 20)]
ROOT = Path(__file__).resolve().parent.parent.parent


def _files(pattern: str, folder: Path) -> bytes:
    return b"".join(p.read_bytes() for p in sorted(folder.rglob(pattern))[:60])


class Content:
    """Pieces of content of several kinds."""

    def __init__(self) -> None:
        code = Path(sys.executable).resolve().read_bytes()
        libraries = _files("*.so", Path(np.__file__).parent)
        text = _files("*.md", ROOT) + _files("*.py", ROOT / "imagekeeper")
        table = np.round(32767 * np.sin(np.arange(1 << 18) / 997)).astype(">i2").tobytes()
        glyphs = specimen.character_generator()
        self.kinds: dict[str, bytes] = {
            "code": (libraries + code)[4096:],
            "text": text * 3,
            "table": table,
            "characters": b"".join(bytes(v ^ (k * 37 & 0x7E) if v else 0 for v in glyphs) for k in range(300)),
            "sparse": b"",
            "random": b"",
        }

    def piece(self, kind: str, size: int, dice: Dice) -> Bytes:
        if kind == "random":
            return dice.integers(0, 256, size, np.uint8)
        if kind == "sparse":
            data = np.full(size, 0xFF, np.uint8)
            for _ in range(6):
                length = int(dice.integers(size // 64, size // 12))
                at = int(dice.integers(0, size - length))
                data[at : at + length] = np.frombuffer(self.kinds["code"], np.uint8)[at * 7 : at * 7 + length]
            return data
        whole = self.kinds[kind]
        for _ in range(50):   # a stretch with some variety: nobody dumps a chip to look at nothing
            at = int(dice.integers(0, max(len(whole) - size, 1)))
            data = np.frombuffer(whole[at : at + size], np.uint8)
            if len(data) == size and len(np.unique(data)) > 8 and np.mean(data == data[0]) < 0.9:
                return data.copy()
        return np.frombuffer(whole[:size].ljust(size, b"\xff"), np.uint8).copy()


@dataclass
class Injected:
    second: Bytes
    expect: dict[str, Any]
    exact: bool = True   # the second read is a rule applied to the first, with no chance in it


def stuck_data(a: Bytes, dice: Dice) -> Injected:
    line, value = int(dice.integers(8)), int(dice.integers(2))
    mask = np.uint8(1 << line)
    return Injected(a | mask if value else a & ~mask, {"line": f"D{line}", "value": value})


def unstable_data(a: Bytes, dice: Dice) -> Injected:
    line, value = int(dice.integers(8)), int(dice.integers(2))
    mask = np.uint8(1 << line)
    hit = dice.random(len(a)) < dice.uniform(0.01, 0.4)
    forced = a | mask if value else a & ~mask
    return Injected(np.where(hit, forced, a).astype(np.uint8), {"line": f"D{line}"}, exact=False)


def exchanged_data(a: Bytes, dice: Dice) -> Injected:
    lines = tuple(int(x) for x in dice.permutation(8))
    if dice.random() < 0.5:
        i, j = (int(x) for x in dice.choice(8, 2, replace=False))
        swapped = list(range(8))
        swapped[i], swapped[j] = j, i
        lines = tuple(swapped)
    return Injected(wiring.exchange_data_lines(a, lines), {"wiring": wiring_of(lines, "D")})


def wiring_of(lines: tuple[int, ...], letter: str) -> list[dict[str, str]]:
    return [{"line": f"{letter}{i}", "carries": f"{letter}{j}"} for i, j in enumerate(lines) if i != j]


def shorted_data(a: Bytes, dice: Dice) -> Injected:
    i, j = sorted(int(x) for x in dice.choice(8, 2, replace=False))
    wired = "and" if dice.random() < 0.5 else "or"
    x, y = (a >> i) & 1, (a >> j) & 1
    both = x & y if wired == "and" else x | y
    rest = a & np.uint8(255 ^ (1 << i | 1 << j))
    return Injected(rest | (both << i) | (both << j), {"lines": [f"D{i}", f"D{j}"], "wired": wired})


def lines_of(a: Bytes) -> int:
    return (len(a) - 1).bit_length()


def stuck_address(a: Bytes, dice: Dice) -> Injected:
    line, value = int(dice.integers(lines_of(a))), int(dice.integers(2))
    at = np.arange(len(a))
    source = at | (1 << line) if value else at & ~(1 << line)
    return Injected(a[source], {"line": f"A{line}", "value": value})


def unstable_address(a: Bytes, dice: Dice) -> Injected:
    line, value = int(dice.integers(lines_of(a))), int(dice.integers(2))
    at = np.arange(len(a))
    source = at | (1 << line) if value else at & ~(1 << line)
    hit = dice.random(len(a)) < dice.uniform(0.01, 0.4)
    return Injected(np.where(hit, a[source], a).astype(np.uint8), {"line": f"A{line}"}, exact=False)


def exchanged_addresses(a: Bytes, dice: Dice) -> Injected:
    count = lines_of(a)
    lines = list(range(count))
    if dice.random() < 0.5:
        i, j = (int(x) for x in dice.choice(count, 2, replace=False))
        lines[i], lines[j] = j, i
    else:
        lines = [int(x) for x in dice.permutation(count)]
    return Injected(wiring.exchange_address_lines(a, tuple(lines)), {"wiring": wiring_of(tuple(lines), "A")})


def shifted(a: Bytes, dice: Dice) -> Injected:
    out, slips = a, []
    for place in sorted(dice.integers(0, len(a) * 3 // 4, int(dice.integers(1, 4))).tolist(), reverse=True):
        length = int(dice.integers(1, 40))
        slips.append(length)
        out = np.delete(out, np.arange(place, place + length))
    fill = np.full(len(a) - len(out), 0xFF, np.uint8)
    if dice.random() < 0.5:
        return Injected(np.concatenate([out, fill]), {})
    return Injected(out, {})


def truncated(a: Bytes, dice: Dice) -> Injected:
    at = int(dice.integers(len(a) // 8, len(a) - 32))
    if dice.random() < 0.5:
        return Injected(a[:at], {"at": at})
    out = a.copy()
    out[at:] = dice.choice([0xFF, 0x00])
    return Injected(out, {})


def charge_loss(a: Bytes, dice: Dice) -> Injected:
    zeros = np.flatnonzero(np.unpackbits(a) == 0)
    count = min(int(dice.integers(20, 400)), len(zeros) // 8)
    bits = np.unpackbits(a)
    bits[dice.choice(zeros, max(count, 0), replace=False)] = 1
    return Injected(np.packbits(bits), {}, exact=False)


def random_noise(a: Bytes, dice: Dice) -> Injected:
    count = int(dice.integers(24, 400))
    bits = np.unpackbits(a)
    bits[dice.choice(len(bits), count, replace=False)] ^= 1
    return Injected(np.packbits(bits), {}, exact=False)


def inverted(a: Bytes, dice: Dice) -> Injected:
    return Injected(~a, {})


def exchanged_bytes(a: Bytes, dice: Dice) -> Injected:
    return Injected(a[np.arange(len(a)) ^ 1], {"address_xor": 1})


def reversed_bits(a: Bytes, dice: Dice) -> Injected:
    return Injected(wiring.exchange_data_lines(a, (7, 6, 5, 4, 3, 2, 1, 0)), {})


def lane(a: Bytes, dice: Dice) -> Injected:
    which = int(dice.integers(2))
    return Injected(a[which::2], {"lane": which})


def mirrored(a: Bytes, dice: Dice) -> Injected:
    times = int(dice.choice([2, 4]))
    return Injected(np.tile(a, times), {"times": times})


FAULTS: dict[str, Callable[[Bytes, Dice], Injected]] = {
    "data-line-stuck": stuck_data, "data-line-unstable": unstable_data, "data-lines-exchanged": exchanged_data,
    "data-lines-shorted": shorted_data, "address-line-stuck": stuck_address, "address-line-unstable": unstable_address,
    "address-lines-exchanged": exchanged_addresses, "shifted": shifted, "truncated": truncated,
    "charge-loss": charge_loss, "random-noise": random_noise, "inverted": inverted, "bytes-exchanged": exchanged_bytes,
    "bits-reversed": reversed_bits, "lane-of": lane, "mirrored": mirrored,
}  # fmt: skip


def changed(a: Bytes, b: Bytes) -> int:
    size = min(len(a), len(b))
    return int(np.count_nonzero(a[:size] != b[:size])) + abs(len(a) - len(b))


def right(found: dict[str, Any], expect: dict[str, Any]) -> bool:
    if found.get("ambiguous"):   # all solutions are given; the injected one must be among them
        return True
    return all(found.get(key) == value for key, value in expect.items())


def foretells_the_same(a: Bytes, b: Bytes) -> bool:
    """Whether the cause named first is an exact rule that gives just these bytes."""
    from imagekeeper.comparison.diagnosis import _explain
    from imagekeeper.comparison.pair import Pair

    if len(a) != len(b):
        return False
    pair = Pair(first=a, second=b, names=("a", "b"))
    best = _explain(pair, True, (None, None))[0].explanation
    return not best.by_chance and best.left(pair) == 0


def main() -> None:
    """Print the confusion matrix."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--trials", type=int, default=40, help="a fault and kind of content")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--show", action="store_true", help="print each miss")
    options = parser.parse_args()
    content, dice = Content(), np.random.default_rng(options.seed)
    confusion: dict[str, Counter[str]] = defaultdict(Counter)
    hits: Counter[str] = Counter()
    equal: Counter[str] = Counter()
    lines: Counter[str] = Counter()
    tried: Counter[str] = Counter()
    by_kind: dict[str, Counter[str]] = defaultdict(Counter)
    started = time.perf_counter()
    for fault, inject in FAULTS.items():
        for kind in content.kinds:
            for _ in range(options.trials):
                a = content.piece(kind, int(dice.choice(SIZES)), dice)
                made = inject(a, dice)
                if changed(a, made.second) < 16:
                    continue
                found = diagnose(a, made.second, ("first", "second"))
                code = found[0].code if found else "nothing"
                tried[fault] += 1
                confusion[fault][code] += 1
                if code == fault:
                    hits[fault] += 1
                    lines[fault] += right(found[0].detail, made.expect)
                    if options.show and not right(found[0].detail, made.expect):
                        print("line:", fault, kind, len(a), made.expect, found[0].detail)
                else:
                    same = made.exact and foretells_the_same(a, made.second) if found else False
                    equal[fault] += same
                    by_kind[fault][kind] += not same
                    if options.show and not same:
                        print("miss:", fault, kind, len(a), changed(a, made.second), made.expect, "->", code,
                              found[0].why if found else "")
    print(f"{'injected':26}{'trials':>7}{'first':>9}{'or equal':>10}{'line':>9}   taken for")
    for fault in FAULTS:
        n = tried[fault]
        others = ", ".join(f"{code} {count}" for code, count in confusion[fault].most_common() if code != fault)
        print(
            f"{fault:26}{n:7}{hits[fault] / n:9.2%}{(hits[fault] + equal[fault]) / n:10.2%}"
            f"{lines[fault] / max(hits[fault], 1):9.2%}   {others} {dict(by_kind[fault]) if +by_kind[fault] else ''}"
        )
    n = tried.total()
    print(
        f"{'all':26}{n:7}{hits.total() / n:9.2%}{(hits.total() + equal.total()) / n:10.2%}"
        f"{lines.total() / hits.total():9.2%}   goals 99 % and 99 %; {time.perf_counter() - started:.0f} s"
    )


if __name__ == "__main__":
    main()
