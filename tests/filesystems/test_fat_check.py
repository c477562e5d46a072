"""What `files check` looks for on a volume with a FAT: each kind of damage is named with its place, and nothing else.

Sources: ECMA-107 and ISO/IEC 9293, the clauses on the FAT and on directories; what is from memory is said in fat_check.
"""

from __future__ import annotations

import struct

import pytest

from imagekeeper.filesystems import registry
from imagekeeper.filesystems.model import ReadingOptions
from imagekeeper.findings import Finding

from .fat_volumes import Directory, File, Shape, Writer, long_records

SHAPE = Shape()
ROOT, CLUSTER = SHAPE.root_start, 1024
START, SIZE, ATTRIBUTES, FLAGS = 26, 28, 11, 12   # of a record

#: TIDE.LOG has clusters 2 to 4, GAUGE.DAT 5 to 9, SURVEY 10, A.TXT 11.
ENTRIES = [
    File(b"TIDE    LOG", b"t" * 3000), File(b"GAUGE   DAT", b"g" * 5000),
    Directory(b"SURVEY     ", [File(b"A       TXT", b"a")]),
]  # fmt: skip
TIDE, GAUGE, SURVEY = ROOT, ROOT + 32, ROOT + 64
INSIDE = SHAPE.data_start + 8 * CLUSTER   # of SURVEY


def found(
    *changes: tuple[int, bytes], fat: dict[int, int] | None = None, shape: Shape = SHAPE,
    entries: list[File | Directory] | None = None,
) -> list[Finding]:  # fmt: skip
    """What is found when bytes of the volume, or entries of its FATs, are others."""
    writer = Writer(shape)
    writer.write(ENTRIES if entries is None else entries)
    for cluster, value in (fat or {}).items():
        writer.fat[cluster] = value
    image, table = writer.image, writer.table()
    for number in range(shape.fats):
        at = (shape.reserved + number * shape.fat_sectors) * shape.sector
        image[at : at + len(table)] = table
    for at, data in changes:
        image[at : at + len(data)] = data
    data = bytes(image)
    return list(registry.read(data, registry.recognise(data)[0].answer, ReadingOptions(check=True)).findings)


def one(*changes: tuple[int, bytes], **options: object) -> Finding:
    (finding,) = found(*changes, **options)   # type: ignore[arg-type]
    return finding


def told(finding: Finding) -> tuple[str, str, int | None, int | None]:
    return finding.code, finding.severity, finding.where.address, finding.where.length


def word(value: int) -> bytes:
    return struct.pack("<H", value)


def long(value: int) -> bytes:
    return struct.pack("<I", value)


def test_a_sound_volume_is_sound() -> None:
    assert found() == []
    assert found(shape=Shape(label=b"TIDE DISK  ")) == []
    assert found(shape=Shape(block=False)) == []


# ---- sizes and names


@pytest.mark.parametrize(("size", "sound"), [(2048, False), (2049, True), (3072, True), (3073, False)])
def test_a_file_has_as_many_clusters_as_its_size_asks_for(size: int, sound: bool) -> None:
    findings = found((TIDE + SIZE, long(size)))
    assert [told(each)[:3:2] for each in findings] == ([] if sound else [("size-disagrees", TIDE)])


def test_a_directory_states_no_size() -> None:
    finding = one((SURVEY + SIZE, long(5)))
    assert told(finding) == ("directory-damaged", "note", SURVEY, 32)
    assert finding.why == "SURVEY: a directory that states a size (5)"
    assert finding.detail["path"] == "SURVEY"


def test_a_name_is_there_once_in_a_directory() -> None:
    finding = one((GAUGE, b"TIDE    LOG"))
    assert told(finding) == ("name-twice", "warning", GAUGE, 32)
    assert finding.why == "TIDE.LOG: its directory has this name twice"
    elsewhere = [*ENTRIES, File(b"A       TXT", b"a")]
    assert found(entries=elsewhere) == []


def test_a_deleted_entry_is_not_checked() -> None:
    assert found(entries=[*ENTRIES, File(b"\xe5IDE    LOG"), File(b"\xe5IDE    LOG"), File(b"\xe5 /      LOG")]) == []


