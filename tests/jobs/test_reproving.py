"""What records conclude is derived again: what follows is proved, what does not is named."""

from __future__ import annotations

import itertools
import json
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from imagekeeper.archive.audits.reproof import Reproof
from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.exchange.replica import replicate
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.containers import encode
from imagekeeper.containers.model import Image, Segment
from imagekeeper.errors import ArchiveError, InputError
from imagekeeper.jobs import specimen
from imagekeeper.jobs.archive import again, exchanging, exporting, repairing
from imagekeeper.jobs.archive.auditing import audit_archive
from imagekeeper.jobs.archive.reproving import refuse_contradicted, reprove, reproved
from imagekeeper.jobs.carriers import correcting, describing
from imagekeeper.jobs.carriers.agreeing import agree
from imagekeeper.jobs.carriers.keeping import Conditions, add_carrier, add_reads
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.session import Session, user
from imagekeeper.present.text.audits import audit_text, repaired_text
from imagekeeper.provenance import places
from tests.archive.conftest import add

EVEN = specimen.program()[0::2]
AS_IT_IS = Options()
NUMBERS = itertools.count(1)
NOW = "2026-03-02T12:00:00Z"


def session() -> Session:
    return Session(lambda: NOW, lambda: f"00000000-0000-4000-8000-{next(NUMBERS):012d}", "bench")


