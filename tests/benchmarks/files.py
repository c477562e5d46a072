"""How fast files are listed and checked, and whether anything at all can stop the reader. Run by hand.

    python tests/benchmarks/files.py             a 40 MiB disk of 5,000 files, and a full volume of 512 MiB
    python tests/benchmarks/files.py --fuzz 60   damaged volumes for so many seconds; says how many, ends at a fault
"""

from __future__ import annotations

import argparse
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from imagekeeper.filesystems import registry
from imagekeeper.filesystems.disk import read_disk
from imagekeeper.filesystems.model import ReadingOptions
from tests.filesystems.fat_volumes import Directory, File, Writer, shape_for
from tests.filesystems.fsck_agreement import damaged, sample

#: What the whole process may take. [s]
LISTING, CHECKING = 0.5, 2.0


def busy_disk() -> bytes:
    """A volume of 40 MiB with 5,000 files in 50 directories, scattered."""
    chance = random.Random(1)
    tree: list[File | Directory] = [
        Directory(b"DIR%05d   " % d, [File(b"F%07d" % n + b"DAT", chance.randbytes(3000)) for n in range(100)])
        for d in range(50)
    ]
    return Writer(shape_for(20000, cluster_sectors=4, root_entries=512, media=0xF8), 3).write(tree)


def full_volume(path: Path) -> None:
    """A volume of 512 MiB with FAT16, every cluster in use; its files are holes in the image file where they can be."""
    writer = Writer(shape_for(65524, cluster_sectors=16, root_entries=512, media=0xF8, fat_sectors=256), 5)
    each = 1300
    files: list[File | Directory] = []
    for number in range(50):
        files.append(File(b"BIG%05dDAT" % number))
    writer.write(files)
    for number in range(50):
        mine = [writer.free.pop() for _ in range(each)]
        for one, following in zip(mine, [*mine[1:], writer.end], strict=True):
            writer.fat[one] = following
        at = writer.shape.root_start + 32 * number
        size = each * writer.cluster_bytes
        writer.image[at + 26 : at + 32] = mine[0].to_bytes(2, "little") + size.to_bytes(4, "little")
    table = writer.table()
    for number in range(2):
        at = (1 + number * writer.shape.fat_sectors) * 512
        writer.image[at : at + len(table)] = table
    path.write_bytes(writer.image)


#: Runs the command line, and says at last how much memory was needed at most.
PROBE = """
import sys
from imagekeeper.cli import run
code = run(sys.argv[1:])
peak = [line.split()[1] for line in open("/proc/self/status") if line.startswith("VmHWM")]
print(*peak, file=sys.stderr)
sys.exit(code)
"""


def timed(command: list[str], most: float) -> bool:
    """Run a command three times and say the best."""
    best, memory = 1e9, 0
    for _ in range(3):
        started = time.perf_counter()
        done = subprocess.run([sys.executable, "-c", PROBE, *command], capture_output=True, text=True, check=False)
        best = min(best, time.perf_counter() - started)
        assert done.returncode in (0, 1), done.stderr
        memory = int(done.stderr.split()[-1]) // 1024
    verdict = "fine" if best <= most else "TOO SLOW"
    print(f"{' '.join(command[:2]):<14} {best:6.2f} s of {most:.1f}, at most {memory} MiB: {verdict}")
    return best <= most


def fuzz(seconds: float) -> None:
    """Damage volumes until time is up; any exception, or a case that takes over 5 s, ends it with its seed."""
    ends, seed = time.monotonic() + seconds, time.time_ns() % 10**9
    first, skipped = seed, 0
    while time.monotonic() < ends:
        chance = random.Random(seed)
        try:
            shape, image = sample(chance)
        except IndexError:   # more was drawn than the volume holds
            seed, skipped = seed + 1, skipped + 1
            continue
        data = bytearray(damaged(chance, shape, image))
        for _ in range(chance.randrange(0, 40)):
            data[chance.randrange(min(len(data), 1 << chance.randrange(6, 20)))] = chance.randrange(256)
        started = time.monotonic()
        try:
            cut = data[: chance.choice([len(data), chance.randrange(len(data))])]
            read_disk(bytes(cut), ReadingOptions(deleted=True, check=True))
            for one in registry.recognise(bytes(data)):
                registry.read(bytes(data), one.answer, ReadingOptions(deleted=True, check=True))
        except Exception:
            print(f"seed {seed}")
            raise
        assert time.monotonic() - started < 5, f"seed {seed} takes too long"
        seed += 1
    count = seed - first - skipped
    print(f"{count} damaged volumes in {seconds:.0f} s, none of which stopped the reader (seeds from {first})")


def main() -> int:
    """Run what was asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fuzz", type=float, metavar="SECONDS")
    asked = parser.parse_args()
    if asked.fuzz:
        fuzz(asked.fuzz)
        return 0
    with tempfile.TemporaryDirectory() as folder:
        busy, full = Path(folder, "busy.img"), Path(folder, "full.img")
        busy.write_bytes(busy_disk())
        fine = timed(["files", "list", str(busy)], LISTING)
        fine &= timed(["files", "list", str(busy), "--json"], 2 * LISTING)
        full_volume(full)
        fine &= timed(["files", "check", str(full)], CHECKING)
    return 0 if fine else 1


if __name__ == "__main__":
    sys.exit(main())
