"""What came of looking at images before, kept beside the index: it can be deleted at any time.

Looking at an image takes far longer than reading it, and gives the same each time. Only digests are kept: each of an
image, of the rules and the program that looked at it, and of all that they found. An examination that was changed has
another digest, and its image is looked at again.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Self

from imagekeeper.archive.index.sqlite.base import cache_file
from imagekeeper.errors import ImagekeeperError
from imagekeeper.files import write_whole
from imagekeeper.jsonable import to_json
from imagekeeper.provenance.testimony import Examination
from imagekeeper.version import __version__

if TYPE_CHECKING:
    from imagekeeper.archive.store import ArchiveStore

#: So many digits of a digest are kept: no two of any number of images that one can keep will have them in common.
_DIGITS = 40

#: A larger file is begun anew. [byte]
_LIMIT = 64 << 20


def digest_of(kind: str, one: Examination) -> str:
    """Digest an examination with what it was made by; `kind` is that of the carrier."""
    key = json.dumps([__version__, kind, to_json(one)], sort_keys=True)
    return hashlib.sha256(key.encode()).hexdigest()[:_DIGITS]


def remember(archive: ArchiveStore, kind: str, examinations: Iterable[Examination]) -> None:
    """Note examinations that this program has just made; where that is impossible they are made again when needed."""
    lines = "".join(f"{digest_of(kind, one)}\n" for one in examinations)
    file = _file(archive)
    with contextlib.suppress(OSError):
        if lines:
            file.parent.mkdir(parents=True, exist_ok=True)
            with open(file, "a", encoding="ascii") as notes:
                notes.write(lines)


class Remembered:
    """What was remembered; use it in a `with` statement.

    Args:
        archive: The archive.
    """

    def __init__(self, archive: ArchiveStore) -> None:
        self._file = _file(archive)
        self._known: set[str] = set()
        self._new: set[str] = set()

    def __enter__(self) -> Self:
        """Read what is known; a file that cannot be read is none."""
        with contextlib.suppress(OSError, ValueError):
            if self._file.stat().st_size <= _LIMIT:
                lines = self._file.read_text("ascii").split("\n")
                self._known = {line for line in lines if len(line) == _DIGITS}
        return self

    def __exit__(self, *problem: object) -> None:
        """Keep what is new."""
        if self._new - self._known:
            lines = "\n".join(sorted(self._known | self._new)) + "\n"
            with contextlib.suppress(OSError, ImagekeeperError):
                self._file.parent.mkdir(parents=True, exist_ok=True)
                write_whole(self._file, (lines.encode("ascii"),), force=True)

    def knows(self, kind: str, one: Examination) -> bool:
        """Whether just this was found before."""
        return digest_of(kind, one) in self._known

    def keep(self, kind: str, one: Examination) -> None:
        """Remember what was found."""
        self._new.add(digest_of(kind, one))


def _file(archive: ArchiveStore) -> Path:
    return cache_file(archive).with_suffix(".examined")
