"""What speaks against an image: open until it is corrected or explained, and open again on new evidence."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from imagekeeper.evidence.label_sums import label_sums
from imagekeeper.evidence.parts import marked_chips, package_pins
from imagekeeper.evidence.standing import standing
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.references import parse_reference
from imagekeeper.provenance.standing import Contradiction
from imagekeeper.provenance.testimony import MachineTrial, Sign, StatedReason
from tests.evidence.records import A, B, agreed, carrier, read, seen

STUCK = Sign(
    code="data-line-stuck", severity="fault", confidence=0.95, why="D3 reads 1", hint="clean D3",
    detail={"line": "D3", "value": 1},
)  # fmt: skip
READS = (read(1, reader="bench reader"), read(2, reader="pocket reader"))


def held(**changes: Any) -> CarrierRecord:
    return carrier(changes.pop("reads", READS), **changes)


def codes(record: CarrierRecord) -> list[str]:
    return [one.code for one in standing(record).open]


def explained(record: CarrierRecord, one: Contradiction, **changes: Any) -> CarrierRecord:
    members: dict[str, Any] = {
        "id": "e1", "code": one.code, "basis": one.basis, "why": one.why, "reason": "it is so", "by": None,
        "added": "2026-11-25T12:00:00Z",
    }  # fmt: skip
    return replace(record, explanations=(*record.explanations, StatedReason(**{**members, **changes})))


def test_two_reads_with_the_same_fault_are_not_independent() -> None:
    found = standing(held(examinations=(seen(A, STUCK),)))
    assert (found.grade, [one.code for one in found.open]) == ("repeated", ["data-line-stuck"])
    assert found.open[0].where == ("r1", "r2")
    assert found.next.does == "clean D3"
    assert standing(held()).grade == "independent"


def test_a_note_speaks_against_nothing() -> None:
    assert codes(held(examinations=(seen(A, replace(STUCK, severity="note")),))) == []


def test_a_fault_of_a_read_that_gives_another_image_is_not_held_against_this_one() -> None:
    record = held(examinations=(seen(A), seen(B, STUCK)))
    assert codes(record) == []
    disputed = standing(replace(record, reads=(*READS, read(3, B))))
    assert (disputed.grade, [one.where for one in disputed.open]) == ("disputed", [("r3",)])


def test_an_explanation_lets_the_grade_rise_and_stays_beside_it() -> None:
    record = held(examinations=(seen(A, STUCK),))
    found = standing(explained(record, standing(record).open[0]))
    assert (found.grade, found.open) == ("independent", ())
    assert [one.explained.reason for one in found.explained if one.explained] == ["it is so"]
    assert "Explained, with the reason kept: data-line-stuck." in found.because


@pytest.mark.parametrize(
    "changes",
    [
        {"examinations": (seen(A, replace(STUCK, detail={"line": "D4", "value": 1})),)},
        {"examinations": (seen(A, STUCK, replace(STUCK, detail={"line": "D5", "value": 1})),)},
        {"reads": (*READS, read(3, B, added="2026-11-26T12:00:00Z"))},
    ],
)
def test_new_evidence_opens_it_again(changes: dict[str, Any]) -> None:
    record = held(examinations=(seen(A, STUCK),))
    said = explained(record, standing(record).open[0])
    again = standing(replace(said, **changes))
    assert [one.code for one in again.open] == ["data-line-stuck"]
    assert [one.before.id for one in again.open if one.before] == ["e1"]


def test_one_more_read_of_the_same_image_opens_nothing() -> None:
    record = held(examinations=(seen(A, STUCK),))
    said = explained(record, standing(record).open[0])
    assert codes(replace(said, reads=(*READS, read(3, added="2026-11-26T12:00:00Z")))) == []


def test_an_explanation_of_something_else_explains_nothing() -> None:
    record = held(examinations=(seen(A, STUCK),))
    one = standing(record).open[0]
    assert codes(explained(record, one, code="blank")) == ["data-line-stuck"]
    assert codes(explained(record, one, basis="0" * 16)) == ["data-line-stuck"]


def test_an_image_that_nobody_looked_at_is_no_proof() -> None:
    assert codes(held(examinations=())) == ["not-examined"]
    assert codes(held(examinations=(), kind="floppy")) == []


@pytest.mark.parametrize(
    ("part", "size", "expected"),
    [("2716", 2048, []), ("2716", 8192, ["chip-size-differs"]), ("2764", 4096, ["chip-size-differs"]),
     ("no such part", 4096, []), (None, 4096, [])],
)  # fmt: skip
def test_the_size_is_held_against_todays_part(part: str | None, size: int, expected: list[str]) -> None:
    """The record's part counts, not that of the day when the image was looked at."""
    image = replace(read(1).image, size_bytes=size)
    reads = tuple(replace(one, image=image) for one in READS)
    for looked in ("2708", part):
        sign = replace(STUCK, code="chip-size-differs", severity="warning", detail={})
        signs = (sign,) if looked == part and expected else ()
        assert codes(held(reads=reads, part=part, examinations=(seen(A, *signs, part=looked),))) == expected


