"""What a size, or a few facts, propose: how far a file may be off a shape, and how much that speaks against it.

How usual a shape is, and what each kind of departure weighs, is our judgement, no source: the tables below are its
statement, and the tests of order say what it is for. Which shapes there are is counted out here by trying all.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from imagekeeper.geometry.known import Known
from imagekeeper.geometry.proposals import Proposal, against_size, once, proposals
from imagekeeper.geometry.shapes import Shape, usual
from imagekeeper.ranked import Evidence
from imagekeeper.tables.floppy import format_rows
from tests.geometry.disks import shape_of

PC = shape_of("5.25-40x2x9x512")             # 368640 bytes, a cylinder of 9216, a track of 4608
ONE_SIDE = shape_of("5.25-40x1x9x512")       # 184320 bytes
CYLINDER, TRACK, SECTOR = 9216, 4608, 512


def against(off: int, shape: Shape = PC) -> Proposal | None:
    return against_size(Proposal(shape=shape), shape.bytes + off)


@pytest.mark.parametrize(
    ("off", "says", "weight"),
    [
        (0, "is exactly 40x2x9x512", 3.0),
        (CYLINDER, "41 cylinders were read, 40 is the format", -0.5),
        (3 * CYLINDER, "43 cylinders were read, 40 is the format", -0.5),   # drives step so far: common practice
        (4 * CYLINDER, "4 cylinders more than 40x2x9x512", -2.5),
        (-CYLINDER, "one cylinder short of 40x2x9x512", -1.0),
        (-2 * CYLINDER, "2 cylinders short of 40x2x9x512", -1.5),
        (-4 * CYLINDER, "4 cylinders short of 40x2x9x512", -2.5),
        (-TRACK, "one track short of 40x2x9x512", -2.0),
        (TRACK, "one track more than 40x2x9x512", -2.0),
        (3 * TRACK, "3 tracks more than 40x2x9x512", -3.0),
        (-SECTOR, "one sector short of 40x2x9x512", -2.5),
        (17 * SECTOR, "17 sectors more than 40x2x9x512", -2.5),
        (-19 * SECTOR, "19 sectors short of 40x2x9x512", -4.5),              # more than a cylinder, and no whole one
        (128, "128 bytes more than 40x2x9x512: a header in front, or something behind", -3.125),
        (1, "1 byte more than 40x2x9x512: a header in front, or something behind", -3.0 - 1 / 1024),
        (4095, "4095 bytes more than 40x2x9x512: a header in front, or something behind", -3.0 - 4095 / 1024),
        (-100, "100 bytes short of 40x2x9x512: cut short", -4.0),
        (-TRACK + 1, "4607 bytes short of 40x2x9x512: cut short", -4.0),
        (-184_320, "half of 40x2x9x512: one side of two", -3.0),
    ],
)  # fmt: skip
def test_how_a_size_stands_to_a_shape(off: int, says: str, weight: float) -> None:
    told = against(off)
    assert told is not None
    (evidence,) = told.evidence
    assert evidence.says.endswith(says)
    assert evidence.weight == pytest.approx(weight)
    assert (told.short, told.extra, told.start, told.content) == (max(-off, 0), max(off, 0), 0, 0.0)
    assert told.exact == (off == 0)


@pytest.mark.parametrize(
    "off",
    [
        -5 * CYLINDER, 5 * CYLINDER,     # more than one part in ten
        4097, 9000,                      # a header of more than 4096 bytes is not assumed
        -TRACK - 1, -CYLINDER - 100,     # cut short by more than a track, at no sector
        -184_321, 368_640,
    ],
)  # fmt: skip
def test_a_size_that_is_not_explained(off: int) -> None:
    assert against(off) is None


def test_a_header_may_be_4096_bytes_where_that_is_no_sector() -> None:
    large = replace(PC, sectors=1, sector_bytes=8192)
    told = against(4096, large)
    assert told is not None
    assert told.evidence[0].says.startswith("4096 bytes more than")
    assert against(4097, large) is None


def test_on_one_side_a_cylinder_is_a_track_and_half_a_disk_is_none() -> None:
    told = against(-TRACK, ONE_SIDE)
    assert told is not None
    assert told.evidence == (Evidence("one track short of 40x1x9x512", -1.0),)
    assert against(-ONE_SIDE.bytes // 2, ONE_SIDE) is None


def test_what_is_likelier_weighs_more() -> None:
    """Whole cylinders before tracks, tracks before sectors, sectors before a header, a header before a cut."""
    ladder = [0, CYLINDER, -CYLINDER, -TRACK, -SECTOR, 128, -100]
    weights = [told.weight for off in ladder if (told := against(off))]
    assert weights == sorted(weights, reverse=True)
    assert len(set(weights)) == len(ladder)


def test_of_one_shape_that_which_has_most_for_it_is_kept() -> None:
    weak, strong = (Proposal(shape=PC).because(Evidence("", weight)) for weight in (1.0, 2.0))
    elsewhere = replace(weak, start=128)
    assert once([weak, strong, elsewhere]) == (strong, elsewhere)
    assert once([strong, weak]) == (strong,)
    again = replace(strong, short=1)
    assert once([strong, again]) == (strong,)   # the first of two that weigh the same


# ---- formats of the table


@pytest.mark.parametrize("row", format_rows().values(), ids=lambda row: row.id)
def test_how_usual_a_format_is_comes_with_its_name(row: object) -> None:
    shape = shape_of(row.id)   # type: ignore[attr-defined]
    (found,) = [one for one in proposals(Known(size_bytes=shape.bytes)) if one.shape == shape and one.exact]
    rows = format_rows()
    titles = " and ".join(rows[name].title for name in shape.formats[:3])
    assert found.evidence[0] == Evidence(f"how usual it is: {titles}", usual(rows[shape.formats[0]]))


def test_an_exact_format_speaks_against_all_that_are_off() -> None:
    """That a file has exactly the size of a format is seldom chance."""
    seldom = "a format of the table has exactly this size, which is seldom chance"
    for one in proposals(Known(size_bytes=368_640)):
        assert [e.weight for e in one.evidence if e.says == seldom] == ([] if one.exact else [-2.0])
    for one in proposals(Known(size_bytes=368_640 - 512)):
        assert not any(e.says == seldom for e in one.evidence)
    for one in proposals(Known(size_bytes=82 * 9216)):   # exactly a shape, and of no format
        assert not any(e.says == seldom for e in one.evidence)


def test_shapes_that_no_format_has_are_tried_only_where_no_format_has_the_size() -> None:
    assert all(one.shape.formats or "more than" in one.evidence[0].says for one in proposals(Known(size_bytes=368_640)))
    freely = [one for one in proposals(Known(size_bytes=80 * 2 * 21 * 512)) if "no format of" in one.evidence[0].says]
    assert freely
    with_facts = proposals(Known(sectors=9, sector_bytes=512, heads=2, cylinders=40))
    assert not any("no format of" in one.evidence[0].says for one in with_facts)


def test_more_cylinders_than_the_format_are_proposed_where_so_many_are_known() -> None:
    """Drives step up to three further: common practice, no source. And each less usual than the format itself."""
    base = {one.shape.text: one for one in proposals(Known(cylinders=80, heads=2, sectors=9, sector_bytes=512))}
    for more in (1, 2, 3):
        known = Known(cylinders=80 + more, heads=2, sectors=9, sector_bytes=512)
        found = {one.shape.text: one for one in proposals(known)}
        wide = found[f"{80 + more}x2x9x512"]
        assert wide.shape.formats == ()
        count = "1 cylinder" if more == 1 else f"{more} cylinders"
        assert wide.evidence[0].says == f"{count} more than PC 720K has; drives can step so far"
        assert wide.weight == base["80x2x9x512"].evidence[0].weight - 4
    beyond = proposals(Known(cylinders=84, heads=2, sectors=9, sector_bytes=512))
    assert not any("drives can step" in one.evidence[0].says for one in beyond)


def test_more_cylinders_than_the_format_are_proposed_where_the_size_asks_it() -> None:
    wide = [one for one in proposals(Known(size_bytes=82 * 9216)) if one.shape.text == "82x2x9x512"]
    assert [one.exact for one in wide] == [True]
    assert wide[0].evidence[0].says == "2 cylinders more than PC 720K has; drives can step so far"
    assert not [one for one in proposals(Known(size_bytes=82 * 9216 + 1)) if one.shape.text == "82x2x9x512"]


def test_a_format_does_not_stretch_to_the_next_number_of_cylinders_that_drives_have() -> None:
    """77 and three are 80: another drive, and its own format. Nor does the data area of a disk stretch."""
    for cylinders in (80, 79, 78):
        found = proposals(Known(cylinders=cylinders, heads=2, sectors=8, sector_bytes=1024))
        stretched = [one for one in found if "drives can step so far" in one.evidence[0].says]
        assert bool(stretched) == (cylinders < 80), cylinders
    for cylinders, sectors, size, heads in ((41, 9, 512, 2), (36, 16, 256, 1)):
        found = proposals(Known(cylinders=cylinders, heads=heads, sectors=sectors, sector_bytes=size))
        assert any("1 cylinder more than" in one.evidence[0].says for one in found)
    part = proposals(Known(cylinders=75, heads=1, sectors=26, sector_bytes=128))
    assert not any("drives can step so far" in one.evidence[0].says for one in part)
    assert any(one.shape.text == "73x1x26x128" for one in proposals(Known(cylinders=73, heads=1)))


# ---- shapes that drives could hold


def counted_out(known: Known) -> set[tuple[str, str]]:
    """Every shape of the size or the sectors, by trying all that a track can hold."""
    found = set()
    for track, _, counts in known.tracks():
        for size in [known.sector_bytes] if known.sector_bytes else [128 << code for code in range(7)]:
            most = track.most(size)
            for heads in [known.heads] if known.heads else [1, 2]:
                more = range(4) if known.size_bytes else range(1)
                every = {count + n for count in counts for n in more}
                for cylinders in [known.cylinders] if known.cylinders else every:
                    for sectors in [known.sectors] if known.sectors else range(1, 256):
                        size_fits = known.size_bytes in (None, cylinders * heads * sectors * size)
                        if size_fits and most * 2 // 3 < sectors <= most:
                            found.add((f"{cylinders}x{heads}x{sectors}x{size}", str(track)))
    return found


FREE = [
    Known(size_bytes=80 * 2 * 21 * 512),
    Known(size_bytes=35 * 2 * 13 * 256), Known(size_bytes=83 * 2 * 11 * 512), Known(size_bytes=80 * 2 * 17 * 512),
    Known(sectors=17, sector_bytes=256), Known(sectors=17, sector_bytes=256, cylinders=41),
    Known(sectors=17, sector_bytes=256, cylinders=40), Known(size_bytes=80 * 2 * 16384),
    Known(sectors=6, sector_bytes=1024, cylinders=79),
    Known(sectors=10, sector_bytes=512, heads=1, cylinders=41), Known(size_bytes=80 * 2 * 21 * 512, sectors=21),
    Known(size_bytes=80 * 2 * 21 * 512, cylinders=80, heads=2), Known(size_bytes=80 * 2 * 3 * 2048),
    Known(sectors=22, sector_bytes=512, cylinders=82),
]  # fmt: skip


def freely(known: Known) -> list[Proposal]:
    return [one for one in proposals(known) if one.evidence[0].says.startswith("no format of the table")]


@pytest.mark.parametrize("known", FREE, ids=str)
def test_every_shape_that_a_drive_could_hold_is_proposed(known: Known) -> None:
    """Arithmetic on the fields of a track; a track less than two thirds full is left out, our judgement."""
    found = freely(known)
    table = {(one.shape.text, str(one.shape.track)) for one in proposals(known)} - {
        (one.shape.text, str(one.shape.track)) for one in found
    }
    assert {(one.shape.text, str(one.shape.track)) for one in found} == counted_out(known) - table
    assert all(one.exact for one in found)


def off_the_usual(cylinders: int, counts: tuple[int, ...]) -> int:
    """How far beyond the next number of cylinders that drives have, or below the least of them."""
    below = [cylinders - count for count in counts if count <= cylinders]
    return min(below) if below else min(counts) - cylinders


@pytest.mark.parametrize("known", FREE, ids=str)
def test_a_shape_that_no_format_has_tells_how_full_its_track_is(known: Known) -> None:
    for one in freely(known):
        shape = one.shape
        most = shape.track.most(shape.sector_bytes)
        fills = f"{shape.sectors} of at most {most} sectors of {shape.sector_bytes} bytes on a track of {shape.track}"
        assert one.evidence[0].says == f"no format of the table; {fills}"
        usual_size = shape.sector_bytes in (128, 256, 512, 1024)
        empty = 1 - shape.sectors / most
        assert one.evidence[0].weight == pytest.approx(-1.0 - (0 if usual_size else 1) - 4 * empty)
        more = min(off_the_usual(shape.cylinders, c) for track, _, c in known.tracks() if track == shape.track)
        told = [e for e in one.evidence if "more than usual" in e.says]
        assert [e.weight for e in told] == ([-0.5 * more] if more else [])
        exact = [e.weight for e in one.evidence if "is exactly" in e.says]
        assert exact == ([3.0] if known.size_bytes else [])


def test_fewer_cylinders_than_any_drive_has_are_off_the_usual_too() -> None:
    found = freely(Known(sectors=10, sector_bytes=512, heads=2, cylinders=30))
    assert found
    for one in found:
        counts = [n for track, _, c in Known().tracks() if track == one.shape.track for n in c]
        assert one.evidence[1].says.startswith(f"{min(counts) - 30} cylinder")


def test_sectors_alone_or_a_size_of_sectors_alone_propose_no_shape_freely() -> None:
    for known in (Known(sectors=23), Known(sector_bytes=2048), Known(cylinders=90, heads=2)):
        assert proposals(known) == ()
