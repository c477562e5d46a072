"""Wrong input, command by command: the exit code, the error's code, one valid document, and nothing half made."""

from __future__ import annotations

import contextlib
import gzip
import io
import json
import os
import signal
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from imagekeeper.containers.kinds import BY_NAME
from imagekeeper.errors import CODES, EXIT_CODES
from imagekeeper.jobs import specimen
from tests.conftest import Ran, unprivileged

Cli = Callable[..., Ran]

ROOT = Path(__file__).parents[2]
SCHEMAS = ROOT / "docs" / "reference" / "schemas"

posix = pytest.mark.skipif(os.name == "nt", reason="Windows has no such files")


def check_document(text: str) -> Any:
    """Exactly one JSON document, valid by the schema file that its name points to."""
    document = json.loads(text)
    schema = json.loads((SCHEMAS / (document["schema"].replace("/", "-") + ".json")).read_text())
    faults = [f"{list(e.path)}: {e.message[:200]}" for e in Draft202012Validator(schema).iter_errors(document)]
    assert not faults, faults
    return document


@pytest.fixture
def told(cli: Cli) -> Callable[..., Any]:
    """Run a command that must fail, for people and for programs; give its JSON document."""

    def call(*arguments: str | Path, code: int, stdin: bytes = b"") -> Any:
        human = cli(*arguments, stdin=stdin)
        assert human.code == code, human
        assert human.out == ""
        lines = human.err.splitlines()
        assert lines[0].startswith("imagekeeper: ")
        assert [line.split(":")[0].strip() for line in lines if line.startswith("  ")] in (
            ["why", "next"], ["why", "where", "next"],
        ), human.err  # fmt: skip
        assert human.err.isprintable() or all(line.isprintable() for line in lines)
        machine = cli(*arguments, "--json", stdin=stdin)
        assert machine.code == code
        assert machine.err == ""
        document = check_document(machine.out)
        assert document["schema"] == "error/1"
        assert document["code"] in CODES
        assert all(document[part] for part in ("what", "why", "hint"))
        return document

    return call


def zipped(*members: tuple[str, bytes]) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for name, data in members:
            archive.writestr(name, data)
    return buffer.getvalue()


def encrypted_zip() -> bytes:
    """Set bit 0 of both general purpose flags: PKWARE, APPNOTE.TXT 6.3.10, section 4.4.4."""
    data = bytearray(zipped(("a.bin", b"tide")))
    data[6] |= 1
    data[data.index(b"PK\x01\x02") + 8] |= 1
    return bytes(data)


def hex_record(kind: int, address: int, data: bytes) -> str:
    """Intel, Hexadecimal Object File Format Specification, revision A, 6 January 1988."""
    body = bytes([len(data), address >> 8, address & 0xFF, kind]) + data
    return f":{body.hex().upper()}{-sum(body) & 0xFF:02X}\n"


def hex_file(*records: tuple[int, int, bytes]) -> bytes:
    return "".join(hex_record(*record) for record in (*records, (1, 0, b""))).encode()


LAST_16 = hex_file((4, 0, b"\xff\xff"), (0, 0xFFF0, bytes(range(16))))
FROM_END_TO_END = hex_file((0, 0, b"ab"), (4, 0, b"\xff\xff"), (0, 0xFFF0, bytes(range(16))))
PAST_THE_END = hex_file((4, 0, b"\xff\xff"), (0, 0xFFF8, bytes(range(16))))
WITH_GAP = hex_file((0, 0, b"abcd"), (0, 16, b"efgh"))

