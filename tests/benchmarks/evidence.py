"""How often a fault that both reads share is held against the grade, and how often a clean pair is held back.

    python -m tests.benchmarks.evidence [--trials 60] [--seed 1]

Two equal reads on two readers at two voltages would be independent. In each trial one fault is put into both (those of
`inspection.py`, and a read of half the chip), and what the image shows by itself is weighed with them. Trials are
numbered: rules may be tuned on the even ones; the odd ones are for reporting. "held back" is the share that is not
graded independent; for clean pairs that is a false alarm.
"""

from __future__ import annotations

import argparse
from collections import Counter

import numpy as np

from imagekeeper.addresses import Span
from imagekeeper.containers.model import Image
from imagekeeper.evidence.examining import examine
from imagekeeper.evidence.standing import standing
from imagekeeper.provenance.reads import ReadImage
from imagekeeper.provenance.standing import Standing
from tests.benchmarks.inspection import FAULTS, SIZES, Bytes, Dice, Injected, bios, code, piece, tables, text
from tests.evidence.records import agreed, carrier, read

#: A chip of each size, by its bytes.
PARTS = {2048: "2716", 4096: "2732", 8192: "2764", 16384: "27128", 32768: "27256", 65536: "27512"}


def half(a: Bytes, dice: Dice) -> Injected:
    """Read with the wrong type set: half of the chip."""
    return a[: len(a) // 2], "chip-size-differs", None


def weighed(data: Bytes, part: str) -> Standing:
    """Weigh two equal reads of these bytes that differ in reader and voltage."""
    image = Image.from_bytes(data.tobytes())
    seen = examine(image, "eprom", part)
    about = ReadImage(
        sha256=seen.sha256, crc32=seen.figures["crc32"], size_bytes=len(data), first_address=0,
        segments=(Span(0, len(data)),),
    )  # fmt: skip
    reads = [
        read(1, seen.sha256, reader="bench reader", vcc="5.0", image=about),
        read(2, seen.sha256, reader="pocket reader", vcc="4.5", image=about),
    ]
    return standing(carrier(reads, part=part, agreed=agreed(seen.sha256), examinations=(seen,)))


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--trials", type=int, default=60, help="for each fault and content, in each half")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    dice = np.random.default_rng(options.seed)
    kinds = {"code": code(dice), "text": text(), "bios": bios(), "table": tables()}
    kinds = {name: blobs for name, blobs in kinds.items() if blobs}
    print(f"{'fault':14} {'content':8} {'even: held back':>16} {'odd: held back':>15}")
    for inject in (None, half, *FAULTS):
        for name, blobs in kinds.items():
            held, made = Counter[int](), 0
            while made < 2 * options.trials:
                data = piece(blobs, [size for size in SIZES if size in PARTS][int(dice.integers(len(PARTS)))], dice)
                if data is None or np.mean(data == data[0]) > 0.9 or len(np.unique(data)) < 16:
                    continue
                part = PARTS[len(data)]
                second = data if inject is None else inject(data, dice)[0]
                if inject is not None and len(second) == len(data) and np.count_nonzero(second != data) < 16:
                    continue
                held[made % 2] += weighed(second, part).grade != "independent"
                made += 1
            title = "none" if inject is None else inject.__name__
            print(f"{title:14} {name:8} {held[0] / options.trials:16.1%} {held[1] / options.trials:15.1%}")


if __name__ == "__main__":
    main()
