"""The command vote, and carrier agree --by-vote."""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from imagekeeper.comparison.comparison import Comparison
from imagekeeper.comparison.majority import Majority
from imagekeeper.jobs.carriers.agreeing import Agreement
from imagekeeper.jsonable import schema_of
from tests.conftest import Ran

Cli = Callable[..., Ran]

CHIP = bytes((n * 7 + (n >> 5)) & 0xFF for n in range(2048))
DIGEST = hashlib.sha256(CHIP).hexdigest()


def changed(data: bytes, *faults: tuple[int, int]) -> bytes:
    out = bytearray(data)
    for at, bits in faults:
        out[at] ^= bits
    return bytes(out)


#: Each read has faults of its own, at other addresses than the others'.
NOISY = [changed(CHIP, (0, 1), (700, 0x80)), changed(CHIP, (33, 4), (1500, 2)), changed(CHIP, (900, 8), (2047, 0x10))]
#: At 0100 all three reads differ.
TIED = [changed(read, (0x100, bit)) for read, bit in zip(NOISY, (1, 2, 4), strict=True)]


@pytest.fixture
def reads(tmp_path: Path) -> Callable[[list[bytes]], list[str]]:
    def write(contents: list[bytes]) -> list[str]:
        for number, data in enumerate(contents, 1):
            (tmp_path / f"r{number}.bin").write_bytes(data)
        return [f"r{number}.bin" for number in range(1, len(contents) + 1)]

    return write


Reads = Callable[[list[bytes]], list[str]]


def document(ran: Ran, of: type = Majority) -> Any:
    found = json.loads(ran.out)
    jsonschema.validate(found, schema_of(of))
    return found


@pytest.mark.parametrize("by", ["byte", "bit"])
@pytest.mark.parametrize("output", ["u.bin", "u.hex", "u.s19"])
def test_a_vote_restores_the_chip(cli: Cli, reads: Reads, by: str, output: str) -> None:
    ran = cli("vote", *reads(NOISY), "-o", output, "--by", by, "--json")
    found = document(ran)
    assert (ran.code, ran.err) == (0, "")
    assert (found["schema"], found["sha256"], found["size_bytes"], found["output"]) == ("vote/1", DIGEST, 2048, output)
    assert found["disputed"] == {"addresses": 6, "bits": 6, "ties": 0}
    assert [read["outvoted"] for read in found["reads"]] == [2, 2, 2]
    assert found["unanimous"] == 2042
    assert found["list"][0] == {
        "address": 0, "values": [f"{CHIP[0] ^ 1:02X}", *[f"{CHIP[0]:02X}"] * 2], "voted": f"{CHIP[0]:02X}",
        "tied_bits": "00",
    }  # fmt: skip
    assert cli("fingerprint", output, "--json").json["files"][0]["sha256"] == DIGEST


def test_a_vote_for_people(cli: Cli, reads: Reads) -> None:
    ran = cli("vote", *reads(NOISY), "-o", "u.bin", "--list", "2")
    assert ran.code == 0
    assert "Every address has a majority: 6 of 2048 were disputed." in ran.out
    assert "and 4 more disputed addresses" in ran.out
    assert DIGEST in ran.out
    assert "random faults: leave a wrong byte at most once in" in ran.out


def test_a_tie_is_never_settled_silently(cli: Cli, reads: Reads, tmp_path: Path) -> None:
    ran = cli("vote", *reads(TIED), "-o", "u.bin")
    assert ran.code == 1
    assert "No majority at 1 address" in ran.out
    assert "nothing was written: a raw file cannot show gaps" in ran.out
    assert "0100" in ran.out
    found = document(cli("vote", *reads(TIED), "-o", "u.bin", "--json"))
    assert (found["output"], found["container"]) == (None, "raw")
    assert found["findings"][0]["code"] == "no-majority"
    assert not (tmp_path / "u.bin").exists()
    assert not list(tmp_path.glob(".imagekeeper-*"))


