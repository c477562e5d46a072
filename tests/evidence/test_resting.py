"""What was made from images that are none any more: own rules, no source."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from imagekeeper.evidence.resting import resting_finding, unfounded
from imagekeeper.provenance.derivations import Derivation, DerivationSource
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.replacements import Replacement

from .records import A, B, C, agreed, carrier, read

D = "d" * 64


def derived(name: str, sha256: str, *sources: tuple[str, str, str]) -> Derivation:
    return Derivation(
        id=name, title=None, sources=tuple(DerivationSource(*one) for one in sources), steps=(), sha256=sha256,
        size_bytes=32, path=None, software="s", added="2026-11-24T22:00:00Z",
    )  # fmt: skip


def new(name: str, image: str, sha256: str) -> Replacement:
    return Replacement(
        id=name, part=None, sha256=sha256, read_back_sha256=None, matches=None, operator=None, date=None, note=None,
        added="2026-11-24T22:00:00Z", image=image,
    )  # fmt: skip


def pair(**changes: Any) -> tuple[CarrierRecord, dict[str, CarrierRecord]]:
    """A joined image of u4 and u5, whose replacement rests on it; `changes` are those of u5."""
    u4 = carrier(
        [read(1)], derivations=(derived("d1", C, ("u4", "agreed", A), ("u5", "agreed", B)),),
        replacements=(new("w1", "d1", C), new("w2", "r1", A)),
    )  # fmt: skip
    u5 = replace(carrier([read(1, B)], id="u5", agreed=agreed(B)), **changes)
    return u4, {"u5": u5}


def test_all_is_well_while_the_sources_are_what_they_were() -> None:
    assert unfounded(*pair()) == ()
    assert resting_finding(*pair()) is None


def test_an_agreed_image_that_changed_in_another_carrier_tells_here() -> None:
    for now in (agreed(D), agreed(None), None):
        found = unfounded(*pair(agreed=now))
        assert [(one.id, one.sources) for one in found] == [("d1", ("u5 agreed",)), ("w1", ("u4 d1",))]
    finding = resting_finding(*pair(agreed=agreed(D)))
    assert finding is not None
    assert (finding.code, finding.severity) == ("derived-outdated", "warning")
    assert finding.detail == {"made": ["d1", "w1"], "sources": ["u5 agreed", "u4 d1"]}
    assert "d1 and w1" in finding.why
    assert "u5 agreed" in finding.why


def test_a_read_that_was_taken_back_tells_unless_another_holds_the_same_bytes() -> None:
    u4 = carrier([read(1)], derivations=(derived("d1", C, ("u5", "r1", B)),))
    assert unfounded(u4, {"u5": carrier([read(2, B)], id="u5")}) == ()
    assert [one.id for one in unfounded(u4, {"u5": carrier([read(2, A)], id="u5")})] == ["d1"]


def test_what_is_unfounded_spreads_over_carriers_and_a_circle_rests_on_nothing() -> None:
    u6 = carrier([read(1, A)], id="u6", agreed=agreed(A))
    u5 = carrier([], id="u5", agreed=None, derivations=(derived("d1", B, ("u6", "agreed", A)),))
    u4 = carrier([], agreed=None, derivations=(derived("d1", C, ("u5", "d1", B), ("u5", "d1", B)),))
    assert unfounded(u4, {"u5": u5, "u6": u6}) == ()
    assert unfounded(u4, {"u5": u5, "u6": replace(u6, agreed=agreed(D))})[0].sources == ("u5 d1",)
    assert unfounded(u4, {"u5": replace(u5, derivations=(derived("d1", D, ("u6", "agreed", A)),)), "u6": u6})
    round_u5 = replace(u5, derivations=(derived("d1", B, ("u4", "d1", C)),))
    assert [one.id for one in unfounded(u4, {"u5": round_u5})] == ["d1"]


def test_of_a_carrier_that_is_not_here_nothing_is_said() -> None:
    u4, _ = pair()
    assert unfounded(u4, {}) == ()
