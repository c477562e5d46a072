"""`python -O` leaves asserts out, and must change nothing: what guards a result is a check that raises our error."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

import imagekeeper
from tests.conftest import Ran

SOURCES = sorted(Path(imagekeeper.__file__).parent.rglob("*.py"))

#: Tables that are part of the code, held against each other where they stand.
TABLES = {
    ("transforms/sizes.py", "LIMIT < GIB"),
    ("filesystems/directory_options.py", "set(_READERS) == {field.name for field in fields(Given)}"),
}  # fmt: skip


def narrows(test: ast.expr) -> bool:
    """Whether an assert only tells the type checker what the next line would fail without: not None, or of a class."""
    if isinstance(test, ast.Call):
        return isinstance(test.func, ast.Name) and test.func.id == "isinstance"
    return (
        isinstance(test, ast.Compare) and isinstance(test.ops[0], ast.IsNot)
        and isinstance(test.comparators[0], ast.Constant) and test.comparators[0].value is None
    )  # fmt: skip


def asserts() -> Iterator[tuple[str, str, ast.expr]]:
    top = Path(imagekeeper.__file__).parent
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Assert):
                yield path.relative_to(top).as_posix(), ast.unparse(node.test), node.test


def test_asserts_only_narrow_types() -> None:
    found = [(name, text) for name, text, test in asserts() if not narrows(test)]
    assert set(found) == TABLES
    assert any(narrows(test) for _, _, test in asserts()), "so that the search finds something"


def test_nothing_else_depends_on_the_optimisation() -> None:
    assert [path.name for path in SOURCES if "__debug__" in path.read_text()] == []


#: Runs a command with a part of the program broken; the first argument says which.
WRAPPER = '''
import sys
from imagekeeper import containers
from imagekeeper.archive.ocfl.inventory import Inventory
from imagekeeper.containers.model import Image, Segment

broken, *arguments = sys.argv[1:]
encode, to_bytes = containers.encode, Inventory.to_bytes
assert False, "only without -O: the test must run with it"

if broken == "a byte":          # the encoder writes another byte than the image has
    def encode_badly(image, kind):
        data = image.tobytes()
        changed = Segment(image.first_address, bytes([data[0] ^ 1]) + data[1:])
        return encode(Image((changed,), addressed=image.addressed), kind)
    containers.encode = encode_badly
elif broken == "an address":
    containers.encode = lambda image, kind: encode(image.moved(image.first_address + 16), kind)
elif broken == "a check sum":
    def encode_badly(image, kind):
        text = encode(image, kind)
        end = text.index(b"\\n")
        return text[:end - 2] + (b"00" if text[end - 2:end] != b"00" else b"01") + text[end:]
    containers.encode = encode_badly
elif broken == "the raw bytes":  # as they go to the file
    import imagekeeper.files as files
    write_whole = files.write_whole
    def write_badly(path, blocks, *, force=False):
        data = b"".join(blocks)
        return write_whole(path, [bytes([data[0] ^ 1]) + data[1:]], force=force)
    files.write_whole = write_badly
elif broken == "the inventory":
    Inventory.to_bytes = lambda self: to_bytes(self).replace(b'"head": "v', b'"head": "v9')
elif broken == "the message":    # sound JSON that says something else
    Inventory.to_bytes = lambda self: to_bytes(self).replace(b'"message": "', b'"message": "not ')
elif broken != "nothing":
    sys.exit("what is broken?")

from imagekeeper.cli import run
sys.exit(run(arguments))
'''

CHIP = bytes((n * 7 + (n >> 5)) & 0xFF for n in range(2048))


Run = Callable[..., Ran]


@pytest.fixture
def work(tmp_path: Path, cli: Run) -> Path:
    """A folder with three reads of a chip, and an archive of two of them, made by the program as it is."""
    for number in (1, 2, 3):
        (tmp_path / f"r{number}.bin").write_bytes(CHIP)
    for command in (
        ("archive", "init", "a"), ("carrier", "add", "u4", "--kind", "eprom", "--part", "2716", "--archive", "a"),
        ("carrier", "read", "u4", "r1.bin", "r2.bin", "--archive", "a"), ("carrier", "agree", "u4", "--archive", "a"),
    ):  # fmt: skip
        assert cli(*command).code == 0
    return tmp_path


@pytest.fixture
def optimised(work: Path, tmp_path_factory: pytest.TempPathFactory) -> Run:
    """Run a command under -O, with something broken."""
    wrapper = tmp_path_factory.mktemp("wrapper") / "wrapper.py"
    wrapper.write_text(WRAPPER)
    environment = {**os.environ, "PYTHONPATH": str(Path(imagekeeper.__file__).parent.parent)}

    def call(broken: str, *arguments: str) -> Ran:
        done = subprocess.run(
            [sys.executable, "-O", str(wrapper), broken, *arguments], cwd=work, env=environment, capture_output=True,
            text=True, check=False,
        )  # fmt: skip
        assert "Traceback" not in done.stdout + done.stderr, done.stderr
        return Ran(done.returncode, done.stdout, done.stderr)

    return call


def held(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


WRITING = {
    "convert": ("convert", "r1.bin", "-o", "out.hex"),
    "vote": ("vote", "r1.bin", "r2.bin", "r3.bin", "-o", "out.hex"),
    "plan chip": ("plan", "chip", "r1.bin", "--chip", "2716", "-o", "out.hex"),
    "carrier extract": ("carrier", "extract", "u4", "-o", "out.hex", "--archive", "a"),
}


@pytest.mark.parametrize(
    ("command", "broken"),
    [*((one, "a byte") for one in WRITING), ("convert", "an address"), ("convert", "a check sum")],
)
def test_what_an_encoder_gets_wrong_is_never_written(
    cli: Run, optimised: Run, work: Path, command: str, broken: str
) -> None:
    before = held(work)
    ran = optimised(broken, *WRITING[command], "--json")
    assert (ran.code, ran.json["code"]) == (3, "internal")
    assert held(work) == before
    assert cli(*WRITING[command]).code == 0   # it was the encoder
    assert (work / "out.hex").exists()


@pytest.mark.parametrize("command", WRITING)
def test_what_does_not_read_back_is_not_left(optimised: Run, work: Path, command: str) -> None:
    before = held(work)
    ran = optimised("the raw bytes", *(one.replace("out.hex", "out.bin") for one in WRITING[command]), "--json")
    assert (ran.code, ran.json["code"]) == (2, "cannot-write")
    assert held(work) == before


@pytest.mark.parametrize("broken", ["the inventory", "the message"])
def test_an_inventory_that_says_something_else_is_never_put_in_place(
    cli: Run, optimised: Run, work: Path, broken: str
) -> None:
    before = held(work / "a" / "carriers")
    for command in (
        ("carrier", "add", "u5", "--kind", "eprom"), ("carrier", "read", "u4", "r3.bin"), ("carrier", "agree", "u4"),
    ):  # fmt: skip
        ran = optimised(broken, *command, "--archive", "a", "--json")
        assert (ran.code, ran.json["code"]) == (3, "internal"), command
    assert held(work / "a" / "carriers") == before
    assert cli("archive", "audit", "--archive", "a").code == 0


def test_an_audit_finds_under_it_what_it_finds_without(optimised: Run, work: Path) -> None:
    assert optimised("nothing", "archive", "audit", "--archive", "a").code == 0
    kept = next(path for path in (work / "a").rglob("r1.bin") if path.is_file())
    kept.write_bytes(b"x" + CHIP[1:])
    ran = optimised("nothing", "archive", "audit", "--archive", "a", "--json")
    assert (ran.code, ran.json["ok"]) == (4, False)
    assert optimised("nothing", "carrier", "agree", "u4", "--archive", "a").code == 4
