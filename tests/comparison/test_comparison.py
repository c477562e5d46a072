"""Whether reads agree, and the counts where they do not."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.addresses import Doubt
from imagekeeper.comparison import comparison as comparison_module
from imagekeeper.comparison.comparison import Comparison, compare
from imagekeeper.comparison.counting import MAX_RANGES
from imagekeeper.containers.model import Image, Segment
from imagekeeper.errors import UsageError
from tests import tools
from tests.refusals import refuses
from tests.strategies import images


def of(*reads: bytes, columns: int = 0) -> Comparison:
    names = [f"read{i}.bin" for i in range(len(reads))]
    return compare([Image.from_bytes(read) for read in reads], names, map_columns=columns)


def counted(reads: list[bytes]) -> dict[str, object]:
    """The counts by definition, one bit at a time."""
    up: dict[int, int] = {}
    down: dict[int, int] = {}
    lines = [[0, 0] for _ in range(8)]
    for at in range(min(map(len, reads))):
        for bit in range(8):
            values = [read[at] >> bit & 1 for read in reads]
            if len(set(values)) > 1:
                target, column = (down, 1) if values[0] else (up, 0)
                target[at] = target.get(at, 0) + 1
                lines[bit][column] += 1
    differing = sorted(up.keys() | down.keys())
    ranges: list[list[int]] = []
    for at in differing:
        if ranges and ranges[-1][0] + ranges[-1][1] == at:
            ranges[-1][1] += 1
        else:
            ranges.append([at, 1])
    return {
        "bytes": len(differing),
        "up": sum(up.values()),
        "down": sum(down.values()),
        "lines": lines,
        "ranges": [
            (start, n, *(sum(way.get(a, 0) for a in range(start, start + n)) for way in (up, down)))
            for start, n in ranges
        ],
        "high": [sum(at >> line & 1 for at in differing) for line in range(12)],
    }  # fmt: skip


same_length = st.integers(1, 200).flatmap(
    lambda n: st.lists(st.binary(min_size=n, max_size=n), min_size=2, max_size=4)
)


@given(reads=same_length, piece=st.integers(1, 70))
def test_counts_are_those_of_the_definition(reads: list[bytes], piece: int) -> None:
    """Whatever the pieces in which the reads are walked."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("imagekeeper.comparison.alignment.PIECE_BYTES", piece)
        result = of(*reads, columns=7)
    expected = counted(reads)
    found = result.differences
    assert (found.bytes, found.zero_to_one, found.one_to_zero) == (expected["bytes"], expected["up"], expected["down"])
    assert found.bits == found.zero_to_one + found.one_to_zero
    assert [[d.zero_to_one, d.one_to_zero] for d in found.data_lines] == expected["lines"]
    assert [(r.start, r.length, r.zero_to_one, r.one_to_zero) for r in found.ranges] == expected["ranges"]
    high = expected["high"]
    assert isinstance(high, list)
    assert [line.high for line in found.address_lines] == high[: len(found.address_lines)]
    assert all(line.low + line.high == found.bytes for line in found.address_lines)
    assert result.agree == (found.bytes == 0) == (result.exit_code == 0)
    assert result.map is not None
    assert [sum(row) for row in result.map.zero_to_one] == [d.zero_to_one for d in found.data_lines]
    assert [sum(row) for row in result.map.one_to_zero] == [d.one_to_zero for d in found.data_lines]


@given(images=st.lists(images(limit=3000), min_size=2, max_size=3))
def test_any_shapes_are_compared_over_what_they_share(images: list[Image]) -> None:
    result = compare(images, [str(i) for i in range(len(images))])
    held = [{a + i: b for a, piece in image.pieces() for i, b in enumerate(piece)} for image in images]
    if not any(f.code == "addresses-moved" for f in result.findings):
        shared = set.intersection(*(set(h) for h in held))
        assert result.differences.compared_bytes == len(shared)
        assert result.differences.bytes == sum(len({h[a] for h in held}) > 1 for a in shared)
        assert result.agree == all(h == held[0] for h in held)
    import hashlib

    assert [r.sha256 for r in result.reads] == [hashlib.sha256(i.tobytes()).hexdigest() for i in images]


def test_direction_is_from_the_first_to_the_second() -> None:
    there, back = of(b"\x00\xff", b"\x01\xfe"), of(b"\x01\xfe", b"\x00\xff")
    assert (there.differences.data_lines[0].zero_to_one, there.differences.data_lines[0].one_to_zero) == (1, 1)
    assert of(b"\x00", b"\x81").differences.zero_to_one == 2
    assert of(b"\x81", b"\x00").differences.one_to_zero == 2
    assert there.differences.bits == back.differences.bits == 2


