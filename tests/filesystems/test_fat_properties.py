"""Whatever a small writer of our own puts on a volume, the reader gives back exactly."""

from __future__ import annotations

import dataclasses

from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper.filesystems import registry
from imagekeeper.filesystems.model import ReadingOptions, Volume

from .fat_volumes import Directory, File, Shape, Writer, shape_for

LETTERS = b"ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-$\x8e\x99\x9a"


def letters(raw: bytes, size: int) -> bytes:
    return bytes(LETTERS[byte % len(LETTERS)] for byte in raw).ljust(size)


NAMES = st.builds(
    lambda base, ending: letters(base, 8) + letters(ending, 3), st.binary(min_size=1, max_size=8), st.binary(max_size=3)
)

DATES = st.builds(lambda y, m, d: y << 9 | m << 5 | d, st.integers(0, 127), st.integers(1, 12), st.integers(1, 28))
TIMES = st.builds(lambda h, m, s: h << 11 | m << 5 | s, st.integers(0, 23), st.integers(0, 59), st.integers(0, 29))
LONG = st.one_of(st.just(""), st.text("abcxyz é0123456789.ÄÖ", min_size=1, max_size=60).filter(lambda t: t.strip(". ")))

FILES = st.builds(
    File, NAMES, st.binary(max_size=5000), st.sampled_from([0, 1, 2, 4, 0x20, 0x27]), DATES, TIMES, LONG
)


def mixed(inside: st.SearchStrategy[list[File | Directory]]) -> st.SearchStrategy[list[File | Directory]]:
    """Up to four files and directories of different names."""
    one = st.one_of(FILES, st.builds(Directory, NAMES, inside))
    return st.lists(one, max_size=4, unique_by=lambda entry: entry.name)


TREES = mixed(mixed(mixed(st.just([]))))

SHAPES = st.sampled_from(
    [
        Shape(), dataclasses.replace(Shape(), label=b"HARBOUR    "),
        Shape(cluster_sectors=1, fat_sectors=9, root_entries=224, total=2880, media=0xF0, track=18, block=False),
        shape_for(4084, cluster_sectors=1), shape_for(4085, cluster_sectors=1), shape_for(600, sector=256, reserved=3),
        shape_for(300, sector=1024, cluster_sectors=1, fats=1),
    ]
)  # fmt: skip


def listed(entries: list[File | Directory], above: str = "") -> list[tuple[object, ...]]:
    found: list[tuple[object, ...]] = []
    for one in entries:
        name = one.long_name or one.name[:8].rstrip().decode("cp437")
        if not one.long_name and one.name[8:].strip():
            name += "." + one.name[8:].rstrip().decode("cp437")
        path = f"{above}{name}"
        found.append((path, one.name, one.content if isinstance(one, File) else None, stamp(one.date, one.time)))
        if isinstance(one, Directory):
            found += listed(one.inside, path + "/")
    return found


def stamp(date: int, time: int) -> str:
    day = f"{1980 + date // 512}-{date // 32 % 16:02}-{date % 32:02}"
    return f"{day}T{time // 2048:02}:{time // 32 % 64:02}:{time % 32 * 2:02}"


def read(data: bytes) -> Volume:
    candidates = registry.recognise(data)
    return registry.read(data, candidates[0].answer, ReadingOptions(check=True))


@settings(deadline=None, max_examples=60)
@given(SHAPES, TREES, st.one_of(st.none(), st.integers(0, 99)))
def test_a_volume_is_read_back_exactly(shape: Shape, tree: list[File | Directory], scattered: int | None) -> None:
    writer = Writer(shape, scattered)
    data = writer.write(tree)
    volume = read(data)
    wanted = listed(tree)
    got = [
        (
            one.path, one.raw_name, b"".join(one.blocks(data)) if one.kind == "file" else None, one.modified,
        )
        for one in volume.entries
    ]  # fmt: skip
    assert got == wanted
    assert [one for one in volume.findings if one.severity != "note"] == []
    assert volume.free_units == len(writer.free)
    assert volume.kind == f"fat{shape.bits}"
    assert (volume.label or "") == shape.label.decode().rstrip()


@settings(deadline=None, max_examples=60)
@given(SHAPES, TREES, st.integers(0, 99))
def test_every_byte_of_a_file_can_be_traced_to_its_sector(
    shape: Shape, tree: list[File | Directory], scattered: int
) -> None:
    data = Writer(shape, scattered).write(tree)
    volume = read(data)
    taken: set[int] = set()
    for entry in volume.entries:
        assert sum(one.length for one in entry.extents) == (entry.size_bytes or sum(x.length for x in entry.extents))
        for extent in entry.extents:
            assert extent.start is not None
            assert volume.grid is not None
            sectors = {volume.grid.offset(place) for place in volume.grid.places(extent.start, extent.length)}
            assert min(sectors) <= extent.start < min(sectors) + shape.sector
            assert not sectors & taken
            taken |= sectors


@settings(deadline=None, max_examples=40)
@given(TREES, st.binary(min_size=1, max_size=4000))
def test_a_deleted_file_is_guessed_from_what_is_left(tree: list[File | Directory], content: bytes) -> None:
    """On a volume that was not scattered, deletion loses the first letter and nothing else."""
    writer = Writer(Shape())
    image = bytearray(writer.write([*tree, File(b"GAUGE   DAT", content)]))
    at = image.index(b"GAUGE   DAT", writer.shape.root_start)
    cluster = int.from_bytes(image[at + 26 : at + 28], "little")
    while cluster < 0xFF8:
        following = writer.fat[cluster]
        writer.fat[cluster] = 0
        cluster = following
    table = writer.table()
    image[512 : 512 + len(table)] = image[1536 : 1536 + len(table)] = table
    image[at] = 0xE5
    found = registry.recognise(bytes(image))
    plain = registry.read(bytes(image), found[0].answer, ReadingOptions())
    assert not any(one.deleted for one in plain.entries)
    volume = registry.read(bytes(image), found[0].answer, ReadingOptions(deleted=True))
    [lost] = [one for one in volume.entries if one.deleted]
    assert lost.name == "?AUGE.DAT"
    assert b"".join(lost.blocks(bytes(image))) == content