@pytest.mark.parametrize(
    ("part", "markings", "expected"),
    [
        ("2716", "M5L27128K", ["part-unlike-marking"]), ("27128", "M5L27128K\n8512", []), ("2764", "8512", []),
        ("27C64", "M2764A", []), ("2716", "no number", []), ("2764", "D27128A-2\nQUILLMERE", ["part-unlike-marking"]),
    ],
)  # fmt: skip
def test_the_marking_is_held_against_the_part(part: str, markings: str, expected: list[str]) -> None:
    image = replace(read(1).image, size_bytes={"2716": 2048, "27128": 16384}.get(part, 8192))
    reads = tuple(replace(one, image=image) for one in READS)
    record = held(reads=reads, part=part, markings=markings, examinations=(seen(A, part=part),))
    assert codes(record) == expected


@pytest.mark.parametrize(
    ("package", "expected"),
    [("DIP 28, ceramic, with window", []), ("24-pin ceramic DIP", ["part-unlike-package"]), ("PLCC-32", []),
     ("ceramic", [])],
)  # fmt: skip
def test_the_package_is_held_against_the_part(package: str, expected: list[str]) -> None:
    image = replace(read(1).image, size_bytes=8192)
    reads = tuple(replace(one, image=image) for one in READS)
    assert codes(held(reads=reads, part="2764", package=package, examinations=(seen(A, part="2764"),))) == expected


@pytest.mark.parametrize(
    ("label", "expected", "says"),
    [
        ("TG85 V2.1 CS 3F2A", [], "The label's 3F2A is its 16-bit sum."), ("sum=$3f2a", [], "16-bit sum"),
        ("CRC CBF43926", [], "CRC-32"), ("TG85 3F2A", [], "16-bit sum"), ("TG85 1985", [], ""),
        ("CS 3F2B", ["label-sum-differs"], ""), ("CHECKSUM: 0001h", ["label-sum-differs"], ""),
        ("CS 0001, now CS 3F2A", [], "16-bit sum"), ("CSX 0001", [], ""),
    ],
)  # fmt: skip
def test_the_sum_on_the_label_speaks_for_or_against(label: str, expected: list[str], says: str) -> None:
    """The check value of CRC-32, CBF43926, is that of the catalogue of parametrised CRC algorithms."""
    found = standing(held(label=label))
    assert [one.code for one in found.open] == expected
    assert says in " ".join(found.evidence)
    assert (found.grade == "corroborated") == bool(says)


def test_a_label_is_not_searched_for_sums_that_are_not_known() -> None:
    assert list(label_sums("CS 3F2A", {})) == []


def test_a_reference_of_another_image_stays_in_sight() -> None:
    record = held(agreed=agreed(references=(parse_reference("12345678", "a listing"), parse_reference(A))))
    found = standing(record)
    assert [one.code for one in found.open] == ["reference-differs"]
    assert "a listing" in found.open[0].why
    assert found.references == (parse_reference(A),)


