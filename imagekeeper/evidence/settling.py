"""What is recorded when somebody settles the image of a carrier."""

from __future__ import annotations

from imagekeeper.provenance import places
from imagekeeper.provenance.agreed import Agreed
from imagekeeper.provenance.standing import Standing


def settled_as(found: Standing, base: Agreed | None = None) -> Agreed:
    """Give the record of how the evidence stands on this day.

    Args:
        found: How it stands.
        base: What was decided by a person: the vote that was accepted, and references that were supplied.
    """
    return Agreed(
        sha256=found.sha256, grade=found.grade, because=found.because, raise_by=found.next.does or None,
        reads=found.reads, image=None if found.sha256 is None else places.AGREED_IMAGE,
        references=base.references if base else (), voted_by=base.voted_by if base else None,
        voters=base.voters if base else (), vote=base.vote if base else None, rules=found.rules,
        open=tuple(dict.fromkeys(one.code for one in found.open)),
    )  # fmt: skip
