"""Where reads of a disk agree, by cylinder and side."""

from __future__ import annotations

from itertools import groupby

from imagekeeper.present.text import parts
from imagekeeper.provenance.compared_disk import ComparedDisk, ComparedTrack
from imagekeeper.units import plural

#: So many stretches of cylinders are listed.
_ROWS = 40

#: With more sides, only those tracks are listed on which something differs.
_SIDES = 2

_FROM = {"given": "as it was given", "content": "as its content tells", "size": "the likeliest of its size"}


def disk_lines(disk: ComparedDisk) -> list[str]:
    r"""Show a disk by cylinder and side; cylinders of which the same is to be said are one line.

    Example:
        >>> track = dict(side=0, sectors=9, majority=0)
        >>> print("\n".join(disk_lines(ComparedDisk(
        ...     geometry="2x1x9x512", geometry_from="given", side_order="alternating", sectors=18, agree=16,
        ...     differing=(), tracks=(ComparedTrack(cylinder=0, agree=9, apart=(0, 0), **track),
        ...                           ComparedTrack(cylinder=1, agree=7, apart=(0, 2), **track)),
        ... ))))
          2x1x9x512, as it was given: 16 of 18 sectors agree
        <BLANKLINE>
          cylinder  side 0
                 0  9 agree
                 1  2 of 9 differ
    """
    order = "" if disk.side_order == "alternating" else f", sides {disk.side_order.replace('-', ' ')}"
    says = f"{disk.geometry}, {_FROM[disk.geometry_from]}{order}"
    lines = parts.wrapped("  ", f"{says}: {disk.agree} of {plural(disk.sectors, 'sector')} agree")
    if disk.agree == disk.sectors:
        return lines
    heads = 1 + max(track.side for track in disk.tracks)
    if heads > _SIDES:
        return [*lines, "", *_by_track(disk)]
    cells = [
        [_cell(track) for track in disk.tracks[at : at + heads]] for at in range(0, len(disk.tracks), heads)
    ]
    rows = [["cylinder", *(f"side {side}" for side in range(heads))]]
    at = 0
    for cell, group in groupby(cells):
        length = len(list(group))
        rows.append([str(at) if length == 1 else f"{at}-{at + length - 1}", *cell])
        at += length
    return [*lines, "", *_cut(rows)]


def _by_track(disk: ComparedDisk) -> list[str]:
    rows = [["cylinder", "side", "sectors"]]
    rows += [
        [str(track.cylinder), str(track.side), _cell(track)] for track in disk.tracks if track.agree < track.sectors
    ]
    return _cut(rows)


def _cut(rows: list[list[str]]) -> list[str]:
    lines = parts.table(rows[: _ROWS + 1], right=[0])
    more = len(rows) - 1 - _ROWS
    return [*lines, f"  and {plural(more, 'more line')}"] if more > 0 else lines


def _cell(track: ComparedTrack) -> str:
    if track.agree == track.sectors:
        return f"{track.sectors} agree"
    says = f"{track.sectors - track.agree} of {track.sectors} differ"
    if track.majority:
        apart = [f"read {number}: {count}" for number, count in enumerate(track.apart, 1) if count]
        says += f" ({', '.join(apart)})"
    return says
