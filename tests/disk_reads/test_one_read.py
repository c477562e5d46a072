"""One image alone tells what its reading did to it, and a sound one tells nothing."""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from imagekeeper.errors import ContradictionError
from imagekeeper.findings import Finding
from imagekeeper.floppy.arrangement import Geometry, passing
from imagekeeper.floppy.formats import find
from imagekeeper.geometry import Known, solve
from imagekeeper.jobs.disks.checking_files import check_files
from imagekeeper.jobs.disks.extracting_files import extract_files
from imagekeeper.jobs.disks.listing_files import list_files
from imagekeeper.jobs.disks.looking_into import Look
from imagekeeper.jobs.disks.one_read import reading_faults
from imagekeeper.jobs.disks.planning import DiskChoice, plan_disk
from imagekeeper.jobs.disks.solving import solve_file
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.reads.inspecting import inspect_file
from tests.filesystems import directory_volumes
from tests.filesystems.fat_volumes import Directory, File, Shape, Writer
from tests.geometry.disks import bare_disk, code, content, shape_of, text

pytestmark = pytest.mark.long

CYLINDERS, SECTORS = 80, 9
TRACK = SECTORS * 512
GEOMETRY = Geometry(cylinders=CYLINDERS, heads=2, sectors=SECTORS, sector_bytes=512)


def volume(seed: int = 1, full: float = 0.8, *, of_40: bool = False) -> bytes:
    """A disk of the harbour office: logs and programs, some of them in a directory."""
    dice = random.Random(seed)
    shape = (
        Shape(total=720, track=9, fat_sectors=2, cluster_sectors=2, media=0xFD) if of_40 else
        Shape(total=1440, track=9, fat_sectors=3, cluster_sectors=2, media=0xF9)
    )
    left, files = int(shape.clusters * 1024 * full), []
    while left > 0:
        size = min(dice.randint(500, 25000), left)
        left -= size + 1024
        files.append(File(f"TIDE{len(files):03d} DAT".encode(), (text if dice.random() < 0.5 else code)(dice, size)))
    third = len(files) // 3
    return Writer(shape).write([*files[:third], Directory(b"OLD        ", list(files[third:]))])


DISK = volume()


def by(source: Callable[[int, int], tuple[int, int]], cylinders: int = CYLINDERS, disk: bytes = DISK) -> bytes:
    """Put a read together: for each cylinder and side the track that it comes from."""
    tracks = [disk[at : at + TRACK] for at in range(0, len(disk), TRACK)]
    places = (source(c, s) for c in range(cylinders) for s in (0, 1))
    return b"".join(tracks[cylinder * 2 + side] for cylinder, side in places)


def each_track(change: Callable[[list[bytes]], list[bytes]]) -> bytes:
    """Change the sectors of every track."""
    found = []
    for at in range(0, len(DISK), TRACK):
        found += change([DISK[place : place + 512] for place in range(at, at + TRACK, 512)])
    return b"".join(found)


def side(number: int) -> bytes:
    return b"".join(DISK[at : at + TRACK] for at in range(number * TRACK, len(DISK), 2 * TRACK))


@cache
def told(data: bytes) -> tuple[Finding, ...]:
    return reading_faults(data, solve(data))


FILLED = DISK[: 41 * TRACK] + b"\xf6" * TRACK + DISK[42 * TRACK :]

