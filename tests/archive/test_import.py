"""Bags that come from outside: sound ones give the same archive again, all others leave it byte for byte as it was."""

from __future__ import annotations

import gzip
import io
import json
import os
import shutil
import stat
import struct
import tarfile
import tempfile
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import bagit
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper.archive.audits.audit import audit
from imagekeeper.archive.exchange import unpacking
from imagekeeper.archive.exchange.bag import FORMS, Form
from imagekeeper.archive.exchange.bag_check import check_bag
from imagekeeper.archive.exchange.repair import repair
from imagekeeper.archive.exchange.replica import replicate
from imagekeeper.archive.index.sqlite.base import Index
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ImagekeeperError
from imagekeeper.jobs.archive.exchanging import Import, import_bag, merge_archive
from imagekeeper.jobs.archive.exporting import export
from imagekeeper.jobs.carriers import describing, keeping
from imagekeeper.jobs.carriers.agreeing import agree

from .conftest import USER, Judge
from .harbour import Clock, found, keep, records, tree
from .poisons import bagged
from .test_crash import Killed, MortalDisk

pytestmark = pytest.mark.long


def full(path: Path, clock: Clock, layout: str = "0002") -> ArchiveStore:
    """An archive of two carriers and a machine."""
    archive = found(path, clock, layout)
    session = clock.session()
    describing.add_machine(archive, "tg85", "Quillmere TG-85", session, serial="0117")
    keeping.add_carrier(archive, "tg85-u4", "eprom", session, part="2716", machine="tg85", label="TG85 2.1\nEVEN")
    keep(archive, "tg85-u4", bytes(range(256)) * 8, clock, reader="bench reader", vcc="5.0")
    keep(archive, "tg85-u4", bytes(range(256)) * 8, clock, reader="own monitor", vcc="4.5")
    agree(archive, "tg85-u4", session)
    describing.add_note(archive, "tg85-u4", "window covered", session)
    keeping.add_carrier(archive, "disk.1", "floppy", session)
    return archive


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def sent(tmp_path: Path, clock: Clock) -> Path:
    """A sound bag, as a folder."""
    export(full(tmp_path / "harbour", clock), str(tmp_path / "bag"), clock.session())
    return tmp_path / "bag"


@pytest.fixture
def museum(tmp_path: Path, clock: Clock) -> ArchiveStore:
    """An archive with a carrier of its own."""
    archive = found(tmp_path / "museum", clock)
    keeping.add_carrier(archive, "clock-u1", "mask-rom", clock.session())
    return archive


def packed(folder: Path, form: str) -> Path:
    """Pack a folder by other programs than ours."""
    target = folder.parent / f"packed.{form}"
    if form == "zip":
        with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as file:
            for path in sorted(folder.rglob("*")):
                file.write(path, f"bag/{path.relative_to(folder).as_posix()}")
    else:
        with tarfile.open(target, "w:gz" if form == "tar.gz" else "w") as tar:
            tar.add(folder, "bag")
    return target


@pytest.mark.parametrize("layout", ["0002", "0003"])
@pytest.mark.parametrize("form", FORMS)
def test_export_then_import_gives_the_same_archive(
    tmp_path: Path, clock: Clock, judge: Judge, form: Form, layout: str
) -> None:
    ours = full(tmp_path / "harbour", clock, layout)
    export(ours, str(tmp_path / "bag"), clock.session(), to=form)
    other = found(tmp_path / "museum", clock, "0002" if layout == "0003" else "0003")
    result = import_bag(other, str(tmp_path / "bag"), clock.session())
    assert {(one.id, one.here, one.what) for one in result.taken} == {
        (name, name, "added") for name in ("tg85", "tg85-u4", "disk.1")
    }
    assert (result.archive, result.title) == (ours.marker.uuid, "harbour")
    assert records(other) == records(ours)
    for one in ours.ids():
        assert tree(other.object_path(one)) == tree(ours.object_path(one))
    assert judge(other.root) == []
    assert audit(other, now=clock.now()).ok
    assert list(other.staging.iterdir()) == []


@pytest.mark.parametrize("form", ["zip", "tar", "tar.gz"])
def test_what_other_programs_pack_is_taken(sent: Path, museum: ArchiveStore, clock: Clock, form: str) -> None:
    result = import_bag(museum, str(packed(sent, form)), clock.session())
    assert [one.what for one in result.taken] == ["added"] * 3


def test_a_bag_taken_in_twice_changes_nothing(sent: Path, museum: ArchiveStore, clock: Clock) -> None:
    import_bag(museum, str(sent), clock.session())
    before = tree(museum.root)
    result = import_bag(museum, str(sent), clock.session())
    assert {one.what for one in result.taken} == {"unchanged"}
    assert tree(museum.root) == before


