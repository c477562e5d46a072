"""Images made from others keep their steps, are made again and checked, and come out of the archive as files."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from itertools import count
from pathlib import Path

import pytest

from imagekeeper.archive.audits.audit import audit
from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ArchiveError, NotFoundError, UsageError
from imagekeeper.jobs import specimen
from imagekeeper.jobs.archive.rebuilding import rebuild_derived
from imagekeeper.jobs.carriers.agreeing import agree
from imagekeeper.jobs.carriers.deriving import Derived, derive
from imagekeeper.jobs.carriers.extracting import extract
from imagekeeper.jobs.carriers.keeping import Conditions, add_carrier, add_reads
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.images.wanting import WantedSteps
from imagekeeper.jobs.session import Session
from imagekeeper.jsonable import schema_of
from imagekeeper.present.text.images import extraction_text
from imagekeeper.provenance.fields import read_json, write_json
from tests.conftest import Ran
from tests.refusals import refuses

Cli = Callable[..., Ran]

NOW = "2026-03-02T12:00:00Z"
NUMBERS = count(1)
PROGRAM = specimen.program()


def session() -> Session:
    return Session(lambda: NOW, lambda: f"00000000-0000-4000-8000-{next(NUMBERS):012d}", "bench")


def keep(archive: ArchiveStore, carrier: str, file: Path, data: bytes) -> None:
    file.write_bytes(data)
    add_reads(archive, carrier, [str(file)], Options(), Conditions(), session())


@pytest.fixture
def archive(tmp_path: Path) -> ArchiveStore:
    made = ArchiveStore.create(tmp_path / "a", uuid="0195c0de-0000-7000-8000-000000000001", title="", now=NOW)
    for lane, name in enumerate(("u4", "u5")):
        add_carrier(made, name, "eprom", session(), part="27128")
        keep(made, name, tmp_path / f"{name}.bin", PROGRAM[lane::2])
        agree(made, name, session())
    return made


def test_two_chips_are_joined_and_the_program_comes_out(archive: ArchiveStore, tmp_path: Path) -> None:
    made = derive(archive, "u4", WantedSteps(join=("u5",)), session(), title="whole program").derivation
    assert made.sha256 == hashlib.sha256(PROGRAM).hexdigest()
    assert [(one.carrier, one.what) for one in made.sources] == [("u4", "agreed"), ("u5", "agreed")]
    extract(archive, "u4", str(tmp_path / "program.bin"), what="d1")
    assert (tmp_path / "program.bin").read_bytes() == PROGRAM
    assert load_record(archive, "u4").events[-1].type == "normalization"
    assert rebuild_derived(archive).made == 1
    assert audit(archive, now=NOW).ok


def test_a_derived_image_is_the_source_of_another(archive: ArchiveStore) -> None:
    derive(archive, "u4", WantedSteps(join=("u5",)), session())
    lane = derive(archive, "u4", WantedSteps(lane=(1, 2)), session(), what="d1").derivation
    assert (lane.id, lane.sha256) == ("d2", hashlib.sha256(PROGRAM[1::2]).hexdigest())
    padded = derive(archive, "u5", WantedSteps(pad_to=32768), session(), fill=0xFF).derivation
    assert padded.sha256 == hashlib.sha256(PROGRAM[1::2].ljust(32768, b"\xff")).hexdigest()
    assert (rebuild_derived(archive).made, rebuild_derived(archive, ["u5"]).made) == (3, 1)


def test_the_source_is_found_also_after_another_image_was_settled(archive: ArchiveStore, tmp_path: Path) -> None:
    derive(archive, "u4", WantedSteps(invert=True), session())
    for n in range(3):   # the majority is now another image
        keep(archive, "u4", tmp_path / f"x{n}.bin", bytes([n]) + PROGRAM[2::2])
    keep(archive, "u4", tmp_path / "y.bin", b"\1" + PROGRAM[2::2])
    result = rebuild_derived(archive)
    assert (result.made, result.ok) == (1, True)


def test_a_vote_is_taken_again(archive: ArchiveStore, tmp_path: Path) -> None:
    add_carrier(archive, "u6", "eprom", session())
    for n in range(3):
        data = bytearray(PROGRAM[:16384])
        data[n] ^= 1
        keep(archive, "u6", tmp_path / f"v{n}.bin", bytes(data))
    agreed = agree(archive, "u6", session(), by_vote="byte").agreed
    assert (agreed.voted_by, agreed.voters) == ("byte", ("r1", "r2", "r3"))
    assert agreed.sha256 == hashlib.sha256(PROGRAM[:16384]).hexdigest()
    extract(archive, "u6", str(tmp_path / "voted.hex"))
    assert rebuild_derived(archive, ["u6"]).made == 1


@pytest.mark.parametrize("member", ["sha256", "steps", "source"])
def test_a_record_that_does_not_lead_to_the_image_is_found(archive: ArchiveStore, member: str) -> None:
    derive(archive, "u4", WantedSteps(invert=True), session())
    [raw] = read_json(archive.read_file("u4", "derivations.json"), "derivations.json")
    if member == "sha256":
        raw["sha256"] = "0" * 64
    elif member == "steps":
        raw["steps"] = [{"step": "no such step"}]
    else:
        raw["sources"][0]["sha256"] = "0" * 64
    archive.commit(
        "u4", {"derivations.json": write_json([raw])}, message="x", user=None, now=NOW,
        expected_head=archive.inventory("u4").head,
    )  # fmt: skip
    result = rebuild_derived(archive)
    assert (result.ok, len(result.wrong)) == (False, 1)
    assert result.wrong[0].what == "d1"


def test_what_cannot_be_made_is_refused_and_nothing_changes(archive: ArchiveStore, tmp_path: Path) -> None:
    before = archive.inventory("u4").head
    with refuses(UsageError, "usage", "there is nothing to be done to the image"):
        derive(archive, "u4", WantedSteps(), session())
    with refuses(NotFoundError, "not-found", "u4 has no such image"):
        derive(archive, "u4", WantedSteps(invert=True), session(), what="r9")
    with refuses(NotFoundError, "carrier-missing", "there is no such carrier"):
        derive(archive, "u4", WantedSteps(join=("absent",)), session())
    add_carrier(archive, "u7", "eprom", session())
    with refuses(NotFoundError, "not-found", "u7 has no agreed image") as caught:
        derive(archive, "u7", WantedSteps(invert=True), session())
    assert "no agreed image" in caught.value.what
    assert archive.inventory("u4").head == before
    path = archive.content_path("u4", "agreed.bin")
    path.write_bytes(bytes(16384))
    with refuses(ArchiveError, "archive-damaged", "its SHA-256 is not the one of the record"):
        derive(archive, "u4", WantedSteps(invert=True), session())
    with refuses(ArchiveError, "archive-damaged", "its SHA-256 is not the one of the record"):
        extract(archive, "u4", str(tmp_path / "out.bin"))
    assert not (tmp_path / "out.bin").exists()


def test_the_commands(cli: Cli, tmp_path: Path) -> None:
    cli("archive", "init", "a")
    here = ("--archive", "a")
    for lane, name in enumerate(("u4", "u5")):
        (tmp_path / f"{name}.bin").write_bytes(PROGRAM[lane::2])
        cli("carrier", "add", name, "--kind", "eprom", *here)
        cli("carrier", "read", name, f"{name}.bin", *here)
        assert cli("carrier", "extract", name, "-o", "early.bin", *here).code == 5
        cli("carrier", "agree", name, *here)
    ran = cli("carrier", "derive", "u4", "--join", "u5", "--title", "whole program", "--json", *here)
    assert (ran.code, list(ran.json)) == (0, schema_of(Derived)["required"])
    ran = cli("carrier", "extract", "u4", "--image", "d1", "-o", "program.hex", *here)
    assert (ran.code, "read back equal" in ran.out) == (0, True)
    ran = cli("carrier", "extract", "u4", "-o", "u4-again.bin", *here)
    assert "single" in ran.err
    assert cli("carrier", "extract", "u4", "-o", "a/carriers/u4/u4.bin", *here).code == 2
    assert cli("archive", "export", "-o", "a/carriers/bag", *here).code == 2
    assert (tmp_path / "u4-again.bin").read_bytes() == PROGRAM[0::2]
    assert cli("carrier", "extract", "u4", "-o", "u4-again.bin", *here).code == 2
    assert "whole program: from u4 agreed and u5 agreed by join-lanes" in cli("carrier", "show", "u4", *here).out
    assert cli("carrier", "derive", "u4", *here).code == 2
    audited = cli("archive", "audit", "--rebuild-derived", *here)
    assert (audited.code, "1 derived or voted image made again" in audited.out) == (0, True)
    archive = ArchiveStore.open(tmp_path / "a")
    [raw] = read_json(archive.read_file("u4", "derivations.json"), "derivations.json")
    raw["steps"] = [{"step": "invert"}]
    archive.commit(
        "u4", {"derivations.json": write_json([raw])}, message="x", user=None, now=NOW,
        expected_head=archive.inventory("u4").head,
    )  # fmt: skip
    assert cli("archive", "audit", *here).code == 0   # the files are as they were kept
    audited = cli("archive", "audit", "--rebuild-derived", "--json", *here)
    assert (audited.code, audited.json["ok"], len(audited.json["rebuilt"]["wrong"])) == (4, False, 1)
    todo = cli("carrier", "list", "--todo", *here).out
    assert "2 carriers to see to" in todo
    assert todo.index("u4:") < todo.index("u5:")
    assert cli("carrier", "list", "--todo", "--limit", "1", "--json", *here).json["more"] == 1


def test_doubts_go_with_what_is_derived_and_taken_out(archive: ArchiveStore, tmp_path: Path) -> None:
    """Invented records; the sum of the second should be 72."""
    file = tmp_path / "u9.hex"
    file.write_text(":0400000001020304F2\n:0400040021222324F1\n:00000001FF\n")
    add_carrier(archive, "u9", "eprom", session(), part="2716")
    add_reads(archive, "u9", [str(file)], Options(keep_doubtful=True), Conditions(), session())
    made = derive(archive, "u9", WantedSteps(lane=(1, 2)), session(), what="r1").derivation
    assert [(doubt.code, doubt.start, doubt.length, doubt.line) for doubt in made.doubts] == [("record-sum", 2, 2, 2)]
    taken = extract(archive, "u9", str(tmp_path / "d1.bin"), what="d1")
    assert taken.doubts == made.doubts
    again = derive(archive, "u9", WantedSteps(repeat_to=8), session(), what="d1").derivation
    assert [(doubt.start, doubt.length) for doubt in again.doubts] == [(2, 2), (6, 2)]
    text = " ".join(extraction_text(extract(archive, "u9", str(tmp_path / "r1.bin"), what="r1")).split())
    assert "1 doubt, of which a file of it says nothing" in text
    assert "0004 to 0007: the line ends in F1" in text
