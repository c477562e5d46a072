"""The scripts of docs/examples do what they say, and leave no file open (-X dev, with warnings as errors)."""

from __future__ import annotations

import csv
import os
import subprocess
import sys
from pathlib import Path

import imagekeeper
from imagekeeper.jobs import specimen

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"


def run(script: str, *arguments: str, code: int = 0) -> list[str]:
    """Run a script in the current folder; what it says on the error stream is no warning."""
    done = subprocess.run(
        [sys.executable, "-X", "dev", "-W", "error", EXAMPLES / f"{script}.py", *arguments],
        capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONPATH": str(EXAMPLES.parents[1]), "PYTHONIOENCODING": "utf-8"},
    )  # fmt: skip
    assert done.returncode == code, done.stdout + done.stderr
    for bad in ("ResourceWarning", "Exception ignored", "Traceback", "Warning:"):
        assert bad not in done.stderr
    return (done.stdout + done.stderr).splitlines()


def test_reads_of_a_folder_are_compared_by_pairs(folder: Path) -> None:
    told = run("compare_reads", ".", "u5-*")
    assert told[0] == "u5-first.bin and u5-second.bin: differ in 331 bytes"
    assert "D3" in told[1]
    assert "u5-first.bin and u5-third.bin: agree" in told


def test_a_vote_is_written_as_intel_hex(folder: Path) -> None:
    told = run("vote_reads", "u5.hex", "u5-first.bin", "u5-second.bin", "u5-third.bin")
    assert told[0] == "331 of 16384 bytes were disputed, 0 stay so"
    image = imagekeeper.read("u5.hex")
    assert (image.container, image.tobytes()) == ("intel-hex", Path("u5-first.bin").read_bytes())


def test_fingerprints_of_a_tree_are_csv(folder: Path) -> None:
    told = run("list_fingerprints", ".")
    assert any(line.startswith("u30-first.s19, line 41: ") for line in told)
    rows = {row[0]: row for row in csv.reader(line for line in told if line.count(",") == 4)}
    assert rows["u4-first.bin"][1:4] == ["raw", "16384", "461D7DAF"]
    assert rows["u4-second.hex"][2:] == rows["u4-first.bin"][2:]


def test_types_that_fit_a_dump_and_what_serves_instead(folder: Path) -> None:
    told = run("which_chip", "u4-first.bin", "27128")
    assert told[0].startswith("16384 bytes fill: ")
    assert "27C128" in told[0]
    assert "  27C256: image-placed, cmos-eprom" in told


def test_a_file_is_taken_off_a_disk(folder: Path) -> None:
    told = run("look_into_disk", "office.img", "STATION.TXT")
    assert told[0].startswith("office.img is 40x2x9x512, mfm")
    assert Path("STATION.TXT").stat().st_size == 41
    assert told[-1] == "saved: STATION.TXT, 41 bytes"


def test_my_own_drives_are_asked(folder: Path) -> None:
    archive = imagekeeper.Archive.create("harbour", title="Harbour office")
    (archive.path / "bench.toml").write_text('[[drive]]\nname = "grey box"\nclass = "5.25-96tpi-dd"\n')
    told = run("which_drive", "720K 5.25", "harbour")
    assert "grey box: reads it: yes, writes it: yes" in told


def test_a_carrier_is_kept_and_graded(folder: Path) -> None:
    told = run("keep_carrier", "harbour", "u4-first.bin", "u4-second.hex")
    assert told[0] == "tg85-u4 is independent"
    assert told[2].startswith("next: ")
    record = imagekeeper.Archive("harbour").carrier("tg85-u4")
    assert [read.operator for read in record.reads] == ["Ann", "Ann"]


def test_what_is_not_independent_is_reported(folder: Path) -> None:
    archive = imagekeeper.Archive.create("harbour", title="Harbour office")
    archive.add_carrier("tg85-u5", "eprom")
    archive.add_reads("tg85-u5", "u5-first.bin", "u5-second.bin")
    archive.agree("tg85-u5")
    assert run("not_independent", "harbour", code=1) == ["tg85-u5: disputed, 2 reads, last event: validation"]


def test_an_archive_is_verified_by_exit_code(folder: Path) -> None:
    archive = imagekeeper.Archive.create("harbour", title="Harbour office")
    archive.add_carrier("tg85-u4", "eprom")
    archive.add_reads("tg85-u4", "u4-first.bin")
    assert run("verify_archive", "harbour")[-1].endswith(", all well")
    (kept,) = archive.path.rglob("u4-first.bin")
    kept.chmod(0o644)
    kept.write_bytes(kept.read_bytes()[:-1] + b"?")
    told = run("verify_archive", "harbour", code=4)
    assert "u4-first.bin: " in told[0]
    assert told[-1].endswith(", not well")
    assert run("verify_archive", "nothing", code=5)[1].startswith("next: ")


def test_a_chip_is_planned_with_its_sheet(folder: Path) -> None:
    told = run("burn_sheet", "u4-first.bin", "27C256", "27128")
    assert told[0].startswith("u4-burn.hex for a 27C256: sum ")
    assert imagekeeper.read("u4-burn.hex").size_bytes == 32768
    page = Path("u4-sheet.html").read_text("utf-8")
    assert "27C256" in page
    assert "<script" not in page


def test_bytes_alone_are_enough(folder: Path) -> None:
    told = run("in_memory")
    assert told[:2] == ["False ['0123']", "True"]
    assert told[2] == "S0030000FC"


def test_no_script_needs_a_deep_import_and_each_is_tested() -> None:
    here = Path(__file__).read_text("utf-8")
    for script in sorted(EXAMPLES.glob("*.py")):
        text = script.read_text("utf-8")
        assert "\nimport imagekeeper\n" in text
        assert "imagekeeper." not in "".join(line for line in text.splitlines() if "import" in line)
        assert f'run("{script.stem}"' in here
    assert len(list(EXAMPLES.glob("*.py"))) == 11
    assert specimen.files()   # what the scripts work on
