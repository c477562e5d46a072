"""Exports and their log, tables for spreadsheets, and lists of reference digests."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import random
import zlib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.archive.audits.audit import audit
from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ArchiveError, InputError, NotFoundError, UsageError
from imagekeeper.jobs.archive.exporting import EXCHANGES, export
from imagekeeper.jobs.carriers import describing, keeping
from imagekeeper.jobs.carriers.agreeing import agree
from imagekeeper.jobs.carriers.corroborating import Corroboration, corroborate
from imagekeeper.jobs.carriers.csv_tables import guarded, read_sheet, unguarded, without_unseen, write_sheet
from imagekeeper.jobs.carriers.tabulating import COLUMNS, FilledIn, fill_in, table
from imagekeeper.provenance.facts import insist
from tests.archive.harbour import Clock, found, keep, records, tree
from tests.conftest import open_to_others, unprivileged
from tests.refusals import refuses

CHIP = random.Random(85).randbytes(2048)


@pytest.fixture(autouse=True)
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("IMAGEKEEPER_CACHE", str(tmp_path / "cache"))


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def archive(tmp_path: Path, clock: Clock) -> ArchiveStore:
    """Two carriers of one machine, one by its name and one by its id; a third that belongs to none."""
    archive = found(tmp_path / "harbour", clock)
    session = clock.session()
    describing.add_machine(archive, "tg85", "Quillmere TG-85", session)
    keeping.add_carrier(archive, "tg85-u4", "eprom", session, part="2716", machine="tg85", label="TG85 2.1\n\"EVEN\"")
    keeping.add_carrier(archive, "tg85-u5", "eprom", session, machine="quillmere TG-85", note="=1+1", decide=insist)
    keeping.add_carrier(archive, "box-1", "floppy", session)
    keep(archive, "tg85-u4", CHIP, clock)
    agree(archive, "tg85-u4", session)
    return archive


# --- export ---


def test_a_machine_goes_with_its_carriers(archive: ArchiveStore, clock: Clock, tmp_path: Path) -> None:
    for number, name in enumerate(("tg85", "QUILLMERE TG-85")):
        result = export(archive, str(tmp_path / f"bag{number}"), clock.session(), machine=name)
        assert (result.carriers, result.machines) == (("tg85-u4", "tg85-u5"), ("tg85",))
    result = export(archive, str(tmp_path / "one"), clock.session(), ids=["tg85-u5"])
    assert (result.carriers, result.machines) == (("tg85-u5",), ("tg85",))
    result = export(archive, str(tmp_path / "box"), clock.session(), ids=["box-1"])
    assert (result.carriers, result.machines) == (("box-1",), ())
    bagged = ArchiveStore.open(tmp_path / "one" / "data")   # the payload is an archive of its own
    assert bagged.ids() == ("tg85", "tg85-u5")
    assert records(bagged)["tg85-u5"] == records(archive)["tg85-u5"]


@pytest.mark.parametrize(("ids", "machine"), [(["tg85-u9"], None), ((), "nothing")])
def test_what_is_not_there_is_not_exported(
    archive: ArchiveStore, clock: Clock, tmp_path: Path, ids: list[str], machine: str | None
) -> None:
    with refuses(NotFoundError, "carrier-missing" if ids else "machine-missing", "there is no such"):
        export(archive, str(tmp_path / "bag"), clock.session(), ids=ids, machine=machine)
    assert not (tmp_path / "bag").exists()


def test_an_export_changes_no_carrier_and_is_noted_in_the_log(
    archive: ArchiveStore, clock: Clock, tmp_path: Path
) -> None:
    before = tree(archive.root)
    assert export(archive, str(tmp_path / "bag.zip"), clock.session("Berta")).noted
    assert tree(archive.root) == before
    (line,) = (archive.log / EXCHANGES).read_text().splitlines()
    noted = json.loads(line)
    assert (noted["what"], noted["by"], noted["carriers"]) == ("export", "Berta", ["box-1", "tg85-u4", "tg85-u5"])
    assert audit(archive, now=clock.now()).ok


def test_an_archive_that_cannot_be_written_to_is_exported_all_the_same(
    archive: ArchiveStore, clock: Clock, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    out.chmod(0o777)
    (tmp_path / "cache").mkdir(exist_ok=True)
    (tmp_path / "cache").chmod(0o777)
    open_to_others(tmp_path)
    places = [archive.path, *archive.path.rglob("*")]
    for path in places:
        path.chmod(0o555 if path.is_dir() else 0o444)
    before = tree(archive.path)
    with unprivileged():
        result = export(archive, str(out / "bag"), clock.session())
    for path in places:
        path.chmod(0o755 if path.is_dir() else 0o644)
    assert not result.noted
    assert len(result.carriers) == 3
    assert tree(archive.path) == before


def test_what_is_damaged_is_not_handed_on(archive: ArchiveStore, clock: Clock, tmp_path: Path) -> None:
    stored = archive.content_path("tg85-u4", "reads/r1/image.bin")
    stored.write_bytes(CHIP[:-1] + b"\0")
    with pytest.raises(ArchiveError) as caught:
        export(archive, str(tmp_path / "bag"), clock.session(), ids=["tg85-u4"])
    assert caught.value.code == "archive-damaged"
    assert not (tmp_path / "bag").exists()
    result = export(archive, str(tmp_path / "bag"), clock.session())   # the rest can be
    assert ([one.id for one in result.set_aside], result.exit_code) == (["tg85-u4"], 4)
    assert "tg85-u4" not in result.carriers
    assert not list((tmp_path / "bag").rglob("tg85-u4"))


def test_a_stray_file_stays_behind(archive: ArchiveStore, clock: Clock, tmp_path: Path) -> None:
    (archive.object_path("box-1") / "Thumbs.db").write_bytes(b"x")
    export(archive, str(tmp_path / "bag"), clock.session())
    assert not list((tmp_path / "bag").rglob("Thumbs.db"))


# --- tables ---


@given(st.text())
def test_the_guard_can_be_taken_away_again(text: str) -> None:
    assert unguarded(guarded(text)) == text
    # OWASP, "CSV Injection" (from memory): what begins so is taken for a formula
    assert guarded(text)[:1] not in ("=", "+", "-", "@", "\t", "\r")


@given(st.lists(st.lists(st.text(st.characters(codec="utf-8", exclude_characters="\0")), min_size=2, max_size=2)))
def test_any_table_comes_back(tmp_path_factory: pytest.TempPathFactory, rows: list[list[str]]) -> None:
    path = tmp_path_factory.mktemp("any") / "t.csv"
    path.write_bytes(write_sheet(["id", "label"], rows, bom=len(rows) % 2 == 1))
    sheet = read_sheet(str(path), ("id", "label"), need=("id",))
    said = [row for row in rows if any(guarded(without_unseen(cell)).strip() for cell in row)]
    wanted = [[cell.replace("\r\n", "\n") for cell in row] for row in said]
    assert [[line.cells["id"], line.cells["label"]] for line in sheet.lines] == wanted


def test_a_table_is_what_the_standard_says(archive: ArchiveStore, tmp_path: Path) -> None:
    result = table(archive, str(tmp_path / "t.csv"))
    data = (tmp_path / "t.csv").read_bytes()
    assert (result.carriers, result.bytes) == (3, len(data))   # the machine is no carrier
    # RFC 4180, section 2: CR LF after each record, quotes around what holds them or a line break, doubled within
    assert data.startswith(b"id,kind,part,machine,board,position,label,")
    assert b'"TG85 2.1\n""EVEN"""' in data
    assert data.endswith(b"\r\n")
    rows = list(csv.DictReader(io.StringIO(data.decode(), newline="")))
    assert [row["id"] for row in rows] == ["box-1", "tg85-u4", "tg85-u5"]
    assert (rows[1]["reads"], rows[1]["grade"]) == ("1", "single")
    assert rows[1]["agreed_sha256"] == hashlib.sha256(CHIP).hexdigest()
    assert rows[2]["note"] == "'=1+1"
    with refuses(UsageError, "exists", "there is already something at the output's place"):
        table(archive, str(tmp_path / "t.csv"))
    table(archive, str(tmp_path / "t.csv"), bom=True, force=True)
    assert (tmp_path / "t.csv").read_bytes() == b"\xef\xbb\xbf" + data