def test_a_dry_run_changes_nothing_and_tells_the_same(sent: Path, museum: ArchiveStore, clock: Clock) -> None:
    before = tree(museum.path)
    trial = import_bag(museum, str(sent), clock.session(), dry_run=True)
    assert tree(museum.path) == before
    real = import_bag(museum, str(sent), clock.session())
    assert (trial.dry_run, trial.noted, real.noted) == (True, False, True)
    assert trial.taken == real.taken


def test_newer_versions_follow_the_older_ones(sent: Path, tmp_path: Path, museum: ArchiveStore, clock: Clock) -> None:
    import_bag(museum, str(sent), clock.session())
    ours = ArchiveStore.open(tmp_path / "harbour")
    keep(ours, "tg85-u4", b"\xff" * 2048, clock, reader="bench reader")
    describing.add_note(ours, "tg85-u4", "read again", clock.session())
    export(ours, str(tmp_path / "later.zip"), clock.session())
    result = import_bag(museum, str(tmp_path / "later.zip"), clock.session())
    (new,) = (one for one in result.taken if one.what != "unchanged")
    assert (new.id, new.what, new.versions, new.reads) == ("tg85-u4", "extended", 2, 1)
    assert tree(museum.object_path("tg85-u4")) == tree(ours.object_path("tg85-u4"))
    assert audit(museum, now=clock.now()).ok
    older = import_bag(museum, str(sent), clock.session())   # and the first bag holds nothing new then
    assert {one.what for one in older.taken} == {"unchanged"}


def test_another_carrier_under_the_same_id_gets_another(
    sent: Path, museum: ArchiveStore, clock: Clock, judge: Judge, tmp_path: Path
) -> None:
    for name in ("tg85-u4", "tg85-u4-2"):
        keeping.add_carrier(museum, name, "prom", clock.session())
    describing.add_machine(museum, "tg85", "another machine", clock.session())
    result = import_bag(museum, str(sent), clock.session())
    here = {one.id: one.here for one in result.taken}
    assert here == {"tg85": "tg85-2", "tg85-u4": "tg85-u4-3", "disk.1": "disk.1"}
    taken = next(one for one in result.taken if one.id == "tg85-u4")
    assert "tg85-u4 there is tg85-u4-3 here" in taken.said[0]
    record, theirs = records(museum)["tg85-u4-3"], records(ArchiveStore.open(tmp_path / "harbour"))["tg85-u4"]
    assert replace(record, id=theirs.id, machine="tg85", events=record.events[:-1], version=theirs.version) == theirs
    assert record.machine == "tg85-2"   # type: ignore[union-attr]
    assert record.events[-1].type == "ingestion"
    assert judge(museum.root) == []
    assert audit(museum, now=clock.now()).ok
    again = import_bag(museum, str(sent), clock.session())
    assert {one.what for one in again.taken} == {"unchanged"}


def test_what_belongs_to_no_carrier_is_told_and_left(sent: Path, museum: ArchiveStore, clock: Clock) -> None:
    (sent / "data" / "letter.txt").write_text("dear colleague")
    remake(sent)
    result = import_bag(museum, str(sent), clock.session())
    assert result.passed_over == ("data/letter.txt",)
    assert len(result.taken) == 3


# --- hostile and damaged --------------------------------------------------------------------------------------------