#: What a file may hold: exit code and error code of every command that reads one.
BAD_FILES: dict[str, tuple[bytes, int, str]] = {
    "empty": (b"", 3, "empty"),
    "gzip of nothing": (gzip.compress(b""), 3, "empty"),
    "gzip cut short": (gzip.compress(bytes(range(256)) * 9)[:100], 3, "wrapper-damaged"),
    "gzip of its header only": (gzip.compress(b"tide")[:10], 3, "wrapper-damaged"),
    "gzip in gzip in gzip in gzip in gzip": (
        gzip.compress(gzip.compress(gzip.compress(gzip.compress(gzip.compress(b"tide"))))), 3, "wrapper-nesting",
    ),
    "zip without members": (zipped(), 5, "member-missing"),
    "zip with a folder only": (zipped(("chips/", b"")), 5, "member-missing"),
    "zip with many members": (zipped(*((f"u{n}.bin", b"tide") for n in range(40))), 3, "member-choice"),
    "zip with an empty member": (zipped(("u4.bin", b"")), 3, "empty"),
    "zip cut short": (zipped(("u4.bin", b"tide" * 99))[:-30], 3, "wrapper-damaged"),
    "encrypted zip": (encrypted_zip(), 3, "wrapper-damaged"),
    "hex past 4 GiB": (PAST_THE_END, 3, "address-limit"),
    "hex without an end": (hex_record(0, 0, b"tide").encode(), 3, "no-end"),
    "hex with a wrong sum": (b":0400000074696465560\n".replace(b"560", b"55") + b":00000001FF\n", 3, "record-sum"),
    "hex with a cut line": (b":10000000746964\n:00000001FF\n", 3, "record-length"),
    "hex with a conflict": (hex_file((0, 0, b"ab"), (0, 1, b"cd")), 3, "conflict"),
}  # fmt: skip

READERS: dict[str, tuple[str, ...]] = {
    "fingerprint": ("fingerprint", "FILE"),
    "hexdump": ("hexdump", "FILE"),
    "hexdump against": ("hexdump", "good.bin", "--against", "FILE"),
    "compare": ("compare", "good.bin", "FILE"),
    "convert": ("convert", "FILE", "-o", "out.s19"),
    "carrier read": ("carrier", "read", "u4", "good.bin", "FILE", "--archive", "harbour"),
}


@pytest.fixture
def bench(cli: Cli, tmp_path: Path) -> Path:
    """A scratch folder with one good file and an archive of one carrier."""
    (tmp_path / "good.bin").write_bytes(bytes(range(256)))
    assert cli("archive", "init", "harbour").code == 0
    assert cli("carrier", "add", "u4", "--kind", "eprom", "--archive", "harbour").code == 0
    return tmp_path


def contents(folder: Path) -> dict[str, bytes | None]:
    """Everything below a folder, but not the caches, nor the lock, which only marks that somebody was there."""
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
        for path in sorted(folder.rglob("*"))
        if "cache" not in path.parts and path.name != "lock"
    }


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("case", BAD_FILES)
def test_a_bad_file_is_refused_by_every_reader(bench: Path, told: Callable[..., Any], case: str, reader: str) -> None:
    data, code, error = BAD_FILES[case]
    (bench / "bad").write_bytes(data)
    before = contents(bench)
    document = told(*(part.replace("FILE", "bad") for part in READERS[reader]), code=code)
    assert document["code"] == error
    assert document["where"]["file"] == "bad"
    assert contents(bench) == before


def _folder(place: Path) -> None:
    place.mkdir()


def _loop(place: Path) -> None:
    place.symlink_to(place.name)


def _nowhere(place: Path) -> None:
    place.symlink_to("nowhere")


def _pipe(place: Path) -> None:
    os.mkfifo(place)


def _endless(place: Path) -> None:
    place.symlink_to("/dev/zero")


def _nothing(place: Path) -> None:
    assert not place.exists()


NO_FILES: dict[str, tuple[Callable[[Path], None], int, str]] = {
    "nothing": (_nothing, 5, "not-found"),
    "a folder": (_folder, 3, "directory"),
    "a link to nowhere": (_nowhere, 5, "not-found"),
    "a link to itself": (_loop, 3, "cannot-read"),
    "a pipe that nobody writes": (_pipe, 3, "not-a-file"),
    "an endless device": (_endless, 3, "not-a-file"),
}


