"""Reads of a damaged disk made into one."""

from __future__ import annotations

import json
import random
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper.cli import run
from imagekeeper.errors import ImagekeeperError
from imagekeeper.filesystems.bad_sectors import STATES, BadSector, SectorState
from imagekeeper.filesystems.model import SectorGrid
from imagekeeper.filesystems.sector_merge import merge

from .fat_volumes import File, Shape, Writer

GRID = SectorGrid(heads=2, sectors=3, sector_bytes=4, cylinders=4)
SECTORS = 24

READS = st.integers(2, 5).flatmap(
    lambda count: st.lists(
        st.lists(st.sampled_from([b"TIDE", b"GATE", b"MOLE"]), min_size=SECTORS, max_size=SECTORS),
        min_size=count, max_size=count,
    )
)  # fmt: skip


@settings(deadline=None)
@given(READS, st.data())
def test_each_sector_comes_from_a_read_in_the_best_state(reads: list[list[bytes]], data: st.DataObject) -> None:
    states = [
        data.draw(st.lists(st.sampled_from(list(STATES)), min_size=SECTORS, max_size=SECTORS)) for _ in reads
    ]
    images = [b"".join(read) for read in reads]
    listed = [[BadSector(GRID.place(4 * i), state) for i, state in enumerate(mine)] for mine in states]
    account = merge(images, listed, GRID)
    merged = b"".join(account.blocks(images))
    assert len(merged) == len(images[0])
    told = {one.start // 4: one for one in account.map}
    for i in range(SECTORS):
        best = min((mine[i] for mine in states), key=list(STATES).index)
        voters = [read[i] for read, mine in zip(reads, states, strict=True) if mine[i] == best]
        got = merged[4 * i : 4 * i + 4]
        top = max(voters.count(value) for value in voters)
        if 2 * top > len(voters):
            assert voters.count(got) == top
        else:
            assert got == voters[0]
        if best != "good":
            assert told[i].state == best
        elif len(set(voters)) == 1:
            assert i not in told
        else:
            assert told[i].state == ("voted" if 2 * top > len(voters) else "disputed")
    assert account.counts == {state: sum(one.state == state for one in account.map) for state in account.counts}
    assert account.sectors == SECTORS


FILLED, TIDE = b"\xe5\xe5\xe5\xe5", b"TIDE"


@pytest.mark.parametrize(("reads", "lists", "taken", "state"), [
    ([FILLED, FILLED, TIDE], [None, None, None], TIDE, "disputed"),     # two programs skipped what the third one read
    ([FILLED, TIDE], [None, None], TIDE, "disputed"),
    ([TIDE, TIDE, FILLED], [None, None, None], TIDE, "voted"),
    ([FILLED, FILLED, FILLED], [None, None, None], FILLED, None),       # a blank sector is one
    ([FILLED, FILLED, TIDE], [["bad"], ["bad"], ["bad"]], TIDE, "bad"),
    ([FILLED, TIDE], [None, ["doubtful"]], TIDE, "disputed"),           # nobody says that the fill was read well
    ([FILLED, TIDE], [[], ["bad"]], FILLED, None),                      # a list does: it is blank, and mended
    ([FILLED, TIDE], [None, ["missing"]], FILLED, None),                # what was not found has no content
    ([b"\x6d\xb6" * 2, b"\x6d\xb6" * 2, TIDE], [None, None, None], TIDE, "disputed"),
])  # fmt: skip
def test_fill_never_outvotes_content(
    reads: list[bytes], lists: list[list[SectorState] | None], taken: bytes, state: str | None
) -> None:
    grid = SectorGrid(heads=1, sectors=1, sector_bytes=4, cylinders=1)
    listed = [None if one is None else [BadSector(grid.place(0), said) for said in one] for one in lists]
    account = merge(reads, listed, grid)
    assert b"".join(account.blocks(reads)) == taken
    assert [one.state for one in account.map] == ([] if state is None else [state])


def test_two_reads_that_skipped_a_sector_do_not_outvote_the_one_that_got_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sound = Writer(Shape()).write([File(b"TIDE    LOG", b"tide gate " * 300)])
    skipped = bytearray(sound)
    skipped[6144:6656] = b"\xf6" * 512
    names = [str(tmp_path / name) for name in ("a.img", "b.img", "c.img", "merged.img")]
    for name, data in zip(names, (skipped, skipped, sound), strict=False):
        Path(name).write_bytes(data)
    code = run(["files", "merge", *names[:3], "-o", names[3], "--json"])
    document = json.loads(capsys.readouterr().out)
    assert (code, document["counts"]["disputed"], document["map"][0]["taken_from"]) == (1, 1, 3)
    assert Path(names[3]).read_bytes() == sound


def test_reads_of_different_sizes_are_refused() -> None:
    with pytest.raises(ImagekeeperError) as caught:
        merge([bytes(96), bytes(92)], [[], []], GRID)
    assert caught.value.code == "usage"


@pytest.mark.parametrize(("reads", "why"), [(0, "0 reads were given"), (1, "1 read was given")])
def test_fewer_than_two_reads_are_nothing_to_merge(reads: int, why: str) -> None:
    with pytest.raises(ImagekeeperError) as caught:
        merge([bytes(96)] * reads, [[]] * reads, GRID)
    assert (caught.value.code, caught.value.why) == ("usage", why)


def test_merged_from_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sound = Writer(Shape()).write([File(b"TIDE    LOG", b"t" * 3000)])
    for name, at in (("a", 6144), ("b", 7168)):
        image = bytearray(sound)
        image[at : at + 512] = b"\xe5" * 512
        (tmp_path / f"{name}.img").write_bytes(image)
    (tmp_path / "a.csv").write_text("cylinder,head,sector,state\n0,1,4,missing\n")
    (tmp_path / "b.csv").write_text("cylinder,head,sector,state\n0,1,6,bad\n39,1,9,bad\n")
    names = [str(tmp_path / one) for one in ("a.img", "b.img", "a.csv", "b.csv", "merged.img", "left.csv")]
    command = ["files", "merge", names[0], names[1], "--bad-sectors", names[2], "--bad-sectors", names[3]]
    code = run([*command, "-o", names[4], "--list-to", names[5], "--json"])
    document = json.loads(capsys.readouterr().out)
    assert (code, document["schema"], document["mended"], document["map"]) == (0, "disk-merge/1", 1, [])
    assert Path(names[4]).read_bytes() == sound
    assert Path(names[5]).read_text() == "cylinder,head,sector,state\n"
    assert run([*command[:4], "-o", names[4]]) == 2   # it is there
    assert run([*command[:4], "-o", names[4], "--force", "--list-to", names[5], "--json"]) == 1
    capsys.readouterr()
    assert run([*command[:4], "-o", names[4], "--bad-sectors", names[2], "--force"]) == 2
    assert "1 list for 2 reads" in capsys.readouterr().err


LARGE = SectorGrid(heads=1, sectors=4, sector_bytes=512, cylinders=1)
SOUND = random.Random(3).randbytes(512)
MESSAGE = (b"SECTOR NOT READ ").ljust(512, b"\0")


@pytest.mark.parametrize("fill", [
    b"\xf6" * 512, b"\xe5" * 512, bytes(512), b"\xff" * 512, b"\x4e" * 512, b"\x6d\xb6" * 256,
    (b"UNREADABLE SECTOR " * 30)[:512], (b"NOT READ\r\n" * 52)[:512],
])  # fmt: skip
@pytest.mark.parametrize("empty", [1, 2, 3, 4])
def test_no_number_of_reads_with_fill_makes_a_majority(fill: bytes, empty: int) -> None:
    """What readers leave where they got nothing: single bytes, patterns, a text over and over."""
    reads = [fill + SOUND * 3] * empty + [SOUND * 4]
    account = merge(reads, [None] * len(reads), LARGE)
    assert b"".join(account.blocks(reads)) == SOUND * 4
    [told] = account.map
    assert (told.state, told.taken_from, told.fill) == ("disputed", empty + 1, (True,) * empty + (False,))


def test_two_kinds_of_fill_have_no_vote_either() -> None:
    reads = [b"\xf6" * 512 + SOUND * 3, b"\xe5" * 512 + SOUND * 3, SOUND * 4]
    account = merge(reads, [None] * 3, LARGE)
    assert [(one.state, one.taken_from) for one in account.map] == [("disputed", 3)]


def test_fill_breaks_no_tie_between_contents() -> None:
    """Five reads: two of one content, one of another, two with fill: two of five are no majority."""
    other = SOUND[::-1]
    reads = [piece + SOUND * 3 for piece in (SOUND, SOUND, other, b"\xf6" * 512, b"\xf6" * 512)]
    assert [one.state for one in merge(reads, [None] * 5, LARGE).map] == ["disputed"]


def test_one_sentence_in_several_sectors_is_a_readers_own() -> None:
    """A sentence that does not repeat within a sector shows itself by standing in two of them."""
    twice = MESSAGE * 2 + SOUND * 2
    account = merge([twice, twice, SOUND * 4], [None] * 3, LARGE)
    assert [(one.state, one.taken_from) for one in account.map] == [("disputed", 3)] * 2
    once = MESSAGE + SOUND * 3
    assert [(one.state, one.taken_from) for one in merge([once, once, SOUND * 4], [None] * 3, LARGE).map] == [
        ("voted", 1)
    ]


def test_a_text_against_a_blank_sector_stays_open() -> None:
    """Either may be the reader's: the file may hold lines that are all alike, and a sector may be blank."""
    text = (b"GATE " * 103)[:512]
    for reads in ([text, text, b"\xf6" * 512], [text, b"\xf6" * 512, b"\xf6" * 512]):
        whole = [one + SOUND * 3 for one in reads]
        account = merge(whole, [None] * 3, LARGE)
        assert [(one.state, whole[one.taken_from - 1][:512]) for one in account.map] == [("disputed", text)]


def test_a_list_that_calls_the_sector_well_read_gives_fill_its_vote() -> None:
    filled = b"\xf6" * 512 + SOUND * 3
    listed = [BadSector(LARGE.place(1024), "bad")]   # another sector: so the list speaks of this one too
    account = merge([filled, filled, SOUND * 4], [listed, listed, None], LARGE)
    assert [(one.state, one.taken_from) for one in account.map] == [("voted", 1)]
    missing = [BadSector(LARGE.place(0), "missing")]
    assert merge([filled, filled, SOUND * 4], [missing, missing, None], LARGE).map == ()


def two_of_three(tmp_path: Path, sound: bytes, at: int) -> list[str]:
    """Three reads of a disk, two with F6 in a sector; and names for what is written."""
    skipped = bytearray(sound)
    skipped[at : at + 512] = b"\xf6" * 512
    names = [str(tmp_path / name) for name in ("a.img", "b.img", "c.img", "merged.img")]
    for name, data in zip(names, (skipped, skipped, sound), strict=False):
        Path(name).write_bytes(data)
    return names


@pytest.mark.parametrize("command", ["files merge", "vote"])
@pytest.mark.parametrize(("at", "code"), [(6144, 1), (200 * 512, 0)])
def test_what_the_file_system_leaves_free_may_be_fill(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str, at: int, code: int
) -> None:
    """Two reads with F6 against old bytes in a cluster that no file uses: by the tables it is blank. In a file it is
    not, and the exit code is that of a dispute."""
    sound = bytearray(Writer(Shape()).write([File(b"TIDE    LOG", SOUND * 6)]))
    sound[200 * 512 : 201 * 512] = SOUND[::-1]
    names = two_of_three(tmp_path, bytes(sound), at)
    assert run([*command.split(), *names[:3], "-o", names[3], "--json"]) == code
    capsys.readouterr()
    if code == 0:
        assert Path(names[3]).read_bytes() == Path(names[0]).read_bytes()
    elif command == "files merge":
        assert Path(names[3]).read_bytes() == bytes(sound)
    else:
        assert not Path(names[3]).exists()


def test_a_table_of_which_a_part_was_not_read_frees_nothing(tmp_path: Path) -> None:
    """In two reads the sector of both FATs is 00 too, which calls every cluster free: the third one counts."""
    sound = Writer(Shape()).write([File(b"TIDE    LOG", SOUND * 6)])
    names = two_of_three(tmp_path, sound, 6144)
    for name in names[:2]:
        data = bytearray(Path(name).read_bytes())
        data[512 : 5 * 512] = bytes(2048)
        Path(name).write_bytes(data)
    assert run(["files", "merge", *names[:3], "-o", names[3], "--geometry", "40x2x9x512"]) == 1
    assert Path(names[3]).read_bytes() == sound


def test_the_text_says_which_reads_hold_fill(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    names = two_of_three(tmp_path, Writer(Shape()).write([File(b"TIDE    LOG", SOUND * 6)]), 6144)
    assert run(["files", "merge", *names[:3], "-o", names[3]]) == 1
    assert "good (fill), good (fill), good" in capsys.readouterr().out
