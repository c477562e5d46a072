"""Which files of a disk are hurt, and what to read again."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from imagekeeper.filesystems.damage_model import HurtFile, HurtState, HurtStretch, HurtTrack
from imagekeeper.jobs.disks.damage_words import area_means, gives, spare_means, stretch_words
from imagekeeper.jobs.disks.mapping_sectors import SectorMap
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import Tone, page, painted
from imagekeeper.units import plural, ranges

#: So many files, tracks, and stretches of a file are told; the document has all.
_FILES, _TRACKS, _STRETCHES = 40, 100, 6

#: How long the ribbon of a file is. [column]
_RIBBON = 60

#: What stands for a state on a ribbon; of two in one place the first of these.
_SIGNS: dict[HurtState, str] = {"lost": "o", "missing": "#", "bad": "#", "doubtful": "/", "filled": "/"}

_MEANS = {"#": "not read", "/": "doubtful, or perhaps not read", "o": "has no place on the disk"}


def sector_map_text(result: SectorMap) -> str:
    """Show the damage: the verdict, each hurt file with its ribbon, tracks to read again, and what harms no file."""
    damage = result.damage
    tone: Tone = "bad" if damage.hurt_files or damage.areas else "good"
    lines = [painted(line, tone) for line in parts.wrapped("", result.verdict)]
    listed = (
        "none was given: only what files hold was looked at" if result.bad_sectors is None
        else plural(result.bad_sectors, "sector is not good", "sectors are not good")
    )  # fmt: skip
    lines += [f"  image     {result.name}, {result.geometry}", *parts.wrapped("  list      ", listed)]
    lines += parts.wrapped("  holds     ", result.says)
    lines += [f"  written   {result.output}"] if result.output is not None else []
    if damage.hurt_files:
        lines += ["", "Hurt, each from its first byte to its last:"]
        for one in damage.hurt_files[:_FILES]:
            lines += ["", *_file(one)]
        more = len(damage.hurt_files) - _FILES
        lines += ["", f"  and {more} more; --json gives all"] if more > 0 else []
        used = {_SIGNS[stretch.state] for one in damage.hurt_files for stretch in one.stretches}
        lines += ["", "  " + "; ".join(f"{sign} {words}" for sign, words in _MEANS.items() if sign in used)]
    needed = [one for one in damage.tracks if one.purpose != "spare"]
    if needed:
        lines += ["", "Read again, in this order: the heads move over the disk once.", ""]
        lines += _again(needed, damage.tracks_left_out)
    if damage.areas:
        lines += ["", "The file system's own area:"]
        for area in damage.areas:
            part = "" if area.partition is None else f" (partition {area.partition})"
            places = _some(area.stretches, area.left_out)
            lines += parts.wrapped("  ", f"{area.name}{part}, {places}: {area_means(area)}")
    if damage.spare:
        lines += ["", "No file is the worse for these:"]
        for spare in damage.spare:
            lines += parts.wrapped("  ", spare_means(spare))
        lines += parts.wrapped("  ", _spare_tracks([one for one in damage.tracks if one.purpose == "spare"]))
    return page(lines)


def _file(one: HurtFile) -> Iterator[str]:
    name = one.path + ("/" if one.kind == "directory" else "")
    name += "" if one.partition is None else f" (partition {one.partition})"
    yield f"  {name}: {one.hurt_bytes} of {plural(one.size_bytes, 'byte')}"
    yield f"  |{_ribbon(one)}|"
    yield from parts.wrapped("  ", _some(one.stretches, one.left_out))


def _ribbon(one: HurtFile) -> str:
    """Draw a file from its first byte to its last."""
    columns = ["-"] * _RIBBON
    order = list(_SIGNS.values())
    size = max(one.size_bytes, 1)
    for stretch in one.stretches:
        first = min(stretch.at * _RIBBON // size, _RIBBON - 1)
        last = min((stretch.at + stretch.length - 1) * _RIBBON // size, _RIBBON - 1)
        sign = _SIGNS[stretch.state]
        for column in range(first, last + 1):
            if columns[column] == "-" or order.index(sign) < order.index(columns[column]):
                columns[column] = sign
    return "".join(columns)


def _some(stretches: Sequence[HurtStretch], left_out: int) -> str:
    more = len(stretches) - _STRETCHES + left_out
    told = ", ".join(map(stretch_words, stretches[:_STRETCHES]))
    return told + (f" and {more} more" if more > 0 else "")


def _again(tracks: Sequence[HurtTrack], left_out: int) -> list[str]:
    rows = [["cylinder", "side", "sectors", ""]]
    rows += [[str(one.cylinder), str(one.head), ranges(one.sectors), gives(one)] for one in tracks[:_TRACKS]]
    lines = parts.table(rows, right=[0, 1])
    more = len(tracks) - _TRACKS + left_out
    return [*lines, f"  and {plural(more, 'track')} more; --json gives more of them"] if more > 0 else lines


def _spare_tracks(tracks: Sequence[HurtTrack]) -> str:
    if not tracks:
        return "they lie on tracks that are to be read again anyway"
    told = ", ".join(f"{one.cylinder}/{one.head}/{ranges(one.sectors)}" for one in tracks[:_STRETCHES])
    more = len(tracks) - _STRETCHES
    return f"for an image of the whole disk: {told}" + (f" and {plural(more, 'track')} more" if more > 0 else "")