def filled(archive: ArchiveStore, clock: Clock, tmp_path: Path, text: str | bytes, **options: bool) -> FilledIn:
    path = tmp_path / "filled.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return fill_in(archive, str(path), clock.session("Berta"), **options)


def test_a_table_given_back_changes_nothing(archive: ArchiveStore, clock: Clock, tmp_path: Path) -> None:
    table(archive, str(tmp_path / "t.csv"), bom=True)
    before = tree(archive.root)
    result = fill_in(archive, str(tmp_path / "t.csv"), clock.session(), empty_clears=True)
    assert (result.added, result.changes, result.unchanged, result.unknown) == ((), (), 3, ())
    assert result.shown_only == ("uuid", "created", "reads", "grade", "agreed_sha256", "open")
    assert tree(archive.root) == before


def test_new_carriers_are_added_and_known_ones_corrected(archive: ArchiveStore, clock: Clock, tmp_path: Path) -> None:
    text = "Position,ID,Date Code,kind,colour,note\r\nU4,tg85-u4,8512,,black,'-5 V\r\nU6,tg85-u6,,prom,,\r\n,,,,,\r\n"
    trial = filled(archive, clock, tmp_path, text, dry_run=True)
    assert archive.ids() == ("box-1", "tg85", "tg85-u4", "tg85-u5")
    result = filled(archive, clock, tmp_path, text)
    assert (result.added, result.unknown) == (("tg85-u6",), ("colour",))
    assert trial.changes == result.changes
    assert [(one.column, one.before, one.after, one.line) for one in result.changes] == [
        ("position", None, "U4", 2), ("date_code", None, "8512", 2), ("note", None, "-5 V", 2),
    ]  # fmt: skip
    record = load_record(archive, "tg85-u4")
    assert (record.position, record.date_code, record.note) == ("U4", "8512", "-5 V")
    assert record.label == "TG85 2.1\n\"EVEN\""
    event = record.events[-1]
    assert event.type == "metadata modification"
    assert "position: nothing became 'U4'" in event.detail
    assert "Berta" in [agent.name for agent in event.agents]
    new = load_record(archive, "tg85-u6")
    assert (new.kind, new.position, new.events[0].type) == ("prom", "U6", "accession")


