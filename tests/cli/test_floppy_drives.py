"""The command floppy drives: one screen, one document, exit codes."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from imagekeeper.drives import DriveMatch
from imagekeeper.jobs.disks import matching_drives
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jsonable import schema_of
from imagekeeper.tables.floppy import format_rows
from tests.conftest import Ran

Cli = Callable[..., Ran]


def test_360k_fits_a_screen_and_begins_with_the_answer(cli: Cli) -> None:
    ran = cli("floppy", "drives", "360K")
    lines = ran.out.splitlines()
    assert (ran.code, ran.err) == (0, "")
    assert lines[0] == "Write it in a drive of class 5.25-48tpi (5.25-inch, 48 tpi, 40 tracks, two sides)."
    assert len(lines) <= 24
    rows = {line.split()[0]: line.split() for line in lines if line.startswith("  5.25-")}
    assert rows["5.25-48tpi"][1:6] == ["yes", "yes", "250", "300", "single"]
    assert rows["5.25-96tpi-hd-360"][1:7] == ["with", "care", "yes", "300", "360", "double"]
    assert any(line.startswith("  caution: On a blank disk") for line in lines)
    assert any(line.startswith("  3.5-dd  250 kbit/s") for line in lines)


@pytest.mark.parametrize("name", list(format_rows()))
def test_every_format_is_answered_in_both_lengths(cli: Cli, name: str) -> None:
    short, full = cli("floppy", "drives", name), cli("floppy", "drives", name, "--full")
    assert (short.code, full.code, short.err, full.err) == (0, 0, "", "")
    assert len(short.out.splitlines()) <= 26
    assert max(map(len, (short.out + full.out).splitlines())) <= 100
    assert short.out.startswith("Write it")
    assert "None" not in short.out + full.out
    assert full.out.splitlines()[0] == short.out.splitlines()[0]
    assert len(full.out) > len(short.out)


def test_full_has_settings_wires_cautions_with_reasons_and_sources(cli: Cli) -> None:
    out = cli("floppy", "drives", "8-77x1x26x128-fm", "--full").out
    for text in ("  because: ", "  14  32  side select", "disputed: line 14", "  adapt: power: +5 V, +12 V in place of",
                 "fm-controller: (From memory.)", "Common practice, no source", "  not solved: ", "sources\n",
                 "Western Digital, FD 179X-02", "qualified people"):  # fmt: skip
        assert text in out, text


def test_as_json_everything_is_there(cli: Cli) -> None:
    ran = cli("floppy", "drives", "360K", "--json")
    assert ran.code == 0
    assert list(ran.json) == schema_of(DriveMatch)["required"]
    assert (ran.json["schema"], ran.json["format"], ran.json["other_formats"]) == (
        "drive-match/1", "5.25-40x2x9x512", [],
    )  # fmt: skip
    assert len(ran.json["drives"]) >= 13
    care = next(one for one in ran.json["drives"] if one["drive"] == "5.25-96tpi-hd-360")
    assert (care["can_read"], care["can_write"]) == ("yes", "with-care")
    assert {"data_rate": 300_000, "step": "double", "media": "5.25-dd"}.items() <= care["settings"].items()
    assert {"kb-q79538"} <= set(care["sources"]) <= {one["id"] for one in ran.json["sources"]}
    assert ran.json["substitutes"][0]["instead_of"] == "5.25-48tpi"


def test_an_image_is_solved_first(cli: Cli, tmp_path: Path) -> None:
    """Its size alone leaves several disks: the likeliest is answered for, and the others are named."""
    (tmp_path / "quillmere.img").write_bytes(bytes(737_280))
    ran = cli("floppy", "drives", "quillmere.img", "--json")
    assert ran.code == 0
    assert {ran.json["format"], *ran.json["other_formats"]} >= {"3.5-80x2x9x512", "5.25-80x2x9x512"}
    assert "may as well be of" in cli("floppy", "drives", "quillmere.img").out


def test_standard_input_is_an_image(cli: Cli) -> None:
    ran = cli("floppy", "drives", "-", "--json", stdin=bytes(1_474_560))
    assert (ran.code, ran.json["format"]) == (0, "3.5-80x2x18x512")


def test_a_file_of_no_format(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "short.img").write_bytes(bytes(7))
    ran = cli("floppy", "drives", "short.img", "--json")
    assert (ran.code, ran.json["code"]) == (5, "format-unknown")
    assert "floppy solve" in ran.json["hint"]


def test_no_such_format_or_file(cli: Cli) -> None:
    ran = cli("floppy", "drives", "quillmere/lost.img", "--json")
    assert (ran.code, ran.json["code"]) == (5, "format-unknown")
    assert "no such file" in ran.json["why"]
    other = cli("floppy", "drives", "361K")
    assert other.code == 5
    assert "no such file" not in other.err
    assert "next:" in other.err


def test_an_empty_file_and_a_folder(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "empty.img").write_bytes(b"")
    assert cli("floppy", "drives", "empty.img", "--json").json["code"] == "empty"
    assert cli("floppy", "drives", ".", "--json").json["code"] == "directory"


def test_a_file_named_like_a_format_goes_first(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "360K").write_bytes(bytes(1_474_560))
    assert cli("floppy", "drives", "360K", "--json").json["format"] == "3.5-80x2x18x512"


def test_without_standard_input_it_is_refused() -> None:
    with pytest.raises(Exception, match="standard input") as caught:
        matching_drives.drives_for("-", Options())
    assert getattr(caught.value, "exit_code", None) == 2


def test_nothing_slow_is_loaded_for_a_named_format() -> None:
    """The answer must come at once: under 150 ms, which needs that none of these is loaded."""
    probe = (
        "import sys\nfrom imagekeeper.cli import run\ncode = run(['floppy', 'drives', '360K'])\n"
        "print(code, [name for name in ('numpy', 'tqdm', 'sqlite3') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "0 []"
