"""The errors that several modules of the archive raise."""

from __future__ import annotations

from dataclasses import dataclass

from imagekeeper.errors import ArchiveError, ImagekeeperError, NotFoundError, Where
from imagekeeper.jsonable import one_line
from imagekeeper.legible import shortened
from imagekeeper.sentences.say import Phrase


@dataclass(frozen=True)
class Unfit:
    """A carrier or machine that was set aside while the others went on.

    Attributes:
        id: Its id, made printable.
        why: What is wrong with it.
    """

    id: str
    why: str


def unfit(object_id: str, problem: ImagekeeperError) -> Unfit:
    """Say that a carrier or machine was set aside, and why.

    Example:
        >>> unfit("tg85-u4", damaged("carrier.json", "it is empty")).why
        'carrier.json: it is empty'
    """
    return Unfit(one_line(object_id)[:80], one_line(problem.why)[:400])


def missing(carrier_id: str) -> NotFoundError:
    """Say that there is no such carrier."""
    return NotFoundError("carrier-missing", id=shortened(one_line(carrier_id), 80))


def damaged(name: str, why: Phrase | str) -> ArchiveError:
    """Say that a file of the archive is damaged."""
    return ArchiveError("archive-damaged", name=name, trouble=why, where=Where(file=name))
