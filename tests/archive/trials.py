"""Random damage, one trial after the other: what the tests do a few hundred times, a command does as often as wanted.

    python tests/benchmarks/trials.py --damage 20000 --repair 500
"""

from __future__ import annotations

import random
import shutil
from collections.abc import Iterator
from pathlib import Path

from imagekeeper.archive.audits.audit import audit
from imagekeeper.archive.exchange.repair import open_damaged
from imagekeeper.archive.exchange.repair_report import Repaired
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ArchiveError, NotFoundError
from imagekeeper.jobs.archive.repairing import repair_archive
from imagekeeper.jobs.session import Session

from .conftest import NOW


def evidence(archive: ArchiveStore) -> list[Path]:
    """Every file of which a single changed byte must be found; `imagekeeper.archive.audits.surroundings` says which."""
    files = [path for path in archive.root.rglob("*") if path.is_file()]
    return sorted([*files, archive.path / "archive.json", archive.path / "README.txt", archive.log / "commits.jsonl"])


def change_one_byte(dice: random.Random, files: list[Path]) -> tuple[Path, int, bytes]:
    """Change one byte of one file, each file as likely as another; give what was changed, and how it was before."""
    path = dice.choice([file for file in files if file.stat().st_size])
    whole = path.read_bytes()
    place = dice.randrange(len(whole))
    other = dice.choice([value for value in range(256) if value != whole[place]])
    path.write_bytes(whole[:place] + bytes([other]) + whole[place + 1 :])
    return path, place, whole


def found(path: Path) -> bool:
    """Whether an audit, or already the attempt to open the archive, tells of damage."""
    try:
        return audit(ArchiveStore.open(path), now=NOW, jobs=1).exit_code == 4
    except (ArchiveError, NotFoundError):
        return True


def damage_trials(archive: ArchiveStore, count: int, seed: int) -> Iterator[tuple[Path, int]]:
    """Damage one byte after the other, each put back; give those that no audit found."""
    dice = random.Random(seed)
    files = evidence(archive)
    for _ in range(count):
        path, place, whole = change_one_byte(dice, files)
        if not found(archive.path):
            yield path, place
        path.write_bytes(whole)


def hurt(dice: random.Random, files: list[Path]) -> None:
    """Damage a file in one of the ways in which files are damaged."""
    path = dice.choice(files)
    kind = dice.randrange(4)
    if not path.exists() or kind == 0:
        path.unlink(missing_ok=True)
    elif kind == 1:
        path.write_bytes(path.read_bytes()[: dice.randrange(path.stat().st_size + 1)])
    elif kind == 2:
        path.write_bytes(dice.randbytes(path.stat().st_size + 1))
    else:
        change_one_byte(dice, [path])


def holdings(archive: ArchiveStore) -> dict[str, bytes]:
    """Every file of every carrier, as its newest version names it."""
    return {
        f"{carrier}/{path}": archive.read_file(carrier, path)
        for carrier in archive.ids() for path in archive.inventory(carrier).state
    }  # fmt: skip


def repair_trial(original: Path, replica: Path, scratch: Path, session: Session, seed: int) -> None:
    """Damage a copy of the original in several places, repair it from the replica, and compare what it holds."""
    dice = random.Random(seed)
    shutil.copytree(original, scratch)
    before = holdings(ArchiveStore.open(scratch))
    files = evidence(ArchiveStore.open(scratch))
    for _ in range(dice.randrange(1, 6)):
        hurt(dice, files)
    if dice.random() < 0.2:
        shutil.rmtree(dice.choice([path for path in (scratch / "carriers").iterdir() if path.is_dir()]))
    other = ArchiveStore.open(replica)
    archive = open_damaged(str(scratch), other)
    result = repair_archive(archive, session, replica=other)
    assert result.ok, (seed, result)
    assert audit(ArchiveStore.open(scratch), now=NOW).ok, seed
    after = holdings(ArchiveStore.open(scratch))
    assert after.keys() == before.keys(), seed
    for name, data in before.items():
        # the history of a carrier that was repaired tells of it, behind all that it told before
        assert after[name] == data or (name.endswith("/events.jsonl") and after[name].startswith(data)), (seed, name)
    shutil.rmtree(scratch)


def mishap(dice: random.Random, archive: ArchiveStore) -> None:
    """Damage, lose, rename, move or exchange something, as people and programs do."""
    kind = dice.randrange(6)
    files = [path for path in evidence(archive) if path.exists() and path.name != "archive.json"]
    path = dice.choice(files)
    if kind < 2:
        hurt(dice, files)
    elif kind == 2:
        path.rename(path.with_name(f"{path.name}.bak"))
    elif kind == 3:
        path.rename(archive.root / f"moved-{dice.randrange(10**6)}")
    elif kind == 4:
        other = dice.choice(files)
        one, two = path.read_bytes(), other.read_bytes()
        path.write_bytes(two)
        other.write_bytes(one)
    else:
        folders = [folder for folder in archive.root.rglob("*") if folder.is_dir() and any(folder.iterdir())]
        folder = dice.choice(folders)
        folder.rename(folder.with_name(f"{folder.name} (1)"))


def no_worse_trial(original: Path, replica: Path | None, scratch: Path, session: Session, seed: int) -> Repaired:
    """Let mishaps happen to a copy of the original, repair it, and see that nothing is lost or worse than before."""
    dice = random.Random(seed)
    shutil.copytree(original, scratch)
    archive = ArchiveStore.open(scratch)
    for _ in range(dice.randrange(1, 5)):
        mishap(dice, archive)
    files = {path.read_bytes() for path in archive.root.rglob("*") if path.is_file()}
    first = audit(ArchiveStore.open(scratch), now=NOW, jobs=1)
    wrong = {entry.carrier for entry in first.damaged + first.missing}
    whole = {carrier for carrier in archive.ids() if carrier not in wrong}
    before = {name: data for carrier in whole for name, data in carrier_files(archive, carrier).items()}
    other = None if replica is None else ArchiveStore.open(replica)
    result = repair_archive(archive, session, replica=other, quarantine_unexpected=dice.random() < 0.5)
    last = audit(ArchiveStore.open(scratch), now=NOW, jobs=1)
    assert (last.damaged, last.missing) == (result.damaged, result.missing), seed
    left = {entry.carrier for entry in last.damaged + last.missing if entry.carrier}
    assert left <= wrong, (seed, left, wrong)
    after = {name: data for carrier in whole for name, data in carrier_files(archive, carrier).items()}
    for name, data in before.items():
        told = name.endswith("/events.jsonl") and after[name].startswith(data)   # of the repair, behind all before
        assert told or after[name] == data, (seed, name)
    assert files <= {path.read_bytes() for path in scratch.rglob("*") if path.is_file()}, seed
    shutil.rmtree(scratch)
    return result


def carrier_files(archive: ArchiveStore, carrier: str) -> dict[str, bytes]:
    """Every file of one carrier, as its newest version names it."""
    return {f"{carrier}/{path}": archive.read_file(carrier, path) for path in archive.inventory(carrier).state}
