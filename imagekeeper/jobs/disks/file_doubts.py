"""Which findings speak of which file, so that each file can be told what is wrong with it."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Sequence

from imagekeeper.filesystems.directory_parameters import RECORD
from imagekeeper.filesystems.model import Entry, Extent, Volume
from imagekeeper.filesystems.unread import unread
from imagekeeper.findings import Finding
from imagekeeper.floppy.fill import fill_words
from imagekeeper.jobs.disks.looking_into import OpenDisk

#: What no file that is listed is the worse for: space that no file has.
_OF_NO_FILE = ("space-lost",)

#: What speaks of every file that has a certain byte.
_SHARED = ("space-shared",)


class FileDoubts:
    """What is wrong with the files of a disk.

    Args:
        volumes: With their entries.
        findings: All that a check found.
    """

    def __init__(self, volumes: Iterable[Volume], findings: Sequence[Finding]) -> None:
        entries = [entry for volume in volumes for entry in volume.entries]
        known = {entry.path for entry in entries}
        records = {place for entry in entries for place in entry.entries_at}
        # codes in the order of the findings, by what these speak of: a record, a path, a byte that several files have
        self._at: dict[int, dict[str, None]] = defaultdict(dict)
        self._path: dict[str, dict[str, None]] = defaultdict(dict)
        shared: set[int] = set()
        self._of_all = False
        for one in findings:
            if one.severity == "note" or one.code in _OF_NO_FILE:
                continue
            place = one.where.address
            paths = [path for path in (one.detail.get("path"), *one.detail.get("paths", ())) if path in known]
            for path in paths:
                self._path[path][one.code] = None
            if place is not None and place in records:
                self._at[place][one.code] = None
            elif not paths and one.code not in _SHARED:
                self._of_all = True
            if place is not None and one.code in _SHARED:
                shared.add(place)
        self._directories = {entry.path for entry in entries if entry.kind == "directory"} & set(self._path)
        self._shared = sorted(shared)

    def of(self, entry: Entry) -> tuple[str, ...]:
        """Give the codes of the findings that speak of an entry, or of a directory that it is in."""
        found: dict[str, None] = {}
        for place in entry.entries_at:
            found |= self._at.get(place, {})
        found |= self._path.get(entry.path, {})
        for path in self._directories:
            if entry.path.startswith(f"{path}/"):
                found |= self._path[path]
        if any(self._holds_shared(one) for one in entry.extents):
            found[_SHARED[0]] = None
        return tuple(found)

    def _holds_shared(self, extent: Extent) -> bool:
        if extent.start is None:
            return False
        at = bisect_left(self._shared, extent.start)
        return at < len(self._shared) and self._shared[at] < extent.start + extent.length

    def touch(self, chosen: Iterable[Entry]) -> bool:
        """Whether a finding speaks of any of these entries, or of the disk as a whole."""
        return self._of_all or any(self.of(one) for one in chosen)


def filled_in(seen: OpenDisk, volume: Volume, entry: Entry) -> tuple[Extent, ...]:
    """Give the stretches of a file that hold what readers leave in a sector that they did not get."""
    sector = int(volume.parameters.get("bytes_per_sector") or RECORD)   # only a FAT states it for certain
    return () if entry.deleted else unread(entry, seen.data, sector)


def unread_in(seen: OpenDisk, volume: Volume, entry: Entry) -> Finding | None:
    """Say where a file holds what readers leave in a sector that they did not get, or None."""
    found = filled_in(seen, volume, entry)
    if not found:
        return None
    first, grid = found[0].start or 0, seen.disk.grid
    return Finding.of(
        "unread-perhaps/file", "warning", 0.7, seen.where(first, found[0].length),
        fill=fill_words(seen.data[first : first + 64]),
        place=f"byte {first}" if grid is None else str(grid.place(first)),
        detail={"path": entry.path, "bytes": sum(one.length for one in found)},
    )  # fmt: skip