def test_an_empty_cell_says_nothing_unless_it_shall_clear(archive: ArchiveStore, clock: Clock, tmp_path: Path) -> None:
    text = "id,part,label\ntg85-u4,,\n"
    assert filled(archive, clock, tmp_path, text).changes == ()
    assert [one.after for one in filled(archive, clock, tmp_path, text, empty_clears=True).changes] == [None, None]
    assert load_record(archive, "tg85-u4").part is None


@pytest.mark.parametrize("parting", [";", "\t"])
def test_other_partings_of_spreadsheets_are_understood(
    archive: ArchiveStore, clock: Clock, tmp_path: Path, parting: str
) -> None:
    assert len(filled(archive, clock, tmp_path, f"id{parting}position\ntg85-u4{parting}U4, upper\n").changes) == 1


WRONG: list[tuple[str | bytes, int, str]] = [
    ("", 1, "no row"),
    ("position,label\nU4,x\n", 1, "no column id"),
    ("id,position,Position\ntg85-u4,U4,U5\n", 1, "twice"),
    ("id,kind\ntg85-u4,eprom\nTG85 U9,eprom\n", 3, "column id: 'T' at position 1"),
    ("id,kind\ntg85-u9,eeeprom\n", 2, "column kind"),
    ("id,kind\ntg85-u9,\n", 2, "its kind must be given"),
    ("id,kind\ntg85-u9,prom\ntg85-u9,prom\n", 3, "stands in line 2 already"),
    ("id,label\ntg85,x\n", 2, "machine"),
    ("id,label\n\n\"tg85-u4\",\"a\nb\"\ntg85-u9,x\n", 5, "kind"),
    ("id,label\ntg85-u4,x,y,z\n", 2, "4 cells"),
    ("id,label\ntg85-u4,\"open\n", 2, ""),
    ("id,label\ntg85-u4,a\0b\n", 2, "column label"),
    ("id,uuid\ntg85-u4,0195c0de-0000-7000-8000-00000000ffff\n", 2, "another carrier"),
    (b"id,label\ntg85-u4,x\ntg85-u5,gr\xfcn\n", 3, "UTF-8"),
    ("id,label\ntg85-u4," + "x" * 200_000, 2, ""),
    (b"\xff\xfe" + "id,label".encode("utf-16-le"), 1, "UTF-8"),
]