def test_a_tie_is_a_gap_where_there_can_be_one(cli: Cli, reads: Reads) -> None:
    ran = cli("vote", *reads(TIED), "-o", "u.hex", "--json")
    assert (ran.code, document(ran)["output"]) == (1, "u.hex")
    figures = cli("fingerprint", "u.hex", "--json").json["files"][0]
    assert figures["gaps"] == [{"start": 0x100, "length": 1}]
    assert figures["sha256"] == hashlib.sha256(CHIP[:0x100] + CHIP[0x101:]).hexdigest() == document(ran)["sha256"]


@pytest.mark.parametrize(("ties", "value"), [("first", CHIP[0x100] ^ 1), ("2e", 0x2E), ("$00", 0)])
def test_a_tie_is_settled_as_asked(cli: Cli, reads: Reads, tmp_path: Path, ties: str, value: int) -> None:
    assert cli("vote", *reads(TIED), "-o", "u.bin", "--ties", ties).code == 1
    assert (tmp_path / "u.bin").read_bytes() == CHIP[:0x100] + bytes([value]) + CHIP[0x101:]


def test_a_vote_by_bits_settles_what_bytes_cannot(cli: Cli, reads: Reads, tmp_path: Path) -> None:
    assert cli("vote", *reads(TIED), "-o", "u.bin", "--by", "bit").code == 0
    assert (tmp_path / "u.bin").read_bytes() == CHIP


def test_supply_voltages_weigh(cli: Cli, reads: Reads, tmp_path: Path) -> None:
    """A 0 that leaks reads 1 at 5 V and comes back at 4.5 V: common practice, no source."""
    zero = changed(CHIP, (5, CHIP[5]))
    lossy = changed(zero, (5, 0x40))
    names = reads([lossy, lossy, lossy, zero, zero])
    assert cli("vote", *names, "-o", "plain.bin").code == 0
    ran = cli("vote", *names, "-o", "weighed.bin", "--vcc", "5,5.0,-,4.5,4.5", "--json")
    assert ran.code == 0
    assert [read["weight"] for read in document(ran)["reads"]] == [1, 1, 1, 2, 2]
    assert (document(ran)["by"], document(ran)["remaining"]) == ("bit", None)
    assert (tmp_path / "plain.bin").read_bytes() == lossy
    assert (tmp_path / "weighed.bin").read_bytes() == zero
    shown = cli("vote", *names, "-o", "again.bin", "--vcc", "5,5.0,-,4.5,4.5").out
    assert "weight" in shown


def test_short_reads_are_told(cli: Cli, reads: Reads, tmp_path: Path) -> None:
    """Half of the image is no image: it is written, and the answer is no."""
    ran = cli("vote", *reads([CHIP, CHIP, CHIP[:1024]]), "-o", "u.bin", "--json")
    assert ran.code == 1
    assert "sizes-differ" in [found["code"] for found in document(ran)["findings"]]
    assert (tmp_path / "u.bin").read_bytes() == CHIP[:1024]
    shown = cli("vote", *reads([CHIP, CHIP, CHIP[:1024]]), "-o", "u.bin", "--force")
    assert (shown.code, shown.out.startswith("The reads do not hold the same addresses: only what all")) == (1, True)


@pytest.mark.parametrize("by", ["byte", "bit"])
@pytest.mark.parametrize("output", ["u.bin", "u.hex"])
def test_fill_does_not_outvote_content(cli: Cli, reads: Reads, tmp_path: Path, output: str, by: str) -> None:
    """Two readers that got nothing from a block leave fill there, and are no majority over the one that read it."""
    blank = CHIP[:512] + b"\xff" * 256 + CHIP[768:]
    names = reads([blank, blank, CHIP])
    ran = cli("vote", *names, "-o", output, "--by", by, "--json")
    found = document(ran)
    assert (ran.code, found["output"], (tmp_path / output).exists()) == (1, None, False)
    assert found["findings"][0]["code"] == "fill-outvotes"
    assert (found["findings"][0]["where"]["address"], found["findings"][0]["detail"]["blocks"]) == (512, 2)
    shown = cli("vote", *names, "-o", output, "--by", by)
    assert (shown.code, shown.out.startswith("Fill would outvote content; 2")) == (1, True)
    assert "nothing was written: fill would outvote content" in shown.out


