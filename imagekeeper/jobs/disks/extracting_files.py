"""Take files out of a disk image: into one folder, whole, with their times, and never over what is there."""

from __future__ import annotations

import datetime
import fnmatch
import hashlib
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, ClassVar

from imagekeeper import files
from imagekeeper.errors import NotFoundError, UsageError, Where
from imagekeeper.filesystems.cross_links import cross_linked
from imagekeeper.filesystems.directory_reading import cut_at_mark
from imagekeeper.filesystems.model import Entry, Volume
from imagekeeper.findings import Finding
from imagekeeper.jobs.disks.file_doubts import FileDoubts, unread_in
from imagekeeper.jobs.disks.looking_into import Look, OpenDisk, looked_into
from imagekeeper.jobs.disks.safe_names import another, safe_name
from imagekeeper.jobs.images.loading import Given, Options
from imagekeeper.progress import Advance, Progress, silent
from imagekeeper.units import plural


@dataclass(frozen=True, kw_only=True)
class ExtractedFile:
    """A file that was taken out.

    Attributes:
        partition: The number of its partition, or null.
        path: As the listing shows it.
        group: The user number or the like, or null.
        written: Its path in the folder, parted by slashes.
        renamed: Whether that is another name than on the disk: it was not safe here, or taken.
        size_bytes: Written. [byte]
        sha256: Of what was written.
        complete: Whether all bytes were there; what was not is written as 00.
        bad_bytes: How many lie in sectors that the list names as bad. [byte]
        deleted: Whether it is marked deleted, so that its content is a guess.
        shares_with: Paths of other files or directories on the disk that use some of the same bytes: the content of
            one of them at least is wrong. One is named at least, not always all.
        findings: Codes of the findings that speak of it, or of a directory that it is in.
    """

    partition: int | None
    path: str
    group: str | None
    written: str
    renamed: bool
    size_bytes: int
    sha256: str
    complete: bool
    bad_bytes: int
    deleted: bool
    shares_with: tuple[str, ...] = ()
    findings: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class FileExtraction:
    """Files taken out of a disk image.

    Attributes:
        name: The image's name, made printable.
        name_base64: The name's exact bytes in Base64 where text cannot carry them, else null.
        output: The folder, made printable.
        says: The conclusion in a sentence.
        files: In the order of the directories.
        directories: How many folders were made.
        findings: What a check of the disk finds wrong, and which files hold fill where sectors were perhaps not read.
        doubtful: Whether one of them speaks of a file that was written, or of the disk as a whole.
    """

    SCHEMA: ClassVar[str] = "file-extraction/1"

    name: str
    name_base64: str | None
    output: str
    says: str
    files: tuple[ExtractedFile, ...]
    directories: int
    findings: tuple[Finding, ...]
    doubtful: bool

    @property
    def exit_code(self) -> int:
        """0 when every file is whole, shares no bytes with another, and nothing speaks against it, else 1."""
        whole = all(one.complete and not one.bad_bytes and not one.shares_with for one in self.files)
        return 0 if self.files and whole and not self.doubtful else 1


def extract_files(
    path: Given, output: str, names: Sequence[str], options: Options, look: Look, *, text: bool = False,
    progress: Progress = silent,
) -> FileExtraction:  # fmt: skip
    """Take files out.

    Args:
        path: The image.
        output: The folder; it is made where it is not there.
        names: Which files: paths or names as the listing shows them, * and ? standing for anything; all without one.
        options: How to take the file.
        look: How to look into the disk.
        text: Cut every file at its first end mark, the byte 1A: texts of some systems end there.
        progress: Told how far it is.

    Raises:
        ImagekeeperError: The image cannot be read or understood, a name fits nothing, or the folder not be written.
    """
    with looked_into(path, options, replace(look, check=True)) as seen:
        return extract_seen(seen, output, names, text=text, progress=progress)