@pytest.mark.parametrize(
    ("name", "why"),
    [
        (b"T\x1fDE    LOG", "holds control characters"), (b"T\x7fDE    LOG", "holds control characters"),
        (b"T\x05DE    LOG", "holds control characters"), (b"\x05IDE    LOG", None),   # 05 stands for E5, first alone
        (b"\x1fIDE    LOG", "holds control characters"), (b"T/DE    LOG", "holds characters that names cannot have"),
        (b" IDE    LOG", "has spaces inside"), (b"T DE    LOG", "has spaces inside"),
        (b"TIDE    L G", "has spaces inside"), (b"TIDEGAUG LG", "has spaces inside"), (b"TIDE       ", None),
        (b"TIDEGAUGLOG", None), (b"TIDEGA-8 12", "has spaces inside"),
        (b"T\x80\x80\x80\x80\x80\x80\x80LOG", "is mostly beyond ASCII: damage, or another language"),
        (b"T\x80\x80\x80\x80\x80\x80LLOG", None),
        (b"T~!#$%&'LO_", None),
    ],
)  # fmt: skip
def test_what_a_name_cannot_be(name: bytes, why: str | None) -> None:
    findings = [each for each in found((TIDE, name)) if each.code == "name-damaged"]
    if why is None:
        assert findings == []
    else:
        (finding,) = findings
        assert told(finding) == ("name-damaged", "note", TIDE, 32)
        assert finding.why.endswith(f": its name {why}")


def test_a_long_name_explains_characters_beyond_ascii() -> None:
    name = b"\x80\x80\x80\x80\x80\x80\x80\x80LOG"
    assert {each.code for each in found(entries=[File(name, b"t", long_name="Ebbe.log")])} == set()
    assert {each.code for each in found(entries=[File(name, b"t")])} == {"name-damaged"}


@pytest.mark.parametrize(("at", "bits", "sound"), [
    (ATTRIBUTES, 0x20, True), (ATTRIBUTES, 0x27, True), (ATTRIBUTES, 0x60, False), (ATTRIBUTES, 0xA0, False),
    (FLAGS, 0x18, True), (FLAGS, 0x08, True), (FLAGS, 0x01, False), (FLAGS, 0x38, False),
])  # fmt: skip
def test_bits_that_mean_nothing_are_told(at: int, bits: int, sound: bool) -> None:
    findings = found((TIDE + at, bytes([bits])))
    assert [told(each) for each in findings] == ([] if sound else [("entry-damaged", "note", TIDE, 32)])


def test_a_long_name_that_cannot_be_used_is_told_with_where_it_stands() -> None:
    entries = [File(b"EBBE~1  LOG", b"t", long_name="Ebbe und Flut.log")]
    finding = one((ROOT + 13, b"\x99"), entries=entries)
    assert told(finding) == ("name-damaged", "note", ROOT + 64, 32)
    assert finding.why.startswith("the root directory: a long name before EBBE~1.LOG cannot be used: ")
    inner = [Directory(b"SURVEY     ", entries)]
    start = SHAPE.data_start + 64
    finding = one((start + 13, b"\x99"), entries=inner)
    assert finding.why.startswith("SURVEY: a long name before EBBE~1.LOG")


def test_a_long_name_with_no_record_behind_it_ends_at_the_end() -> None:
    """In a root directory that is full to its last record."""
    full = Shape(root_entries=16)
    entries: list[File | Directory] = [File(b"TIDE%04d   " % number) for number in range(16)]
    last = full.root_start + 15 * 32
    finding = one((last, long_records("Ebbe.log", b"EBBE~1  LOG")), shape=full, entries=entries)
    assert told(finding) == ("name-damaged", "note", last, 32)
    expected = "the root directory: a long name before the end of the directory cannot be used: it belongs to no file"
    assert finding.why == expected


# ---- the boot sector


def test_a_flag_says_that_the_volume_was_not_closed() -> None:
    finding = one((37, b"\x01"))
    assert told(finding) == ("volume-header", "note", 37, 1)
    assert "not closed properly" in finding.why
    assert found((37, b"\x02")) == []
    assert found((37, b"\x03")) != []
    assert found((37, b"\x01"), (38, b"\x00")) == []   # without the extension there is no flag


def test_the_boot_sector_may_call_itself_another_kind() -> None:
    finding = one((54, b"FAT16   "))
    assert told(finding) == ("volume-header", "warning", 54, 8)
    assert finding.why == "the boot sector calls itself FAT16, and 354 clusters make it FAT12"
    assert found((54, b"FAT     ")) == []
    assert found((54, b"FAT12   ")) == []


