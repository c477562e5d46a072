"""The errors that several modules of the archive raise."""

from __future__ import annotations

from imagekeeper.errors import ArchiveError, NotFoundError, Where
from imagekeeper.jsonable import one_line
from imagekeeper.legible import shortened
from imagekeeper.sentences.say import Phrase


def missing(carrier_id: str) -> NotFoundError:
    """Say that there is no such carrier."""
    return NotFoundError("carrier-missing", id=shortened(one_line(carrier_id), 80))


def damaged(name: str, why: Phrase | str) -> ArchiveError:
    """Say that a file of the archive is damaged."""
    return ArchiveError("archive-damaged", name=name, trouble=why, where=Where(file=name))
