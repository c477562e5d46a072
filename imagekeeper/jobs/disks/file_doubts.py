"""Which findings speak of which file, so that each file can be told what is wrong with it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence

from imagekeeper.filesystems.directory_parameters import RECORD
from imagekeeper.filesystems.model import Entry, Extent, Volume
from imagekeeper.filesystems.unread import unread
from imagekeeper.findings import Finding
from imagekeeper.floppy.fill import fill_words
from imagekeeper.jobs.disks.looking_into import OpenDisk

#: What no file that is listed is the worse for: space that no file has.
_OF_NO_FILE = ("space-lost",)


class FileDoubts:
    """What is wrong with the files of a disk.

    Args:
        volumes: With their entries.
        findings: All that a check found.
    """

    def __init__(self, volumes: Iterable[Volume], findings: Sequence[Finding]) -> None:
        self._grave = [one for one in findings if one.severity != "note" and one.code not in _OF_NO_FILE]
        at: dict[int, list[Entry]] = defaultdict(list)
        paths: dict[str, list[Entry]] = defaultdict(list)
        lying: list[Entry] = []
        for volume in volumes:
            for entry in volume.entries:
                paths[entry.path].append(entry)
                lying.append(entry)
                for place in entry.entries_at:
                    at[place].append(entry)
        self._of: dict[int, list[str]] = defaultdict(list)   # by the identity of an entry: codes
        self._open: list[set[int]] = []                      # of each grave finding, whom it concerns; empty for all
        for finding in self._grave:
            concerned = {id(entry) for entry in self._concerned(finding, at, paths, lying)}
            self._open.append(concerned)
            for one in concerned:
                self._of[one] += [] if finding.code in self._of[one] else [finding.code]

    @staticmethod
    def _concerned(
        finding: Finding, at: dict[int, list[Entry]], paths: dict[str, list[Entry]], lying: list[Entry]
    ) -> Iterator[Entry]:
        place = finding.where.address
        if place is not None:
            yield from at.get(place, ())
        for path in (finding.detail.get("path"), *finding.detail.get("paths", ())):
            for entry in paths.get(path, ()) if path else ():
                yield entry
                if entry.kind == "directory":
                    yield from (one for one in lying if one.path.startswith(f"{path}/"))
        if finding.code == "space-shared" and place is not None:
            for entry in lying:
                if any(one.start is not None and one.start <= place < one.start + one.length for one in entry.extents):
                    yield entry

    def of(self, entry: Entry) -> tuple[str, ...]:
        """Give the codes of the findings that speak of an entry, or of a directory that it is in."""
        return tuple(self._of.get(id(entry), ()))

    def touch(self, chosen: Iterable[Entry]) -> bool:
        """Whether a finding speaks of any of these entries, or of the disk as a whole."""
        mine = {id(entry) for entry in chosen}
        return any(not concerned or concerned & mine for concerned in self._open)


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
