"""Write the generated pages, and the true output of every session in the documentation.

    python docs/generate.py          rewrite what is out of date
    python docs/generate.py --check  change nothing; exit 1 and name what is out of date

Generated whole: the pages and files of docs/reference/ that `GENERATED` names.
Generated in part: in README.md and docs/**/*.md, whatever follows a line `$ imagekeeper ...` inside a ```console block.
The sessions of one page run one after the other, in a folder that is empty at first, with the clock stopped: whoever
types what stands there gets what stands there. A command that should fail is followed by its exit code on a line of its
own: `(exit code 3)`.
"""

from __future__ import annotations

import difflib
import io
import json
import os
import re
import shlex
import subprocess
import sys
import tempfile
import textwrap
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from copy import copy
from importlib import import_module
from pathlib import Path
from typing import Any

import click
import python_blocks  # beside this script
import python_pages

from imagekeeper import errors, findings, tables
from imagekeeper.cli import COMMANDS, root, run
from imagekeeper.cli.next_steps import NEXT
from imagekeeper.containers.kinds import TEXT_KINDS
from imagekeeper.jsonable import schema_of
from imagekeeper.provenance.events import EVENT_TYPES
from imagekeeper.provenance.kinds import KINDS
from imagekeeper.sentences.say import MODULES
from imagekeeper.sentences.says import Says

ROOT = Path(__file__).resolve().parent.parent
REFERENCE = ROOT / "docs" / "reference"

#: The clock of the sessions: 2 March 2026, 12:00 UTC.
SESSION_TIME = "1772452800"

NOTICE = "<!-- Written by docs/generate.py: change the code or that script, not this page. -->\n\n"


def documents() -> dict[str, type]:
    """Every class that is a JSON document, by its schema's name."""
    from imagekeeper.archive.audits.audit_report import Audit
    from imagekeeper.archive.exchange.repair_report import Repaired
    from imagekeeper.archive.exchange.replica import Replica
    from imagekeeper.chips import Chip, ChipList
    from imagekeeper.chips.unmarked import UnknownChip
    from imagekeeper.comparison.comparison import Comparison
    from imagekeeper.comparison.majority import Majority
    from imagekeeper.drives import DriveMatch
    from imagekeeper.drives.bench import Bench
    from imagekeeper.drives.connections import ConnectionList
    from imagekeeper.fingerprints import Fingerprints
    from imagekeeper.floppy.formats import Format, FormatList
    from imagekeeper.floppy.layout import TrackLayout
    from imagekeeper.floppy.other_formats import OtherFormat
    from imagekeeper.geometry import GeometrySolution
    from imagekeeper.hexdumps import Hexdump
    from imagekeeper.inspection.results import Inspection
    from imagekeeper.jobs.archive.checking import CarrierList, Founded, Reindexed
    from imagekeeper.jobs.archive.exchanging import Import
    from imagekeeper.jobs.archive.exporting import Export
    from imagekeeper.jobs.archive.searching import Search
    from imagekeeper.jobs.bench.interchanging import InterchangeNoted
    from imagekeeper.jobs.carriers.agreeing import Agreement
    from imagekeeper.jobs.carriers.corroborating import Corroboration
    from imagekeeper.jobs.carriers.deriving import Derived
    from imagekeeper.jobs.carriers.describing import MachineList
    from imagekeeper.jobs.carriers.erasing import Erasure
    from imagekeeper.jobs.carriers.extracting import Extraction
    from imagekeeper.jobs.carriers.replacing import Replaced
    from imagekeeper.jobs.carriers.tabulating import FilledIn, Table
    from imagekeeper.jobs.carriers.urging import Todo
    from imagekeeper.jobs.chips.planning import ChipPlan
    from imagekeeper.jobs.demonstration import Demonstration
    from imagekeeper.jobs.disks.checking_files import FileCheck
    from imagekeeper.jobs.disks.extracting_files import FileExtraction
    from imagekeeper.jobs.disks.listing_files import FileList
    from imagekeeper.jobs.disks.mapping_sectors import SectorMap
    from imagekeeper.jobs.disks.merging_sectors import DiskMerge
    from imagekeeper.jobs.disks.planning import DiskPlan
    from imagekeeper.jobs.pages.labelling import Labels
    from imagekeeper.jobs.pages.reporting import Report
    from imagekeeper.jobs.reads.converting import Conversion
    from imagekeeper.provenance.machines import MachineRecord
    from imagekeeper.provenance.records import CarrierRecord
    from imagekeeper.selfchecks.results import SelfCheck
    from imagekeeper.substitution import Substitution

    classes: tuple[Any, ...] = (
        Fingerprints, Hexdump, Inspection, Comparison, Majority, SelfCheck, Conversion, CarrierRecord, Agreement,
        CarrierList, Founded, Audit, Replica, Repaired, Reindexed, Demonstration, ChipList, Chip, FormatList, Format,
        TrackLayout, OtherFormat,
        Export, Import, Table, FilledIn, Corroboration, MachineRecord, MachineList, Todo, Extraction, Derived, DiskPlan,
        Erasure,
        ChipPlan, Replaced, Search,
        DriveMatch, Bench, ConnectionList, InterchangeNoted, Report, Labels,
        GeometrySolution, Substitution, UnknownChip, FileList, FileExtraction, FileCheck, DiskMerge, SectorMap,
    )  # fmt: skip
    return {cls.SCHEMA: cls for cls in classes}


