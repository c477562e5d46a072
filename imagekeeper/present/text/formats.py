"""Formats of disks."""

from __future__ import annotations

from collections.abc import Iterator

from imagekeeper.floppy.formats import Format, FormatLine, FormatList
from imagekeeper.floppy.other_formats import OtherFormat
from imagekeeper.floppy.recording import RECORDINGS
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page
from imagekeeper.units import size_text

#: What the members of a format are called in texts.
MEMBERS = {
    "disk_inch": "size of the disk",
    "tracks_per_inch": "tracks per inch",
    "sector_bytes": "size of a sector",
    "data_rate": "data rate",
    "fat": "file system",
    "first_track": "first track",
    "aliases": "other names",
    "first_tracks": "first tracks",
    "cell_rate": "rate of cells",
    "last_sector_bytes": "size of the last sector",
    "whole_tracks": "tracks written at once",
    "common": "how usual it is",
}


VERDICTS = {
    "safe": "safe on a drive 1.5 % too fast",
    "exact-speed-only": "fits only at the exact speed",
    "short-index-gap-only": "fits only with a short index gap, at the exact speed",
    "does-not-fit": "does not fit",
}


#: The ways of recording, in words.
RECORDED = {name: one.title for name, one in RECORDINGS.items()} | {
    "m2fm": "M2FM", "mmfm": "IDs in FM, data in modified MFM", "gcr": "group code",
}  # fmt: skip


def recorded(encoding: str, data_rate: int, rotation: float) -> str:
    """Say how a disk is recorded.

    Example:
        >>> recorded("mfm", 250000, 300)
        'MFM, 250 kbit/s at 300 rev/min'
    """
    return f"{RECORDED[encoding]}, {data_rate / 1000:g} kbit/s at {rotation:g} rev/min"


def format_list_text(result: FormatList) -> str:
    """Show the list."""
    if not result.formats:
        return "The table has no such format; `imagekeeper floppy solve --size-bytes N` works one out."
    rows = [["format", "bytes", "inch", "tpi", "recording", "also"]]
    rows += [
        [
            one.id + ("*" if one.own else ""), str(one.bytes), f"{one.disk_inch:g}", f"{one.tracks_per_inch:g}",
            recorded(one.encoding, one.data_rate, one.rotation), _also(one),
        ]
        for one in result.formats
    ]  # fmt: skip
    lines = parts.table(rows, right=[1, 2, 3], indent="")
    lines += parts.own_star(one.own for one in result.formats)
    return page([*lines, "", "A format's name is the size of the disk, then cylinders x heads x sectors x bytes."])


def _also(one: FormatLine) -> str:
    """Other names; of a disk of another recording, its holes or that it is none of a common controller."""
    told = f"{one.holes} sector holes" if one.holes else "" if one.common else "own controller"
    return ", ".join([*one.aliases, *([told] if told else [])])


def format_text(one: Format) -> str:
    """Show one format."""
    lines = [f"{one.id}: {one.title}"]
    for label, words in _facts(one):
        lines += parts.wrapped(f"  {label:<13}", words)
    return page([*lines, *parts.own(one.own), *grounds(one)])


def _facts(one: Format) -> Iterator[tuple[str, str]]:
    if one.aliases:
        yield "also", ", ".join(one.aliases)
    yield "disk", f"{one.disk_inch:g} inch, {one.tracks_per_inch} tracks per inch, medium {one.medium}"
    sides = "one side" if one.heads == 1 else f"{one.heads} sides"
    yield "geometry", (
        f"{one.cylinders} cylinders, {sides}, {one.sectors} sectors of {one.sector_bytes} bytes: {size_text(one.bytes)}"
    )
    first = one.first_track
    if first is not None:
        yield "first track", (
            f"track 00 of side 0 alone: {recorded(first.encoding, first.data_rate, one.rotation)}, "
            f"{first.sectors} sectors of {first.sector_bytes} bytes"
        )
    gap = "no gap fits" if one.gap3_max is None else f"gap 3 at most {one.gap3_max} on a drive 1.5 % too fast"
    yield "recording", (
        f"{recorded(one.encoding, one.data_rate, one.rotation)}; {one.bytes_per_track} bytes a track, {gap}"
    )
    for gap3 in one.handbook_gaps:
        write = "" if gap3.gap3_write is None else f", {gap3.gap3_write} to read and write"
        told = gap3.source.author if gap3.source else "from memory"
        yield "gap 3", f"{gap3.gap3_format} to format{write} ({gap3.use}; {told}); {VERDICTS[gap3.verdict]}"
    if one.standard is not None:
        numbers = ", ".join(n for n in (one.standard.id.upper(), one.standard.iso, one.standard.ansi) if n)
        yield "standard", f"the track is that of {numbers}"
    if one.fat is not None:
        yield "file system", (
            f"FAT: {one.fat.reserved_sectors} reserved, {one.fat.fats} x {one.fat.fat_sectors} sectors of FAT, "
            f"{one.fat.root_entries} root entries, clusters of {one.fat.cluster_sectors}: {one.clusters} clusters; "
            f"media byte {one.fat.media:02X}, which other formats share"
        )
    if one.note:
        yield "note", one.note


def grounds(one: Format | OtherFormat) -> list[str]:
    """Say what each member rests on."""
    def named(members: tuple[str, ...]) -> str:
        return ", ".join(MEMBERS.get(name, name) for name in members)

    lines = ["", "  sources"] if one.sources else []
    for basis in one.sources:
        lines += parts.wrapped("    ", f"{basis.source}: {named(basis.gives)}")
    if one.unsourced:
        lines += ["", *parts.wrapped("  ", f"from memory: {named(one.unsourced)}")]
    for member, rule in one.derived.items():
        lines += parts.wrapped("  ", f"derived: {named((member,))}, from {rule}")
    for dispute in one.disputed:
        lines += parts.wrapped("  ", f"disputed: {named((dispute.field,))}: {dispute.says}")
    return lines