def test_groups_tell_who_agrees_with_whom() -> None:
    result = of(b"AAAA", b"AABA", b"AAAA", b"AAAA", b"AABA")
    assert result.groups == ((1, 3, 4), (2, 5))


def test_different_sizes_are_compared_over_the_common_part() -> None:
    result = of(b"ABCD" * 4, b"ABCD" * 2)
    assert not result.agree
    assert result.differences.bytes == 0
    assert result.differences.compared_bytes == 8
    found = {f.code: f for f in result.findings}
    assert found["sizes-differ"].detail["sizes"] == [16, 8]
    assert found["sizes-differ"].detail["only_in"] == [[{"start": 8, "length": 8}], []]
    assert found["mirrored"].detail["times"] == 2


def test_a_raw_read_is_laid_at_the_address_that_the_other_states() -> None:
    stated = Image(segments=(Segment(0xF000, b"ABCD"),), addressed=True)
    result = compare([Image.from_bytes(b"ABCD"), stated], ["raw.bin", "stated.hex"])
    assert result.agree
    assert [f.code for f in result.findings] == ["addresses-moved"]
    assert result.reads[0].first_address == 0xF000


def test_equal_bytes_with_gaps_in_other_places_do_not_agree() -> None:
    a = Image(segments=(Segment(0, b"AB"), Segment(4, b"CD")), addressed=True)
    b = Image(segments=(Segment(0, b"ABCD"),), addressed=True)
    result = compare([a, b], ["a", "b"])
    assert result.reads[0].sha256 == result.reads[1].sha256
    assert not result.agree
    assert result.findings[0].code == "gaps-differ"


def test_doubtful_bytes_are_mentioned_even_when_all_agree() -> None:
    doubtful = Image(
        segments=(Segment(0, b"AB"),), doubts=(Doubt(start=1, length=1, code="record-sum", why="the line ends in 00"),),
        addressed=True,
    )  # fmt: skip
    result = compare([doubtful, Image.from_bytes(b"AB")], ["a.hex", "b.bin"])
    assert result.agree
    assert [f.code for f in result.findings] == ["doubtful-bytes"]


def test_many_ranges_are_counted_and_the_first_listed() -> None:
    result = of(bytes(6000), b"\x00\x01" * 3000)
    assert result.differences.ranges_total == 3000
    assert len(result.differences.ranges) == MAX_RANGES
    assert result.differences.ranges[-1].start == 2 * MAX_RANGES - 1


def test_a_range_over_many_pieces_is_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("imagekeeper.comparison.alignment.PIECE_BYTES", 10)
    result = of(bytes(100), b"\x03" * 100)
    assert [(r.start, r.length, r.zero_to_one) for r in result.differences.ranges] == [(0, 100, 200)]
    assert result.differences.ranges_total == 1


def test_one_read_is_no_comparison() -> None:
    with refuses(UsageError, "usage", "a comparison needs at least two reads"):
        of(b"A")
    for given_reads, why in (((), "0 reads were given"), ((b"A",), "1 read was given")):
        with refuses(UsageError, "usage", why):
            of(*given_reads)


def test_equal_reads_are_digested_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Which is what makes the comparison of large equal files fast."""
    made = []

    class Digest:
        def update(self, data: bytes) -> None:
            made.append(len(data))

        def hexdigest(self) -> str:
            return "00"

    monkeypatch.setattr(comparison_module.hashlib, "sha256", Digest)
    of(b"x" * 100, b"x" * 100, b"x" * 100)
    assert sum(made) == 100


@tools.needs("cmp")
@given(pair=st.integers(1, 300).flatmap(lambda n: st.tuples(*[st.binary(min_size=n, max_size=n)] * 2)))
def test_cmp_lists_the_same_bytes(pair: tuple[bytes, bytes], tmp_path_factory: pytest.TempPathFactory) -> None:
    """`cmp -l` (diffutils; POSIX cmp) lists offset from 1, and both bytes in octal."""
    folder = tmp_path_factory.getbasetemp()
    paths = [Path(folder, name) for name in ("a.bin", "b.bin")]
    for path, data in zip(paths, pair, strict=True):
        path.write_bytes(data)
    listed = subprocess.run([tools.path("cmp"), "-l", *paths], capture_output=True, text=True, check=False).stdout
    offsets = [int(line.split()[0]) - 1 for line in listed.splitlines()]
    bits = sum((int(x, 8) ^ int(y, 8)).bit_count() for _, x, y in map(str.split, listed.splitlines()))
    result = of(*pair)
    assert result.differences.bytes == len(offsets)
    assert result.differences.bits == bits
    assert [a for r in result.differences.ranges for a in range(r.start, r.start + r.length)] == offsets
