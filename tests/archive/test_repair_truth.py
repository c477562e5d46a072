"""A repair takes only what a log of commits proves, and never makes the log fit; a repaired copy stays a copy."""

from __future__ import annotations

import json
import random
import shutil
from itertools import count
from pathlib import Path

import pytest

from imagekeeper.archive.audits.audit import audit
from imagekeeper.archive.exchange.proofs import Link, Witness, alike
from imagekeeper.archive.exchange.repair_report import Repaired
from imagekeeper.archive.exchange.replica import replicate
from imagekeeper.archive.ocfl import disk as disk_module
from imagekeeper.archive.ocfl import ledger
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.jobs.archive.repairing import repair_archive
from imagekeeper.jobs.session import Session
from imagekeeper.present.text.audits import repaired_text

from . import trials
from .conftest import NOW, USER, Judge, add
from .test_repair import other_history
from .test_replica import assert_same, tree, update

NEVER = b"never read from this chip"


@pytest.fixture(autouse=True)
def unflushed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Waiting for the medium would only take time here."""
    monkeypatch.setattr(disk_module, "flush", lambda file: file.flush())
    monkeypatch.setattr(disk_module, "sync_folder", lambda folder: None)


@pytest.fixture
def session() -> Session:
    numbers = count(1)
    return Session(lambda: NOW, lambda: f"00000000-0000-4000-8000-{next(numbers):012d}", "Ann")


@pytest.fixture
def replica(filled: ArchiveStore, tmp_path: Path) -> ArchiveStore:
    replicate(filled, tmp_path / "replica", now=NOW)
    return ArchiveStore.open(tmp_path / "replica")


def log_of(archive: ArchiveStore) -> Path:
    return archive.log / ledger.COMMITS


def lines_of(archive: ArchiveStore, carrier: str) -> list[bytes]:
    return [one for one in log_of(archive).read_bytes().splitlines() if json.loads(one)["carrier"] == carrier]


def all_bytes(archive: ArchiveStore) -> bytes:
    return b"".join(path.read_bytes() for path in archive.root.rglob("*") if path.is_file())


def words(result: Repaired) -> str:
    return " ".join(repaired_text(result).split())


# --- the log is the witness ---


def put_another_history_in(archive: ArchiveStore, carrier: str) -> None:
    """Put a carrier's folder in place that is whole in itself, and leave the log as it is."""
    log = log_of(archive).read_bytes()
    shutil.rmtree(archive.object_path(carrier))
    add(archive, carrier, NEVER)
    log_of(archive).write_bytes(log)


def test_the_log_is_never_made_to_fit_another_history(
    filled: ArchiveStore, replica: ArchiveStore, session: Session
) -> None:
    put_another_history_in(filled, "tg85-u4")
    other_history(filled, replica, "tg85-u4", b"nor this")
    log = log_of(filled).read_bytes()
    held = tree(filled.root)
    for source in (None, replica, None):
        assert not audit(filled, now=NOW).ok
        result = repair_archive(filled, session, replica=source)
        assert (result.ok, result.exit_code, result.restored, result.events) == (False, 4, (), ())
        assert {(one.carrier, one.version, one.here) for one in result.refused} == {("tg85-u4", 2, True)}
        assert log_of(filled).read_bytes() == log
        assert tree(filled.root) == held
    assert "version 2 here has the inventory" in words(result)


def test_the_noted_history_comes_back_from_the_copy_and_the_other_is_kept(
    filled: ArchiveStore, replica: ArchiveStore, session: Session, judge: Judge
) -> None:
    before = {*lines_of(filled, "tg85-u4")}
    noted = tree(filled.object_path("tg85-u4"))
    put_another_history_in(filled, "tg85-u4")
    other = tree(filled.object_path("tg85-u4"))
    result = repair_archive(filled, session, replica=replica)
    assert (result.ok, result.events) == (True, ("tg85-u4",))
    (second,) = result.second
    assert (second.carrier, second.version, second.head) == ("tg85-u4", 2, 3)
    assert second.archive is not None
    kept = ArchiveStore.open(filled.path / second.archive)
    assert tree(kept.object_path("tg85-u4")) == other == tree(filled.path / second.found)
    assert audit(kept, now=NOW).ok
    now = tree(filled.object_path("tg85-u4"))
    assert {name: now[name] for name in noted if not name.startswith("inventory")} == {
        name: data for name, data in noted.items() if not name.startswith("inventory")
    }  # fmt: skip
    assert {*lines_of(filled, "tg85-u4")} > before
    assert judge(filled.root) == []
    assert audit(filled, now=NOW).ok


