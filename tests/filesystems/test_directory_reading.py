"""Volumes of 8-bit machines: the published worked block, random volumes read back, damage found, nothing blown up."""

from __future__ import annotations

import random
import time

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from imagekeeper.errors import UsageError
from imagekeeper.filesystems.directory_entries import stamp
from imagekeeper.filesystems.directory_parameters import DiskParameters, largest_extent_mask
from imagekeeper.filesystems.directory_reading import cut_at_mark, read_volume
from imagekeeper.filesystems.model import Extent, ReadingOptions, SectorGrid, Volume
from imagekeeper.tables.floppy import format_rows
from imagekeeper.tables.parameter_blocks import ParameterBlockRow, parameter_block_rows
from tests.filesystems.directory_volumes import Content, Shape, code, filled, lay, order_of, text, whole, write

# From memory: the sector translation table that Digital Research, CP/M 2.2 Alteration Guide, prints for the disk of
# 26 sectors of 128 bytes.
PUBLISHED_ORDER = (1, 7, 13, 19, 25, 5, 11, 17, 23, 3, 9, 15, 21, 2, 8, 14, 20, 26, 6, 12, 18, 24, 4, 10, 16, 22)


def parameters_of(shape: Shape) -> DiskParameters:
    return DiskParameters(
        records_per_track=shape.track // 128, block_bytes=shape.block, blocks=shape.blocks,
        directory_entries=shape.directory, reserved_tracks=shape.offset, extent_mask=shape.exm, skew=shape.skew,
        sector_bytes=shape.sector_bytes, record_counts=shape.counts, last_bytes=shape.last,
        sides=shape.sides,  # type: ignore[arg-type]
    )  # fmt: skip


def grid_of(shape: Shape) -> SectorGrid:
    return SectorGrid(
        heads=shape.heads, sectors=shape.sectors, sector_bytes=shape.sector_bytes, cylinders=shape.cylinders
    )


def read(disk: bytes, shape: Shape, **how: bool) -> Volume:
    return read_volume(disk, parameters_of(shape), ReadingOptions(
        **{"check": True, **how}
    ), grid_of(shape))  # type: ignore[arg-type]


def content(disk: bytes, volume: Volume) -> dict[tuple[str | None, str], bytes]:
    return {(one.group, one.name): b"".join(one.blocks(disk)) for one in volume.entries}


def test_the_published_worked_block_follows_from_the_disk_and_four_choices() -> None:
    # From memory: Digital Research, CP/M 2.2 Alteration Guide: SPT 26, BSH 3, BLM 7, EXM 0, DSM 242, DRM 63, AL0 C0,
    # AL1 00, CKS 16, OFF 2. What is chosen: blocks of 1024 bytes, 64 entries, 2 reserved tracks, skew 6.
    row = format_rows()["8-77x1x26x128-fm"]
    blocks = (row.cylinders - 2) * row.sectors * row.sector_bytes // 1024
    mask = largest_extent_mask(1024, blocks)
    worked = DiskParameters(
        records_per_track=row.sectors * row.sector_bytes // 128, block_bytes=1024, blocks=blocks, directory_entries=64,
        reserved_tracks=2, extent_mask=mask, skew=6,
    )  # fmt: skip
    assert (worked.records_per_track, worked.block_shift, worked.block_mask, worked.extent_mask) == (26, 3, 7, 0)
    assert (worked.blocks - 1, worked.directory_entries - 1) == (242, 63)
    assert (worked.allocation >> 8, worked.allocation & 0xFF) == (0xC0, 0x00)
    assert (worked.check_vector_bytes, worked.reserved_tracks) == (16, 2)
    assert worked.sector_order == PUBLISHED_ORDER
    assert tuple(one + 1 for one in order_of(26, 6)) == PUBLISHED_ORDER
    assert worked.as_bytes() == bytes.fromhex("1A00 03 07 00 F200 3F00 C0 00 1000 0200")
    assert DiskParameters.of(parameter_block_rows()["8-77x1x26x128-2x1k64"]) == worked


