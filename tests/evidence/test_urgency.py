"""What is most at risk, and least proved, comes first."""

from __future__ import annotations

from itertools import pairwise
from typing import get_args

import pytest

from imagekeeper.archive.index.sqlite.base import CarrierRow
from imagekeeper.evidence.urgency import DONE, RISKS, urgency
from imagekeeper.jobs.carriers.urging import todo
from imagekeeper.provenance.agreed import Grade
from imagekeeper.provenance.kinds import KINDS


def row(name: str, kind: str | None, reads: int = 0, grade: str | None = None) -> CarrierRow:
    return CarrierRow(
        id=name, kind=kind, part=None, machine=None, board=None, position=None, reads=reads, agreed_sha256=None,
        grade=grade, problem=None if kind else "damaged",
    )  # fmt: skip


def test_every_kind_has_a_risk_and_a_reason() -> None:
    """Common practice, no source."""
    assert set(RISKS) == set(KINDS)
    assert all(0 < risk.weight <= 1 and risk.why for risk in RISKS.values())


@pytest.mark.parametrize("kind", list(KINDS))
def test_better_evidence_is_never_more_urgent(kind: str) -> None:
    grades: list[Grade | None] = ["disputed", "single", "voted", None, "repeated", "independent", "corroborated"]
    weights = [urgency(kind, 0, None).weight, *(urgency(kind, 2, grade).weight for grade in grades)]
    assert all(a > b for a, b in pairwise(weights))
    assert weights[-2] < DONE
    assert set(grades) - {None} | {"none"} == set(get_args(Grade))


def test_the_order_of_a_machine_s_carriers() -> None:
    """Battery, then disks, then chips; unread before read once; what is proved is not listed."""
    rows = [
        row("a-mask", "mask-rom"), row("b-eprom", "eprom", 1, "single"), row("c-eprom", "eprom"),
        row("d-disk", "floppy"), row("e-ram", "ram"), row("f-eprom", "eprom", 2, "independent"), row("g-broken", None),
        row("h-ram", "ram", 3, "corroborated"),
    ]  # fmt: skip
    result = todo(rows)
    assert [line.id for line in result.lines] == ["e-ram", "g-broken", "d-disk", "c-eprom", "b-eprom", "a-mask"]
    assert (result.unread, result.done) == (5, 2)
    assert "audit" in result.lines[1].next