@pytest.mark.parametrize("dry_run", [True, False])
@pytest.mark.parametrize(("text", "line", "why"), WRONG, ids=range(len(WRONG)))
def test_a_wrong_row_is_told_and_none_is_applied(
    archive: ArchiveStore, clock: Clock, tmp_path: Path, text: str | bytes, line: int, why: str, dry_run: bool
) -> None:
    if isinstance(text, str) and text.startswith("id,kind"):
        text = text.replace("id,kind\n", "id,kind\nnew-1,prom\n").replace("stands in line 2", "stands in line 3")
        line, why = line + 1, why.replace("line 2", "line 3")
    before = tree(archive.path)
    with refuses(InputError, "table-form", "the table cannot be taken as it is") as caught:
        filled(archive, clock, tmp_path, text, dry_run=dry_run)
    problem = caught.value
    assert (problem.code, problem.where.line, problem.exit_code) == ("table-form", line, 3)
    assert why in problem.why
    assert f"line {line}" in problem.why
    assert tree(archive.path) == before


def test_all_wrong_rows_are_counted(archive: ArchiveStore, clock: Clock, tmp_path: Path) -> None:
    with refuses(InputError, "table-form", "the table cannot be taken as it is") as caught:
        filled(archive, clock, tmp_path, "id,kind\na a,prom\nb b,prom\nc,nothing\n")
    assert "2 more lines" in caught.value.why


def test_every_text_of_a_carrier_has_a_column() -> None:
    assert {"id", *describing.CARRIER_TEXTS} <= set(COLUMNS)


# --- references ---


def listed(archive: ArchiveStore, clock: Clock, tmp_path: Path, *rows: str, **options: Any) -> Corroboration:
    path = tmp_path / "list.csv"
    path.write_text("\n".join(("name,size,crc32,md5,sha1,sha256", *rows)) + "\n")
    return corroborate(archive, str(path), clock.session(), **options)


SHA1, SHA256 = hashlib.sha1(CHIP).hexdigest(), hashlib.sha256(CHIP).hexdigest()
MD5, CRC = hashlib.md5(CHIP).hexdigest(), f"{zlib.crc32(CHIP):08x}"


def test_an_entry_that_fits_is_recorded_with_the_agreed_image(
    archive: ArchiveStore, clock: Clock, tmp_path: Path
) -> None:
    before = tree(archive.root)
    trial = listed(archive, clock, tmp_path, f"Tide 2.1,2048,{CRC.upper()},{MD5},{SHA1},", dry_run=True)
    assert tree(archive.root) == before
    result = listed(archive, clock, tmp_path, f"Tide 2.1,2048,{CRC.upper()},{MD5},{SHA1},", source="manual, page 12")
    (match,) = result.matches
    assert trial.matches == result.matches
    assert (match.carrier, match.what, match.recorded) == ("tg85-u4", "agreed", True)
    assert match.by == ("crc32", "md5", "sha1")
    assert (result.entries, result.unlike, result.unmatched, result.exit_code) == (1, (), (), 0)
    agreed = load_record(archive, "tg85-u4").agreed
    assert agreed is not None
    (reference,) = agreed.references
    assert (reference.algorithm, reference.digest) == ("sha1", SHA1)   # the strongest that it gives
    assert reference.source == "manual, page 12, line 2 (Tide 2.1)"
    assert load_record(archive, "tg85-u4").events[-1].type == "validation"
    again = listed(archive, clock, tmp_path, f"Tide 2.1,2048,{CRC},{MD5},{SHA1},")
    assert again.matches[0].because == "it was recorded before"


def test_a_reference_raises_the_grade_of_independent_reads(archive: ArchiveStore, clock: Clock, tmp_path: Path) -> None:
    keep(archive, "tg85-u4", CHIP, clock, reader="own monitor")
    keep(archive, "tg85-u4", CHIP, clock, reader="bench reader")
    agree(archive, "tg85-u4", clock.session())
    listed(archive, clock, tmp_path, f",,,,,{SHA256}")
    agreed = load_record(archive, "tg85-u4").agreed
    assert agreed is not None
    assert agreed.grade == "corroborated"


