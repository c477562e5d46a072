from __future__ import annotations

import copy
import hashlib
import json
from typing import Any

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.archive.ocfl.inventory import Inventory, User, Version, sidecar_bytes, sidecar_digest
from imagekeeper.archive.ocfl.inventory_check import PROBLEM_LIMIT, parse_inventory, path_problem
from imagekeeper.archive.ocfl.layout import LAYOUTS
from imagekeeper.archive.store import ArchiveStore

from .conftest import NOW

DIGEST = {"type": "string", "pattern": "^[0-9a-fA-F]{128}$"}
PATHS = {
    "type": "array", "minItems": 1, "uniqueItems": True,
    "items": {"type": "string", "pattern": r"^(?!/)(?!.*/$)(?!.*//)(?!(.*/)?\.\.?(/|$)).+$"},
}  # fmt: skip
BLOCK = {"type": "object", "propertyNames": DIGEST, "additionalProperties": PATHS}

#: Written from the rules of the Oxford Common File Layout Specification 1.1, section 3.5.
SCHEMA: dict[str, Any] = {
    "type": "object",
    "required": ["id", "type", "digestAlgorithm", "head", "manifest", "versions"],
    "additionalProperties": False,
    "properties": {
        "id": {"type": "string", "minLength": 1},
        "type": {"const": "https://ocfl.io/1.1/spec/#inventory"},
        "digestAlgorithm": {"enum": ["sha512", "sha256"]},
        "head": {"type": "string", "pattern": "^v[1-9][0-9]*$"},
        "contentDirectory": {"type": "string", "pattern": r"^(?!\.\.?$)[^/]+$"},
        "manifest": BLOCK,
        "versions": {
            "type": "object",
            "minProperties": 1,
            "propertyNames": {"pattern": "^v[1-9][0-9]*$"},
            "additionalProperties": {
                "type": "object",
                "required": ["created", "state"],
                "additionalProperties": False,
                "properties": {
                    "created": {
                        "type": "string",
                        "pattern": r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)$",
                    },
                    "state": BLOCK,
                    "message": {"type": "string"},
                    "user": {
                        "type": "object",
                        "required": ["name"],
                        "additionalProperties": False,
                        "properties": {"name": {"type": "string", "minLength": 1}, "address": {"type": "string"}},
                    },
                },
            },
        },
    },
}

text = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=20)
names = st.text(st.sampled_from("abc.-_%é"), min_size=1, max_size=4).filter(lambda name: name.strip("."))
files = st.dictionaries(names, st.binary(max_size=3), max_size=4)
users = st.none() | st.builds(User, text, st.none() | st.just("mailto:a@example.org"))


@st.composite
def inventories(draw: st.DrawFn) -> Inventory:
    """Histories as commits make them: each version some files, equal bytes stored once."""
    inventory = Inventory(draw(text), {}, ())
    for number in range(1, draw(st.integers(1, 4)) + 1):
        content = draw(files)
        state = {path: hashlib.sha512(data).hexdigest() for path, data in content.items()}
        added = {}
        stored = set(inventory.manifest.values())
        for path, digest in state.items():
            if digest not in stored:
                stored.add(digest)
                added[f"v{number}/content/{path}"] = digest
        inventory = inventory.next_version(Version(NOW, state, draw(st.none() | text), draw(users)), added)
    return inventory


@given(inventories())
def test_an_inventory_survives_writing_and_reading(inventory: Inventory) -> None:
    parsed = parse_inventory(inventory.to_bytes())
    assert parsed.problems == ()
    assert parsed.inventory == inventory
    assert parsed.inventory.to_bytes() == inventory.to_bytes()


@given(inventories())
def test_an_inventory_fits_the_schema_of_the_rules(inventory: Inventory) -> None:
    jsonschema.validate(json.loads(inventory.to_bytes()), SCHEMA)


def test_committed_inventories_fit_the_schema_of_the_rules(filled: ArchiveStore) -> None:
    found = list(filled.root.rglob("inventory.json"))
    assert len(found) == 8
    for path in found:
        jsonschema.validate(json.loads(path.read_bytes()), SCHEMA)


ONE, TWO = "1" * 127 + "a", "2" * 128
GOOD: dict[str, Any] = {
    "id": "tg85-u4",
    "type": "https://ocfl.io/1.1/spec/#inventory",
    "digestAlgorithm": "sha512",
    "head": "v2",
    "manifest": {ONE: ["v1/content/a"], TWO: ["v2/content/b/c"]},
    "versions": {
        "v1": {"created": NOW, "state": {ONE: ["a"]}, "message": "m", "user": {"name": "Ann"}},
        "v2": {"created": NOW, "state": {ONE: ["a"], TWO: ["b/c"]}},
    },
}
GONE = object()


def changed(path: str, value: Any) -> dict[str, Any]:
    document = copy.deepcopy(GOOD)
    *above, last = path.split("|")
    target: Any = document
    for key in above:
        target = target[key]
    if value is GONE:
        del target[last]
    else:
        target[last] = value
    return document


def test_the_example_is_good() -> None:
    assert parse_inventory(json.dumps(GOOD).encode()).problems == ()


