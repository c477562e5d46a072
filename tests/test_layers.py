"""The layers of pyproject.toml hold, and the check can fail."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent

LINT = [sys.executable, "-c", "from importlinter.cli import lint_imports_command; lint_imports_command()", "--no-cache"]


def test_every_import_goes_down() -> None:
    """The contracts of pyproject.toml are kept."""
    done = subprocess.run(LINT, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "5 kept, 0 broken" in done.stdout


def test_a_stray_import_is_caught(tmp_path: Path) -> None:
    """A copy of the package breaks its contracts: a pure module imports sqlite3, and a rendering opens files."""
    import shutil

    shutil.copytree(ROOT / "imagekeeper", tmp_path / "imagekeeper")
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    module = tmp_path / "imagekeeper" / "fingerprints.py"
    module.write_text("import sqlite3\n" + module.read_text().replace("from __future__ import annotations\n", ""))
    drawing = tmp_path / "imagekeeper" / "present" / "svg" / "shapes.py"
    drawing.write_text(drawing.read_text() + "\nfrom imagekeeper import files\nimport pathlib\n")
    done = subprocess.run(
        LINT, cwd=tmp_path, capture_output=True, text=True, check=False, env={"PYTHONPATH": str(tmp_path)}
    )
    assert done.returncode == 1, done.stdout + done.stderr
    assert "imagekeeper.fingerprints -> sqlite3" in done.stdout
    assert "imagekeeper.present.svg.shapes -> pathlib" in done.stdout
    assert "imagekeeper.present.svg.shapes -> imagekeeper.files" in done.stdout
