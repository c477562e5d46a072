"""The promise: no file of less than a megabyte takes more than 5 seconds or 300 MB, in any command that takes a file.

The time is that of the processor, and on a machine slower than the one that the promise was measured on it is longer by
as much as a piece of plain work there.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from imagekeeper import budget
from imagekeeper.errors import InputError
from tests.conftest import Ran
from tests.hostile import BAGS, IMAGES, MB, TABLES

pytestmark = [
    pytest.mark.long,
    pytest.mark.skipif(not hasattr(os, "wait4"), reason="the system does not tell what a process took"),
]

SECONDS, MEMORY = 5.0, 300 * MB

#: What `plain_work` took where the promise was measured. [s]
REFERENCE = 0.12

COMMANDS: dict[str, tuple[str, ...]] = {
    "inspect": ("inspect", "FILE"), "fingerprint": ("fingerprint", "FILE"), "hexdump": ("hexdump", "FILE"),
    "selfcheck": ("selfcheck", "FILE"), "compare": ("compare", "FILE", "OTHER"),
    "vote": ("vote", "FILE", "OTHER", "THIRD", "-o", "OUT.bin"), "convert": ("convert", "FILE", "-o", "OUT.s19"),
    "doubtful": ("convert", "FILE", "--keep-doubtful", "--fill", "FF", "-o", "OUT.bin"),
    "solve": ("floppy", "solve", "FILE"), "list": ("files", "list", "FILE", "--deleted"),
    "check": ("files", "check", "FILE"), "extract": ("files", "extract", "FILE", "-o", "OUT"),
    "map": ("files", "map", "FILE", "-o", "OUT.svg"),
    "plan": ("plan", "chip", "FILE", "--chip", "27128", "-o", "OUT.bin"),
}  # fmt: skip


def cases() -> Iterator[tuple[str, str]]:
    """Each file with the command that does most with it, and all commands with a file of each sort."""
    kinds = list(IMAGES)
    for place, name in enumerate(kinds):
        disk = kinds.index("blank disk") <= place <= kinds.index("chained partitions")
        yield name, "check" if disk else "doubtful" if place < kinds.index("blank disk") else "inspect"
    for name in ("gzip of noise", "gzip of a directory", "noise", "rows", "one entry", "parts of many files"):
        yield name, "inspect"
    for name in ("gzip of noise", "scattered records", "noise", "one entry"):   # every command, by some of each
        yield from ((name, command) for command in COMMANDS if command not in ("check", "doubtful", "inspect"))


def plain_work() -> float:
    begin = time.process_time()
    total = 0
    for number in range(2_000_000):
        total += number & 255
    return time.process_time() - begin


#: Runs a command in limits, and tells what it took.
MEASURE = """
import json, os, resource, sys
asked = json.loads(sys.argv[1])
child = os.fork()
if not child:
    resource.setrlimit(resource.RLIMIT_AS, (4 << 30, 4 << 30))
    resource.setrlimit(resource.RLIMIT_CPU, (120, 120))
    os.dup2(os.open(os.devnull, os.O_RDWR), 0)
    os.dup2(os.open(os.devnull, os.O_RDWR), 1)
    os.dup2(os.open(asked["said"], os.O_WRONLY | os.O_CREAT | os.O_TRUNC), 2)
    os.chdir(asked["folder"])
    os.execve(asked["command"][0], asked["command"], os.environ)