@pytest.mark.parametrize(
    "fills", [(b"NOT READ! " * 26, b"NOT READ! " * 26), (b"\xff" * 260, b"\xe5" * 260), (b"\x6d\xb6" * 130,) * 2],
)  # fmt: skip
@pytest.mark.parametrize("by", ["byte", "bit"])
def test_texts_patterns_and_two_kinds_of_fill_do_not_outvote_content(
    cli: Cli, reads: Reads, tmp_path: Path, fills: tuple[bytes, bytes], by: str
) -> None:
    blank = [CHIP[:512] + fill[:256] + CHIP[768:] for fill in fills]
    ran = cli("vote", *reads([*blank, CHIP]), "-o", "u.bin", "--by", by, "--ties", "first", "--json")
    assert (ran.code, document(ran)["output"], (tmp_path / "u.bin").exists()) == (1, None, False)
    [found] = [one for one in document(ran)["findings"] if one["code"] == "fill-outvotes"]
    assert (found["where"]["address"], found["detail"]["blocks"]) == (512, 2)


def test_one_read_with_fill_is_outvoted_as_any_other(cli: Cli, reads: Reads, tmp_path: Path) -> None:
    blank = CHIP[:512] + b"\xff" * 256 + CHIP[768:]
    assert cli("vote", *reads([CHIP, blank, CHIP]), "-o", "u.bin").code == 0
    assert (tmp_path / "u.bin").read_bytes() == CHIP


def test_a_faulty_byte_or_another_fill_is_no_content(cli: Cli, reads: Reads, tmp_path: Path) -> None:
    blank = CHIP[:512] + b"\xff" * 256 + CHIP[768:]
    other = CHIP[:512] + bytes(256) + CHIP[768:]   # a reader that leaves 00 where it gets nothing has no content
    for third in (changed(blank, *((512 + 8 * n, 1) for n in range(10))), other):
        assert cli("vote", *reads([blank, blank, third]), "-o", "u.bin", "--force").code == 0
        assert (tmp_path / "u.bin").read_bytes() == blank


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["r1.bin", "r2.bin", "-o", "u.bin"], "usage"),
        (["r1.bin", "r2.bin", "r1.bin", "-o", "u.bin"], "usage"),
        (["r1.bin", "r2.bin", "r3.bin", "-o", "-"], "usage"),
        (["r1.bin", "r2.bin", "r3.bin"], "usage"),
        (["r1.bin", "r2.bin", "r3.bin", "-o", "r1.bin"], "exists"),
        (["r1.bin", "r2.bin", "r3.bin", "-o", "u.bin", "--ties", "second"], "usage"),
        (["r1.bin", "r2.bin", "r3.bin", "-o", "u.bin", "--vcc", "5.0,4.5"], "usage"),
        (["r1.bin", "r2.bin", "r3.bin", "-o", "u.bin", "--vcc", "5.0,4.5,five"], "usage"),
        (["r1.bin", "r2.bin", "r3.bin", "-o", "u.bin", "--vcc", "5.0,4.5,5", "--by", "byte"], "usage"),
        (["r1.bin", "r2.bin", "absent.bin", "-o", "u.bin"], "not-found"),
    ],
)
def test_wrong_requests(cli: Cli, reads: Reads, tmp_path: Path, arguments: list[str], code: str) -> None:
    reads(NOISY)
    before = sorted(tmp_path.iterdir())
    ran = cli("vote", *arguments, "--json")
    assert ran.code == (5 if code == "not-found" else 2)
    assert json.loads(ran.out)["code"] == code
    assert sorted(p for p in tmp_path.iterdir() if p.name != "cache") == before
    assert (tmp_path / "r1.bin").read_bytes() == NOISY[0]