@posix
@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("case", NO_FILES)
def test_what_is_no_file_is_refused_by_every_reader(
    bench: Path, told: Callable[..., Any], case: str, reader: str
) -> None:
    make, code, error = NO_FILES[case]
    make(bench / "bad")
    assert told(*(part.replace("FILE", "bad") for part in READERS[reader]), code=code)["code"] == error
    assert not (bench / "out.s19").exists()


@pytest.mark.parametrize(
    ("name", "code", "error"),
    [("", 5, "not-found"), ("n" * 300, 3, "cannot-read"), ("good.bin/x", 3, "cannot-read"), ("a\0b", 5, "not-found")],
)
def test_impossible_names(bench: Path, told: Callable[..., Any], name: str, code: int, error: str) -> None:
    assert told("fingerprint", name, code=code)["code"] == error


@posix
def test_a_file_that_may_not_be_read(bench: Path, told: Callable[..., Any]) -> None:
    (bench / "secret.bin").write_bytes(b"tide")
    (bench / "secret.bin").chmod(0)
    bench.chmod(0o755)
    with unprivileged():
        assert told("fingerprint", "secret.bin", code=3)["code"] == "cannot-read"


NOISE = bytes((n * n * 31 + n * 7 + (n >> 3) * 101) & 0xFF for n in range(5000))


@pytest.mark.parametrize("doubtful", [(), ("--keep-doubtful",)], ids=["strict", "doubtful"])
@pytest.mark.parametrize("kind", [kind for kind in BY_NAME if kind != "raw"])
def test_noise_is_no_text(bench: Path, told: Callable[..., Any], kind: str, doubtful: tuple[str, ...]) -> None:
    (bench / "noise").write_bytes(NOISE)
    document = told("fingerprint", "noise", "--from", kind, *doubtful, code=3)
    assert document["code"] in {"not-this-kind", "record-form", "record-digits", "record-length", "record-sum"}
    if doubtful:
        assert document["code"] == "not-this-kind"


def test_noise_is_raw(cli: Cli, bench: Path) -> None:
    (bench / "noise").write_bytes(NOISE)
    for options in ((), ("--from", "raw")):
        file = check_document(cli("fingerprint", "noise", *options, "--json").out)["files"][0]
        assert (file["container"], file["size_bytes"]) == ("raw", 5000)


ODD_NAMES = {
    b"bad\xff\xfe.bin": "bad\ufffd\ufffd.bin",
    b"new\nline\x1b[31m.bin": "new\\nline\\x1b[31m.bin",
    b"n" * 250: "n" * 250,
    "fünf \u202e.bin".encode(): "fünf \\u202e.bin",
}


@posix
@pytest.mark.parametrize("raw", ODD_NAMES, ids=lambda raw: repr(raw[:20]))
def test_odd_names_come_through(cli: Cli, bench: Path, raw: bytes) -> None:
    name = os.fsdecode(raw)
    try:
        (bench / name).write_bytes(b"tide")
    except OSError:
        pytest.skip("this file system takes no such name")
    shown = ODD_NAMES[raw]
    human = cli("fingerprint", name)
    assert (human.code, human.out.splitlines()[0]) == (0, shown)
    file = check_document(cli("fingerprint", name, "--json").out)["files"][0]
    assert file["name"] == shown
    assert cli("carrier", "read", "u4", name, "--archive", "harbour").code == 0
    document = check_document(cli("carrier", "show", "u4", "--archive", "harbour", "--json").out)
    assert document["reads"][0]["file"] == shown
    assert cli("archive", "audit", "--archive", "harbour").code == 0


def test_a_name_that_looks_like_an_option(cli: Cli, told: Callable[..., Any], bench: Path) -> None:
    (bench / "-u4.bin").write_bytes(b"tide")
    assert told("fingerprint", "-u4.bin", code=2)["code"] == "usage"
    assert cli("fingerprint", "./-u4.bin").code == 0
    assert cli("fingerprint", "--", "-u4.bin").out.startswith("-u4.bin\n")