def error_schema() -> dict[str, Any]:
    """The schema of a failure."""
    text = {"type": "string"}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "error/1",
        "type": "object",
        "description": "What went wrong; written to standard output with --json, in place of the result.",
        "properties": {
            "schema": {"const": "error/1"},
            "code": {"enum": sorted(errors.CODES), "description": "What kind of failure it is."},
            "what": {**text, "description": "The failure, as a sentence without a full stop."},
            "why": {**text, "description": "What was found and what was expected."},
            "hint": {**text, "description": "What to do next."},
            "where": {"anyOf": [{"type": "null"}, {**schema_of(errors.Where), "$schema": None}]},
        },
        "required": ["schema", "code", "what", "why", "hint", "where"],
        "additionalProperties": False,
    }


def without_dialect(schema: Any) -> Any:
    """Drop the mark of a schema that was put inside another."""
    if isinstance(schema, dict):
        return {k: without_dialect(v) for k, v in schema.items() if not (k == "$schema" and v is None)}
    return [without_dialect(v) for v in schema] if isinstance(schema, list) else schema


def commands() -> Iterator[tuple[str, click.Command]]:
    """Every command with its full name, groups included."""
    context = click.Context(root, info_name="imagekeeper")
    for name in COMMANDS:
        command = root.get_command(context, name)
        assert command is not None
        yield from _with_inner(name, command)


def _with_inner(name: str, command: click.Command) -> Iterator[tuple[str, click.Command]]:
    yield name, command
    if isinstance(command, click.Group):
        for below, inner in command.commands.items():
            yield from _with_inner(f"{name} {below}", inner)


def commands_page() -> str:
    """The reference of commands, from their own help."""
    parts = ["# Commands\n"]
    top = click.Context(root, info_name="imagekeeper", max_content_width=100, terminal_width=100)
    parts.append("```text\n" + root.get_help(top) + "\n```\n")
    for name, command in commands():
        above = click.Context(root, info_name="imagekeeper")
        *groups, last = name.split()
        for group in groups:
            above = click.Context(root, info_name=group, parent=above)
        command = copy(command)   # a command remembers its option --help, which is another in a session's own context
        context = click.Context(command, info_name=last, parent=above, max_content_width=100, terminal_width=100)
        parts.append(f"## {name}\n\n```text\n{command.get_help(context)}\n```\n")
    return "\n".join(parts)


def table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    """A Markdown table."""
    lines = [f"| {' | '.join(head)} |", f"| {' | '.join('---' for _ in head)} |"]
    for row in rows:
        cells = [cell.replace("|", "\\|") for cell in row]
        lines.append(f"| {' | '.join(cells)} |")
    return "\n".join(lines) + "\n"