def trial(number: int, outcome: Any, **changes: Any) -> MachineTrial:
    members: dict[str, Any] = {
        "id": f"t{number}", "what": "original", "sha256": A, "outcome": outcome, "together": ("u5",), "machine": None,
        "date": None, "by": None, "note": None, "added": "2026-11-25T12:00:00Z",
    }  # fmt: skip
    return MachineTrial(**{**members, **changes})


def test_what_the_machine_says_counts() -> None:
    assert standing(held(trials=(trial(1, "started"),))).grade == "independent"
    passed = standing(held(trials=(trial(1, "passed"),)))
    assert (passed.grade, "together with u5" in passed.because) == ("corroborated", True)
    failed = standing(held(trials=(trial(1, "failed"),)))
    assert (failed.grade, [one.code for one in failed.open]) == ("repeated", ["trial-failed"])


def test_a_later_trial_of_the_same_thing_settles_an_earlier_one() -> None:
    assert codes(held(trials=(trial(1, "failed"), trial(2, "passed")))) == []
    assert codes(held(trials=(trial(1, "failed"), trial(2, "passed", what="w1")))) == ["trial-failed"]
    assert codes(held(trials=(trial(1, "passed"), trial(2, "failed")))) == ["trial-failed"]


def test_a_trial_of_another_image_says_nothing_of_this_one() -> None:
    assert codes(held(trials=(trial(1, "failed", sha256=B),))) == []
    assert standing(held(trials=(trial(1, "passed", sha256=B),))).grade == "independent"


def test_what_is_gravest_comes_first_and_what_is_explained_last() -> None:
    record = held(label="CS 0001", examinations=(seen(A, STUCK, replace(STUCK, code="mirrored", severity="warning")),))
    assert codes(record) == ["data-line-stuck", "label-sum-differs", "mirrored"]
    first = standing(record).open[0]
    assert [one.code for one in standing(explained(record, first)).contradictions] == [
        "label-sum-differs", "mirrored", "data-line-stuck",
    ]  # fmt: skip


def test_markings_and_packages_are_read_as_people_write_them() -> None:
    assert [chip.id for _, chip in marked_chips("QUILLMERE\nD2764-25 8512\nKOREA")] == ["2764"]
    assert list(marked_chips("2716", date_code="2716")) == []
    assert [package_pins(text) for text in ("DIP28", "CERDIP-24", "40 pins", "SOIC 28", "box of 12")] == [
        28, 24, 40, None, None,
    ]  # fmt: skip


def sized(*sizes: int, **changes: Any) -> CarrierRecord:
    """Give a carrier with reads of these sizes, each size another image."""
    images = [A, B]
    reads = tuple(
        replace(
            read(n, images[n - 1], reader=f"reader {n}"), image=replace(read(n, images[n - 1]).image, size_bytes=size)
        )
        for n, size in enumerate(sizes, 1)
    )
    return held(reads=reads, **changes)


def only(record: CarrierRecord) -> Contradiction:
    (one,) = standing(record).open
    return one


def test_each_says_what_it_is_seen_in() -> None:
    image = replace(read(1).image, size_bytes=8192)
    reads = tuple(replace(one, image=image) for one in READS)
    looked = (seen(A, part="2764"),)
    assert only(held(reads=reads, part="2764", markings="27128", examinations=looked)).where == ("part", "markings")
    assert only(held(reads=reads, part="2764", package="DIP 24", examinations=looked)).where == ("part", "package")
    assert only(held(label="CS 0001")).where == ("label",)
    assert only(held(agreed=agreed(references=(parse_reference("12345678"),)))).where == ("reference",)
    assert only(held(trials=(trial(1, "failed"),))).where == ("t1",)
    assert only(held(examinations=())).where == ("r1", "r2")
    voted = agreed(A, voted_by="byte", voters=("r1", "r2"))
    others = (read(1, B), read(2, "c" * 64))
    assert only(held(reads=others, agreed=voted, examinations=(seen(A, STUCK),))).where == ("agreed",)
    assert only(held(reads=others, agreed=voted, examinations=())).where == ("agreed",)
    assert len(only(held(label="CS 0001")).basis) == 16


