"""A carrier that is erased: asked for twice, whole at every moment, and nothing brings it back unasked."""

from __future__ import annotations

import errno
import hashlib
import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

import imagekeeper
from imagekeeper.archive.audits.audit import audit
from imagekeeper.archive.exchange.repair import repair
from imagekeeper.archive.exchange.replica import replicate
from imagekeeper.archive.ocfl import ledger
from imagekeeper.archive.ocfl.disk import FlushedDisk
from imagekeeper.archive.ocfl.erasures import read_stub
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import NotFoundError, UsageError
from imagekeeper.jobs.archive.exchanging import merge_archive
from imagekeeper.jobs.archive.reproving import reprove
from imagekeeper.jobs.carriers.correcting import withdraw
from imagekeeper.jobs.carriers.deaccessioning import deaccession_carrier
from imagekeeper.jobs.carriers.erasing import Erasure, erase_carrier
from imagekeeper.jobs.carriers.keeping import add_carrier
from tests.conftest import Ran

from .conftest import NOW, Judge
from .harbour import Clock, found, keep, tree
from .test_crash import Killed, MortalDisk
from .test_interruptions import RefusingDisk

pytestmark = pytest.mark.long

WHY = "its owner wants nothing of it kept"
DATA = bytes(range(256)) * 8

Cli = Callable[..., Ran]


