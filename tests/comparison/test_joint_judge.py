"""The judge of the diagnosis is judged: what it puts into reads, and what it takes for right and wrong."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from imagekeeper.errors import Where
from tests.benchmarks import joint
from tests.benchmarks.injecting import Cause, Draw, Kind, Trial, differing

MODULES = joint.MODULES["all"]


def content(size: int, seed: int) -> np.ndarray:
    """Bytes with every character that a transfer may change, and with a tail."""
    dice = np.random.default_rng(seed)
    data = dice.integers(0, 256, size).astype(np.uint8)
    data[: size // 8] = dice.integers(0, 32, size // 8)
    data[-size // 16 :] = 0xFF
    return data


def trial_of(kind: Kind, seed: int) -> Trial:
    dice = np.random.default_rng(seed)
    return kind(content(8192, seed), Draw(dice, lambda size: content(size, seed + 1000)))


def said(code: str, detail: dict[str, Any] | None = None, confidence: float = 0.95) -> Any:
    return SimpleNamespace(code=code, detail=detail or {}, confidence=confidence, where=Where())


@pytest.mark.parametrize("module", MODULES)
def test_each_kind_makes_reads_that_differ_and_always_the_same(module: str) -> None:
    for name, (kind, double) in joint.kinds_of((module,)).items():
        shown = 0
        for seed in range(12):
            trial, again = trial_of(kind, seed), trial_of(kind, seed)
            assert all(not differing(a, b) for a, b in zip(trial.reads, again.reads, strict=True)), name
            assert len(trial.causes) == 2 if double else len(trial.causes) == 1, name
            assert 2 <= len(trial.reads) <= 6, name
            assert not trial.volts or len(trial.volts) == len(trial.reads), name
            assert not trial.readers or len(trial.readers) == len(trial.reads), name
            shown += trial.differing >= trial.least
        assert shown >= 6, name


def test_no_kind_has_the_name_of_another() -> None:
    """Else the one would be judged for the other, and one set aside could be known."""
    assert set(MODULES) == {*joint.MODULES["known"], *joint.MODULES["aside"]}
    assert len(joint.kinds_of(MODULES)) == sum(len(joint.kinds_of((module,))) for module in MODULES)


@pytest.mark.parametrize("module", MODULES)
def test_the_truth_is_right_and_another_line_or_read_is_wrong(module: str) -> None:
    for name, (kind, _) in joint.kinds_of((module,)).items():
        trial = trial_of(kind, 3)
        for cause in trial.causes:
            full = dict(cause.detail) | ({"reads": list(cause.reads)} if cause.reads else {})
            word, which = joint.judged(said(cause.code, full), trial)
            assert word == "right", name
            assert trial.causes[which].code == cause.code, name
            alone = replace(trial, causes=(cause,))
            assert joint.judged(said("cannot-tell", {"causes": ["x", cause.code]}), alone) == ("right", 0), name
            assert joint.judged(said("cannot-tell", {"causes": ["x", "y"]}), alone) == ("wrong", -1), name
            if cause.reads:
                other = full | {"reads": [1 + cause.reads[0] % len(trial.reads)]}
                assert not joint.reads_right(said(cause.code, other), cause), name
            if "line" in cause.detail:
                assert not joint.parameters_right(said(cause.code, full | {"line": "D9"}), cause), name


def test_only_the_ill_read_differs_from_the_right_ones() -> None:
    seen = 0
    for name, (kind, double) in joint.kinds_of(MODULES).items():
        for seed in range(4):
            trial = trial_of(kind, seed)
            ill = {number for cause in trial.causes for number in cause.reads or ()}
            if not ill or (double and None in [cause.reads for cause in trial.causes]):
                continue
            right = [read for number, read in enumerate(trial.reads, 1) if number not in ill]
            assert all(not differing(right[0], read) for read in right), name
            seen += any(differing(right[0], trial.reads[number - 1]) for number in ill)
    assert seen > 60


def test_an_exact_rule_is_equal_where_it_foretells_the_bytes_and_wrong_elsewhere() -> None:
    a = content(4096, 1)
    half = np.tile(a[:2048], 2)
    trial = Trial((a, half), (Cause("something-else"),))
    assert joint.judged(said("address-line-stuck", {"line": "A11", "value": 0}), trial)[0] == "equal"
    assert joint.judged(said("address-line-stuck", {"line": "A11", "value": 1}), trial)[0] == "wrong"
    assert joint.judged(said("address-line-stuck", {"line": "A10", "value": 0}), trial)[0] == "wrong"
    swapped = (a & 0xFC) | ((a & 1) << 1) | ((a & 2) >> 1)
    wiring = [{"line": "D0", "carries": "D1"}, {"line": "D1", "carries": "D0"}]
    trial = Trial((a, swapped), (Cause("something-else"),))
    assert joint.judged(said("data-lines-exchanged", {"wiring": wiring}), trial)[0] == "equal"
    assert joint.judged(said("inverted"), trial)[0] == "wrong"
    assert joint.judged(said("inverted"), replace(trial, reads=(a, ~a)))[0] == "equal"


def test_what_must_never_be_named_is_wrong_however_unsure(monkeypatch: pytest.MonkeyPatch) -> None:
    trial = Trial((content(2048, 1), content(2048, 2)), (Cause("random-noise"),), never=("charge-loss",))
    monkeypatch.setattr(joint, "found_in", lambda trial: [said("random-noise"), said("charge-loss", confidence=0.1)])
    spoilt = joint.verdict("x", False, trial)
    assert (spoilt.wrong, spoilt.first) == (True, False)
    monkeypatch.setattr(joint, "found_in", lambda trial: [said("random-noise"), said("shifted", confidence=0.8)])
    fine = joint.verdict("x", False, trial)
    assert (fine.first, fine.named, fine.wrong, fine.top) == (True, True, False, (0.95, True))
    monkeypatch.setattr(joint, "found_in", lambda trial: [said("shifted"), said("random-noise")])
    late = joint.verdict("x", False, trial)
    assert (late.first, late.named, late.wrong, late.sure) == (False, True, True, (False, True))


def test_the_curve_counts_each_finding_once() -> None:
    rows = list(joint.curve([(0.55, True), (0.55, False), (0.65, True), (0.97, True), (1.0, True)]))
    counts = [int(row.split()[3]) for row in rows[:-1]]
    assert counts == [2, 1, 1, 1]
    assert rows[0].split()[4] == "50.0%"
    assert "66.7% right; goal" in rows[-1]
