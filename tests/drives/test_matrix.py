"""Which drive can write a boot disk of each class: every pair of the rules of the trade, and that it is computed.

The cells follow from the published rules (Microsoft Q79538 on 360K disks in 1.2 MB drives; posts on track widths,
coercivity and data rates, named at the rows of drive_rules.toml) as our notes tabulate them; none is read from a table.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from imagekeeper.drives import DiskForDrive, match, verdict
from imagekeeper.tables.drives import drive_rows
from imagekeeper.tables.floppy import FormatRow, format_rows

DRIVES = (
    "5.25-48tpi", "5.25-96tpi-dd", "5.25-96tpi-hd-360", "5.25-96tpi-hd-dual", "3.5-dd", "3.5-hd", "3.5-ed",
    "8in-two-sides",
)  # fmt: skip

ANSWERS = {"Y": "yes", "C": "with-care", "N": "no"}

#: One letter a drive, in the order of DRIVES.
MATRIX = {
    "5.25-inch 35/40-track DD": "Y C C C N N N N",
    "5.25-inch 80-track DD":    "N Y C C N N N N",
    "5.25-inch HD":             "N N Y Y N N N N",
    "3.5-inch DD":              "N N N N Y Y Y N",
    "3.5-inch HD":              "N N N N N Y Y N",
    "3.5-inch 360 rev/min":     "N N N N N C C N",   # the extra-high-density drive: from memory, and not certain
    "3.5-inch ED":              "N N N N N N Y N",
    "8-inch":                   "N N N N N N N Y",
    "288 rev/min":              "N N N N N N N N",   # read at 300, never written
    "3-inch":                   "N N N N N N N N",
}  # fmt: skip


def kind(row: FormatRow) -> str:
    """The row of the matrix that a format belongs to."""
    if row.disk_inch == 8:
        return "8-inch"
    if row.disk_inch == 3.5:
        return "3.5-inch 360 rev/min" if row.rotation == 360 else f"3.5-inch {row.medium[-2:].upper()}"
    if row.disk_inch == 3:
        return "3-inch"
    if row.rotation == 288:
        return "288 rev/min"
    if row.medium == "5.25-hd":
        return "5.25-inch HD"
    return "5.25-inch 80-track DD" if row.tracks_per_inch == 96 else "5.25-inch 35/40-track DD"


def cells() -> Iterator[tuple[str, str, str]]:
    for row in format_rows().values():
        for drive, letter in zip(DRIVES, MATRIX[kind(row)].split(), strict=True):
            yield row.id, drive, ANSWERS[letter]


def test_every_row_of_the_matrix_has_a_format() -> None:
    assert {kind(row) for row in format_rows().values()} == set(MATRIX)


@pytest.mark.parametrize(("name", "drive", "expected"), list(cells()))
def test_write(name: str, drive: str, expected: str) -> None:
    assert verdict(DiskForDrive.of(format_rows()[name]), drive_rows()[drive]).can_write == expected


@pytest.mark.parametrize("name", list(format_rows()))
def test_what_writes_a_disk_also_reads_it(name: str) -> None:
    """And a disk that needs only double steps, or a write current set, is read without further care."""
    for one in match(format_rows()[name]).drives:
        rules = {caution.rule for caution in one.cautions}
        assert (one.can_read == "no") == (one.can_write == "no" and "near-speed" not in rules)
        unsure = bool(rules & {"optional-mode", "near-speed"})
        assert (one.can_read == "with-care") == unsure


@pytest.mark.parametrize(("drive", "name", "expected"), [
    ("5.25-100tpi", "5.25-80x2x9x512", "no"), ("3in-40", "3-40x1x9x512", "yes"), ("3in-40", "3-80x2x9x512", "no"),
    ("3in-80", "3-40x1x9x512", "with-care"), ("3.5-600-one-side", "3.5-66x1x16x256", "yes"),
    ("3.5-600", "3.5-77x2x16x256", "yes"), ("3.5-600-one-side", "3.5-80x1x9x512", "no"),
    ("5.25-48tpi-288", "5.25-40x1x18x128-fm-288rpm", "yes"), ("5.25-48tpi-288", "5.25-40x1x18x128-fm", "no"),
    ("8in-one-side-no-minus", "8-77x1x26x128-fm", "yes"), ("8in-two-sides-dc", "8-77x2x8x1024", "yes"),
    ("5.25-100tpi", "5.25-40x2x9x512", "no"),
    ("8in-one-side", "8-77x1x26x128-fm", "yes"), ("8in-one-side", "8-77x2x26x128-fm", "no"),
    ("5.25-48tpi-35", "5.25-35x1x16x256", "yes"), ("5.25-48tpi-35", "5.25-40x1x16x256", "no"),
    ("5.25-48tpi-35", "5.25-35x2x18x256", "no"),
    ("5.25-48tpi-one-side", "5.25-40x1x9x512", "yes"), ("5.25-48tpi-one-side", "5.25-40x2x9x512", "no"),
    ("5.25-96tpi-dd-one-side", "5.25-80x1x9x512", "yes"), ("5.25-96tpi-dd-one-side", "5.25-40x1x9x512", "with-care"),
    ("5.25-96tpi-dd-one-side", "5.25-80x2x9x512", "no"),
    ("3.5-dd-one-side", "3.5-80x1x9x512", "yes"), ("3.5-dd-one-side", "3.5-80x2x9x512", "no"),
])  # fmt: skip
def test_the_drives_beside_the_matrix(drive: str, name: str, expected: str) -> None:
    """Too few heads or cylinders, and tracks that do not meet, are never a matter of care."""
    assert verdict(DiskForDrive.of(format_rows()[name]), drive_rows()[drive]).can_write == expected


def test_the_answer_comes_from_the_drive_not_from_its_name() -> None:
    """The same rows under other names, or with other figures, are judged by the figures."""
    disk = DiskForDrive.of(format_rows()["5.25-40x2x9x512"])
    drive = drive_rows()["5.25-48tpi"]
    assert verdict(disk, replace(drive, id="of the harbour office")).can_write == "yes"
    assert verdict(disk, replace(drive, heads=1)).can_write == "no"
    assert verdict(disk, replace(drive, cylinders=39)).can_write == "no"
    assert verdict(disk, replace(drive, tracks_per_inch=96, cylinders=80)).can_write == "with-care"
    slow = replace(drive.modes[0], rotation=360)
    assert verdict(disk, replace(drive, modes=(slow,))).can_write == "no"   # 250 kbit/s at 360 rev/min: 5208 bytes
    right = replace(slow, data_rate=300_000)
    assert verdict(disk, replace(drive, modes=(right,))).can_write == "yes"
