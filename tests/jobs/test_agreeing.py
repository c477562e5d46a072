"""What the archive knows of a carrier goes into the diagnosis of its reads, and into the grade."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ContradictionError
from imagekeeper.jobs import specimen
from imagekeeper.jobs.carriers.agreeing import agree
from imagekeeper.jobs.carriers.keeping import Conditions, add_carrier, add_reads
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.session import Session
from tests.refusals import refuses

EVEN = specimen.program()[0::2]


def session() -> Session:
    numbers = iter(range(1, 1000))
    return Session(lambda: "2026-03-02T12:00:00Z", lambda: f"00000000-0000-4000-8000-{next(numbers):012d}", "bench")


@pytest.fixture
def archive(tmp_path: Path) -> ArchiveStore:
    made = ArchiveStore.create(
        tmp_path / "a", uuid="0195c0de-0000-7000-8000-000000000001", title="", now=session().now()
    )
    add_carrier(made, "u4", "eprom", session(), part="27128")
    return made


def keep(archive: ArchiveStore, folder: Path, name: str, data: bytes, **conditions: str) -> None:
    (folder / name).write_bytes(data)
    add_reads(archive, "u4", [str(folder / name)], Options(), Conditions(**conditions), session())  # type: ignore[arg-type]


def test_pins_and_voltages_of_the_record_speak_in_the_diagnosis(archive: ArchiveStore, tmp_path: Path) -> None:
    bits = np.unpackbits(np.frombuffer(EVEN, np.uint8))
    bits[np.random.default_rng(1).choice(np.flatnonzero(bits == 0), 60, replace=False)] = 1
    keep(archive, tmp_path, "low.bin", EVEN, vcc="4.5")
    keep(archive, tmp_path, "high.bin", np.packbits(bits).tobytes(), vcc="5.5")
    result = agree(archive, "u4", session())
    assert result.comparison is not None
    found = result.comparison.findings[0]
    assert (found.code, found.detail["volts"]) == ("charge-loss", [4.5, 5.5])
    keep(archive, tmp_path, "stuck.bin", bytes(b | 8 for b in EVEN))
    again = agree(archive, "u4", session()).comparison
    assert again is not None
    assert any("D3 (pin 15 of a 27128)" in f.hint for f in again.findings)


def test_a_reference_is_kept_and_held_against_the_image_again(archive: ArchiveStore, tmp_path: Path) -> None:
    import zlib

    keep(archive, tmp_path, "r1.bin", EVEN, reader="a", vcc="5")
    keep(archive, tmp_path, "r2.bin", EVEN, reader="b", vcc="4.5")
    crc = f"{zlib.crc32(EVEN):08X}"
    assert agree(archive, "u4", session(), references={crc: "label"}).agreed.grade == "corroborated"
    later = agree(archive, "u4", session()).agreed   # without saying it again
    assert (later.grade, [r.digest for r in later.references]) == ("corroborated", [crc])
    with refuses(ContradictionError, "reference-mismatch", "the reference digest is not that of the image") as caught:
        agree(archive, "u4", session(), references={"00000000": "a wrong label"})
    assert caught.value.exit_code == 1


def test_a_checksum_inside_the_image_is_evidence_of_a_second_kind(archive: ArchiveStore, tmp_path: Path) -> None:
    """An extension ROM: Plug and Play BIOS Specification 1.0A, section 3.1 and the 8-bit sum of zero."""
    rom = bytearray(b"\x55\xaa\x20" + EVEN[3 : 32 * 512])
    rom[-1] = -sum(rom[:-1]) & 0xFF
    keep(archive, tmp_path, "r1.bin", bytes(rom), reader="a")
    keep(archive, tmp_path, "r2.bin", bytes(rom), reader="b")
    agreed = agree(archive, "u4", session()).agreed
    assert agreed.grade == "corroborated"
    assert "extension" in agreed.because.lower()


def test_what_one_read_shows_by_itself_is_said_when_it_is_kept(archive: ArchiveStore, tmp_path: Path) -> None:
    (tmp_path / "blank.bin").write_bytes(b"\x55" * 16384)
    record = add_reads(archive, "u4", [str(tmp_path / "blank.bin")], Options(), Conditions(), session())
    assert [(f.code, f.where.file) for f in record.findings] == [("not-selected", "r1")]
