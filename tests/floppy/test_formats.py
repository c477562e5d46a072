"""Formats are found by whatever people call them; list and show tell what the table has."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.errors import NotFoundError
from imagekeeper.floppy.formats import Format, FormatList, find, geometry_of, listed
from imagekeeper.jsonable import schema_of
from imagekeeper.tables.floppy import format_rows
from imagekeeper.tables.other_disks import other_disks
from tests.conftest import Ran
from tests.refusals import refuses

Cli = Callable[..., Ran]


@pytest.mark.parametrize("name", ["360K", "360k", "360 KB", "PC 360K", "5.25-40x2x9x512", "40X2X9X512", "40×2×9×512"])
def test_one_format_by_many_names(name: str) -> None:
    assert find(name).id == "5.25-40x2x9x512"


def test_every_name_finds_its_format() -> None:
    for row in format_rows().values():
        assert all(find(name) is row for name in (row.id, *row.aliases)), row.id


def test_a_name_of_several_formats_is_not_guessed() -> None:
    with refuses(NotFoundError, "format-unknown", "the name may mean several formats") as caught:
        find("80x2x9x512")
    assert "5.25-80x2x9x512, 3.5-80x2x9x512" in caught.value.why


@given(st.text(max_size=200))
def test_any_text_is_a_format_or_an_error(text: str) -> None:
    try:
        assert find(text).id in format_rows()
    except NotFoundError as problem:
        assert problem.code == "format-unknown"
        assert len(problem.why) < 400


def test_geometries() -> None:
    assert geometry_of(" 77x2X8x1024 ") == (77, 2, 8, 1024)
    assert [geometry_of(text) for text in ("", "80x2x9", "80x2x9x512x1", "x2x9x512", "999999x1x1x1")] == [None] * 5


def test_listing_by_size_and_disk() -> None:
    assert {line.bytes for line in listed(size=737280).formats} == {737280}
    assert {line.disk_inch for line in listed(disk_inch=8).formats} == {8}
    assert len(listed().formats) == len(format_rows()) + len(other_disks())


def test_list_and_show_as_json(cli: Cli) -> None:
    ran = cli("floppy", "list", "--json", "--size", "360K")
    assert (ran.code, list(ran.json)) == (0, schema_of(FormatList)["required"])
    assert "5.25-40x2x9x512" in [one["id"] for one in ran.json["formats"]]
    ran = cli("floppy", "show", "360k", "--json")
    assert (ran.code, list(ran.json)) == (0, schema_of(Format)["required"])
    assert (ran.json["bytes_per_track"], ran.json["clusters"], ran.json["gap3_max"]) == (6250, 354, 93)


@pytest.mark.parametrize("name", list(format_rows()))
def test_every_format_can_be_shown(cli: Cli, name: str) -> None:
    ran = cli("floppy", "show", name)
    assert (ran.code, ran.err) == (0, "")
    assert max(map(len, ran.out.splitlines())) <= 110
    assert str(format_rows()[name].bytes) in ran.out


def test_wrong_names_and_disks(cli: Cli) -> None:
    ran = cli("floppy", "show", "361K")
    assert ran.code == 5
    assert "360k" in ran.err
    assert cli("floppy", "list", "--disk-inch", "4").code == 2
    assert "no such format" in cli("floppy", "list", "--size", "3").out
