"""The pictures of disks: what they say in words, that they stay small and legible, and that names cannot break them."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from imagekeeper.filesystems.damage import damage
from imagekeeper.filesystems.damage_model import HurtState
from imagekeeper.filesystems.model import Area, Entry, Extent, SectorGrid, Volume
from imagekeeper.jobs.disks.mapping_sectors import SectorMap
from imagekeeper.present.svg import damage_picture, rulers
from imagekeeper.present.svg.shapes import BLUE, DARK, GROUND, INK, ORANGE, PAPER, QUIET, Drawing

SVG = "{http://www.w3.org/2000/svg}"


def made(grid: SectorGrid, files: int, states: list[tuple[Extent, HurtState]], name: str = "TIDE.LOG") -> SectorMap:
    track = grid.sectors * grid.sector_bytes
    size = track * grid.heads * (grid.cylinders or 1)
    entries = tuple(
        Entry(
            path=name.replace("#", str(one)), name="", name_hex="", kind="file", size_bytes=track,
            extents=(Extent(one * track, track),),
        )
        for one in range(files)
    )  # fmt: skip
    volume = Volume(
        kind="fat12", title="a volume", start=0, length=size, unit_bytes=512, units=9, free_units=0, entries=entries,
        areas=(Area("boot sector", 0, 512),), free=(Extent(files * track, size - files * track),),
    )  # fmt: skip
    return SectorMap(
        name="survey.img", name_base64=None, output="survey.svg", verdict="3 of 41 files are hurt.", says="41 files.",
        geometry=grid.text, grid=grid, size_bytes=size, bad_sectors=len(states),
        damage=damage([volume], grid, size, states),
    )  # fmt: skip


FLOPPY = SectorGrid(heads=2, sectors=9, sector_bytes=512, cylinders=40)
HARD = SectorGrid(heads=16, sectors=63, sector_bytes=512, cylinders=16383)
STATES: list[HurtState] = ["missing", "bad", "doubtful", "filled"]


def words(picture: str) -> list[str]:
    return [one.text or "" for one in ET.fromstring(picture).iter(f"{SVG}text")]   # noqa: S314  our own


def test_every_state_and_place_is_said_in_words() -> None:
    states = [(Extent(512 * 9 * one + 512, 1024), state) for one, state in enumerate(STATES)]
    states.append((Extent(512 * 700, 512), "bad"))
    told = words(damage_picture.draw(made(FLOPPY, 4, states, "FILE#.DAT")))
    assert told[0] == "3 of 41 files are hurt."
    for expected in ("0/0/2-3 missing", "0/1/2-3 bad", "1/0/2-3 doubtful", "1/1/2-3 perhaps not read", "FILE0.DAT",
                     "mends FILE3.DAT", "cylinder 1, side 1", "above: a file is hurt",
                     "free space: 1 sector on 1 track; harmless: no file has them"):  # fmt: skip
        assert expected in told, expected
    assert told.index("cylinder 0, side 1") < told.index("cylinder 1, side 0")


@pytest.mark.parametrize("name", [
    "</text><script>x</script>#", "\u202e\x1b[2J&#\ud800", "a" * 9000 + "#", "]]>\ufffe\x00",
])  # fmt: skip
def test_names_of_files_are_words_and_nothing_else(name: str) -> None:
    result = replace(made(FLOPPY, 3, [(Extent(0, 512 * 27), "bad")], name), name=name)
    picture = damage_picture.draw(result)
    root = ET.fromstring(picture)   # noqa: S314  our own
    assert {one.tag for one in root.iter()} <= {SVG + tag for tag in (
        "svg", "title", "desc", "style", "rect", "line", "text", "path"
    )}  # fmt: skip
    assert max(map(len, words(picture))) < 200
    assert not re.search("[\u202e\x1b\x00\ufffe]", picture)


@pytest.mark.parametrize(("grid", "files"), [
    (FLOPPY, 70), (HARD, 4000), (SectorGrid(heads=255, sectors=1, sector_bytes=128, cylinders=300), 3000),
    (SectorGrid(heads=1, sectors=255, sector_bytes=512, cylinders=1), 1),
])  # fmt: skip
def test_pictures_of_any_disk_stay_on_a_page(grid: SectorGrid, files: int) -> None:
    track = grid.sectors * grid.sector_bytes
    count = min(grid.heads * (grid.cylinders or 1), 6000)
    size = grid.sector_bytes
    states: list[tuple[Extent, HurtState]] = [(Extent(one * track, size), "bad") for one in range(count)]
    picture = damage_picture.draw(made(grid, files, states, "F#"))
    root = ET.fromstring(picture)   # noqa: S314  our own
    assert len(picture) < 1_000_000
    assert int(root.attrib["height"]) < 3 * int(root.attrib["width"])
    for one in root.iter(f"{SVG}rect"):
        assert 0 <= float(one.attrib["x"]) <= float(root.attrib["width"]) - float(one.attrib["width"]) + 5
        assert float(one.attrib["y"]) + float(one.attrib["height"]) <= int(root.attrib["height"])


def test_a_file_with_very_many_stretches_keeps_its_labels_apart() -> None:
    grid = SectorGrid(heads=1, sectors=16, sector_bytes=256, cylinders=100)
    entry = Entry(
        path="GAUGE.DAT", name="", name_hex="", kind="file", size_bytes=409600, extents=(Extent(0, 409600),)
    )
    base = made(grid, 0, [])
    volume = Volume(
        kind="fat12", title="a volume", start=0, length=409600, unit_bytes=512, units=9, free_units=0, entries=(entry,)
    )
    states: list[tuple[Extent, HurtState]] = [(Extent(one * 4096, 256), "bad") for one in range(100)]
    picture = damage_picture.draw(replace(base, damage=damage([volume], grid, 409600, states)))
    told = words(picture)
    assert any(re.fullmatch(r"and \d+ stretches more", one) for one in told)
    labels = [
        (float(one.attrib["y"]), float(one.attrib["x"]), len(one.text or ""))
        for one in ET.fromstring(picture).iter(f"{SVG}text") if re.match(r"\d+/0/1 bad", one.text or "")   # noqa: S314
    ]  # fmt: skip
    assert len(labels) > 10
    for y, x, length in labels:
        assert not [one for one in labels if one[0] == y and x < one[1] < x + length * 5]


def luminance(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    bright, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def test_the_contrast_formula_gives_its_ends() -> None:
    """W3C, WCAG 2.2, "contrast ratio": from 1 to 21."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#123456", "#123456") == pytest.approx(1)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_words_and_marks_have_the_contrast_that_wcag_asks(scheme: str) -> None:
    """W3C, WCAG 2.2, success criteria 1.4.3 (text: 4.5 to 1) and 1.4.11 (marks: 3 to 1)."""
    shown = DARK if scheme == "dark" else {one: one for one in DARK}
    for ink, ground in ((INK, PAPER), (INK, GROUND), (QUIET, PAPER)):
        assert contrast(shown[ink], shown[ground]) >= 4.5
    for mark in (ORANGE, BLUE, INK, QUIET):
        for ground in (PAPER, GROUND):
            assert contrast(shown[mark], shown[ground]) >= 3


def test_every_colour_of_the_picture_has_its_dark_one() -> None:
    states: list[tuple[Extent, HurtState]] = [(Extent(512 * 9 * one, 512), state) for one, state in enumerate(STATES)]
    picture = damage_picture.draw(made(FLOPPY, 3, states))
    colours = list(DARK)
    seen = 0
    for one in ET.fromstring(picture).iter():   # noqa: S314  our own
        for what in ("fill", "stroke"):
            if what in one.attrib:
                seen += 1
                assert f"{what}-{colours.index(one.attrib[what])}" in one.attrib["class"].split()
    assert seen > 40
    assert "@media print" in picture


def test_rulers_put_what_is_close_together_into_one_stem() -> None:
    drawing = Drawing(500, 200, "a ruler", "")
    stems = {(at, 0): rulers.Stem(above=0.5, note=f"cylinder {at}") for at in range(2000)}
    rulers.draw_rulers(drawing, 0, 2000, 1, stems, left=0, width=452)
    root = ET.fromstring(drawing.text_of())   # noqa: S314  our own
    stems_drawn = [one for one in root.iter(f"{SVG}rect") if one.attrib["fill"] == ORANGE]
    assert 100 < len(stems_drawn) <= 400 / 3 + 1