def codes_page() -> str:
    """Exit codes, error codes and finding codes."""
    exits = table(("exit code", "meaning"), [(str(c), m) for c, m in errors.EXIT_CODES.items()])
    errs = table(("error code", "meaning"), [(f"`{c}`", m) for c, m in errors.CODES.items()])
    finds = table(("finding code", "meaning"), [(f"`{c}`", m) for c, m in findings.CODES.items()])
    return (
        f"# Exit codes, errors and findings\n\n## Exit codes\n\n{exits}\n## Errors\n\n"
        f"An error stops the command. It says what, why, where and what to do next.\n\n{errs}\n## Findings\n\n"
        f"A finding is noticed on the way; the command goes on.\n\n{finds}"
    )


def as_code(text: str) -> str:
    """A text as code, with what marks code in it."""
    return f"`` {text} ``" if "`" in text else f"`{text}`"


def sentences_page() -> str:
    """What is said of every code, in the order in which it stands in the code."""
    parts = [
        "# Sentences\n\nWhat errors and findings say: what went wrong, the evidence for it, and what to do next. A key "
        "is a code, or a code and the name of a case; what has no *what* is a finding, or a part of another sentence. "
        "Braces hold values. The commands say some of it by the names of their own options: those words stand second.\n"
    ]
    for name in MODULES:
        module = import_module(f"imagekeeper.sentences.{name}")
        rows = []
        for key, says in module.SAYS.items():
            own = NEXT.get(key, Says())
            cells = [
                "<br>".join(as_code(text) for text in (getattr(says, part), getattr(own, part)) if text)
                for part in ("what", "why", "next")
            ]
            rows.append((f"`{key}`", *cells))
        parts.append(f"## {module.__doc__.rstrip('.')}\n\n" + table(("key", "what", "why", "next"), rows))
    return "\n".join(parts)


def containers_page() -> str:
    """The kinds of container."""
    rows = [("`raw`", "the bytes as they are", "read and written", "none")]
    rows += [(f"`{k.name}`", k.title, "read and written" if k.write else "read", k.source) for k in TEXT_KINDS]
    rows += [
        ("gzip", "around any of these", "read", "RFC 1952"),
        ("zip", "around any of these, one member at a time, stored or deflated", "read", "PKWARE, APPNOTE.TXT"),
    ]
    return "# Containers\n\n" + table(("kind", "what it is", "here", "source"), rows)


def words_page() -> str:
    """Kinds of carrier, event types, and CRCs."""
    kinds = table(("kind", "what it is"), [(f"`{k}`", v) for k, v in KINDS.items()])
    events = table(
        ("event type", "URI"),
        [(t, f"`http://id.loc.gov/vocabulary/preservation/eventType/{c}`") for t, c in EVENT_TYPES.items()],
    )
    crcs = table(
        ("name", "width", "polynomial", "initial", "reflected", "final", "check", "met in"),
        [
            (
                r.name, str(r.width), f"{r.poly:0{r.width // 4}X}", f"{r.init:0{r.width // 4}X}",
                "yes" if r.reflected else "no", f"{r.xorout:0{r.width // 4}X}", f"{r.check:0{r.width // 4}X}", r.used,
            )
            for r in tables.crcs().values()
        ],
    )  # fmt: skip
    return (
        f"# Lists\n\n## Kinds of carrier\n\n{kinds}\n## Event types\n\nThe names are those of the PREMIS event type "
        f"vocabulary of the Library of Congress; these are the ones in use here.\n\n{events}\n"
        "## Cyclic redundancy checks\n\nNames and parameters are those of the catalogue of parametrised CRC "
        f"algorithms; the check is the CRC of the nine characters `123456789`.\n\n{crcs}"
    )


def json_page() -> str:
    """The JSON documents, with links to their schemas."""
    rows = [
        (f"`{name}`", (cls.__doc__ or "").partition("\n")[0], f"[schema](schemas/{file_of(name)})")
        for name, cls in documents().items()
    ]
    rows.append(("`error/1`", "What went wrong, in place of any of these.", f"[schema](schemas/{file_of('error/1')})"))
    return (
        "# JSON documents\n\nWith `--json` a command writes exactly one of these to standard output, for success and "
        "failure alike. Unknown is `null`. Digests are in lower case; CRCs and sums in upper case, in full width.\n\n"
        + table(("document", "what it says", "JSON Schema"), rows)
    )


