"""A person's own rows laid over the tables: what they add, what they replace, and that nothing hostile gets through."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path
from time import perf_counter
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import imagekeeper
from imagekeeper.chips import find
from imagekeeper.chips.proofs import contradictions_of
from imagekeeper.errors import NotFoundError
from imagekeeper.evidence.rules import examination_rules
from imagekeeper.jobs.tables.answering import answerless
from imagekeeper.jobs.tables.holding import proved
from imagekeeper.jobs.tables.proving import senseless
from imagekeeper.jobs.tables.templates import KINDS, template
from imagekeeper.own import OwnRow, OwnRows, in_force, supplied
from imagekeeper.tables import load, sources
from imagekeeper.tables.chips import CHIP_TABLES, chip_rows, pinout_rows
from imagekeeper.tables.drives import drive_rows, medium_rows
from imagekeeper.tables.floppy import format_rows
from imagekeeper.tables.own_file import LIMIT, ROWS, parse
from imagekeeper.tables.own_form import CLASSES

MEASURED = '{ gives = [%s], by = "H. Okafor", on = "2026-03-02", how = "voltmeter at the pin" }'


def rows(text: str | bytes) -> tuple[OwnRow, ...]:
    """The rows of a file in which nothing is wrong."""
    found = parse(text if isinstance(text, bytes) else text.encode(), "mine.toml")
    assert [one.why for one in found.faults] == []
    good, faults = proved(found.rows)
    assert [one.why for one in faults] == []
    return good


def why(text: str | bytes) -> list[str]:
    """What is wrong with a file, in all."""
    found = parse(text if isinstance(text, bytes) else text.encode(), "mine.toml")
    return [one.why for one in (*found.faults, *proved(found.rows)[1])]


def correction(field: str, value: str) -> str:
    measured = MEASURED.replace("%s", f'"{field}"')
    return f'[[chip]]\nid = "2732"\n{field} = {value}\nmeasured = [{measured}]\n'


@pytest.mark.parametrize("kind", KINDS)
def test_each_template_can_be_used_as_it_stands(kind: str) -> None:
    good = rows(template(kind))
    own = OwnRows(good)
    assert len(good) == {"chip": 2, "maker": 2}.get(kind, 1)
    with supplied(lambda: own):
        assert [senseless(row) or answerless(row) for row in good] == [None] * len(good)


def test_a_new_chip_is_found_only_while_it_is_in_force_and_says_what_it_rests_on() -> None:
    own = OwnRows(rows(template("chip")))
    with pytest.raises(NotFoundError):
        find("QX27")
    with supplied(lambda: own):
        chip = find("QX27")
        assert (chip.words, chip.pin_of("A11")) == (4096, 18)
        assert [one.detail["row"] for one in chip.own] == ["chip QX27", "pinout dip24-qx27"]
        assert "mine.toml, line 30" in chip.own[0].why
        assert "measured by H. Okafor on 2026-03-02, voltmeter at pin 24" in chip.own[0].why
        assert any(str(one.source).startswith("measured by H. Okafor") for one in chip.sources)
        assert contradictions_of("QX27") == ()
    with pytest.raises(NotFoundError):
        find("QX27")


def test_a_correction_replaces_the_field_with_its_ground_and_tells_both_values() -> None:
    ours = chip_rows()["2732"]
    own = OwnRows(rows(correction("vpp_v", "24.0")))
    with supplied(lambda: own):
        chip = find("2732")
        row = chip_rows()["2732"]
        given = [one.author for name in row.sources if "vpp_v" in name.gives for one in [sources()[name.id]]]
    assert ours.vpp_v.figures != (24.0,)
    assert (chip.vpp_v, row.words, row.blank) == ((24.0,), ours.words, ours.blank)
    assert given == ["measured by H. Okafor"]
    assert "vpp_v" not in (*row.unsourced, *row.derived)
    assert chip.own[0].detail["changes"] == [f"vpp_v is 24 instead of {ours.vpp_v.figures[0]:g}"]
    assert [(one.field, one.says) for one in row.disputed if one not in ours.disputed] == [
        ("vpp_v", f"the tables without your own row have: {ours.vpp_v.figures[0]:g}")
    ]
    assert find("2732").vpp_v == ours.vpp_v.figures


def test_a_measurement_that_bears_a_value_out_takes_no_document_away() -> None:
    base = chip_rows()["27128"]
    own = OwnRows(rows(correction("words", "16384").replace("2732", "27128")))
    with supplied(lambda: own):
        row = chip_rows()["27128"]
    before = {one.id for one in base.sources if "words" in one.gives}
    after = {one.id for one in row.sources if "words" in one.gives}
    assert before < after
    assert row.disputed == base.disputed


def test_one_pin_of_a_pinout_can_be_corrected() -> None:
    ours = load("pinouts")["pinout"]
    signals = next(list(one["signals"]) for one in ours if one["id"] == "dip24-2708")
    signals[19] = "/CS"
    text = f'[[pinout]]\nid = "dip24-2708"\nsignals = {str(signals).replace(chr(39), chr(34))}\n'
    text += f'measured = [{MEASURED.replace("%s", chr(34) + "20" + chr(34))}]\n'
    own = OwnRows(rows(text))
    with supplied(lambda: own):
        pinout = pinout_rows()["dip24-2708"]
        chip = find("2708")
    assert pinout.signals[19] == ("/CS",)
    assert [sources_of[:4] for sources_of in pinout.sourced[19]] == ["own-"]
    assert pinout.sourced[18] == pinout_rows()["dip24-2708"].sourced[18]
    assert chip.own[0].detail["changes"] == ["pin 20 is /CS instead of /CS /WE"]


def test_only_own_chips_and_pinouts_are_in_the_name_of_the_rules() -> None:
    plain = examination_rules()
    names = []
    plain_kinds = [template(kind) for kind in ("format", "drive", "maker")]
    for text in (*plain_kinds, template("chip"), correction("words", "4096")):
        own = OwnRows(rows(text))
        with supplied(lambda own=own: own):   # type: ignore[misc]
            names.append(examination_rules())
    assert names[:3] == [plain] * 3
    assert len({plain, *names[3:]}) == 3


def test_what_tells_is_not_what_counts_in_the_name_of_the_rules() -> None:
    """Another note on who measured it changes no answer."""
    named = set()
    for text in (correction("words", "4096"), correction("words", "4096").replace("Okafor", "Lindqvist")):
        own = OwnRows(rows(text))
        with supplied(lambda own=own: own):   # type: ignore[misc]
            named.add(examination_rules())
    assert len(named) == 1


BROKEN: dict[str, tuple[str | bytes, str]] = {
    "no TOML": ('[[chip]]\nid = "A\n', "it is not TOML"),
    "not UTF-8": (b'[[chip]]\nid = "\xff"\n', "it is not UTF-8"),
    "nested too deeply": ("a = " + "[" * 20_000, "it is not TOML"),
    "a number of thousands of digits": ("[[chip]]\nid = " + "9" * 5000, "it is not TOML"),
    "too large": (b"#" * (LIMIT + 1), "it is larger than"),
    "too many rows": ('[[medium]]\nid = "x"\n' * (ROWS + 1), "it has more than 2000 rows"),
    "ten thousand rows": ("[[medium]]\nid = 1\n" * 10_000, "it has more than 2000 rows"),
    "an unknown kind": ('[[chips]]\nid = "x"\n', "'chips' is no kind of row"),
    "a single table": ('[chip]\nid = "x"\n', "each must be a table of its own"),
    "no table": ('chip = ["x"]\n', "each must be a table of its own"),
    "an id of another type": ("[[chip]]\nid = 2732\n", "id is 2732, and must be a text"),
    "an empty id": ('[[chip]]\nid = " "\n', "id names the row"),
    "an id that drives the terminal": ('[[chip]]\nid = "QX\\u001b[2J"\n', "id holds characters that are not seen"),
    "an id that turns the writing": ('[[chip]]\nid = "QX\\u202e72"\n', "id holds characters that are not seen"),
    "an endless id": (f'[[chip]]\nid = "{"x" * 81}"\n', "id names the row: 1 to 80"),
    "an unknown member": ('[[chip]]\nid = "2732"\nvolts = 5\n', "'volts' is no member of such a row"),
    "a truth for a number": (correction("words", "true"), "words is True, and must be a whole number"),
    "no number": (correction("row_spacing_inch", "nan"), "row_spacing_inch is nan, which no such thing has"),
    "infinity": (correction("vpp_max_v", "[inf]"), "vpp_max_v is inf, which no such thing has"),
    "a huge number": (correction("words", "9" * 60), "words is a huge number, which no such thing has"),
    "a range upside down": (correction("vpp_v", "{ from = 27.0, to = 25.0 }"), "vpp_v must be one figure"),
    "a table for a voltage": (correction("vpp_v", "{ at = 27.0 }"), "vpp_v must be one figure"),
    "a date for a text": (correction("note", "2026-03-02"), "note is datetime.date"),
    "no ground": ('[[chip]]\nid = "2732"\nwords = 4096\n', "nothing says what words rests on"),
    "two grounds": (correction("words", "4096") + 'unsourced = ["words"]\n', "words stands in more than one of"),
    "a ground of nothing": (correction("words", "4096") + 'unsourced = ["bits"]\n', "grounds are given for bits"),
    "nobody measured": (correction("words", "4096").replace('"H. Okafor"', '" "'), "measured.by says nothing"),
    "no how": (correction("words", "4096").replace('how = ', 'who = '), "'measured.who' is no member"),
    "no such day": (correction("words", "4096").replace("2026-03-02", "2026-02-30"), "and must be a day, a month"),
    "an unknown document": (
        '[[chip]]\nid = "2732"\nwords = 4096\nsources = [{ id = "nowhere", gives = ["words"] }]\n',
        "the document 'nowhere' is described neither",
    ),
    "the same row twice": (correction("words", "4096") * 2, "the file has it more than once"),
    "our chip's name": (correction("aliases", '["27128"]'), "'27128' already stands for the 27128"),
    "an ambiguous name": (correction("aliases", '["27c1000"]'), "'27C1000' already stands for the"),
    "too few pins": (template("chip").replace("pins = 24", "pins = 28", 1), "a package has an even number of pins"),
    "pins beyond all memory": (
        template("chip").replace("pins = 24", f"pins = {1 << 40}", 1), "a package has an even number of pins"
    ),
    "fewer pins than signals": (template("chip").replace("pins = 24", "pins = 7", 1), "a package has an even number"),
    "a shorter list of signals than ours": (
        '[[pinout]]\nid = "dip24-2716"\nsignals = ["A7", "A6"]\nunsourced = ["1-2"]\n', "an even number of pins",
    ),
    "pins without end": (template("chip").replace('"1-17"', '"1-999999999999"'), "grounds are given for 1-9999"),
    "a size that is none": (template("chip").replace("words = 4096", "words = 8192"), "12 address pins reach 4096"),
    "an unknown pinout": (template("chip").replace('pinout = "dip24-qx27"', 'pinout = "no"'), "pinout 'no' is in no"),
    "an unknown technology": (template("chip").replace('gy = "mask-rom"', 'gy = "magic"'), "'magic'"),
    "no supply": (template("chip").replace("Vcc = 5.0", "Vdd = 5.0"), "supplies_v has no Vcc"),
    "a drive that stands still": (template("drive").replace("rotation = 300", "rotation = 0"), "that no drive has"),
    "a drive without modes": (
        template("drive").replace('{ rotation = 300, data_rate = 250000, medium = "5.25-dd", density = "none" },', ""),
        "grounds are given for modes.data_rate",
    ),
    "a track within the spindle": (
        template("drive").replace("heads = 1", "heads = 1\ntrack_00_mm = [1.0]")
        .replace('"heads"', '"heads", "track_00_mm"'),
        "the innermost track a radius above 0",
    ),
    "no rate": (template("format").replace("data_rate = 125000", "data_rate = 0"), "is none that a disk has"),
    "a sector of no size": (template("format").replace("sector_bytes = 256", "sector_bytes = 250"), "none that a disk"),
    "more than a track holds": (template("format").replace("sectors = 9", "sectors = 99"), "do not fit the track"),
    "a signature that is none": (template("maker").replace("9F 01", "9F"), "9F is no signature of two bytes"),
    "figures of no chip": (template("maker").replace('chip = "2732A"', 'chip = "no"'), "chip 'no' is in no table"),
}


@pytest.mark.parametrize("case", BROKEN)
def test_what_is_broken_is_told_with_its_place_and_counts_for_nothing(case: str) -> None:
    text, expected = BROKEN[case]
    data = text if isinstance(text, bytes) else text.encode()
    started = perf_counter()
    found = parse(data, "mine.toml")
    good, faults = proved(found.rows)
    told = (*found.faults, *faults)
    assert any(expected in one.why for one in told), [one.why for one in told]
    assert all(one.where.file == "mine.toml" and one.hint for one in told)
    assert all(one.why.isprintable() for one in told)
    assert perf_counter() - started < 20
    broken = {one.detail.get("row", one.values.get("row")) for one in told}
    assert not broken & {row.name for row in good}


def test_lines_are_those_at_which_the_rows_begin() -> None:
    found = parse(b'# mine\n\n[[medium]]\nid = 7\n\n  [[ chip ]]\nid = 8\n', "mine.toml")
    assert sorted((one.why.split()[0], one.where.line) for one in found.faults) == [("chip:", 6), ("medium:", 3)]
    assert parse(b'[[chip]]\nid = "a\n', "mine.toml").faults[0].where.line == 2
    inline = parse(b'note = """\n[[chip]]\n"""\nchip = [{ id = 8 }, { id = 9 }]\n', "mine.toml")
    assert {one.where.line for one in inline.faults} == {None}


def test_rows_that_share_a_name_both_count_for_nothing() -> None:
    second = template("chip").split("[[chip]]")[1].replace('id = "QX27"', 'id = "QX28"\naliases = ["qx27"]')
    second = second.replace('unsourced = ["pins"', 'unsourced = ["aliases", "pins"')
    text = f"{template('chip')}[[chip]]{second}"
    assert why(text) == [
        "chip QX27: 'QX27' already stands for the QX28", "chip QX28: 'QX27' already stands for the QX27",
    ]  # fmt: skip


PLAIN = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20) | st.dates()
VALUES = st.recursive(
    PLAIN, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4)
)


@pytest.mark.parametrize("kind", CLASSES)
@given(data=st.data())
@settings(max_examples=40, deadline=None)
def test_any_value_in_any_member_is_taken_or_refused_and_never_fails(kind: str, data: st.DataObject) -> None:
    from imagekeeper.tables.own_form import fields, wrong_in_form  # beside what is tried

    names = st.sampled_from([*fields(kind), "sources", "derived", "unsourced", "disputed", "measured", "odd"])
    members: dict[str, Any] = data.draw(st.dictionaries(names, VALUES, max_size=6))
    members |= {name: "x" for name in ("id", "chip", "maker", "code") if name in fields(kind)}
    row = OwnRow(kind=kind, members=members, file="mine.toml")
    told = wrong_in_form(row)
    assert told is None or str(told).isprintable()
    if told is None:
        good, faults = proved([row])
        assert len(good) + len(faults) == 1


def test_two_thousand_rows_are_proved_in_bounded_time() -> None:
    one = '[[signature]]\nchip = "2732A"\nmaker = "Quillmere"\ncode = "{:02X} {:02X}"\nsources = []\n'
    found = parse("".join(one.format(n // 256, n % 256) for n in range(ROWS)).encode(), "mine.toml")
    started = perf_counter()
    good, faults = proved(found.rows)
    assert len(good) + len(faults) == ROWS
    assert perf_counter() - started < 60


def test_without_own_rows_the_tables_are_the_very_same_objects() -> None:
    before = (chip_rows(), drive_rows(), medium_rows(), format_rows())
    own = OwnRows(rows(template("chip")))
    with supplied(lambda: own):
        assert "QX27" in chip_rows()
    after = (chip_rows(), drive_rows(), medium_rows(), format_rows())
    assert all(one is other for one, other in zip(before, after, strict=True))
    assert in_force().rows == ()
    assert sum(len(load(name)["chip"]) for name in CHIP_TABLES) == len(chip_rows())


def cached() -> Iterator[tuple[str, str]]:
    """Every function that is remembered for good, in a module that asks the tables which own rows can change."""
    changing = {
        "chip_rows", "pinout_rows", "maker_rows", "signatures", "drive_rows", "medium_rows", "format_rows", "edition",
        "sources", "rows", "resting_on", "find", "known_chip",
    }  # fmt: skip
    top = Path(imagekeeper.__file__).parent
    for path in top.rglob("*.py"):
        tree = ast.parse(path.read_text("utf-8"))
        for node in ast.walk(tree):
            if not isinstance(node, ast.FunctionDef):
                continue
            marks = {ast.unparse(one).partition("(")[0].rpartition(".")[2] for one in node.decorator_list}
            if marks & {"cache", "lru_cache"}:
                calls = (one.func for one in ast.walk(node) if isinstance(one, ast.Call))
                called = {one.id for one in calls if isinstance(one, ast.Name)}
                yield from ((path.name, name) for name in called & changing)


def test_nothing_that_own_rows_can_change_is_remembered_without_them() -> None:
    assert list(cached()) == []


ELECTRIC = """[[chip]]
id = "QX28"
technology = "electric-eprom"
carrier = "flash"
words = 65536
bits = 8
bytes = 65536
pins = 28
row_spacing_inch = 0.6
pinout = "dip28-27512"
supplies_v = { Vcc = 5.0 }
vpp_v = 12.75
erasing = "electrically, the whole chip at once, with 12.75 V"
blank = "FF"
unsourced = [
  "technology", "carrier", "words", "bits", "bytes", "pins", "row_spacing_inch", "supplies_v", "vpp_v", "erasing",
  "blank",
]
"""


@pytest.mark.parametrize(
    "text",
    [
        '[[drive]]\nid = "5.25-96tpi-dd"\ntracks_per_inch = 192\nunsourced = ["tracks_per_inch"]\n',   # 4 times 48
        ELECTRIC,   # a twin of the 27C512, of which no maker is known
    ],
)
def test_an_odd_row_in_force_stops_no_answer(text: str) -> None:
    good = rows(text)
    own = OwnRows(good)
    with supplied(lambda: own):
        assert [answerless(row) for row in good] == [None]
        assert find("27C512").id == "27C512"