def test_one_file_under_two_names_has_one_vote(cli: Cli, reads: Reads, tmp_path: Path) -> None:
    reads(NOISY[:2])
    (tmp_path / "r3.bin").hardlink_to(tmp_path / "r1.bin")
    assert cli("vote", "r1.bin", "r2.bin", "r3.bin", "-o", "u.bin").code == 2


# --- the chance in compare ------------------------------------------------------------------------------------------


def test_compare_tells_what_random_faults_may_have_left(cli: Cli, reads: Reads, tmp_path: Path) -> None:
    names = reads([CHIP, CHIP, *NOISY])
    agreed = document(cli("compare", *names[:2], "--json"), Comparison)["remaining"]
    assert (agreed["image"], agreed["disputed"], agreed["against"]) == ("agreed", 0, None)
    assert agreed["chance"] == pytest.approx(9 / (32 * 2048), rel=0.01)
    assert document(cli("compare", *names[2:], "--json"), Comparison)["remaining"]["image"] == "voted"
    assert document(cli("compare", *names[1:3], "--json"), Comparison)["remaining"] is None
    assert document(cli("compare", "r1.bin", "r1.bin", "--json"), Comparison)["remaining"] is None
    assert "random faults: leave a wrong byte at most once in 7,200" in cli("compare", *names[:2]).out


# --- carrier agree --by-vote ----------------------------------------------------------------------------------------


@pytest.fixture
def carrier(cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Ran]:
    """A carrier; the call keeps contents as its reads, one reader each."""
    assert cli("archive", "init", "harbour").code == 0
    monkeypatch.setenv("IMAGEKEEPER_ARCHIVE", str(tmp_path / "harbour"))
    assert cli("carrier", "add", "tg85-u17", "--kind", "eprom").code == 0

    def keep(*contents: bytes) -> None:
        for number, data in enumerate(contents, 1):
            (tmp_path / f"k{number}.bin").write_bytes(data)
            assert cli("carrier", "read", "tg85-u17", f"k{number}.bin", "--reader", f"reader {number}").code == 0

    return keep   # type: ignore[return-value]


Keep = Callable[..., None]


def agree(cli: Cli, *arguments: str, code: int = 0) -> Any:
    ran = cli("carrier", "agree", "tg85-u17", *arguments, "--json")
    assert ran.code == code, ran
    return document(ran, Agreement)


def agreed_bytes(tmp_path: Path) -> bytes:
    """The agreed image as the newest version of the object holds it, found without our own code."""
    found = next(p for p in (tmp_path / "harbour").rglob("inventory.json") if p.parent.name[0] != "v")
    inventory = json.loads(found.read_text())
    state = inventory["versions"][inventory["head"]]["state"]
    digest = next(d for d, names in state.items() if "agreed.bin" in names)
    return (found.parent / inventory["manifest"][digest][0]).read_bytes()


@pytest.mark.parametrize("by", [[], ["byte"], ["bit"]])
def test_the_voted_image_becomes_the_agreed_one(
    cli: Cli, carrier: Keep, tmp_path: Path, by: list[str]
) -> None:
    carrier(*NOISY)
    assert agree(cli, code=1)["agreed"]["grade"] == "disputed"
    found = agree(cli, "--operator", "harbour office", "--by-vote", *by)
    assert (found["agreed"]["sha256"], found["agreed"]["grade"], found["agreed"]["reads"]) == (DIGEST, "voted", [])
    assert "accepted by harbour office" in found["agreed"]["because"]
    assert found["vote"]["disputed"]["addresses"] == 6
    assert found["recorded"]
    assert agreed_bytes(tmp_path) == CHIP
    event = cli("carrier", "show", "tg85-u17", "--json").json["events"][-1]
    assert [(o["identifier"], o["role"]) for o in event["objects"]][:4] == [
        ("reads/r1/image.bin", "source"), ("reads/r2/image.bin", "source"), ("reads/r3/image.bin", "source"),
        ("agreed.bin", "outcome"),
    ]  # fmt: skip
    assert event["type"] == "validation"
    assert cli("archive", "audit").code == 0
    assert cli("carrier", "show", "tg85-u17", "--json").json["findings"] == []