@pytest.mark.parametrize("damage", ["digit", "time", "number", "carrier", "cut", "half"])
def test_a_damaged_line_still_proves_what_it_noted(
    filled: ArchiveStore, replica: ArchiveStore, session: Session, damage: str
) -> None:
    line = lines_of(filled, "tg85-u5.1")[-1]
    digest = json.loads(line)["inventory_sha512"].encode()
    broken = {
        "digit": line.replace(digest[:2], b"00" if digest[:2] != b"00" else b"11", 1),
        "time": line.replace(b"2026", b"2036"), "number": line.replace(b'"version":3', b'"version":7'),
        "carrier": line.replace(b"tg85-u5.1", b"tg85-u5.2"), "cut": line[:120],
        "half": line[:150] + b"\0" * (len(line) - 150),
    }[damage]  # fmt: skip
    assert broken != line
    log = log_of(filled)
    whole = log.read_bytes()
    log.write_bytes(whole.replace(line, broken))
    (replica.log / ledger.COMMITS).write_bytes(b"")   # so that no other witness is there
    shutil.rmtree(filled.object_path("tg85-u5.1"))
    result = repair_archive(filled, session, replica=replica)
    assert result.ok, result
    assert {*whole.splitlines()} <= {*log.read_bytes().splitlines()}


def test_another_history_is_not_taken_for_a_damaged_line(
    filled: ArchiveStore, replica: ArchiveStore, session: Session
) -> None:
    other_history(filled, replica, "tg85-u5.1", NEVER)
    log = log_of(filled)
    line = lines_of(filled, "tg85-u5.1")[-1]
    log.write_bytes(log.read_bytes().replace(line, line[:-9] + b"xxxxxxxxx"))
    shutil.rmtree(filled.object_path("tg85-u5.1"))
    for _ in range(2):
        result = repair_archive(filled, session, replica=replica)
        assert (result.ok, result.exit_code) == (False, 4)
        assert [one.carrier for one in result.refused] == ["tg85-u5.1"]
    assert NEVER not in all_bytes(filled)


def test_where_lines_are_lost_the_log_of_the_copy_counts_and_it_is_said(
    filled: ArchiveStore, replica: ArchiveStore, session: Session
) -> None:
    whole = log_of(filled).read_bytes()
    before = tree(filled.root)
    shutil.rmtree(filled.object_path("tg85-u5.1"))
    log_of(filled).unlink()
    result = repair_archive(filled, session, replica=replica)
    assert (result.ok, result.log_incomplete) == (True, True)
    assert "Lines of the log of commits were damaged or missing" in words(result)
    assert {*whole.splitlines()} <= {*log_of(filled).read_bytes().splitlines()}
    assert {name for name in before if "content" in name} <= {*tree(filled.root)}


def test_a_copy_that_is_at_odds_with_what_is_here_is_told_where_the_log_lost_the_lines(
    filled: ArchiveStore, replica: ArchiveStore, session: Session
) -> None:
    put_another_history_in(filled, "tg85-u4")
    log = log_of(filled)
    mine = lines_of(filled, "tg85-u4")
    log.write_bytes(b"".join(line + b"\n" for line in log.read_bytes().splitlines() if line not in mine))
    result = repair_archive(filled, session, replica=replica)
    assert (result.ok, result.exit_code, result.log_incomplete) == (False, 4, True)
    assert [(one.carrier, one.version, one.here) for one in result.refused] == [("tg85-u4", 2, True)]


def test_a_copy_adds_nothing_to_a_log_that_is_whole(
    filled: ArchiveStore, replica: ArchiveStore, session: Session
) -> None:
    add(replica, "tg85-u9", NEVER)   # someone worked in the copy
    replica.commit("tg85-u5.1", {"notes.json": b"[]"}, message="m", user=USER, now=NOW, expected_head=3)
    shutil.rmtree(filled.object_path("tg85-u5.1"))
    result = repair_archive(filled, session, replica=replica)
    assert result.ok   # what the log notes of it is there again
    assert filled.ids() == ("tg85-u4", "tg85-u5.1")
    assert filled.inventory("tg85-u5.1").head == 4   # with the repair's own event
    assert "notes.json" not in filled.inventory("tg85-u5.1").state
    assert [(one.carrier, one.version, one.here) for one in result.refused] == [("tg85-u5.1", 4, False)]
    assert "version 4 of the replica is noted in no sound line" in words(result)


