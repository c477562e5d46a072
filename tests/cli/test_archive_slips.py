"""Slips that people make with the commands about the archive, and texts that stay within a terminal's width."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from imagekeeper.archive.store import ArchiveStore
from tests.cli.test_bad_input import check_document
from tests.conftest import Ran

Cli = Callable[..., Ran]

#: The width of a terminal that is none. [characters]
WIDTH = 100
CHIP = bytes((n * 7 + (n >> 5)) & 0xFF for n in range(2048))


@pytest.fixture
def harbour(cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An archive with a machine, a chip of it that was read and settled, and nothing else."""
    monkeypatch.setenv("COLUMNS", str(WIDTH))
    assert cli("archive", "init", "harbour").code == 0
    monkeypatch.setenv("IMAGEKEEPER_ARCHIVE", str(tmp_path / "harbour"))
    (tmp_path / "u4.bin").write_bytes(CHIP)
    for arguments in (
        ("machine", "add", "tg85", "--name", "Quillmere TG-85"),
        ("carrier", "add", "tg85-u4", "--kind", "eprom", "--part", "2716", "--machine", "tg85"),
        ("carrier", "read", "tg85-u4", "u4.bin"),
        ("carrier", "agree", "tg85-u4"),
    ):
        assert cli(*arguments).code == 0
    return tmp_path / "harbour"


def refused(cli: Cli, *arguments: str, code: int) -> Any:
    ran = cli(*arguments, "--json")
    assert ran.code == code
    return check_document(ran.out)


def test_a_fill_byte_alone_makes_nothing_of_an_image_without_gaps(cli: Cli, harbour: Path) -> None:
    said = refused(cli, "carrier", "derive", "tg85-u4", "--fill", "FF", code=2)
    assert (said["code"], said["why"]) == ("usage", "no step was given, and the image has no gaps to fill")


def test_a_fill_byte_alone_closes_gaps(cli: Cli, harbour: Path, tmp_path: Path) -> None:
    # two records of a byte each, at 0000 and 0002; the sums by the rule of the form: all bytes add up to 0
    (tmp_path / "gap.hex").write_text(":0100000001FE\n:0100020003FA\n:00000001FF\n")
    cli("carrier", "add", "tg85-u5", "--kind", "eprom")
    cli("carrier", "read", "tg85-u5", "gap.hex")
    made = check_document(cli("carrier", "derive", "tg85-u5", "--image", "r1", "--fill", "FF", "--json").out)
    assert made["derivation"]["size_bytes"] == 3


def test_a_limit_beyond_all_numbers_is_a_wrong_request(cli: Cli, harbour: Path) -> None:
    assert refused(cli, "carrier", "list", "--limit", "9" * 30, code=2)["code"] == "usage"
    assert cli("carrier", "list", "--limit", "1000000").code == 0


def test_an_archive_is_not_repaired_from_itself(cli: Cli, harbour: Path) -> None:
    said = refused(cli, "archive", "repair", "--from", "harbour", code=2)
    assert said["what"] == "an archive cannot be repaired from itself"


@pytest.mark.parametrize("named", ["tg85", "quillmere", "Quillmere TG-85", "TG-8"])
def test_a_report_takes_a_part_of_the_name_that_a_machines_record_gives(cli: Cli, harbour: Path, named: str) -> None:
    document = check_document(cli("report", "-o", "pages", "--machine", named, "--json").out)
    assert [page["id"] for page in document["pages"]] == [None, "tg85-u4", "Quillmere TG-85"]


def test_a_report_on_a_machines_id_names_the_option(cli: Cli, harbour: Path) -> None:
    said = refused(cli, "report", "-o", "pages", "tg85", code=5)
    assert (said["what"], said["hint"]) == (
        "that is a machine, not a carrier", "--machine tg85 reports on it and its carriers"
    )  # fmt: skip


def test_an_id_that_a_machine_has_is_taken(cli: Cli, harbour: Path) -> None:
    said = refused(cli, "carrier", "add", "tg85", "--kind", "eprom", code=2)
    assert (said["code"], said["what"]) == ("carrier-exists", "there is already a carrier or machine with this id")


def test_who_imports_an_archives_folder_is_sent_to_merge(cli: Cli, harbour: Path) -> None:
    cli("archive", "init", "museum")
    said = refused(cli, "archive", "import", "museum", code=3)
    assert said["what"] == "that is an archive, not a bag"
    assert "archive merge" in said["hint"]


def test_references_are_called_as_people_call_them(cli: Cli, harbour: Path) -> None:
    assert "its CRC-32 is" in refused(cli, "carrier", "agree", "tg85-u4", "--reference", "00000000", code=1)["why"]
    digest = check_document(cli("fingerprint", "u4.bin", "--json").out)["files"][0]["sha1"]
    agreed = check_document(cli("carrier", "agree", "tg85-u4", "--reference", f"{digest}=manual", "--json").out)
    assert "The reference SHA-1 from manual agrees." in agreed["agreed"]["because"]