@pytest.fixture(params=["0002", "0003"])
def harbour(tmp_path: Path, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> ArchiveStore:
    """An archive with two carriers; u4 was taken out of the collection."""
    monkeypatch.setenv("IMAGEKEEPER_CACHE", str(tmp_path / "cache"))
    clock = Clock()
    archive = found(tmp_path / "harbour", clock, request.param)
    for name in ("u4", "u5"):
        add_carrier(archive, name, "eprom", clock.session(), part="2716", position=name.upper())
        keep(archive, name, DATA + name.encode() * 512, clock, name=f"{name}.bin")
    deaccession_carrier(archive, "u4", "sold", clock.session())
    return archive


def later() -> Clock:
    return Clock(seconds=Clock().seconds + 1000, uuids=iter(range(1000, 1 << 30)))


def erased(archive: ArchiveStore, carrier: str = "u4") -> Erasure:
    session = later().session()
    word = erase_carrier(archive, carrier, WHY, session).word
    return erase_carrier(archive, carrier, WHY, session, confirm=word)


def clean(archive: ArchiveStore, judge: Judge) -> None:
    result = audit(archive, now=NOW)
    assert (result.damaged, result.missing, result.unexpected) == ((), (), ())
    assert judge(archive.root) == []
    held = reprove(archive)
    assert (held.contradicted, held.not_derivable) == ((), ())
    assert list(archive.staging.iterdir()) == []


def test_the_first_call_changes_nothing_and_shows_what_goes(harbour: ArchiveStore) -> None:
    before = tree(harbour.path)
    plan = erase_carrier(harbour, "u4", WHY, later().session())
    assert tree(harbour.path) == before
    assert (plan.erased, plan.exit_code, plan.stub) == (False, 1, "u4-erased")
    files = [path for path in harbour.object_path("u4").rglob("*") if path.is_file()]
    assert (plan.files, plan.bytes) == (len(files), sum(path.stat().st_size for path in files))
    digest = hashlib.sha512((harbour.object_path("u4") / "inventory.json").read_bytes()).hexdigest()
    assert (plan.inventory_sha512, plan.word, plan.version) == (digest, digest[:8], harbour.inventory("u4").head)


def test_a_stub_stays_with_digests_reason_and_event(harbour: ArchiveStore, judge: Judge) -> None:
    state = harbour.inventory("u4").state
    content = {path: harbour.read_file("u4", path) for path in state}
    uuid = imagekeeper.Archive(harbour.path).carrier("u4").uuid
    result = erased(harbour)
    assert (result.erased, result.exit_code) == (True, 0)
    assert harbour.ids() == ("u4-erased", "u5")
    with pytest.raises(NotFoundError) as gone:
        imagekeeper.Archive(harbour.path).carrier("u4")
    assert "u4 was erased; u4-erased tells" in gone.value.why
    record = imagekeeper.Archive(harbour.path).carrier("u4-erased")
    assert (record.uuid, record.kind, record.part, record.position) == (uuid, "eprom", None, None)
    assert record.deaccessions[0].reason == f"erased: {WHY}"
    assert record.erased is not None
    assert (record.erased.of, record.erased.by, record.erased.reason) == ("u4", "Ann", WHY)
    assert {one.path: (one.size_bytes, one.sha512) for one in record.erased.files} == {
        path: (len(data), hashlib.sha512(data).hexdigest()) for path, data in content.items()
    }
    (event,) = record.events
    assert (event.type, event.type_uri[-3:]) == ("deletion", "del")
    assert result.inventory_sha512 in event.detail
    assert f"urn:uuid:{uuid}" in [one.identifier for one in event.objects]
    clean(harbour, judge)
    read = content["reads/r1/image.bin"]
    assert not [path for path, data in tree(harbour.path).items() if data is not None and read in data]
    line = json.loads((harbour.log / "commits.jsonl").read_bytes().splitlines()[-1])
    assert (line["carrier"], line["stub"], line["inventory_sha512"]) == ("u4", "u4-erased", result.inventory_sha512)


def test_only_what_is_out_goes_and_only_by_todays_word(harbour: ArchiveStore) -> None:
    session = later().session()
    word = erase_carrier(harbour, "u4", WHY, session).word
    withdraw(harbour, "u4", "x1", "it came back", session)
    before = tree(harbour.root)
    with pytest.raises(UsageError) as held:
        erase_carrier(harbour, "u4", WHY, session, confirm=word)
    assert "in the collection" in held.value.why
    deaccession_carrier(harbour, "u4", "sold again", session)
    before = tree(harbour.root)
    for wrong in (word, "", "00000000"):
        with pytest.raises(UsageError) as caught:
            erase_carrier(harbour, "u4", WHY, session, confirm=wrong)
        assert "not the word" in caught.value.why
    with pytest.raises(UsageError):
        erase_carrier(harbour, "u4", " . ", session)
    assert tree(harbour.root) == before


def test_every_step_can_be_the_last(harbour: ArchiveStore, tmp_path: Path, judge: Judge) -> None:
    word = erase_carrier(harbour, "u4", WHY, later().session()).word

    def run(archive: ArchiveStore) -> None:
        erase_carrier(archive, "u4", WHY, later().session(), confirm=word)

    shutil.copytree(harbour.path, tmp_path / "counting")
    counting = ArchiveStore.open(tmp_path / "counting")
    counting.disk = MortalDisk(1_000_000)
    run(counting)
    count = 1_000_000 - counting.disk.life
    assert count > 30
    before, after = tree(harbour.root), tree(counting.root)
    outcomes = []
    for life in range(1, count + 1):
        place = tmp_path / f"{life}"
        shutil.copytree(harbour.path, place)
        dying = ArchiveStore.open(place)
        dying.disk = MortalDisk(life, tearing=life % 2 == 0)
        with pytest.raises(Killed):
            run(dying)
        survivor = ArchiveStore.open(place)
        survivor.recover()
        clean(survivor, judge)
        assert list(survivor.quarantine.iterdir()) == []
        assert tree(survivor.root) in (before, after), life
        outcomes.append(tree(survivor.root) == after)
        if not outcomes[-1]:
            run(survivor)
            clean(survivor, judge)
        shutil.rmtree(place)
    assert outcomes == sorted(outcomes)
    assert set(outcomes) == {False, True}


@pytest.mark.parametrize("error", [errno.ENOSPC, errno.EIO])
def test_a_disk_that_refuses_leaves_it_whole_or_erased_and_says_which(
    harbour: ArchiveStore, tmp_path: Path, judge: Judge, error: int
) -> None:
    word = erase_carrier(harbour, "u4", WHY, later().session()).word
    before = tree(harbour.root)
    said = set()
    for steps in range(60):
        place = tmp_path / f"{steps}"
        shutil.copytree(harbour.path, place)
        archive = ArchiveStore.open(place)
        disk = archive.disk = RefusingDisk(steps, error)
        try:
            erase_carrier(archive, "u4", WHY, later().session(), confirm=word)
        except UsageError as problem:
            assert problem.code == "cannot-write"
            said.add("left" if "next program" in problem.hint else "whole")
            whole = tree(archive.root) == before
        else:
            whole = False
            said.add("erased")
        survivor = ArchiveStore.open(place)
        survivor.recover()
        clean(survivor, judge)
        assert list(survivor.quarantine.iterdir()) == []
        assert survivor.has("u4") == (tree(survivor.root) == before)
        assert not whole or survivor.has("u4")
        shutil.rmtree(place)
        if not disk.refused:
            break
    assert not disk.refused
    assert said >= {"whole", "erased"}
    assert ("left" in said) == (error == errno.EIO)   # on a full disk there is room to take something away


def test_a_line_cut_short_and_a_folder_half_removed_are_put_right(harbour: ArchiveStore, judge: Judge) -> None:
    class Torn(FlushedDisk):
        def append(self, path: Path, line: bytes) -> None:
            if b'"stub"' in line:
                with open(path, "ab") as file:
                    file.write(line[:200])
                raise Killed
            super().append(path, line)

    class HalfGone(FlushedDisk):
        def remove(self, path: Path) -> None:
            if path.name == "u4-gone":
                (path / "object" / "inventory.json").unlink()
                raise Killed
            super().remove(path)

    word = erase_carrier(harbour, "u4", WHY, later().session()).word
    before = tree(harbour.root)
    log = (harbour.log / "commits.jsonl").read_bytes()
    for disk, there in ((Torn(), True), (HalfGone(), False)):
        dying = ArchiveStore.open(harbour.path)
        dying.disk = disk
        with pytest.raises(Killed):
            erase_carrier(dying, "u4", WHY, later().session(), confirm=word)
        survivor = ArchiveStore.open(harbour.path)
        survivor.recover()
        clean(survivor, judge)
        assert survivor.has("u4") == there
        assert not there or (tree(survivor.root), (survivor.log / "commits.jsonl").read_bytes()) == (before, log)


def test_recovery_takes_away_nothing_that_log_and_stub_do_not_tell_of(harbour: ArchiveStore, judge: Judge) -> None:
    (harbour.staging / "u4-gone").mkdir()
    (harbour.staging / "u5-gone").mkdir()
    before = tree(harbour.root)
    harbour.recover()
    assert tree(harbour.root) == before
    clean(harbour, judge)
    erasing = ledger.read_commits(harbour).notes["u5"][-1].line[:-1] + b',"stub":"u4"}'
    ledger.append_line(harbour, ledger.COMMITS, erasing)   # a line alone
    (harbour.staging / "u5-gone").mkdir()
    harbour.recover()
    assert tree(harbour.root) == before
    assert [one.path for one in audit(harbour, now=NOW).damaged] == ["log/commits.jsonl"] * 1


def test_an_id_that_was_erased_is_not_given_again(harbour: ArchiveStore) -> None:
    erased(harbour)
    with pytest.raises(UsageError) as caught:
        add_carrier(harbour, "u4", "eprom", later().session())
    assert "u4-erased" in caught.value.why


def test_a_stub_is_neither_erased_nor_taken_in(harbour: ArchiveStore) -> None:
    erased(harbour)
    before = tree(harbour.root)
    with pytest.raises(UsageError):
        erase_carrier(harbour, "u4-erased", WHY, later().session())
    with pytest.raises(UsageError):
        withdraw(harbour, "u4-erased", "x1", "a slip", later().session())
    assert tree(harbour.root) == before


def test_an_id_in_the_way_is_gone_round_and_then_stays(harbour: ArchiveStore, judge: Judge) -> None:
    session = later().session()
    add_carrier(harbour, "u4-erased", "eprom", session)
    assert erased(harbour).stub == "u4-erased-2"
    clean(harbour, judge)
    deaccession_carrier(harbour, "u4-erased", "lost", session)
    with pytest.raises(UsageError) as caught:
        erase_carrier(harbour, "u4-erased", WHY, session)
    assert "u4" in caught.value.why


def test_what_lies_there_again_is_unexpected_and_can_be_erased_again(
    harbour: ArchiveStore, tmp_path: Path, judge: Judge
) -> None:
    shutil.copytree(harbour.object_path("u4"), tmp_path / "kept")
    erased(harbour)
    shutil.copytree(tmp_path / "kept", harbour.object_path("u4"))
    result = audit(harbour, now=NOW)
    assert (result.damaged, result.missing) == ((), ())
    (one,) = result.unexpected
    assert one.path == harbour.name_of(harbour.object_path("u4"))
    assert "erased" in one.why
    log = (harbour.log / "commits.jsonl").read_bytes()
    repair(harbour, now=NOW)
    assert harbour.has("u4")   # a repair takes nothing away unasked
    again = erased(harbour)
    assert again.stub == "u4-erased"
    assert (harbour.log / "commits.jsonl").read_bytes() == log
    clean(harbour, judge)


def test_a_stub_alone_means_that_nothing_was_erased_and_is_used_the_next_time(
    harbour: ArchiveStore, tmp_path: Path, judge: Judge
) -> None:
    log = harbour.log / "commits.jsonl"
    shutil.copytree(harbour.object_path("u4"), tmp_path / "kept")
    erased(harbour)
    whole = log.read_bytes()
    shutil.copytree(tmp_path / "kept", harbour.object_path("u4"))   # as from a backup that is older than the line
    log.write_bytes(b"".join(line for line in whole.splitlines(keepends=True) if b'"stub"' not in line))
    clean(harbour, judge)
    assert harbour.has("u4")
    stub = tree(harbour.object_path("u4-erased"))
    assert erased(harbour).stub == "u4-erased"
    assert (log.read_bytes(), tree(harbour.object_path("u4-erased"))) == (whole, stub)
    assert not harbour.has("u4")
    clean(harbour, judge)


@pytest.mark.parametrize("which", range(8))
def test_every_changed_line_about_it_is_found(harbour: ArchiveStore, which: int) -> None:
    erased(harbour)
    path = harbour.log / "commits.jsonl"
    lines = path.read_bytes().splitlines(keepends=True)
    about = [number for number, line in enumerate(lines) if b'"carrier":"u4"' in line]
    assert len(about) == 4
    line, back = about[which % 4], which // 4
    data = bytearray(lines[line])
    at = data.index(b'"inventory_sha512":"') + 25 if back else data.index(b'"time":"') + 12
    data[at] = ord("1") if data[at] != ord("1") else ord("2")
    lines[line] = bytes(data)
    path.write_bytes(b"".join(lines))
    result = audit(harbour, now=NOW)
    assert [one.path for one in result.damaged] == ["log/commits.jsonl"]
    assert (result.missing, result.unexpected) == ((), ())


def test_a_lost_line_is_written_again_from_the_stub(harbour: ArchiveStore, tmp_path: Path, judge: Judge) -> None:
    replicate(harbour, tmp_path / "copy", now=NOW)
    erased(harbour)
    path = harbour.log / "commits.jsonl"
    whole = path.read_bytes()
    lost = b"".join(line for line in whole.splitlines(keepends=True) if b'"stub"' not in line)
    path.write_bytes(lost)
    assert [one.path for one in audit(harbour, now=NOW).damaged] == ["log/commits.jsonl"]
    result = repair(harbour, ArchiveStore.open(tmp_path / "copy"), now=NOW)
    assert result.ok
    assert not harbour.has("u4")
    assert sorted(path.read_bytes().splitlines()) == sorted(whole.splitlines())
    clean(harbour, judge)


def test_a_stub_that_is_lost_is_damage_and_comes_back_from_a_copy(
    harbour: ArchiveStore, tmp_path: Path, judge: Judge
) -> None:
    erased(harbour)
    replicate(harbour, tmp_path / "copy", now=NOW)
    shutil.rmtree(harbour.object_path("u4-erased"))
    result = audit(harbour, now=NOW)
    assert "log/commits.jsonl" in [one.path for one in result.damaged]
    assert harbour.name_of(harbour.object_path("u4-erased")) in [one.path for one in result.missing]
    assert repair(harbour, ArchiveStore.open(tmp_path / "copy"), now=NOW).ok
    clean(harbour, judge)


def test_a_copy_keeps_it_and_says_so_and_gives_it_back_to_nobody(
    harbour: ArchiveStore, tmp_path: Path, judge: Judge
) -> None:
    replicate(harbour, tmp_path / "copy", now=NOW)
    copy = ArchiveStore.open(tmp_path / "copy")
    held = tree(copy.object_path("u4"))
    erased(harbour)
    for _ in range(2):
        result = replicate(harbour, tmp_path / "copy", now=NOW)
        assert (result.ok, result.erased, result.exit_code) == (True, ("u4",), 1)
    assert tree(copy.object_path("u4")) == held
    assert read_stub(copy, "u4-erased") == read_stub(harbour, "u4-erased")
    assert audit(copy, now=NOW).ok
    shutil.rmtree(harbour.object_path("u5"))
    assert repair(harbour, copy, now=NOW).ok
    assert harbour.ids() == ("u4-erased", "u5")
    with pytest.raises(UsageError) as caught:
        erase_carrier(copy, "u4", WHY, later().session())
    assert "copy" in caught.value.why
    fresh = replicate(harbour, tmp_path / "fresh", now=NOW)
    assert (fresh.erased, fresh.exit_code) == ((), 0)
    clean(harbour, judge)


def test_another_archive_that_still_has_it_is_not_asked(harbour: ArchiveStore, tmp_path: Path, judge: Judge) -> None:
    shutil.copytree(harbour.path, tmp_path / "museum")
    erased(harbour)
    before = tree(harbour.root)
    result = merge_archive(harbour, str(tmp_path / "museum"), later().session())
    assert tree(harbour.root) == before
    (aside,) = result.set_aside
    assert aside.id == "u4"
    assert "erased" in aside.why
    museum = ArchiveStore.open(tmp_path / "museum")
    held = tree(museum.root)
    back = merge_archive(museum, str(harbour.path), later().session())   # and it goes on there as it did
    assert back.set_aside == ()
    assert tree(museum.root) == held
    assert any("erased there" in said for one in back.taken for said in one.said)
    clean(harbour, judge)


def test_another_carrier_of_that_name_comes_under_another(harbour: ArchiveStore, tmp_path: Path, judge: Judge) -> None:
    clock = Clock(uuids=iter(range(5000, 1 << 30)))
    other = found(tmp_path / "other", clock)
    add_carrier(other, "u4", "eprom", clock.session())
    erased(harbour)
    result = merge_archive(harbour, str(other.path), later().session())
    assert [(one.id, one.here) for one in result.taken] == [("u4", "u4-2")]
    assert audit(harbour, now=NOW).ok
    assert judge(harbour.root) == []


def test_the_command_asks_twice(cli: Cli, harbour: ArchiveStore) -> None:
    where = ("--reason", WHY, "--archive", harbour.path)
    assert cli("archive", "replicate", "copy", "--archive", harbour.path).code == 0
    first = cli("carrier", "erase", "u4", *where)
    assert first.code == 1
    assert "not erased yet" in first.out
    word = first.out.split("--confirm ")[1].split()[0]
    assert harbour.has("u4")
    assert cli("carrier", "erase", "u5", *where).code == 2
    assert cli("carrier", "erase", "u4", "--confirm", "12", *where).code == 2
    second = cli("carrier", "erase", "u4", "--confirm", word, *where)
    assert (second.code, second.out.split("\n")[0]) == (0, "u4: erased")
    assert not harbour.has("u4")
    assert cli("carrier", "erase", "u4", "--confirm", word, *where).code == 5
    copied = cli("archive", "replicate", "copy", "--archive", harbour.path)
    assert copied.code == 1
    assert "erased in the archive, still in the copy: u4\n" in copied.out
    assert "TAKEN OUT" in cli("carrier", "show", "u4", "--archive", "copy").out
    assert "u4-erased" in cli("carrier", "show", "u4", "--archive", harbour.path).err
    listed = cli("carrier", "list", "--archive", harbour.path)
    assert "1 taken out" in listed.out
    assert "u4" not in listed.out
    shown = cli("carrier", "show", "u4-erased", "--archive", harbour.path)
    assert f"erased: {WHY}" in shown.out
    assert "deletion" in shown.out
    assert "u4-erased" in cli("search", "owner", "--archive", harbour.path).out
    assert cli("archive", "audit", "--reprove", "--archive", harbour.path).code == 0
    assert cli("report", "-o", "pages", "--archive", harbour.path).code == 0
    assert "erased: " in Path("pages/carriers/u4-erased.html").read_text()