def extract_seen(
    seen: OpenDisk, output: str, names: Sequence[str], *, text: bool = False, progress: Progress = silent
) -> FileExtraction:
    """Take files out of a disk that was looked into; see `extract_files`."""
    if not seen.disk.volumes:
        raise NotFoundError("not-found/no-file-system", where=Where(file=seen.file.name))
    wanted = list(_chosen(seen, names))
    if text:
        wanted = [(volume, cut_at_mark(seen.data, one) if one.kind == "file" else one) for volume, one in wanted]
    total = sum(entry.size_bytes for _, entry in wanted if entry.kind == "file")
    findings = [*seen.checked()]
    told = {path for one in findings if one.code == "unread-perhaps" for path in one.detail.get("paths", ())}
    files_of = [(volume, one) for volume, one in wanted if one.kind == "file" and one.path not in told]
    findings += filter(None, (unread_in(seen, volume, one) for volume, one in files_of))
    doubts = FileDoubts(seen.disk.volumes, findings)
    folder = _Folder(output)
    with progress("Extracting", total) as advance:
        written = [*_written(seen, wanted, folder, doubts, advance)]
    folder.close()
    return FileExtraction(
        name=seen.file.name, name_base64=seen.file.name_base64, output=files.display_name(output),
        says=_says(written, folder), files=tuple(written), directories=folder.made, findings=tuple(findings),
        doubtful=doubts.touch(one for _, one in wanted),
    )  # fmt: skip


def _chosen(seen: OpenDisk, names: Sequence[str]) -> Iterator[tuple[Volume, Entry]]:
    """Give the entries that names ask for; a directory stands for all that is in it."""
    patterns = [(name, name.strip("/").upper()) for name in names]
    met: set[str] = set()
    found = []
    for volume in seen.disk.volumes:
        for entry in volume.entries:
            mine = {pattern for pattern in patterns if _fits(entry, pattern[1])}
            met.update(name for name, _ in mine)
            if mine or not patterns:
                found.append((volume, entry))
    for name in names:
        if name not in met:
            raise NotFoundError("not-found/on-disk", name=name, where=Where(file=seen.file.name))
    yield from found


def _fits(entry: Entry, pattern: str) -> bool:
    path = entry.path.upper()
    inside = path.startswith(pattern + "/")
    plain = "/" not in pattern and pattern in (entry.name.upper(), path.rpartition("/")[2])
    return path == pattern or inside or plain or (
        any(c in pattern for c in "*?[")
        and fnmatch.fnmatchcase(path if "/" in pattern else path.rpartition("/")[2], pattern)
    )


def _written(
    seen: OpenDisk, wanted: Sequence[tuple[Volume, Entry]], folder: _Folder, doubts: FileDoubts,
    advance: Advance,
) -> Iterator[ExtractedFile]:
    apart = len(seen.disk.volumes) > 1
    shared = {
        (volume.start, volume.entries[number].path, volume.entries[number].entries_at): names
        for volume in seen.disk.volumes for number, names in cross_linked(volume.entries).items()
    }  # fmt: skip
    groups = {(volume.start, entry.group) for volume, entry in wanted if entry.group is not None}
    for volume, entry in wanted:
        above = [f"partition-{volume.partition}"] if apart and volume.partition is not None else []
        if entry.group is not None and sum(start == volume.start for start, _ in groups) > 1:
            above.append(f"group-{entry.group}")
        parts = [*above, *entry.path.split("/")]
        if entry.kind == "directory":
            folder.directory(parts, entry.modified)
            continue
        digest = hashlib.sha256()

        def blocks(volume: Volume = volume, entry: Entry = entry, digest: Any = digest) -> Iterator[bytes]:
            for block in file_blocks(seen, volume, entry):
                digest.update(block)
                advance(len(block))
                yield block

        place, size = folder.file(parts, blocks(), entry.modified)
        yield ExtractedFile(
            partition=volume.partition, path=entry.path, group=entry.group, written=place,
            renamed=place != "/".join(parts), size_bytes=size, sha256=digest.hexdigest(), complete=entry.complete,
            bad_bytes=sum(one.length for one in entry.bad), deleted=entry.deleted,
            shares_with=shared.get((volume.start, entry.path, entry.entries_at), ()), findings=doubts.of(entry),
        )  # fmt: skip