def remake(folder: Path) -> None:
    """Bring a bag's manifests to what it holds now, by the independent library."""
    info = folder / "bag-info.txt"
    lines = [one for one in info.read_text().splitlines() if not one.startswith("Payload-Oxum")]
    info.write_text("\n".join(lines) + "\n")
    bagit.Bag(str(folder)).save(manifests=True)
    (folder / "bagit.txt").write_bytes(b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")
    for path in folder.glob("tagmanifest-*"):   # they were made before the line above
        path.unlink()


Spoil = Callable[[Path], Path | None]


def _edit(name: str, change: Callable[[bytes], bytes]) -> Spoil:
    def spoil(folder: Path) -> None:
        path = folder / name
        path.write_bytes(change(path.read_bytes()))

    return spoil   # type: ignore[return-value]


def _file(name: str, data: bytes = b"x", *, again: bool = False) -> Spoil:
    def spoil(folder: Path) -> None:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
        if again:
            remake(folder)

    return spoil   # type: ignore[return-value]


def _gone(name: str, *, again: bool = False) -> Spoil:
    def spoil(folder: Path) -> None:
        (folder / name).unlink()
        if again:
            remake(folder)

    return spoil   # type: ignore[return-value]


def _link(folder: Path) -> None:
    (folder / "data" / "carriers" / "passwords").symlink_to("/etc/passwd")


def _pipe(folder: Path) -> None:
    os.mkfifo(folder / "data" / "pipe")


def _case(folder: Path) -> None:
    (folder / "data" / "U4.bin").write_bytes(b"x")
    (folder / "data" / "u4.bin").write_bytes(b"x")
    remake(folder)


def _letters(folder: Path) -> None:
    (folder / "data" / "gr\u00fcn").write_bytes(b"x")
    (folder / "data" / "gru\u0308n").write_bytes(b"x")
    remake(folder)


def _stranger(folder: Path) -> None:
    (folder / "data" / "carriers" / "tg85-u4" / "v1" / "content" / "extra.bin").write_bytes(b"x")
    remake(folder)


def _changed_record(folder: Path) -> None:
    """All digests of the bag are right, and those of the carrier are not."""
    path = folder / "data" / "carriers" / "tg85-u4" / "v1" / "content" / "carrier.json"
    path.write_bytes(path.read_bytes().replace(b"2716", b"2732"))
    remake(folder)


def _same_uuid(folder: Path) -> None:
    shutil.copytree(folder / "data" / "carriers" / "disk.1", folder / "data" / "carriers" / "disk.2")
    for path in (folder / "data" / "carriers" / "disk.2").rglob("inventory.json"):
        path.write_bytes(path.read_bytes().replace(b'"disk.1"', b'"disk.2"'))
    remake(folder)


INVENTORY = "data/carriers/tg85-u4/inventory.json"

DAMAGED: dict[str, tuple[str, Spoil]] = {
    "a changed byte": ("bag-damaged", _edit(INVENTORY, lambda data: data[:-2] + b" " + data[-1:])),
    "a missing payload file": ("bag-damaged", _gone(INVENTORY)),
    "an extra payload file": ("bag-damaged", _file("data/extra.bin")),
    "a changed bag-info.txt": ("bag-damaged", _edit("bag-info.txt", lambda data: data.replace(b"2026", b"2025"))),
    "a wrong Payload-Oxum": ("bag-damaged", _edit("bag-info.txt", lambda data: data.replace(b"Oxum: ", b"Oxum: 1"))),
    "no bagit.txt": ("bag-damaged", _gone("bagit.txt")),
    "another bagit.txt": ("bag-damaged", _edit("bagit.txt", lambda data: data.replace(b"1.0", b"9.9"))),
    "another encoding": ("bag-damaged", _edit("bagit.txt", lambda data: data.replace(b"UTF-8", b"UTF-16"))),
    "a manifest that is not whole": (
        "bag-damaged", _edit("manifest-sha256.txt", lambda data: b"".join(data.splitlines(True)[1:])),
    ),
    "a path that is listed twice": (
        "bag-damaged", _edit("manifest-sha512.txt", lambda data: data + data.splitlines(True)[0]),
    ),
    "a manifest with a path outside": (
        "bag-damaged", _edit("manifest-sha256.txt", lambda data: data + b"0" * 64 + b"  data/../../../etc/passwd\n"),
    ),
    "a manifest line without end": (
        "bag-damaged", _edit("manifest-sha256.txt", lambda data: data + b"0" * 20000),
    ),
    "a manifest that is no text": ("bag-damaged", _edit("manifest-sha256.txt", lambda data: data + b"\xff\xfe\n")),
    "a manifest of an unknown digest": ("bag-damaged", _file("manifest-whirl.txt")),
    "a tag manifest that lists another": (
        "bag-damaged", _edit("tagmanifest-sha256.txt", lambda data: data + b"0" * 64 + b"  tagmanifest-sha512.txt\n"),
    ),
    "fetch.txt": ("bag-unsafe", _file("fetch.txt", b"https://example.org/u4.bin 10 data/u4.bin\n")),
    "a link": ("bag-unsafe", _link),   # type: ignore[dict-item]
    "a pipe": ("bag-unsafe", _pipe),   # type: ignore[dict-item]
    "names that differ by case": ("bag-unsafe", _case),   # type: ignore[dict-item]
    "names that differ by the form of a letter": ("bag-unsafe", _letters),   # type: ignore[dict-item]
    "a name with a colon": ("bag-unsafe", _file("data/u4.bin:stream", again=True)),
    "no archive in it": ("bag-damaged", _gone("data/archive.json", again=True)),
    "an archive of another kind": ("bag-damaged", _file("data/archive.json", b"{}", again=True)),
    "an archive of a later version": ("archive-newer", _file("data/archive.json", b'{"version": 99}', again=True)),
    "no storage root": ("bag-damaged", _gone("data/carriers/0=ocfl_1.1", again=True)),
    "a folder that is no carrier's": ("bag-damaged", _file("data/carriers/TG85 U9/x", again=True)),
}  # fmt: skip

#: Bags that are sound, with something wrong in one carrier: what is wrong, how, and which carriers are set aside.
ASIDE: dict[str, tuple[Spoil, set[str], str]] = {
    "a file that no inventory accounts for": (_stranger, {"tg85-u4"}, "nothing accounts"),   # type: ignore[dict-item]
    "a record that is not what its inventory says": (
        _changed_record, {"tg85-u4"}, "its SHA-512 is another"),   # type: ignore[dict-item]
    "an inventory that is none": (_file(INVENTORY, b"[" * 50000, again=True), {"tg85-u4"}, "inventory.json"),
    "an inventory too few": (_gone(INVENTORY, again=True), {"tg85-u4"}, "inventory.json"),
    "a copy of a carrier under another id": (_same_uuid, {"disk.2"}, "inventory.json"),   # type: ignore[dict-item]
}  # fmt: skip


def refused(museum: ArchiveStore, path: Path, clock: Clock) -> ImagekeeperError:
    """Import, see that it is refused, and that nothing at all changed."""
    before = tree(museum.path)
    scratch = Path(tempfile.mkdtemp(dir=museum.path.parent))   # its own: other programs use the common one meanwhile
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tempfile, "tempdir", str(scratch))
        for dry_run in (True, False):
            with pytest.raises(ImagekeeperError) as caught:
                import_bag(museum, str(path), clock.session(), dry_run=dry_run)
    assert tree(museum.path) == before
    assert list(scratch.iterdir()) == []
    assert caught.value.where.file is not None
    return caught.value