# The codes are those of OCFL 1.1, Validation Codes.
@pytest.mark.parametrize(
    ("path", "value", "code"),
    [
        ("id", GONE, "E036"), ("type", GONE, "E036"), ("digestAlgorithm", GONE, "E036"), ("head", GONE, "E036"),
        ("manifest", GONE, "E041"), ("versions", GONE, "E041"), ("id", 7, "E037"), ("id", "", "E037"),
        ("type", "https://ocfl.io/1.0/spec/#inventory", "E038"), ("digestAlgorithm", "md5", "E025"),
        ("head", "v1", "E040"), ("head", ["v2"], "E040"), ("colour", "blue", "E102"),
        ("contentDirectory", "other", "E019"), ("manifest", [], "E042"), ("manifest|zz", ["v1/content/z"], "E042"),
        (f"manifest|{ONE}", [], "E042"), (f"manifest|{ONE}", ["v9/content/a"], "E042"),
        (f"manifest|{ONE}", [{}], "E042"), (f"manifest|{ONE}", ["v1/content/../a"], "E099"),
        (f"manifest|{ONE}", ["/etc/passwd"], "E099"), (f"manifest|{ONE.upper()}", ["v1/content/d"], "E096"),
        (f"manifest|{ONE}", ["v1/content/a", "v2/content/b/c"], "E101"),
        (f"manifest|{ONE}", ["v1/content/a", "v2/content/b"], "E101"), (f"manifest|{TWO}", GONE, "E050"),
        (f"versions|v2|state|{TWO}", GONE, "E107"), ("versions", {}, "E008"), ("versions", [], "E044"),
        ("versions|v1", GONE, "E010"), ("versions|v4", GOOD["versions"]["v1"], "E010"), ("versions|v2", 3, "E047"),
        ("versions|v1|created", GONE, "E048"), ("versions|v1|state", GONE, "E048"),
        ("versions|v1|created", "2026-11-24", "E049"), ("versions|v1|created", 5, "E049"),
        ("versions|v1|state", 5, "E050"), (f"versions|v2|state|{TWO}", ["../b"], "E052"),
        (f"versions|v2|state|{TWO}", ["a"], "E095"), (f"versions|v2|state|{TWO}", ["a/b"], "E095"),
        ("versions|v1|message", 4, "E094"), ("versions|v1|user", {}, "E054"), ("versions|v1|user", "Ann", "E054"),
        ("versions|v1|user|age", 3, "E102"), ("versions|v1|mood", "good", "E102"), ("fixity", {}, "E055"),
    ],
)  # fmt: skip
def test_what_breaks_a_rule_is_told_with_its_code(path: str, value: Any, code: str) -> None:
    parsed = parse_inventory(json.dumps(changed(path, value)).encode())
    assert parsed.inventory is None
    assert code in [problem.code for problem in parsed.problems]


@pytest.mark.parametrize(
    "data",
    [
        b"", b"null", b"[]", b"7", b"\xff", b"[" * 200_000, b'{"a":' * 100_000, b"9" * 10_000,
        b'{"id": "a", "id": "b"}', b'{"id": "\\ud800"}', b'"' + b"a" * 1000 + b'"',
    ],
)  # fmt: skip
def test_hostile_bytes_are_told_not_raised(data: bytes) -> None:
    parsed = parse_inventory(data)
    assert parsed.inventory is None
    assert parsed.problems


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=5), lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.sampled_from([*GOOD, "v1", "state", ONE, TWO]), inner, max_size=4), max_leaves=12,
)  # fmt: skip


@given(st.sampled_from([*GOOD, f"manifest|{ONE}", "versions|v1", "versions|v1|state", "versions|v1|user"]), json_values)
def test_wrong_types_anywhere_are_told_not_raised(path: str, value: Any) -> None:
    parsed = parse_inventory(json.dumps(changed(path, value)).encode())
    assert (parsed.inventory is None) == bool(parsed.problems)


def test_absurdly_many_problems_are_cut_short() -> None:
    document = {**GOOD, **{f"key{n}": n for n in range(1000)}}
    assert len(parse_inventory(json.dumps(document).encode()).problems) == PROBLEM_LIMIT


def test_a_path_of_absurd_depth_takes_no_time() -> None:
    document = changed(f"manifest|{ONE}", ["/".join(["v1/content"] + ["a"] * 1_000_000)])
    assert parse_inventory(json.dumps(document).encode()).inventory is None


@pytest.mark.parametrize("path", ["", "/a", "a/", "a//b", "a/./b", "..", "a\\b", "a\nb", "a\x00", "\ud800"])
def test_paths_that_lead_astray_are_refused(path: str) -> None:
    assert path_problem(path) is not None


@given(st.binary(max_size=200))
def test_any_bytes_beside_an_inventory_are_a_digest_or_none(data: bytes) -> None:
    found = sidecar_digest(data)
    assert found is None or len(found) == 128


def test_the_digest_file_is_as_the_standard_says() -> None:
    # OCFL 1.1, section 3.7: digest, white space, inventory.json
    assert sidecar_bytes(ONE) == ONE.encode() + b"  inventory.json\n"
    assert sidecar_digest(ONE.upper().encode() + b"\tinventory.json") == ONE


def test_long_ids_are_cut_as_extension_0003_says() -> None:
    # OCFL Community Extension 0003: over 100 characters, the first 100, a hyphen and the whole digest
    folder = LAYOUTS["0003"].object_folder("a" * 101)
    digest = hashlib.sha256(b"a" * 101).hexdigest()
    assert folder == f"{digest[:2]}/{digest[2:4]}/{'a' * 100}-{digest}"
    assert LAYOUTS["0003"].object_folder("a" * 100).endswith("/" + "a" * 100)


@given(text)
def test_ids_come_back_from_folder_names(name: str) -> None:
    layout = LAYOUTS["0003"]
    if len(layout.object_folder(name)) <= 106:
        assert layout.object_id(layout.object_folder(name)) == name
