"""The layers of pyproject.toml hold, and the check can fail."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).parent.parent

LINT = [sys.executable, "-c", "from importlinter.cli import lint_imports_command; lint_imports_command()", "--no-cache"]


def test_every_import_goes_down() -> None:
    """The contracts of pyproject.toml are kept."""
    done = subprocess.run(LINT, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "5 kept, 0 broken" in done.stdout


def test_the_pure_layers_are_all_from_planning_down() -> None:
    """A room that is added to the layers is also held to bytes in, values out."""
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["importlinter"]["contracts"]
    layers = contracts[0]["layers"]
    below = {name for layer in layers[layers.index("planning"):] for name in re.findall(r"\w+", layer)}
    (pure,) = (one for one in contracts if one["name"].startswith("From planning down"))
    assert {name.removeprefix("imagekeeper.") for name in pure["source_modules"]} == below


def test_a_stray_import_is_caught(tmp_path: Path) -> None:
    """A copy of the package breaks each of its contracts.

    A pure module imports sqlite3, a rendering opens files, a job imports a command, the archive's layout its
    exchange, and two modules of one room import each other.
    """
    import shutil

    shutil.copytree(ROOT / "imagekeeper", tmp_path / "imagekeeper")
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    module = tmp_path / "imagekeeper" / "fingerprints.py"
    module.write_text("import sqlite3\n" + module.read_text().replace("from __future__ import annotations\n", ""))
    drawing = tmp_path / "imagekeeper" / "present" / "svg" / "shapes.py"
    drawing.write_text(drawing.read_text() + "\nfrom imagekeeper import files\nimport pathlib\n")
    job = tmp_path / "imagekeeper" / "jobs" / "session.py"
    job.write_text(job.read_text() + "\nfrom imagekeeper.cli import root\n")
    layout = tmp_path / "imagekeeper" / "archive" / "ocfl" / "hashing.py"
    layout.write_text(layout.read_text() + "\nfrom imagekeeper.archive.exchange import repair\n")
    one, other = (tmp_path / "imagekeeper" / "sentences" / f"{name}.py" for name in ("voice", "signs"))
    one.write_text(one.read_text() + "\nfrom imagekeeper.sentences import signs\n")
    other.write_text(other.read_text() + "\nfrom imagekeeper.sentences import voice\n")
    done = subprocess.run(
        LINT, cwd=tmp_path, capture_output=True, text=True, check=False, env={"PYTHONPATH": str(tmp_path)}
    )
    assert done.returncode == 1, done.stdout + done.stderr
    assert "imagekeeper.fingerprints -> sqlite3" in done.stdout
    assert "imagekeeper.present.svg.shapes -> pathlib" in done.stdout
    assert "imagekeeper.present.svg.shapes -> imagekeeper.files" in done.stdout
    assert "imagekeeper.jobs.session -> imagekeeper.cli" in done.stdout
    assert "imagekeeper.archive.ocfl.hashing -> imagekeeper.archive.exchange.repair" in done.stdout
    assert "No cycles are allowed in imagekeeper.sentences." in done.stdout
    assert "0 kept, 5 broken" in done.stdout