@pytest.mark.parametrize("what", DAMAGED)
def test_what_is_damaged_or_hostile_is_refused(sent: Path, museum: ArchiveStore, clock: Clock, what: str) -> None:
    code, spoil = DAMAGED[what]
    spoil(sent)
    assert refused(museum, sent, clock).code == code


@pytest.mark.parametrize("what", ASIDE)
def test_a_bad_carrier_of_a_sound_bag_is_set_aside_and_the_others_are_taken(
    sent: Path, museum: ArchiveStore, clock: Clock, what: str
) -> None:
    spoil, ids, why = ASIDE[what]
    spoil(sent)
    before = tree(museum.path)
    trial = import_bag(museum, str(sent), clock.session(), dry_run=True)
    assert tree(museum.path) == before
    result = import_bag(museum, str(sent), clock.session())
    assert {one.id for one in result.set_aside} == ids
    assert all(why in one.why for one in result.set_aside), result.set_aside
    assert {one.here for one in result.taken} == {"tg85", "tg85-u4", "disk.1"} - ids
    assert (trial.set_aside, trial.taken, result.exit_code) == (result.set_aside, result.taken, 3)
    assert result.passed_over == ()
    assert audit(museum, now=clock.now()).ok


def test_the_judge_of_bags_accepts_what_the_carriers_own_check_refuses(sent: Path) -> None:
    """So those cases above test more than the manifests."""
    _changed_record(sent)
    assert bagit.Bag(str(sent)).is_valid()
    assert check_bag(sent).files > 20


#: Where a hostile bag would like to write.
EVIL = "/tmp/imagekeeper-evil"   # noqa: S108


def _image(**members: object) -> Callable[[dict[str, Any]], None]:
    return lambda record: record["image"].update(members)


def _put(**members: object) -> Callable[[dict[str, Any]], None]:
    return lambda record: record.update(members)


#: Records of the right types whose values do not fit: the file, what is changed in it, and what is said of it.
UNFIT: dict[str, tuple[str, Callable[[dict[str, Any]], None], str]] = {
    "half of a character": ("carrier.json", _put(note="tide \ud800"), "half of a character"),
    "half of one in a file name": ("reads/r1/read.json", _put(file="\udc80"), "half of a"),
    "half of one in the reader": ("reads/r1/read.json", _put(reader="\ud800"), "half of a"),
    "an address beyond 64 bits": ("reads/r1/read.json", _image(first_address=1 << 63), "more than a number can be"),
    "an address of forty digits": ("reads/r1/read.json", _image(first_address=10**40), "more than a number can be"),
    "an address beyond 4 GiB": ("reads/r1/read.json", _image(first_address=1 << 32), "no address between"),
    "a size beyond 64 bits": ("reads/r1/read.json", _put(size_bytes=1 << 64), "more than a number can be"),
    "a negative size": ("reads/r1/read.json", _put(size_bytes=-1), "negative"),
    "a CRC that is too long": ("reads/r1/read.json", _image(crc32="F" * 40), "no CRC-32"),
    "a CRC of a letter": ("reads/r1/read.json", _image(crc32="x"), "no CRC-32"),
    "a digest that is none": ("agreed.json", _put(sha256="none", image=None), "no SHA-256"),
    "segments that overlap": (
        "reads/r1/read.json", _image(segments=[{"start": 0, "length": 1024}, {"start": 0, "length": 1024}]), "overlap"),
    "a path to elsewhere": ("reads/r1/read.json", _put(original="reads/r2/read.json"), "where it belongs"),
    "a time that is none": ("carrier.json", _put(created="yesterday"), "RFC 3339"),
    "another id": ("carrier.json", _put(id="disk.1"), "another id"),
    "a kind that is none": ("carrier.json", _put(kind="punched card"), "no kind of carrier"),
}  # fmt: skip