def test_a_log_whose_lines_stand_under_other_numbers_is_put_right(filled: ArchiveStore, session: Session) -> None:
    log = log_of(filled)
    whole = log.read_bytes()
    second = lines_of(filled, "tg85-u4")[1]
    third = lines_of(filled, "tg85-u4")[2]
    log.write_bytes(whole.replace(second + b"\n", b"").replace(third, second.replace(b'"version":2', b'"version":3')))
    assert repair_archive(filled, session).ok
    assert {*log.read_bytes().splitlines()} == {*whole.splitlines()}


def test_what_a_witness_says() -> None:
    digest, other = "0123456789abcdef" * 8, "fedcba9876543210" * 8
    line = ledger.commit_line("u4", 1, NOW, digest)
    log = Witness(ledger.Commits({"u4": [ledger.Noted(1, 1, line)]}))
    assert log.complete
    assert log.says("u4", Link(1, NOW, digest)) == "noted"
    assert log.says("u4", Link(1, NOW, other)) == "another"
    assert log.says("u4", Link(1, NOW, other), {digest}) == "nothing"
    assert log.says("u4", Link(2, NOW, other)) == log.says("u5", Link(1, NOW, other)) == "nothing"
    assert not Witness(ledger.Commits()).complete
    gap = ledger.Commits({"u4": [ledger.Noted(1, 2, ledger.commit_line("u4", 2, NOW, digest))]})
    assert not Witness(gap).complete
    for changed in range(129):
        spoilt = line.replace(digest.encode(), (other[:changed] + digest[changed:]).encode())
        assert alike(spoilt, line, digest) == (changed <= 32), changed


# --- a copy stays a copy ---


def test_the_whole_circle_of_an_archive_and_its_copy(
    filled: ArchiveStore, replica: ArchiveStore, session: Session
) -> None:
    for name in ("agreed.bin", "reads/r1/read.json"):
        replica.content_path("tg85-u4", name).write_bytes(b"damaged")
    for path in replica.object_path("tg85-u5.1").rglob("inventory.json*"):
        path.unlink()
    assert not audit(replica, now=NOW).ok
    update(filled, "tg85-u4")   # meanwhile the archive goes on
    result = repair_archive(replica, session, replica=filled)
    assert (result.ok, result.of_copy, result.events, result.refused) == (True, True, (), ())
    assert result.restored
    assert "told in log/repairs.jsonl" in words(result)
    assert json.loads((replica.log / "repairs.jsonl").read_bytes())["restored"]
    made = replicate(filled, replica.path, now=NOW)
    assert (made.ok, made.extended) == (True, ("tg85-u4",))
    assert_same(filled, replica.path)

    # and the mirror: the archive is damaged, and the copy brings it back
    filled.content_path("tg85-u4", "agreed.bin").write_bytes(b"damaged")
    shutil.rmtree(filled.object_path("tg85-u5.1"))
    result = repair_archive(filled, session, replica=replica)
    assert (result.ok, result.of_copy, result.events) == (True, False, ("tg85-u4", "tg85-u5.1"))
    made = replicate(filled, replica.path, now=NOW)
    assert (made.ok, made.extended) == (True, ("tg85-u4", "tg85-u5.1"))
    assert tree(filled.root) == tree(replica.root)
    assert audit(filled, now=NOW).ok
    assert audit(replica, now=NOW).ok


def test_a_lost_carrier_of_a_copy_comes_back_as_far_as_the_copy_had_it(
    filled: ArchiveStore, replica: ArchiveStore, session: Session
) -> None:
    update(filled, "tg85-u4")
    shutil.rmtree(replica.object_path("tg85-u4"))
    result = repair_archive(replica, session, replica=filled)
    assert (result.ok, result.refused) == (True, ())
    assert replica.inventory("tg85-u4").head == 3
    assert replicate(filled, replica.path, now=NOW).ok
    assert {*log_of(filled).read_bytes().splitlines()} == {*log_of(replica).read_bytes().splitlines()}


