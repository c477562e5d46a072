"""Which carriers should be looked after first, and why: a rule of our own, no source.

The weights order the list; they are not probabilities. What is safe is not listed: a carrier that does not decay, or
one whose evidence is independent or better.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from imagekeeper.ranked import Candidate, Evidence, rank

#: How fast a kind loses what it holds, with the reason in words.
DECAY: dict[str, tuple[float, str]] = {
    "ram": (0.30, "a battery holds its content, and it goes with the battery"),
    "clock-ram": (0.30, "a battery inside it holds its content, and it goes with the battery"),
    "floppy": (0.15, "magnetic media fade and shed"),
    "tape": (0.15, "magnetic media fade and shed"),
    "hard-disk": (0.15, "a drive may start for the last time"),
    "eprom": (0.10, "its cells lose their charge over the decades"),
    "eeprom": (0.10, "its cells lose their charge over the decades"),
    "flash": (0.10, "its cells lose their charge over the decades"),
}

#: What the evidence lacks, by grade.
LACK: dict[str, tuple[float, str]] = {
    "unreadable": (0.70, "its record in the archive is damaged"),
    "none": (0.60, "it has not been read"),
    "disputed": (0.45, "its reads differ, and nothing settles which is right"),
    "single": (0.35, "only one read gives its image"),
    "repeated": (0.15, "its equal reads differ in no known condition, so that one fault can be in all of them"),
}

#: The longest list that a person reads.
SHOWN = 12


@dataclass(frozen=True)
class Subject:
    """What the rule asks of a carrier.

    Attributes:
        id: Its id.
        kind: Its kind, or None where its record cannot be read.
        state: The grade of its evidence, or `unreadable`.
        damaged: How many of its files are not what they were.
        doubtful: Whether every read of it holds bytes that its container speaks against.
        outdated: Whether reads came after its agreed image was settled.
        next: What to do about it.
    """

    id: str
    kind: str | None
    state: str
    damaged: int = 0
    doubtful: bool = False
    outdated: bool = False
    next: str = ""


Risk = Candidate[Subject]


def risks(subjects: Sequence[Subject]) -> tuple[Risk, ...]:
    """Rank the carriers that should be looked after, the most urgent first.

    Example:
        >>> first, second = risks([Subject("u4", "eprom", "single"), Subject("u30", "ram", "none")])
        >>> first.answer.id, [e.says for e in second.evidence]
        ('u30', ['only one read gives its image', 'its cells lose their charge over the decades'])
        >>> risks([Subject("u17", "mask-rom", "independent")])
        ()
    """
    found = (_risk(subject) for subject in subjects)
    return rank([risk for risk in found if risk.evidence])


def _risk(subject: Subject) -> Risk:
    reasons: list[Evidence] = []
    if subject.damaged:
        many = "a file of it in the archive is" if subject.damaged == 1 else f"{subject.damaged} of its files are"
        reasons.append(Evidence(f"{many} not what was kept", 0.70))
    if subject.state in LACK:
        weight, says = LACK[subject.state]
        reasons.append(Evidence(says, weight))
        if subject.kind in DECAY:
            weight, says = DECAY[subject.kind]
            reasons.append(Evidence(says, weight))
    if subject.doubtful:
        reasons.append(Evidence("every read of it holds doubtful bytes", 0.20))
    if subject.outdated:
        reasons.append(Evidence("reads were added after its image was settled", 0.10))
    reasons.sort(key=lambda evidence: -evidence.weight)
    return Candidate(subject, min(sum(e.weight for e in reasons), 1.0), tuple(reasons))
