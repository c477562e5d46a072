"""How good the inspection of one image is: false alarms on clean pieces, and injected faults found.

    python tests/benchmarks/inspection.py [--clean 3000] [--trials 60] [--seed 1] [--show]
                                          [--firmware DIR [--half even|odd]]

Clean pieces: BIOS files (/usr/share/seabios, where they are), programs and libraries (/usr/bin, /usr/lib), and text,
cut at powers of two from 2 KiB to 512 KiB. Pieces that hold one value only are left out: no program is so.

Injected: one fault in a clean piece of code, text or a table. Trials in which fewer than 16 bytes changed do not count.
"found" is the share in which the right code with the right line is a fault or a warning, "as fault" in which it is a
fault, "worst" in which it comes first.

With --firmware, clean pieces and faults are of the files in that folder, one for each program as a chip holds it, and
the faults of wiring are tried too: exchanged data and address lines, inversion, lanes. The rules for these were tuned
on the files whose name has an even CRC-32; only the other half tells how good they are. "order" is the share in
which the order that was found is exactly the one that was injected.
"""

from __future__ import annotations

import argparse
import time
import zlib
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from imagekeeper.containers.model import Image
from imagekeeper.findings import Finding
from imagekeeper.inspection.inspection import inspect_image

Bytes = NDArray[np.uint8]
Dice = np.random.Generator
SIZES = [1 << k for k in range(11, 20)]
ROOT = Path(__file__).resolve().parent.parent.parent


def inspected(data: Bytes) -> tuple[Finding, ...]:
    return inspect_image(Image.from_bytes(data.tobytes())).findings


def bios() -> list[bytes]:
    return [p.read_bytes() for p in sorted(Path("/usr/share/seabios").glob("*.bin"))]


def code(dice: Dice, count: int = 120) -> list[bytes]:
    files = [p for p in sorted(Path("/usr/bin").iterdir()) if p.is_file() and p.stat().st_size > 1 << 16]
    files += [p for p in sorted(Path("/usr/lib").rglob("*.so*")) if p.is_file() and p.stat().st_size > 1 << 16]
    chosen = dice.choice(len(files), min(count, len(files)), replace=False)
    blobs = []
    for i in sorted(chosen):
        with files[i].open("rb") as file:
            data = file.read(8 << 20)
        if data.startswith(b"\x7fELF"):
            blobs.append(data)
    return blobs


def text() -> list[bytes]:
    files = sorted(ROOT.rglob("*.md")) + sorted((ROOT / "imagekeeper").rglob("*.py"))
    files += sorted(Path("/usr/share/common-licenses").glob("*"))
    whole = b"".join(p.read_bytes() for p in files if p.is_file())
    return [bytes(c for c in whole if c < 0x80), whole]


def tables() -> list[bytes]:
    at = np.arange(1 << 20)
    return [
        np.round(32767 * np.sin(at / 997)).astype(">i2").tobytes(),
        np.round(128 + 127 * np.sin(at / 61)).astype(np.uint8).tobytes(),
        np.round(2000 * np.log1p(at % 4099)).astype("<u2").tobytes(),
    ]


def piece(blobs: list[bytes], size: int, dice: Dice) -> Bytes | None:
    blob = blobs[int(dice.integers(len(blobs)))]
    if len(blob) < size:
        return None
    at = int(dice.integers(0, len(blob) - size + 1)) // 256 * 256
    return np.frombuffer(blob[at : at + size], np.uint8)


def clean_pieces(kinds: dict[str, list[bytes]], count: int, dice: Dice) -> Iterator[tuple[str, Bytes]]:
    names = list(kinds)
    made = 0
    while made < count:
        name = names[int(dice.integers(len(names)))]
        data = piece(kinds[name], SIZES[int(dice.integers(len(SIZES)))], dice)
        if data is not None and data.min() != data.max():
            made += 1
            yield name, data


Injected = tuple[Bytes, str, str | None]


def stuck_data(a: Bytes, dice: Dice) -> Injected:
    line, value = int(dice.integers(8)), int(dice.integers(2))
    mask = np.uint8(1 << line)
    return (a | mask if value else a & ~mask), "data-line-stuck", f"D{line}"


def shorted_data(a: Bytes, dice: Dice) -> Injected:
    i, j = sorted(int(x) for x in dice.choice(8, 2, replace=False))
    x, y = (a >> i) & 1, (a >> j) & 1
    both = x & y if dice.random() < 0.5 else x | y
    rest = a & np.uint8(255 ^ (1 << i | 1 << j))
    if both.min() == both.max():   # one of the two never changed: this is a stuck line, and is told as one
        return rest | (both << i) | (both << j), "data-line-stuck", None
    return rest | (both << i) | (both << j), "data-lines-shorted", f"D{i} D{j}"


