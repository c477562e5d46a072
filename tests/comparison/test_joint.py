"""One account over all reads: what a few wrong bits in each come to, which read is ill, and what cannot be told."""

from __future__ import annotations

from collections.abc import Callable
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper.comparison.certainty import SUREST, seen_by, shares
from imagekeeper.comparison.joint import Reads, explain_all
from imagekeeper.comparison.pair import Bytes
from imagekeeper.findings import Finding
from tests.comparison.content import GLYPHS, PROGRAM, RANDOM, causes, chance, compared, flipped
from tests.comparison.test_address_lines import loose
from tests.comparison.test_timing import late


def some_on_line(good: Bytes, line: int, seed: int, count: int) -> Bytes:
    bad = good.copy()
    bad[np.random.default_rng(seed).choice(len(good), count, replace=False)] ^= np.uint8(1 << line)
    return bad


def some_not_selected(good: Bytes, seed: int, count: int) -> Bytes:
    bad = good.copy()
    open_to = np.flatnonzero(good != 0xFF)
    bad[np.random.default_rng(seed).choice(open_to, count, replace=False)] = 0xFF
    return bad


# ---- a few wrong bits in each of three reads


@pytest.mark.parametrize("good", [PROGRAM, RANDOM], ids=["program", "random"])
def test_a_few_wrong_bits_of_one_line_in_each_read_are_told_together(good: Bytes) -> None:
    reads = [some_on_line(good, 4, seed, 6) for seed in range(3)]
    for order in permutations(reads):
        found = causes(*order)[0]
        assert (found.code, found.detail["line"], found.detail["reads"]) == ("data-line-unstable", "D4", [1, 2, 3])
        assert len(found.detail["also_in"]) == 2
        assert found.confidence > 0.9


def test_what_all_show_together_is_surer_than_what_one_shows() -> None:
    """Two wrong bits on one line are little; in each of five reads they are much."""
    reads = [some_on_line(RANDOM, 2, seed, 3) for seed in range(5)]
    alone = causes(RANDOM, reads[0], RANDOM)

    def sure_of_line(found: tuple[Finding, ...]) -> float:
        return max((one.confidence for one in found if one.code == "data-line-unstable"), default=0.0)

    assert sure_of_line(causes(*reads)) > max(sure_of_line(alone), 0.9)


@pytest.mark.parametrize(
    ("fault", "code"),
    [
        (lambda good, seed: some_not_selected(good, seed, 5), "not-selected-at-times"),
        (lambda good, seed: loose(good, 5, seed, 0.001), "address-line-unstable"),
        (lambda good, seed: late(good, 0.0005, seed=seed), "slow-outputs"),
        (lambda good, seed: flipped(good, seed, 12), "random-noise"),
    ],
)
def test_other_faults_in_each_read_are_told_together(fault: Callable[[Bytes, int], Bytes], code: str) -> None:
    found = causes(*(fault(RANDOM, seed) for seed in (1, 2, 3)))[0]
    assert (found.code, found.detail["reads"]) == (code, [1, 2, 3])


def test_two_reads_with_faults_of_their_own_are_told_apart() -> None:
    stuck, noisy = PROGRAM | np.uint8(8), flipped(PROGRAM, 3, 40)
    for order in permutations([(PROGRAM, 0), (PROGRAM, 0), (stuck, 1), (noisy, 2)], 4):
        found = causes(*(read for read, _ in order))
        told = {one.code: one.detail["reads"] for one in found}
        where = {which: [at] for at, (_, which) in enumerate(order, 1) if which}
        assert told["data-line-stuck"] == where[1]
        assert told["random-noise"] == where[2]


# ---- which read is ill


FAULTS: dict[str, Callable[[Bytes], Bytes]] = {
    "data-line-stuck": lambda good: good | np.uint8(8),
    "address-line-stuck": lambda good: good[np.arange(len(good)) & ~32],
    "charge-loss": lambda good: flipped(good, 3, 60, only=0),
    "random-noise": lambda good: flipped(good, 4, 60),
    "inverted": lambda good: ~good,
    "not-selected-at-times": lambda good: some_not_selected(good, 3, 60),
    "bytes-exchanged": lambda good: good[np.arange(len(good)) ^ 1],
}


@pytest.mark.parametrize("code", FAULTS)
@pytest.mark.parametrize("total", [3, 4, 5])
def test_of_many_reads_the_one_that_is_ill_is_named(code: str, total: int) -> None:
    bad = FAULTS[code](PROGRAM)
    for ill in range(total):
        reads = [PROGRAM] * total
        reads[ill] = bad
        found = causes(*reads)[0]
        assert (found.code, found.detail["reads"]) == (code, [ill + 1])


def test_the_same_fault_in_two_of_five_reads_is_one_finding_of_both() -> None:
    bad = PROGRAM | np.uint8(8)
    found = causes(PROGRAM, bad, PROGRAM, bad, PROGRAM)
    assert [(one.code, one.detail["reads"]) for one in found] == [("data-line-stuck", [2, 4])]


@pytest.mark.parametrize("code", ["inverted", "bytes-exchanged"])
def test_two_reads_alone_do_not_tell_which_went_the_other_way(code: str) -> None:
    """Each follows from the other."""
    bad = FAULTS[code](PROGRAM)
    for reads in ((PROGRAM, bad), (bad, PROGRAM), (PROGRAM, bad, PROGRAM, bad)):
        found = causes(*reads)[0]
        assert found.code == code
        assert "reads" not in found.detail


