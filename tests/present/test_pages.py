"""Pages, judged without a browser: sound HTML, nothing that runs or is fetched, everything named."""

from __future__ import annotations

import base64
import hashlib
import itertools
import re
from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.archive.store import ArchiveStore
from imagekeeper.evidence.standing import GRADES
from imagekeeper.jobs.pages.gathering import gather
from imagekeeper.jobs.pages.risks import Subject, risks
from imagekeeper.jobs.pages.values import (
    STATES,
    CarrierEntry,
    IndexPage,
    MachineEntry,
    MachinePage,
    Made,
    sorted_rows,
)
from imagekeeper.legible import visible
from imagekeeper.present.html.pages import render
from imagekeeper.present.svg.marks import mark
from tests.present import collection

MADE = Made("2026-03-02T12:00:00Z", "imagekeeper 0.1.0", "Harbour office instruments", "0195c0de")

VOID = {"meta", "img", "br", "link", "input", "hr"}


class Reader(HTMLParser):
    """Reads a page strictly: what is opened is closed, in order; collects what the tests ask for."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.style = ""
        self.feed(text)
        self.close()
        assert self.open == [], "elements left open"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert len(dict(attrs)) == len(attrs), f"an attribute twice on {tag}"
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] == "style":
            self.style += data
        else:
            self.words.append(data)

    def all(self, name: str) -> list[dict[str, str | None]]:
        return [attributes for tag, attributes in self.tags if tag == name]

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


def sound(text: str) -> Reader:
    """Hold a page against what every page must be."""
    page = Reader(text)
    assert text.startswith("<!DOCTYPE html>\n")
    assert page.all("html") == [{"lang": "en"}]
    assert len(page.all("title")) >= 1
    tags = {tag for tag, _ in page.tags}
    assert not tags & {"script", "iframe", "object", "embed", "link", "base", "form"}
    ids = [a["id"] for _, a in page.tags if "id" in a]
    assert len(ids) == len(set(ids)), "an id twice"
    for _, attributes in page.tags:
        assert not [name for name in attributes if name.startswith("on") or name == "style"], attributes
        for name in ("aria-labelledby", "aria-describedby"):
            assert attributes.get(name, ids[0] if ids else None) in [*ids, None]
        for name in ("href", "src", "action", "srcset", "poster", "data"):
            target = attributes.get(name) or ""
            assert re.fullmatch(r"#[\w-]+|data:image/(png|jpeg|gif);base64,[\w+/=]+|(\.\./)?[\w./-]+|", target), target
            assert not target.startswith("/")
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b <= a + 1 for a, b in itertools.pairwise(levels)), levels
    assert all(a.get("alt") for a in page.all("img"))
    assert all(a.get("scope") in ("col", "row") for a in page.all("th"))
    assert len(page.all("caption")) == len(page.all("table"))
    for attributes in page.all("svg"):
        named = attributes.get("role") == "img" or attributes.get("aria-hidden") == "true" or "x" in attributes
        assert named, attributes
    assert next(a["href"] for a in page.all("a")) == "#main"
    assert all((a.get("href") or "#")[0] != "#" or a["href"][1:] in ids for a in page.all("a") if a["href"])
    regions = [a for _, a in page.tags if a.get("role") == "region"]
    assert all(a.get("tabindex") == "0" and (a.get("aria-label") or a.get("aria-labelledby")) for a in regions)
    policy = next(a["content"] for a in page.all("meta") if a.get("http-equiv") == "Content-Security-Policy") or ""
    digest = base64.b64encode(hashlib.sha256(page.style.encode()).digest()).decode()
    assert "default-src 'none'" in policy
    assert f"style-src 'sha256-{digest}'" in policy
    assert "url(" not in page.style
    assert "@import" not in page.style
    return page


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> ArchiveStore:
    folder = tmp_path_factory.mktemp("collection")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("IMAGEKEEPER_CACHE", str(folder / "cache"))
        return collection.build(folder)


def carrier(archive: ArchiveStore, carrier_id: str) -> Reader:
    return sound(render(gather(archive, carrier_id, MADE).page))


def row(carrier_id: str, **texts: object) -> CarrierEntry:
    values: dict[str, object] = {
        "kind": "eprom", "part": "27128", "machine": collection.MACHINE, "board": "main", "position": "U4",
        "label": None, "reads": 2, "state": "independent", "recorded": True,
    }  # fmt: skip
    return CarrierEntry(id=carrier_id, **{**values, **texts})   # type: ignore[arg-type]


# --- what a carrier's page says --------------------------------------------------------------------------------------


def test_a_page_says_what_the_evidence_is_and_rests_on(archive: ArchiveStore) -> None:
    page = carrier(archive, "tg85-u4")
    assert "corroborated" in page.text
    assert "2 equal reads (r1, r2) differ in reader, supply voltage and temperature." in page.text
    for fact in ("27128", "28-pin ceramic DIP, window", "8512 KOR", "Pins 1 and 28 slightly bent", "21.5", "4.75"):
        assert fact in page.text
    assert page.text.count("c9fb25cc5a44c9ab1c290e7e4297ace81a7dad089a2460ee1529f5f392661923") >= 3   # image, files
    assert "Which image came from which" in page.text
    assert "d1 whole program (" in page.text
    assert "One read-back is what was written." in page.text
    assert "Pins cleaned before." in page.text


def test_reads_that_differ_are_drawn_and_counted_and_the_way_on_is_told(archive: ArchiveStore) -> None:
    page = carrier(archive, "tg85-u5")
    # 331 is what the demonstration's own comparison counts (README.md)
    assert "331 of 16384 addresses differ: 331 bits from 0 to 1 and 0 from 1 to 0" in page.text
    assert "Where the reads differ" in page.text
    assert "What would raise it: Clean the pins and the socket, reseat the chip, and read once more." in page.text
    assert "Clean D3 (pin 15 of a 27128)" in page.text
    assert "Pin 15 is black." in page.text


def test_a_carrier_without_a_read_has_a_page(archive: ArchiveStore) -> None:
    page = carrier(archive, "tg85-u31")
    assert "There is no read that holds any bytes." in page.text
    assert "not recorded" not in page.text.split("Evidence")[0]


def test_reads_that_nobody_settled_are_graded_and_marked_as_not_recorded(archive: ArchiveStore) -> None:
    page = carrier(archive, "tg85-u30")
    assert "no agreed image has been recorded yet" in page.text
    assert "Doubtful, 2270 to 227F" in page.text


def test_hostile_texts_are_words_and_nothing_else(archive: ArchiveStore) -> None:
    found = gather(archive, "hostile", MADE).page
    text = render(found)
    page = sound(text)
    assert "<script" not in text
    assert "<img src=//" not in text
    assert "<script>alert(1)</script>\"'>" in page.text   # readable as what it is
    assert "\u202e" not in text
    assert "\u2066" not in text
    assert "\\u202egnp" in page.text
    assert not [c for c in text if c < " " and c != "\n"]
    assert len(text) < 400_000
    assert "A" * 2001 not in text
    assert "(cut: 10000 characters in all)" in page.text


def test_the_picture_lies_on_the_page_and_beside_it(archive: ArchiveStore) -> None:
    found = gather(archive, "tg85-u4", MADE)
    assert found.photos == {"photos/tg85-u4-1.png": "photos/1-u4_from_above.png"}
    page = sound(render(found.page))
    shown = page.all("img")[0]
    assert shown["alt"] == "U4 in its socket, label taken off"
    data = base64.b64decode((shown["src"] or "").partition(",")[2])
    assert data == collection.photograph()


# --- machines and the index ------------------------------------------------------------------------------------------


def test_a_machine_shows_its_boards_in_the_order_of_designators() -> None:
    rows = (row("u17", position="U17"), row("u4"), row("u9", position="U9", board=None), row("u5", position="U5"))
    page = MachinePage(title="Quillmere TG-85", made=MADE, record=None, rows=rows)
    boards = {name: [r.id for r in found] for name, found in page.boards}
    assert list(boards.items()) == [("main", ["u4", "u5", "u17"]), (None, ["u9"])]
    text = sound(render(page)).text
    assert text.index("No board named") > text.index("main")


def test_every_state_has_a_word_a_shape_of_its_own_and_a_meaning() -> None:
    assert set(STATES) == {*GRADES, "unreadable", "damaged"}
    assert len({mark(state) for state in STATES}) == len(STATES)
    rows = tuple(row(state, state=state) for state in STATES)
    page = sound(render(IndexPage(title="Harbour", made=MADE, machines=(), rows=rows, risks=(), whole=True)))
    for meaning in GRADES.values():
        assert meaning in page.text


def test_an_empty_collection_has_a_page() -> None:
    page = sound(render(IndexPage(title="Collection", made=MADE, machines=(), rows=(), risks=(), whole=True)))
    assert "0 carriers" in page.text
    assert "There is none yet." in page.text


def test_what_goes_with_a_battery_and_was_not_read_comes_before_all_else() -> None:
    found = risks([
        Subject(
            id="safe", kind="eprom", state="independent", reads=2
        ), Subject(id="mask", kind="mask-rom", state="none"), Subject(id="ram", kind="ram", state="none"),
        Subject(id="split", kind="eprom", state="disputed", reads=2), Subject(
            id="hurt", kind="eprom", state="corroborated", reads=2, damaged=1
        ),
        Subject(
            id="doubt", kind="eprom", state="disputed", reads=2, doubtful=True
        ), Subject(id="lost", kind=None, state="unreadable"),
    ])  # fmt: skip
    assert [risk.answer.id for risk in found] == ["ram", "hurt", "lost", "doubt", "split", "mask"]
    assert found[1].evidence[0].says == "a file of it in the archive is not what was kept"


@given(text=st.text(max_size=200))
def test_any_text_is_shown_without_harm(text: str) -> None:
    rows = (row("u4", part=text, machine=text, board=text, position=text, label=text),)
    sound(render(IndexPage(
        title=text or "x", made=MADE, machines=(MachineEntry(text, "machines/x.html", rows),), rows=rows, risks=(),
        whole=True,
    )))  # fmt: skip
    sound(render(MachinePage(title=text or "x", made=MADE, record=None, rows=rows, problem=text)))
    shown = visible(text)
    assert all(c.isprintable() or c in "\n\u200c\u200d" or c.isspace() for c in shown)


@given(names=st.lists(st.text(max_size=12), max_size=8))
def test_designators_of_any_form_have_an_order(names: list[str]) -> None:
    rows = [row(f"c{i}", position=name) for i, name in enumerate(names)]
    assert sorted(r.id for r in sorted_rows(rows)) == sorted(r.id for r in rows)
