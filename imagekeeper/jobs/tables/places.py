"""Where files of own rows lie: beside the archive's mark, in the person's folder, and what came from elsewhere."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from imagekeeper import files
from imagekeeper.archive.ocfl.reading import entries
from imagekeeper.errors import ImagekeeperError
from imagekeeper.findings import Finding
from imagekeeper.jobs.tables.folders import FOLDER, RECEIVED, VARIABLE, person_folder
from imagekeeper.jsonable import one_line
from imagekeeper.own import Origin
from imagekeeper.sentences.say import Phrase
from imagekeeper.tables.own_file import LIMIT, wrong_row

#: So many files of a folder are read.
FILES = 100


@dataclass(frozen=True)
class HeldFile:
    """The bytes of a file of own rows.

    Attributes:
        path: Where it lies.
        name: How it is called in messages: within an archive, relative to it.
        origin: Whose it is.
        data: Its bytes.
    """

    path: Path
    name: str
    origin: Origin
    data: bytes


def own_files(archive: Path | None) -> tuple[list[HeldFile], list[Finding]]:
    """Read the files of own rows, those of the person first, then those beside the archive.

    Args:
        archive: The archive's folder, or None for the person's alone.
    """
    found: list[HeldFile] = []
    faults: list[Finding] = []
    person = Path(person_folder())
    if os.environ.get(VARIABLE) and not person.is_dir():
        faults.append(wrong_row(files.display_name(person), None, Phrase("own-rows/no-folder")))
    _read(person, files.display_name(person), "person", found, faults)
    if archive is not None:
        _read(archive / FOLDER, FOLDER, "archive", found, faults)
    return found, faults


def received_files(archive: Path) -> tuple[list[HeldFile], list[Finding]]:
    """Read the files of rows that came from other archives, each in the folder of its archive."""
    found: list[HeldFile] = []
    faults: list[Finding] = []
    for name, kind in _entries(archive / FOLDER / RECEIVED, f"{FOLDER}/{RECEIVED}", faults).items():
        if kind == "folder":
            shown = one_line(f"{FOLDER}/{RECEIVED}/{name}")
            _read(archive / FOLDER / RECEIVED / name, shown, "accepted", found, faults)
    return found, faults


def read_file(path: Path, name: str) -> bytes:
    """Read one file of own rows; a byte more than may be is enough to tell that it is too large.

    Raises:
        ImagekeeperError: It cannot be read.
    """
    with files.opened(path) as (file, _):
        pieces = []
        left = LIMIT + 1
        while left and (piece := file.read(left)):
            pieces.append(piece)
            left -= len(piece)
    return b"".join(pieces)


def _read(folder: Path, called: str, origin: Origin, found: list[HeldFile], faults: list[Finding]) -> None:
    names = [name for name in _entries(folder, called, faults) if name.endswith(".toml") and not name.startswith(".")]
    if len(names) > FILES:
        faults.append(wrong_row(called, None, Phrase("own-rows/many-files", limit=FILES)))
    for name in names[:FILES]:
        path, shown = folder / name, f"{called}/{one_line(name)}"
        try:
            found.append(HeldFile(path, shown, origin, read_file(path, shown)))
        except (ImagekeeperError, OSError) as problem:
            why = problem.why if isinstance(problem, ImagekeeperError) else files.reason(problem)
            faults.append(wrong_row(shown, None, Phrase("own-rows/unread", trouble=why)))


def _entries(folder: Path, called: str, faults: list[Finding]) -> dict[str, str]:
    try:
        return entries(folder)
    except FileNotFoundError:
        return {}
    except OSError as problem:
        why = Phrase("own-rows/unread", trouble=files.reason(problem))
        faults.append(wrong_row(called, None, why))
        return {}
