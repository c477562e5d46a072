"""A path, bytes and an image are one and the same to the door; what holds a file lets it go."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import FrozenInstanceError
from pathlib import Path
from typing import Any

import pytest

import imagekeeper
from imagekeeper.jobs.carriers.showing import show_carrier
from imagekeeper.jsonable import to_json

#: The same image in every form in which it can be given.
FORMS: dict[str, Callable[[str], Any]] = {
    "str": lambda name: name,
    "Path": Path,
    "bytes": lambda name: Path(name).read_bytes(),
    "bytearray": lambda name: bytearray(Path(name).read_bytes()),
    "memoryview": lambda name: memoryview(Path(name).read_bytes()),
    "Image": imagekeeper.read,
}

#: What is done to it, and what of the result must not depend on the form.
USES: dict[str, Callable[[Any], Any]] = {
    "read": lambda one: imagekeeper.read(one).tobytes(),
    "encode": lambda one: imagekeeper.encode(one, "s-record"),
    "fingerprint": lambda one: imagekeeper.fingerprint(one).sha256,
    "compare": lambda one: imagekeeper.compare(one, "u4-first.bin").agree,
    "vote": lambda one: imagekeeper.vote(one, "u4-first.bin", b"?" * 16384).sha256,
    "vote_image": lambda one: imagekeeper.vote_image(one, "u4-first.bin", b"?" * 16384).tobytes(),
    "inspect": lambda one: imagekeeper.inspect(one, chip="27128").entropy,
    "selfcheck": lambda one: imagekeeper.selfcheck(one).conclusion,
    "hexdump": lambda one: imagekeeper.hexdump(one, length=32).rows,
    "hexdump against": lambda one: imagekeeper.hexdump("u4-first.bin", against=one).differ,
    "convert": lambda one: imagekeeper.convert(one, "out.hex", force=True).sha256,
    "plan_chip": lambda one: imagekeeper.plan_chip(one, "burn.hex", "27128", force=True).after,
    "solve": lambda one: to_json(imagekeeper.solve(one).candidates),
}


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("use", USES)
def test_every_form_gives_the_same(folder: Path, use: str, form: str) -> None:
    assert USES[use](FORMS[form]("u4-second.hex")) == USES[use]("u4-second.hex")


@pytest.mark.parametrize("form", FORMS)
def test_a_disk_may_be_given_in_every_form(folder: Path, form: str) -> None:
    with imagekeeper.open_disk(FORMS[form]("office.img")) as disk:
        assert disk.read("STATION.TXT") == b"Quillmere TG-85, station 07, outer mole\r\n"[:41]
    assert imagekeeper.match_drives(FORMS[form]("office.img")).format == "5.25-40x2x9x512"
    plan = imagekeeper.plan_disk(FORMS[form]("office.img"), "write.img", "5.25-48tpi", force=True)
    assert (plan.format_from, Path("write.img").read_bytes()) == ("content", Path("office.img").read_bytes())


def test_what_was_read_outlives_its_file(folder: Path) -> None:
    image = imagekeeper.read("disk-first.img")
    before = imagekeeper.fingerprint(image).sha256
    Path("disk-first.img").unlink()
    assert imagekeeper.fingerprint(image).sha256 == before


@pytest.mark.skipif(not os.path.isdir("/proc/self/fd"), reason="only where open files can be counted")
def test_an_open_image_stays_in_its_file_and_lets_it_go(folder: Path) -> None:
    def open_files() -> int:
        return len(os.listdir("/proc/self/fd"))

    before = open_files()
    with imagekeeper.open_image("disk-first.img") as image:
        assert open_files() == before + 1
        assert not isinstance(image.segments[0].data, bytes)
        assert imagekeeper.fingerprint(image).size_bytes == 737_280
    with imagekeeper.open_disk("office.img") as disk:
        assert open_files() == before + 1
        assert disk.entries
    assert open_files() == before


def test_bytes_are_content_and_a_dash_is_a_file(folder: Path) -> None:
    assert imagekeeper.read(b"u4-first.bin").tobytes() == b"u4-first.bin"
    Path("-").write_bytes(b"TIDE")
    assert imagekeeper.read("-").tobytes() == b"TIDE"
    assert imagekeeper.convert(b"GAUGE", "-", force=True).output == "./-"
    assert Path("-").read_bytes() == b"GAUGE"


def test_what_is_in_memory_is_named_by_its_place(folder: Path) -> None:
    result = imagekeeper.compare(b"TIDE", "u4-first.bin", b"TIDE")
    assert [read.name for read in result.reads] == ["image 1", "u4-first.bin", "image 3"]


def test_no_output_replaces_an_input(folder: Path) -> None:
    before = Path("u4-first.bin").read_bytes()
    with pytest.raises(imagekeeper.UsageError, match="one of the inputs") as told:
        imagekeeper.convert(Path("u4-first.bin"), "./u4-first.bin", force=True, invert=True)
    assert told.value.code == "exists"
    assert Path("u4-first.bin").read_bytes() == before


def test_a_vote_without_output_writes_nothing(folder: Path) -> None:
    before = sorted(Path().iterdir())
    result = imagekeeper.vote("u5-first.bin", "u5-second.bin", "u5-third.bin")
    assert (result.output, result.container, result.disputed.addresses) == (None, None, 331)
    assert sorted(Path().iterdir()) == before


@pytest.mark.parametrize(
    ("ties", "at_2"), [("gap", None), ("first", ord("D")), (0x55, 0x55)]
)  # fmt: skip
def test_ties_of_a_vote(ties: Any, at_2: int | None) -> None:
    image = imagekeeper.vote_image(b"TIDE", b"TILE", b"TIFE", ties=ties)
    assert [one.start for one in image.gaps] == ([2] if at_2 is None else [])
    if at_2 is not None:
        assert image.tobytes()[2] == at_2


def test_results_are_frozen(folder: Path) -> None:
    result = imagekeeper.compare("u4-first.bin", "u4-second.hex")
    with pytest.raises(FrozenInstanceError):
        result.agree = False   # type: ignore[misc]


def test_a_map_of_differences_is_drawn_where_it_was_counted(folder: Path) -> None:
    result = imagekeeper.compare("u5-first.bin", "u5-second.bin", mapped=True)
    assert imagekeeper.svg(result).startswith("<svg ")
    with pytest.raises(TypeError, match="mapped=True"):
        imagekeeper.svg(imagekeeper.compare("u5-first.bin", "u5-second.bin"))


def test_files_come_off_a_disk_by_name_and_by_entry(folder: Path) -> None:
    with imagekeeper.open_disk("office.img") as disk:
        (march,) = [one for one in disk.entries if one.name.startswith("MARCH")]
        assert disk.read(march) == disk.read("survey/march.txt")
        assert len(disk.read(march)) == 1500
        result = disk.extract(folder / "out", "*.TXT")
        assert {one.written for one in result.files} == {"STATION.TXT", "SURVEY/MARCH.TXT"}
        with pytest.raises(imagekeeper.NotFoundError, match="it is a directory"):
            disk.read("SURVEY")
        with pytest.raises(imagekeeper.NotFoundError, match="0 files have it"):
            disk.read("NOTHING.TXT")
        assert disk.listing.volumes == disk.volumes


def test_an_archive_is_walked(folder: Path) -> None:
    archive = imagekeeper.Archive.create(folder / "harbour", title="Harbour office", operator="Ann")
    archive.add_machine("tg85", "Quillmere TG-85", maker="Quillmere")
    archive.add_carrier("tg85-u5", "eprom", part="27128", machine="tg85")
    archive.add_carrier("tg85-disk", "floppy", machine="tg85")
    archive.add_reads("tg85-u5", "u5-first.bin", reader="reader 1", vcc="5.0", notes=("pins cleaned",))
    archive.add_reads("tg85-u5", folder / "u5-second.bin", "u5-third.bin", reader="reader 2", operator="Ben")
    archive.add_reads("tg85-disk", "office.img")
    archive.add_note("tg85-u5", "U5 sits loose")
    assert archive.agree("tg85-u5").agreed.grade == "disputed"
    settled = archive.agree("tg85-u5", by_vote="byte")
    assert settled.agreed.voted_by == "byte"
    again = imagekeeper.Archive(folder / "harbour")
    assert (again.title, again.uuid, "tg85-u5" in again, "tg85-u6" in again) == (
        "Harbour office", archive.uuid, True, False
    )  # fmt: skip
    walked = {carrier.id: carrier for carrier in again.carriers()}
    assert list(walked) == ["tg85-disk", "tg85-u5"]
    chip = walked["tg85-u5"]
    assert [(read.id, read.reader, read.operator) for read in chip.reads] == [
        ("r1", "reader 1", "Ann"), ("r2", "reader 2", "Ben"), ("r3", "reader 2", "Ben")
    ]  # fmt: skip
    assert [note.text for note in chip.notes] == ["U5 sits loose"]
    assert chip.events[0].type == "accession"
    assert [one.id for one in again.carriers(kind="floppy")] == ["tg85-disk"]
    contents = again.carrier("tg85-disk").contents
    assert contents is not None
    assert contents == show_carrier(again._store, "tg85-disk").contents
    assert again.image("tg85-u5").tobytes() == Path("u5-first.bin").read_bytes()
    with again.open_image("tg85-u5", "r2") as image:
        assert image.tobytes() == Path("u5-second.bin").read_bytes()
    assert [one.carriers for one in again.machines()] == [("tg85-disk", "tg85-u5")]
    assert again.machine("tg85").maker == "Quillmere"
    assert [hit.id for hit in again.search("loose").hits] == ["tg85-u5"]
    assert again.search_image("u5-third.bin").images[0].relation == "same"
    audit = again.audit(rebuild_derived=True)
    assert (audit.ok, audit.carriers, audit.rebuilt is not None and audit.rebuilt.made) == (True, 3, 1)
    assert again.audit("tg85-disk").scope == "carriers"


def test_the_bench_of_an_archive_is_asked_only_where_it_is_named(folder: Path) -> None:
    archive = imagekeeper.Archive.create("harbour", title="Harbour office")
    assert archive.bench is None
    (archive.path / "bench.toml").write_text('[[drive]]\nname = "grey box"\nclass = "5.25-48tpi"\n')
    os.chdir(archive.path)   # the command would find this archive by itself; a program says what it means
    assert imagekeeper.match_drives("360K").bench is None
    for given in (archive, archive.path, str(archive.path)):
        bench = imagekeeper.match_drives("360K", archive=given).bench
        assert bench is not None
        assert [own.name for own in bench.drives] == ["grey box"]
    plan = imagekeeper.plan_disk("../office.img", "../write.img", "grey box", archive=archive)
    assert plan.drive == "grey box"
