"""How long re-proving takes, as a ratio to the strict audit of the same archive, on chips of 32 KiB.

    python -m tests.benchmarks.reproving [--carriers 300] [--kib 32] [--runs 5]

The archive is made anew in a scratch folder through the jobs that people use: two reads by two readers and an agreed
image a carrier, every carrier with content of its own. Measured in pairs, one after the other, several times: the audit
alone, the audit with re-proving while nothing is remembered of the images, and once more with what was remembered.
The medians of the ratios are shown; machines differ and are noisy, so only the ratios mean something.
"""

from __future__ import annotations

import argparse
import os
import random
import statistics
import tempfile
import time
from pathlib import Path

import imagekeeper.archive.ocfl.disk as disk
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.jobs import specimen
from imagekeeper.jobs.archive.auditing import audit_archive
from imagekeeper.jobs.carriers.agreeing import agree
from imagekeeper.jobs.carriers.keeping import Conditions, add_carrier, add_reads
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.session import Session

NOW = "2026-03-02T12:00:00Z"


def make(folder: Path, carriers: int, size: int) -> ArchiveStore:
    """Make an archive of chips that hold a program each; nothing is flushed, for it lives only for the benchmark."""
    disk.flush = lambda file: file.flush()
    disk.sync_folder = lambda folder: None
    dice = random.Random(85)
    session = Session(lambda: NOW, lambda: f"{dice.getrandbits(32):08x}-0000-4000-8000-{dice.getrandbits(48):012x}")
    archive = ArchiveStore.create(folder / "archive", uuid=session.new_uuid(), title="benchmark", now=NOW)
    program = specimen.program()
    for number in range(carriers):
        data = bytearray((program * (size // len(program) + 1))[:size])
        data[0x400:0x500] = dice.randbytes(256)
        name = f"c{number:05}"
        add_carrier(archive, name, "eprom", session, part="27256" if size == 32768 else None)
        for reader in ("bench", "pocket"):
            path = folder / f"{reader}.bin"
            path.write_bytes(data)
            add_reads(archive, name, [str(path)], Options(), Conditions(reader=reader, vcc="5.0"), session)
        agree(archive, name, session)
    return archive


def timed(archive: ArchiveStore, *, reprove: bool) -> float:
    """Audit the archive, and say how long that took. [second]"""
    start = time.perf_counter()
    result = audit_archive(archive, NOW, reprove=reprove)
    taken = time.perf_counter() - start
    assert result.ok, result
    return taken


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--carriers", type=int, default=300)
    parser.add_argument("--kib", type=int, default=32)
    parser.add_argument("--runs", type=int, default=5)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        os.environ["IMAGEKEEPER_CACHE"] = str(Path(scratch) / "cache")
        archive = make(Path(scratch), options.carriers, options.kib * 1024)
        timed(archive, reprove=True)   # tables and libraries are loaded once
        first, again, plain = [], [], []
        for _ in range(options.runs):
            for file in (Path(scratch) / "cache").glob("*.examined"):
                file.unlink()
            plain.append(timed(archive, reprove=False))
            first.append(timed(archive, reprove=True) / plain[-1])
            again.append(timed(archive, reprove=True) / plain[-1])
    print(
        f"{options.carriers} chips of {options.kib} KiB: the strict audit {statistics.median(plain):.2f} s; with"
        f" re-proving {statistics.median(first):.2f} times that, {statistics.median(again):.2f} times where the images"
        " had been looked at before"
    )


if __name__ == "__main__":
    main()
