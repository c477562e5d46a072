"""What fsck.fat reports of randomly damaged volumes is reported here; and damage of each kind gets its name."""

from __future__ import annotations

import random
import re
from pathlib import Path

import pytest

from imagekeeper.filesystems import registry
from imagekeeper.filesystems.model import ReadingOptions, Volume
from imagekeeper.findings import Finding
from tests import tools

from .fat_volumes import Directory, File, Shape, Writer
from .fsck_agreement import MESSAGES, damaged, fsck, sample

IMAGES, BATCHES = 260, 4


def check(data: bytes) -> Volume:
    candidates = registry.recognise(data)
    assert candidates
    return registry.read(data, candidates[0].answer, ReadingOptions(check=True))


@tools.needs("fsck.fat")
@pytest.mark.parametrize("batch", range(BATCHES))
def test_what_fsck_reports_is_reported(tmp_path: Path, batch: int) -> None:
    told = 0
    for seed in range(batch * IMAGES // BATCHES, (batch + 1) * IMAGES // BATCHES):
        chance = random.Random(seed)
        data = damaged(chance, *sample(chance))
        image = tmp_path / "damaged.img"
        image.write_bytes(data)
        findings = check(data).findings
        codes = {one.code for one in findings}
        chosen = [one.detail["likelier"] for one in findings if one.code == "tables-differ"]
        lines = fsck(tools.path("fsck.fat"), image, chosen[0] if chosen else 0)
        told += bool(lines)
        if any("records" in one.detail for one in findings):   # told as one: fsck takes each for an entry
            continue
        for line in lines:
            for pattern, wanted in MESSAGES:
                assert not re.search(pattern, line) or codes & wanted, (seed, line, codes)
    assert told > IMAGES // BATCHES // 5   # the damage is no accident of the test


@tools.needs("fsck.fat")
def test_sound_volumes_are_sound_for_both(tmp_path: Path) -> None:
    for seed in range(12):
        _, data = sample(random.Random(seed))
        (tmp_path / "sound.img").write_bytes(data)
        assert fsck(tools.path("fsck.fat"), tmp_path / "sound.img", 0) == []
        assert [one for one in check(data).findings if one.detail.get("field") != "small_total"] == []


ENTRIES = [
    File(b"TIDE    LOG", b"t" * 3000), File(b"GAUGE   DAT", b"g" * 5000),
    Directory(b"SURVEY     ", [File(b"A       TXT", b"a")]),
]  # fmt: skip


def changed(*changes: tuple[int, int], both: bool = True, root: tuple[int, bytes] | None = None) -> tuple[Finding, ...]:
    """What is found when entries of the FAT, or bytes of the root directory, are others."""
    writer = Writer(Shape())
    writer.write(ENTRIES)
    for cluster, value in changes:
        writer.fat[cluster] = value
    image = bytearray(writer.image)
    table = writer.table()
    for number in range(2 if both else 1):
        at = 512 + number * 1024
        image[at : at + len(table)] = table
    if root is not None:
        at = writer.shape.root_start + root[0]
        image[at : at + len(root[1])] = root[1]
    return check(bytes(image)).findings


def codes(found: tuple[Finding, ...]) -> set[str]:
    return {one.code for one in found}


def test_each_kind_of_damage_has_its_name() -> None:
    """TIDE.LOG has clusters 2 to 4, GAUGE.DAT 5 to 9, SURVEY 10, A.TXT 11."""
    assert changed() == ()
    assert codes(changed((3, 0))) == {"chain-broken", "size-disagrees", "space-lost"}
    assert codes(changed((3, 0xFF7))) == {"chain-broken", "size-disagrees", "space-lost"}
    assert codes(changed((3, 2))) == {"chain-broken", "space-lost", "size-disagrees"}
    assert codes(changed((3, 4000))) == {"outside-volume", "size-disagrees", "space-lost"}
    assert codes(changed((3, 7))) == {"space-shared", "space-lost", "size-disagrees"}
    assert codes(changed((4, 12), (12, 0xFFF))) == {"size-disagrees"}
    assert codes(changed((20, 21), (21, 0xFFF))) == {"space-lost"}
    assert codes(changed((0, 0xFF0))) == {"table-start"}
    assert codes(changed(root=(32 + 28, b"\xff\xff"))) == {"size-disagrees"}
    assert codes(changed(root=(0, b"T/DE"))) == {"name-damaged"}
    assert codes(changed(root=(32, b"TIDE    LOG"))) == {"name-twice"}
    assert codes(changed(root=(64 + 26, b"\x02\0"))) >= {"directory-damaged", "space-shared"}
    assert codes(changed(root=(32, b"\0"))) >= {"directory-damaged", "space-lost"}


def test_the_better_copy_of_the_fat_is_used_and_named() -> None:
    found = [one for one in changed((3, 0), both=False) if one.code == "tables-differ"]
    assert len(found) == 1
    assert found[0].detail["likelier"] == 2
    assert found[0].detail["entries"] == 1
    assert found[0].where.address == 512 + 4
    assert "copy 2 is likelier right" in found[0].why


def test_an_entry_behind_the_end_that_still_has_its_clusters_is_listed() -> None:
    """A damaged byte that ends the directory early does not hide the files behind it."""
    writer = Writer(Shape())
    image = bytearray(writer.write(ENTRIES))
    image[writer.shape.root_start] = 0
    names = [one.path for one in check(bytes(image)).entries]
    assert names == ["GAUGE.DAT", "SURVEY", "SURVEY/A.TXT"]
