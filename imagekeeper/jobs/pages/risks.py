"""Which carriers should be looked after first, and why: the order of `urgency`, with what only a full look shows.

The weights order the list; they are not probabilities.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

from imagekeeper.evidence.urgency import DONE, urgency
from imagekeeper.provenance.agreed import Grade
from imagekeeper.ranked import Candidate, Evidence, rank


@dataclass(frozen=True, kw_only=True)
class Subject:
    """What the rule asks of a carrier.

    Attributes:
        id: Its id.
        kind: Its kind, or None where its record cannot be read.
        state: The grade of its evidence, or `unreadable`.
        reads: How many reads it has.
        recorded: Whether that grade was recorded.
        damaged: How many of its files are not what they were.
        doubtful: Whether every read of it holds bytes that its container speaks against.
        outdated: Whether reads came after its agreed image was settled.
        next: What to do about it, where that is known better than by its kind and grade.
        open: The codes of what speaks against its image or record.
    """

    id: str
    kind: str | None
    state: str
    reads: int = 0
    recorded: bool = True
    damaged: int = 0
    doubtful: bool = False
    outdated: bool = False
    next: str = ""
    open: tuple[str, ...] = ()


Risk = Candidate[Subject]

#: What is added for what only a full look shows. Our own choice, no source.
_DOUBTFUL, _OUTDATED = 0.2, 0.1


def risks(subjects: Sequence[Subject]) -> tuple[Risk, ...]:
    """Rank the carriers that should be looked after, the most urgent first.

    Example:
        >>> first, second = risks([Subject(
        ...     id="u4", kind="eprom", state="single", reads=1
        ... ), Subject(id="u30", kind="ram", state="none")])
        >>> first.answer.id, [e.says for e in first.evidence]
        ('u30', ['unread; its battery holds the data, and may leak'])
        >>> risks([Subject(id="u17", kind="mask-rom", state="independent", reads=2)])
        ()
    """
    found = (_risk(subject) for subject in subjects)
    return rank([risk for risk in found if risk.score >= DONE])


def _risk(subject: Subject) -> Risk:
    grade = cast("Grade", subject.state) if subject.recorded and subject.kind is not None else None
    known = urgency(subject.kind, subject.reads, grade, subject.open)
    reasons = [Evidence(known.because, known.weight)]
    if subject.damaged and subject.kind is not None:
        many = "a file of it in the archive is" if subject.damaged == 1 else f"{subject.damaged} files of it are"
        reasons.append(Evidence(f"{many} not what was kept", 1.0))
    if subject.doubtful:
        reasons.append(Evidence("every read of it holds doubtful bytes", _DOUBTFUL))
    if subject.outdated:
        reasons.append(Evidence("reads were added after its image was settled", _OUTDATED))
    reasons.sort(key=lambda evidence: -evidence.weight)
    return Candidate(subject, min(sum(e.weight for e in reasons), 1.0), tuple(reasons))
