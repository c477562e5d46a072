"""The picture of differences."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.comparison.comparison import Comparison, compare
from imagekeeper.containers.model import Image
from imagekeeper.present.svg import difference_map
from imagekeeper.present.svg.shapes import BLUE, ORANGE

SVG = "{http://www.w3.org/2000/svg}"


def compared(a: bytes, b: bytes, name: str = "a.bin") -> Comparison:
    return compare([Image.from_bytes(a), Image.from_bytes(b)], [name, "b.bin"], map_columns=16)


def marks(document: str) -> list[tuple[str, str]]:
    """The cells with a note: colour and note."""
    root = ET.fromstring(document)  # noqa: S314  our own document
    notes = ((r.get("fill", ""), r.find(f"{SVG}title")) for r in root.iter(f"{SVG}rect"))
    return [(fill, note.text or "") for fill, note in notes if note is not None]


def test_each_difference_is_drawn_in_its_line_stretch_and_direction() -> None:
    a, b = bytearray(256), bytearray(256)
    b[0x20] = 0x08
    a[0xF1] = 0x80
    found = marks(difference_map.draw(compared(bytes(a), bytes(b))))
    assert found == [(BLUE, "D7 from 00F0: 1 bit from 1 to 0"), (ORANGE, "D3 from 0020: 1 bit from 0 to 1")]


def test_agreeing_reads_give_an_empty_map_that_says_so() -> None:
    document = difference_map.draw(compared(bytes(64), bytes(64)))
    assert marks(document) == []
    assert "agree over 64 bytes" in document


@given(data=st.lists(st.binary(min_size=50, max_size=50), min_size=2, max_size=2), name=st.text(max_size=20))
def test_the_picture_is_well_formed_and_fetches_nothing_whatever_the_name(data: list[bytes], name: str) -> None:
    document = difference_map.draw(compared(data[0], data[1], name))
    root = ET.fromstring(document)  # noqa: S314  our own document
    assert root.find(f"{SVG}title") is not None
    assert root.find(f"{SVG}desc") is not None
    assert not [e for e in root.iter() if e.tag in (f"{SVG}script", f"{SVG}image") or "href" in "".join(e.attrib)]