def file_blocks(seen: OpenDisk, volume: Volume, entry: Entry) -> Iterator[bytes]:
    """Give a file's bytes piece by piece, zeros for what is missing at its end."""
    yield from entry.blocks(seen.data)
    left = entry.size_bytes - sum(one.length for one in entry.extents)
    if entry.extents and 0 < left <= volume.length:   # the end is missing; more than the volume is damage
        yield bytes(left)


class _Folder:
    """The folder that files go to, and nothing outside it."""

    def __init__(self, output: str) -> None:
        self._root = Path(output)
        self._name = files.display_name(output)
        self._places: dict[tuple[str, ...], Path] = {(): self._root}
        self._times: list[tuple[Path, str]] = []
        self._taken: dict[Path, set[str]] = {}
        self.made = 0
        self.kept_times = True
        try:
            self._root.mkdir(parents=True, exist_ok=True)
        except (OSError, ValueError) as problem:
            if isinstance(problem, FileExistsError):
                raise UsageError("exists/no-folder", name=self._name, where=Where(file=self._name)) from problem
            raise files.unwritable(self._name, OSError(str(problem))) from problem

    def directory(self, parts: Sequence[str], modified: str | None = None) -> Path:
        """Make a folder for a directory of the disk, and those above it."""
        place = self._root
        for depth in range(1, len(parts) + 1):
            key = tuple(parts[:depth])
            if key in self._places:
                place = self._places[key]
                continue
            place = place / self._free(place, parts[depth - 1], folder=True)
            try:
                place.mkdir(exist_ok=True)
            except OSError as problem:
                raise files.unwritable(files.display_name(place), problem) from problem
            self._places[key] = place
            self.made += 1
        if modified is not None:
            self._times.append((place, modified))
        return place

    def file(self, parts: Sequence[str], blocks: Iterator[bytes], modified: str | None) -> tuple[str, int]:
        """Write a file, and say where and how large."""
        above = self.directory(parts[:-1])
        place = above / self._free(above, parts[-1], folder=False)
        size = files.write_whole(place, blocks)
        self._set_time(place, modified)
        return place.relative_to(self._root).as_posix(), size

    def close(self) -> None:
        """Give folders their times, which writing into them changed; the innermost first."""
        for place, modified in reversed(self._times):
            self._set_time(place, modified)

    def _free(self, above: Path, name: str, *, folder: bool) -> str:
        """Find a safe name that nothing has, letters of either case being the same: some systems think so."""
        wanted = safe_name(name)
        taken = self._taken.get(above)
        if taken is None:
            try:
                taken = {one.casefold() for one in os.listdir(above)}
            except OSError as problem:
                raise files.unwritable(files.display_name(above), problem) from problem
            self._taken[above] = taken
        free, number = wanted, 2
        there = above / free
        if not (folder and there.is_dir() and not there.is_symlink() and there not in self._places.values()):
            while free.casefold() in taken:
                free, number = another(wanted, number), number + 1
        taken.add(free.casefold())
        return free

    def _set_time(self, place: Path, modified: str | None) -> None:
        """Set the time, which had no zone: it is taken as one of this computer's."""
        if modified is None:
            return
        try:
            moment = datetime.datetime.fromisoformat(modified).timestamp()
            os.utime(place, (moment, moment))
        except (OSError, OverflowError, ValueError):
            self.kept_times = False


def _says(written: Sequence[ExtractedFile], folder: _Folder) -> str:
    parts = [plural(len(written), "file") + " written"]
    renamed = sum(one.renamed for one in written)
    short = sum(not one.complete for one in written)
    bad = sum(bool(one.bad_bytes) for one in written)
    parts += [f"{renamed} under another name"] if renamed else []
    parts += [f"{short} not complete"] if short else []
    parts += [f"{bad} with bad sectors"] if bad else []
    shared = sum(bool(one.shares_with) for one in written)
    parts += [f"{shared} cross-linked: the same bytes are in another file too"] if shared else []
    doubtful = sum(bool(one.findings) for one in written)
    parts += [f"{doubtful} with findings that may make them wrong"] if doubtful else []
    parts += ["some times could not be kept"] if not folder.kept_times else []
    return ", ".join(parts) + "."