@pytest.mark.parametrize("member", ["/etc/passwd", "../../u4.bin", "C:\\u4.bin", "a\nb\x1b[2J.bin"])
def test_a_zip_member_never_becomes_a_path(cli: Cli, bench: Path, member: str) -> None:
    (bench / "one.zip").write_bytes(zipped((member, b"tide")))
    above = set(bench.parent.glob("*"))
    before = set(bench.rglob("*"))
    assert cli("convert", "one.zip", "-o", "one.bin").code == 0
    assert (bench / "one.bin").read_bytes() == b"tide"
    assert set(bench.rglob("*")) - before == {bench / "one.bin"}
    assert set(bench.parent.glob("*")) == above
    assert not (bench / ".." / ".." / "u4.bin").exists()


def test_a_zip_member_is_chosen_by_name(cli: Cli, told: Callable[..., Any], bench: Path) -> None:
    (bench / "many.zip").write_bytes(zipped(("u4.bin", b"four"), ("u5.bin", b"five")))
    assert cli("convert", "many.zip", "--member", "u5.bin", "-o", "out.bin").code == 0
    assert (bench / "out.bin").read_bytes() == b"five"
    assert told("fingerprint", "many.zip", "--member", "u6.bin", code=5)["code"] == "member-missing"


def test_a_record_at_the_end_of_4_gib_takes_no_memory(cli: Cli, told: Callable[..., Any], bench: Path) -> None:
    (bench / "high.hex").write_bytes(LAST_16)
    (bench / "wide.hex").write_bytes(FROM_END_TO_END)
    high, wide = check_document(cli("fingerprint", "high.hex", "wide.hex", "--json").out)["files"]
    assert (high["first_address"], high["size_bytes"], high["gaps"]) == (0xFFFFFFF0, 16, [])
    assert (wide["first_address"], wide["size_bytes"]) == (0, 18)
    assert wide["gaps"] == [{"start": 2, "length": 0xFFFFFFEE}]
    assert told("convert", "wide.hex", "-o", "wide.bin", code=2)["code"] == "gaps"
    assert told("convert", "wide.hex", "-o", "wide.bin", "--fill", "FF", code=2)["code"] == "too-large-to-fill"
    assert not (bench / "wide.bin").exists()
    assert cli("convert", "wide.hex", "-o", "wide.s37").code == 0
    assert cli("compare", "wide.hex", "wide.s37").code == 0
    assert len(cli("hexdump", "wide.hex").out.splitlines()) == 2
    assert cli("carrier", "read", "u4", "wide.hex", "--archive", "harbour").code == 0


def test_gaps_are_filled_only_with_what_was_asked(cli: Cli, told: Callable[..., Any], bench: Path) -> None:
    (bench / "gap.hex").write_bytes(WITH_GAP)
    assert told("convert", "gap.hex", "-o", "gap.bin", code=2)["code"] == "gaps"
    for wrong in ("GG", "1FF", "-1", ""):
        assert told("convert", "gap.hex", "-o", "gap.bin", "--fill", wrong, code=2)["code"] == "usage"
    assert not (bench / "gap.bin").exists()
    assert cli("convert", "gap.hex", "-o", "gap.bin", "--fill", "5A").code == 0
    assert (bench / "gap.bin").read_bytes() == b"abcd" + b"\x5a" * 12 + b"efgh"


# --- what is written ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("output", "error"),
    [
        ("good.bin", "exists"), ("harbour", "exists"), ("nowhere/out.bin", "cannot-write"), ("-", "usage"),
        ("n" * 300, "cannot-write"), ("good.bin/out.bin", "cannot-write"),
    ],
)  # fmt: skip
def test_output_that_cannot_be(bench: Path, told: Callable[..., Any], output: str, error: str) -> None:
    before = contents(bench)
    assert told("convert", "good.bin", "-o", output, code=2)["code"] == error
    assert contents(bench) == before