def test_a_field_that_cannot_be_is_told() -> None:
    finding = next(each for each in found((24, word(0))) if each.code == "volume-header")
    assert told(finding) == ("volume-header", "warning", 0, 62)
    assert finding.detail["field"] == "sectors_per_track"
    assert finding.why.startswith("the boot sector states ")


def test_more_than_two_heads_are_not_held_against_a_volume() -> None:
    """That a disk has one or two is a rule for floppy disks; a block of a hard disk states more."""
    assert found((26, word(16))) == []


@pytest.mark.parametrize(("total", "told_of"), [(721, True), (8192, True), (8193, False)])
def test_whole_cylinders_are_asked_of_what_may_be_a_floppy_disk(total: int, told_of: bool) -> None:
    """No floppy disk holds more than 4 MiB: common practice, no source; on a hard disk the numbers are invented."""
    shape = Shape(total=total, cluster_sectors=4, fat_sectors=7)
    findings = found(shape=shape, entries=[])
    assert [(told(each), each.detail["field"]) for each in findings] == (
        [(("volume-header", "note", 0, 62), "small_total")] if told_of else []
    )


# ---- the label


LABELLED = Shape(label=b"TIDE DISK  ")


def labels(*changes: tuple[int, bytes], shape: Shape = LABELLED) -> list[Finding]:
    return found(*changes, shape=shape, entries=[])


def test_the_two_labels_say_the_same() -> None:
    assert labels() == []
    (finding,) = labels((43, b"EBB DISK   "))
    assert told(finding) == ("volume-header", "note", ROOT, 11)
    assert finding.why == "the label in the boot sector is EBB DISK, in the root directory TIDE DISK"
    (finding,) = labels((43, b"NO NAME    "))
    assert finding.why == "the label in the boot sector is none, in the root directory TIDE DISK"
    (finding,) = labels((43, b"EBB DISK   "), shape=SHAPE)
    assert finding.why == "the label in the boot sector is EBB DISK, in the root directory none"
    assert finding.where.address == 43
    for none in (b"NO NAME    ", b"           "):
        assert labels((43, none), shape=SHAPE) == []
    assert labels((38, b"\x28"), (43, b"EBB DISK   ")) == []   # an extension without a label


def test_a_label_beyond_ascii_is_compared_as_far_as_it_can_be_read() -> None:
    assert labels((ROOT, b"T\x80DE DISK  "), (43, b"T\x80DE DISK  ")) == []
    assert [each.code for each in labels((ROOT, b"T\x7fDE DISK  "), (43, b"T\x7fDE DISK  "))] == ["name-damaged"]
    assert labels((ROOT, b"T~DE DISK  "), (43, b"T~DE DISK  ")) == []
    assert labels((ROOT, b"TIDE  DISK "), (43, b"TIDE  DISK ")) == []


def test_a_second_label_is_told() -> None:
    record = Writer.plain(b"EBB DISK   ", 0x08, 0, 0, 0x16A5, 0x7194)
    (finding,) = labels((ROOT + 32, record))
    assert told(finding) == ("entry-damaged", "note", ROOT + 32, 32)
    assert finding.why == "there is more than one label of the volume"


@pytest.mark.parametrize("change", [(ROOT + START, word(5)), (ROOT + SIZE, long(9))])
def test_a_label_has_no_clusters_and_no_size(change: tuple[int, bytes]) -> None:
    (finding,) = labels(change)
    assert told(finding) == ("entry-damaged", "warning", ROOT, 32)
    assert "TIDE DISK" in finding.why


@pytest.mark.parametrize(
    ("byte", "sound"), [(0x1F, False), (0x20, True), (0x2A, False), (0x7E, True), (0x7F, False), (0x80, True)]
)
def test_bytes_that_no_label_can_have(byte: int, sound: bool) -> None:
    name = b"TI" + bytes([byte]) + b"E DISK  "
    findings = [each for each in labels((ROOT, name), (43, name)) if each.code == "name-damaged"]
    assert [told(each) for each in findings] == ([] if sound else [("name-damaged", "note", ROOT, 11)])


# ---- the first two records of a directory


