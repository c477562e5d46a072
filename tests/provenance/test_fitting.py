from __future__ import annotations

import dataclasses
import importlib
import pkgutil
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import imagekeeper.provenance
from imagekeeper.addresses import Doubt, Span
from imagekeeper.errors import ArchiveError, InternalError, UsageError
from imagekeeper.provenance import fitting
from imagekeeper.provenance.agreed import Agreed
from imagekeeper.provenance.derivations import Derivation, DerivationSource
from imagekeeper.provenance.events import last_digest
from imagekeeper.provenance.fields import from_json, list_from_json, read_json, write_json
from imagekeeper.provenance.fitting import decoded, fits, is_path, is_text, misfit
from imagekeeper.provenance.records import Carrier
from imagekeeper.provenance.references import Reference
from imagekeeper.provenance.remarks import Note, Photo
from tests.refusals import refuses

from .test_records import READ

TIME = READ.added
CARRIER = Carrier(
    id="tg85-u4", uuid="0195c0de-0000-7000-8000-000000000001", kind="eprom", part=None, machine=None, board=None,
    position=None, label=None, note=None, created=TIME,
)  # fmt: skip
AGREED = Agreed(
    sha256="a" * 64, grade="single", because="", raise_by=None, reads=("r1",), image="agreed.bin",
    references=(Reference("crc32", "CBF43926"),),
)  # fmt: skip
DERIVED = Derivation(
    id="d1", title=None, sources=(DerivationSource("tg85-u4", "agreed", "a" * 64),), steps=({"step": "invert"},),
    sha256="a" * 64, size_bytes=16, path="derived/d1.bin", software="imagekeeper", added=TIME,
)  # fmt: skip
PHOTO = Photo(path="photos/1-top.png", file="top.png", sha256="a" * 64, caption=None, added=TIME)


def image(**members: Any) -> Any:
    return replace(READ, image=replace(READ.image, **members))


@pytest.mark.parametrize("record", [CARRIER, READ, READ.image, AGREED, DERIVED, PHOTO, Note("n", None, TIME)])
def test_what_we_write_fits(record: Any) -> None:
    assert fits(record)
    assert misfit(record) is None


ODD: dict[str, Any] = {
    "id is": replace(CARRIER, id="TG85 U4"), "uuid is": replace(CARRIER, uuid="none"),
    "kind is 'punched card'": replace(CARRIER, kind="punched card"),
    "label is": replace(CARRIER, label="half \ud800"), "note is": replace(CARRIER, note="x" * (fitting.TEXT_LIMIT + 1)),
    "created is": replace(CARRIER, created="2026-11-24"),
    "sha256 is": replace(READ, sha256="A" * 64), "size_bytes is -1": replace(READ, size_bytes=-1),
    "date is": replace(READ, date="yesterday"), "date is '2026-02-30'": replace(READ, date="2026-02-30"),
    "modified is": replace(READ, modified="2026-11-24T22:00:00"), "notes is": replace(READ, notes=("warm", "\udcff")),
    "id is 'r01'": replace(READ, id="r01"),
    "../x": replace(READ, original="reads/r1/../../../x"),
    "reads/r2/image.bin": replace(READ, image_path="reads/r2/image.bin"),
    "crc32 is 'x'": replace(READ.image, crc32="x"), "first_address is": replace(READ.image, first_address=10**40),
    "make up 16 bytes": replace(READ.image, size_bytes=17),
    "ascending order": replace(READ.image, segments=(Span(0, 8), Span(4, 8))),
    "are empty": replace(READ.image, segments=(Span(0, 16), Span(16, 0))),
    "not that of its first segment": replace(READ.image, first_address=1),
    "start is 4294967296": Span(1 << 32, 1), "length is -1": Span(0, -1),
    "start is -1": Doubt(start=-1, length=0, code="", why=""),
    "not ids of different reads": replace(AGREED, reads=("r1", "r1")),
    "agreed.bin": replace(AGREED, image="reads/r1/image.bin"),
    "no crc32": Reference("crc32", "CBF4392"), "names no image": replace(DERIVED.sources[0], what="r0"),
    "steps holds": replace(DERIVED, steps=({"fill": 1 << 60},)),
    "photos/": replace(PHOTO, path="agreed.bin"),
}  # fmt: skip


@pytest.mark.parametrize("says", ODD)
def test_what_is_none_of_its_kind_is_told(says: str) -> None:
    assert not fits(ODD[says])
    assert says in str(misfit(ODD[says]))


def test_what_is_only_unlikely_fits() -> None:
    """Plausibility is judged elsewhere, where a person can insist."""
    for record in (replace(READ, date="1800"), replace(READ, vcc="29.9"), replace(CARRIER, part="no such part")):
        assert fits(record)


