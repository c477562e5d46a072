"""Is this image kept already? The forms in which it may be, held against the definition of each."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper import containers
from imagekeeper.archive.index import forms, images, sketches
from imagekeeper.archive.index.sqlite.base import CACHE_VARIABLE, Index
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.containers.model import Image, Segment
from imagekeeper.errors import UsageError
from imagekeeper.jobs.archive import recognising, searching
from imagekeeper.jobs.archive.differing import difference
from imagekeeper.jobs.archive.searching import Search
from imagekeeper.jobs.carriers import keeping
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.session import Session
from tests.refusals import refuses

NOW = "2026-11-24T22:00:00Z"
NAME = b"QUILLMERE TIDE RECORDER V1.2 HARBOUR OFFICE\0"


def program(seed: int, size: int = 8192) -> bytes:
    """Bytes in which only the name is the same in all programs."""
    return random.Random(seed).randbytes(size - 65) + b"\0" + NAME.ljust(64, b"\xff")


PROGRAM = program(1)

Ask = Callable[..., Search]


@pytest.fixture
def ask(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Ask:
    """An archive with four chips; asked about an image."""
    monkeypatch.setenv(CACHE_VARIABLE, str(tmp_path / "cache"))
    archive = ArchiveStore.create(
        tmp_path / "harbour", uuid="0195c0de-0000-7000-8000-000000000001", title="Harbour office", now=NOW
    )
    count = iter(range(1000))
    session = Session(lambda: NOW, lambda: f"0195c0de-0000-7000-8000-{next(count):012}", "Ann")
    for name, data in (("u4", PROGRAM), ("u5", program(2)), ("u6", b"\xff" * 8192), ("u7", program(3, 16384))):
        keeping.add_carrier(archive, name, "eprom", session, position=name.upper())
        (tmp_path / f"{name}.bin").write_bytes(data)
        keeping.add_reads(archive, name, [str(tmp_path / f"{name}.bin")], Options(), keeping.Conditions(), session)

    def asked(data: bytes, **options: int) -> Search:
        (tmp_path / "asked").write_bytes(data)
        return recognising.search_image(archive, str(tmp_path / "asked"), Options(), **options)

    return asked


def relations(result: Search) -> list[tuple[str, str]]:
    return [(image.relation, image.carrier) for image in result.images]


def test_the_same_image_in_another_file_at_another_address(ask: Ask) -> None:
    (one,) = ask(PROGRAM).images
    assert (one.relation, one.carrier, one.held_as, one.says) == ("same", "u4", ("r1",), "the same image")
    moved = containers.encode(Image(segments=(Segment(0x2000, PROGRAM),), addressed=True), "intel-hex")
    (one,) = ask(moved).images
    assert one.says == "the same image, from another kind of file (raw) and at another address (0000)"


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (PROGRAM * 4, "here 4 times over and with 21 bytes of fill, in the archive with 21"),
        (PROGRAM + b"\xff" * 8192, "here with"),
        (b"\x00" * 512 + PROGRAM, "here with"),
        (PROGRAM.rstrip(b"\xff"), "here with 1 byte of fill"),
        ((PROGRAM + bytes(8192)) * 2, "here 2 times over and with"),
    ],
)
def test_the_same_without_padding_and_repetition(ask: Ask, data: bytes, says: str) -> None:
    result = ask(data)
    assert relations(result)[0] == ("same-content", "u4")
    assert says in result.images[0].says
    assert result.exit_code == 0


def test_lanes_and_halves_both_ways(ask: Ask) -> None:
    both = bytes(16384 * [0])
    even, odd = PROGRAM, program(2)
    joined = bytearray(both)
    joined[0::2], joined[1::2] = even, odd
    result = ask(bytes(joined))
    assert relations(result)[:2] == [("made-of", "u4"), ("made-of", "u5")]
    assert result.images[1].says == "lane 1 of 2 of this is the archive's image"
    assert relations(ask(PROGRAM + program(2)))[:2] == [("made-of", "u4"), ("made-of", "u5")]
    result = ask(program(3, 16384)[1::2])
    assert relations(result) == [("part-of", "u7")]
    assert result.images[0].says == "this is lane 1 of 2 of the archive's image"
    assert relations(ask(program(3, 16384)[:8192]))[0] == ("part-of", "u7")


def test_a_near_image_and_the_text_that_differs(ask: Ask) -> None:
    result = ask(PROGRAM.replace(b"V1.2", b"V1.3"))
    (one,) = result.images
    assert (one.relation, one.carrier, one.differing_bytes) == ("near", "u4", 1)
    assert "1 byte differs, only in a version text" in one.says
    assert [(text.here, text.there) for text in one.texts] == [
        ("QUILLMERE TIDE RECORDER V1.3 HARBOUR OFFICE", "QUILLMERE TIDE RECORDER V1.2 HARBOUR OFFICE")
    ]
    assert one.shared is not None
    assert one.shared > 0.99


def test_what_moved_is_still_near(ask: Ask) -> None:
    result = ask(b"\x12\x34\x56" + PROGRAM[:4000] + PROGRAM[4001:])
    assert relations(result) == [("near", "u4")]
    assert result.images[0].differing_bytes is None


def test_nothing_like_it(ask: Ask) -> None:
    result = ask(random.Random(99).randbytes(8192))
    assert (result.images, result.exit_code) == ((), 1)
    assert result.hint is not None
    assert "nothing like it" in result.hint
    blank = ask(b"\xff" * 4096)
    assert (blank.images, blank.exit_code) == ((), 1)
    assert "blank" in str(blank.hint)
    (same,) = ask(b"\xff" * 8192).images   # a blank image of the same size is the same image
    assert same.carrier == "u6"


def test_the_limit_and_that_there_is_more(ask: Ask) -> None:
    result = ask(PROGRAM + program(2), limit=1)
    assert (len(result.images), result.more) == (1, True)


def shares(here: bytes, there: bytes) -> float:
    """The oracle: sets of runs as they are, without hashes."""
    width = sketches.WINDOW
    sets = [
        {data[i : i + width] for i in range(len(data) - width + 1) if len(set(data[i : i + width])) > 1}
        for data in (here, there)
    ]
    return len(sets[0] & sets[1]) / len(sets[0]) if sets[0] else 0.0


@given(st.integers(0, 1 << 32), st.integers(0, 3000), st.integers(0, 3000), st.integers(0, 400))
def test_shares_are_those_of_the_sets_themselves(seed: int, kept: int, other: int, fill: int) -> None:
    rng = random.Random(seed)
    common = rng.randbytes(kept)
    here = common + bytes(fill) + rng.randbytes(other)
    there = rng.randbytes(other // 2) + common + b"\xff" * fill
    one, two = sketches.runs(here, 4096), sketches.runs(there, 4096)
    assert sketches.shared(one, two) == pytest.approx(shares(here, there))
    whole = sketches.sketch(here)
    assert whole == one[: sketches.SIZE].astype("<u8").tobytes()
    assert sketches.counts(whole, [whole]) == [len(whole) // 8]


@pytest.mark.parametrize("part", [0.1, 0.3, 0.5, 0.8, 0.95])
def test_sketches_estimate_the_share(part: float) -> None:
    """Standard error for 128 hashes: at most sqrt(0.25 / 128) = 0.044 of each image; four of them are allowed."""
    rng = random.Random(int(part * 100))
    common = rng.randbytes(int(32768 * part))
    here = common + rng.randbytes(32768 - len(common))
    there = rng.randbytes(32768 - len(common)) + common
    estimate = sketches.estimated(sketches.sketch(here), sketches.sketch(there))
    assert estimate == pytest.approx(shares(here, there), abs=0.18)


def test_large_images_are_hashed_in_pieces_alike() -> None:
    data = random.Random(5).randbytes(600_000)
    whole = sketches.sketch(data)
    shifted = sketches.sketch(b"\x07" * 31 + data)
    assert len(whole) == 8 * sketches.SIZE
    assert sketches.estimated(whole, shifted) > 0.97


@given(st.binary(min_size=1, max_size=40), st.integers(1, 6), st.integers(0, 9), st.sampled_from([0, 0xFF]))
def test_the_core_does_not_depend_on_padding_or_copies(unit: bytes, copies: int, fill: int, value: int) -> None:
    core = forms.core(unit).data
    assert forms.core(core).data == core
    assert forms.core(unit * copies).data == core
    assert forms.core(core * copies + bytes([value]) * fill).data == core
    assert not core or (core[0] not in (0, 0xFF) and core[-1] not in (0, 0xFF))


def test_an_image_that_cannot_be_read_is_counted(ask: Ask, tmp_path: Path) -> None:
    archive = ArchiveStore.open(tmp_path / "harbour")
    archive.content_path("u5", "reads/r1/image.bin").write_bytes(b"rotten")
    result = ask(PROGRAM[:-100])
    assert result.unread == 1
    assert relations(result)[0][1] == "u4"
    with Index(archive) as index:
        assert images.unsketched(index) == 1


def test_differences_are_counted_and_placed() -> None:
    head = random.Random(4).randbytes(500)
    here = head + b"TIDE RECORDER" + head + b"\x10"
    found = difference(here, head + b"TIDE GAUGE 85" + head + b"\x11")
    assert found.bytes == sum(a != b for a, b in zip(b"TIDE RECORDER", b"TIDE GAUGE 85", strict=True)) + 1
    assert "and in 1 byte elsewhere, as a checksum would be" in found.says
    assert difference(here, here[:-10]).bytes is None
    assert difference(here, bytes(len(here))).bytes == sum(byte != 0 for byte in here)


def test_what_is_no_search(ask: Ask, tmp_path: Path) -> None:
    archive = ArchiveStore.open(tmp_path / "harbour")
    for terms in ([], ["a" * 3000], ["b " * 600_000]):
        with pytest.raises(UsageError) as problem:
            searching.search_text(archive, terms, searching.filters())
        assert problem.value.code == "usage"
    with refuses(UsageError, "usage", "a date cannot be understood"):
        searching.filters(read_after="yesterday")
