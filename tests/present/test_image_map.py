"""The picture of one image."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.containers.model import Image
from imagekeeper.inspection.inspection import inspect_image
from imagekeeper.present.svg import image_map

SVG = "{http://www.w3.org/2000/svg}"


def drawn(data: bytes, name: str = "u5.bin", start: int = 0) -> ET.Element:
    result = inspect_image(Image.from_bytes(data, start)).named(name, None)
    return ET.fromstring(image_map.draw(result))  # noqa: S314  our own document


def cells(root: ET.Element) -> list[str]:
    return [note.text or "" for rect in root.iter(f"{SVG}rect") if (note := rect.find(f"{SVG}title")) is not None]


def words(root: ET.Element) -> list[str]:
    return [text.text or "" for text in root.iter(f"{SVG}text")]


def test_each_block_is_a_cell_with_its_kind_in_words_and_as_a_letter() -> None:
    root = drawn(b"\xff" * 256 + b"SET DATUM, SET CLOCK and " * 11, start=0xE000)
    notes = cells(root)
    assert len(notes) == 3
    assert notes[0] == "E000 to E0FF: fill: one value; 0.00 bits a byte, 1 different byte, 100% are FF"
    assert notes[1].startswith("E100 to E1FF: text: printable ASCII")
    assert words(root)[3:6] == ["E000", "FF", "T"]


def test_the_legend_explains_every_kind() -> None:
    root = drawn(bytes(range(256)) * 8)
    for _, _, _, about in image_map.KINDS.values():
        assert any(word.startswith(about) for word in words(root))
    assert len({letter for letter, *_ in image_map.KINDS.values()}) == len(image_map.KINDS)


@given(data=st.binary(max_size=1200), name=st.text(max_size=20))
def test_the_picture_is_well_formed_and_fetches_nothing(data: bytes, name: str) -> None:
    root = drawn(data, name)
    assert len(cells(root)) == -(-len(data) // 256)
    assert root.find(f"{SVG}desc") is not None
    assert not [e for e in root.iter() if e.tag in (f"{SVG}script", f"{SVG}image") or "href" in "".join(e.attrib)]
