"""Each kind of contradiction, open, explained and absent, in every place where a verdict is shown."""

from __future__ import annotations

import csv
import io
import itertools
import json
import random
from collections.abc import Callable, Iterator
from contextlib import redirect_stdout
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.cli import run
from imagekeeper.jobs.carriers.agreeing import agree
from imagekeeper.jobs.carriers.keeping import Conditions, add_carrier, add_reads
from imagekeeper.jobs.carriers.testifying import add_trial, explain
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.session import Session, user
from imagekeeper.provenance import places
from imagekeeper.provenance.fields import write_json
from imagekeeper.provenance.reads import NotRead
from imagekeeper.provenance.references import parse_reference

_NUMBERS = itertools.count(1)
SESSION = Session(
    lambda: "2026-03-02T12:00:00Z", lambda: f"00000000-0000-4000-8000-{next(_NUMBERS):012d}", "harbour office"
)
SOUND = random.Random(85).randbytes(8192)
STUCK = bytes(byte | 8 for byte in SOUND)


@dataclass(frozen=True)
class Case:
    """A carrier that one thing speaks against; without `against` nothing does."""

    code: str
    data: bytes = SOUND
    against: Callable[[ArchiveStore, str], None] | None = None
    texts: tuple[tuple[str, str], ...] = ()


def _other_reference(archive: ArchiveStore, carrier_id: str) -> None:
    """As where another image was settled after the reference was given."""
    record = load_record(archive, carrier_id)
    assert record.agreed is not None
    changed = replace(record.agreed, references=(parse_reference("CBF43926", "an old listing"),))
    _write(archive, carrier_id, {places.AGREED: write_json(changed)})


def _failed(archive: ArchiveStore, carrier_id: str) -> None:
    add_trial(archive, carrier_id, "failed", SESSION, note="E3 on the display")


def _never_looked_at(archive: ArchiveStore, carrier_id: str) -> None:
    """As in an archive that is older than this rule."""
    _write(archive, carrier_id, {places.EXAMINATIONS: None})


def _not_read(archive: ArchiveStore, carrier_id: str) -> None:
    """As where every reader's list names the same stretch."""
    missed = (NotRead(start=512, length=512, state="bad", place="0/0/2"),)
    reads = load_record(archive, carrier_id).reads
    told = {places.read_record(read.id): write_json(replace(read, listed=True, not_read=missed)) for read in reads}
    _write(archive, carrier_id, told)


def _write(archive: ArchiveStore, carrier_id: str, changes: dict[str, Any]) -> None:
    head = archive.inventory(carrier_id).head
    archive.commit(carrier_id, changes, message="x", user=user(SESSION), now=SESSION.now(), expected_head=head)


CASES = (
    Case("data-line-stuck", STUCK), Case("blank", b"\xff" * 8192), Case("not-selected", b"\x55" * 8192),
    Case("floating-bus", bytes(range(256)) * 32), Case("mirrored", SOUND[:4096] * 2),
    Case("chip-size-differs", SOUND[:4096]),
    Case("part-unlike-marking", texts=(("markings", "M5L27128K\n8512"),)),
    Case("part-unlike-package", texts=(("package", "DIP 24, ceramic, with window"),)),
    Case("label-sum-differs", texts=(("label", "TG85 2.1 CS 0001"),)),
    Case("reference-differs", against=_other_reference), Case("trial-failed", against=_failed),
    Case("not-examined", against=_never_looked_at), Case("sectors-not-read", against=_not_read),
)  # fmt: skip
STATES = ("open", "explained", "absent")


def _named(case: Case, state: str) -> str:
    return f"{case.code}-{state}"


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Iterator[ArchiveStore]:
    folder = tmp_path_factory.mktemp("everywhere")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("IMAGEKEEPER_CACHE", str(folder / "cache"))
        with redirect_stdout(io.StringIO()):
            assert run(["archive", "init", str(folder / "archive")]) == 0
        store = ArchiveStore.open(folder / "archive")
        for case in CASES:
            for state in STATES:
                _keep(store, folder, case, state)
        yield store


def _keep(store: ArchiveStore, folder: Path, case: Case, state: str) -> None:
    name, absent = _named(case, state), state == "absent"
    texts = {} if absent else dict(case.texts)
    add_carrier(store, name, "eprom", SESSION, part="2764", **texts)
    for number, vcc in enumerate(("5.0", "4.75"), 1):
        file = folder / f"{name}-{number}.bin"
        file.write_bytes(SOUND if absent else case.data)
        conditions = Conditions(reader=("bench reader", "pocket reader")[number - 1], vcc=vcc)
        add_reads(store, name, [str(file)], Options(), conditions, SESSION)
    agree(store, name, SESSION)
    if not absent and case.against is not None:
        case.against(store, name)
    if state == "explained":
        record = explain(store, name, case.code, "a reason for the test", SESSION)
        for code in {one.code for one in record.standing.open} if record.standing else ():   # what comes along
            explain(store, name, code, "another reason", SESSION)


def _run(archive: ArchiveStore, *words: str) -> str:
    out = io.StringIO()
    with redirect_stdout(out):
        assert run([*words, "--archive", str(archive.path)]) in (0, 1, 4)   # 4: something is damaged
    return out.getvalue()


def _lines_of(text: str, name: str) -> str:
    """Keep the lines that are about one carrier: those that name it, and those that hang below."""
    kept, on = [], False
    for line in text.splitlines():
        if not line.startswith(" "):
            on = line.split(" ")[0].rstrip(":") == name
        if on:
            kept.append(line)
    return "\n".join(kept)


def _page(archive: ArchiveStore, name: str, tmp_path: Path) -> str:
    output = tmp_path / "pages"
    if not output.exists():
        _run(archive, "report", "-o", str(output))
    return (output / "carriers" / f"{name}.html").read_text("utf-8")


