"""Which disk an image is of."""

from __future__ import annotations

from imagekeeper.geometry import GeometryCandidate, GeometryRival, GeometrySolution
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page
from imagekeeper.ranked import Evidence
from imagekeeper.units import plural, size_text

#: So much evidence is shown; the JSON document has all.
_SHOWN = 8


def geometry_text(result: GeometrySolution) -> str:
    """Show an answer: the conclusion, the candidates, the reasons for the first two, and what to do next."""
    lines = parts.wrapped("", result.says)
    answers = result.answers
    if answers:
        rows = [["geometry", "recording", "formats", "score"]]
        rows += [[_geometry(one), _recording(one), _formats(one), f"{one.score:.2f}"] for one in answers]
        lines += ["", *parts.table(rows, right=[3])]
        for one in answers[:2]:
            lines += ["", *_reasons(one)]
    if result.findings:
        lines += ["", *(line for one in result.findings for line in parts.finding(one))]
    size = "" if result.size_bytes is None else f"  size: {size_text(result.size_bytes)}"
    lines += ["", *parts.own(result.own)] if result.own else []
    lines += ["", *([size] if size else []), *parts.wrapped("  next: ", result.hint)]
    return page(lines)


def _geometry(one: GeometryCandidate | GeometryRival) -> str:
    if isinstance(one, GeometryRival):
        return one.geometry
    off = [f"{'-' if short else '+'}{count}" for short, count in ((1, one.short_bytes), (0, one.extra_bytes)) if count]
    return " ".join([one.geometry, *off])


def _recording(one: GeometryCandidate | GeometryRival) -> str:
    name = {"perpendicular": "perp.", "gcr": "group code"}.get(one.encoding, one.encoding.upper())
    if isinstance(one, GeometryRival):
        return f"{name}, {one.holes} sector holes" if one.holes else name
    return f"{name} {one.data_rate / 1000:g} kbit/s {one.rotation:g} rev/min"


def _formats(one: GeometryCandidate | GeometryRival) -> str:
    if isinstance(one, GeometryRival):
        return one.format
    more = f" and {len(one.formats) - 1} more" if len(one.formats) > 1 else ""
    return one.formats[0] + more if one.formats else "-"


def _reasons(one: GeometryCandidate | GeometryRival) -> list[str]:
    """Give the reasons, those for it and those against it apart."""
    order = one.side_order if isinstance(one, GeometryCandidate) else None
    lines = [f"  {one.geometry}" + (f", sides {order.replace('-', ' ')}" if order else "")]
    for label, evidence in (
        ("for", [e for e in one.evidence if e.weight >= 0]), ("against", [e for e in one.evidence if e.weight < 0])
    ):  # fmt: skip
        for item in evidence[:_SHOWN]:
            lines += parts.wrapped(f"    {label + ':':<8} ", _weighed(item))
        if len(evidence) > _SHOWN:
            lines.append(f"             and {plural(len(evidence) - _SHOWN, 'reason')} more")
    return lines


def _weighed(item: Evidence) -> str:
    return f"{item.says} ({item.weight:+g})"