def file_of(schema: str) -> str:
    """The file name of a schema."""
    return schema.replace("/", "-") + ".json"


def generated() -> dict[Path, str]:
    """Every generated file with its content."""
    files = {
        REFERENCE / "commands.md": NOTICE + commands_page(),
        REFERENCE / "codes.md": NOTICE + codes_page(),
        REFERENCE / "sentences.md": NOTICE + sentences_page(),
        REFERENCE / "containers.md": NOTICE + containers_page(),
        REFERENCE / "lists.md": NOTICE + words_page(),
        REFERENCE / "json.md": NOTICE + json_page(),
    }
    schemas = {name: schema_of(cls) for name, cls in documents().items()} | {"error/1": without_dialect(error_schema())}
    for name, schema in schemas.items():
        files[REFERENCE / "schemas" / file_of(name)] = json.dumps(schema, indent=2, ensure_ascii=False) + "\n"
    return files


class Sessions:
    """Runs the sessions of one page in a scratch folder of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.environment = {
            **os.environ,
            "SOURCE_DATE_EPOCH": SESSION_TIME, "NO_COLOR": "1",
            "IMAGEKEEPER_CACHE": str(folder / ".cache"), "COLUMNS": "100",
            "XDG_CONFIG_HOME": str(folder / ".config"),   # nobody's own rows
        }  # fmt: skip
        for name in ("IMAGEKEEPER_ARCHIVE", "IMAGEKEEPER_OPERATOR", "IMAGEKEEPER_TABLES"):
            self.environment.pop(name, None)

    def block(self, text: str) -> str:
        """Run the commands of one block and give it with their true output."""
        out = []
        for line in text.splitlines():
            if line.startswith("$ cd "):
                self.folder = (self.folder / line[5:]).resolve()
                out += ["", line] if out else [line]
            elif line.startswith(("$ imagekeeper", "$ python ")):
                if out and not out[-1].startswith("$ cd "):
                    out.append("")
                out += [line, *self.output(line[2:])]
        return "\n".join(out) + "\n"

    def output(self, command: str) -> list[str]:
        program, *arguments = shlex.split(command)
        if program == "python":
            done = subprocess.run(
                [sys.executable, "-u", "-X", "dev", "-W", "error", *arguments], cwd=self.folder, env=self.environment,
                stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, encoding="utf-8", check=False,
            )  # fmt: skip
            code, told = done.returncode, done.stdout
        else:
            with at(self.folder, self.environment), written() as text:
                code = run(arguments)
            told = text()
        lines = told.splitlines()
        return [*lines, f"(exit code {code})"] if code else lines


@contextmanager
def at(folder: Path, environment: dict[str, str]) -> Iterator[None]:
    """Be in a folder, with an environment."""
    here, before = Path.cwd(), dict(os.environ)
    os.chdir(folder)
    os.environ.clear()
    os.environ.update(environment)
    try:
        yield
    finally:
        os.chdir(here)
        os.environ.clear()
        os.environ.update(before)


@contextmanager
def written() -> Iterator[Callable[[], str]]:
    """Collect what a command writes in this process to either of its outputs, in the order in which a pipe gets it.

    A process for each of the commands would take five times as long.
    """
    streams = sys.stdin, sys.stdout, sys.stderr
    with tempfile.TemporaryFile() as kept:

        def stream(*, line_buffering: bool) -> io.TextIOWrapper:
            own = os.fdopen(os.dup(kept.fileno()), "wb")
            return io.TextIOWrapper(own, "utf-8", newline="", line_buffering=line_buffering)

        def text() -> str:
            return whole.decode("utf-8")

        sys.stdin = io.TextIOWrapper(io.BytesIO())
        sys.stdout, sys.stderr = stream(line_buffering=False), stream(line_buffering=True)
        try:
            yield text
        finally:
            sys.stderr.close()
            sys.stdout.close()
            sys.stdin, sys.stdout, sys.stderr = streams
            kept.seek(0)
            whole = kept.read()


def with_sessions(text: str, folder: Path, name: str = "page") -> str:
    """Give a page with the true output of its sessions and of its Python blocks.

    Raises:
        python_blocks.BlockError: A Python block fails.
    """
    sessions = Sessions(folder)
    python = python_blocks.Blocks(name)

    def block(match: re.Match[str]) -> str:
        printed, indent = match["printed"] or "", match["indent"]
        if match["kind"] == "python":
            with at(sessions.folder, sessions.environment):
                out = python.run(textwrap.dedent(match["session"]))
            before = match[0].removesuffix(printed)
            return f"{before}\n\n{indent}```text\n{textwrap.indent(out, indent)}{indent}```" if printed else before
        session = sessions.block(textwrap.dedent(match["session"]))
        assert session.strip(), f"a session without a command: {match[0]}"
        return f"{indent}```console\n{textwrap.indent(session, indent)}{indent}```{printed}"

    pattern = (
        r"^(?P<indent> *)```(?P<kind>console|python)\n(?P<session>.*?)^(?P=indent)```"
        r"(?P<printed>\n\n(?P=indent)```text\n.*?^(?P=indent)```)?"
    )
    return re.sub(pattern, block, text, flags=re.DOTALL | re.MULTILINE)


def door_pages() -> dict[str, str]:
    """The pages on the public door, with what their examples gave; each script runs in a folder of its own."""
    found = {}
    for name, text in python_pages.pages().items():
        with tempfile.TemporaryDirectory() as scratch:
            found[name] = with_sessions(text, Path(scratch), name)
    sections = [python_pages.SCRIPTS_HEAD]
    for script in python_pages.SCRIPTS:
        with tempfile.TemporaryDirectory() as scratch:
            Sessions(Path(scratch)).output("imagekeeper demo --files .")
            source = (python_pages.EXAMPLES / f"{script}.py").read_text("utf-8")
            Path(scratch, f"{script}.py").write_text(source, "utf-8")
            sections.append(with_sessions(python_pages.section(script, source), Path(scratch), script))
    return found | {"scripts.md": "\n".join(sections)}


PICTURE = ROOT / "docs" / "differences.svg"


def picture() -> str:
    """The picture of README.md: the difference map of the demonstration's two reads of U5."""
    with tempfile.TemporaryDirectory() as scratch:
        sessions = Sessions(Path(scratch))
        sessions.output("imagekeeper demo --files .")
        sessions.output("imagekeeper compare u5-first.bin u5-second.bin --picture picture.svg")
        return Path(scratch, "picture.svg").read_text("utf-8")