_, status, used = os.wait4(child, 0)
print(json.dumps([used.ru_utime + used.ru_stime, used.ru_maxrss, os.waitstatus_to_exitcode(status)]))
"""


def cost(arguments: list[str], folder: Path, program: str | None = None) -> tuple[float, int, int, str]:
    """Run a command by itself: its processor time, the most memory that it held, its exit code, what it said."""
    environment = dict(os.environ, PYTHONPATH=str(Path(__file__).parents[2]), IMAGEKEEPER_CACHE=str(folder / "cache"))
    said = folder / "said"
    how = ["-m", "imagekeeper"] if program is None else ["-c", program]
    # a child's figure begins with the memory of whoever forked it: so a small process stands between
    asked = json.dumps({"command": [sys.executable, *how, *arguments], "folder": str(folder), "said": str(said)})
    told = subprocess.run(
        [sys.executable, "-S", "-c", MEASURE, asked], env=environment, capture_output=True, text=True, check=True,
    )  # fmt: skip
    seconds, memory, code = json.loads(told.stdout)
    memory *= 1 if sys.platform == "darwin" else 1024
    return seconds, memory, code, said.read_text(errors="replace")


def check_promise(arguments: list[str], folder: Path) -> str:
    slower = max(plain_work() / REFERENCE, 1.0)
    seconds, memory, code, said = cost(arguments, folder)
    slower = max(slower, plain_work() / REFERENCE)
    told = f"{arguments}: {seconds:.1f} s, {memory / MB:.0f} MB, exit code {code}: {said[:300]}"
    assert code in (0, 1, 2, 3, 4, 5), told
    assert "Traceback" not in said, told
    assert "was not built for" not in said, told
    assert seconds <= SECONDS * slower, told
    assert memory <= MEMORY, told
    return said


@pytest.mark.parametrize(("name", "command"), list(cases()))
def test_no_small_file_takes_long_or_much(name: str, command: str, tmp_path: Path) -> None:
    data = IMAGES[name]()
    assert len(data) < MB
    for file, content in (("FILE", data), ("OTHER", data[:-1] + b"!"), ("THIRD", data[:-1] + b"?")):
        (tmp_path / file).write_bytes(content)
    check_promise(list(COMMANDS[command]), tmp_path)


@pytest.mark.parametrize("name", TABLES)
def test_no_small_table_takes_long_or_much(name: str, tmp_path: Path) -> None:
    (tmp_path / "table.csv").write_bytes(TABLES[name]())
    cost(["archive", "init", "harbour"], tmp_path)
    for command in ("references", "fill-in"):
        check_promise(["archive", command, "table.csv", "--archive", "harbour"], tmp_path)


@pytest.mark.parametrize("name", BAGS)
def test_no_small_bag_takes_long_or_much(name: str, tmp_path: Path) -> None:
    data = BAGS[name]()
    assert len(data) < MB
    (tmp_path / name).write_bytes(data)
    cost(["archive", "init", "harbour"], tmp_path)
    said = check_promise(["archive", "import", name, "--archive", "harbour"], tmp_path)
    assert "why:" in said


def test_what_is_refused_says_why_and_what_to_do(tmp_path: Path) -> None:
    for name, what, next_ in (
        ("gzip of zeros", "the wrapper unpacks to too much", "unpack it with another program"),
        ("gzip of hexadecimal text", "the wrapper unpacks to too much", "unpack it with another program"),
        ("bzip2", "packed by a method that is not unpacked here", "unpack"),
    ):
        (tmp_path / "FILE").write_bytes(IMAGES[name]())
        said = check_promise(["inspect", "FILE"], tmp_path)
        assert what in said, said
        assert next_ in said.split("next:")[1], said


def test_the_measure_notices_what_costs_too_much(tmp_path: Path) -> None:
    (tmp_path / "FILE").write_bytes(IMAGES["gzip of zeros"]())
    program = (
        "import sys; from imagekeeper import budget; budget.UNPACKED = budget.MOST_UNPACKED = 1 << 40; "
        "from imagekeeper.cli import run; run(sys.argv[1:])"
    )
    _, memory, _, _ = cost(["fingerprint", "FILE"], tmp_path, program)
    assert memory > MEMORY


def test_patience_is_a_number_from_one(
    cli: Callable[..., Ran], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "u4.bin").write_bytes(bytes(range(256)))
    for patience, code in (("10", 0), ("", 0), ("0.5", 2), ("nan", 2), ("much", 2)):
        monkeypatch.setenv("IMAGEKEEPER_PATIENCE", patience)
        assert cli("fingerprint", "u4.bin").code == code, patience


def test_more_patience_is_more_time() -> None:
    now = iter((0.0, 4.0, 0.0, 4.0))
    with pytest.raises(InputError):
        budget.Budget(clock=lambda: next(now)).tick()
    budget.Budget(clock=lambda: next(now), patience=10).tick()