def test_a_misfit_is_neither_read_nor_written() -> None:
    odd = write_json(READ).replace(b"CBF43926", b"x")
    with refuses(ArchiveError, "archive-damaged", "crc32 is 'x', which is no CRC-32"):
        from_json(type(READ), read_json(odd, "read.json"), "read.json")
    with refuses(InternalError, "internal", "crc32"):
        write_json(image(crc32="x"))


def test_a_text_that_is_too_long_is_the_fault_of_who_gave_it() -> None:
    with refuses(UsageError, "usage", "a text is too long to be kept"):
        write_json(replace(CARRIER, note="x" * (fitting.TEXT_LIMIT + 1)))


def test_of_records_in_a_list_no_two_have_one_id() -> None:
    two = read_json(write_json([DERIVED, DERIVED]), "derivations.json")
    with refuses(ArchiveError, "archive-damaged", "the id d1 is there twice"):
        list_from_json(Derivation, two, "derivations.json")
    assert len(list_from_json(Derivation, two[:1], "derivations.json")) == 1


#: What RFC 7493 (I-JSON), sections 2.2 and 2.3, and RFC 8259, section 6, leave out.
NO_JSON: dict[str, bytes] = {
    "is there twice": b'{"id": 1, "id": 1}', "NaN is no number": b"[NaN]", "Infinity is no number": b"[-Infinity]",
    "more than a number can be": b"[9007199254740992]", "999999999 is more": b"9" * 9 + b"9" * 31,
    "000 is more": b"[1" + b"0" * 5000 + b"]", "32 levels": b"[" * 33 + b"]" * 33, "levels deep": b"[" * 100_000,
    "1e400": b"[1e400]", "decode": b'"\xff"', "Expecting": b"",
}  # fmt: skip


@pytest.mark.parametrize("says", NO_JSON)
def test_json_that_readers_would_understand_differently_is_none(says: str) -> None:
    with pytest.raises(ValueError) as caught:
        decoded(NO_JSON[says])
    assert says.replace("999999999", "9" * 40) in str(caught.value) or "-Infinity" in str(caught.value)


def test_the_limits_themselves_are_within() -> None:
    assert decoded(b"[9007199254740991, -9007199254740991]") == [(1 << 53) - 1, 1 - (1 << 53)]
    assert decoded(b"[" * 32 + b"]" * 32)
    assert is_text("x" * fitting.TEXT_LIMIT)


@given(st.recursive(
    st.none() | st.booleans() | st.integers(-(1 << 53) + 1, (1 << 53) - 1) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3), max_leaves=12,
))  # fmt: skip
def test_plain_json_is_decoded_as_json_does_it(value: Any) -> None:
    import json

    assert decoded(json.dumps(value).encode()) == value


@given(st.text(st.characters(codec="utf-8"), max_size=80))
def test_a_path_that_fits_leads_nowhere_else(text: str) -> None:
    from posixpath import normpath

    if is_path(text):
        assert normpath(text) == text
        assert not text.startswith(("/", ".."))


def test_a_last_event_of_which_no_digest_can_be_taken_is_damage() -> None:
    with refuses(ArchiveError, "archive-damaged", "cannot be read"):
        last_digest(b'{"a": 1.5}\n')


def _record_classes() -> Iterator[type]:
    for module in pkgutil.iter_modules(imagekeeper.provenance.__path__):
        loaded = importlib.import_module(f"imagekeeper.provenance.{module.name}")
        yield from (
            cls for cls in vars(loaded).values()
            if isinstance(cls, type) and dataclasses.is_dataclass(cls) and cls.__module__ == loaded.__name__
        )  # fmt: skip


def test_every_rule_is_of_a_class_and_field_that_are_there() -> None:
    classes = (*_record_classes(), Span, Doubt)
    known = {(cls.__name__, field.name) for cls in classes for field in dataclasses.fields(cls)}
    assert fitting._BY_CLASS.keys() <= known
    assert fitting._BY_NAME.keys() <= {name for _, name in known}
    assert fitting._TOGETHER.keys() <= {name for name, _ in known}


def test_every_text_and_number_of_a_record_has_a_rule() -> None:
    for cls in _record_classes():
        ruled = {name for name, _, _ in fitting._rules(cls)}
        for field in dataclasses.fields(cls):
            kind = str(field.type).removesuffix(" | None")
            if kind in ("str", "int", "tuple[str, ...]") or "dict[" in kind:
                assert field.name in ruled or cls.__name__ == "_Rule", f"{cls.__name__}.{field.name}"
