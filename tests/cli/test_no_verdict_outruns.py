"""No verdict may outrun its evidence: each case as a person at the bench, or somebody worse, would bring it about.

All data is invented, and no source stands behind it: what must come out right is said by the cases themselves. After
every sequence the archive is re-proved, for an honest one must never be contradicted.
"""

from __future__ import annotations

import csv
import itertools
import json
import os
import random
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from imagekeeper.archive.store import ArchiveStore
from imagekeeper.containers import encode
from imagekeeper.containers.model import Image
from imagekeeper.jobs.carriers.agreeing import agree
from imagekeeper.jobs.session import this_session
from tests.conftest import Ran
from tests.tampering import Leaf, tamper

SOUND = random.Random(85).randbytes(8192)
STUCK = bytes(byte | 8 for byte in SOUND)   # D3 reads 1 everywhere
BLANK = b"\xff" * 8192
SCHEMAS = Path(__file__).parent.parent.parent / "docs" / "reference" / "schemas"
_DIFFERENT = itertools.count(1)


class Bench:
    """A scratch folder with an archive, and short words for what people do there."""

    def __init__(self, cli: Callable[..., Ran], folder: Path) -> None:
        self.cli = cli
        self.folder = folder
        self.root = folder / "archive"
        assert cli("archive", "init", self.root).code == 0

    def put(self, name: str, data: bytes) -> str:
        """Write a file with a time of change of its own, as every new read has."""
        path = self.folder / name
        path.write_bytes(data)
        at = 1_700_000_000 + next(_DIFFERENT)
        os.utime(path, (at, at))
        return name

    def ik(self, *words: str | Path, code: int | None = 0) -> Ran:
        """Run a command on the archive; None where any exit code will do."""
        ran = self.cli(*words, "--archive", self.root)
        assert "internal" not in ran.err
        assert code is None or ran.code == code, ran.out + ran.err
        return ran

    def carrier(self, name: str, *images: bytes, part: str = "2764", kind: str = "eprom", **texts: str) -> None:
        """Add a carrier with a read of each image, each on another reader and at another voltage."""
        said = [word for key, text in texts.items() for word in (f"--{key}", text)]
        self.ik("carrier", "add", name, "--kind", kind, *(["--part", part] if part else []), *said)
        for number, image in enumerate(images):
            file = self.put(f"{name}-{number}.bin", image)
            where = ("--drive", f"drive {'ABCDEF'[number]}") if kind == "floppy" else ("--vcc", f"{5 - number / 4}")
            self.ik("carrier", "read", name, file, "--reader", f"{_READERS[number]} reader", *where)

    def standing(self, name: str) -> dict[str, Any]:
        """Tell how a carrier stands, as programs see it."""
        found: dict[str, Any] = self.ik("carrier", "show", name, "--json", code=None).json["standing"]
        return found

    def grade(self, name: str) -> str:
        return str(self.standing(name)["grade"])

    def open(self, name: str) -> list[str]:
        return [one["code"] for one in self.standing(name)["contradictions"] if one["explained"] is None]

    def reproves(self) -> None:
        """See that re-proving contradicts nothing."""
        ran = self.ik("archive", "audit", "--reprove", code=None)
        assert ran.code == 0, ran.out

    @property
    def store(self) -> ArchiveStore:
        return ArchiveStore.open(self.root)


_READERS = ("bench", "pocket", "harbour", "workshop", "museum")


