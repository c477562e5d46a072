"""The audit's speed, as a ratio to hashing the same bytes with hashlib on two threads, and its peak memory.

    python tests/benchmarks/audit.py [--carriers 60] [--mib 16] [--runs 5] [--jobs N]
    python tests/benchmarks/audit.py --carriers 2000 --kib 8       an archive of small chips

The archive is made anew in a scratch folder, with one read, its image and an agreed image a carrier; equal bytes are
stored once. The baseline digests every file of the storage root with SHA-512, and with SHA-256 too what a record names
by it, in pieces of a MiB on two threads: the work that no audit can do without. Files are in the system's cache; the
median of several runs is shown. Machines differ and are noisy: only the ratio means something.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import resource
import statistics
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import imagekeeper.archive.ocfl.disk as disk
from imagekeeper.archive.audits.audit import audit
from imagekeeper.archive.store import ArchiveStore

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from tests.archive.conftest import NOW, UUID, add

MIB = 1 << 20


def make(folder: Path, carriers: int, size: int) -> ArchiveStore:
    """Make an archive of random content; nothing is flushed, for it lives only as long as the benchmark."""
    archive = ArchiveStore.create(folder, uuid=UUID, title="benchmark", now=NOW)
    disk.flush = lambda file: file.flush()
    disk.sync_folder = lambda folder: None
    for number in range(carriers):
        add(archive, f"c{number:05}", os.urandom(size))
    return archive


def digest(path: Path) -> None:
    """Do what no audit can do without."""
    digests = [hashlib.sha512()] + ([hashlib.sha256()] if path.suffix == ".bin" else [])
    with open(path, "rb", buffering=0) as file:
        while block := file.read(MIB):
            for one in digests:
                one.update(block)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--carriers", type=int, default=60)
    parser.add_argument("--mib", type=int, default=16)
    parser.add_argument("--kib", type=int, default=0)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--jobs", type=int)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        size = options.kib * 1024 or options.mib * MIB
        archive = make(Path(scratch) / "archive", options.carriers, size)
        files = sorted(path for path in archive.root.rglob("*") if path.is_file())
        total = sum(path.stat().st_size for path in files)
        ours, theirs = [], []
        for _ in range(options.runs):
            start = time.perf_counter()
            with ThreadPoolExecutor(2) as pool:
                list(pool.map(digest, files))
            theirs.append(time.perf_counter() - start)
            start = time.perf_counter()
            result = audit(archive, now=NOW, jobs=options.jobs)
            ours.append(time.perf_counter() - start)
            assert result.ok, result
            assert (result.files, result.bytes) == (len(files), total)
    audit_time, digest_time = statistics.median(ours), statistics.median(theirs)
    print(
        f"{options.carriers} carriers, {len(files)} files, {total / MIB:.1f} MiB: audit {audit_time:.3f} s, hashlib on "
        f"two threads {digest_time:.3f} s, ratio {audit_time / digest_time:.2f}, {total / MIB / audit_time:.0f} MiB/s, "
        f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB"
    )


if __name__ == "__main__":
    main()
