"""The list that a reader gives with its read of a disk: kept with the read, and weighed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import Ran
from tests.geometry.disks import fat_disk, shape_of

Cli = Callable[..., Ran]
PC = shape_of("5.25-40x2x9x512")
HEAD = "cylinder,head,sector,state\n"


@pytest.fixture(scope="module")
def data() -> bytes:
    return fat_disk(PC, 1, full=0.6)


@pytest.fixture
def keep(cli: Cli, tmp_path: Path, data: bytes) -> Callable[..., Ran]:
    archive = tmp_path / "archive"
    cli("archive", "init", archive)
    cli("carrier", "add", "tg85-boot", "--kind", "floppy", "--archive", archive)

    def call(number: int, *more: str, listed: str | None = None, content: bytes = data) -> Ran:
        path = tmp_path / f"r{number}.img"
        path.write_bytes(content)
        words = ["carrier", "read", "tg85-boot", path, "--archive", archive, *more]
        if listed is not None:
            (tmp_path / f"r{number}.csv").write_text(listed)
            words += ["--bad-sectors", tmp_path / f"r{number}.csv"]
        return cli(*words)

    return call


def shown(cli: Cli, tmp_path: Path) -> dict[str, object]:
    cli("carrier", "agree", "tg85-boot", "--archive", tmp_path / "archive")
    document: dict[str, object] = cli("carrier", "show", "tg85-boot", "--archive", tmp_path / "archive", "--json").json
    return document


def codes(document: dict[str, object]) -> list[str]:
    standing = document["standing"]
    assert isinstance(standing, dict)
    return [one["code"] for one in standing["contradictions"] if one["explained"] is None]


def test_what_no_list_calls_well_read_stands_open(cli: Cli, tmp_path: Path, keep: Callable[..., Ran]) -> None:
    """Two drives that leave the same fill agree, and neither read the sector."""
    drives = [("--drive", "bench drive"), ("--drive", "the machine's own")]
    ran = keep(1, *drives[0], "--retries", "20", listed=HEAD + "12,1,3,bad\n12,1,4,bad\n30,0,1,doubtful\n")
    assert "not read well, as the list of its reader says: 1536 bytes, first 12/1/3 (bad)" in " ".join(ran.out.split())
    keep(2, *drives[1], listed=HEAD + "12,1,4,missing\n")
    document = shown(cli, tmp_path)
    assert codes(document) == ["sectors-not-read"]
    standing = document["standing"]
    assert isinstance(standing, dict)
    [one] = standing["contradictions"]
    assert (one["detail"]["bytes"], one["where"]) == (512, ["r1", "r2"])
    assert cli("carrier", "agree", "tg85-boot", "--archive", tmp_path / "archive").code == 1
    text = " ".join(cli("carrier", "show", "tg85-boot", "--archive", tmp_path / "archive").out.split())
    assert "r1 through: drive bench drive, 20 retries at most" in text
    for word in ("volt", "chip", " pin"):
        assert word not in text.lower()


def test_a_list_without_the_sector_vouches_for_it(cli: Cli, tmp_path: Path, keep: Callable[..., Ran]) -> None:
    keep(1, "--drive", "bench drive", listed=HEAD + "12,1,3,bad\n")
    keep(2, "--drive", "the machine's own")   # without a list nothing is known
    assert codes(shown(cli, tmp_path)) == ["sectors-not-read"]
    keep(3, "--drive", "a borrowed one", listed=HEAD)
    assert codes(shown(cli, tmp_path)) == []


def test_the_history_tells_it_and_is_proved_again(cli: Cli, tmp_path: Path, keep: Callable[..., Ran]) -> None:
    keep(1, listed="start,length,state\n4096,512,missing\n")
    archive = tmp_path / "archive"
    told = cli("carrier", "show", "tg85-boot", "--archive", archive, "--json").json
    assert "its reader's list calls 512 bytes not read well" in str(told["events"])
    assert told["reads"][0]["not_read"] == [
        {"start": 4096, "length": 512, "state": "missing", "place": "0/0/9"}
    ]
    assert cli("archive", "audit", "--archive", archive).code == 0


@pytest.mark.parametrize(("listed", "code", "words"), [
    ("12,1,3,bad\n", 3, "cylinder"), (HEAD + "90,0,1,bad\n", 2, "does not fit"), (HEAD + "1,0,1,worn\n", 3, "worn"),
])  # fmt: skip
def test_a_wrong_list_keeps_nothing(
    cli: Cli, tmp_path: Path, keep: Callable[..., Ran], listed: str, code: int, words: str
) -> None:
    ran = keep(1, listed=listed)
    assert ran.code == code
    assert words in ran.err + ran.out
    assert cli("carrier", "show", "tg85-boot", "--archive", tmp_path / "archive", "--json").json["reads"] == []


def test_a_list_for_each_file_and_retries_that_are_a_number(cli: Cli, tmp_path: Path, keep: Callable[..., Ran]) -> None:
    assert keep(1, "--retries", "many").code == 2
    assert keep(1, "--bad-sectors", "-", "--bad-sectors", "-").code == 2


def test_an_unknown_disk_needs_its_geometry(cli: Cli, tmp_path: Path, keep: Callable[..., Ran]) -> None:
    odd = bytes(range(256)) * 401
    assert keep(1, listed=HEAD + "0,0,1,bad\n", content=odd).code != 0
    assert keep(1, "--geometry", "401x1x1x256", listed=HEAD + "0,0,1,bad\n", content=odd).code == 0