@pytest.fixture
def archive(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ArchiveStore:
    monkeypatch.setenv("IMAGEKEEPER_CACHE", str(tmp_path / "cache"))
    made = ArchiveStore.create(
        tmp_path / "a", uuid="0195c0de-0000-7000-8000-000000000001", title="", now=session().now()
    )
    add_carrier(made, "u4", "eprom", session(), part="27128")
    return made


Keep = Callable[..., None]


@pytest.fixture
def keep(archive: ArchiveStore, tmp_path: Path) -> Keep:
    """Keep a read of some bytes."""

    def kept(name: str, data: bytes, options: Options = AS_IT_IS, **conditions: str) -> None:
        (tmp_path / name).write_bytes(data)
        add_reads(archive, "u4", [str(tmp_path / name)], options, Conditions(**conditions), session())  # type: ignore[arg-type]

    return kept


def forge(archive: ArchiveStore, path: str, change: Callable[[Any], object]) -> None:
    """Write a version in which one record is changed, as another program may: no event tells of it."""
    inventory = archive.inventory("u4")
    record = json.loads(archive.read_file("u4", path, inventory))
    change(record)
    archive.commit(
        "u4", {path: json.dumps(record).encode()}, message="m", user=user(session()), now=NOW,
        expected_head=inventory.head,
    )  # fmt: skip


def of(archive: ArchiveStore) -> Reproof:
    return reproved(archive, archive.inventory("u4"))


def said(found: Reproof) -> str:
    return "\n".join(f"{one.path}: {one.what}: {one.why}" for one in found.contradicted)


def test_reads_of_every_kind_are_decoded_again(archive: ArchiveStore, keep: Keep, tmp_path: Path) -> None:
    holed = Image(segments=(Segment(0, EVEN[:256]), Segment(512, EVEN[512:1024])), addressed=True)
    keep("plain.bin", EVEN, reader="bench reader")
    keep("holed.hex", encode(holed, "intel-hex"))
    keep("closed.hex", encode(holed, "intel-hex"), Options(fill=0xFF))
    lines = encode(holed, "s-record").decode().splitlines()
    lines[3] = lines[3][:-1] + ("0" if lines[3][-1] != "0" else "1")
    keep("doubtful.s19", "\n".join(lines).encode(), Options(keep_doubtful=True))
    with zipfile.ZipFile(tmp_path / "two.zip", "w") as file:
        file.writestr("even.bin", EVEN)
        file.writestr("other.hex", encode(holed, "intel-hex"))
    keep("two.zip", (tmp_path / "two.zip").read_bytes(), Options(member="other.hex"))
    keep("hex-as-it-is.hex", encode(holed, "intel-hex"), Options(kind="raw"))
    found = of(archive)
    assert found.contradicted + found.stale + found.not_derivable == ()
    assert found.proved > 60


def _with_parity(text: bytes) -> bytes:
    """Give every character even parity in bit 7, as a serial line of seven data bits does."""
    return bytes(c | (c.bit_count() % 2) << 7 for c in text)


def test_parity_and_the_choice_of_a_value_are_recorded_and_done_again(archive: ArchiveStore, keep: Keep) -> None:
    whole = encode(Image.from_bytes(EVEN), "intel-hex")
    patched = encode(Image.from_bytes(b"TIDE", 0x40), "intel-hex").splitlines(keepends=True)[0] + whole
    keep("parity.hex", _with_parity(whole))
    damaged = bytearray(_with_parity(whole))
    damaged[500] ^= 0x80
    keep("damaged.hex", bytes(damaged), Options(keep_doubtful=True))
    keep("first.hex", patched, Options(repeated="first"))
    keep("last.hex", patched, Options(repeated="last"))
    keep("needless.hex", whole, Options(repeated="last"))
    reads = load_record(archive, "u4").reads
    assert [(read.parity, read.repeated) for read in reads] == [
        ("even", None), ("even", None), (None, "first"), (None, "last"), (None, None),
    ]  # fmt: skip
    assert [read.image.sha256 == reads[0].image.sha256 for read in reads] == [True, True, False, True, True]
    found = of(archive)
    assert found.contradicted + found.stale + found.not_derivable == ()


@pytest.mark.parametrize(("member", "value"), [("repeated", "last"), ("repeated", None), ("parity", "odd")])
def test_another_choice_or_parity_than_was_made_is_contradicted(
    archive: ArchiveStore, keep: Keep, member: str, value: str | None
) -> None:
    whole = encode(Image.from_bytes(EVEN), "intel-hex")
    patched = encode(Image.from_bytes(b"TIDE", 0x40), "intel-hex").splitlines(keepends=True)[0] + whole
    keep("first.hex", _with_parity(patched), Options(repeated="first"))
    forge(archive, places.read_record("r1"), lambda record: record.update({member: value}))
    assert "r1: the image, decoded from first.hex again" in said(of(archive))


def test_a_raised_grade_is_contradicted_whatever_rules_it_names(archive: ArchiveStore, keep: Keep) -> None:
    keep("r1.bin", EVEN, reader="bench reader")
    agree(archive, "u4", session())
    forge(archive, "agreed.json", lambda record: record.update(grade="corroborated"))
    assert "its grade is another" in said(of(archive))
    forge(archive, "agreed.json", lambda record: record.update(rules=None))
    assert "its grade is another" in said(of(archive))
    result = audit_archive(archive, NOW, reprove=True)
    assert (result.ok, result.exit_code) == (False, 4)
    assert audit_archive(archive, NOW).ok   # no digest tells


def test_a_grade_of_older_rules_is_stale(archive: ArchiveStore, keep: Keep) -> None:
    keep("r1.bin", EVEN, reader="bench reader")
    keep("r2.bin", EVEN, reader="bench reader")
    agree(archive, "u4", session())
    forge(archive, "agreed.json", lambda record: record.update(rules=None, grade="independent"))
    found = of(archive)
    assert found.contradicted == ()
    assert [one.what for one in found.stale] == ["the agreed image and its grade"]
    assert audit_archive(archive, NOW, reprove=True).exit_code == 0


@pytest.mark.parametrize(
    ("member", "value", "words"),
    [
        ("crc32", "DEADBEEF", "another CRC-32"), ("size_bytes", -1, "negative or absurdly large"),
        ("first_address", 16, "its first address is not that of its first segment"), ("doubts", [
            {"start": 0, "length": 1, "code": "record-checksum", "why": "invented", "line": 1}
        ], "its doubts are not those"),
    ],
)  # fmt: skip
def test_figures_of_an_image_are_worked_out_again(
    archive: ArchiveStore, keep: Keep, member: str, value: object, words: str
) -> None:
    keep("r1.bin", EVEN, reader="bench reader")
    forge(archive, "reads/r1/read.json", lambda record: record["image"].update({member: value}))
    assert words in said(of(archive))


def test_a_reader_changed_behind_its_event_is_named_and_one_corrected_is_not(
    archive: ArchiveStore, keep: Keep
) -> None:
    keep("r1.bin", EVEN, reader="bench reader")
    correcting.correct_read(archive, "u4", "r1", {"reader": "pocket reader"}, "the wrong one was named", session())
    correcting.correct_read(archive, "u4", "r1", {"reader": "bench reader", "vcc": "5.0"}, "it was right", session())
    assert of(archive).ok
    forge(archive, "reads/r1/read.json", lambda record: record.update(reader="third reader"))
    assert "it was changed, and no event tells of it" in said(of(archive))


def test_a_carrier_that_is_corrected_is_held_against_its_event(archive: ArchiveStore, keep: Keep) -> None:
    describing.edit_carrier(archive, "u4", {"label": "TG85 2.1", "part": "27256"}, session())
    keep("r1.bin", EVEN)
    agree(archive, "u4", session())
    describing.edit_carrier(archive, "u4", {"part": "27128"}, session())
    found = of(archive)
    assert (found.contradicted, found.not_derivable) == ((), ())


def test_a_forged_examination_is_found_whatever_was_remembered(archive: ArchiveStore, keep: Keep) -> None:
    keep("r1.bin", b"\xff" * 16384, reader="bench reader")
    assert reprove(archive).ok
    assert reprove(archive).ok   # what was remembered now
    forge(archive, "examinations.json", lambda records: records[0].update(signs=[]))
    assert "its signs are not those" in said(reprove(archive))
    forge(archive, "examinations.json", lambda records: records[0].update(rules="examination 0, tables 0"))
    found = reprove(archive)
    assert (found.contradicted, len(found.stale)) == ((), 1)
    forge(archive, "examinations.json", lambda records: records[0]["figures"].update(sha1="0" * 40))
    assert not reprove(archive).ok   # no rule ever gives another sum


def test_what_was_remembered_needs_no_looking_at(
    archive: ArchiveStore, keep: Keep, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    keep("r1.bin", EVEN, reader="bench reader")
    looked: list[object] = []
    examine = again.examine
    monkeypatch.setattr(again, "examine", lambda *args, **more: looked.append(args) or examine(*args, **more))
    assert reprove(archive).ok   # it was looked at when it was kept
    assert not looked
    (memory,) = (tmp_path / "cache").glob("*.examined")
    memory.write_bytes(b"\xff\n")
    assert [reprove(archive).ok, reprove(archive).ok] == [True, True]
    assert len(looked) == 1
    of(archive)   # an import trusts no memory
    assert len(looked) == 2


def test_what_is_contradicted_is_not_taken_in(archive: ArchiveStore, keep: Keep) -> None:
    keep("r1.bin", EVEN, reader="bench reader")
    agree(archive, "u4", session())
    refuse_contradicted(archive, archive.inventory("u4"))
    forge(archive, "agreed.json", lambda record: record.update(grade="independent"))
    with pytest.raises(ArchiveError) as refused:
        refuse_contradicted(archive, archive.inventory("u4"))
    assert "the agreed image and its grade" in refused.value.why


def test_what_no_event_vouches_for_is_not_derivable_and_no_damage(archive: ArchiveStore) -> None:
    add(archive, "tg85-u9", EVEN)
    found = reprove(archive, ["tg85-u9"])
    assert (found.contradicted, found.ok) == ((), True)
    reasons = {one.why for one in found.not_derivable}
    assert "its version was made by another program: no event tells of it" in reasons


def test_values_that_make_no_sense_are_told(archive: ArchiveStore, keep: Keep) -> None:
    keep("r1.bin", EVEN, reader="bench reader")
    forge(archive, "reads/r1/read.json", lambda record: record["image"].update(segments=[{"start": -9, "length": -1}]))
    assert not reprove(archive).ok


def test_a_future_version_is_told(archive: ArchiveStore) -> None:
    found = reprove(archive, now="2020-01-01T00:00:00Z")
    assert "a clock was wrong" in str([one.why for one in found.not_derivable])
    assert replace(found, not_derivable=()).contradicted == ()


def test_a_bag_with_a_forged_grade_is_refused(archive: ArchiveStore, keep: Keep, tmp_path: Path) -> None:
    keep("r1.bin", EVEN, reader="bench reader")
    agree(archive, "u4", session())
    forge(archive, "agreed.json", lambda record: record.update(grade="corroborated"))
    exporting.export(archive, str(tmp_path / "bag"), session())
    other = ArchiveStore.create(tmp_path / "b", uuid="0195c0de-0000-7000-8000-000000000002", title="", now=NOW)
    with pytest.raises(InputError) as refused:
        exchanging.import_bag(other, str(tmp_path / "bag"), session())
    assert "the agreed image and its grade" in str(refused.value.why)
    assert other.ids() == ()


def test_a_repair_names_what_a_restored_record_concludes_against_its_files(
    archive: ArchiveStore, keep: Keep, tmp_path: Path
) -> None:
    keep("r1.bin", EVEN, reader="bench reader")
    agree(archive, "u4", session())
    forge(archive, "agreed.json", lambda record: record.update(grade="corroborated"))
    replicate(archive, tmp_path / "copy", now=NOW)
    archive.content_path("u4", "agreed.json").unlink()
    copy = ArchiveStore.open(tmp_path / "copy")
    result = repairing.repair_archive(archive, session(), replica=copy)
    assert [one.path for one in result.contradicted] == ["agreed.json"]
    assert (result.ok, result.exit_code) == (False, 4)
    assert "contradicted: u4 agreed.json" in repaired_text(result)


def test_the_text_names_what_is_contradicted_and_what_is_only_old(archive: ArchiveStore, keep: Keep) -> None:
    keep("r1.bin", EVEN, reader="bench reader")
    keep("r2.bin", EVEN, reader="bench reader")
    agree(archive, "u4", session())
    assert "archive audit --reprove" in audit_text(audit_archive(archive, NOW))
    forge(archive, "agreed.json", lambda record: record.update(rules=None, grade="independent"))
    shown = audit_text(audit_archive(archive, NOW, reprove=True))
    assert "stale: u4 agreed.json" in shown
    assert "--reprove" not in shown
    forge(archive, "agreed.json", lambda record: record.update(grade="corroborated", reads=["r1"]))
    assert "contradicted: u4 agreed.json" in audit_text(audit_archive(archive, NOW, reprove=True))


def test_what_two_archives_brought_together_is_proved_or_told_why_not(
    archive: ArchiveStore, keep: Keep, tmp_path: Path
) -> None:
    keep("r1.bin", EVEN, reader="bench reader", vcc="5.0")
    agree(archive, "u4", session())
    exporting.export(archive, str(tmp_path / "bag"), session())
    other = ArchiveStore.create(tmp_path / "b", uuid="0195c0de-0000-7000-8000-000000000002", title="", now=NOW)
    add_carrier(other, "u4", "mask-rom", session(), part="27128")   # another thing of the same name
    exchanging.import_bag(other, str(tmp_path / "bag"), session())
    keep("r2.bin", EVEN, reader="pocket reader", vcc="4.75")
    describing.edit_carrier(archive, "u4", {"label": "TG85 2.1"}, session())
    agree(archive, "u4", session())
    (tmp_path / "r3.bin").write_bytes(EVEN)
    add_reads(other, "u4-2", [str(tmp_path / "r3.bin")], Options(), Conditions(reader="own monitor"), session())
    describing.edit_carrier(other, "u4-2", {"note": "from the outer mole"}, session())
    agree(other, "u4-2", session())
    describing.add_note(other, "u4-2", "a remark", session())
    for one, another in ((archive, other), (other, archive)):
        exchanging.merge_archive(one, str(another.path), session())
        found = reprove(one)
        assert found.contradicted == (), said(found)
        assert {one.why for one in found.not_derivable} <= {
            "no event of that version tells of it", "nothing in the records repeats what it tells",
        }  # fmt: skip
