"""Controllers and cables on the bench: kept, listed, refused where their class has it otherwise, and in the sheet."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from imagekeeper.jobs import specimen
from tests.conftest import Ran

Cli = Callable[..., Ran]


@pytest.fixture
def bench(cli: Cli) -> Callable[..., Ran]:
    cli("archive", "init", "a")
    return lambda *words: cli("floppy", "bench", *words, "--archive", "a")


def test_controllers_and_cables_are_kept_in_their_owners_words(bench: Callable[..., Ran], tmp_path: Path) -> None:
    bench("add", "controller", "old card", "--class", "8272", "--rate", "250", "--no-fm", "--note", "in the grey box")
    ran = bench("add", "cable", "grey", "--class", "34-twisted", "--plug", "34-edge", "--json")
    assert ran.json["controllers"] == [{
        "name": "old card", "controller": "8272", "rates": [250], "fm": False, "connector": None,
        "note": "in the grey box",
    }]  # fmt: skip
    assert ran.json["cables"] == [{"name": "grey", "cable": "34-twisted", "plugs": ["34-edge"], "note": None}]
    out = bench("list").out
    for words in ("old card", "8272 and 765", "250 kbit/s; no FM; in the grey box", "card edge"):
        assert words in out
    assert bench("remove", "cable", "grey", "--reason", "worn").code == 0
    held = (tmp_path / "a" / "bench.toml").read_text()
    assert "# taken away: worn" in held
    assert '# plugs = ["34-edge"]' in held
    assert "34-twisted" not in bench("list").out


@pytest.mark.parametrize("words", [
    ("controller", "c"), ("controller", "c", "--class", "3.5-hd"), ("controller", "--class", "8272"),
    ("controller", "c", "--class", "8272", "--rate", "300"),      # Intel, 8272 data sheet: 8 MHz, or 4
    ("controller", "c", "--class", "wd1770", "--no-fm"),          # Western Digital, WD1770 data sheet: FM and MFM
    ("controller", "c", "--class", "i8271", "--rate", "1000"),
    ("controller", "c", "--class", "pc-adapter", "--connector", "50-edge"),
    ("controller", "c", "--class", "8272", "--connector", "60-edge"),
    ("controller", "c", "--class", "8272", "--plug", "34-edge"), ("cable", "k", "--class", "34-twisted", "--fm"),
    ("cable", "k", "--class", "50-straight", "--plug", "34-edge"), ("cable", "k", "--class", "8272"),
    ("controller", "c", "--class", "8272", "--speed", "300"), ("interchange", "x"),
])  # fmt: skip
def test_what_its_class_has_otherwise_is_refused(
    bench: Callable[..., Ran], tmp_path: Path, words: tuple[str, ...]
) -> None:
    ran = bench("add", *words)
    assert (ran.code, "next:" in ran.err) == (2, True), ran.err
    assert not (tmp_path / "a" / "bench.toml").exists()


@pytest.mark.parametrize(("members", "why"), [
    ("fm = 1", "neither true nor false"), ("rates = 250", "rates"), ("rates = [true]", "rates"),
    ("connector = 3", "connector"), ("plugs = []", "'plugs' is not one of"), ("rates = [[250]]", "rates"),
])  # fmt: skip
def test_what_is_wrong_in_the_file_is_told(bench: Callable[..., Ran], tmp_path: Path, members: str, why: str) -> None:
    (tmp_path / "a" / "bench.toml").write_text(f'[[controller]]\nname = "c"\nclass = "8272"\n{members}\n')
    ran = bench("list")
    assert (ran.code, why in ran.err) == (3, True), ran.err


def test_the_sheet_has_controller_step_and_settle(cli: Cli, bench: Callable[..., Ran], tmp_path: Path) -> None:
    """TEAC, FD-55GFR specification: 3 ms a track, 15 ms to settle. Western Digital, WD1770 data sheet: 6 ms or more."""
    (tmp_path / "w.img").write_bytes(specimen.station_disk())
    plan = ("plan", "disk", "w.img", "--format", "720K 5.25", "--archive", "a", "--json")
    alone = cli(*plan, "--drive", "5.25-96tpi-hd-360", "-o", "o.img").json
    facts = {one["name"]: one for part in alone["sheet"]["parts"] for one in part["facts"]}
    assert (facts["step rate"]["value"], facts["step rate"]["memory"]) == ("3 ms", False)
    assert (facts["settle"]["value"], facts["settle"]["memory"]) == ("15 ms after the last step", False)
    assert "controller" not in facts
    bench("add", "drive", "D", "--class", "5.25-96tpi-hd-dual")
    bench("add", "controller", "old card", "--class", "wd1770")
    with_card = cli(*plan, "--drive", "D", "-o", "p.img").json
    facts = {one["name"]: one for part in with_card["sheet"]["parts"] for one in part["facts"]}
    assert facts["controller"]["value"] == "old card: WD1770"
    assert facts["step rate"]["value"].startswith("6 ms: the drive takes 3 ms")
    assert with_card["verdict"]["settings"]["mode"] == "300-250"
    assert "cable" not in facts
    bench("add", "cable", "grey", "--class", "34-straight")
    with_cable = cli(*plan, "--drive", "D", "-o", "r.img").json
    facts = {one["name"]: one for part in with_cable["sheet"]["parts"] for one in part["facts"]}
    assert facts["cable"]["value"] == "grey: 34 lines, straight through"
    bench("add", "drive", "B", "--class", "5.25-96tpi-hd-360")
    without = cli(*plan, "--drive", "B", "-o", "q.img").json
    assert without["sheet"]["cautions"][0].startswith("No controller of the bench can: old card: it has 250 kbit/s")


def test_no_word_of_memories_in_what_is_said_of_disks(cli: Cli, bench: Callable[..., Ran]) -> None:
    bench("add", "drive", "hp", "--class", "3.5-600")
    bench("add", "drive", "B", "--class", "5.25-96tpi-hd-360")
    bench("add", "controller", "old card", "--class", "fd179x")
    bench("add", "cable", "grey", "--class", "34-twisted")
    for name in ("360K", "720K 3.5", "1.2M"):
        for more in ((), ("--request",)):
            words = cli("floppy", "drives", name, *more, "--archive", "a").out.lower().split()
            assert not {"chip", "chips", "volt", "volts"} & {word.strip(".,:;()") for word in words}