@pytest.mark.parametrize(
    ("block", "blocks", "mask"),
    # From memory: the table of extent masks of the same guide; there is none for 1024 bytes and two-byte numbers.
    [(1024, 256, 0), (2048, 256, 1), (4096, 256, 3), (8192, 256, 7), (16384, 256, 15),
     (2048, 257, 0), (4096, 257, 1), (8192, 257, 3), (16384, 257, 7)],
)  # fmt: skip
def test_the_extent_mask_follows_from_block_and_blocks(block: int, blocks: int, mask: int) -> None:
    assert largest_extent_mask(block, blocks) == mask
    assert DiskParameters(
        records_per_track=26, block_bytes=block, blocks=blocks, directory_entries=16, reserved_tracks=0,
        extent_mask=mask,
    ).entry_blocks == (16 if blocks <= 256 else 8)  # fmt: skip
    with pytest.raises(UsageError) as refused:
        DiskParameters(
            records_per_track=26, block_bytes=block, blocks=blocks, directory_entries=16, reserved_tracks=0,
            extent_mask=2 * mask + 1,
        )  # fmt: skip
    assert refused.value.code == "usage"


@pytest.mark.parametrize("row", parameter_block_rows().values(), ids=list(parameter_block_rows()))
def test_a_row_of_the_table_follows_from_its_format_and_says_what_it_rests_on(row: ParameterBlockRow) -> None:
    disk, division = format_rows()[row.format], DiskParameters.of(row)
    track = disk.sectors * disk.sector_bytes
    assert (row.records_per_track * 128, row.sector_bytes) == (track, disk.sector_bytes)
    assert row.blocks == (disk.bytes - row.reserved_tracks * track) // row.block_bytes
    assert row.extent_mask == largest_extent_mask(row.block_bytes, row.blocks)
    assert row.allocation == division.allocation
    assert division.kept_blocks >= division.directory_blocks
    assert ("allocation" in row.derived) == (division.kept_blocks == division.directory_blocks)
    fields = {
        "format", "records_per_track", "sector_bytes", "block_bytes", "blocks", "directory_entries", "reserved_tracks",
        "skew", "extent_mask", "allocation", "record_counts",
    }  # fmt: skip
    fields |= {"note"} if row.note is not None else set()
    sourced = {field for one in row.sources for field in one.gives}
    assert sorted([*sourced, *row.derived, *row.unsourced]) == sorted(fields)
    size = row.format.split("-")[1] if row.format.split("-")[1] in row.id else row.format
    assert row.id.endswith(f"{size}-{row.reserved_tracks}x{row.block_bytes // 1024}k{row.directory_entries}")


@st.composite
def shapes(draw: st.DrawFn) -> Shape:
    sector = draw(st.sampled_from([128, 256, 512, 1024]))
    sectors = draw(st.integers(1, 26))
    heads = draw(st.sampled_from([1, 2]))
    counts = draw(st.sampled_from(["last-extent", "last-extent", "whole-entry"]))
    shape = Shape(
        draw(st.sampled_from([2, 5, 40, 77])), heads, sectors, sector,
        draw(st.sampled_from([1024, 2048, 4096, 8192, 16384])), draw(st.sampled_from([4, 16, 32, 48, 64, 128])),
        draw(st.integers(0, 3)), draw(st.integers(1, max(sectors - 1, 1))),
        counts=counts, last=draw(st.sampled_from(["not-kept", "used", "unused"])),
        sides=draw(st.sampled_from(["alternating", "side-after-side", "side-1-reversed"])) if heads == 2 else
        "alternating",
    )  # fmt: skip
    assume(shape.offset < shape.cylinders * heads and shape.blocks > 0 and shape.possible)
    masks = [mask for mask in (0, 1, 3, 7, 15) if mask <= shape.exm and (counts == "last-extent" or mask <= 1)]
    shape.mask = draw(st.sampled_from(masks))
    return shape


LETTERS = b"ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789$-#"


