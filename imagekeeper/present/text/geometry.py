"""Which disk an image is of."""

from __future__ import annotations

from imagekeeper.geometry import GeometryCandidate, GeometrySolution
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page
from imagekeeper.ranked import Evidence
from imagekeeper.units import plural, size_text

#: So much evidence is shown; the JSON document has all.
_SHOWN = 8


def geometry_text(result: GeometrySolution) -> str:
    """Show an answer: the conclusion, the candidates, the reasons for the first two, and what to do next."""
    lines = parts.wrapped("", result.says)
    if result.candidates:
        rows = [["geometry", "recording", "formats", "score"]]
        rows += [[_geometry(one), _recording(one), _formats(one), f"{one.score:.2f}"] for one in result.candidates]
        lines += ["", *parts.table(rows, right=[3])]
        best, *others = result.candidates
        lines += ["", *_reasons(best)]
        if others:
            lines += ["", *_reasons(others[0])]
    size = "" if result.size_bytes is None else f"  size: {size_text(result.size_bytes)}"
    lines += ["", *parts.own(result.own)] if result.own else []
    lines += ["", *([size] if size else []), *parts.wrapped("  next: ", result.hint)]
    return page(lines)


def _geometry(one: GeometryCandidate) -> str:
    off = [f"{'-' if short else '+'}{count}" for short, count in ((1, one.short_bytes), (0, one.extra_bytes)) if count]
    return " ".join([one.geometry, *off])


def _recording(one: GeometryCandidate) -> str:
    name = {"fm": "FM", "mfm": "MFM", "perpendicular": "perp."}[one.encoding]
    return f"{name} {one.data_rate / 1000:g} kbit/s {one.rotation:g} rev/min"


def _formats(one: GeometryCandidate) -> str:
    more = f" and {len(one.formats) - 1} more" if len(one.formats) > 1 else ""
    return one.formats[0] + more if one.formats else "-"


def _reasons(one: GeometryCandidate) -> list[str]:
    """Give the reasons, those for it and those against it apart."""
    lines = [f"  {one.geometry}" + (f", sides {one.side_order.replace('-', ' ')}" if one.side_order else "")]
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