def test_force_does_not_replace_a_folder(bench: Path, told: Callable[..., Any]) -> None:
    assert told("convert", "good.bin", "-o", "harbour", "--force", code=2)["code"] == "exists"
    assert (bench / "harbour" / "archive.json").exists()


@posix
def test_force_does_not_replace_a_pipe_or_device(bench: Path, told: Callable[..., Any]) -> None:
    """Whoever works as root would otherwise lose /dev/null or /dev/full to a file."""
    os.mkfifo(bench / "pipe")
    told("convert", "good.bin", "-o", "pipe", "--force", code=2)
    assert (bench / "pipe").is_fifo()


def test_a_picture_does_not_replace_what_is_there(bench: Path, told: Callable[..., Any]) -> None:
    assert told("compare", "good.bin", "good.bin", "--picture", "good.bin", code=2)["code"] == "exists"
    assert (bench / "good.bin").read_bytes() == bytes(range(256))


@posix
def test_a_full_disk_leaves_nothing_behind(
    bench: Path, told: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    before = contents(bench)
    with monkeypatch.context() as disk:
        disk.setattr(os, "fsync", full)
        document = told("convert", "good.bin", "-o", "out.bin", code=2)
        assert (document["code"], "No space" in document["why"]) == ("cannot-write", True)
        assert told("carrier", "read", "u4", "good.bin", "--archive", "harbour", code=2)["code"] == "cannot-write"
    after = contents(bench)
    assert {name for name in after if not name.startswith("harbour/staging/")} == set(before)


# --- usage ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "arguments",
    [
        ("fingerprnt",), ("fingerprint",), ("fingerprint", "good.bin", "--nonsense"),
        ("fingerprint", "good.bin", "--from", "banana"), ("fingerprint", "good.bin", "--fill", "XY"),
        ("compare",), ("compare", "good.bin"), ("compare", "good.bin", "good.bin", "--ranges", "-1"),
        ("compare", "-", "-"), ("convert", "good.bin"), ("convert", "good.bin", "-o", "x", "--to", "mos-tape"),
        ("convert", "good.bin", "-o", "x.hex", "--base", "zz"), ("hexdump", "good.bin", "--start", "FFFFFFFFFF"),
        ("hexdump", "good.bin", "--length", "0"), ("hexdump", "good.bin", "--width", "0"),
        ("hexdump", "good.bin", "--only-differences"), ("carrier", "reed"), ("carrier", "add", "u5"),
        ("carrier", "add", "u5", "--kind", "banana"), ("carrier", "list", "--kind", "banana"),
    ],
    ids=" ".join,
)  # fmt: skip
def test_a_command_line_that_does_not_fit(told: Callable[..., Any], bench: Path, arguments: tuple[str, ...]) -> None:
    assert told(*arguments, code=2)["code"] == "usage"
    assert not (bench / "x").exists()


@pytest.mark.parametrize(
    ("arguments", "what"),
    [
        (("table", "new"), "Missing argument 'KIND'. Choose from: chip, maker, drive, medium, format"),
        (("compare", "good.bin", "good.bin", "--ranges", "lots"),
         "Invalid value for '--ranges': 'lots' is not a whole number"),
        (("substitute", "2716"), "there is no command 'substitute'; did you mean 'chip substitute'?"),
        (("comapre", "good.bin"), "there is no command 'comapre'; did you mean 'compare'?"),
    ],
)  # fmt: skip
def test_a_wrong_command_line_is_told_on_one_line_in_plain_words(
    told: Callable[..., Any], bench: Path, arguments: tuple[str, ...], what: str
) -> None:
    assert told(*arguments, code=2)["what"] == what


