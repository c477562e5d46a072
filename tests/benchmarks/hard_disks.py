"""How often what a read did to a hard disk is named, and nothing else: by fault, and on sound disks.

`python -m tests.benchmarks.hard_disks [COUNT] [tuned|aside]`: disks are told apart by their names; the rules were tuned
on disks `tuned N` alone.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from collections.abc import Callable, Iterator

from imagekeeper.filesystems.disk import read_disk
from imagekeeper.filesystems.model import ReadingOptions
from tests.filesystems.test_disk_faults import HEADS, SECTORS, START, as_it_lies, office, silenced

FILLS = (b"\xf6", b"\xe5", b"\x6c", b"\x6d\xb6", b"NOT READ ")


def lost_first_sector(data: bytes, chance: random.Random) -> bytes:
    """The first sector is fill."""
    return chance.choice([b"\0", b"\xf6", b"\xe5"]) * 512 + data[512:]


def lost_first_track(data: bytes, chance: random.Random) -> bytes:
    """The whole first track is fill."""
    return chance.choice([b"\0", b"\xf6"]) * START + data[START:]


def slip_before(data: bytes, chance: random.Random) -> bytes:
    """Sectors too many or too few before the volume."""
    at, count = 512 * chance.randrange(1, SECTORS - 1), chance.choice([1, 1, 2])
    return data[:at] + (bytes(512 * count) + data[at:] if chance.random() < 0.5 else data[at + 512 * count :])


def slip_within(data: bytes, chance: random.Random) -> bytes:
    """Sectors too many or too few in the middle third of the disk."""
    at, count = 512 * chance.randrange(len(data) // 1536, len(data) // 768), chance.choice([1, 1, 2, 3])
    return data[:at] + (bytes(512 * count) + data[at:] if chance.random() < 0.5 else data[at + 512 * count :])


def silent_head(data: bytes, chance: random.Random) -> bytes:
    """One head gave nothing."""
    return silenced(data, chance.randrange(HEADS), chance.choice((b"\0", *FILLS)))


def interleaved(data: bytes, chance: random.Random) -> bytes:
    """The sectors stand as they lie on the disk."""
    return as_it_lies(data, SECTORS, chance.randrange(2, SECTORS))


def filled(data: bytes, chance: random.Random) -> bytes:
    """A stretch of a file was not read."""
    files = [
        one for one in read_disk(data, ReadingOptions()).volumes[0].entries
        if one.kind == "file" and one.extents[0].length >= 4096
    ]  # fmt: skip
    start = (chance.choice(files).extents[0].start or 0) + 512 * chance.randrange(1, 4)
    size, fill = 512 * chance.randrange(1, 5), chance.choice(FILLS)
    return data[:start] + (fill * 512)[:512] * (size // 512) + data[start + size :]   # each sector begins anew


def sound(data: bytes, chance: random.Random) -> bytes:
    """Nothing was done to it."""
    return data


FAULTS: dict[str, tuple[Callable[[bytes, random.Random], bytes], frozenset[str]]] = {
    "lost first sector": (lost_first_sector, frozenset({"found-not-told"})),
    "lost first track": (lost_first_track, frozenset({"found-not-told"})),
    "slip before the volume": (slip_before, frozenset({"sectors-shifted", "found-not-told"})),
    "slip within the volume": (slip_within, frozenset({"sectors-shifted"})),
    "silent head": (silent_head, frozenset({"head-silent"})),
    "interleave": (interleaved, frozenset({"sectors-interleaved"})),
    "filled stretch": (filled, frozenset({"unread-perhaps"})),
    "sound": (sound, frozenset()),
}


def trials(count: int, half: str) -> Iterator[tuple[str, frozenset[str], frozenset[str]]]:
    """Give for each trial the fault, what must be named, and what was."""
    for number in range(count):
        data = office(f"{half} {number}", random.Random(f"share {half} {number}").uniform(0.3, 0.95))
        for name, (inject, wanted) in FAULTS.items():
            chance = random.Random(f"{half} {number} {name}")
            found = read_disk(inject(data, chance), ReadingOptions(check=True)).findings
            yield name, wanted, frozenset(one.code for one in found)


def main() -> None:
    """Print a line for each fault: how often it was named, and how often something that was not there."""
    count, half = int(sys.argv[1]) if len(sys.argv) > 1 else 25, sys.argv[2] if len(sys.argv) > 2 else "aside"
    named, wrong, others = Counter[str](), Counter[str](), Counter[tuple[str, str]]()
    for name, wanted, found in trials(count, half):
        named[name] += wanted <= found
        wrong[name] += bool(found - wanted)
        others.update((name, code) for code in found - wanted)
    for name in FAULTS:
        print(f"{name:24} named {named[name]:4} of {count}, something else besides {wrong[name]:4}")
    for (name, code), times in others.most_common():
        print(f"  {name}: {code} {times}")


if __name__ == "__main__":
    main()
