"""How much damage passes unseen: one byte of a record file is damaged, at every place, in some twenty-five ways.

Run it as `python -m tests.benchmarks.doubts`; it takes about a minute. Per file it gives how many ways were tried, how
many were refused, how many changed nothing, how many passed although the image is another, and how many left a wrong
byte without a doubt where doubtful input is kept. The last must be 0.
"""

from __future__ import annotations

import random
from collections import Counter

from imagekeeper.containers import intel_hex, s_record
from imagekeeper.containers.model import Image, Segment
from imagekeeper.containers.registry import Read
from tests.containers.test_doubts import judged, segmented

DAMAGE = b"0123456789ABCDEFf :S@\r\n\0\xffx"
DICE = random.Random(1)


def files() -> dict[str, tuple[Read, bytes]]:
    """Give files of each kind: with and without bases, with and without a count of records."""
    far = Image(segments=(Segment(0xFFE0, DICE.randbytes(0x50)), Segment(0x2_0000, DICE.randbytes(0x28))))
    found: dict[str, tuple[Read, bytes]] = {
        "Intel HEX, linear bases": (intel_hex.read, intel_hex.write(far)),
        "Intel HEX, segment bases": (intel_hex.read, segmented()),
        "Intel HEX, no base": (intel_hex.read, intel_hex.write(Image.from_bytes(DICE.randbytes(0x100)))),
    }
    for base in (0x100, 0x8000, 0x1_8000, 0x123_8000):
        for counted in (False, True):
            text = s_record.write(Image.from_bytes(DICE.randbytes(0x70), base), with_count=counted)
            found[f"S-records from {base:X}{', counted' if counted else ''}"] = (s_record.read, text)
    return found


def main() -> None:
    for name, (read, text) in files().items():
        told = Counter(
            judged(read, text, at, value) for at in range(len(text)) for value in DAMAGE if value != text[at]
        )
        refused = told["doubted"] + told["refused"] + told["undoubted"]
        print(
            f"{name:32} {told.total():6} ways: {refused} refused, {told['harmless']} harmless, "
            f"{told['passes']} passed, {told['undoubted']} undoubted"
        )


if __name__ == "__main__":
    main()