def _index_page(archive: ArchiveStore, name: str, tmp_path: Path) -> str:
    _page(archive, name, tmp_path)
    text = (tmp_path / "pages" / "index.html").read_text("utf-8")
    rows = [part for part in text.split("<tr>") if f"carriers/{name}.html" in part]
    return "".join(rows)


def _label(archive: ArchiveStore, name: str, tmp_path: Path) -> str:
    output = tmp_path / f"{name}.html"
    return _run(archive, "label", name, "-o", str(output), "--size", "100x60", "--json") + output.read_text("utf-8")


def _plan(archive: ArchiveStore, name: str, tmp_path: Path) -> str:
    sheet = tmp_path / "sheet.html"
    words = ("plan", "chip", "--carrier", name, "--chip", "2764", "-o", str(tmp_path / "planned.hex"), "--force")
    return _run(archive, *words, "--sheet", str(sheet)) + sheet.read_text("utf-8")


def _table(archive: ArchiveStore, name: str, tmp_path: Path) -> str:
    output = tmp_path / "carriers.csv"
    if not output.exists():
        _run(archive, "archive", "table", "-o", str(output))
    with output.open(encoding="utf-8-sig", newline="") as file:
        return next(row["open"] for row in csv.DictReader(file) if row["id"] == name)


PLACES: dict[str, Callable[[ArchiveStore, str, Path], str]] = {
    "carrier show": lambda a, n, t: _run(a, "carrier", "show", n),
    "carrier show, the strip": lambda a, n, t: "\n".join(_run(a, "carrier", "show", n).splitlines()[:2]),
    "carrier show --json": lambda a, n, t: json.dumps(json.loads(_run(a, "carrier", "show", n, "--json"))["standing"]),
    "carrier list": lambda a, n, t: _lines_of(_run(a, "carrier", "list"), n),
    "carrier list --json": lambda a, n, t: json.dumps(
        [one for one in json.loads(_run(a, "carrier", "list", "--json"))["carriers"] if one["id"] == n]
    ),
    "report, the carrier's page": _page,
    "report, the collection's page": _index_page,
}  # fmt: skip

#: Those that tell what is open, and have no room for what was explained.
OPEN_ONLY: dict[str, Callable[[ArchiveStore, str, Path], str]] = {
    "carrier list --todo": lambda a, n, t: _lines_of(_run(a, "carrier", "list", "--todo"), n),
    "search": lambda a, n, t: _run(a, "search", n),
    "label": _label,
    "archive table": _table,
    "plan chip": _plan,
    "carrier extract": lambda a, n, t: _run(a, "carrier", "extract", n, "-o", str(t / f"{n}.bin"), "--force"),
}  # fmt: skip


@pytest.fixture(scope="module")
def scratch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("shown")


def _verdict_of(text: str, name: str) -> str:
    """Leave the carrier's name out, which holds the code."""
    return text.replace(name, "ID")


@pytest.mark.parametrize("place", [*PLACES, *OPEN_ONLY])
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.code)
def test_what_is_open_is_said_wherever_a_verdict_is(
    archive: ArchiveStore, scratch: Path, case: Case, place: str
) -> None:
    name = _named(case, "open")
    if (case.code, place) == ("chip-size-differs", "plan chip"):
        return   # such an image fills no chip of the part, and there is no plan
    shown = {**PLACES, **OPEN_ONLY}[place](archive, name, scratch)
    assert case.code in _verdict_of(shown, name)


@pytest.mark.parametrize("place", list(PLACES))
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.code)
def test_what_was_explained_stays_beside_the_grade(
    archive: ArchiveStore, scratch: Path, case: Case, place: str
) -> None:
    name = _named(case, "explained")
    shown = _verdict_of(PLACES[place](archive, name, scratch), name)
    assert case.code in shown
    assert "explained" in shown


@pytest.mark.parametrize("place", [*PLACES, *OPEN_ONLY])
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.code)
def test_what_is_absent_is_not_said(archive: ArchiveStore, scratch: Path, case: Case, place: str) -> None:
    name = _named(case, "absent")
    if (case.code, place) == ("blank", "plan chip"):
        return   # a sheet speaks of blank chips anyway
    shown = {**PLACES, **OPEN_ONLY}[place](archive, name, scratch)
    assert case.code not in _verdict_of(shown, name)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.code)
def test_the_grade_rises_only_when_nothing_is_open(archive: ArchiveStore, case: Case) -> None:
    grades = {}
    for state in STATES:
        found = load_record(archive, _named(case, state)).standing
        assert found is not None
        grades[state] = found.grade
    assert grades == {"open": "repeated", "explained": "independent", "absent": "independent"}


@pytest.mark.parametrize("what", ["carrier show", "report, the carrier's page"])
def test_damage_comes_before_all_else(tmp_path: Path, what: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("IMAGEKEEPER_CACHE", str(tmp_path / "cache"))
    with redirect_stdout(io.StringIO()):
        assert run(["archive", "init", str(tmp_path / "archive")]) == 0
    store = ArchiveStore.open(tmp_path / "archive")
    case = Case("data-line-stuck", STUCK)
    _keep(store, tmp_path, case, "open")
    name = _named(case, "open")
    image = store.content_path(name, "reads/r1/image.bin")
    image.chmod(0o644)
    image.write_bytes(STUCK[:-1] + b"\x00")
    shown = PLACES[what](store, name, tmp_path)
    first = shown.lower().index("damaged")
    assert first < shown.index("repeated")
    assert first < shown.index("data-line-stuck", shown.index(name) + len(name)) or what == "carrier show"
    assert "restore the damaged files" in shown.lower()
