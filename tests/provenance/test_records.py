from __future__ import annotations

import json
from dataclasses import MISSING, fields, replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.addresses import Doubt, Span
from imagekeeper.errors import ArchiveError, ContradictionError, InternalError, UsageError
from imagekeeper.jsonable import schema_of, to_json
from imagekeeper.provenance import places
from imagekeeper.provenance.dates import check_date, check_time, is_time
from imagekeeper.provenance.fields import from_json, read_json, write_json
from imagekeeper.provenance.ids import check_carrier_id, is_carrier_id, suggest_id
from imagekeeper.provenance.kinds import KINDS, check_kind
from imagekeeper.provenance.reads import Read, ReadImage, check_vcc
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.references import Reference, check_reference, parse_reference
from imagekeeper.provenance.remarks import Note
from tests.refusals import refuses

READ = Read(
    id="r1", file="u4.bin", file_base64=None, original="reads/r1/original/u4.bin", size_bytes=16, sha256="a" * 64,
    modified="2026-11-24T22:00:00Z", container="raw", wrapped_in=None,
    image=ReadImage(
        sha256="a" * 64, crc32="CBF43926", size_bytes=16, first_address=0, segments=(Span(0, 16),),
        doubts=(Doubt(start=0, length=1, code="record-sum", why="why", line=3),),
    ),
    image_path="reads/r1/image.bin", reader="bench reader", operator="Ann", date="1985-03", vcc="5.0", specimen=None,
    software="imagekeeper 0.1.0", notes=("warm",), added="2026-11-24T22:00:00Z",
)  # fmt: skip


def test_a_read_survives_writing_and_reading() -> None:
    assert from_json(Read, read_json(write_json(READ), "read.json"), "read.json") == READ


def test_a_carrier_record_is_the_document_it_says() -> None:
    import jsonschema

    record = CarrierRecord(
        id="tg85-u4", kind="eprom", machine=None, board=None, position=None, reads=(READ,), agreed=None,
        replacements=(), events=(), findings=(), uuid="uuid", part=None, label=None, note=None, created=READ.added,
    )  # fmt: skip
    document = to_json(record)
    jsonschema.validate(document, schema_of(CarrierRecord))
    assert document["schema"] == "carrier/1"
    wanted = {"id", "kind", "machine", "board", "position", "reads", "agreed", "replacements", "events", "findings"}
    assert wanted <= document.keys()


def test_a_member_that_is_not_known_yet_is_passed_over() -> None:
    assert from_json(Span, {"start": 1, "length": 2, "colour": "blue"}, "x") == Span(1, 2)


@pytest.mark.parametrize(
    ("member", "value"),
    [
        ("id", 7), ("id", None), ("size_bytes", "16"), ("size_bytes", True), ("size_bytes", 1.5), ("notes", "warm"),
        ("notes", [1]), ("image", None), ("image", []), ("vcc", 5), ("vcc", "five"), ("vcc", "٥"),
    ],
)  # fmt: skip
def test_a_member_of_another_type_is_damage(member: str, value: Any) -> None:
    document = to_json(READ)
    document[member] = value
    with pytest.raises(ArchiveError) as caught:
        from_json(Read, document, "read.json")
    assert caught.value.code == "archive-damaged"
    assert member in caught.value.why


def test_a_missing_member_is_damage() -> None:
    later = {field.name for field in fields(Read) if field.default is not MISSING}   # older archives lack these
    members = set(json.loads(write_json(READ))) - later
    assert {"id", "sha256", "image"} <= members
    for member in members:
        document = to_json(READ)
        del document[member]
        with refuses(ArchiveError, "archive-damaged", "a record cannot be read") as caught:
            from_json(Read, document, "read.json")
        assert member in caught.value.why


@pytest.mark.parametrize("text", ["tg85-u4", "a", "7", "a.b", "a_b-", "x" * 64, "console", "com10x", "lpt"])
def test_ids_that_every_system_takes(text: str) -> None:
    assert check_carrier_id(text) == text


@pytest.mark.parametrize(
    "text",
    [
        "", "A", "TG85", "a/b", "a\\b", ".a", "a.", "-a", "_a", "a b", "é", "x" * 65, "..", "a\n", "extensions",
        # Microsoft, "Naming Files, Paths, and Namespaces": reserved, also with an extension
        "con", "nul", "aux.bin", "prn", "com1", "lpt9.x",
    ],
)  # fmt: skip
def test_ids_that_some_system_refuses(text: str) -> None:
    with pytest.raises(UsageError) as caught:
        check_carrier_id(text)
    assert caught.value.code == "carrier-id"
    assert repr(suggest_id(text)) in caught.value.hint
    assert not is_carrier_id(text)


