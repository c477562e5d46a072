"""The command demo: the whole job on invented data, each command shown before its output."""

from __future__ import annotations

import contextlib
import io
import os
import shlex
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import click

from imagekeeper.cli import _shell, run
from imagekeeper.cli._terminal import paint
from imagekeeper.errors import UsageError
from imagekeeper.files import display_name, unwritable
from imagekeeper.jobs import specimen
from imagekeeper.jobs.demonstration import Demonstration, DemoStep
from imagekeeper.present.text.demonstration import demo_files_text, demonstration_text

MACHINE = "--machine 'Quillmere TG-85' --board main"
BENCH = "--reader 'bench reader' --operator 'harbour office' --date 2026-03-02 --vcc 5.0"
POCKET = "--reader 'pocket reader' --operator 'harbour office' --date 2026-03-02 --vcc 4.75"

#: What is said, the command, and the exit code it must give.
STEPS: tuple[tuple[str, str, int], ...] = (
    (
        "The harbour office restores its tide recorder of 1985. Program chip U4 was read twice, by two readers.\n"
        "One left a raw file, the other Intel HEX; the figures are of what they hold.",
        "fingerprint u4-first.bin u4-second.hex", 0,
    ),
    ("Do the two reads agree?", "compare u4-first.bin u4-second.hex", 0),
    (
        "U5 was read twice as well. The answer is no: one data line, in one direction, over one stretch.",
        "compare u5-first.bin u5-second.bin --ranges 4 --picture u5.svg", 1,
    ),
    ("After cleaning its pins, U5 was read a third time.", "compare u5-first.bin u5-third.bin", 0),
    (
        "The character generator U17 came as a log of the recorder's own monitor, over a serial line.",
        "convert u17-first.log -o u17.bin", 0,
    ),
    ("A look at its letter A.", "hexdump u17.bin --start 410 --length 16", 0),
    (
        "The battery-backed memory U30 came as S-records; one line was hurt on the way. Nothing is taken on trust.",
        "fingerprint u30-first.s19", 3,
    ),
    ("It was sent again, and is whole.", "fingerprint u30-second.s19", 0),
    ("Now all of it is kept, with how it was read.", "archive init harbour --title 'Harbour office instruments'", 0),
    (
        "Each chip and disk gets a record.",
        f"carrier add tg85-u4 --kind eprom --part 27128 {MACHINE} --position U4 --label 'TG85 2.1 EVEN'", 0,
    ),
    ("", f"carrier add tg85-u5 --kind eprom --part 27128 {MACHINE} --position U5 --label 'TG85 2.1 ODD'", 0),
    ("", f"carrier add tg85-u17 --kind eprom --part 2716 {MACHINE} --position U17 --label 'CHARS'", 0),
    ("", f"carrier add tg85-u30 --kind ram --part 6116 {MACHINE} --position U30 --note 'battery 2.9 V'", 0),
    ("", "carrier add tg85-disk --kind floppy --machine 'Quillmere TG-85' --position 'drive A' --label STATION", 0),
    ("Its reads go in as they are, with the conditions.", f"carrier read tg85-u4 u4-first.bin {BENCH}", 0),
    ("", f"carrier read tg85-u4 u4-second.hex {POCKET}", 0),
    ("What do they prove?", "carrier agree tg85-u4", 0),
    ("", f"carrier read tg85-u5 u5-first.bin u5-second.bin {BENCH}", 0),
    ("U5's reads differ; nothing is chosen for us.", "carrier agree tg85-u5", 1),
    ("", "carrier read tg85-u17 u17-first.log --reader 'own monitor' --date 2026-03-02", 0),
    ("", f"carrier read tg85-u17 u17-second.bin {BENCH}", 0),
    ("", "carrier agree tg85-u17", 0),
    ("", f"carrier read tg85-u30 u30-second.s19 {BENCH}", 0),
    ("", "carrier agree tg85-u30", 0),
    ("", "carrier read tg85-disk disk-first.img disk-second.img --reader 'bench drive' --date 2026-03-02", 0),
    ("", "carrier agree tg85-disk", 0),
    ("Where does the machine stand?", "carrier list", 0),
    ("After cleaning, U5 was read a third time, and the majority is accepted.",
     f"carrier read tg85-u5 u5-third.bin {POCKET}", 0),
    ("", "carrier agree tg85-u5 --by-vote byte", 0),
    ("The two chips make one program; the steps are kept with it.",
     "carrier derive tg85-u4 --join tg85-u5 --title 'whole program'", 0),
    ("What is still to be done?", "carrier list --todo", 0),
    ("What disk is it? The file does not show its size, so the label must.", "floppy solve disk-first.img", 0),
    ("Which drive could write it again?", "floppy drives '720K 5.25'", 0),
    ("The office has only a 1.2 MB drive. Its plan, and the file for the writer.",
     "plan disk disk-first.img --format '720K 5.25' --drive 5.25-96tpi-hd-360 -o write.img", 0),
    ("U4 fades. A 27C256 from the drawer would do in its socket; the sheet for the bench says how.",
     "plan chip u4-first.bin --chip 27C256 --socket 27128 -o u4-new.hex", 0),
    ("The new chip was read back (a copy of the file stands in for it here).",
     "convert u4-new.hex -o back-bench.bin", 0),
    ("", "carrier replace tg85-u4 back-bench.bin --written u4-new.hex --part 27C256 --reader bench --vcc 5.0 "
     "--date 2026-03-03", 0),
    ("One read-back is not enough.", "convert u4-new.hex -o back-pocket.bin", 0),
    ("", "carrier replace tg85-u4 back-pocket.bin --add-to w1 --reader pocket --vcc 4.75 --date 2026-03-03", 0),
    ("One carrier in full.", "carrier show tg85-u4", 0),
    ("Is this file kept already?", "search --file u17.bin", 0),
    ("Pages to look at.", "report -o pages", 0),
    ("A second copy, on another disk.", "archive replicate copy", 0),
    ("Everything is read again and held against its digests, and the joined and voted images are made again.",
     "archive audit --rebuild-derived", 0),
)  # fmt: skip


