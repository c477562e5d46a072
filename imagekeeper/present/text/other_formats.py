"""Disks of other recordings."""

from __future__ import annotations

from collections.abc import Iterator

from imagekeeper.floppy.other_formats import OtherFormat, Zone
from imagekeeper.present.text import parts
from imagekeeper.present.text.formats import RECORDED, grounds
from imagekeeper.present.text.paper import page
from imagekeeper.units import size_text


def other_format_text(one: OtherFormat) -> str:
    """Show one disk of another recording."""
    lines = [f"{one.id}: {one.title}"]
    for label, words in _facts(one):
        lines += parts.wrapped(f"  {label:<13}", words)
    return page([*lines, *grounds(one)])


def _facts(one: OtherFormat) -> Iterator[tuple[str, str]]:
    if one.aliases:
        yield "also", ", ".join(one.aliases)
    yield "disk", f"{one.disk_inch:g} inch, {one.tracks_per_inch:g} tracks per inch, medium {one.medium}"
    if one.holes:
        yield "holes", f"{one.holes} sector holes beside the index hole: a soft-sectored disk is of no use for it"
    else:
        yield "holes", "the index hole alone: soft-sectored"
    sides = "one side" if one.heads == 1 else f"{one.heads} sides"
    yield "geometry", f"{one.cylinders} cylinders, {sides}, sectors of {one.sector_bytes} bytes: {size_text(one.bytes)}"
    speeds = {zone.rotation for zone in one.zones}
    for zone in one.zones:
        yield "tracks", _zone(one, zone) + (f", {zone.rotation:g} rev/min" if len(speeds) > 1 else "")
    for side, first in enumerate(one.first_tracks):
        yield "first track", (
            f"track 00 of side {side}: {RECORDED[first.encoding]}, "
            f"{first.sectors} sectors of {first.sector_bytes} bytes"
        )
    speed = f" at {one.zones[0].rotation:g} rev/min" if len(speeds) == 1 else ""
    whole = "; a track is written at once, without gaps" if one.whole_tracks else ""
    yield "recording", f"{RECORDED[one.encoding]}, {one.cell_rate / 1000:g} thousand cells a second{speed}{whole}"
    if one.machines:
        yield "machines", one.machines
    if one.note:
        yield "note", one.note


def _zone(one: OtherFormat, zone: Zone) -> str:
    more = f" and one of {one.last_sector_bytes} bytes" if one.last_sector_bytes else ""
    return f"{zone.first} to {zone.last}: {zone.sectors} sectors{more}"
