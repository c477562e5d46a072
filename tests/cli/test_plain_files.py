"""Commands on plain files, as whole commands."""

from __future__ import annotations

import gzip
import hashlib
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest

from imagekeeper.jobs import specimen
from tests import tools
from tests.conftest import Ran

Cli = Callable[..., Ran]


@pytest.fixture
def chips(tmp_path: Path) -> Path:
    specimen.write(tmp_path)
    return tmp_path


def test_the_demonstration_goes_as_it_should(cli: Cli) -> None:
    result = cli("demo", "--json").json
    assert result["ok"]
    assert {step["command"].split()[0] for step in result["steps"]} >= {"fingerprint", "compare", "carrier", "archive"}


def test_a_fingerprint_is_of_the_image_not_of_the_file(cli: Cli, chips: Path) -> None:
    a, b = cli("fingerprint", "u4-first.bin", "u4-second.hex", "--json").json["files"]
    data = (chips / "u4-first.bin").read_bytes()
    assert (a["container"], b["container"]) == ("raw", "intel-hex")
    assert a["sha256"] == b["sha256"] == hashlib.sha256(data).hexdigest()
    assert a["crc32"] == f"{zlib.crc32(data):08X}"
    assert a["sum16"] == f"{sum(data) % 65536:04X}"
    assert (a["gaps"], a["doubts"], a["blank"], a["wrapped_in"]) == ([], [], None, None)


@tools.needs("option ROMs")
@pytest.mark.parametrize("path", tools.option_roms(), ids=lambda p: p.name)
def test_real_option_roms_survive_every_container(cli: Cli, path: Path, tmp_path: Path) -> None:
    """Real input: the option ROMs of Debian's seabios package. Their 8-bit sum is zero by the Plug and Play BIOS
    Specification 1.0A, section 3.1."""
    figures = cli("fingerprint", path, "--json").json["files"][0]
    assert figures["sum8"] == "00"
    (tmp_path / "rom.gz").write_bytes(gzip.compress(path.read_bytes()))
    reads = [path, "rom.gz"]
    names = {"intel-hex": "a.hex", "s-record": "a.s28", "tektronix-extended": "a.tek", "ti-txt": "a.txt"}
    for kind, name in names.items():
        assert cli("convert", path, "-o", name, "--to", kind, "--json").json["container"] == kind
        reads.append(name)
    compared = cli("compare", *reads, "--json")
    assert compared.code == 0
    assert {read["sha256"] for read in compared.json["reads"]} == {figures["sha256"]}
    assert {read["container"] for read in compared.json["reads"]} == {
        "raw", "intel-hex", "s-record", "tektronix-extended", "ti-txt",
    }  # fmt: skip


def test_compare_says_no_with_exit_code_1(cli: Cli, chips: Path) -> None:
    ran = cli("compare", "u5-first.bin", "u5-second.bin", "--json")
    assert ran.code == 1
    assert not ran.json["agree"]
    lines = {line["line"]: line["zero_to_one"] for line in ran.json["differences"]["data_lines"]}
    assert [name for name, count in lines.items() if count] == ["D3"]
    assert ran.json["differences"]["one_to_zero"] == 0
    text = cli("compare", "u5-first.bin", "u5-second.bin")
    assert text.out.startswith("The 2 reads differ at 331 of 16384 addresses")


def test_one_file_given_twice_is_told(cli: Cli, chips: Path) -> None:
    (chips / "link.bin").hardlink_to(chips / "u4-first.bin")
    for other in ("u4-first.bin", "./u4-first.bin", "link.bin"):
        ran = cli("compare", "u4-first.bin", other, "--json")
        assert [f["code"] for f in ran.json["findings"]] == ["same-file"]


def test_gaps_must_be_closed_on_purpose(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "gap.hex").write_text(":020000004142" + "7B\n" + ":0100040043B8\n:00000001FF\n")
    figures = cli("fingerprint", "gap.hex", "--json").json["files"][0]
    assert figures["gaps"] == [{"start": 2, "length": 2}]
    refused = cli("convert", "gap.hex", "-o", "gap.bin", "--json")
    assert (refused.code, refused.json["code"]) == (2, "gaps")
    assert not (tmp_path / "gap.bin").exists()
    assert cli("convert", "gap.hex", "-o", "gap.bin", "--fill", "FF").code == 0
    assert (tmp_path / "gap.bin").read_bytes() == b"AB\xff\xffC"
    assert cli("convert", "gap.hex", "-o", "gap.s19").code == 0
    assert cli("compare", "gap.hex", "gap.s19").code == 0


