"""The commands report and label: for people and for programs, and what they load."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.test_bad_input import check_document
from tests.conftest import Ran
from tests.present import collection

Cli = Callable[..., Ran]


@pytest.fixture
def archive(cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "work"
    folder.mkdir()
    collection.build(folder)
    monkeypatch.setenv("IMAGEKEEPER_ARCHIVE", str(folder / "harbour"))
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1772452800")
    return folder / "harbour"


def test_report_tells_where_to_look(cli: Cli, archive: Path, tmp_path: Path) -> None:
    ran = cli("report", "-o", "pages")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.splitlines() == [
        "Pages about 8 carriers and 2 machines, with 3 pictures, are in pages.", "  open: pages/index.html",
    ]  # fmt: skip
    assert "2026-03-02 12:00 UTC" in (tmp_path / "pages" / "index.html").read_text("utf-8")


def test_report_is_one_document_for_programs(cli: Cli, archive: Path) -> None:
    document = check_document(cli("report", "-o", "pages", "tg85-u4", "--json").out)
    assert document["schema"] == "report/1"
    assert [page["path"] for page in document["pages"]] == ["index.html", "carriers/tg85-u4.html", "machines/tg85.html"]
    assert document["made"] == "2026-03-02T12:00:00Z"
    again = cli("report", "-o", "pages", "--json")
    assert (again.code, check_document(again.out)["code"]) == (2, "exists")
    assert cli("report", "-o", "pages", "--force").code == 0


def test_report_of_a_damaged_archive_goes_on_and_says_so(cli: Cli, archive: Path, tmp_path: Path) -> None:
    record = next((archive / "carriers" / "tg85-u9").rglob("carrier.json"))
    record.write_bytes(b"{}")
    ran = cli("report", "-o", "pages")
    assert ran.code == 4
    assert "damaged in the archive: tg85-u9" in ran.out
    assert (tmp_path / "pages" / "carriers" / "tg85-u9.html").exists()


@pytest.mark.parametrize(
    ("arguments", "code", "error"),
    [
        (["report", "-o", "pages", "tg85-u99"], 5, "carrier-missing"),
        (["report", "-o", "pages", "--machine", "Pinnell"], 5, "machine-missing"),
        (["report", "-o", ""], 2, "usage"),
        (["report"], 2, "usage"),
        (["report", "-o", "work/u4-first.bin"], 2, "exists"),
        (["label", "tg85-u99", "-o", "l.html"], 5, "carrier-missing"),
        (["label", "tg85", "-o", "l.html"], 5, "carrier-missing"),
        (["label", "tg85-u4", "-o", "l.html", "--size", "huge"], 2, "usage"),
        (["label", "-o", "l.html"], 2, "usage"),
        (["label", "tg85-u4", "-o", "nowhere/l.html"], 2, "cannot-write"),
    ],
)
def test_wrong_requests(cli: Cli, archive: Path, arguments: list[str], code: int, error: str) -> None:
    ran = cli(*arguments, "--json")
    assert (ran.code, check_document(ran.out)["code"]) == (code, error)


def test_label_tells_what_had_no_room(cli: Cli, archive: Path, tmp_path: Path) -> None:
    ran = cli("label", "tg85-u4", "tg85-u5", "-o", "l.html")
    assert ran.code == 0
    assert ran.out.splitlines() == [
        "2 labels on 1 sheet of a4 in l.html: print it at 100 %.",
        "  tg85-u4: 28 x 11 mm",
        "    no room for: corroborated, 2026-03-02",
        "  tg85-u5: 28 x 11 mm",
        "    no agreed image, so no sums: imagekeeper carrier show tg85-u5 tells the next step",
    ]
    small = check_document(cli("label", "tg85-u4", "-o", "s.html", "--size", "14x5", "--paper", "letter", "--json").out)
    assert (small["schema"], small["labels"][0]["qr"], small["paper"]) == ("labels/1", False, "letter")
    assert small["labels"][0]["lines"][0] == "tg85-u4"


def test_other_commands_do_not_load_the_templates(tmp_path: Path) -> None:
    probe = (
        "import sys\nfrom imagekeeper.cli import run\n"
        "assert run(['chip', 'show', '27128']) == 0\n"
        "assert run(['report', '--help']) == 0 and run(['label', '--help']) == 0\n"
        "print('loaded:', *[name for name in ('jinja2', 'segno', 'PIL', 'sqlite3', 'numpy') if name in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True, cwd=tmp_path)
    loaded = done.stdout.splitlines()[-1].split()[1:]
    assert not {"jinja2", "segno", "PIL"} & set(loaded)