@given(st.text(max_size=200))
def test_what_is_suggested_is_acceptable(text: str) -> None:
    assert is_carrier_id(suggest_id(text))


def test_every_kind_has_a_sentence() -> None:
    assert all(sentence.endswith(".") for sentence in KINDS.values())
    with pytest.raises(UsageError) as caught:
        check_kind("punch card")
    assert caught.value.code == "unknown-name"


@pytest.mark.parametrize(
    "text",
    ["2026-11-24T22:00:00Z", "2026-11-24T22:00:00.5+01:00", "1990-12-31T23:59:60Z", "1985", "1985-03", "1985-03-31"],
)
def test_dates_that_say_what_is_known(text: str) -> None:
    assert check_date(text) == text   # RFC 3339, section 5.8, and ISO 8601-2:2019, level 0


@pytest.mark.parametrize(
    "text",
    [
        "", "85", "1985-13", "1985-00", "1985-02-30", "31.3.1985", "2026-11-24T22:00Z", "2026-11-24 22:00:00Z",
        "2026-11-24T22:00:00", "2026-11-24T24:00:00Z", "2026-11-24T22:00:00+24:00", "١٩٨٥", "1985~", "yesterday",
    ],
)  # fmt: skip
def test_dates_that_cannot_be_understood(text: str) -> None:
    with pytest.raises(UsageError) as caught:
        check_date(text)
    assert caught.value.code == "usage"


@given(st.datetimes(), st.sampled_from(["Z", "+01:00", "-12:30"]))
def test_every_time_of_the_calendar_is_a_time(moment: Any, zone: str) -> None:
    text = moment.replace(microsecond=0).isoformat() + zone
    assert is_time(text)
    assert check_time(text.lower()) == text


@pytest.mark.parametrize(("text", "found"), [("5", "5"), (" 4.75V", "4.75"), ("5.00 v", "5.00")])
def test_voltages_as_people_write_them(text: str, found: str) -> None:
    assert check_vcc(text) == found


@pytest.mark.parametrize("text", ["", "V", "5,0", "-5", "1e3", "five", "99999"])
def test_voltages_that_are_none(text: str) -> None:
    with refuses(UsageError, "usage", "a supply voltage cannot be understood"):
        check_vcc(text)


def test_references_are_known_by_their_length() -> None:
    assert parse_reference("cbf43926") == Reference("crc32", "CBF43926")
    assert parse_reference("0xCBF4 3926").algorithm == "crc32"
    assert parse_reference("A" * 40, "a label") == Reference("sha1", "a" * 40, "a label")
    assert parse_reference("A" * 64).algorithm == "sha256"
    for text in ("", "12", "g" * 8, "a" * 32):
        with refuses(UsageError, "usage", "a reference digest cannot be recognised"):
            parse_reference(text)


def test_a_reference_that_does_not_match_is_an_error() -> None:
    check_reference(parse_reference("CBF43926"), {"crc32": "cbf43926"})
    with pytest.raises(ContradictionError) as caught:
        check_reference(parse_reference("CBF43927", "a label"), {"crc32": "CBF43926"})
    assert caught.value.code == "reference-mismatch"
    assert "a label" in caught.value.why


@given(st.text(st.characters(), max_size=200))
def test_every_name_becomes_a_safe_one(name: str) -> None:
    safe = places.safe_name(name)
    assert safe
    assert safe.isascii()
    assert len(safe) <= places.NAME_LENGTH + 1
    assert not set(safe) & set('/\\:*?"<>| ')
    assert not safe.startswith(".")
    assert not safe.endswith(".")
    assert places.safe_name(safe) == safe


def test_a_long_name_keeps_its_extension() -> None:
    assert places.safe_name("u" * 200 + ".bin").endswith("u.bin")
    assert places.read_original("r1", "../../etc/passwd") == "reads/r1/original/passwd"


def test_a_record_that_could_not_be_read_again_is_never_written() -> None:
    """Whoever gives a number for a text would otherwise leave an archive that its own program calls damaged."""
    sound = Note("dusty", "Ann", "2026-11-24T22:00:00Z")
    assert from_json(Note, json.loads(write_json(sound)), "x") == sound
    odd: Any = 27128
    for record in (replace(sound, text=odd), [sound, replace(sound, text=odd)]):
        with refuses(InternalError, "internal", "27128"):
            write_json(record)