FAULTS: dict[str, tuple[bytes, str, str]] = {
    "a cylinder twice": (by(lambda c, s: (c - (c >= 20), s)), "cylinder-twice", "from cylinder 20 on"),
    "two steps missed": (by(lambda c, s: (c - 2 * (c >= 31), s)), "cylinder-twice", "2 steps were"),
    "a cylinder left out": (
        by(lambda c, s: (c + (c >= 20), s), CYLINDERS - 1), "cylinder-skipped", "from cylinder 20 on",
    ),
    "single-stepped": (by(lambda c, s: (c // 2, s), disk=volume(of_40=True)), "single-stepped", "twice"),
    "double-stepped": (by(lambda c, s: (2 * c, s), CYLINDERS // 2), "double-stepped", "every other"),
    "a track left out": (DISK[: 41 * TRACK] + DISK[42 * TRACK :], "track-lost", "cylinder 20, side 1"),
    "a track filled": (FILLED, "track-lost", "cylinder 20 side 1"),
    "sides swapped": (by(lambda c, s: (c, 1 - s)), "sides-swapped", "exchanged"),
    "side after side": (side(0) + side(1), "sides-order", "all of side 0, then all of side 1"),
    "one side twice": (by(lambda c, s: (c, 0)), "side-twice", "side 1 is side 0 once more"),
    "the other side twice": (by(lambda c, s: (c, 1)), "side-twice", "side 0 and side 1 are alike"),
    "one side missing": (side(0), "side-missing", "side 1 is missing"),
    "tracks turned": (each_track(lambda track: track[3:] + track[:3]), "sectors-rotated", "by 3 sectors"),
    "wrong interleave": (
        each_track(lambda track: [track[number - 1] for number in passing(9, 2)]), "sectors-interleaved",
        "interleave of 2",
    ),
    "first sector wrong": (
        each_track(lambda track: [*track[1:], b"\xf6" * 512]), "first-sector-wrong", "the last is missing",
    ),
    "the end repeated": (by(lambda c, s: (min(c, 60), s)), "last-cylinders-missing", "behind cylinder 60"),
    "cut short": (DISK[: 60 * 2 * TRACK], "last-cylinders-missing", "cylinders 60-79 at least are missing"),
}  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS)
def test_every_fault_is_named_with_its_place(fault: str) -> None:
    data, code_of, says = FAULTS[fault]
    found = told(data)
    assert [one.code for one in found] == [code_of]
    assert says in found[0].why
    assert found[0].hint


def test_words_are_those_of_a_disk() -> None:
    for data, _, _ in FAULTS.values():
        for one in told(data):
            assert not {"chip", "volt", "pin"} & set(f"{one.why} {one.hint}".lower().replace(",", " ").split())


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("full", [0.02, 0.5, 0.97])
def test_a_sound_disk_has_no_finding(seed: int, full: float) -> None:
    assert told(volume(seed, full)) == ()


def test_files_that_are_alike_and_fill_cylinders_are_no_missed_step() -> None:
    dice, shape = random.Random(5), Shape(total=1440, track=9, fat_sectors=3, cluster_sectors=2, media=0xF9)
    same = content(dice, 2 * TRACK)
    tail = [File(f"GAUGE{number:03d}DAT".encode(), content(dice, 5000)) for number in range(30)]
    # the first file brings what follows to the beginning of a cylinder
    pad = File(b"PAD     DAT", content(dice, -shape.data_start % (2 * TRACK) + 2 * TRACK))
    data = Writer(shape).write([pad, File(b"ONE     DAT", same), File(b"TWO     DAT", same), *tail])
    first = (shape.data_start + len(pad.content)) // (2 * TRACK)
    assert data[first * 2 * TRACK :][: 2 * TRACK] == data[(first + 1) * 2 * TRACK :][: 2 * TRACK]
    assert told(data) == ()


def test_without_a_file_system_only_what_comes_twice_tells_and_never_for_sure() -> None:
    shape = shape_of("5.25-40x2x9x512")
    data = bare_disk(shape, 7, full=0.9)
    cylinder = shape.cylinder_bytes
    missed = data[: 10 * cylinder] + data[9 * cylinder : -cylinder]
    assert told(data) == ()
    found = told(missed)
    assert [one.code for one in found] == ["cylinder-twice"]
    assert found[0].confidence <= 0.8
    assert "may hold the same twice" in found[0].why


@pytest.mark.parametrize(("sectors", "size", "offset", "sides", "seed", "full"), [
    (9, 512, 3, "side-after-side", 783070807, 0.98), (16, 256, 2, "side-1-reversed", 32290152, 0.6),
])  # fmt: skip
def test_a_machine_that_uses_its_sides_in_an_order_of_its_own_is_no_fault(
    sectors: int, size: int, offset: int, sides: str, seed: int, full: float
) -> None:
    shape = directory_volumes.Shape(
        40, 2, sectors, size, block=2048, directory=64, offset=offset, skew=1, sides=sides
    )  # fmt: skip
    data, _ = directory_volumes.filled(shape, seed, full, worn=True)
    assert told(data) == ()


def test_written_tracks_between_blank_ones_are_no_fault() -> None:
    """Blanks of FF begin as a FAT might: a file system that fits badly makes no other order likelier."""
    dice = random.Random(1)
    for _ in range(12):
        tracks = [content(dice, TRACK) if dice.random() < 0.4 else b"\xff" * TRACK for _ in range(2 * CYLINDERS)]
        assert told(b"".join(tracks)) == ()


def test_blank_cylinders_and_test_patterns_are_alike_by_nature() -> None:
    pattern = bytes.fromhex("6db6") * (GEOMETRY.bytes // 2)
    assert told(b"\xe5" * GEOMETRY.bytes) == told(pattern) == ()
    assert told(bytes(range(256)) * (GEOMETRY.bytes // 256)) == ()   # every sector is alike


def test_files_of_an_eight_bit_disk_that_go_on_beyond_the_image() -> None:
    shape = directory_volumes.Shape()
    data, _ = directory_volumes.filled(shape, 5, 0.97)
    assert told(data) == ()
    found = told(data[: -8 * shape.track])
    assert [one.about for one in found] == ["last-cylinders-missing/files-beyond"]
    assert "it ends with 69 cylinders, and cylinders 69-" in found[0].why


def test_a_missed_step_on_an_eight_bit_disk() -> None:
    shape = directory_volumes.Shape(80, 2, 9, 512, block=2048, directory=64, offset=2, skew=1)
    data, _ = directory_volumes.filled(shape, 3, 0.9)
    assert told(data) == ()
    missed = by(lambda c, s: (c - (c >= 33), s), disk=data)
    assert [(one.code, one.detail["cylinders"][0]) for one in told(missed)] == [("cylinder-twice", 33)]


# --- where it is said ---


@pytest.fixture
def swapped(tmp_path: Path) -> str:
    path = tmp_path / "swapped.img"
    path.write_bytes(FAULTS["sides swapped"][0])
    return str(path)


@pytest.fixture
def missed(tmp_path: Path) -> str:
    path = tmp_path / "missed.img"
    path.write_bytes(FAULTS["a cylinder twice"][0])
    return str(path)


def test_every_command_that_looks_at_a_disk_says_it(missed: str, tmp_path: Path) -> None:
    listed, checked = list_files(missed, Options(), Look()), check_files(missed, Options(), Look())
    taken = extract_files(missed, str(tmp_path / "out"), ["TIDE000.DAT"], Options(), Look())
    solved, inspected = solve_file(missed, Options(), Known()), inspect_file(missed, Options())
    for result in (listed, checked, taken, solved, inspected):
        assert "cylinder-twice" in [one.code for one in result.findings], type(result)
        assert result.exit_code == 1


def test_a_disk_whose_sides_are_swapped_is_not_planned(swapped: str, tmp_path: Path) -> None:
    """The parameter block stands at cylinder 0, side 1, sector 1: no machine starts from a disk written so."""
    output = tmp_path / "write.img"
    with pytest.raises(ContradictionError) as caught:
        plan_disk(swapped, str(output), "3.5-dd", DiskChoice(format="3.5-80x2x9x512"), Options())
    assert caught.value.code == "misread"
    assert "side 0 and side 1 are exchanged" in str(caught.value.why)
    assert not output.exists()


def test_sides_that_a_person_names_are_put_in_order_before_they_are_judged(tmp_path: Path) -> None:
    path, output = tmp_path / "sides.img", tmp_path / "write.img"
    path.write_bytes(FAULTS["side after side"][0])
    choice = DiskChoice(format="3.5-80x2x9x512", sides_from="side-after-side")
    done = plan_disk(str(path), str(output), "3.5-dd", choice, Options())
    assert done.format == find("3.5-80x2x9x512").id
    assert output.read_bytes() == DISK
    with pytest.raises(ContradictionError) as caught:
        plan_disk(str(path), str(output), "3.5-dd", DiskChoice(format="3.5-80x2x9x512"), Options(), force=True)
    assert caught.value.code == "misread"


def test_a_sound_disk_is_planned(tmp_path: Path) -> None:
    path, output = tmp_path / "disk.img", tmp_path / "write.img"
    path.write_bytes(DISK)
    plan_disk(str(path), str(output), "3.5-dd", DiskChoice(format="3.5-80x2x9x512"), Options())
    assert output.read_bytes() == DISK