@click.command(epilog="Example: imagekeeper demo --into tide-recorder")
@click.option("--into", metavar="DIR", help="Keep the files there, in a new folder, instead of a scratch folder.")
@click.option(
    "--files", "only_files", metavar="DIR",
    help="Only write the invented files there, for trying the commands of the documentation by hand.",
)
@_shell.json_option
def demo(into: str | None, only_files: str | None, as_json: bool) -> int:
    """Show the whole job on invented data: the tide recorder of a harbour office.

    Each command is printed before its output. Without --into everything happens in a scratch folder that is removed
    afterwards; your own archive is never touched.
    """
    if only_files is not None:
        if into is not None:
            raise click.UsageError("--files writes the files alone and --into shows the job: choose one of them")
        names = specimen.write(Path(only_files))
        return _shell.show(Demonstration((), True, display_name(only_files), names), demo_files_text, as_json)
    with _folder(into) as folder, _surroundings(folder):
        specimen.write(folder)
        steps = tuple(_step(*step, quiet=as_json) for step in STEPS)
    result = Demonstration(steps, all(s.exit_code == s.expected for s in steps), into and display_name(into))
    return _shell.show(result, demonstration_text, as_json)


def _step(words: str, command: str, expected: int, *, quiet: bool) -> DemoStep:
    arguments = shlex.split(command)
    if quiet:
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
            code = run(arguments)
    else:
        if words:
            _shell.write("\n" + "\n".join(f"# {line}" for line in words.splitlines()))
        _shell.write("\n" + paint(f"$ imagekeeper {command}", "strong"))
        # errors belong to the story here, so they keep their place in it
        with contextlib.redirect_stderr(sys.stdout):
            code = run(arguments)
    return DemoStep(command, code, expected)


@contextlib.contextmanager
def _folder(into: str | None) -> Iterator[Path]:
    if into is None:
        with tempfile.TemporaryDirectory(prefix="imagekeeper-demo-") as scratch:
            yield Path(scratch)
        return
    try:
        Path(into).mkdir()
    except FileExistsError as problem:
        raise UsageError("exists/demonstration", name=display_name(into)) from problem
    except OSError as problem:
        raise unwritable(display_name(into), problem) from problem
    yield Path(into).resolve()


@contextlib.contextmanager
def _surroundings(folder: Path) -> Iterator[None]:
    """Work inside the folder, with its own archive, and an index that goes with it."""
    here = os.getcwd()
    before = {name: os.environ.get(name) for name in ("IMAGEKEEPER_ARCHIVE", "IMAGEKEEPER_CACHE")}
    with tempfile.TemporaryDirectory(prefix="imagekeeper-cache-") as cache:
        os.environ |= {"IMAGEKEEPER_ARCHIVE": "harbour", "IMAGEKEEPER_CACHE": cache}
        os.chdir(folder)
        try:
            yield
        finally:
            os.chdir(here)
            for name, value in before.items():
                if value is None:
                    os.environ.pop(name, None)
                else:
                    os.environ[name] = value
