"""Labels: what they say, that nothing runs over an edge, and that the codes are what they should be."""

from __future__ import annotations

import re
import zlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ArchiveError, NotFoundError, UsageError
from imagekeeper.jobs import specimen
from imagekeeper.jobs.pages.label_layout import (
    MODULE,
    QUIET_MODULES,
    SIZES,
    SMALLEST,
    fitted,
    laid_out,
    qr_path,
    width_of,
)
from imagekeeper.jobs.pages.label_sheets import MARGIN, PAPERS, arranged
from imagekeeper.jobs.pages.labelling import Labels, parse_size, write_labels
from imagekeeper.present.html.label_sheet import render_sheets
from tests.present import collection
from tests.present.test_pages import sound
from tests.refusals import refuses

EVEN = specimen.program()[0::2]


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> ArchiveStore:
    folder = tmp_path_factory.mktemp("labels")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("IMAGEKEEPER_CACHE", str(folder / "cache"))
        return collection.build(folder)


def written(archive: ArchiveStore, output: Path, *ids: str, **options: object) -> tuple[Labels, str]:
    result = write_labels(archive, ids, str(output), collection.session(), render=render_sheets, **options)   # type: ignore[arg-type]
    text = output.read_text("utf-8")
    sound(text)
    return result, text


def test_a_label_bears_what_the_trade_prints(archive: ArchiveStore, tmp_path: Path) -> None:
    result, text = written(archive, tmp_path / "l.html", "tg85-u4", size="40x16")
    label = result.labels[0]
    assert label.sum16 == f"{sum(EVEN) & 0xFFFF:04X}" == "CCC2"
    assert label.crc32 == f"{zlib.crc32(EVEN):08X}" == "461D7DAF"
    assert label.lines == ("tg85-u4", "TG85 2.1 EVEN", "27128", "CS CCC2", "CRC 461D7DAF", "corroborated", "2026-03-02")
    assert (label.qr, label.left_out, result.sheets) == (True, (), 1)
    assert 'width="210mm" height="297mm"' in text
    assert "@page { size: 210mm 297mm; margin: 0; }" in text


def test_no_sum_stands_on_a_label_where_no_image_is_agreed(archive: ArchiveStore, tmp_path: Path) -> None:
    result, _ = written(archive, tmp_path / "l.html", "tg85-u5", "tg85-u30", "tg85-u31")
    for label in result.labels:
        assert (label.sum16, label.crc32) == (None, None)
        assert "no agreed image" in label.lines


def test_the_size_suits_the_carrier(archive: ArchiveStore, tmp_path: Path) -> None:
    """2716: 24 pins; 27128: 28 pins (the chip table and its sources)."""
    result, _ = written(archive, tmp_path / "l.html", "tg85-u17", "tg85-u4", "tg85-disk")
    assert [label.size for label in result.labels] == ["dip24", "dip28", "disk525"]


def test_hostile_texts_stay_words_on_labels(archive: ArchiveStore, tmp_path: Path) -> None:
    result, text = written(archive, tmp_path / "l.html", "hostile", size="disk8")
    assert "<script" not in text
    assert any(line.startswith("<script>") for line in result.labels[0].lines)
    assert any(line.endswith("…") for line in result.labels[0].lines)


def test_wrong_requests_are_refused(archive: ArchiveStore, tmp_path: Path) -> None:
    for size in ("dip99", "0x0", "5x3", "400x10", "28", "nanxnan"):
        with refuses(UsageError, "usage", "there is no such size of label"):
            parse_size(size)
    with pytest.raises(UsageError) as large:
        written(archive, tmp_path / "l.html", "tg85-u4", size="250x20")
    assert large.value.code == "usage"
    with refuses(NotFoundError, "carrier-missing", "there is no such carrier"):
        written(archive, tmp_path / "l.html", "tg85-u4", "tg85-u99")
    assert not (tmp_path / "l.html").exists()
    written(archive, tmp_path / "l.html", "tg85-u4")
    with pytest.raises(UsageError) as taken:
        written(archive, tmp_path / "l.html", "tg85-u4")
    assert taken.value.code == "exists"