def unfit(path: Path, clock: Clock, what: str) -> ArchiveStore:
    """An archive with such a record."""
    archive = full(path, clock)
    place, change, _ = UNFIT[what]
    inventory = archive.inventory("tg85-u4")
    record = json.loads(archive.read_file("tg85-u4", place, inventory))
    change(record)
    changes = {place: json.dumps(record).encode()}
    archive.commit("tg85-u4", changes, message="m", user=USER, now=clock.now(), expected_head=inventory.head)
    return archive


@pytest.mark.parametrize("what", UNFIT)
def test_a_record_that_does_not_fit_is_set_aside_wherever_it_comes_from(
    tmp_path: Path, museum: ArchiveStore, clock: Clock, what: str
) -> None:
    theirs = unfit(tmp_path / "harbour", clock, what)
    assert [one.carrier for one in audit(theirs, now=clock.now()).damaged] == ["tg85-u4"]
    bagged(theirs.path, tmp_path / "bag")
    handed_on = export(theirs, str(tmp_path / "exported"), clock.session())
    assert ([one.id for one in handed_on.set_aside], handed_on.exit_code) == (["tg85-u4"], 4)
    copied = replicate(theirs, tmp_path / "copy", now=clock.now())
    assert {one.carrier for one in copied.not_copied} == {"tg85-u4"}
    assert set(ArchiveStore.open(tmp_path / "copy").ids()) == {"tg85", "disk.1"}
    for result in (
        import_bag(museum, str(tmp_path / "bag"), clock.session()),
        merge_archive(museum, str(theirs.path), clock.session()),
    ):
        assert {one.here for one in result.taken} == {"tg85", "disk.1"}
        (aside,) = result.set_aside
        assert aside.id == "tg85-u4"
        assert UNFIT[what][2] in aside.why or what == "another id"   # the audit says it in other words
    assert import_bag(museum, str(tmp_path / "exported"), clock.session()).set_aside == ()
    assert set(museum.ids()) == {"clock-u1", "tg85", "disk.1"}
    assert audit(museum, now=clock.now()).ok


def test_repair_takes_no_record_that_does_not_fit(tmp_path: Path, clock: Clock) -> None:
    theirs = unfit(tmp_path / "harbour", clock, "a CRC of a letter")
    ours = tmp_path / "ours"
    shutil.copytree(theirs.path, ours)
    shutil.rmtree(ours / "carriers" / "tg85-u4")
    archive = ArchiveStore.open(ours)
    result = repair(archive, theirs, now=clock.now())
    assert [one.carrier for one in result.refused] == ["tg85-u4"]
    assert "no CRC-32" in result.refused[0].why
    assert not archive.has("tg85-u4")


def test_a_carrier_that_cannot_be_read_here_stops_no_import(sent: Path, museum: ArchiveStore, clock: Clock) -> None:
    keeping.add_carrier(museum, "disk.1", "floppy", clock.session())
    inventory = museum.inventory("disk.1")
    museum.commit(
        "disk.1", {"carrier.json": b"{}"}, message="m", user=USER, now=clock.now(), expected_head=inventory.head
    )
    result = import_bag(museum, str(sent), clock.session())
    assert {one.here for one in result.taken} == {"tg85", "tg85-u4"}
    (aside,) = result.set_aside
    assert aside.id == "disk.1"
    assert "cannot be told apart" in aside.why


def test_what_brings_out_a_fault_of_our_own_is_set_aside(sent: Path, museum: ArchiveStore, clock: Clock) -> None:
    def shown(archive: ArchiveStore, record: Any, inventory: object) -> None:
        if record.id == "tg85-u4":
            raise KeyError("nobody foresaw this")

    result = import_bag(museum, str(sent), clock.session(), shown=shown)
    (aside,) = result.set_aside
    assert aside.id == "tg85-u4"
    assert "KeyError" in aside.why


@pytest.mark.parametrize("what", UNFIT)
def test_an_archive_that_has_such_a_record_still_lists_the_others(tmp_path: Path, clock: Clock, what: str) -> None:
    """As archives may have that took one in before it was refused."""
    archive = unfit(tmp_path / "harbour", clock, what)
    with Index(archive, tmp_path / "cache") as index:
        problems = {row.id: row.problem for row in index.rows()}
        assert problems["disk.1"] is None
        assert UNFIT[what][2] in (problems["tg85-u4"] or "")
        assert [one.id for one in index.unread()] == ["tg85-u4"]
        index.rebuild()
        assert {row.id: row.problem for row in index.rows()} == problems
        assert not index.in_memory


def test_odd_texts_that_the_index_holds_are_taken(tmp_path: Path, museum: ArchiveStore, clock: Clock) -> None:
    archive = full(tmp_path / "harbour", clock)
    describing.add_note(archive, "disk.1", "long " * 100_000, clock.session())
    inventory = archive.inventory("disk.1")
    record = json.loads(archive.read_file("disk.1", "carrier.json", inventory))
    record |= {"label": "a\0b", "board": "\U0010ffff"}
    archive.commit(
        "disk.1", {"carrier.json": json.dumps(record).encode()}, message="m", user=USER, now=clock.now(),
        expected_head=inventory.head,
    )  # fmt: skip
    export(archive, str(tmp_path / "bag"), clock.session())
    import_bag(museum, str(tmp_path / "bag"), clock.session())
    with Index(museum, tmp_path / "cache") as index:
        assert [row.problem for row in index.rows()] == [None] * 3


