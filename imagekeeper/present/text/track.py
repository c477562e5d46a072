"""The fields of a track."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from imagekeeper.floppy.layout import Field, TrackLayout
from imagekeeper.floppy.recording import RECORDINGS
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page, painted
from imagekeeper.units import plural


def track_text(result: TrackLayout, picture: str | None = None) -> str:
    """Show a layout: whether it fits, the limits, then the fields of one sector."""
    head = parts.wrapped("", result.says)
    if not result.fits:
        head = [painted(line, "bad") for line in head]
    lines = [*head, "", *parts.table(list(_facts(result))), ""]
    lines += parts.table([["field", "start", "bytes", "holds"], *_fields(result)], right=[1, 2])
    rows = [[str(c.sector_bytes), str(c.sectors), _gap(c.gap3_max)] for c in result.capacity]
    lines += ["", *parts.table([["sector size", "fit", "largest gap 3"], *rows], right=[0, 1, 2])]
    if picture is not None:
        lines += ["", f"picture: {picture}"]
    return page(lines)


def _gap(size: int | None) -> str:
    return "-" if size is None else str(size)


def _facts(result: TrackLayout) -> Iterator[list[str]]:
    title = RECORDINGS[result.encoding].title
    yield ["recording", f"{title}, {result.data_rate / 1000:g} kbit/s at {result.rotation:g} rev/min"]
    yield [
        "track",
        f"{result.bytes_per_track} bytes; {result.limit} on a drive that turns {result.tolerance_percent:g} % too fast",
    ]
    yield ["used", f"{result.total} bytes; {'spare' if result.spare >= 0 else 'too many'}: {abs(result.spare)}"]
    yield ["gap 3", f"{result.gap3}" + ("" if result.gap3_given else ", midway between its limits")]
    most = "no gap fits" if result.gap3_max is None else f"{result.gap3_max} at most fits"
    error = f"{result.rewrite_tolerance_percent:g} %"
    yield ["", f"{result.gap3_min} or more outlives a sector written again, each drive off by {error}"]
    yield ["", f"{result.gap3_min_published} or more gives controllers what the data sheet asks for; {most}"]
    order = result.order
    if order is None:
        return
    numbers = textwrap.wrap(" ".join(map(str, order.records)) + f" (interleave {order.interleave})", 86)
    yield from (["" if at else "order", line] for at, line in enumerate(numbers))
    yield [
        "reading",
        f"{order.revolutions:.2f} revolutions, {order.host_delay_ms:g} ms of the host's after each sector",
    ]
    yield [
        "next track",
        f"begin it {plural(order.skew, 'sector')} later: {order.revolutions_per_track:.2f} revolutions a track",
    ]


def _fields(result: TrackLayout) -> Iterator[list[str]]:
    def row(field: Field, name: str = "") -> list[str]:
        varied = {"id": "cylinder, head, number, size code", "data": "the data"}
        return [name or field.name, str(field.start), str(field.length), field.fill or varied.get(field.name, "CRC")]

    for field in result.fields:
        if field.sector in (None, 1):
            yield row(field, f"sector 1: {field.name}" if field.sector else "")
        elif field.name == "sync" and field.sector == 2 and field.start == _second(result):
            rest = [f for f in result.fields if f.sector not in (None, 1)]
            size = sum(f.length for f in rest)
            yield [f"{plural(result.sectors - 1, 'more sector')} like it", str(field.start), str(size), ""]


def _second(result: TrackLayout) -> int:
    return next(field.start for field in result.fields if field.sector == 2)
