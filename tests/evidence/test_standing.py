"""The grade of the evidence for an image: what counts, what does not, and what holds it back."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.addresses import Doubt, Span
from imagekeeper.evidence.conditions import differing
from imagekeeper.evidence.standing import GRADES, standing
from imagekeeper.provenance.agreed import Agreed
from imagekeeper.provenance.reads import Read
from imagekeeper.provenance.references import Reference, parse_reference
from imagekeeper.provenance.standing import Standing
from tests.evidence.records import A, B, C, agreed, carrier, read, seen

DOUBT = Doubt(start=0, length=4, code="record-sum", why="a record's check value is wrong", line=3)


def weighed(
    reads: Sequence[Read], vote: Agreed | None = None, references: Sequence[Reference] = (),
    own_checks: Sequence[str] = (),
) -> Standing:  # fmt: skip
    settled = vote or agreed(references=references)
    checked = (seen(A, checks=tuple(own_checks)), seen(B), seen(C))
    return standing(carrier(reads, agreed=settled, examinations=checked))


def voted(sha256: str) -> Agreed:
    return agreed(sha256, voted_by="byte", vote="Ann accepted the majority of three reads")


def test_no_read_supports_nothing() -> None:
    found = weighed([])
    assert (found.grade, found.sha256, found.reads) == ("none", None, ())


def test_a_read_without_bytes_is_no_read() -> None:
    assert weighed([read(1, segments=())]).grade == "none"


def test_one_read_is_single() -> None:
    found = weighed([read(1)])
    assert (found.grade, found.sha256, found.reads) == ("single", A, ("r1",))
    assert found.next.does
    assert "again" in found.next.does


def test_equal_reads_of_unknown_conditions_are_repeated() -> None:
    found = weighed([read(1), read(2)])
    assert found.grade == "repeated"
    assert "not recorded" in found.because


def test_equal_reads_in_known_equal_conditions_are_repeated() -> None:
    same = {"reader": "bench reader", "operator": "Ann", "vcc": "5.0", "specimen": "1"}
    found = weighed([read(1, **same), read(2, **same)])
    assert found.grade == "repeated"
    assert "not recorded" not in found.because


@pytest.mark.parametrize(
    ("name", "one", "other", "word"),
    [
        ("reader", "bench reader", "borrowed reader", "reader"),
        ("vcc", "5.0", "4.75", "supply voltage"), ("specimen", "1", "2", "specimen"),
    ],
)  # fmt: skip
def test_a_known_difference_makes_independent(name: str, one: str, other: str, word: str) -> None:
    found = weighed([read(1, **{name: one}), read(2, **{name: other})])
    assert found.grade == "independent"
    assert f"differ in {word}." in found.because
    assert found.next.does


@pytest.mark.parametrize("name", ["reader", "operator", "vcc", "specimen"])
def test_an_unknown_condition_is_no_difference(name: str) -> None:
    assert weighed([read(1, **{name: "5"}), read(2)]).grade == "repeated"


@pytest.mark.parametrize(
    ("name", "one", "other"), [("vcc", "5", "5.00"), ("operator", "Ann ", "ann"), ("reader", "a  b", "A b")]
)
def test_spellings_of_one_thing_are_no_difference(name: str, one: str, other: str) -> None:
    assert weighed([read(1, **{name: one}), read(2, **{name: other})]).grade == "repeated"


def test_different_reads_are_disputed() -> None:
    found = weighed([read(1), read(2, B), read(3)])
    assert (found.grade, found.sha256) == ("disputed", None)
    assert "r1 and r3" in found.because
    assert "r2" in found.because


def test_the_same_bytes_at_other_addresses_are_disputed() -> None:
    found = weighed([read(1), read(2, segments=(Span(0, 8), Span(64, 8)))])
    assert found.grade == "disputed"
    assert "different addresses" in found.because


def test_a_shift_of_the_whole_does_not_matter() -> None:
    assert weighed([read(1), read(2, segments=(Span(0xF800, 16),))]).grade == "repeated"


def test_the_same_file_twice_counts_once() -> None:
    copy = {"file": "u4.bin", "modified": "2026-11-24T22:00:00Z"}
    found = weighed([read(1, reader="a", **copy), read(2, reader="b", **copy)])
    assert (found.grade, found.reads) == ("single", ("r1",))
    assert "r2 is the same file as r1" in found.because


def test_two_files_without_times_count_once_unless_conditions_differ() -> None:
    piped = {"file": "-", "modified": None}
    assert weighed([read(1, **piped), read(2, **piped)]).grade == "single"
    assert weighed([read(1, vcc="5", **piped), read(2, vcc="4.5", **piped)]).grade == "independent"


def test_other_names_or_times_are_other_files() -> None:
    assert weighed([read(1, file="a"), read(2, file="a")]).grade == "repeated"


def test_a_doubtful_read_repeats_but_is_not_independent() -> None:
    found = weighed([read(1, reader="a"), read(2, reader="b", doubts=(DOUBT,))])
    assert found.grade == "repeated"
    assert "r2 holds bytes that the file itself speaks against" in found.because
    third = weighed([read(1, reader="a"), read(2, reader="b", doubts=(DOUBT,)), read(3, reader="c")])
    assert third.grade == "independent"


def test_a_reference_corroborates_what_is_independent() -> None:
    reference = parse_reference(A, "the maker's listing")
    found = weighed([read(1, vcc="5"), read(2, vcc="4.5")], references=[reference])
    assert (found.grade, found.next.does) == ("corroborated", "")
    assert "the maker's listing" in found.because


def test_a_reference_alone_does_not_corroborate() -> None:
    assert weighed([read(1)], references=[parse_reference(A)]).grade == "single"
    found = weighed([read(1), read(2)], references=[parse_reference(A)])
    assert found.grade == "repeated"
    assert found.next.does


def test_a_crc_alone_is_said_to_be_weaker() -> None:
    reads = [read(1, vcc="5"), read(2, vcc="4.5")]
    found = weighed(reads, references=[parse_reference("CBF43926")])
    assert found.grade == "corroborated"
    assert "weaker" in found.because
    assert found.next.does
    both = weighed(reads, references=[parse_reference("CBF43926"), parse_reference(A)])
    assert "weaker" not in both.because
    assert both.next.does == ""


def test_the_images_own_check_corroborates() -> None:
    found = weighed([read(1, vcc="5"), read(2, vcc="4.5")], own_checks=["16-bit sum at 3FFE"])
    assert found.grade == "corroborated"
    assert "16-bit sum at 3FFE" in found.because


def test_another_specimen_corroborates_what_differs_otherwise_too() -> None:
    assert weighed([read(1, specimen="1"), read(2, specimen="2")]).grade == "independent"
    both = weighed([read(1, specimen="1", reader="a"), read(2, specimen="2", reader="b")])
    assert both.grade == "corroborated"


def test_an_accepted_vote_rests_on_the_reads_that_give_it() -> None:
    vote = voted(A)
    found = weighed([read(1, vcc="5"), read(2, B), read(3, vcc="4.5")], vote)
    assert (found.grade, found.sha256, found.reads) == ("independent", A, ("r1", "r3"))
    assert "Ann accepted" in found.because
    assert "r2 gives otherwise" in found.because


def test_a_voted_image_that_no_read_gives_is_voted() -> None:
    found = weighed([read(1), read(2, B), read(3, B)], voted(C))
    assert (found.grade, found.sha256, found.reads) == ("voted", C, ())


conditions = st.sampled_from([None, "1", "2"])
reads = st.lists(
    st.tuples(st.sampled_from([A, B]), conditions, conditions, st.booleans()), max_size=5
).map(lambda rows: [read(n, s, reader=r, vcc=v, doubts=(DOUBT,) if d else ()) for n, (s, r, v, d) in enumerate(rows)])


@given(reads)
def test_every_grade_says_why_and_what_next(rows: list[Read]) -> None:
    found = weighed(rows)
    assert found.grade in GRADES
    assert found.because.endswith((".", "…"))
    assert (found.next.does == "") == (found.grade == "corroborated")
    assert (found.sha256 is None) == (found.grade in ("none", "disputed"))


@given(reads)
def test_the_order_of_reads_does_not_matter(rows: list[Read]) -> None:
    assert weighed(rows).grade == weighed(rows[::-1]).grade


@given(reads)
def test_one_more_equal_read_never_lowers_the_weighed(rows: list[Read]) -> None:
    ranks = list(GRADES)
    before = weighed(rows)
    if before.sha256 is not None:
        assert ranks.index(weighed([*rows, read(50, before.sha256)]).grade) >= ranks.index(before.grade)


@given(reads)
def test_difference_is_mutual(rows: list[Read]) -> None:
    for a in rows:
        assert differing(a, a) == ()
        for b in rows:
            assert differing(a, b) == differing(b, a)


def test_what_is_not_recorded_for_all_is_named_and_what_is_recorded_is_not() -> None:
    """A condition that one read leaves out cannot be said to be the same."""
    found = weighed([read(1, reader="a", vcc="5"), read(2, reader="a")])
    assert "(supply voltage, specimen, person not recorded for all)" in found.because


def test_a_crc_is_spoken_of_only_where_one_was_given() -> None:
    for found in (weighed([read(1)]), weighed([read(1, vcc="5"), read(2, vcc="4.5")])):
        assert "CRC-32" not in found.because


def test_a_dispute_names_its_sides_with_digest_and_size() -> None:
    found = weighed([read(1), read(2, B), read(3), read(4)])
    assert f"r1, r3 and r4 give {A[:12]}… (16 bytes); r2 gives {B[:12]}… (16 bytes)." in found.because
    assert "addresses" not in found.because


def test_what_was_recorded_stands_beside_what_is_derived() -> None:
    found = standing(carrier([read(1), read(2)], agreed=agreed(grade="corroborated")))
    assert (found.settled, found.recorded, found.grade) == (True, "corroborated", "repeated")
    unsettled = standing(carrier([read(1)], agreed=None))
    assert (unsettled.settled, unsettled.recorded) == (False, None)


def test_what_reads_share_is_told_of_two_and_not_of_one() -> None:
    assert weighed([read(1, reader="a1")]).shared == ()
    assert weighed([read(1, reader="a1"), read(2, reader="a1")]).shared == ("reader a1",)


def test_the_figures_are_those_of_the_image_and_of_the_read() -> None:
    assert weighed([read(1)]).figures == {"crc32": "CBF43926", "sum16": "3F2A"}
    assert standing(carrier([read(1)], examinations=())).figures == {"crc32": "CBF43926"}


def test_nothing_rises_above_repeated_while_something_is_open_and_the_reason_says_so() -> None:
    pair = [read(1, vcc="5"), read(2, vcc="4.5")]
    record = carrier(pair, label="CS 0001", agreed=agreed(references=(parse_reference(A),)))
    found = standing(record)
    assert found.grade == "repeated"
    assert "No more than that while this is open: label-sum-differs." in found.because
    single = standing(carrier([read(1)], label="CS 0001"))
    assert single.grade == "single"
    assert "while this is open" not in weighed(pair).because
    assert "Explained" not in weighed(pair).because


def test_a_vote_of_an_older_version_names_who_voted() -> None:
    old = agreed(C, voted_by="byte", voters=("r1", "r2", "r3"))
    reads = [read(1), read(2, B), read(3)]
    assert "A vote by bytes of r1, r2, r3 was accepted" in weighed(reads, old).because
    older = agreed(C, voted_by="byte")
    assert "A vote by bytes of r1, r2, r3 was accepted" in weighed(reads, older).because


def test_three_conditions_are_named_as_people_name_three() -> None:
    found = weighed([read(1, reader="a1", vcc="5", specimen="1"), read(2, reader="b2", vcc="4", specimen="2")])
    assert "differ in reader, supply voltage and specimen." in found.because
    assert "shown to work" not in found.because


def test_a_qualified_reader_is_told() -> None:
    good = {"qualified": "a known chip was read right", "reader": "a1"}
    assert weighed([read(1, **good), read(2, **good)]).because.endswith("The reader had been shown to work.")


def test_another_person_is_no_second_difference_beside_another_specimen() -> None:
    pair = [read(1, specimen="1", operator="harbour office"), read(2, specimen="2", operator="visitor")]
    assert weighed(pair).grade == "independent"