@pytest.mark.parametrize(
    ("change", "at", "why"),
    [
        ((INSIDE, b"X"), 0, "it does not begin with the record ."),
        ((INSIDE + 32, b"X"), 32, "it does not have as second the record .."),
        ((INSIDE + ATTRIBUTES, b"\x20"), 0, "its record . is no directory"),
        ((INSIDE + 32 + ATTRIBUTES, b"\x20"), 32, "its record .. is no directory"),
        ((INSIDE + START, word(9)), 0, "its record . leads to cluster 9 and should to 10"),
        ((INSIDE + 32 + START, word(10)), 32, "its record .. leads to cluster 10 and should to 0"),
        ((INSIDE + SIZE, long(1)), 0, "its record . states a size"),
        ((INSIDE + 32 + SIZE, long(1)), 32, "its record .. states a size"),
    ],
)  # fmt: skip
def test_a_directory_begins_with_itself_and_the_one_above(change: tuple[int, bytes], at: int, why: str) -> None:
    (finding,) = [each for each in found(change) if each.why.startswith("SURVEY: ")]
    assert told(finding) == ("directory-damaged", "warning", INSIDE + at, 32)
    assert finding.why == f"SURVEY: {why}"
    assert finding.detail["path"] == "SURVEY"


def test_the_two_records_may_not_stand_in_each_others_place() -> None:
    here = struct.pack("<11sB10xHHHI", b".          ", 0x10, 0, 0, 10, 0)
    above = struct.pack("<11sB10xHHHI", b"..         ", 0x10, 0, 0, 0, 0)
    findings = found((INSIDE, above + here))
    assert [each.why for each in findings if each.code == "directory-damaged"] == [
        "SURVEY: it does not begin with the record .", "SURVEY: it does not have as second the record ..",
    ]  # fmt: skip


def test_a_directory_within_a_directory_leads_back_to_it() -> None:
    nested = [Directory(b"SURVEY     ", [Directory(b"INNER      ", [])])]   # clusters 2 and 3
    assert found(entries=nested) == []
    inside = SHAPE.data_start + CLUSTER
    finding = one((inside + 32 + START, word(0)), entries=nested)
    assert finding.why == "SURVEY/INNER: its record .. leads to cluster 0 and should to 2"


# ---- the table


def test_clusters_that_two_files_share() -> None:
    every = found((GAUGE + START, word(4)), (GAUGE + SIZE, long(1000)))
    (finding,) = [each for each in every if each.code == "space-shared"]
    assert told(finding) == ("space-shared", "fault", SHAPE.data_start + 2 * CLUSTER, CLUSTER)
    assert finding.why == "TIDE.LOG and GAUGE.DAT share 1 cluster, from 4 on"
    assert finding.detail == {"paths": ["TIDE.LOG", "GAUGE.DAT"], "clusters": 1, "first_cluster": 4}


def test_lost_clusters_are_counted_in_chains() -> None:
    lost = {20: 21, 21: 0xFFF, 30: 31, 31: 32, 32: 0xFFF, 40: 0xFF7}   # FF7 is bad, and no file's
    finding = one(fat=lost)
    assert told(finding) == ("space-lost", "warning", SHAPE.data_start + 18 * CLUSTER, CLUSTER)
    assert finding.why == "5 clusters in 2 chains: marked used, and no file uses them"
    assert finding.hint.startswith("they hold 5120 bytes (5K): ")
    assert finding.detail == {
        "clusters": 5, "chains": 2, "first_clusters": [20, 30], "stretches": [[20, 2], [30, 3]],
    }  # fmt: skip


def test_a_lost_ring_is_one_chain_without_a_head() -> None:
    finding = one(fat={20: 21, 21: 20})
    assert finding.why.startswith("2 clusters in 1 chain:")
    assert (finding.detail["chains"], finding.detail["first_clusters"]) == (0, [])


def test_the_first_and_the_last_cluster_can_be_lost() -> None:
    last = SHAPE.clusters + 1
    finding = one(fat={2: 0xFFF, last: 0xFFF}, entries=[])
    assert finding.detail["first_clusters"] == [2, last]


def test_of_many_lost_chains_32_are_named() -> None:
    finding = one(fat=dict.fromkeys(range(100, 200, 2), 0xFFF))
    assert finding.detail["chains"] == 50
    assert finding.detail["first_clusters"] == list(range(100, 164, 2))
    assert len(finding.detail["stretches"]) == 32
