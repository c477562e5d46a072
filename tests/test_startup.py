"""Nothing slow is loaded before it is needed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

SLOW = ("numpy", "tqdm", "sqlite3", "logging", "tomllib", "imagekeeper.tables", "platformdirs", "filelock", "zipfile",
        "imagekeeper.sentences.files", "imagekeeper.sentences.template", "imagekeeper.cli.next_steps")

PROBE = """
import sys
sys.argv = ["imagekeeper", *{arguments!r}]
from imagekeeper.__main__ import main
try:
    main()
except SystemExit as end:
    assert not end.code, end.code
print("loaded:", *[name for name in {slow!r} if name in sys.modules])
"""


@pytest.mark.parametrize("arguments", [["--version"], ["--help"]])
def test_help_and_version_load_nothing_slow(arguments: list[str]) -> None:
    done = subprocess.run(
        [sys.executable, "-c", PROBE.format(arguments=arguments, slow=SLOW)],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stdout.splitlines()[-1].strip() == "loaded:"
    assert "imagekeeper" in done.stdout


def test_a_small_fingerprint_loads_no_numpy(tmp_path_factory: pytest.TempPathFactory) -> None:
    """A chip's image is too small for numpy to pay."""
    file = tmp_path_factory.mktemp("small") / "u4.bin"
    file.write_bytes(bytes(range(256)) * 64)
    done = subprocess.run(
        [sys.executable, "-c", PROBE.format(arguments=["fingerprint", str(file)], slow=("numpy", "tqdm", "sqlite3"))],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stdout.splitlines()[-1].strip() == "loaded:"


@pytest.mark.parametrize("arguments", [["chip", "list"], ["chip", "show", "2732"]])
def test_looking_a_chip_up_loads_no_solver_of_substitutes_and_no_reader_of_own_rows(
    arguments: list[str], tmp_path: Path
) -> None:
    slow = ("imagekeeper.substitution.solving", "imagekeeper.substitution.simulation", "imagekeeper.tables.overlay",
            "imagekeeper.jobs.tables.holding", "numpy")  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-c", PROBE.format(arguments=arguments, slow=slow)], capture_output=True, text=True,
        check=True, env={**os.environ, "XDG_CONFIG_HOME": str(tmp_path)},
    )  # fmt: skip
    assert done.stdout.splitlines()[-1].strip() == "loaded:"
    assert "2732" in done.stdout