def tar_with(*members: tuple[tarfile.TarInfo, bytes], path: Path) -> Path:
    with tarfile.open(path, "w") as file:
        for about, data in members:
            about.size = len(data)
            file.addfile(about, io.BytesIO(data))
    return path


def about(name: str, kind: bytes = tarfile.REGTYPE, target: str = "") -> tarfile.TarInfo:
    member = tarfile.TarInfo(name)
    member.type, member.linkname = kind, target
    return member


TARS: dict[str, list[tuple[tarfile.TarInfo, bytes]]] = {
    "an absolute path": [(about(EVIL), b"x")],
    "a path upwards": [(about("bag/../../evil"), b"x")],
    "a symbolic link": [(about("bag/data", tarfile.SYMTYPE, "/etc"), b"")],
    "a hard link": [(about("bag/a"), b"x"), (about("bag/b", tarfile.LNKTYPE, "bag/a"), b"")],
    "a device": [(about("bag/null", tarfile.CHRTYPE), b"")],
    "a pipe": [(about("bag/pipe", tarfile.FIFOTYPE), b"")],
    "a name twice": [(about("bag/a"), b"x"), (about("bag/a"), b"y")],
    "a name as file and folder": [(about("bag/a"), b"x"), (about("bag/a/b"), b"y")],
    "a name as folder and file": [(about("bag/a/b"), b"x"), (about("bag/a"), b"y")],
    "names that differ by case": [(about("bag/a/x"), b"x"), (about("bag/A/y"), b"y")],
    "a backslash": [(about("bag\\..\\..\\evil"), b"x")],
    "a control character": [(about("bag/a\x1b[2Jb"), b"x")],
    "a name that is too long": [(about("bag/" + "x" * 2000), b"x")],
    "too deep a path": [(about("bag/" + "x/" * 100 + "x"), b"x")],
}


@pytest.mark.parametrize("what", TARS)
def test_a_hostile_tar_is_refused(tmp_path: Path, museum: ArchiveStore, clock: Clock, what: str) -> None:
    path = tar_with(*TARS[what], path=tmp_path / "evil.tar")
    assert refused(museum, path, clock).code == "bag-unsafe"
    assert not Path(EVIL).exists()
    assert not list(tmp_path.rglob("evil"))