@st.composite
def contents(draw: st.DrawFn, shape: Shape) -> list[Content]:
    dice = random.Random(draw(st.integers(0, 1 << 32)))
    left = shape.blocks - -(-shape.directory * 32 // shape.block)
    entries, files, names = shape.directory, [], set()
    per_block, per_entry = shape.block // 128, (shape.exm + 1) * 128
    for _ in range(draw(st.integers(0, 8))):
        name = bytes(dice.choices(LETTERS, k=dice.randint(1, 8))).ljust(8)
        name += bytes(dice.choices(LETTERS, k=dice.randint(0, 3))).ljust(3)
        user, count = dice.randrange(16), dice.randint(0, min(left * per_block, 700))
        if (user, name) in names:
            continue
        names.add((user, name))
        bits = bytes(128 * (dice.random() < 0.3) for _ in range(11))
        records = {i: dice.randbytes(128) for i in range(count)}
        if count > 2 * per_block and dice.random() < 0.4:    # holes, of whole blocks as the system leaves them
            for block in dice.sample(range((count - 1) // per_block), dice.randint(1, (count - 1) // per_block)):
                for i in range(block * per_block, (block + 1) * per_block):
                    del records[i]
        need = len({i // per_block for i in records})
        parts = len({i // per_entry for i in records}) or 1
        if need > left or parts > entries:
            break
        left, entries = left - need, entries - parts
        spare = dice.randint(1, 128) if shape.last != "not-kept" and count else 128
        files.append(Content(user, bytes(a | b for a, b in zip(name, bits, strict=True)), records, spare))
    return files


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(st.data())
def test_random_volumes_are_read_back_exactly(data: st.DataObject) -> None:
    shape = data.draw(shapes())
    files = data.draw(contents(shape))
    disk = write(shape, files, random.Random(1))
    volume = read(disk, shape, deleted=True)
    wanted = {}
    for one in files:
        plain = bytes(letter & 0x7F for letter in one.name).decode()
        name = plain[:8].rstrip() + ("." + plain[8:].rstrip() if plain[8:].strip() else "")
        expected = one.expected
        wanted[str(one.user), name] = expected[: len(expected) - 128 + one.bytes_of_last] if expected else b""
    assert content(disk, volume) == wanted
    assert {one.raw_name for one in volume.entries} == {one.name for one in files}
    assert all(one.complete and not one.deleted for one in volume.entries)
    assert all(sum(extent.length for extent in one.extents) == one.size_bytes for one in volume.entries)
    # a file with holes may look like one that lost something; nothing else is found on a volume without damage
    holes = any(extent.start is None for one in volume.entries for extent in one.extents)
    found = {one.code for one in volume.findings if one.severity != "note"}
    assert found <= ({"extent-missing", "size-disagrees"} if holes else set())
    taken = sum(len({i // (shape.block // 128) for i in one.records}) for one in files)
    assert volume.free_units == shape.blocks - taken - -(-shape.directory * 32 // shape.block)
    assert sum(one.length for one in volume.free) == volume.free_units * shape.block


def test_attributes_user_areas_and_names() -> None:
    shape = Shape()
    name = bytes([*b"TIDE   ", ord(" "), ord("D") | 0x80, ord("A") | 0x80, ord("T")])
    disk = write(shape, [Content(3, name, {0: b"3.02 m".ljust(128, b"\x1a")}), whole(0, "TIDE    DAT", b"other")])
    first, second = read(disk, shape).entries
    assert (first.name, first.group, first.attributes) == ("TIDE.DAT", "3", ("read-only", "system"))
    assert first.raw_name == name
    assert (second.name, second.group, second.attributes, second.size_grain) == ("TIDE.DAT", "0", (), 128)


def test_text_is_cut_at_its_end_mark_only_on_request() -> None:
    shape = Shape()
    lines = b"level 3.02 m\r\n" * 100
    disk = write(shape, [whole(0, "TIDE    TXT", lines), whole(0, "NOMARK  TXT", b"T" * 256)])
    marked, unmarked = read(disk, shape).entries
    assert b"".join(marked.blocks(disk)) == lines + b"\x1a" * 8   # 1400 bytes, and the rest of 11 records
    cut = cut_at_mark(disk, marked)
    assert b"".join(cut.blocks(disk)) == lines
    assert (cut.size_bytes, cut.size_grain) == (1400, 1)
    assert cut_at_mark(disk, unmarked) == unmarked


def test_deleted_files_are_given_on_request_while_their_blocks_are_free() -> None:
    shape, dice = Shape(), random.Random(7)
    kept, gone = text(dice, 3000), text(dice, 2500)
    disk = bytearray(write(shape, [whole(0, "KEPT    TXT", kept), whole(2, "GONE    TXT", gone)]))
    at = bytes(disk).index(b"\x02GONE")
    disk[at] = 0xE5
    assert [one.name for one in read(bytes(disk), shape).entries] == ["KEPT.TXT"]
    found = read(bytes(disk), shape, deleted=True).entries[1]
    assert (found.name, found.group, found.deleted, found.complete) == ("GONE.TXT", None, True, True)
    assert b"".join(found.blocks(bytes(disk))).startswith(gone)
    # its first block now belongs to the other file
    disk[bytes(disk).index(b"\0KEPT") + 16 + 3] = disk[at + 16]
    partly = read(bytes(disk), shape, deleted=True).entries[1]
    assert not partly.complete
    assert partly.extents[0] == Extent(None, 1024)
    # all of them do
    disk[bytes(disk).index(b"\0KEPT") + 16 + 4 : bytes(disk).index(b"\0KEPT") + 16 + 6] = disk[at + 17 : at + 19]
    assert len(read(bytes(disk), shape, deleted=True).entries) == 1


def test_labels_stamps_and_passwords_are_no_files() -> None:
    # The form of labels, stamps and passwords: Digital Research, CP/M 3 Programmer's Guide, from memory.
    shape = Shape()
    label = b"\x20OUTER   MOL" + bytes([0x31]) + bytes(19)
    password = b"\x10TIDE    DAT" + bytes([0x80]) + bytes(19)
    stamps = b"\x21" + bytes.fromhex("0100 0930 0200 2359 0000") * 3 + b"\0"
    file = b"\0TIDE    DAT" + bytes([0, 0, 0, 1, 2]) + bytes(15)
    logical = (file + label + password + stamps).ljust(2048, b"\xe5") + b"tide".ljust(1024, b"\x1a")
    volume = read(lay(shape, logical.ljust(shape.size - 2 * shape.track, b"\xe5")), shape)
    assert volume.label == "OUTER.MOL"
    (found,) = volume.entries
    assert (found.created, found.modified) == ("1978-01-01T09:30:00", "1978-01-02T23:59:00")
    assert (volume.parameters["time_stamps"], volume.parameters["passwords"]) == (1, 1)
    assert volume.findings == ()


@pytest.mark.parametrize("raw", ["0000 0000", "0100 2400", "0100 0960", "0100 0A00", "FFFF FFFF"])
def test_a_stamp_that_cannot_be_is_none(raw: str) -> None:
    assert stamp(bytes.fromhex(raw)) is None
    assert stamp(bytes.fromhex("FFFF 2359")) == "2157-06-05T23:59:00"   # 65535 days, from 1 January 1978 as day 1


def entry(name: bytes, *, extent: int = 0, records: int = 8, numbers: tuple[int, ...] = (2,), user: int = 0) -> bytes:
    return bytes([user]) + name + bytes([extent % 32, 0, extent // 32, records]) + bytes(numbers).ljust(16, b"\0")


@pytest.mark.parametrize(
    ("entries", "codes"),
    [
        ([entry(b"TIDE    DAT"), entry(b"GAUGE   DAT")], {"space-shared"}),
        ([entry(b"TIDE    DAT", numbers=(1,))], {"space-shared"}),
        ([entry(b"TIDE    DAT", numbers=(243,))], {"outside-volume"}),
        ([entry(b"TIDE    DAT", numbers=(2, 3))], {"size-disagrees"}),
        ([entry(b"TIDE    DAT", records=9)], {"size-disagrees"}),
        ([entry(b"TIDE    DAT", records=0)], {"size-disagrees"}),
        ([entry(b"TIDE    DAT", extent=1)], {"extent-missing"}),
        ([entry(b"TIDE    DAT"), entry(b"TIDE    DAT", numbers=(3,))], {"extent-twice"}),
        ([entry(b"TIDE    DAT", extent=1, numbers=(20,)),
          entry(b"TIDE    DAT", records=128, numbers=tuple(range(2, 18)))], {"extent-order"}),
        ([entry(b"TIDE    DAT", records=8), entry(b"TIDE    DAT", extent=1, numbers=(3,))], {"size-disagrees"}),
        ([entry(b"TIDE    DAT", records=129, numbers=tuple(range(2, 18)))], {"entry-damaged"}),
        ([entry(b"TIDE    DAT", user=0x77)], {"entry-damaged"}),
        ([entry(b"TIDE    DAT")[:12] + b"\x20" + entry(b"TIDE    DAT")[13:]], {"entry-damaged"}),
        ([entry(b"TIDE\1   DAT")], {"name-damaged"}),
        ([entry(b"TIDE    DAT"), entry(b"OLD     DAT", user=0x21)], {"entry-damaged"}),
        ([entry(b"TIDE    DAT"), entry(b"GAUGE   DAT", numbers=(3,)), entry(b"TIDE    DAT", numbers=(4,), user=1)],
         set()),
    ],
)  # fmt: skip
def test_each_kind_of_damage_is_found_and_nothing_else(entries: list[bytes], codes: set[str]) -> None:
    shape = Shape()
    logical = b"".join(entries).ljust(2048, b"\xe5").ljust(shape.size - 2 * shape.track, b"\xe5")
    disk = lay(shape, logical)
    assert {one.code for one in read(disk, shape).findings} == codes
    faults = {one.code for one in read(disk, shape, check=True).findings if one.severity == "fault"}
    assert {one.code for one in read(disk, shape, check=False).findings} == faults


def test_an_image_that_was_cut_short_gives_what_is_there() -> None:
    shape = Shape(skew=1)
    disk, files = filled(shape, 3, 0.9)
    short = disk[: len(disk) * 2 // 3]
    volume = read(short, shape)
    assert {"volume-cut-short"} == {one.code for one in volume.findings}
    whole_ones = [one for one in volume.entries if one.complete]
    assert 0 < len(whole_ones) < len(files)
    full = content(disk, read(disk, shape))
    assert all(b"".join(one.blocks(short)) == full[one.group, one.name] for one in whole_ones)
    assert all(one.start is None or one.start + one.length <= len(short) for e in volume.entries for one in e.extents)


def test_offsets_count_from_the_beginning_of_the_image() -> None:
    shape = Shape()
    disk, _ = filled(shape, 4, 0.4)
    volume = read_volume(disk, parameters_of(shape), ReadingOptions(start=4096, deleted=True), grid_of(shape))
    image = bytes(4096) + disk
    plain = read(disk, shape)
    for one, other in zip(volume.entries, plain.entries, strict=True):
        assert b"".join(one.blocks(image)) == b"".join(other.blocks(disk))
        assert all(image[at + 1 : at + 12] == one.raw_name for at in one.entries_at[:1])
    assert [area.start - 4096 for area in volume.areas] == [area.start for area in plain.areas]


def test_a_system_on_the_reserved_tracks_is_told_from_none() -> None:
    shape = Shape()
    empty, full = write(shape, []), write(shape, [], system=code(random.Random(1), 2 * shape.track))
    for disk, likely in ((empty, False), (full, None)):
        boot = read(disk, shape).boot
        assert boot is not None
        assert boot.likely is likely


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 1 << 32), st.sampled_from([1024, 2048, 16384]), st.sampled_from([1, 6]))
def test_hostile_directories_end_soon_and_stay_small(seed: int, block: int, skew: int) -> None:
    dice = random.Random(seed)
    shape = Shape(block=block, directory=16 * min(block, 2048) // 32, skew=skew)
    low = dice.choice([1, 32, 256])
    logical = bytes(dice.randrange(low) for _ in range(16 * 2048)) + dice.randbytes(1000)
    disk = lay(shape, logical.ljust(shape.size - 2 * shape.track, b"\xe5"))
    volume = read(disk, shape, deleted=True)
    assert sum(len(one.extents) for one in volume.entries) < 60_000
    assert len(volume.findings) < 600


def test_a_directory_that_names_one_block_over_and_over_is_bounded() -> None:
    shape = Shape(cylinders=80, heads=2, sectors=16, sector_bytes=256, block=16384, directory=8192, offset=0, skew=5)
    entries = b"".join(
        bytes([i % 16]) + b"%08dDAT" % i + bytes([7, 0, 63, 128]) + b"\x11" * 16 for i in range(8192)
    )  # fmt: skip
    disk = lay(shape, entries.ljust(shape.size, b"\xe5"))
    started = time.process_time()
    volume = read(disk, shape, deleted=True)
    assert time.process_time() - started < 20
    assert sum(len(one.extents) for one in volume.entries) < 400_000
    assert any(not one.complete for one in volume.entries)
    assert sum(one.code == "space-shared" for one in volume.findings) == 1
