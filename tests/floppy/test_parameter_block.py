"""The parameter block of boot sectors."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.floppy.parameter_block import ParameterBlock, read
from tests.geometry.disks import block, parameters, shape_of

#: Clusters of each format as printed. Source: Microsoft, Q75131.
PRINTED = {
    "5.25-40x1x8x512": 313, "5.25-40x1x9x512": 351, "5.25-40x2x8x512": 315, "5.25-40x2x9x512": 354,
    "3.5-80x2x9x512": 713, "5.25-80x2x15x512": 2371, "3.5-80x2x18x512": 2847, "3.5-80x2x36x512": 2863,
}  # fmt: skip

#: For 8 inch the same article prints 497, 997 and 1227, which forget the root directory (our arithmetic).
PRINTED_8 = {"8-77x1x26x128-fm": (497, 493), "8-77x2x26x128-fm": (997, 992), "8-77x2x8x1024": (1227, 1221)}

PC_360K = block(shape_of("5.25-40x2x9x512"), parameters(shape_of("5.25-40x2x9x512"))).ljust(512, b"\0")


def of(name: str) -> ParameterBlock:
    shape = shape_of(name)
    found = read(block(shape, parameters(shape)))
    assert found is not None
    return found


def changed(at: int, value: bytes) -> ParameterBlock:
    found = read(PC_360K[:at] + value + PC_360K[at + len(value) :])
    assert found is not None
    return found


@pytest.mark.parametrize(("name", "clusters"), PRINTED.items())
def test_published_formats_are_sound_and_have_the_printed_clusters(name: str, clusters: int) -> None:
    found, shape = of(name), shape_of(name)
    assert (found.clusters, found.faults) == (clusters, ())
    assert (found.cylinders, found.heads, found.sectors_per_track) == (shape.cylinders, shape.heads, shape.sectors)
    assert found.size_bytes == shape.bytes


@pytest.mark.parametrize(("name", "printed", "ruled"), [(k, *v) for k, v in PRINTED_8.items()])
def test_8_inch_clusters_printed_without_the_root_directory_and_by_the_rule(
    name: str, printed: int, ruled: int
) -> None:
    found = of(name)
    assert found.clusters == ruled
    used = found.reserved_sectors + found.fats * found.sectors_per_fat
    assert (found.total_sectors - used) // found.sectors_per_cluster == printed


def test_the_published_fat_of_the_8_inch_500k_disk_is_too_small() -> None:
    """Six sectors of 128 bytes hold 512 entries of 12 bits, for 992 clusters: the article contradicts itself."""
    assert [fault.field for fault in of("8-77x2x26x128-fm").faults] == ["sectors_per_fat"]


def test_root_directories_of_the_published_formats() -> None:
    """Source: Microsoft, Q75131."""
    sectors = {name: of(name).root_sectors for name in PRINTED}
    assert list(sectors.values()) == [4, 4, 7, 7, 7, 14, 14, 15]


@pytest.mark.parametrize(
    ("at", "value", "field"),
    [
        (11, b"\0\0", "bytes_per_sector"), (11, b"\x40\0", "bytes_per_sector"), (11, b"\0\x20", "bytes_per_sector"),
        (11, b"\x01\x02", "bytes_per_sector"), (13, b"\0", "sectors_per_cluster"), (13, b"\3", "sectors_per_cluster"),
        (14, b"\0\0", "reserved_sectors"), (16, b"\0", "fats"), (16, b"\7", "fats"), (17, b"\0\0", "root_entries"),
        (19, b"\0\0", "small_total"), (21, b"\0", "media"), (21, b"\xf1", "media"), (22, b"\0\0", "sectors_per_fat"),
        (22, b"\1\0", "sectors_per_fat"), (22, b"\xff\xff", "sectors_per_fat"), (24, b"\0\0", "sectors_per_track"),
        (24, b"\0\1", "sectors_per_track"), (26, b"\0\0", "heads"), (26, b"\3\0", "heads"),
        (32, b"\1\0\0\0", "large_total"), (19, b"\xd1\2", "small_total"),
    ],
)  # fmt: skip
def test_every_absurd_field_is_named_with_its_number(at: int, value: bytes, field: str) -> None:
    found = changed(at, value)
    assert field in [fault.field for fault in found.faults]
    assert all(any(c.isdigit() for c in fault.says) or "no reserved" in fault.says or "without" in fault.says
               for fault in found.faults)  # fmt: skip


def test_the_extension_is_read_only_where_its_signature_stands() -> None:
    """Offsets and signatures: Microsoft, Q140418."""
    tail = b"\x80\x00\x29" + (0x1985).to_bytes(4, "little") + b"OUTER MOLE " + b"FAT12   "
    found = read(PC_360K[:36] + tail + PC_360K[62:510] + b"\x55\xaa")
    assert found is not None
    assert (found.drive, found.volume_number, found.volume_label) == (0x80, 0x1985, "OUTER MOLE")
    assert (found.file_system, found.signature) == ("FAT12", True)
    plain = read(PC_360K)
    assert plain is not None
    assert (plain.drive, plain.volume_label, plain.signature) == (None, None, False)


def test_the_large_total_counts_where_the_small_is_0() -> None:
    found = read(PC_360K[:19] + bytes(2) + PC_360K[21:32] + (720).to_bytes(4, "little") + PC_360K[36:])
    assert found is not None
    assert (found.total_sectors, found.clusters, found.faults) == (720, 354, ())


@given(st.binary(max_size=600))
def test_any_bytes_are_read_and_nothing_is_corrected(raw: bytes) -> None:
    found = read(raw)
    assert (found is None) == (len(raw) < 36)
    if found is not None:
        assert found.bytes_per_sector == raw[11] + 256 * raw[12]
        assert found.clusters is None or found.clusters >= 0
        assert found.root_sectors >= 0
        if not found.faults:
            assert found.clusters is not None
            assert found.sectors_per_fat * found.bytes_per_sector * 8 >= (found.clusters + 2) * 12