def test_sizes_that_differ_are_each_held_against_the_part() -> None:
    found = standing(sized(2048, 8192, part="2716", agreed=None))
    assert [(one.code, one.where) for one in found.open] == [("chip-size-differs", ("r2",))]
    assert found.open[0].why == "r2 is 8192 bytes (8K); a 2716 holds 2048 bytes (2K)"
    both = standing(sized(4096, 8192, part="2716", agreed=None))
    assert [one.where for one in both.open] == [("r1",), ("r2",)]
    image = replace(read(1).image, size_bytes=4096)
    equal = tuple(replace(one, image=image) for one in READS)
    assert only(held(reads=equal, part="2716")).why.startswith("r1 and r2 are 4096 bytes")
    assert codes(sized(2048, part="2716", kind="floppy", examinations=())) == []
    assert codes(held(part=None)) == []


def test_one_marking_of_several_that_fits_is_enough() -> None:
    image = replace(read(1).image, size_bytes=8192)
    reads = tuple(replace(one, image=image) for one in READS)
    record = held(reads=reads, part="2764", markings="M27C64\n27128", examinations=(seen(A, part="2764"),))
    assert codes(record) == []


def test_the_gravest_of_several_signs_of_one_code_counts() -> None:
    lines = [replace(STUCK, severity=severity, why=f"D{n}") for n, severity in enumerate(("warning", "fault"))]   # type: ignore[arg-type]
    one = only(held(examinations=(seen(A, *lines),)))
    assert (one.severity, one.why) == ("fault", "D0; D1")
    many = [replace(STUCK, why=f"D{n}") for n in range(6)]
    assert only(held(examinations=(seen(A, *many),))).why == "D0; D1; D2; D3"


def test_a_failed_trial_says_with_what() -> None:
    assert only(held(trials=(trial(1, "failed", note="E3"),))).why == (
        "the machine did not work with the original together with u5 (E3)"
    )
    assert only(held(trials=(trial(1, "failed", what="w1", together=()),))).why == "the machine did not work with w1"


def test_what_is_too_large_for_a_chip_need_not_be_looked_at() -> None:
    most = 64 << 20
    for size, expected in ((most, ["not-examined"]), (most + 1, [])):
        image = replace(read(1).image, size_bytes=size)
        reads = tuple(replace(one, image=image) for one in READS)
        assert codes(held(reads=reads, examinations=())) == expected


def test_a_read_of_the_same_moment_overtakes_no_explanation() -> None:
    record = held(reads=(*READS, read(3, B)), examinations=(seen(A, STUCK), seen(B)))
    one = only(record)
    assert standing(explained(record, one, added=read(3).added)).open == ()


def test_a_read_that_came_after_the_vote_and_differs_is_weighed() -> None:
    voted = agreed(A, voted_by="byte", voters=("r1", "r2", "r3"))
    reads = (*READS, read(3, B))
    assert standing(held(reads=reads, agreed=voted)).grade == "independent"
    found = standing(held(reads=(*reads, read(4, "c" * 64)), agreed=voted))
    assert (found.grade, [(one.code, one.where) for one in found.open]) == ("repeated", [("agreed-outdated", ("r4",))])
    assert codes(held(reads=(*reads, read(4)), agreed=voted)) == []


def test_a_sum_on_a_label_is_no_strong_evidence() -> None:
    """Sixteen bits, or thirty-two: chance and a number that only looks like a sum reach that."""
    found = standing(held(label="CS 3F2A"))
    assert (found.grade, "weaker" in found.because) == ("corroborated", True)
    assert "stronger" in found.next.does
