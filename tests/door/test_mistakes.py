"""A mistake at the door is told as ours, with what, why and a hint, or as Python tells its own."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import imagekeeper
from imagekeeper.cli import COMMANDS


def harbour() -> imagekeeper.Archive:
    """Give an archive with one carrier, which has no read yet."""
    archive = imagekeeper.Archive.create("harbour", title="Harbour office")
    archive.add_carrier("tg85-u4", "eprom")
    return archive


def read_number_of_disk() -> bytes:
    """Ask a disk for a file by a number."""
    with imagekeeper.open_disk(bytes(368640)) as disk:
        return disk.read(5)   # type: ignore[arg-type]


#: What is done wrong: the class and code of the error.
OURS: dict[str, tuple[Callable[[], Any], type[imagekeeper.ImagekeeperError], str]] = {
    "no such file": (lambda: imagekeeper.read("nothing.bin"), imagekeeper.NotFoundError, "not-found"),
    "a folder": (lambda: imagekeeper.read(Path()), imagekeeper.InputError, "directory"),
    "no bytes": (lambda: imagekeeper.read(b""), imagekeeper.InputError, "empty"),
    "no such container": (
        lambda: imagekeeper.read(b"TIDE", container="hex"), imagekeeper.UsageError, "unknown-name"
    ),
    "a damaged file": (lambda: imagekeeper.read("u30-first.s19"), imagekeeper.InputError, "record-sum"),
    "no member": (
        lambda: imagekeeper.read(b"TIDE", member="u4.bin"), imagekeeper.UsageError, "usage"
    ),
    "no byte": (lambda: imagekeeper.read(b"TIDE", fill=256), imagekeeper.UsageError, "usage"),
    "a tie that is no byte": (
        lambda: imagekeeper.vote_image(b"A", b"B", b"C", ties=-1), imagekeeper.UsageError, "usage"
    ),
    "fill that would win": (
        lambda: imagekeeper.vote_image(b"\xff" * 256, b"\xff" * 255 + b"\xfe", bytes(range(256))),
        imagekeeper.UsageError, "usage"
    ),
    "nothing to compare": (lambda: imagekeeper.compare(), imagekeeper.UsageError, "usage"),
    "one read": (lambda: imagekeeper.compare("u4-first.bin"), imagekeeper.UsageError, "usage"),
    "two voters": (lambda: imagekeeper.vote(b"A", b"B"), imagekeeper.UsageError, "usage"),
    "one file twice": (
        lambda: imagekeeper.vote("u4-first.bin", "u4-first.bin", b"A"), imagekeeper.UsageError, "usage"
    ),
    "too few voltages": (
        lambda: imagekeeper.compare(b"A", b"B", volts=[5.0]), imagekeeper.UsageError, "usage"
    ),
    "unknown chip": (lambda: imagekeeper.find_chip("TG85"), imagekeeper.NotFoundError, "chip-unknown"),
    "unknown chip, compared": (
        lambda: imagekeeper.compare(b"A", b"B", chip="TG85"), imagekeeper.NotFoundError, "chip-unknown"
    ),
    "unknown format": (lambda: imagekeeper.find_format("TG85"), imagekeeper.NotFoundError, "format-unknown"),
    "neither format nor file": (
        lambda: imagekeeper.match_drives("no.img"), imagekeeper.NotFoundError, "format-unknown"
    ),
    "unknown figure": (
        lambda: imagekeeper.fingerprint(b"TIDE", more=["crc-33"]), imagekeeper.UsageError, "unknown-name"
    ),
    "no facts": (lambda: imagekeeper.solve(), imagekeeper.UsageError, "usage"),
    "not writable": (
        lambda: imagekeeper.encode(b"TIDE", "mos-tape"), imagekeeper.UsageError, "not-writable-kind"
    ),
    "output taken": (lambda: imagekeeper.convert(b"TIDE", "u4-first.bin"), imagekeeper.UsageError, "exists"),
    "no place for the output": (
        lambda: imagekeeper.convert(b"TIDE", "no/such/folder.bin"), imagekeeper.UsageError, "cannot-write"
    ),
    "too large a chip": (
        lambda: imagekeeper.plan_chip("u4-first.bin", "b.hex", "2716"), imagekeeper.ContradictionError, "does-not-fit"
    ),
    "a drive that cannot": (
        lambda: imagekeeper.plan_disk("office.img", "w.img", "8in-one-side"), imagekeeper.ContradictionError,
        "drive-cannot",
    ),
    "unknown drive": (
        lambda: imagekeeper.plan_disk("office.img", "w.img", "grey box"), imagekeeper.NotFoundError, "drive-unknown"
    ),
    "no archive": (lambda: imagekeeper.Archive("harbour"), imagekeeper.NotFoundError, "archive-missing"),
    "an archive over another": (
        lambda: [imagekeeper.Archive.create("harbour", title="Harbour office") for _ in range(2)],
        imagekeeper.UsageError, "archive-exists",
    ),
    "an unknown kind of carrier": (
        lambda: harbour().add_carrier("tg85-u6", "biscuit"), imagekeeper.UsageError, "unknown-name"
    ),
    "an id that is no folder": (
        lambda: harbour().add_carrier("tg85/u6", "eprom"), imagekeeper.UsageError, "carrier-id"
    ),
    "no such carrier": (lambda: harbour().carrier("tg85-u6"), imagekeeper.NotFoundError, "carrier-missing"),
    "no such machine": (lambda: harbour().machine("tg85"), imagekeeper.NotFoundError, "machine-missing"),
    "no read to agree on": (lambda: harbour().agree("tg85-u4"), imagekeeper.NotFoundError, "no-reads"),
    "no agreed image": (lambda: harbour().image("tg85-u4"), imagekeeper.NotFoundError, "not-found"),
    "a voltage that is none": (
        lambda: harbour().add_reads("tg85-u4", "u4-first.bin", vcc="five"), imagekeeper.UsageError, "usage"
    ),
    "an unknown kind": (lambda: harbour().carriers(kind="eporm"), imagekeeper.UsageError, "unknown-name"),
    "no hits wanted": (lambda: harbour().search("u4", limit=0), imagekeeper.UsageError, "usage"),
    "nothing to search for": (lambda: harbour().search(), imagekeeper.UsageError, "usage"),
    "a byte to trim that is none": (
        lambda: imagekeeper.convert(b"TIDE", "w.img", trim=300), imagekeeper.UsageError, "usage"
    ),
    "a base below 0": (lambda: imagekeeper.encode(b"TIDE", "intel-hex", base=-1), imagekeeper.UsageError, "usage"),
    "a base below 0, written": (
        lambda: imagekeeper.convert(b"TIDE", "b.hex", base=-1), imagekeeper.UsageError, "usage"
    ),
    "rows of nothing": (lambda: imagekeeper.hexdump(b"TIDE", width=0), imagekeeper.UsageError, "usage"),
    "an address below 0": (lambda: imagekeeper.hexdump(b"TIDE", start=-1), imagekeeper.UsageError, "usage"),
    "a place before the chip": (
        lambda: imagekeeper.plan_chip(b"TIDE", "b.hex", "2716", offset=-1, fill=255), imagekeeper.UsageError, "usage"
    ),
    "no length": (lambda: imagekeeper.hexdump(b"TIDE", length=0), imagekeeper.UsageError, "usage"),
    "lines of nothing": (
        lambda: imagekeeper.text(imagekeeper.inspect(b"TIDE"), width=0), imagekeeper.UsageError, "usage"
    ),
    "a name with a NUL": (lambda: imagekeeper.read("a\0b"), imagekeeper.NotFoundError, "not-found"),
}  # fmt: skip

#: What is no mistake about chips or disks, but one about Python: what is told.
PYTHONS: dict[str, tuple[Callable[[], Any], str]] = {
    "a number": (lambda: imagekeeper.read(4), "a path, bytes or an Image is wanted, not int"),   # type: ignore[arg-type]
    "nothing": (lambda: imagekeeper.fingerprint(None), "not NoneType"),   # type: ignore[arg-type]
    "a list": (lambda: imagekeeper.compare(["a", "b"]), "not list"),   # type: ignore[arg-type]
    "bytes for an output": (lambda: imagekeeper.convert(b"A", b"out.bin"), "not bytes"),   # type: ignore[arg-type]
    "an unknown step": (lambda: imagekeeper.convert(b"A", "out.bin", flip=True), "'flip'"),   # type: ignore[call-arg]
    "an unknown keyword": (lambda: imagekeeper.read(b"A", kind="raw"), "'kind'"),   # type: ignore[call-arg]
    "a container for an image": (
        lambda: imagekeeper.read(imagekeeper.read(b"A"), container="raw"), "decoded already"
    ),
    "a tie by an unknown name": (lambda: imagekeeper.vote(b"A", b"B", b"C", ties="last"), "'last'"),   # type: ignore[arg-type]
    "votes of an unknown unit": (lambda: imagekeeper.vote(b"A", b"B", b"C", by="nibble"), "'nibble'"),   # type: ignore[arg-type]
    "an image of votes of an unknown unit": (
        lambda: imagekeeper.vote_image(b"A", b"B", b"C", by="nibble"), "'byte' or 'bit', not 'nibble'"   # type: ignore[arg-type]
    ),
    "a vote on a carrier by an unknown unit": (lambda: harbour().agree("tg85-u4", by_vote="nibble"), "'nibble'"),   # type: ignore[arg-type]
    "an unknown swap": (lambda: imagekeeper.convert(b"TIDE", "out.bin", swap="nibbles"), "'nibbles'"),   # type: ignore[arg-type]
    "an unknown end": (
        lambda: imagekeeper.convert(b"TIDE", "out.bin", pad_to=8, fill=255, pad_at="middle"), "'middle'"   # type: ignore[arg-type]
    ),
    "an unknown order of sides": (
        lambda: imagekeeper.convert("office.img", "out.bin", sides_from="odd", geometry="360K"), "'odd'"   # type: ignore[arg-type]
    ),
    "an unknown order of sides, planned": (
        lambda: imagekeeper.plan_disk("office.img", "out.bin", "5.25-48tpi", sides_to="odd"), "'odd'"   # type: ignore[arg-type]
    ),
    "an unknown order of sides, looked into": (
        lambda: imagekeeper.open_disk("office.img", sides_from="odd").__enter__(), "'odd'"   # type: ignore[arg-type]
    ),
    "an unknown level": (lambda: imagekeeper.substitute("27128", tied={1: "up"}), "pin 1 is 'high' or 'low', not 'up'"),   # type: ignore[dict-item]
    "a part that is a number": (
        lambda: harbour().add_carrier("tg85-u6", "eprom", part=27128), "part is text, not 27128"   # type: ignore[arg-type]
    ),
    "a machine that is a number": (lambda: harbour().add_machine("tg85", 85), "name is text, not 85"),   # type: ignore[arg-type]
    "a voltage that is a list": (
        lambda: harbour().add_reads("tg85-u4", "u4-first.bin", vcc=[5]), "vcc is a number or a text, not [5]"   # type: ignore[arg-type]
    ),
    "a date that is a number": (
        lambda: harbour().add_reads("tg85-u4", "u4-first.bin", date=2026), "date is a day, a time or a text"   # type: ignore[arg-type]
    ),
    "a time without a zone": (
        lambda: harbour().add_reads("tg85-u4", "u4-first.bin", date=datetime.datetime(2026, 3, 2, 8)), "no time zone"
    ),
    "an unknown grade": (lambda: harbour().carriers(grade="good"), "'good'"),
    "an unknown grade, searched": (lambda: harbour().search("tide", grade="good"), "'good'"),
    "a chip by a number": (lambda: imagekeeper.find_chip(2732), "part is text, not 2732"),   # type: ignore[arg-type]
    "a socket by a number": (lambda: imagekeeper.substitute(2732), "socket is text, not 2732"),   # type: ignore[arg-type]
    "a chip to plan by a number": (lambda: imagekeeper.plan_chip(b"A", "out.bin", 2732), "chip is text, not 2732"),   # type: ignore[arg-type]
    "a format by a number": (lambda: imagekeeper.find_format(360), "name is text, not 360"),   # type: ignore[arg-type]
    "a file by a number": (read_number_of_disk, "name is text, not 5"),
    "a window that is a text": (
        lambda: imagekeeper.convert(b"TIDE", "out.bin", window="3000:8K"), "window is a pair of whole numbers"   # type: ignore[arg-type]
    ),
    "a size that is a text": (
        lambda: imagekeeper.convert(b"TIDE", "out.bin", pad_to="8K", fill=0), "pad_to is a whole number"   # type: ignore[arg-type]
    ),
    "a flag that is a text": (lambda: imagekeeper.convert(b"A", "out.bin", invert="no"), "invert is True or False"),   # type: ignore[arg-type]
    "one remark for several": (
        lambda: harbour().add_reads("tg85-u4", "u4-first.bin", notes="dusty"), "several texts"
    ),
    "a remark that is a number": (
        lambda: harbour().add_reads("tg85-u4", "u4-first.bin", notes=(1,)), "note 1 is text, not 1"   # type: ignore[arg-type]
    ),
    "an operator that is a number": (lambda: imagekeeper.Archive(harbour().path, operator=1), "operator is text"),   # type: ignore[arg-type]
    "a note that is a number": (lambda: harbour().add_note("tg85-u4", 1), "text is text, not 1"),   # type: ignore[arg-type]
    "a picture of a chip": (lambda: imagekeeper.svg(imagekeeper.find_chip("2716")), "no picture of Chip"),   # type: ignore[arg-type]
    "a page of a chip": (lambda: imagekeeper.html(imagekeeper.find_chip("2716")), "no page of Chip"),   # type: ignore[arg-type]
}  # fmt: skip


@pytest.mark.parametrize("mistake", OURS)
def test_our_errors_say_what_why_and_what_to_do(folder: Path, mistake: str) -> None:
    do, kind, code = OURS[mistake]
    with pytest.raises(imagekeeper.ImagekeeperError) as told:
        do()
    problem = told.value
    assert (type(problem), problem.code) == (kind, code)
    assert problem.what
    assert problem.why
    assert problem.hint
    assert problem.exit_code == kind.exit_code
    assert not Path("b.hex").exists()
    assert not Path("w.img").exists()


@pytest.mark.parametrize("mistake", PYTHONS)
def test_a_wrong_kind_of_argument_is_a_type_error(folder: Path, mistake: str) -> None:
    do, text = PYTHONS[mistake]
    with pytest.raises(TypeError, match=re.escape(text)):
        do()
    assert not Path("out.bin").exists()
    if Path("harbour").exists():
        assert imagekeeper.Archive("harbour").audit().ok


#: An option, or the name of the program and a command.
OF_THE_COMMAND_LINE = re.compile(rf"(?<![\w-])--[a-z]|`?imagekeeper ({'|'.join(COMMANDS)})\b")


@pytest.mark.parametrize("mistake", OURS)
def test_no_message_speaks_of_the_command_line(folder: Path, mistake: str) -> None:
    with pytest.raises(imagekeeper.ImagekeeperError) as told:
        OURS[mistake][0]()
    said = f"{told.value.what} {told.value.why} {told.value.hint}"
    assert not OF_THE_COMMAND_LINE.search(said), said


def test_numbers_and_days_of_python_are_kept_as_exact_text(folder: Path) -> None:
    archive = harbour()
    archive.add_reads("tg85-u4", "u4-first.bin", vcc=5.0, temperature=-20.5, date=datetime.date(2026, 3, 2))
    moment = datetime.datetime(2026, 3, 2, 8, 30, tzinfo=datetime.UTC)
    Path("u4-again.bin").write_bytes(Path("u4-first.bin").read_bytes())
    archive.add_reads("tg85-u4", "u4-again.bin", vcc=4.75, temperature=20, date=moment)
    first, second = archive.carrier("tg85-u4").reads
    assert (first.vcc, first.temperature, first.date) == ("5.0", "-20.5", "2026-03-02")
    assert (second.vcc, second.temperature, second.date) == ("4.75", "20", "2026-03-02T08:30:00+00:00")


@pytest.mark.parametrize("volts", [0, 0.0, "0.00", 30.5, "500", -5.0])
def test_a_voltage_of_no_memory_chip_is_refused(folder: Path, volts: float | str) -> None:
    archive = harbour()
    with pytest.raises(imagekeeper.UsageError) as told:
        archive.add_reads("tg85-u4", "u4-first.bin", vcc=volts)
    assert told.value.code == ("usage" if volts == -5.0 else "odd-facts")
    assert not archive.carrier("tg85-u4").reads
