"""How an archive begins, and how one is recognised."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from imagekeeper.archive.ocfl import readme
from imagekeeper.archive.ocfl.disk import FlushedDisk
from imagekeeper.archive.ocfl.layout import LAYOUTS, layout_named
from imagekeeper.archive.ocfl.reading import file_bytes
from imagekeeper.archive.ocfl.troubles import damaged
from imagekeeper.errors import ArchiveError, NotFoundError, UsageError, Where
from imagekeeper.files import display_name, reason, unwritable
from imagekeeper.jsonable import one_line
from imagekeeper.provenance.dates import check_time
from imagekeeper.provenance.fields import from_json, read_json, write_json
from imagekeeper.sentences.say import Phrase

MARKER = "archive.json"
README = "README.txt"
FORMAT = "imagekeeper archive"
FORMAT_VERSION = 1

#: Where the mark is written before it is moved into place.
_STAGED = f"staging/{MARKER}"

_FOLDERS = ("carriers", "staging", "quarantine", "log")


@dataclass(frozen=True, kw_only=True)
class Marker:
    """What `archive.json` says.

    Attributes:
        format: `imagekeeper archive`.
        version: Of the folder's structure.
        uuid: The archive's identity.
        title: What its keeper calls it.
        created: When it was made, RFC 3339.
        layout: `0002` or `0003`; the storage root says it too, in the standard's way.
        readme_sha512: SHA-512 of the README beside it; null in archives made before it was kept.
    """

    format: str
    version: int
    uuid: str
    title: str
    created: str
    layout: str
    readme_sha512: str | None = None

    def readme(self) -> bytes:
        """Write the README as this version of the program does."""
        return readme.readme_text(title=self.title, uuid=self.uuid, created=self.created, layout=self.layout)

    def without_digest(self) -> dict[str, object]:
        """Give the members of a mark that was made before it kept the README's digest."""
        return {name: value for name, value in asdict(self).items() if name != "readme_sha512" or value is not None}


def found(path: str | os.PathLike[str], disk: FlushedDisk, *, uuid: str, title: str, now: str, layout: str) -> Marker:
    """Make an archive's folder; `ArchiveStore.create` says more.

    Raises:
        UsageError: `archive-exists`, `cannot-write`, `unknown-name`, `usage`.
    """
    layout_named(layout)
    marker = Marker(
        format=FORMAT, version=FORMAT_VERSION, uuid=uuid, title=one_line(title), created=check_time(now), layout=layout
    )
    text = marker.readme()
    marker = replace(marker, readme_sha512=hashlib.sha512(text).hexdigest())
    found_with(path, disk, layout=layout, readme_file=text, marker_file=write_json(marker))
    return marker


def found_with(
    path: str | os.PathLike[str], disk: FlushedDisk, *, layout: str, readme_file: bytes, marker_file: bytes
) -> None:
    """Make an archive's folder with the README and the mark given, as a replica has them.

    Raises:
        UsageError: `archive-exists`, `cannot-write`, `unknown-name`.
    """
    folder = Path(path).absolute()
    files = {f"carriers/{name}": data for name, data in layout_named(layout).root_files().items()}
    files[README] = readme_file
    files[MARKER] = marker_file   # last: until it is there, this is no archive
    _refuse_taken(folder, display_name(path), files)
    try:
        for name in _FOLDERS:
            disk.make_folders(folder / name)
        for name, data in files.items():
            target = folder / name
            beside = folder / _STAGED if name == MARKER else target   # the mark is there whole, or not at all
            disk.make_folders(target.parent)
            disk.remove(beside)
            disk.write(beside, (data,))
            if beside != target:
                disk.move(beside, target)
            disk.sync(target.parent)
    except OSError as problem:
        raise unwritable(display_name(path), problem) from problem


def _refuse_taken(folder: Path, name: str, files: Mapping[str, bytes]) -> None:
    """Accept a place that is free, an empty folder, or what an interrupted beginning left there."""
    if not os.path.lexists(folder):
        return
    known = {*files, _STAGED} - {MARKER}
    foreign = not folder.is_dir()
    try:
        for above, folders, names in os.walk(folder):
            inside = Path(above).relative_to(folder)
            foreign |= not {(inside / file).as_posix() for file in names} <= known
            foreign |= inside == Path() and not {*folders} <= {*_FOLDERS}
            if foreign:
                break
    except OSError as problem:
        raise unwritable(name, problem) from problem
    if foreign:
        if (folder / MARKER).exists():
            raise UsageError("archive-exists/already", name=name, where=Where(file=name))
        raise UsageError("archive-exists/not-empty", name=name, where=Where(file=name))


def recognise(path: str | os.PathLike[str]) -> Marker:
    """Read an archive's mark.

    Raises:
        NotFoundError: `archive-missing`.
        ArchiveError: `archive-newer`, `archive-damaged`.
    """
    file = Path(path) / MARKER
    name = display_name(path)
    if not os.path.lexists(file):
        raise NotFoundError("archive-missing/no-marker", name=name, marker=MARKER, where=Where(file=name))
    try:
        data = file_bytes(file)
    except OSError as problem:
        raise damaged(MARKER, reason(problem)) from problem
    return parse_marker(data, name)


def parse_marker(data: bytes, name: str = MARKER) -> Marker:
    """Read the bytes of a mark.

    Raises:
        ArchiveError: `archive-newer`, `archive-damaged`.
    """
    raw = read_json(data, MARKER)
    version = raw.get("version") if isinstance(raw, dict) else None
    if isinstance(version, int) and version > FORMAT_VERSION:
        raise ArchiveError("archive-newer", version=str(version)[:20], known=FORMAT_VERSION, where=Where(file=name))
    marker = from_json(Marker, raw, MARKER)
    if marker.format != FORMAT or marker.version != FORMAT_VERSION or marker.layout not in LAYOUTS:
        raise damaged(MARKER, Phrase("archive-damaged/format"))
    return marker


def find(start: str | os.PathLike[str]) -> Path:
    """Find the nearest folder, from this one upwards, that is an archive.

    Raises:
        NotFoundError: `archive-missing`.
    """
    folder = Path(start).absolute()
    for candidate in (folder, *folder.parents):
        if (candidate / MARKER).is_file() and (candidate / "carriers").is_dir():
            return candidate
    raise NotFoundError("archive-missing/none-around", start=display_name(start))