def test_reads_that_give_the_voted_image_raise_its_grade(cli: Cli, carrier: Keep) -> None:
    carrier(CHIP, NOISY[0], CHIP)
    found = agree(cli, "--by-vote")
    assert (found["agreed"]["grade"], found["agreed"]["reads"]) == ("independent", ["r1", "r3"])
    assert "r2 gives otherwise" in found["agreed"]["because"]


def test_a_reference_confirms_a_voted_image(cli: Cli, carrier: Keep) -> None:
    carrier(*NOISY)
    other = hashlib.sha1(NOISY[0]).hexdigest()
    ran = cli("carrier", "agree", "tg85-u17", "--by-vote", "--reference", other, "--json")
    assert (ran.code, ran.json["code"]) == (1, "reference-mismatch")
    found = agree(cli, "--by-vote", "--reference", f"{hashlib.sha1(CHIP).hexdigest()}=printed listing")
    assert "printed listing" in found["agreed"]["because"]


def test_ties_are_shown_and_nothing_is_recorded(cli: Cli, carrier: Keep) -> None:
    carrier(*TIED)
    before = cli("carrier", "show", "tg85-u17", "--json").json
    found = agree(cli, "--by-vote", code=1)
    assert (found["agreed"]["grade"], found["recorded"], found["vote"]["disputed"]["ties"]) == ("disputed", False, 1)
    shown = cli("carrier", "agree", "tg85-u17", "--by-vote")
    assert (shown.code, "nothing was recorded" in shown.out, "0100" in shown.out) == (1, True, True)
    assert cli("carrier", "show", "tg85-u17", "--json").json == before
    assert agree(cli, "--by-vote", "bit")["agreed"]["sha256"] == DIGEST


@pytest.mark.parametrize("contents", [[NOISY[0], NOISY[1]], [NOISY[0], NOISY[1], NOISY[2][:1024]]])
def test_no_vote_of_two_reads_or_of_unlike_sizes(cli: Cli, carrier: Keep, contents: list[bytes]) -> None:
    carrier(*contents)
    before = cli("carrier", "show", "tg85-u17", "--json").json
    ran = cli("carrier", "agree", "tg85-u17", "--by-vote", "--json")
    assert (ran.code, ran.json["code"]) == (2, "usage")
    assert cli("carrier", "show", "tg85-u17", "--json").json == before


def test_a_vote_in_which_fill_outvotes_content_is_not_recorded(cli: Cli, carrier: Keep) -> None:
    blank = b"\xff" * 1024 + CHIP[1024:]
    carrier(blank, blank, CHIP)
    found = agree(cli, "--by-vote", code=1)
    assert (found["recorded"], found["agreed"]["grade"]) == (False, "disputed")
    assert "fill-outvotes" in [one["code"] for one in found["vote"]["findings"]]


def test_the_same_file_twice_has_one_vote(cli: Cli, carrier: Keep, tmp_path: Path) -> None:
    carrier(NOISY[0], NOISY[1])
    (tmp_path / "again").mkdir()
    shutil.copy2(tmp_path / "k1.bin", tmp_path / "again" / "k1.bin")
    assert cli("carrier", "read", "tg85-u17", "again/k1.bin").code == 0
    ran = cli("carrier", "agree", "tg85-u17", "--by-vote", "--json")
    assert (ran.code, ran.json["code"]) == (2, "usage")
    assert "r3 is the same file as r1" in ran.json["why"]


def test_damaged_reads_do_not_vote(cli: Cli, carrier: Keep, tmp_path: Path) -> None:
    carrier(*NOISY)
    kept = next(p for p in (tmp_path / "harbour").rglob("k2.bin") if p.is_file())
    kept.write_bytes(changed(NOISY[1], (1000, 1)))
    ran = cli("carrier", "agree", "tg85-u17", "--by-vote", "--json")
    assert (ran.code, ran.json["code"]) == (4, "archive-damaged")