def test_doubtful_input_is_kept_only_on_request(cli: Cli, chips: Path) -> None:
    refused = cli("fingerprint", "u30-first.s19", "--json")
    assert (refused.code, refused.json["code"], refused.json["where"]["line"]) == (3, "record-sum", 41)
    doubts = cli("fingerprint", "u30-first.s19", "--keep-doubtful", "--json").json["files"][0]["doubts"]
    assert [(d["start"], d["length"], d["line"]) for d in doubts] == [(0x2270, 16, 41)]
    ran = cli("convert", "u30-first.s19", "-o", "u30.bin", "--keep-doubtful")
    assert ran.code == 0
    assert "doubtful" in ran.err


def test_a_base_address_moves_the_image(cli: Cli, chips: Path) -> None:
    result = cli("convert", "u4-first.bin", "-o", "u4.s19", "--base", "F000", "--json")
    assert (result.code, result.json["base"]) == (0, 0xF000)
    assert cli("fingerprint", "u4.s19", "--json").json["files"][0]["first_address"] == 0xF000
    beyond = cli("convert", "u4-first.bin", "-o", "x.hex", "--base", "FFFFFFFF", "--json")
    assert beyond.json["code"] == "address-out-of-range"


def test_hexdump_shows_and_marks(cli: Cli, tmp_path: Path) -> None:
    (tmp_path / "a.bin").write_bytes(b"ABCDEFGH" + bytes(40))
    (tmp_path / "b.bin").write_bytes(b"ABxDEFGH" + bytes(40))
    plain = cli("hexdump", "a.bin")
    assert plain.code == 0
    assert plain.out.splitlines() == [
        "0000  41 42 43 44  45 46 47 48  00 00 00 00  00 00 00 00   ABCDEFGH········",
        "0010  00 00 00 00  00 00 00 00  00 00 00 00  00 00 00 00   ················",
        "      ... 1 more row like this",
    ]
    marked = cli("hexdump", "a.bin", "--against", "b.bin", "--only-differences")
    assert marked.code == 1
    assert marked.out.splitlines()[0].startswith("0000  41 42 43*44")
    assert marked.out.splitlines()[1].startswith("other  ·· ·· 78 ··")
    document = cli("hexdump", "a.bin", "--against", "b.bin", "--json").json
    assert document["differ"]
    assert [row["other"] and row["other"][:8] for row in document["rows"]] == ["41 42 78", None, None]


def test_standard_input_is_read_once(cli: Cli, chips: Path) -> None:
    data = (chips / "u4-second.hex").read_bytes()
    assert cli("fingerprint", "-", stdin=data).out.startswith("-\n  size       16384 bytes")
    assert cli("compare", "-", "u4-first.bin", stdin=data).code == 0
    assert cli("compare", "-", "-", "--json", stdin=data).json["code"] == "usage"


def test_a_wrong_command_names_the_near_one(cli: Cli) -> None:
    ran = cli("comprae", "a", "b")
    assert ran.code == 2
    assert "did you mean 'compare'" in ran.err
    assert cli("compare", "--jsn", "a", "b", "--json").json["code"] == "usage"


def test_the_picture_is_written_once(cli: Cli, chips: Path) -> None:
    assert cli("compare", "u5-first.bin", "u5-second.bin", "--picture", "d.svg").code == 1
    assert (chips / "d.svg").read_text().startswith("<svg")
    again = cli("compare", "u5-first.bin", "u5-second.bin", "--picture", "d.svg", "--json")
    assert (again.code, again.json["code"]) == (2, "exists")
    assert cli("compare", "u5-first.bin", "u5-second.bin", "--picture", "d.svg", "--force").code == 1


def test_a_read_is_never_overwritten_not_even_by_force(cli: Cli, chips: Path) -> None:
    """A read is evidence: the output of a command must not be one of its inputs, under whatever name."""
    (chips / "link.bin").hardlink_to(chips / "u5-first.bin")
    before = (chips / "u5-first.bin").read_bytes()
    reads = ("u5-first.bin", "u5-second.bin", "u5-third.bin")
    for output in ("u5-first.bin", "./u5-first.bin", "link.bin"):
        for command in (("vote", *reads), ("convert", "u5-first.bin")):
            ran = cli(*command, "-o", output, "--force", "--json")
            assert (ran.code, ran.json["code"]) == (2, "exists")
    assert (chips / "u5-first.bin").read_bytes() == before


def test_a_member_of_what_is_no_zip_file_is_refused(cli: Cli, chips: Path) -> None:
    assert cli("fingerprint", "u4-first.bin", "--member", "x", "--json").json["code"] == "usage"


def test_a_hexdump_beyond_the_end_says_where_that_is(cli: Cli, chips: Path) -> None:
    assert cli("hexdump", "u4-first.bin", "--start", "F000").out == "no bytes there: the last address is 3FFF\n"
