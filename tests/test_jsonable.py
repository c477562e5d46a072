"""JSON documents and their schemas."""

from __future__ import annotations

import base64
import json
import os

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper import jsonable

#: RFC 8785, section 3.2.2 and its appendix: strings are escaped as ECMAScript does, members sorted, no white space.
RFC_8785 = [
    ({"b": 2, "a": 1}, b'{"a":1,"b":2}'),
    ({"a": [1, {"z": None, "y": True}]}, b'{"a":[1,{"y":true,"z":null}]}'),
    ({"string": '\u20ac$\u000f\nA\'B"\\"/'}, '{"string":"\u20ac$\\u000f\\nA\'B\\"\\\\\\"/"}'.encode()),
]


@pytest.mark.parametrize(("value", "expected"), RFC_8785)
def test_the_canonical_form(value: object, expected: bytes) -> None:
    assert jsonable.canonical(value) == expected


@pytest.mark.parametrize("value", [1.5, {"a": 1 << 53}, [{"b": 0.0}], {"\u00e4": 1}])
def test_what_has_no_exact_canonical_form_is_refused(value: object) -> None:
    with pytest.raises(TypeError):
        jsonable.canonical(value)


@given(name=st.binary(min_size=1, max_size=40))
def test_any_file_name_survives_exactly(name: bytes) -> None:
    text = os.fsdecode(name)
    shown, exact = jsonable.printable(text), jsonable.exact_name(text)
    json.dumps(shown).encode("utf-8")
    assert (base64.b64decode(exact) if exact else shown.encode()) == name
    assert jsonable.one_line(text).isprintable()


def test_every_published_schema_is_a_schema_and_every_example_fits() -> None:
    from imagekeeper.comparison.comparison import Comparison, compare
    from imagekeeper.containers.model import Image

    schema = jsonable.schema_of(Comparison)
    jsonschema.Draft202012Validator.check_schema(schema)
    result = compare([Image.from_bytes(b"AB"), Image.from_bytes(b"AC")], ["a", "b"], map_columns=2)
    jsonschema.validate(jsonable.to_json(result), schema)
    broken = jsonable.to_json(result) | {"agree": "no"}
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(broken, schema)
