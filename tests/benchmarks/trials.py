"""The trials of random damage, as often as wanted; each that fails is named with its seed.

    python tests/benchmarks/trials.py [--damage 20000] [--repair 500] [--seed 1]
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from itertools import count
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
import imagekeeper.archive.ocfl.disk as disk
from imagekeeper.archive.exchange.replica import replicate
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.jobs.session import Session
from tests.archive import trials
from tests.archive.conftest import NOW, UUID, add


def main() -> int:
    """Make the trials and say how many failed."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--damage", type=int, default=20_000)
    parser.add_argument("--repair", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    disk.flush = lambda file: file.flush()
    disk.sync_folder = lambda folder: None
    numbers = count(1)
    session = Session(lambda: NOW, lambda: f"00000000-0000-4000-8000-{next(numbers):012d}", "Ann")
    failed = 0
    with tempfile.TemporaryDirectory() as folder:
        scratch = Path(folder)
        for layout in ("0002", "0003"):
            archive = ArchiveStore.create(scratch / layout, uuid=UUID, title="Harbour office", now=NOW, layout=layout)
            for number in range(3):
                add(archive, f"u{number}", bytes(range(256)) * (number + 1))
            lost = list(trials.damage_trials(archive, options.damage // 2, options.seed))
            print(f"layout {layout}: {options.damage // 2} changed bytes, {len(lost)} not found {lost[:3]}")
            failed += len(lost)
            replicate(archive, scratch / f"{layout}-replica", now=NOW)
            wrong = []
            for seed in range(options.seed, options.seed + options.repair // 2):
                try:
                    trials.repair_trial(archive.path, scratch / f"{layout}-replica", scratch / f"{layout}-{seed}",
                                        session, seed)
                except Exception as problem:
                    wrong.append((seed, str(problem)[:300]))
            print(f"layout {layout}: {options.repair // 2} repairs from a replica, {len(wrong)} failed {wrong[:3]}")
            failed += len(wrong)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