def test_a_copy_made_before_copies_had_a_mark_gets_one(
    filled: ArchiveStore, replica: ArchiveStore, session: Session
) -> None:
    (replica.log / "copy.json").unlink()
    assert replicate(filled, replica.path, now=NOW).ok
    assert json.loads((replica.log / "copy.json").read_bytes()) == {"copy_of": filled.marker.uuid, "since": NOW}
    assert not (filled.log / "copy.json").exists()
    replica.content_path("tg85-u4", "agreed.bin").unlink()
    assert repair_archive(replica, session, replica=filled).events == ()
    assert replicate(filled, replica.path, now=NOW).ok


# --- a copy takes nothing that cannot be read ---


@pytest.mark.parametrize(
    ("name", "data"), [("carrier.json", b"{"), ("events.jsonl", b"no event\n"), ("agreed.json", b'{"grade": 5}')]
)
@pytest.mark.parametrize("new", [True, False])
def test_a_version_that_cannot_be_read_is_not_handed_on(
    filled: ArchiveStore, tmp_path: Path, name: str, data: bytes, new: bool
) -> None:
    place = tmp_path / "replica"
    if not new:
        replicate(filled, place, now=NOW)
    update(filled, "tg85-u5.1")
    filled.commit("tg85-u4", {name: data}, message="m", user=USER, now=NOW, expected_head=3)
    made = replicate(filled, place, now=NOW)
    assert (made.ok, made.exit_code) == (False, 4)
    assert [(entry.carrier, entry.path) for entry in made.not_copied] == [
        ("tg85-u4", filled.name_of(filled.content_path("tg85-u4", name)))
    ]  # fmt: skip
    assert "in the copy" not in made.not_copied[0].why
    assert (made.added, made.extended) == ((("tg85-u5.1",), ()) if new else ((), ("tg85-u5.1",)))
    copy = ArchiveStore.open(place)
    assert copy.ids() == (("tg85-u5.1",) if new else ("tg85-u4", "tg85-u5.1"))
    assert audit(copy, now=NOW).ok


# --- no repair leaves the archive worse ---


def test_nothing_is_lost_or_worse_after_a_repair_whatever_happened(
    filled: ArchiveStore, replica: ArchiveStore, session: Session, tmp_path: Path
) -> None:
    for seed in range(16):
        source = None if seed % 2 else replica.path
        result = trials.no_worse_trial(filled.path, source, tmp_path / f"{seed}", session, seed)
        assert source is None or (result.damaged, result.missing) == ((), ()), seed


def test_another_history_gets_in_through_no_mishap(
    filled: ArchiveStore, replica: ArchiveStore, session: Session, tmp_path: Path
) -> None:
    for carrier in filled.ids():
        other_history(filled, replica, carrier, NEVER)
    log = log_of(filled).read_bytes()
    for seed in range(100, 112):
        scratch = tmp_path / f"{seed}"
        shutil.copytree(filled.path, scratch)
        archive = ArchiveStore.open(scratch)
        dice = random.Random(seed)
        for _ in range(4):
            trials.mishap(dice, archive)
        log_of(archive).write_bytes(log)   # without any log, that of the copy would count
        damaged = dice.randrange(len(log))
        if seed % 2:
            log_of(archive).write_bytes(log[:damaged] + b"?" * 60 + log[damaged + 60 :])
        repair_archive(archive, session, replica=replica)
        assert NEVER not in all_bytes(archive), seed
        shutil.rmtree(scratch)


@pytest.mark.parametrize("name", ["commits.jsonl.bak", "commits (conflicted copy).jsonl"])
def test_a_log_under_another_name_is_heard_before_that_of_the_copy(
    filled: ArchiveStore, replica: ArchiveStore, session: Session, name: str
) -> None:
    other_history(filled, replica, "tg85-u4", NEVER)
    whole = log_of(filled).read_bytes()
    log_of(filled).rename(filled.log / name)
    for carrier in filled.ids():
        shutil.rmtree(filled.object_path(carrier))
    result = repair_archive(filled, session, replica=replica)
    assert (result.exit_code, result.log_incomplete) == (4, True)
    assert [(one.carrier, one.version) for one in result.refused] == [("tg85-u4", 2)]
    assert {entry.carrier for entry in result.missing} == {"tg85-u4"}
    assert filled.ids() == ("tg85-u5.1",)
    assert {*whole.splitlines()} <= {*log_of(filled).read_bytes().splitlines()}