def test_an_unknown_figure_is_answered_with_the_known_ones(told: Callable[..., Any], bench: Path) -> None:
    document = told("fingerprint", "good.bin", "--figure", "nonsense", code=2)
    assert document["code"] == "unknown-name"
    assert "CRC-16/ARC" in document["why"]


def test_every_command_explains_itself(cli: Cli) -> None:
    for command in (
        "fingerprint", "hexdump", "compare", "convert", "demo", "carrier add", "carrier read", "carrier agree",
        "carrier show", "carrier list", "archive init", "archive audit", "archive reindex",
    ):  # fmt: skip
        ran = cli(*command.split(), "--help")
        assert ran.code == 0
        assert "--json" in ran.out
        assert f"Example: imagekeeper {command}" in " ".join(ran.out.split())
    help_text = cli("--help").out
    for code, meaning in EXIT_CODES.items():
        assert f"{code} {meaning}" in " ".join(help_text.split())


# --- standard input -------------------------------------------------------------------------------------------------


def test_standard_input_stands_for_one_file(cli: Cli, bench: Path) -> None:
    data = (bench / "good.bin").read_bytes()
    file = check_document(cli("fingerprint", "-", "--json", stdin=data).out)["files"][0]
    assert (file["name"], file["size_bytes"]) == ("-", 256)
    assert cli("compare", "good.bin", "-", stdin=data).code == 0
    assert cli("compare", "-", "good.bin", stdin=data[:-1]).code == 1
    assert cli("hexdump", "-", stdin=data).out == cli("hexdump", "good.bin").out
    assert cli("convert", "-", "-o", "out.bin", stdin=hex_file((0, 0, b"tide"))).code == 0
    assert (bench / "out.bin").read_bytes() == b"tide"


def test_empty_standard_input(told: Callable[..., Any], bench: Path) -> None:
    assert told("fingerprint", "-", code=3)["code"] == "empty"


def test_standard_input_cannot_be_read_twice(told: Callable[..., Any], bench: Path) -> None:
    for arguments in (("compare", "-", "-"), ("fingerprint", "-", "-")):
        assert told(*arguments, code=2, stdin=b"tide")["code"] == "usage"


# --- the demonstration ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("absolute", [True, False], ids=["absolute", "relative"])
def test_the_demonstration_leaves_its_files_where_it_is_told(cli: Cli, tmp_path: Path, absolute: bool) -> None:
    ran = cli("demo", "--into", tmp_path / "tide-recorder" if absolute else "tide-recorder", "--json")
    assert ran.code == 0, ran
    assert check_document(ran.out)["ok"]
    for name in specimen.files():
        assert (tmp_path / "tide-recorder" / name).is_file()


def test_the_demonstration_writes_over_nothing(told: Callable[..., Any], bench: Path) -> None:
    before = contents(bench)
    assert told("demo", "--into", "harbour", code=2)["code"] == "exists"
    assert told("demo", "--into", "nowhere/here", code=2)["code"] == "cannot-write"
    assert contents(bench) == before


# --- in a process of its own ----------------------------------------------------------------------------------------


def program(*arguments: str, **options: Any) -> subprocess.Popen[bytes]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), **options.pop("environment", {})}
    if os.name == "posix":   # tests that run in the background of a shell ignore interrupts, and so would a program
        options.setdefault("preexec_fn", lambda: signal.signal(signal.SIGINT, signal.SIG_DFL))
    return subprocess.Popen([sys.executable, "-m", "imagekeeper", *arguments], env=environment, **options)


@pytest.fixture
def large(tmp_path: Path) -> Iterator[Path]:
    """A file that takes seconds to read and no room on the disk."""
    path = tmp_path / "large.bin"
    with open(path, "wb") as file:
        file.truncate(3 << 30)
    yield path
    path.unlink()