@pytest.fixture
def bench(cli: Callable[..., Ran], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    monkeypatch.setenv("IMAGEKEEPER_OPERATOR", "Anna")
    return Bench(cli, tmp_path)


def of_disputed(number: int) -> bytes:
    """Give a read with faults of its own at a few addresses."""
    data = bytearray(SOUND)
    for at in range(3 * number, 3 * number + 3):
        data[at * 101] ^= 1 << at % 8
    return bytes(data)


# --- agreement that proves nothing ---


@pytest.mark.parametrize(("image", "code"), [(STUCK, "data-line-stuck"), (BLANK, "blank")])
def test_two_reads_with_one_fault_are_not_independent(bench: Bench, image: bytes, code: str) -> None:
    bench.carrier("u4", image, image)
    assert bench.ik("carrier", "agree", "u4", code=1).out.count(f"open       {code}") == 1
    assert (bench.grade("u4"), bench.open("u4")) == ("repeated", [code])
    bench.ik("report", "-o", bench.folder / "pages")
    plan = ("plan", "chip", "--carrier", "u4", "--chip", "2764", "-o", bench.folder / "u4.hex")
    assert f"open     {code}" in bench.ik(*plan).out
    for shown in (
        bench.ik("carrier", "list").out, bench.ik("carrier", "show", "u4").out, bench.ik("search", "u4").out,
        (bench.folder / "pages" / "carriers" / "u4.html").read_text("utf-8"),
        (bench.folder / "pages" / "index.html").read_text("utf-8"),
    ):  # fmt: skip
        assert code in shown
    bench.reproves()


def test_a_part_unlike_its_marking_stays_open_until_it_is_corrected(bench: Bench) -> None:
    bench.carrier("u4", SOUND, SOUND, part="2716", markings="M5L27128K")
    bench.ik("carrier", "agree", "u4", code=1)
    assert bench.open("u4") == ["chip-size-differs", "part-unlike-marking"]
    bench.ik("carrier", "edit", "u4", "--part", "27128")
    assert bench.open("u4") == ["chip-size-differs"]   # an 8K read of a 16K chip
    bench.ik("carrier", "edit", "u4", "--part", "2764", "--markings", "M5L2764K")
    assert (bench.grade("u4"), bench.open("u4")) == ("independent", [])
    bench.reproves()


def test_an_explanation_stays_beside_the_grade_and_reopens_when_the_part_is_another(bench: Bench) -> None:
    bench.carrier("u4", SOUND, SOUND, part="2716")
    bench.ik("carrier", "agree", "u4", code=1)
    bench.ik("carrier", "explain", "u4", "chip-size-differs", "--reason", "a piggyback board holds four")
    for words in (("carrier", "list"), ("carrier", "show", "u4")):
        assert "explained: chip-size-differs" in bench.ik(*words).out
    assert bench.grade("u4") == "independent"
    bench.ik("carrier", "edit", "u4", "--part", "2732")
    shown = bench.ik("carrier", "show", "u4").out
    assert "e1 explained it before there was new evidence" in shown
    assert bench.grade("u4") == "repeated"
    bench.reproves()


def test_another_person_alone_makes_no_read_independent(bench: Bench) -> None:
    bench.ik("carrier", "add", "u4", "--kind", "eprom", "--part", "2764")
    for name, person in (("a.bin", "Anna"), ("b.bin", "Berta")):
        alike = ("--reader", "bench reader", "--adapter", "A28", "--cable", "C1", "--vcc", "5.0")
        bench.ik("carrier", "read", "u4", bench.put(name, SOUND), *alike, "--operator", person)
    told = bench.ik("carrier", "agree", "u4").out
    assert bench.grade("u4") == "repeated"
    assert "differ only in person" in told
    for shared in ("reader bench reader", "supply voltage 5.0", "adapter A28", "cable C1"):
        assert shared in " ".join(told.split())


def test_a_qualified_reader_counts_until_the_read_is_corrected_to_another(bench: Bench) -> None:
    known, again, empty = bench.put("known.bin", SOUND), bench.put("again.bin", SOUND), bench.put("none.bin", BLANK)
    bench.ik("floppy", "bench", "add", "reader", "bench reader")
    bench.ik("floppy", "bench", "qualify", "bench reader", "--known", known, "--read", again, "--empty", empty)
    bench.carrier("u4", SOUND)
    other = bench.put("u4-b.bin", SOUND)
    adapter = ("--reader", "bench reader", "--vcc", "5.0", "--adapter", "A28")
    bench.ik("carrier", "read", "u4", other, *adapter)
    bench.ik("carrier", "agree", "u4")
    assert "The reader had been shown to work." in bench.standing("u4")["because"]
    for read in ("r1", "r2"):
        bench.ik("carrier", "correct", "u4", read, "--reader", "lent reader", "--reason", "the log was wrong")
    assert "had been shown to work" not in bench.standing("u4")["because"]
    bench.reproves()


# --- compare and vote ---


@pytest.mark.parametrize("how", ["same", "other path", "hard link", "symbolic link"])
def test_one_file_compared_with_itself_is_no_agreement(bench: Bench, how: str) -> None:
    first = bench.put("a.bin", SOUND)
    if how == "hard link":
        os.link(first, "b.bin")
    if how == "symbolic link":
        Path("b.bin").symlink_to(first)
    other = {"same": first, "other path": f"./{first}"}.get(how, "b.bin")
    ran = bench.cli("compare", first, other)
    assert ran.code == 1
    assert ran.out.startswith("One file, given twice, proves nothing")


def test_compare_with_a_chip_inspects_each_read_and_holds_its_size_against_the_chip(bench: Bench) -> None:
    reads = [bench.put(name, STUCK[:2048]) for name in ("a.bin", "b.bin")]
    ran = bench.cli("compare", *reads, "--chip", "2764")
    assert ran.code == 1
    assert "data-line-stuck" in ran.out
    assert "chip-size-differs" in ran.out
    assert "random faults: no estimate" in ran.out


def test_a_vote_over_unequal_sizes_does_not_end_well(bench: Bench) -> None:
    reads = [bench.put("a.bin", SOUND), bench.put("b.bin", SOUND), bench.put("c.bin", SOUND[:2048])]
    ran = bench.cli("vote", *reads, "-o", "voted.bin")
    assert ran.code == 1
    assert "sizes-differ" in ran.out


def test_a_vote_of_three_reads_that_differ_is_no_single_read(bench: Bench) -> None:
    bench.carrier("u4", *(of_disputed(number) for number in range(1, 4)))
    bench.ik("carrier", "agree", "u4", code=1)
    assert bench.grade("u4") == "disputed"
    bench.ik("carrier", "agree", "u4", "--by-vote")
    assert bench.grade("u4") == "voted"
    assert "No single read gives exactly this image" in bench.ik("carrier", "show", "u4").out
    bench.reproves()


def test_a_vote_falls_with_one_of_its_voters(bench: Bench) -> None:
    bench.carrier("u4", *(of_disputed(number) for number in range(1, 4)))
    bench.ik("carrier", "agree", "u4", "--by-vote")
    bench.ik("carrier", "withdraw", "u4", "r2", "--reason", "the chip from U5")
    assert (bench.grade("u4"), bench.standing("u4")["sha256"]) == ("disputed", None)
    bench.reproves()


# --- the verdict strip ---


def test_the_strip_comes_first_and_says_each_thing_once(bench: Bench) -> None:
    bench.carrier("u4", STUCK, STUCK)
    bench.ik("carrier", "agree", "u4", code=1)
    shown = bench.ik("carrier", "show", "u4").out
    assert shown.splitlines()[:3] == [
        "u4  eprom 2764", "  repeated; open: data-line-stuck",
        "  sum 6E5D  CRC-32 DB925CAD  SHA-256 de8ebea9dec730bf…",
    ]  # fmt: skip
    assert shown.count("look for an open, shorted or dirty contact at D3") == 1   # as the next step, and not below


def test_sum_and_crc_stand_on_the_page_and_in_the_table(bench: Bench) -> None:
    bench.carrier("u4", SOUND, SOUND)
    bench.ik("carrier", "agree", "u4")
    bench.ik("report", "-o", bench.folder / "pages")
    page = (bench.folder / "pages" / "carriers" / "u4.html").read_text("utf-8")
    for figure in ("EFBD", "631ECF52", "b1e4c63340f3a3ad"):
        assert figure in page
        assert figure in bench.ik("carrier", "show", "u4").out


def test_a_damaged_carrier_keeps_no_mark_of_its_grade(bench: Bench) -> None:
    bench.carrier("u4", SOUND, SOUND)
    bench.ik("carrier", "agree", "u4")
    image = bench.store.content_path("u4", "reads/r1/image.bin")
    image.chmod(0o644)
    image.write_bytes(SOUND[:-1] + b"\0")
    assert "DAMAGED" in bench.ik("carrier", "show", "u4").out.splitlines()[1]
    bench.ik("report", "-o", bench.folder / "pages", code=4)
    page = (bench.folder / "pages" / "carriers" / "u4.html").read_text("utf-8")
    assert "damaged in the archive" in page
    risks = (bench.folder / "pages" / "index.html").read_text("utf-8").partition('class="risks"')[2]
    assert 'state-damaged"' in risks.partition("</ol>")[0]
    assert 'state-independent"' not in risks.partition("</ol>")[0]
    bench.ik("plan", "chip", "--carrier", "u4", "--chip", "2764", "-o", bench.folder / "u4.hex", code=4)


def test_a_shedding_disk_is_cleaned_before_it_is_read_and_never_just_read_again(bench: Bench) -> None:
    bench.carrier("d1", kind="floppy", part="", condition="oxide shedding at track 0")
    first = bench.standing("d1")["next"]["does"]
    assert "stop before the next pass" in first
    assert "all turns" in first
    bench.carrier("d2", random.Random(3).randbytes(737280), kind="floppy", part="", condition="sheds")
    assert "second kind of evidence" in bench.standing("d2")["next"]["does"]


def test_after_a_read_the_next_step_is_one_and_the_same_everywhere(bench: Bench) -> None:
    bench.carrier("u4")
    ran = bench.ik("carrier", "read", "u4", bench.put("a.bin", SOUND), "--reader", "bench reader")
    step = bench.standing("u4")["next"]["does"]
    assert step in " ".join(ran.out.split())
    assert "next:" not in ran.out   # it stands with the grade already
    assert step in " ".join(bench.ik("carrier", "show", "u4").out.split())
    assert step in " ".join(bench.ik("carrier", "list", "--todo").out.split())


def test_reads_that_agree_are_to_be_settled_and_the_step_names_the_carrier(bench: Bench) -> None:
    bench.carrier("u4", SOUND, SOUND)
    assert bench.standing("u4")["next"]["does"] == "settle its image: imagekeeper carrier agree u4"


# --- corrections and withdrawals, with all that rested on them ---


def test_several_things_are_corrected_at_once_in_whatever_order_they_are_given(bench: Bench) -> None:
    bench.carrier("u4", SOUND, SOUND)
    bench.ik("carrier", "agree", "u4")
    bench.ik(
        "carrier", "correct", "u4", "r1", "--vcc", "4.75", "--temperature", "21", "--date", "2026-01-02", "--specimen",
        "A", "--by", "Berta", "--reader", "pocket reader", "--reason", "read from the wrong line of the log",
    )  # fmt: skip
    assert bench.grade("u4") == "repeated"
    history = bench.ik("carrier", "show", "u4").out
    assert "reader: 'bench reader' became 'pocket reader'" in " ".join(history.split())
    bench.reproves()


def test_what_is_no_change_is_no_correction(bench: Bench) -> None:
    bench.carrier("u4", SOUND)
    told = bench.ik("carrier", "correct", "u4", "r1", "--vcc", "5.0", "--reason", "x", code=2).err
    assert "nothing was given that is not there already" in told
    assert "--reason" in bench.ik("carrier", "correct", "u4", "r1", "--vcc", "5.0", code=2).err
    bench.ik("carrier", "correct", "u4", "r9", "--vcc", "4", "--reason", "x", code=5)
    bench.ik("carrier", "correct", "u4", "r1", "--vcc", "4", "--reason", "  ", code=2)


def test_a_name_without_a_letter_is_unknown(bench: Bench) -> None:
    bench.carrier("u4")
    bench.ik("carrier", "read", "u4", bench.put("a.bin", SOUND), "--reader", "", "--adapter", "  ", "--operator", " ")
    read = bench.ik("carrier", "show", "u4", "--json").json["reads"][0]
    assert (read["reader"], read["adapter"], read["operator"]) == (None, None, None)
    bench.reproves()


def test_explaining_and_taking_back_raise_and_lower_the_grade(bench: Bench) -> None:
    bench.carrier("u4", STUCK, STUCK)
    bench.ik("carrier", "agree", "u4", code=1)
    bench.ik("carrier", "explain", "u4", "data-line-stuck", "--reason", "7-bit text")
    assert bench.grade("u4") == "independent"
    told = bench.ik("carrier", "explain", "u4", "data-line-stuck", "--reason", "again", code=5).err
    assert "explained already" in told
    assert "carrier withdraw u4 e1" in told
    bench.ik("carrier", "withdraw", "u4", "e1", "--reason", "it is 8-bit")
    assert bench.grade("u4") == "repeated"
    bench.ik("carrier", "withdraw", "u4", "e1", "--reason", "again", code=5)
    bench.reproves()


def test_there_is_nothing_to_explain_where_nothing_is_open(bench: Bench) -> None:
    bench.carrier("u4", SOUND)
    told = bench.ik("carrier", "explain", "u4", "blank", "--reason", "x", code=5).err
    assert "nothing speaks against its image" in told
    assert "give one of these codes" not in told


def test_a_read_that_differs_opens_what_was_explained(bench: Bench) -> None:
    bench.carrier("u4", STUCK, STUCK)
    bench.ik("carrier", "agree", "u4", code=1)
    bench.ik("carrier", "explain", "u4", "data-line-stuck", "--reason", "7-bit text")
    told = bench.ik("carrier", "read", "u4", bench.put("c.bin", SOUND), "--reader", "harbour reader")
    assert "recorded as independent; the evidence gives disputed today" in told.out
    assert bench.grade("u4") == "disputed"
    bench.reproves()


def test_a_reference_of_another_image_is_open_when_the_reads_are_others(bench: Bench) -> None:
    bench.carrier("u4", SOUND, SOUND)
    digest = bench.standing("u4")["sha256"]
    bench.ik("carrier", "agree", "u4", "--reference", f"{digest}=the old listing")
    assert bench.grade("u4") == "corroborated"
    for read in ("r1", "r2"):
        bench.ik("carrier", "withdraw", "u4", read, "--reason", "the chip from U5")
    bench.ik("carrier", "read", "u4", bench.put("c.bin", SOUND[::-1]), "--reader", "bench reader")
    bench.ik("carrier", "agree", "u4", code=1)
    assert bench.open("u4") == ["reference-differs"]
    bench.reproves()


def test_with_all_reads_taken_back_nothing_is_left_and_the_step_is_to_read(bench: Bench) -> None:
    bench.carrier("u4", SOUND, SOUND)
    bench.ik("carrier", "agree", "u4")
    for read in ("r1", "r2"):
        bench.ik("carrier", "withdraw", "u4", read, "--reason", "wrong size")
    assert (bench.grade("u4"), bench.standing("u4")["next"]["does"]) == ("none", "read it")
    for words in (("carrier", "extract", "u4", "-o", "x.bin"), ("carrier", "agree", "u4")):
        told = bench.ik(*words, code=5).err
        assert "its reads differ" not in told
        assert "carrier read u4 FILE" in told
    bench.reproves()


def test_a_failed_trial_is_open_until_it_is_taken_back_or_passed(bench: Bench) -> None:
    bench.carrier("u4", SOUND, SOUND)
    bench.ik("carrier", "agree", "u4")
    bench.ik("carrier", "tried", "u4", "--outcome", "failed", "--note", "E3 on the display")
    assert (bench.grade("u4"), bench.open("u4")) == ("repeated", ["trial-failed"])
    bench.ik("carrier", "tried", "u4", "--outcome", "passed", "--with", "ghost", code=5)
    for day, why in (("1949-12-31", "before 1950"), ("2062-03-02", "yet to come")):
        assert why in bench.ik("carrier", "tried", "u4", "--outcome", "passed", "--date", day, code=2).err
    told = bench.ik("carrier", "tried", "u4", "--outcome", "passed", "--what", "w9", code=5).err
    assert "there is none" in told
    bench.ik("carrier", "tried", "u4", "--outcome", "passed")
    assert bench.grade("u4") == "corroborated"
    bench.ik("carrier", "withdraw", "u4", "t2", "--reason", "another machine")
    assert bench.open("u4") == ["trial-failed"]
    bench.reproves()
    old = ("--outcome", "started", "--date", "1949-12-31")
    assert "1949-12-31" in bench.ik("carrier", "tried", "u4", *old, "--really", "--json").out


# --- facts that cannot be, and names that slip ---


@pytest.mark.parametrize("odd", [
    ("--vcc", "0"), ("--vcc", "50"), ("--date", "1949-12-31"), ("--date", "2099-01-01"), ("--temperature", "900"),
])  # fmt: skip
def test_what_cannot_be_is_refused_or_insisted_upon_and_shown(bench: Bench, odd: tuple[str, str]) -> None:
    bench.carrier("u4")
    file = bench.put("a.bin", SOUND)
    assert "--really" in bench.ik("carrier", "read", "u4", file, *odd, code=2).err
    bench.ik("carrier", "read", "u4", file, *odd, "--really")
    assert "r1 insisted upon" in bench.ik("carrier", "show", "u4").out
    bench.reproves()


@pytest.mark.parametrize("odd", [("--date", "2026-13"), ("--date", "2026-02-30"), ("--vcc", "nan"), ("--vcc", "-5")])
def test_what_means_nothing_is_refused_whoever_insists(bench: Bench, odd: tuple[str, str]) -> None:
    bench.carrier("u4")
    for more in ((), ("--really",)):
        bench.ik("carrier", "read", "u4", bench.put("a.bin", SOUND), *odd, *more, code=2)


def test_a_slip_of_a_name_is_asked_about_before_it_makes_reads_independent(bench: Bench) -> None:
    bench.ik("carrier", "add", "u4", "--kind", "eprom", "--part", "2764")
    bench.ik("carrier", "read", "u4", bench.put("a.bin", SOUND), "--reader", "bench reader")
    other = bench.put("b.bin", SOUND)
    assert "bench reader" in bench.ik("carrier", "read", "u4", other, "--reader", "benhc reader", code=2).err
    bench.ik("carrier", "read", "u4", other, "--reader", "Bench  Reader")
    assert bench.grade("u4") == "repeated"


# --- replacements ---


def of_27128(bench: Bench) -> bytes:
    image = random.Random(9).randbytes(16384)
    bench.carrier("u5", image, image, part="27128")
    bench.ik("carrier", "agree", "u5")
    bench.put("written.bin", image)
    return image


STATED = ("--date", "2026-11-20")


@pytest.mark.parametrize("how", ["same", "other path", "hard link", "symbolic link"])
def test_the_file_that_was_written_is_no_read_back(bench: Bench, how: str) -> None:
    of_27128(bench)
    if how == "hard link":
        os.link("written.bin", "back.bin")
    if how == "symbolic link":
        Path("back.bin").symlink_to("written.bin")
    back = {"same": "written.bin", "other path": "./written.bin"}.get(how, "back.bin")
    ran = bench.ik("carrier", "replace", "u5", back, "--written", "written.bin", "--part", "27C128", code=2)
    assert "the very file that was written" in ran.err


def test_nor_is_it_one_when_it_is_given_later(bench: Bench) -> None:
    image = of_27128(bench)
    bench.ik("carrier", "replace", "u5", "--written", "written.bin", "--part", "27C128")
    ran = bench.ik("carrier", "replace", "u5", "written.bin", "--add-to", "w1", code=2)
    assert "the very file that was written" in ran.err
    bench.ik("carrier", "replace", "u5", bench.put("back.bin", image), "--add-to", "w1")   # equal bytes never are
    bench.reproves()


def test_an_equal_read_back_proves_as_stated_and_one_file_counts_once(bench: Bench) -> None:
    image = of_27128(bench)
    first, other = bench.put("back1.bin", image), bench.put("back2.bin", image)
    one = ("--reader", "bench reader", "--vcc", "5.0", *STATED)
    two = ("--reader", "pocket reader", "--vcc", "4.5", *STATED)
    bench.ik("carrier", "replace", "u5", first, "--written", "written.bin", "--part", "27C128", *STATED, *one[:4])
    again = bench.ik("carrier", "replace", "u5", first, "--add-to", "w1", *two).out
    assert "w1: single" in again
    assert "was given again, and counts once" in again
    told = " ".join(bench.ik("carrier", "replace", "u5", other, "--add-to", "w1", *two).out.split())
    assert "w1: proved" in told
    assert "As stated: bench reader, Anna, 2026-11-20; pocket reader, Anna, 2026-11-20." in told
    assert "Read back from 4.5 to 5 V." in told
    bench.ik("carrier", "withdraw", "u5", "w1/3", "--reason", "another chip")
    shown = bench.ik("carrier", "show", "u5").out
    assert "27C128 from image agreed, as it is: single" in shown
    assert "taken back w1/3: another chip" in shown
    bench.reproves()


def test_what_is_not_stated_proves_nothing(bench: Bench) -> None:
    image = of_27128(bench)
    for number, reader in enumerate(("bench reader", "pocket reader")):
        back = bench.put(f"back{number}.bin", image)
        more = ("--add-to", "w1") if number else ("--written", "written.bin", "--part", "27C128")
        told = bench.ik("carrier", "replace", "u5", back, *more, "--reader", reader).out
    assert "w1: repeated" in told
    assert "state the time" in told
    assert "read it back on another reader" not in told   # no further one makes up for what is unsaid of these
    assert "(w1/1, w1/2)" in told
    assert "imagekeeper carrier withdraw u5 w1/1" in " ".join(told.split())
    for number, reader in enumerate(("bench reader", "pocket reader")):
        bench.ik("carrier", "withdraw", "u5", f"w1/{number + 1}", "--reason", "told in full below")
        again = ("carrier", "replace", "u5", f"back{number}.bin", "--add-to", "w1", "--reader", reader, *STATED)
        told = bench.ik(*again).out
    assert "w1: proved" in told


def test_a_27c128_cannot_hold_two_copies_from_32_kib(bench: Bench) -> None:
    image = of_27128(bench)
    bench.put("double.bin", image * 2)
    back = bench.put("back.bin", image * 2)
    ran = bench.ik("carrier", "replace", "u5", back, "--written", "double.bin", "--part", "27C128", code=1)
    assert "holds 16384 bytes (16K)" in ran.err
    bench.ik("carrier", "replace", "u5", back, "--written", "double.bin", "--part", "27C256")


@pytest.mark.parametrize(
    ("part", "held", "code", "says"),
    [
        # Signetics, 82S27, July 1975: a new 82S123 reads 00; no sheet says what a new 6331-1 reads
        ("82S123", b"\x00", 0, ""), ("82S123", b"\xff", 1, "blank"), ("6331-1", b"\x00", 1, "by maker and family"),
        ("6331-1", b"\xff", 1, "by maker and family"),
    ],
)  # fmt: skip
def test_a_new_prom_is_blank_as_its_family_is(bench: Bench, part: str, held: bytes, code: int, says: str) -> None:
    image = random.Random(7).randbytes(32)
    bench.carrier("u7", image, image, kind="prom", part="82S123")
    bench.ik("carrier", "agree", "u7")
    bench.put("written.bin", image)
    new = bench.put("new.bin", held * 32)
    ran = bench.ik("carrier", "replace", "u7", "--written", "written.bin", "--part", part, "--blank", new, code=code)
    assert says in ran.err


def test_a_disk_is_proved_by_a_second_drive_alone(bench: Bench) -> None:
    disk = random.Random(3).randbytes(737280)
    bench.carrier("d1", disk, disk, kind="floppy", part="")
    bench.ik("carrier", "agree", "d1")
    bench.put("written.img", disk)
    grades = []
    for number, drive in enumerate(("drive A", "drive A", "drive B")):
        back = bench.put(f"back{number}.img", disk)
        more = ("--add-to", "w1") if number else ("--written", "written.img")
        how = ("--reader", f"{_READERS[number]} reader", "--drive", drive, "--controller", f"K{number}", *STATED)
        grades.append(bench.ik("carrier", "replace", "d1", back, *more, *how, "--json").json["replacement"]["grade"])
    assert grades == ["single", "repeated", "proved"]
    bench.reproves()


# --- meaning is audited ---

FORGED = {
    "a grade": ("agreed.json", ("grade",), "corroborated"),
    "the reader behind its capture event": ("reads/r2/read.json", ("reader",), "museum reader"),
    "a CRC-32 that is none": ("reads/r1/read.json", ("image", "crc32"), "DEADBEEF"),
    "a size that cannot be": ("reads/r1/read.json", ("image", "size_bytes"), -1),
}


@pytest.mark.parametrize("forged", list(FORGED))
def test_what_is_forged_under_signed_digests_is_named_and_not_handed_on(
    bench: Bench, forged: str, cli: Callable[..., Ran]
) -> None:
    bench.carrier("u4", SOUND, SOUND)
    bench.ik("carrier", "agree", "u4")
    bench.reproves()
    path, keys, value = FORGED[forged]
    document = json.loads(bench.store.read_file("u4", path))
    forge(bench.store, path, keys, value, document)
    ran = bench.ik("archive", "audit", "--reprove", code=4)
    assert "u4" in ran.out
    bench.ik("archive", "export", "u4", "-o", bench.folder / "bag", code=None)
    assert cli("archive", "init", "other").code == 0
    if (bench.folder / "bag").exists():
        assert cli("archive", "import", bench.folder / "bag", "--archive", "other").code == 3
        assert cli("carrier", "list", "--archive", "other").out.strip() == "no carriers"


def forge(archive: ArchiveStore, path: str, keys: tuple[str, ...], value: object, document: Any) -> None:
    """Change one value, and sign every digest above it again, as a thorough forger would."""
    held = document
    for key in keys:
        held = held[key]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("tests.tampering.changed", lambda _: value)
        tamper(archive, Leaf("u4", path, None, keys, held))


def test_an_archive_written_by_a_program_is_not_contradicted_by_the_command_line(bench: Bench) -> None:
    bench.carrier("u4", SOUND, SOUND[::-1])
    agree(bench.store, "u4", this_session("Anna"))   # its steps are in words without commands
    bench.reproves()


# --- archives that meet ---


def test_explanations_and_standing_go_with_a_bag(bench: Bench) -> None:
    bench.carrier("u4", STUCK, STUCK)
    bench.ik("carrier", "agree", "u4", code=1)
    bench.ik("carrier", "explain", "u4", "data-line-stuck", "--reason", "7-bit text")
    bench.ik("carrier", "correct", "u4", "r1", "--vcc", "4.9", "--reason", "the meter was off")
    bench.ik("archive", "export", "u4", "-o", bench.folder / "bag")
    before = bench.standing("u4")
    other = Bench.__new__(Bench)
    other.cli, other.folder, other.root = bench.cli, bench.folder, bench.folder / "museum"
    assert bench.cli("archive", "init", other.root).code == 0
    other.ik("archive", "import", bench.folder / "bag")
    assert other.standing("u4") == before
    other.reproves()


def test_what_was_corrected_and_taken_back_in_either_archive_stays_so_when_they_meet(bench: Bench) -> None:
    bench.carrier("u4", STUCK, STUCK)
    bench.ik("carrier", "agree", "u4", code=1)
    fork = fork_of(bench)
    bench.ik("carrier", "correct", "u4", "r1", "--vcc", "4.9", "--reason", "the meter was off")
    bench.ik("carrier", "explain", "u4", "data-line-stuck", "--reason", "7-bit text")
    fork.ik("carrier", "explain", "u4", "data-line-stuck", "--reason", "no such line")
    fork.ik("carrier", "withdraw", "u4", "e1", "--reason", "there is")
    fork.ik("carrier", "correct", "u4", "r2", "--temperature", "21", "--reason", "from the log")
    bench.ik("archive", "merge", fork.root)
    found = bench.ik("carrier", "show", "u4", "--json").json
    assert [(read["id"], read["vcc"], read["temperature"]) for read in found["reads"]] == [
        ("r1", "4.9", None), ("r2", "4.75", "21")
    ]
    explained = [one["explained"]["reason"] for one in found["standing"]["contradictions"]]
    assert explained == ["7-bit text"]   # theirs is what was taken back, though both are called e1
    bench.reproves()
    fork.ik("archive", "merge", bench.root)
    assert fork.standing("u4")["grade"] == bench.standing("u4")["grade"] == "independent"
    fork.reproves()


def test_a_verdict_of_one_side_is_weighed_with_the_evidence_of_both(bench: Bench) -> None:
    bench.carrier("u4", SOUND, SOUND)
    fork = fork_of(bench)
    bench.ik("carrier", "tried", "u4", "--outcome", "failed")
    fork.ik("carrier", "agree", "u4")
    assert fork.grade("u4") == "independent"
    bench.ik("archive", "merge", fork.root)
    assert (bench.grade("u4"), bench.open("u4")) == ("repeated", ["trial-failed"])
    bench.ik("archive", "export", "u4", "-o", bench.folder / "bag")
    bench.reproves()


def test_the_part_that_one_archive_corrected_is_held_against_the_images_of_both(bench: Bench) -> None:
    bench.carrier("u4", SOUND, SOUND, part="2716")
    fork = fork_of(bench)
    bench.ik("carrier", "agree", "u4", code=1)
    fork.ik("carrier", "edit", "u4", "--part", "2764")
    bench.ik("archive", "merge", fork.root)
    assert (bench.grade("u4"), bench.open("u4")) == ("independent", [])
    bench.reproves()


def test_a_read_back_taken_back_in_one_archive_comes_back_in_none(bench: Bench) -> None:
    image = of_27128(bench)
    bench.ik("carrier", "replace", "u5", bench.put("back.bin", image), "--written", "written.bin", "--part", "27C128")
    fork = fork_of(bench)
    fork.ik("carrier", "withdraw", "u5", "w1/1", "--reason", "another chip")
    bench.ik("carrier", "note", "u5", "in the second drawer")
    bench.ik("archive", "merge", fork.root)
    made = bench.ik("carrier", "show", "u5", "--json").json["replacements"][0]
    assert [back["taken_back"] for back in made["read_backs"]] == [True]
    assert made["grade"] == "unread"
    bench.reproves()


def fork_of(bench: Bench) -> Bench:
    fork = Bench.__new__(Bench)
    fork.cli, fork.folder, fork.root = bench.cli, bench.folder, bench.folder / "fork"
    shutil.copytree(bench.root, fork.root)
    return fork


# --- one gate for output ---

HOSTILE = "x\x1b[31m\u009b\u202ey"


def test_no_output_lets_hostile_characters_through(bench: Bench) -> None:
    bench.carrier("u4", SOUND, note=HOSTILE)
    bench.ik("carrier", "edit", "u4", "--note", "gentle")
    bench.ik("carrier", "correct", "u4", "r1", "--by", HOSTILE, "--reason", HOSTILE)
    for words in (
        ("carrier", "show", "u4"), ("carrier", "show", "u4", "--json"), ("archive", "audit", "--reprove"),
        ("carrier", "explain", "u4", HOSTILE, "--reason", "x"),
    ):  # fmt: skip
        ran = bench.ik(*words, code=None)
        for character in "\x1b\u009b\u202e":
            assert character not in ran.out + ran.err


def test_the_end_of_a_chain_of_events_does_not_reach_the_terminal_as_it_is(bench: Bench) -> None:
    bench.carrier("u4", SOUND)
    events = bench.store.read_file("u4", "events.jsonl").decode().splitlines()
    line = len(events) - 1
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("tests.tampering.changed", lambda _: HOSTILE)
        tamper(bench.store, Leaf("u4", "events.jsonl", line, ("previous",), json.loads(events[line])["previous"]))
    for words in (("archive", "audit"), ("archive", "audit", "--reprove"), ("archive", "repair")):
        ran = bench.ik(*words, code=None)
        assert ran.code == 4
        for character in "\x1b\u009b\u202e":
            assert character not in ran.out + ran.err


@pytest.mark.parametrize("formula", ["=1+1", "  =1+1", "+1", "-1", "@x", "\uff1d1+1", " \uff0b1", "\uff0d1", "\uff20x"])
def test_a_cell_is_no_formula(bench: Bench, formula: str) -> None:
    bench.carrier("u4", note=formula)
    bench.ik("archive", "table", "-o", bench.folder / "t.csv")
    with (bench.folder / "t.csv").open(encoding="utf-8-sig", newline="") as file:
        (row,) = csv.DictReader(file)
    assert row["note"] == "'" + formula


@pytest.mark.parametrize("words", [
    ("carrier", "show", "LONG"), ("carrier", "explain", "u4", "LONG", "--reason", "x"),
    ("carrier", "withdraw", "u4", "LONG", "--reason", "x"), ("carrier", "tried", "u4", "--outcome", "failed", "--what",
    "LONG"), ("carrier", "replace", "u4", "--add-to", "LONG", "u4-0.bin"), ("compare", "LONG", "u4-0.bin"),
])  # fmt: skip
def test_a_name_of_60000_characters_is_cut_in_messages(bench: Bench, words: tuple[str, ...]) -> None:
    bench.carrier("u4", SOUND)
    long = [word.replace("LONG", "n" * 60000) for word in words]
    ran = bench.cli(*long) if words[0] == "compare" else bench.ik(*long, code=None)
    assert ran.code in (2, 3, 5)
    assert len(ran.err) < 2000


# --- doubts that spread ---


def faulty_hex(base: bool) -> bytes:
    """Give an Intel HEX file with one check value wrong: of a record that sets a base, or of one with data."""
    records = encode(Image.from_bytes(SOUND, start=0x10000), "intel-hex").decode().splitlines()
    at = next(n for n, one in enumerate(records) if (one[7:9] == "04") == base)
    records[at] = records[at][:-2] + f"{int(records[at][-2:], 16) ^ 1:02X}"
    return ("\n".join(records) + "\n").encode()


def test_all_bytes_behind_a_damaged_base_record_are_doubtful_marked_and_not_planned(bench: Bench) -> None:
    file = bench.put("bad.hex", faulty_hex(base=True))
    dump = bench.cli("hexdump", file, "--keep-doubtful")
    assert dump.out.count("?") >= len(SOUND)
    ran = bench.cli("plan", "chip", file, "--keep-doubtful", "--chip", "2764", "-o", "x.hex")
    assert ran.code == 3
    assert "8192 bytes" in ran.err
    assert not Path("x.hex").exists()


def test_inspect_says_that_the_file_speaks_against_its_own_bytes(bench: Bench) -> None:
    ran = bench.cli("inspect", bench.put("bad.hex", faulty_hex(base=False)), "--keep-doubtful")
    assert ran.code == 1
    assert "doubtful-bytes" in ran.out
    assert "Nothing in these bytes speaks against" not in ran.out


def test_no_chip_is_planned_from_an_agreed_image_that_only_a_doubtful_read_gives(bench: Bench) -> None:
    bench.carrier("u4")
    bench.ik("carrier", "read", "u4", bench.put("bad.hex", faulty_hex(base=False)), "--keep-doubtful")
    bench.ik("carrier", "agree", "u4")
    plan = ("plan", "chip", "--carrier", "u4", "--chip", "2764", "-o", bench.folder / "u4.hex")
    assert "the image is doubtful" in bench.ik(*plan, code=3).err
    bench.ik("carrier", "read", "u4", bench.put("good.bin", SOUND))   # a read that nothing speaks against
    bench.ik("carrier", "agree", "u4")
    bench.ik(*plan)
    bench.reproves()


# --- wrong input, and documents ---


@pytest.mark.parametrize(("words", "code"), [
    (("carrier", "explain", "u4", "blank"), 2), (("carrier", "withdraw", "u4", "r1"), 2),
    (("carrier", "withdraw", "u4", "r9", "--reason", "x"), 5), (("carrier", "withdraw", "ghost", "r1", "--reason",
    "x"), 5), (("carrier", "tried", "u4"), 2), (("carrier", "tried", "u4", "--outcome", "exploded"), 2),
    (("carrier", "replace", "u4"), 2), (("carrier", "replace", "u4", "--add-to", "w1", "--written", "u4-0.bin"), 2),
    (("carrier", "agree", "u4", "--reference", "xyz"), 2), (("carrier", "agree", "u4", "--by-vote"), 2),
    (("carrier", "read", "u4", "u4-0.bin", "u4-0.bin"), 2), (("plan", "chip", "--chip", "2764", "-o", "x.hex"), 2),
])  # fmt: skip
def test_wrong_input_is_told_with_what_to_do_next(bench: Bench, words: tuple[str, ...], code: int) -> None:
    bench.carrier("u4", SOUND)
    before = bench.store.inventory("u4").head
    ran = bench.ik(*words, code=code)
    assert "next:" in ran.err
    assert bench.store.inventory("u4").head == before


def test_documents_fit_their_schemas_with_open_explained_and_taken_back(bench: Bench) -> None:
    bench.carrier("u4", STUCK, STUCK, SOUND, part="2716", label="TG85 CS 1234")
    bench.ik("carrier", "withdraw", "u4", "r3", "--reason", "the chip from U5")
    bench.ik("carrier", "agree", "u4", code=1)
    bench.ik("carrier", "explain", "u4", "data-line-stuck", "--reason", "7-bit text")
    bench.ik("carrier", "tried", "u4", "--outcome", "started")
    for words in (
        ("carrier", "show", "u4"), ("carrier", "list"), ("carrier", "list", "--todo"), ("search", "u4"),
        ("archive", "audit", "--reprove"),
    ):  # fmt: skip
        document = bench.ik(*words, "--json", code=None).json
        schema = json.loads((SCHEMAS / f"{document['schema'].replace('/', '-')}.json").read_text("utf-8"))
        jsonschema.validate(document, schema)