def test_a_damaged_image_gets_no_label(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("IMAGEKEEPER_CACHE", str(tmp_path / "cache"))
    archive = collection.build(tmp_path)
    path = archive.content_path("tg85-u4", "agreed.bin")
    path.write_bytes(path.read_bytes()[:-1] + b"\x00")
    with refuses(ArchiveError, "archive-damaged", "its SHA-256 is not that of the agreed image"):
        written(archive, tmp_path / "l.html", "tg85-u4")


def test_a_qr_code_has_its_finder_patterns_and_timing() -> None:
    """The three corners hold the 7 by 7 finder pattern, rows 1011101 in its middle: ISO/IEC 18004, from memory."""
    path, modules = qr_path("tg85-u4")
    grid = [[False] * modules for _ in range(modules)]
    for x, y, run in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", path):
        for i in range(int(run)):
            grid[int(y)][int(x) + i] = True
    for top, left in ((0, 0), (0, modules - 7), (modules - 7, 0)):
        assert all(grid[top][left : left + 7])
        assert grid[top + 3][left : left + 7] == [True, False, True, True, True, False, True]
    assert [grid[6][x] for x in range(8, 13)] == [True, False, True, False, True]


@given(
    texts=st.lists(st.tuples(st.integers(0, 5), st.text(max_size=60)), min_size=1, max_size=8),
    size=st.one_of(
        st.sampled_from(sorted(SIZES.values())), st.tuples(st.floats(6, 200), st.floats(4, 200)),
    ),
)  # fmt: skip
def test_nothing_runs_over_the_edge(texts: list[tuple[int, str]], size: tuple[float, float]) -> None:
    label = laid_out("tg85-u4", texts, size)
    for line in label.lines:
        assert line.size >= SMALLEST - 1e-9 or line.size >= size[1] / 3
        assert line.x + line.width <= size[0] + 1e-6
        assert 0 <= line.y <= size[1]
        assert line.y - line.size >= -line.size * 0.3
    feet = [line.y for line in label.lines]
    assert feet == sorted(feet)
    if label.code:
        _, modules = qr_path("tg85-u4")
        assert label.module >= MODULE
        assert label.code_x + label.module * (modules + QUIET_MODULES) <= size[0]
        assert label.code_y + label.module * (modules + QUIET_MODULES) <= size[1]
        assert all(line.x >= label.code_x + label.module * modules for line in label.lines)


@given(text=st.text(max_size=80), room=st.floats(0, 60), size=st.floats(SMALLEST, 8))
def test_a_text_fits_small_or_cut(text: str, room: float, size: float) -> None:
    shown, letters = fitted(text, room, size)
    assert width_of(shown, letters) <= room + 1e-6
    assert SMALLEST - 1e-9 <= letters <= size + 1e-9 or not shown


@given(
    sizes=st.lists(st.sampled_from(sorted(SIZES.values())), max_size=60), paper=st.sampled_from(sorted(PAPERS)),
    skip=st.integers(0, 200),
)  # fmt: skip
def test_labels_lie_on_the_paper_and_not_on_each_other(sizes: list[tuple[float, float]], paper: str, skip: int) -> None:
    labels = [laid_out(f"c{i}", [(0, f"c{i}")], size) for i, size in enumerate(sizes)]
    sheets = arranged(labels, paper, skip)
    assert [placed.label.id for sheet in sheets for placed in sheet] == [label.id for label in labels]
    wide, high = PAPERS[paper]
    for sheet in sheets:
        for i, a in enumerate(sheet):
            assert a.x >= MARGIN
            assert a.x + a.label.width <= wide - MARGIN + 1e-6
            assert a.y >= MARGIN
            assert a.y + a.label.height <= high - MARGIN + 1e-6
            for b in sheet[i + 1 :]:
                beside = a.x + a.label.width <= b.x or b.x + b.label.width <= a.x
                assert beside or a.y + a.label.height <= b.y or b.y + b.label.height <= a.y
