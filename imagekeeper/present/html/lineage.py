"""Which image came from which: the reads, the agreed image, what was made from it, and what was made anew."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from imagekeeper.legible import short, visible
from imagekeeper.present.svg.shapes import BLUE, GROUND, INK, QUIET, Drawing
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.units import plural

#: More reads, or more of what was made from them, are counted and not drawn.
SHOWN = 24

_LEFT, _TOP, _WIDE, _HIGH, _ACROSS, _DOWN = 24, 64, 176, 46, 72, 14


@dataclass(frozen=True)
class Lineage:
    """The lineage of a carrier's images.

    Attributes:
        svg: The drawing.
        says: The same in sentences.
    """

    svg: str
    says: tuple[str, ...]


@dataclass(kw_only=True)
class _Node:
    title: str
    detail: str
    column: int
    sources: list[str] = field(default_factory=list)
    row: int = 0


def lineage(record: CarrierRecord) -> Lineage | None:
    """Draw the lineage of a carrier's images; None where there is no image."""
    if not record.reads and not record.derivations and not record.replacements:
        return None
    nodes = _nodes(record)
    rows: dict[int, int] = {}
    for node in nodes.values():
        node.row = rows.get(node.column, 0)
        rows[node.column] = node.row + 1
    says = tuple(_sentences(nodes))
    width = max(_LEFT * 2 + max(rows) * (_WIDE + _ACROSS) + _WIDE, 480)
    height = _TOP + max(rows.values()) * (_HIGH + _DOWN) + 20
    drawing = Drawing(width, height, f"Lineage of the images of {record.id}", " ".join(says))
    drawing.text(_LEFT, 32, "Which image came from which", size=18, bold=True)
    for node in nodes.values():
        for source in node.sources:
            _arrow(drawing, nodes[source], node)
    for node in nodes.values():
        x, y = _place(node)
        drawing.rectangle(x, y, _WIDE, _HIGH, BLUE if node.title.startswith("agreed") else QUIET)
        drawing.rectangle(x + 1.5, y + 1.5, _WIDE - 3, _HIGH - 3, GROUND)
        drawing.text(x + 10, y + 19, _cut(node.title, 24), size=13, bold=True)
        drawing.text(x + 10, y + 36, _cut(node.detail, 26), size=11, colour=QUIET)
    return Lineage(drawing.text_of(), says)


def _nodes(record: CarrierRecord) -> dict[str, _Node]:
    """Give what is drawn by its key: each comes after what it was made from."""
    nodes: dict[str, _Node] = {}
    digests: dict[str, str] = {}   # the first image of each digest, best first
    for read in record.reads[:SHOWN]:
        nodes[read.id] = _Node(title=f"read {read.id}", detail=read.image.sha256[:16] + "…", column=0)
    left = len(record.reads) - SHOWN
    if left > 0:
        nodes["reads"] = _Node(title=f"{plural(left, 'more read')}", detail="not drawn", column=0)
    agreed = record.agreed
    if agreed is not None and agreed.sha256 is not None:
        support = [name for name in agreed.reads if name in nodes]
        voted = all(read.image.sha256 != agreed.sha256 for read in record.reads)
        sources = [read.id for read in record.reads[:SHOWN]] if voted else support
        nodes["agreed"] = _Node(title="agreed image", detail=agreed.sha256[:16] + "…", column=1, sources=sources)
        digests[agreed.sha256] = "agreed"
    for derivation in record.derivations[:SHOWN]:
        sources = []
        for source in derivation.sources:
            key = source.what
            if source.carrier != record.id:
                key = f"{source.carrier} {source.what}"
                nodes.setdefault(key, _Node(
                    title=source.carrier, detail=f"{source.what}, {source.sha256[:12]}…", column=0
                ))
            if key in nodes:   # a source that is not there draws no line: the record may be damaged or cut
                sources.append(key)
        column = max([1, *(nodes[key].column for key in sources)]) + 1
        nodes[derivation.id] = _Node(
            title=f"{derivation.id} {derivation.title or ''}".strip(), detail=derivation.sha256[:16] + "…",
            column=column, sources=sources,
        )  # fmt: skip
        digests.setdefault(derivation.sha256, derivation.id)
    for read in record.reads[:SHOWN]:
        digests.setdefault(read.image.sha256, read.id)
    for made in record.replacements[:SHOWN]:
        source_key = digests.get(made.sha256)
        column = max(2, nodes[source_key].column + 1) if source_key else 2
        proof = {True: "reads back equal", False: "reads back different", None: "not read back"}[made.matches]
        sources = [source_key] if source_key else []
        nodes[made.id] = _Node(
            title=f"new {made.part or 'carrier'}, {made.id}", detail=proof, column=column, sources=sources
        )
    return nodes


def _sentences(nodes: dict[str, _Node]) -> Iterator[str]:
    for node in nodes.values():
        if node.sources:
            *most, last = [short(nodes[source].title) for source in node.sources]
            names = f"{', '.join(most)} and {last}" if most else last
            title = short(node.title)
            first = title[:1].upper() if node.column == 1 or title.startswith("new ") else title[:1]
            yield f"{first}{title[1:]} ({node.detail}) comes from {names}."
    if not any(node.sources for node in nodes.values()):
        yield "No image has been made from another yet."


def _place(node: _Node) -> tuple[float, float]:
    return _LEFT + node.column * (_WIDE + _ACROSS), _TOP + node.row * (_HIGH + _DOWN)


def _arrow(drawing: Drawing, source: _Node, target: _Node) -> None:
    # lines leave boxes above their middle and come in below it, each target with a channel of its own: none coincide
    x, y = _place(source)
    x1, y1 = x + _WIDE, y + _HIGH * 0.35
    x2, y2 = _place(target)
    y2 += _HIGH * 0.65
    middle = x2 - 14 - (target.row * 9) % (_ACROSS - 24)
    drawing.line(x1, y1, middle, y1, INK)
    drawing.line(middle, y1, middle, y2, INK)
    drawing.line(middle, y2, x2, y2, INK)
    for side in (-4, 4):
        drawing.line(x2 - 7, y2 + side, x2, y2, INK)


def _cut(words: str, most: int) -> str:
    return short(visible(words), most)