def test_the_history_counts_the_read_backs_that_were_added(cli: Cli, harbour: Path, tmp_path: Path) -> None:
    (tmp_path / "back.bin").write_bytes(CHIP)
    (tmp_path / "written.bin").write_bytes(CHIP)
    stated = ("--operator", "harbour office", "--date", "2026-03-02", "--reader", "bench reader")
    cli("carrier", "replace", "tg85-u4", "u4.bin", "--written", "written.bin", "--vcc", "5.0", *stated)
    cli("carrier", "replace", "tg85-u4", "back.bin", "--add-to", "w1", "--vcc", "4.5", *stated)
    assert "w1: 1 read-back added: proved." in cli("carrier", "show", "tg85-u4").out


@pytest.mark.parametrize("what", ["carrier", "machine"])
def test_long_texts_stay_within_the_width(cli: Cli, harbour: Path, what: str) -> None:
    one, long = {"carrier": "tg85-u4", "machine": "tg85"}[what], "window covered with black tape " * 20
    assert cli(what, "edit", one, "--note", long).code == 0
    assert cli(what, "note", one, long).code == 0
    shown = cli(what, "show", one).out
    assert shown.count("window covered") >= 40, "nothing is cut"
    assert max(map(len, shown.splitlines())) <= WIDTH


def test_derived_images_line_up_beyond_the_ninth(cli: Cli, harbour: Path) -> None:
    for _ in range(10):
        assert cli("carrier", "derive", "tg85-u4", "--invert").code == 0
    shown = cli("carrier", "show", "tg85-u4").out.splitlines()
    assert len({line.index("derived image") for line in shown if line.startswith("  d")}) == 1


def test_nothing_found_stays_within_the_width(cli: Cli, harbour: Path) -> None:
    ran = cli("search", "zeppelin")
    assert ran.code == 1
    assert max(map(len, ran.out.splitlines())) <= WIDTH


def test_a_reference_of_a_digest_unknown_here_is_set_aside(cli: Cli, harbour: Path) -> None:
    archive = ArchiveStore.open(harbour)
    inventory = archive.inventory("tg85-u4")
    record = json.loads(archive.read_file("tg85-u4", "agreed.json", inventory))
    record["references"] = [{"algorithm": "md5", "digest": "00", "source": None}]
    with archive.lock():
        archive.commit(
            "tg85-u4", {"agreed.json": json.dumps(record).encode()}, message="another program", user=None,
            now="2026-03-02T12:00:00Z", expected_head=inventory.head,
        )  # fmt: skip
    found = check_document(cli("carrier", "agree", "tg85-u4", "--json").out)
    assert [one["algorithm"] for one in found["agreed"]["references"]] == ["md5"]   # kept
    assert (found["standing"]["references"], found["standing"]["evidence"]) == ([], [])   # and weighed as nothing


def test_the_name_of_a_new_archive_cannot_drive_the_terminal(cli: Cli, tmp_path: Path) -> None:
    ran = cli("archive", "init", "new\x1b[31m\nname")
    assert ran.code == 0
    assert "\x1b" not in ran.out
    assert len(ran.out.splitlines()) == 2


def test_a_copy_that_is_not_there_is_asked_for_and_no_archive(cli: Cli, harbour: Path) -> None:
    said = refused(cli, "archive", "repair", "--from", "nothere", code=5)
    assert (said["code"], said["where"]["file"]) == ("archive-missing", "nothere")
    assert "--from" in said["hint"]
    assert "--archive" not in said["hint"]
    assert "archive init" not in said["hint"]


@pytest.mark.parametrize(
    ("arguments", "command"),
    [
        (("plan", "chip", "u4.bin", "-o"), "imagekeeper plan chip"),
        (("archive", "repair", "--from"), "imagekeeper archive repair"),
        (("hexdump", "u4.bin", "--start"), "imagekeeper hexdump"),
    ],
)
def test_an_option_without_its_value_points_to_the_help_of_its_command(
    cli: Cli, arguments: tuple[str, ...], command: str
) -> None:
    ran = cli(*arguments)
    assert ran.code == 2
    assert f"  next:  {command} --help shows its options and an example\n" in ran.err


@pytest.mark.parametrize("about", ["another method", "encrypted"])
def test_a_bag_that_another_program_must_unpack_is_not_to_be_fetched_again(
    cli: Cli, tmp_path: Path, harbour: Path, about: str
) -> None:
    bag = tmp_path / "bag.zip"
    with zipfile.ZipFile(bag, "w", zipfile.ZIP_BZIP2 if about == "another method" else zipfile.ZIP_STORED) as packed:
        packed.writestr("bag/bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")
    if about == "encrypted":   # bit 0 of the flags, APPNOTE.TXT 6.3.10, sections 4.4.4 and 4.3.12
        raw = bytearray(bag.read_bytes())
        raw[raw.index(b"PK\x01\x02") + 8] |= 1
        bag.write_bytes(raw)
    said = refused(cli, "archive", "import", "bag.zip", code=3)
    assert said["code"] == "wrapper-damaged"
    assert said["hint"] == "unpack it with another program and give the folder"


@pytest.mark.parametrize("volts", ["0", "500", "30.001"])
def test_a_supply_voltage_of_no_memory_chip_is_refused(cli: Cli, harbour: Path, volts: str) -> None:
    said = refused(cli, "carrier", "read", "tg85-u4", "u4.bin", "--vcc", volts, code=2)
    assert (said["code"], said["what"]) == ("odd-facts", "something that was given cannot be so")
    assert f"{volts} V is no supply of a 2716" in said["why"]
    assert cli("carrier", "read", "tg85-u4", "u4.bin", "--vcc", "6").code == 0
