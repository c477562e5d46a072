"""Reports as folders: what is written, what is replaced, what is never touched, and what damage does."""

from __future__ import annotations

import io
import json
import shutil
import sys
from pathlib import Path

import pytest
from PIL import Image

from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import NotFoundError, UsageError
from imagekeeper.jobs.pages.reporting import Report, write_report
from imagekeeper.jobs.pages.thumbnails import EMBEDDED_BYTES, SIDE, data_uri
from imagekeeper.present.html.pages import render
from tests.present import collection
from tests.present.test_pages import sound


@pytest.fixture(autouse=True)
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("IMAGEKEEPER_CACHE", str(tmp_path / "cache"))


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("kept")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("IMAGEKEEPER_CACHE", str(folder / "cache"))
        collection.build(folder)
    return folder / "harbour"


@pytest.fixture
def archive(kept: Path, tmp_path: Path) -> ArchiveStore:
    shutil.copytree(kept, tmp_path / "harbour")
    return ArchiveStore.open(tmp_path / "harbour")


def report(archive: ArchiveStore, folder: Path, **options: object) -> Report:
    return write_report(archive, str(folder), collection.session(), render=render, **options)   # type: ignore[arg-type]


def contents(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_a_report_has_an_index_and_a_page_for_each_machine_and_carrier(archive: ArchiveStore, tmp_path: Path) -> None:
    result = report(archive, tmp_path / "pages")
    files = contents(tmp_path / "pages")
    assert result.pages[0].path == "index.html"
    assert {page.path for page in result.pages} | set(result.photos) | {"report.json"} == set(files)
    assert {page.id for page in result.pages if page.what == "machine"} == {collection.MACHINE, collection.HOSTILE}
    assert {page.id: page.grade for page in result.pages if page.what == "carrier"}["tg85-u5"] == "disputed"
    for page in result.pages:
        text = files[page.path].decode()
        read = sound(text)
        for link in read.all("a"):   # every link leads to a file of the report
            target = (link["href"] or "").partition("#")[0]
            assert target == "" or ((tmp_path / "pages" / page.path).parent / target).is_file(), (page.path, target)
    assert (result.damaged, result.exit_code) == ((), 0)


def test_the_same_archive_at_the_same_time_gives_the_same_bytes(archive: ArchiveStore, tmp_path: Path) -> None:
    report(archive, tmp_path / "a")
    report(archive, tmp_path / "b")
    assert contents(tmp_path / "a") == contents(tmp_path / "b")


def test_only_what_was_asked_for(archive: ArchiveStore, tmp_path: Path) -> None:
    one = report(archive, tmp_path / "one", ids=["tg85-u4"])
    assert [page.path for page in one.pages] == ["index.html", "carriers/tg85-u4.html", "machines/tg85.html"]
    by_name = report(archive, tmp_path / "name", machine="quillmere")
    by_id = report(archive, tmp_path / "id", machine="TG85")
    assert by_name.pages == by_id.pages
    assert "hostile" not in {page.id for page in by_name.pages}
    assert len(by_name.pages) == 9
    with pytest.raises(NotFoundError) as missing:
        report(archive, tmp_path / "none", ids=["tg85-u99"])
    assert missing.value.code == "carrier-missing"
    with pytest.raises(NotFoundError) as unknown:
        report(archive, tmp_path / "none", machine="Pinnell")
    assert unknown.value.code == "machine-missing"
    assert not (tmp_path / "none").exists()


def test_a_machine_is_no_carrier(archive: ArchiveStore, tmp_path: Path) -> None:
    with pytest.raises(NotFoundError) as missing:
        report(archive, tmp_path / "none", ids=["tg85"])
    assert missing.value.code == "carrier-missing"


# --- the folder ------------------------------------------------------------------------------------------------------


def test_a_report_goes_only_where_nothing_is_lost(archive: ArchiveStore, tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / "letter.txt").write_text("dear harbour office")
    for force in (False, True):
        with pytest.raises(UsageError) as taken:
            report(archive, folder, force=force)
        assert taken.value.code == "exists"
    assert contents(folder) == {"letter.txt": b"dear harbour office"}
    with pytest.raises(UsageError) as inside:
        report(archive, archive.path / "pages")
    assert inside.value.code == "usage"
    assert not (archive.path / "pages").exists()


def test_an_earlier_report_is_replaced_on_request_and_other_files_stay(archive: ArchiveStore, tmp_path: Path) -> None:
    folder = tmp_path / "pages"
    report(archive, folder)
    (folder / "letter.txt").write_text("mine")
    (folder / "carriers" / "mine.html").write_text("mine")
    with pytest.raises(UsageError) as taken:
        report(archive, folder)
    assert (taken.value.code, "is to be replaced" in taken.value.hint) == ("exists", True)
    report(archive, folder, ids=["tg85-u4"], force=True)
    assert set(contents(folder)) == {
        "index.html", "report.json", "carriers/tg85-u4.html", "carriers/mine.html", "letter.txt", "machines/tg85.html",
        "photos/tg85-u4-1.png", "photos/tg85-1.png",
    }  # fmt: skip
    assert (folder / "carriers" / "mine.html").read_text() == "mine"


def test_a_list_that_was_tampered_with_reaches_nothing_outside(archive: ArchiveStore, tmp_path: Path) -> None:
    folder, outside = tmp_path / "pages", tmp_path / "outside.html"
    outside.write_text("precious")
    report(archive, folder, ids=["tg85-u4"])
    mark = json.loads((folder / "report.json").read_text())
    names = ["../outside.html", str(outside), 7, "carriers/../../outside.html"]
    mark["files"] += [*({"path": name} for name in names), "x"]
    (folder / "report.json").write_text(json.dumps(mark))
    report(archive, folder, ids=["tg85-u5"], force=True)
    assert outside.read_text() == "precious"
    assert not (folder / "carriers" / "tg85-u4.html").exists()


def test_a_file_that_no_report_wrote_is_not_replaced(archive: ArchiveStore, tmp_path: Path) -> None:
    folder = tmp_path / "pages"
    report(archive, folder, ids=["tg85-u4"])
    (folder / "carriers" / "tg85-u5.html").write_text("my own words about U5")
    with pytest.raises(UsageError) as taken:
        report(archive, folder, force=True)
    assert taken.value.code == "exists"
    assert (folder / "carriers" / "tg85-u5.html").read_text() == "my own words about U5"
    (folder / "carriers" / "tg85-u5.html").unlink()
    assert report(archive, folder, force=True).exit_code == 0   # what was interrupted can be made again


# --- damage ----------------------------------------------------------------------------------------------------------


def test_damage_is_said_on_a_page_and_stops_nothing(archive: ArchiveStore, tmp_path: Path) -> None:
    archive.content_path("tg85-u9", "carrier.json").write_bytes(b"{}")
    archive.content_path("tg85-u4", "reads/r1/read.json")
    image = archive.content_path("tg85-u17", "agreed.bin")
    image.write_bytes(image.read_bytes()[:-1] + b"\x55")
    (archive.object_path("tg85-disk") / "inventory.json").write_bytes(b"{")
    result = report(archive, tmp_path / "pages")
    assert result.damaged == ("tg85-disk", "tg85-u17", "tg85-u9")
    assert result.exit_code == 4
    record = sound((tmp_path / "pages" / "carriers" / "tg85-u9.html").read_text("utf-8"))
    assert "The record of this carrier is damaged." in record.text
    assert "carrier.json" in record.text
    file = sound((tmp_path / "pages" / "carriers" / "tg85-u17.html").read_text("utf-8"))
    assert "not what was kept. Restore from another copy" in file.text
    inventory = sound((tmp_path / "pages" / "carriers" / "tg85-disk.html").read_text("utf-8"))
    assert "the inventory is damaged" in inventory.text
    index = sound((tmp_path / "pages" / "index.html").read_text("utf-8"))
    assert index.text.count("unreadable") >= 2


def test_a_damaged_machine_keeps_its_page(archive: ArchiveStore, tmp_path: Path) -> None:
    archive.content_path("tg85", "machine.json").write_bytes(b"[]")
    result = report(archive, tmp_path / "pages")
    assert "tg85" in result.damaged
    page = sound((tmp_path / "pages" / "machines" / "tg85.html").read_text("utf-8"))
    assert "The record of this machine is damaged." in page.text


# --- pictures --------------------------------------------------------------------------------------------------------


def large_photograph() -> bytes:
    """Noise, which no coding makes small, turned on its side by the camera (EXIF orientation 6: from memory)."""
    import numpy as np

    noise = np.random.default_rng(1).integers(0, 255, (900, 1800, 3), np.uint8)
    exif = Image.Exif()
    exif[0x0112] = 6
    exif[0x010F] = "a camera that tells all"
    out = io.BytesIO()
    Image.fromarray(noise).save(out, "JPEG", quality=95, exif=exif)
    return out.getvalue()


def test_a_large_photograph_is_made_small_upright_and_silent_about_the_camera() -> None:
    import base64

    data = large_photograph()
    assert len(data) > EMBEDDED_BYTES
    uri = data_uri(data)
    assert uri is not None
    small = base64.b64decode(uri.partition(",")[2])
    assert b"tells all" in data
    assert b"tells all" not in small
    with Image.open(io.BytesIO(small)) as picture:
        assert picture.height == SIDE
        assert picture.width < picture.height


def test_without_the_library_a_large_photograph_lies_beside_the_page(monkeypatch: pytest.MonkeyPatch) -> None:
    data = large_photograph()
    monkeypatch.setitem(sys.modules, "PIL", None)
    assert data_uri(data) is None
    assert (data_uri(collection.photograph(8, 8)) or "").startswith("data:image/png;base64,")


@pytest.mark.parametrize(
    "data", [b"", b"<svg onload='x'/>", b"\xff\xd8\xff" + bytes(EMBEDDED_BYTES), b"MM\0*" + bytes(99)]
)
def test_what_cannot_be_shown_is_not_shown(data: bytes) -> None:
    assert data_uri(data) is None