def test_of_two_reads_that_are_no_stranger_than_each_other_none_is_called_ill() -> None:
    """Bytes at random: a bit that is 1 in the one and 0 in the other belongs as well to either."""
    for seed in range(5):
        good = np.random.default_rng(seed).integers(0, 256, 8192, np.uint8)
        bad = good.copy()
        bad[chance(good, seed, 0.05)] |= np.uint8(0x20)
        for reads, ways in (((good, bad), (1, 0)), ((bad, good), (0, 1))):
            found = causes(*reads)[0]
            assert (found.code, found.detail["line"]) == ("data-line-unstable", "D5")
            assert "reads" not in found.detail
            assert (found.detail["zero_to_one"] > 0, found.detail["one_to_zero"] > 0) == (ways[0] > 0, ways[1] > 0)
        assert causes(good, bad, good)[0].detail["reads"] == [2]


def test_what_is_stranger_in_a_program_is_called_ill() -> None:
    bad = PROGRAM.copy()
    bad[chance(PROGRAM, 1, 0.02)] |= np.uint8(0x20)
    assert causes(PROGRAM, bad)[0].detail["reads"] == [2]
    assert causes(bad, PROGRAM)[0].detail["reads"] == [1]


# ---- what cannot be told


def test_causes_that_foretell_the_same_bytes_cannot_be_told_apart() -> None:
    """D0, D1 and D7 of the characters are always 0: stuck at 0, and tied to one of those, is one and the same."""
    bad = GLYPHS & ~np.uint8(64)
    for reads in ((GLYPHS, bad), (bad, GLYPHS), (GLYPHS, bad, GLYPHS)):
        first, *others = causes(*reads)
        assert first.code == "cannot-tell"
        assert first.detail["causes"] == ["data-line-stuck", "data-lines-shorted"]
        assert first.detail["confidences"] == [one.confidence for one in others if one.code in first.detail["causes"]]
        assert first.confidence == pytest.approx(min(sum(first.detail["confidences"]), SUREST), abs=0.002)
        assert first.hint.strip()
        assert [one.code for one in others[:2]] == ["data-line-stuck", "data-lines-shorted"]


# ---- clean reads, and any reads


@pytest.mark.parametrize("good", [PROGRAM, GLYPHS, RANDOM], ids=["program", "characters", "random"])
@pytest.mark.parametrize("total", [2, 3, 5])
def test_clean_reads_give_nothing(good: Bytes, total: int) -> None:
    result = compared(*[good] * total, volts=[4.5 + i / 4 for i in range(total)])
    assert (result.agree, result.findings, result.next_read) == (True, (), None)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_the_order_of_reads_does_not_matter(data: st.DataObject) -> None:
    """The cause and its line, and the read that is ill, by its bytes."""
    total = data.draw(st.integers(3, 5))
    code = data.draw(st.sampled_from(sorted(FAULTS)))
    good = data.draw(st.sampled_from([PROGRAM[:4096], RANDOM]))
    order = data.draw(st.permutations(range(total)))
    reads = [good] * (total - 1) + [FAULTS[code](good)]
    found = causes(*(reads[i] for i in order))[0]
    plain = causes(*reads)[0]
    assert found.code == plain.code == code
    assert found.detail.get("line") == plain.detail.get("line")
    assert found.detail["reads"] == [order.index(total - 1) + 1]
    assert found.confidence == pytest.approx(plain.confidence, abs=0.02)


@settings(max_examples=60, deadline=None)
@given(reads=st.integers(1, 120).flatmap(lambda n: st.lists(st.binary(min_size=n, max_size=n), min_size=2, max_size=5)))
def test_any_reads_are_explained_without_failing(reads: list[bytes]) -> None:
    found = causes(*(np.frombuffer(read, np.uint8) for read in reads))
    assert bool(found) == (len(set(reads)) > 1)
    for one in found:
        assert 0 <= one.confidence <= 1
        assert set(one.detail.get("reads", ())) <= set(range(1, len(reads) + 1))


def test_equal_images_given_as_different_are_explained_by_nothing_left() -> None:
    """Three reads of which two share an image: the image of most is the measure, whichever stands first."""
    bad = PROGRAM ^ np.uint8(0xFF)
    reads = Reads(images=(bad, PROGRAM), numbers=((2,), (1, 3)), names=("b", "a and c"), volts=((None,), (None, None)))
    assert (reads.size, reads.total) == (len(PROGRAM), 3)
    assert explain_all(reads)[0].account.code == "inverted"


# ---- how sure


@given(st.lists(st.floats(0, 1e5), min_size=1, max_size=8))
def test_shares_add_up_to_one_and_the_shortest_has_most(lengths: list[float]) -> None:
    found = shares(lengths)
    assert sum(found) == pytest.approx(1)
    assert found[lengths.index(min(lengths))] == max(found)
    moved = shares([length + 1000 for length in lengths])
    assert moved == pytest.approx(found)


def test_two_bits_more_are_half_as_likely_and_few_witnesses_leave_doubt() -> None:
    assert shares([10, 12]) == pytest.approx([2 / 3, 1 / 3])
    seen = [seen_by(count) for count in range(1, 200)]
    assert seen == sorted(seen)
    assert (seen[0], seen[-1]) == (pytest.approx(2 / 3), SUREST)
