"""The read that would tell most: the same on the carrier, in the list of what to do, and on its page."""

from __future__ import annotations

import itertools
import json
import random
from pathlib import Path

import pytest

from imagekeeper.archive.index.causes_seen import key_of, seen_causes
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.cli import run
from imagekeeper.jobs.carriers.agreeing import compare_reads
from imagekeeper.jobs.carriers.keeping import Conditions, add_carrier, add_reads
from imagekeeper.jobs.carriers.showing import show_carrier
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.pages.gathering import gather
from imagekeeper.jobs.pages.values import Made
from imagekeeper.jobs.session import Session

_NUMBERS = itertools.count(1)
SESSION = Session(
    lambda: "2026-03-02T12:00:00Z", lambda: f"00000000-0000-4000-8000-{next(_NUMBERS):012d}", "harbour office"
)
MADE = Made("2026-03-02T12:00:00Z", "imagekeeper", "harbour office", "00000000-0000-4000-8000-000000000000")
SOUND = random.Random(85).randbytes(8192)


def late(data: bytes) -> bytes:
    """Bits 0 to 3 of some bytes are still those of the byte before."""
    chosen = set(random.Random(1).sample(range(1, len(data)), len(data) // 20))
    return bytes(byte & 0xF0 | data[at - 1] & 0x0F if at in chosen else byte for at, byte in enumerate(data))


def faded(data: bytes) -> bytes:
    """One bit of some bytes reads 1."""
    dice = random.Random(2)
    chosen = {at: 1 << dice.randrange(8) for at in dice.sample(range(len(data)), len(data) // 40)}
    return bytes(byte | chosen.get(at, 0) for at, byte in enumerate(data))


@pytest.fixture
def archive(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ArchiveStore:
    monkeypatch.setenv("IMAGEKEEPER_CACHE", str(tmp_path / "cache"))
    assert run(["archive", "init", str(tmp_path / "archive")]) == 0
    return ArchiveStore.open(tmp_path / "archive")


def keep(archive: ArchiveStore, folder: Path, name: str, kind: str, part: str | None, *reads: bytes) -> None:
    add_carrier(archive, name, kind, SESSION, part=part)
    for number, data in enumerate(reads, 1):
        file = folder / f"{name}-{number}.bin"
        file.write_bytes(data)
        add_reads(archive, name, [str(file)], Options(), Conditions(reader=f"reader {number}"), SESSION)


def test_every_place_names_the_same_read(
    archive: ArchiveStore, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    keep(archive, tmp_path, "u4", "eprom", "2764", SOUND, late(SOUND))
    shown = show_carrier(archive, "u4").standing
    assert shown is not None
    assert shown.next.does == "read once more, with a longer access time on the reader"
    assert shown.next.outcomes[0] == "if it agrees with the better read: the outputs are slower than the reader"
    assert shown.next.passes == 1
    page = gather(archive, "u4", MADE, lambda done: None).page
    assert page.standing is not None
    assert page.standing.next == shown.next
    capsys.readouterr()
    assert run(["carrier", "list", "--todo", "--json", "--archive", str(archive.path)]) == 0
    assert [line["next"] for line in json.loads(capsys.readouterr().out)["lines"]] == [shown.next.does]


def test_what_was_found_is_kept_beside_the_index_and_found_again_where_it_is_not(
    archive: ArchiveStore, tmp_path: Path
) -> None:
    keep(archive, tmp_path, "u4", "eprom", "2764", SOUND, late(SOUND))
    record = show_carrier(archive, "u4")
    seen = seen_causes(archive)
    assert [code for code, _ in seen[key_of(record)]][:1] == ["slow-outputs"]
    (kept,) = (tmp_path / "cache").rglob("*.causes")
    kept.write_text("nonsense\n")
    assert seen_causes(archive) == {}
    again = show_carrier(archive, "u4")
    assert again.standing is not None
    assert record.standing is not None
    assert again.standing.next == record.standing.next


def test_nothing_is_told_of_equal_reads_or_of_one(archive: ArchiveStore, tmp_path: Path) -> None:
    keep(archive, tmp_path, "u5", "eprom", "2764", SOUND, SOUND)
    keep(archive, tmp_path, "u6", "eprom", "2764", SOUND)
    for name in ("u5", "u6"):
        found = show_carrier(archive, name).standing
        assert found is not None
        assert found.next.outcomes == ()
    assert seen_causes(archive) == {}


@pytest.mark.parametrize(("part", "kind", "lossy"), [("2364", "mask-rom", False), ("2764", "eprom", True)])
def test_the_page_and_the_comparison_know_how_the_chip_is_made(
    archive: ArchiveStore, tmp_path: Path, part: str, kind: str, lossy: bool
) -> None:
    """A mask ROM holds no charge: the page must not say what the comparison does not."""
    keep(archive, tmp_path, "u7", kind, part, SOUND, faded(SOUND), SOUND)
    record = show_carrier(archive, "u7")
    compared = compare_reads(archive, record, archive.inventory("u7"))
    page = gather(archive, "u7", MADE, lambda done: None).page
    assert page.comparison is not None
    assert [one.code for one in page.comparison.findings] == [one.code for one in compared.findings]
    assert ("charge-loss" in {one.code for one in compared.findings}) == lossy