def wait_until_it_reads(running: subprocess.Popen[bytes], path: Path) -> None:
    """Wait until a program has a file open; where the system does not show that, a second."""
    handles = Path(f"/proc/{running.pid}/fd")
    if not handles.is_dir():
        time.sleep(1)
        return
    for _ in range(600):
        with contextlib.suppress(OSError):   # a handle may be gone before it is looked at
            if any(os.readlink(handle) == str(path) for handle in handles.iterdir()):
                return
        time.sleep(0.05)
    raise AssertionError(f"{path.name} was not opened within half a minute")


@posix
@pytest.mark.parametrize("command", ["fingerprint", "compare", "carrier read u4"])
def test_interrupted_in_the_middle(bench: Path, large: Path, command: str) -> None:
    files = [large.name] + (["good.bin", large.name] if command == "compare" else [])
    before = contents(bench / "harbour")
    running = program(
        *command.split(), *files, "--json", cwd=bench, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        environment={"IMAGEKEEPER_ARCHIVE": str(bench / "harbour"), "IMAGEKEEPER_CACHE": str(bench / "cache")},
    )  # fmt: skip
    wait_until_it_reads(running, large)
    running.send_signal(signal.SIGINT)
    out, err = running.communicate(timeout=60)
    assert running.returncode == 130
    assert b"Traceback" not in err
    assert check_document(out.decode())["code"] == "interrupted"
    assert contents(bench / "harbour") == before


@posix
@pytest.mark.parametrize("command", ["--version", "--help", "fingerprint good.bin", "fingerprint good.bin --json"])
def test_no_room_for_the_answer(bench: Path, command: str) -> None:
    with open("/dev/full", "wb") as full:
        running = program(*command.split(), cwd=bench, stdout=full, stderr=subprocess.PIPE)
        _, err = running.communicate(timeout=60)
    assert running.returncode in EXIT_CODES
    assert running.returncode != 0
    assert b"Traceback" not in err
    assert b"fault of imagekeeper" not in err   # the disk is full: nothing to report to anybody
    assert b"No space left" in err


@posix
@pytest.mark.parametrize("command", ["--version", "--help", "hexdump many.bin --all", "compare good.bin good.bin"])
def test_whoever_reads_has_seen_enough(bench: Path, command: str) -> None:
    """As in `| head -1`: no complaint, and not the exit code that says that reads differ."""
    (bench / "many.bin").write_bytes(bytes(range(256)) * 4096)
    reading, writing = os.pipe()
    os.close(reading)
    running = program(*command.split(), cwd=bench, stdout=writing, stderr=subprocess.PIPE)
    os.close(writing)
    _, err = running.communicate(timeout=60)
    assert (running.returncode, err) == (0, b"")


@posix
def test_any_locale_will_do(bench: Path) -> None:
    name = os.fsdecode(b"f\xc3\xbcnf\xff.bin")
    (bench / name).write_bytes(b"tide")
    plain = {"LC_ALL": "C", "LANG": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "PYTHONIOENCODING": "ascii"}
    for arguments in (["fingerprint", name], ["compare", name, "good.bin"], ["fingerprint", name + "x"]):
        running = program(
            *arguments, cwd=bench, environment=plain, stdout=subprocess.PIPE, stderr=subprocess.PIPE
        )
        out, err = running.communicate(timeout=60)
        assert running.returncode in (0, 1, 5)
        assert b"fault of imagekeeper" not in err
        assert b"Traceback" not in err
        assert out.isascii()
    running = program("fingerprint", name, "--json", cwd=bench, environment=plain, stdout=subprocess.PIPE)
    assert check_document(running.communicate(timeout=60)[0].decode())["files"][0]["size_bytes"] == 4


def test_colour_is_asked_for_or_left_out(cli: Cli, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FORCE_COLOR", "1")
    assert "\x1b[" not in cli("fingerprint", "nothing").err   # NO_COLOR, which the fixture sets, is stronger
    monkeypatch.delenv("NO_COLOR")
    coloured = cli("fingerprint", "nothing\x1b[2J")
    assert coloured.err.count("\x1b[") >= 1
    assert "\x1b[2J" not in coloured.err