ZIPS: dict[str, tuple[str, Callable[[zipfile.ZipFile], None]]] = {
    "an absolute path": ("bag-unsafe", lambda file: file.writestr(EVIL, b"x")),
    "a path upwards": ("bag-unsafe", lambda file: file.writestr("../evil", b"x")),
    "a drive": ("bag-unsafe", lambda file: file.writestr("C:/evil", b"x")),
    "another method": ("wrapper-damaged", lambda file: file.writestr("bag/a", b"x", zipfile.ZIP_BZIP2)),
    "names that differ by case": (
        "bag-unsafe", lambda file: (file.writestr("bag/a", b"x"), file.writestr("bag/A", b"x"))[0],
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", ZIPS)
def test_a_hostile_zip_is_refused(tmp_path: Path, museum: ArchiveStore, clock: Clock, what: str) -> None:
    code, fill = ZIPS[what]
    with zipfile.ZipFile(tmp_path / "evil.zip", "w") as file:
        fill(file)
    assert refused(museum, tmp_path / "evil.zip", clock).code == code
    assert not Path(EVIL).exists()
    assert not list(tmp_path.rglob("evil"))


def test_a_link_in_a_zip_is_refused(tmp_path: Path, museum: ArchiveStore, clock: Clock) -> None:
    member = zipfile.ZipInfo("bag/passwords")
    member.create_system, member.external_attr = 3, (stat.S_IFLNK | 0o777) << 16
    with zipfile.ZipFile(tmp_path / "evil.zip", "w") as file:
        file.writestr(member, b"/etc/passwd")
    assert refused(museum, tmp_path / "evil.zip", clock).code == "bag-unsafe"


def test_an_encrypted_zip_is_refused(tmp_path: Path, sent: Path, museum: ArchiveStore, clock: Clock) -> None:
    """Bit 0 of the general purpose flags: PKWARE, APPNOTE.TXT 6.3.10, section 4.4.4."""
    path = packed(sent, "zip")
    data = bytearray(path.read_bytes())
    for mark, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        place = data.find(mark)
        while place >= 0:
            data[place + at] |= 1
            place = data.find(mark, place + 4)
    path.write_bytes(data)
    problem = refused(museum, path, clock)
    assert (problem.code, "encrypted" in problem.why) == ("wrapper-damaged", True)


def test_a_zip_whose_sizes_lie_is_refused(tmp_path: Path, sent: Path, museum: ArchiveStore, clock: Clock) -> None:
    path = packed(sent, "zip")
    data = bytearray(path.read_bytes())
    place = data.rfind(b"PK\x01\x02")   # the sizes of a member: APPNOTE.TXT 6.3.10, section 4.3.12
    struct.pack_into("<I", data, place + 24, struct.unpack_from("<I", data, place + 24)[0] + 7)
    path.write_bytes(data)
    assert refused(museum, path, clock).code == "wrapper-damaged"


def test_members_that_share_bytes_are_refused(tmp_path: Path, museum: ArchiveStore, clock: Clock) -> None:
    """A zip in which a thousand entries of the directory point to the same bytes."""
    with zipfile.ZipFile(tmp_path / "evil.zip", "w") as file:
        file.writestr("bag/a", bytes(os.urandom(4000)))
        one = file.infolist()[0]
        for number in range(1000):
            member = zipfile.ZipInfo(f"bag/b{number}")
            member.CRC, member.file_size, member.compress_size = one.CRC, one.file_size, one.compress_size
            member.header_offset = one.header_offset
            file.filelist.append(member)
            file.NameToInfo[member.filename] = member
    assert refused(museum, tmp_path / "evil.zip", clock).code == "bag-unsafe"


@pytest.mark.parametrize("form", ["zip", "tar.gz"])
def test_a_bomb_is_refused_before_it_fills_the_disk(
    tmp_path: Path, museum: ArchiveStore, clock: Clock, form: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(unpacking, "ALWAYS_ALLOWED", 1 << 20)
    written = 0
    write = unpacking._Room.take

    def counted(self: unpacking._Room, size: int) -> None:
        nonlocal written
        written += size
        write(self, size)

    monkeypatch.setattr(unpacking._Room, "take", counted)
    zeros = bytes(20 << 20)
    path = tmp_path / f"evil.{form}"
    if form == "zip":
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as file:
            file.writestr("bag/data/a", zeros)
    else:
        tar_with((about("bag/data/a"), zeros), path=tmp_path / "evil.tar")
        path.write_bytes(gzip.compress((tmp_path / "evil.tar").read_bytes()))
    assert path.stat().st_size < 100_000
    assert refused(museum, path, clock).code == "too-large"
    assert written <= 2 * (5 << 20)


def test_too_many_files_are_refused(
    tmp_path: Path, sent: Path, museum: ArchiveStore, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(unpacking, "COUNT_LIMIT", 20)
    for path in (sent, packed(sent, "tar")):
        assert refused(museum, path, clock).code == "too-large"


def test_a_header_that_asks_for_all_memory_is_refused(tmp_path: Path, museum: ArchiveStore, clock: Clock) -> None:
    """A long name of 4 GiB: POSIX.1-1988 ustar header, type L of the GNU form."""
    member = about("././@LongLink", tarfile.GNUTYPE_LONGNAME)
    member.size = 1 << 32
    (tmp_path / "evil.tar").write_bytes(member.tobuf(tarfile.GNU_FORMAT) + bytes(10240))
    assert refused(museum, tmp_path / "evil.tar", clock).code == "bag-unsafe"


@pytest.mark.parametrize("form", ["zip", "tar", "tar.gz"])
def test_what_is_cut_short_is_refused(sent: Path, museum: ArchiveStore, clock: Clock, form: str) -> None:
    path = packed(sent, form)
    data = path.read_bytes()
    for end in (600, len(data) // 2, len(data) * 9 // 10 if form != "tar" else len(data) // 3):
        path.write_bytes(data[:end])
        assert refused(museum, path, clock).code in ("wrapper-damaged", "bag-damaged")


@pytest.mark.parametrize("data", [b"", b"tide", b"PK\x03\x04", b"\x1f\x8b\x08", bytes(10240)])
def test_what_is_no_bag_at_all_is_refused(tmp_path: Path, museum: ArchiveStore, clock: Clock, data: bytes) -> None:
    (tmp_path / "letter").write_bytes(data)
    assert refused(museum, tmp_path / "letter", clock).exit_code == 3


@settings(max_examples=60)
@given(st.data())
def test_no_spoilt_zip_gets_through_or_breaks_the_program(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    clock = Clock()
    place = tmp_path_factory.mktemp("spoilt")
    ours = found(place / "harbour", clock)
    keeping.add_carrier(ours, "u4", "eprom", clock.session())
    export(ours, str(place / "bag.zip"), clock.session())
    raw = bytearray((place / "bag.zip").read_bytes())
    for _ in range(data.draw(st.integers(1, 4))):
        raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    (place / "bag.zip").write_bytes(raw)
    other = found(place / "museum", clock)
    try:
        import_bag(other, str(place / "bag.zip"), clock.session())
    except ImagekeeperError as problem:
        assert problem.exit_code in (2, 3)
        assert other.ids() == ()
    else:   # what was spoilt is of no account: a time, an attribute
        assert records(other) == records(ours)


# --- crashes --------------------------------------------------------------------------------------------------------


def _steps(archive: ArchiveStore, bag: Path, clock: Clock, tmp_path: Path) -> tuple[int, Import]:
    copy = tmp_path / "counting"
    shutil.copytree(archive.path, copy)
    again = ArchiveStore.open(copy)
    disk = MortalDisk(1_000_000)
    again.disk = disk
    result = import_bag(again, str(bag), clock.session())
    shutil.rmtree(copy)
    return 1_000_000 - disk.life, result


@pytest.mark.long
@pytest.mark.parametrize(("layout", "tearing"), [("0002", False), ("0003", True)])
@pytest.mark.parametrize("case", ["added", "extended", "merged"])
def test_every_step_of_an_import_can_be_the_last(
    tmp_path: Path, clock: Clock, judge: Judge, case: str, layout: str, tearing: bool
) -> None:
    ours = found(tmp_path / "harbour", clock)
    keeping.add_carrier(ours, "u4", "eprom", clock.session())
    keep(ours, "u4", b"first", clock)
    export(ours, str(tmp_path / "first"), clock.session())
    base = found(tmp_path / "museum", clock, layout)
    keeping.add_carrier(base, "other", "prom", clock.session())
    if case != "added":
        import_bag(base, str(tmp_path / "first"), clock.session())
        keep(ours, "u4", b"second", clock)
        describing.add_note(ours, "u4", "read again", clock.session())
    if case == "merged":
        keep(base, "u4", b"third", clock)
    export(ours, str(tmp_path / "bag"), clock.session())
    count, result = _steps(base, tmp_path / "bag", clock, tmp_path)
    assert [one.what for one in result.taken] == [case]
    assert count > 15
    before = records(base)
    finished = set()
    for life in range(1, count + 1):
        place = tmp_path / "dying"
        shutil.copytree(base.path, place)
        dying = ArchiveStore.open(place)
        dying.disk = MortalDisk(life, tearing=tearing)
        with pytest.raises(Killed):
            import_bag(dying, str(tmp_path / "bag"), clock.session())
        survivor = ArchiveStore.open(place)
        survivor.recover()
        assert judge(survivor.root) == [], life
        found_now = audit(survivor, now=clock.now())
        assert (found_now.missing, found_now.damaged) == ((), ()), life
        kept = records(survivor)
        assert kept["other"] == before["other"]
        if case == "added":   # all of its history, or nothing
            assert kept == before or kept["u4"] == records(ours)["u4"], life
        else:
            assert {read.image.sha256 for read in before["u4"].reads} <= {   # type: ignore[union-attr]
                read.image.sha256 for read in kept["u4"].reads   # type: ignore[union-attr]
            }
        again = import_bag(survivor, str(tmp_path / "bag"), clock.session())
        finished.add(again.taken[0].what)
        reads = {read.image.sha256 for read in records(survivor)["u4"].reads}   # type: ignore[union-attr]
        assert len(reads) == {"added": 1, "extended": 2, "merged": 3}[case]
        assert judge(survivor.root) == [], life
        assert list(survivor.staging.iterdir()) == []
        shutil.rmtree(place)
    assert {case, "unchanged"} <= finished | {case}
    assert "unchanged" in finished


# --- the property ---------------------------------------------------------------------------------------------------

IDS = st.from_regex(r"[a-z0-9]([a-z0-9._-]{0,8}[a-z0-9_-])?", fullmatch=True).filter(
    lambda text: text.partition(".")[0] not in ("con", "prn", "aux", "nul")
)
TEXTS = st.none() | st.text(st.characters(codec="utf-8"), max_size=20)
CARRIERS = st.dictionaries(
    IDS, st.tuples(TEXTS, st.lists(st.binary(min_size=1, max_size=64), max_size=3), st.booleans()), max_size=4
)


@settings(max_examples=40)
@given(CARRIERS, st.sampled_from(FORMS))
def test_any_archive_comes_back_whole(
    tmp_path_factory: pytest.TempPathFactory,
    carriers: dict[str, tuple[str | None, list[bytes], bool]],
    form: Form,
) -> None:
    clock = Clock()
    place = tmp_path_factory.mktemp("any")
    ours = found(place / "harbour", clock)
    for carrier, (label, reads, settle) in carriers.items():
        keeping.add_carrier(ours, carrier, "eprom", clock.session(), label=label)
        for data in reads:
            keep(ours, carrier, data, clock)
        if reads and settle:
            agree(ours, carrier, clock.session())
    export(ours, str(place / "bag"), clock.session(), to=form)
    other = found(place / "museum", clock)
    import_bag(other, str(place / "bag"), clock.session())
    assert other.ids() == ours.ids()
    assert records(other) == records(ours)
    assert tree(other.root) == tree(ours.root)