def pages() -> Iterator[Path]:
    """The pages that may hold sessions."""
    yield ROOT / "README.md"
    yield ROOT / "DEVELOPERS.md"
    found = sorted((ROOT / "docs").rglob("*.md"))
    yield from (page for page in found if REFERENCE not in page.parents and "_build" not in page.parts)


def main() -> int:
    """Write or check everything."""
    check = "--check" in sys.argv[1:]
    wanted = generated() | {PICTURE: picture()}
    for page in pages():
        with tempfile.TemporaryDirectory() as scratch:
            wanted[page] = with_sessions(page.read_text("utf-8"), Path(scratch), page.name)
    wanted |= {REFERENCE / "python" / name: NOTICE + text for name, text in door_pages().items()}
    stale = 0
    for path, text in wanted.items():
        old = path.read_text("utf-8") if path.exists() else ""
        if old == text:
            continue
        stale += 1
        name = str(path.relative_to(ROOT))
        if check:
            print(f"out of date: {name}")
            changes = difflib.unified_diff(old.splitlines(True), text.splitlines(True), "is", "should be")
            print("".join(list(changes)[:40]))
        else:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, "utf-8")
            print(f"written: {name}")
    leftover = {p for p in REFERENCE.rglob("*") if p.is_file()} - set(wanted) if REFERENCE.exists() else set()
    for path in sorted(leftover):
        print(f"nothing generates {path.relative_to(ROOT)}: remove it")
    return 1 if check and (stale or leftover) else 0


if __name__ == "__main__":
    sys.exit(main())