def stuck_address(a: Bytes, dice: Dice) -> Injected:
    line, value = int(dice.integers(len(a).bit_length() - 2)), int(dice.integers(2))
    at = np.arange(len(a))
    return a[at | 1 << line if value else at & ~(1 << line)], "address-line-stuck", f"A{line}"


def mirrored(a: Bytes, dice: Dice) -> Injected:
    times = 2 ** int(dice.integers(1, 4))
    return np.tile(a[: len(a) // times], times), "mirrored", str(len(a) // times)


def blank(a: Bytes, dice: Dice) -> Injected:
    return np.full_like(a, 0xFF), "blank", None


def not_selected(a: Bytes, dice: Dice) -> Injected:
    return np.full_like(a, int(dice.integers(255))), "not-selected", None


def floating(a: Bytes, dice: Dice) -> Injected:
    at = np.arange(len(a))
    data = (at if dice.random() < 0.5 else at >> 8).astype(np.uint8)
    noisy = dice.random(len(a)) < 0.02
    return np.where(noisy, dice.integers(0, 256, len(a)), data).astype(np.uint8), "floating-bus", None


FAULTS: tuple[Callable[[Bytes, Dice], Injected], ...] = (
    stuck_data, shorted_data, stuck_address, mirrored, blank, not_selected, floating
)  # fmt: skip


def exchanged(values: Any, one: int, other: int) -> Any:
    wide = values.astype(np.int64)
    first, second = wide >> one & 1, wide >> other & 1
    return wide & ~(1 << one | 1 << other) | first << other | second << one


def _two(dice: Dice, below: int) -> tuple[int, int]:
    one, other = sorted(int(x) for x in dice.choice(below, 2, replace=False))
    return one, other


def _order(letter: str, one: int, other: int) -> str:
    return str({f"{letter}{one}": f"{letter}{other}", f"{letter}{other}": f"{letter}{one}"})


def exchanged_data(a: Bytes, dice: Dice) -> Injected:
    one, other = _two(dice, 8)
    return exchanged(a, one, other).astype(np.uint8), "data-lines-exchanged", _order("D", one, other)


def any_data_order(a: Bytes, dice: Dice) -> Injected:
    places = dice.permutation(8).tolist()
    data = sum((a.astype(np.int64) >> line & 1) << place for line, place in enumerate(places))
    order = {f"D{line}": f"D{place}" for line, place in enumerate(places) if line != place}
    return np.asarray(data).astype(np.uint8), "data-lines-exchanged", str(order)


def backwards(a: Bytes, dice: Dice) -> Injected:
    return np.packbits(np.unpackbits(a[:, None], axis=1)[:, ::-1], axis=1)[:, 0], "bits-reversed", None


def inverted(a: Bytes, dice: Dice) -> Injected:
    return ~a, "inverted", None


def exchanged_addresses(a: Bytes, dice: Dice) -> Injected:
    one, other = _two(dice, len(a).bit_length() - 1)
    at = np.arange(len(a))
    return a[exchanged(at, one, other)], "address-lines-exchanged", _order("A", one, other)


def shorted_addresses(a: Bytes, dice: Dice) -> Injected:
    one, other = _two(dice, len(a).bit_length() - 1)
    at, both = np.arange(len(a)), 1 << one | 1 << other
    differ = (at >> one & 1) != (at >> other & 1)
    to = at & ~both if dice.random() < 0.5 else at | both
    return a[np.where(differ, to, at)], "address-lines-shorted", f"A{one} A{other}"


def joined_lanes(a: Bytes, dice: Dice) -> Injected:
    return np.concatenate([a[0::2], a[1::2]]), "lane-of", None


def bytes_exchanged(a: Bytes, dice: Dice) -> Injected:
    return a[np.arange(len(a)) ^ 1], "bytes-exchanged", None


WIRING: tuple[Callable[[Bytes, Dice], Injected], ...] = (
    exchanged_data, any_data_order, backwards, inverted, exchanged_addresses, shorted_addresses, joined_lanes,
    bytes_exchanged,
)  # fmt: skip


def firmware(folder: Path, half: str) -> list[bytes]:
    """The files of one half, as chips of a power of two hold them."""
    files = [p for p in sorted(folder.rglob("*")) if p.is_file() and 1024 <= p.stat().st_size <= 64 << 20]
    chosen = [p for p in files if (zlib.crc32(p.name.encode()) & 1) == (half == "odd")]
    blobs = [p.read_bytes() for p in chosen]
    return [blob.ljust(1 << (len(blob) - 1).bit_length(), b"\xff") for blob in blobs]


def whole_chip(blobs: list[bytes], dice: Dice) -> Bytes:
    """A whole small file, or a part of a large one at which a chip of a set would begin, with enough content."""
    while True:
        data = np.frombuffer(blobs[int(dice.integers(len(blobs)))], np.uint8)
        size = min(1 << int(dice.integers(12, 18)), len(data))
        if len(data) > 1 << 17 or dice.random() < 0.3:
            at = int(dice.integers(len(data) // size)) * size
            data = data[at : at + size]
        if len(np.unique(data)) > 32 and np.bincount(data).max() < 0.8 * len(data):
            return data


def measure_wiring(blobs: list[bytes], trials: int, dice: Dice, show: bool) -> None:
    """Measure the faults of wiring, and print."""
    print(f"\n{'fault':20} {'trials':>6} {'found':>7} {'order':>7} {'wrong':>7}")
    codes = {"lane-of", "inverted", "bits-reversed", "bytes-exchanged", "address-lines-shorted"}
    codes |= {"data-lines-exchanged", "address-lines-exchanged"}
    for inject in WIRING:
        made, result = 0, Counter[str]()
        while made < trials:
            data = whole_chip(blobs, dice)
            second, wanted, line = inject(data, dice)
            if np.count_nonzero(second != data) < 64:
                continue
            made += 1
            said = [f for f in inspected(second) if f.code in codes and f.severity != "note"]
            right = [f for f in said if f.code == wanted]
            exact = [f for f in right if line is None or line in names(f)]
            result["found"] += bool(right)
            result["order"] += bool(exact)
            result["wrong"] += bool(said) and not exact
            if show and not exact:
                print("missed", inject.__name__, len(data), line, [(f.code, f.detail) for f in said])
        shares = " ".join(f"{result[key] / made:7.1%}" for key in ("found", "order", "wrong"))
        print(f"{inject.__name__:20} {made:6} {shares}")


def names(found: Finding) -> set[str]:
    """What a finding names: its line, its pair of lines, its size."""
    pair: Any = found.detail.get("line_pair", ())
    others = (str(found.detail.get(key)) for key in ("line", "size_bytes", "order"))
    return {" ".join(pair), *others}


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--clean", type=int, default=3000)
    parser.add_argument("--trials", type=int, default=60, help="for each fault and content")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--show", action="store_true", help="show what was missed or wrong")
    parser.add_argument("--firmware", type=Path, metavar="DIR", help="a folder of files as chips hold them")
    parser.add_argument("--half", choices=("even", "odd"), default="odd", help="of these files")
    options = parser.parse_args()
    dice = np.random.default_rng(options.seed)
    kinds = {"code": code(dice), "text": text(), "bios": bios()}
    if options.firmware:
        kinds["firmware"] = firmware(options.firmware, options.half)
    kinds = {name: blobs for name, blobs in kinds.items() if blobs}

    tally: dict[str, Counter[str]] = defaultdict(Counter)
    for name, data in clean_pieces(kinds, options.clean, dice):
        findings = inspected(data)
        tally[name]["pieces"] += 1
        for severity in ("fault", "warning"):
            worst = [f for f in findings if f.severity == severity]
            tally[name][severity] += bool(worst)
            for f in worst:
                tally[name][f"{severity} {f.code}"] += 1
                if options.show:
                    print("clean", name, len(data), severity, f.code, f.why)
    print("clean pieces")
    for name, counter in tally.items():
        print(f"  {name:6} {dict(counter)}")

    if options.firmware:
        measure_wiring(kinds["firmware"], options.trials, dice, options.show)
    kinds["table"] = tables()
    print(f"\n{'fault':14} {'content':8} {'trials':>6} {'found':>7} {'as fault':>8} {'worst':>7}")
    for inject in FAULTS:
        for name in ("code", "text", "table"):
            made, result = 0, Counter[str]()
            while made < options.trials:
                data = piece(kinds[name], SIZES[int(dice.integers(len(SIZES)))], dice)
                if data is None or np.mean(data == data[0]) > 0.9 or len(np.unique(data)) < 16:
                    continue
                second, wanted, line = inject(data, dice)
                if np.count_nonzero(second != data) < 16:
                    continue
                made += 1
                findings = inspected(second)
                right = [f for f in findings if f.code == wanted and (line is None or line in names(f))]
                result["found"] += any(f.severity != "note" for f in right)
                result["fault"] += any(f.severity == "fault" for f in right)
                result["worst"] += bool(findings) and findings[0] in right
                if options.show and not any(f.severity != "note" for f in right):
                    print("missed", name, len(data), wanted, line, [(f.severity, f.code, f.why) for f in findings])
            print(
                f"{inject.__name__:14} {name:8} {made:6} {result['found'] / made:7.1%} {result['fault'] / made:8.1%} "
                f"{result['worst'] / made:7.1%}"
            )

    whole = np.frombuffer(b"".join(kinds["code"])[: 1 << 20], np.uint8)
    started = time.process_time()
    inspected(whole)
    print(f"\none image of 1 MiB: {time.process_time() - started:.2f} s of process time")


if __name__ == "__main__":
    main()