def test_a_read_that_is_not_agreed_on_is_told_and_not_recorded(
    archive: ArchiveStore, clock: Clock, tmp_path: Path
) -> None:
    keep(archive, "tg85-u5", CHIP[::-1], clock)
    (match,) = listed(archive, clock, tmp_path, f",,,,,{hashlib.sha256(CHIP[::-1]).hexdigest()}").matches
    assert (match.carrier, match.what, match.recorded) == ("tg85-u5", "r1", False)
    assert "settle that of tg85-u5 first" in (match.because or "")
    assert load_record(archive, "tg85-u5").agreed is None


def test_a_digest_that_no_reference_can_be_is_told(archive: ArchiveStore, clock: Clock, tmp_path: Path) -> None:
    (match,) = listed(archive, clock, tmp_path, f",2048,,{MD5},,").matches
    assert (match.by, match.recorded) == (("md5",), False)
    assert "sha256, sha1, crc32" in (match.because or "")


def test_what_an_accepted_vote_settled_stays_so(archive: ArchiveStore, clock: Clock, tmp_path: Path) -> None:
    for data in (b"\x00\x00", b"\x00\x01", b"\x00\x00"):
        keep(archive, "box-1", data, clock)
    agree(archive, "box-1", clock.session(), by_vote="byte")
    before = load_record(archive, "box-1").agreed
    listed(archive, clock, tmp_path, f",,,,,{hashlib.sha256(bytes(2)).hexdigest()}")
    after = load_record(archive, "box-1").agreed
    assert before is not None
    assert after is not None
    assert (after.sha256, after.voted_by, after.grade) == (before.sha256, "byte", before.grade)
    assert [reference.algorithm for reference in after.references] == ["sha256"]
    assert audit(archive, now=clock.now()).ok


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (f"other,2048,{CRC},,{'0' * 40},", "its crc32 is equal, but its sha1 is not"),
        (f"other,4096,,,{SHA1},{SHA256}", "it gives 4096 bytes, and there are 2048"),
        (f"TG85 U4 rev 3.bin,2048,,,{'0' * 40},", "the name has tg85 and u4 too, but the digests differ"),
    ],
)
def test_what_only_seems_to_fit_is_no_match(
    archive: ArchiveStore, clock: Clock, tmp_path: Path, row: str, why: str
) -> None:
    before = tree(archive.root)
    result = listed(archive, clock, tmp_path, row)
    assert result.matches == ()
    assert [one.carrier for one in result.unlike] == ["tg85-u4"]
    assert why in result.unlike[0].why
    assert result.exit_code == 1
    assert tree(archive.root) == before


def test_what_the_list_says_nothing_of_is_named(archive: ArchiveStore, clock: Clock, tmp_path: Path) -> None:
    result = listed(archive, clock, tmp_path, f"something else,99,,,{'0' * 40},")
    assert (result.matches, result.unlike, result.unmatched) == ((), (), ("tg85-u4",))   # u5 and the disk have no image


def test_leading_zeros_that_a_spreadsheet_dropped(archive: ArchiveStore, clock: Clock, tmp_path: Path) -> None:
    number = 0
    while (data := number.to_bytes(4)) and not f"{zlib.crc32(data):08x}".startswith("00"):
        number += 1
    keep(archive, "box-1", data, clock)
    assert listed(archive, clock, tmp_path, f",4,{f'{zlib.crc32(data):x}'},,,").matches[0].carrier == "box-1"


@pytest.mark.parametrize(
    ("row", "why"),
    [("x,2048,,,12,", "column sha1"), ("x,2048,,,,", "no digest"), (f"x,2K,,,{SHA1},", "column size"),
     (f"x,2048,{SHA1},,,", "column crc32")],
)  # fmt: skip
def test_a_wrong_entry_is_told(archive: ArchiveStore, clock: Clock, tmp_path: Path, row: str, why: str) -> None:
    with pytest.raises(InputError) as caught:
        listed(archive, clock, tmp_path, row)
    assert (caught.value.code, caught.value.where.line) == ("table-form", 2)
    assert why in caught.value.why


def test_a_damaged_image_is_no_evidence(archive: ArchiveStore, clock: Clock, tmp_path: Path) -> None:
    archive.content_path("tg85-u4", "reads/r1/image.bin").write_bytes(CHIP[:-1] + b"\0")
    result = listed(archive, clock, tmp_path, f",,,,{SHA1},")
    assert (result.matches, result.exit_code) == ((), 4)
    assert "its SHA-256 is not the one that its record states" in result.set_aside[0].why
