"""Speed and memory of whole commands, as ratios to other programs on the same bytes, measured in one run.

    python tests/benchmarks/run.py [NAME ...] [--gib 1] [--runs 5]

Every figure is the median over several runs of whole processes, ours and the other's in turn, with the files in the
system's cache. Machines differ and are noisy: only the ratios mean something. Peak memory is the resident set that the
system accounts to the process. Nothing here is a test; pytest does not look into this folder.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

OURS = [sys.executable, "-m", "imagekeeper"]
MIB = 1 << 20

BASELINE_DIGESTS = """
import hashlib, zlib
data = open({path!r}, "rb").read()
import time
start = time.perf_counter()
hashlib.sha1(data).digest(); hashlib.sha256(data).digest(); zlib.crc32(data)
print(time.perf_counter() - start)
"""

INTELHEX = """
import intelhex, time
start = time.perf_counter()
image = intelhex.IntelHex({path!r})
print(time.perf_counter() - start)
"""

OUR_INTEL_HEX = """
import time
from imagekeeper import containers
data = open({path!r}, "rb").read()
start = time.perf_counter()
containers.read(data, kind="intel-hex")
print(time.perf_counter() - start)
"""


@dataclass(frozen=True)
class Took:
    seconds: float
    peak_mib: float
    out: str


def process(command: list[str], out: Path | None = None) -> Took:
    """Run a command to its end; the exit code does not matter (cmp gives 1 for files that differ)."""
    with open(out or os.devnull, "wb") as sink:
        start = time.perf_counter()
        child = subprocess.Popen(command, stdout=sink, stderr=subprocess.DEVNULL)
        _, _, usage = os.wait4(child.pid, 0)
        seconds = time.perf_counter() - start
        child.returncode = 0
    return Took(seconds, usage.ru_maxrss / 1024, "")


def printed(script: str) -> Took:
    """Run a script that prints the seconds of its own inner part."""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return Took(float(done.stdout), 0, done.stdout)


def paired(ours: Callable[[], Took], other: Callable[[], Took], runs: int) -> tuple[float, Took, Took]:
    """Run both in turn; give the median ratio and a median run of each."""
    ours(), other()   # warm up
    pairs = [(ours(), other()) for _ in range(runs)]
    ratio = statistics.median(a.seconds / b.seconds for a, b in pairs)
    middle = len(pairs) // 2
    a = sorted((p[0] for p in pairs), key=lambda t: t.seconds)[middle]
    b = sorted((p[1] for p in pairs), key=lambda t: t.seconds)[middle]
    return ratio, a, b


def row(name: str, ratio: float, goal: str, ours: Took, other: Took) -> None:
    memory = f"  peak {ours.peak_mib:5.0f} MiB" if ours.peak_mib else ""
    times = f"ours {ours.seconds:7.3f} s  other {other.seconds:7.3f} s"
    print(f"{name:34}  ratio {ratio:6.2f}  goal {goal:12}  {times}{memory}")


def noise(path: Path, size: int) -> None:
    """Write random bytes, the same each time."""
    dice = random.Random(85)
    with open(path, "wb") as file:
        for _ in range(size // MIB):
            file.write(dice.randbytes(MIB))


class Benches:
    def __init__(self, folder: Path, gib: float, runs: int) -> None:
        self.folder = folder
        self.runs = runs
        self.big = folder / "first.bin"
        self.size = int(gib * 1024) * MIB

    def files(self) -> tuple[Path, Path]:
        twin = self.folder / "second.bin"
        if not self.big.exists():
            noise(self.big, self.size)
            shutil.copyfile(self.big, twin)
        return self.big, twin

    def fingerprint(self) -> None:
        """Against SHA-1, SHA-256 and CRC-32 one after the other over bytes that are in memory already."""
        big, _ = self.files()
        ratio, ours, other = paired(
            lambda: process([*OURS, "fingerprint", str(big)]),
            lambda: printed(BASELINE_DIGESTS.format(path=str(big))), self.runs,
        )  # fmt: skip
        row("fingerprint, digests in turn", ratio, "<= 0.65", ours, other)
        print(f"{'':34}  memory goal < 100 MiB: {ours.peak_mib:.0f} MiB")

    def compare_equal(self) -> None:
        """Against cmp."""
        a, b = map(str, self.files())
        ours_run = lambda: process([*OURS, "compare", a, b])   # noqa: E731
        ratio, ours, other = paired(ours_run, lambda: process(["cmp", a, b]), self.runs)
        row("compare, equal files, cmp", ratio, "<= 2", ours, other)

    def compare_different(self) -> None:
        """Against cmp -l into a file: into /dev/null it stops at the first difference, as it would for nobody."""
        a, b = self.folder / "a.bin", self.folder / "b.bin"
        noise(a, 256 * MIB)
        with open(a, "rb") as first, open(b, "wb") as second:   # in pieces: a child is charged with its parent's peak
            while block := bytearray(first.read(MIB)):
                block[::64] = bytes(byte ^ 0x5A for byte in block[::64])
                second.write(block)
        listing = self.folder / "listing.txt"
        ours_run = lambda: process([*OURS, "compare", str(a), str(b)])   # noqa: E731
        ratio, ours, other = paired(ours_run, lambda: process(["cmp", "-l", str(a), str(b)], listing), self.runs)
        row("compare, every 64th byte, cmp -l", ratio, "< 3", ours, other)
        listing.unlink()
        null = process(["cmp", "-l", str(a), str(b)])
        print(f"{'':34}  (cmp -l > /dev/null, which only looks for a first difference: {null.seconds:.3f} s)")

    def intel_hex(self) -> None:
        """Against objcopy, whole process; against the intelhex package, decoding alone."""
        data, text = self.folder / "chip.bin", self.folder / "chip.hex"
        noise(data, 8 * MIB)
        subprocess.run(["objcopy", "-I", "binary", "-O", "ihex", data, text], check=True)
        out = str(self.folder / "out.bin")
        ratio, ours, other = paired(
            lambda: process([*OURS, "convert", str(text), "-o", out, "--force"]),
            lambda: process(["objcopy", "-I", "ihex", "-O", "binary", str(text), out]), self.runs,
        )  # fmt: skip
        row("Intel HEX 8 MiB, objcopy", ratio, "<= 5", ours, other)
        assert Path(out).read_bytes() == data.read_bytes()
        ratio, ours, other = paired(
            lambda: printed(OUR_INTEL_HEX.format(path=str(text))), lambda: printed(INTELHEX.format(path=str(text))),
            min(self.runs, 3),
        )  # fmt: skip
        row("Intel HEX 8 MiB, intelhex", ratio, "<= 0.10", ours, other)

    def startup(self) -> None:
        """Against a bare interpreter beside `import click`: the difference in milliseconds."""
        script = shutil.which("imagekeeper", path=str(Path(sys.executable).parent))
        command = [script] if script else OURS
        for option in ("--version", "--help"):
            _, ours, other = paired(
                lambda option=option: process([*command, option]),  # type: ignore[misc]
                lambda: process([sys.executable, "-c", "import click"]), max(self.runs, 15),
            )  # fmt: skip
            more = (ours.seconds - other.seconds) * 1000
            print(f"{'start-up, ' + option:34}  {more:+.0f} ms beside import click  goal <= +60 ms")


def main() -> None:
    """Run the benches that are named, or all."""
    names = ["fingerprint", "compare_equal", "compare_different", "intel_hex", "startup"]
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("names", nargs="*", metavar="NAME", help=", ".join(names))
    parser.add_argument("--gib", type=float, default=1, help="size of the large files")
    parser.add_argument("--runs", type=int, default=5)
    options = parser.parse_args()
    print(f"{os.cpu_count()} processors, Python {sys.version.split()[0]}; medians of {options.runs} runs in turn")
    with tempfile.TemporaryDirectory(prefix="imagekeeper-bench-") as folder:
        benches = Benches(Path(folder), options.gib, options.runs)
        for name in options.names or names:
            getattr(benches, name)()


if __name__ == "__main__":
    main()
