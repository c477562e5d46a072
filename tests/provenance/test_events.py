from __future__ import annotations

import hashlib
import itertools
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.errors import ArchiveError, InternalError, UsageError
from imagekeeper.provenance.events import (
    EVENT_TYPES,
    OUTCOMES,
    Event,
    LinkedObject,
    append_events,
    event_digest,
    hardware,
    last_digest,
    new_event,
    parse_events,
    person,
    software,
    verify_chain,
)
from tests.refusals import refuses

NOW = "2026-11-24T22:00:00Z"


def event(previous: Event | str | None, number: int, detail: str = "a read of U4") -> Event:
    return new_event(
        previous, id=f"0195c0de-0000-7000-8000-{number:012}", type="capture", time=NOW,
        agents=[person("Ann"), software("imagekeeper 0.1.0")], detail=detail, outcome="warning",
        objects=[LinkedObject("reads/r1/image.bin", "outcome")],
    )  # fmt: skip


def chain(length: int) -> bytes:
    data, previous = b"", None
    for number in range(length):
        previous = event(previous, number)
        data = append_events(data, [previous])
    return data


def test_the_uris_are_those_of_the_vocabulary() -> None:
    # Library of Congress, Preservation vocabularies: Event Type "capture" (cap), Event Outcome "warning" (war)
    first = event(None, 1)
    assert first.type_uri == "http://id.loc.gov/vocabulary/preservation/eventType/cap"
    assert first.outcome_uri == "http://id.loc.gov/vocabulary/preservation/eventOutcome/war"


def test_every_event_type_and_outcome_has_the_code_of_the_vocabulary() -> None:
    """Library of Congress, Preservation vocabularies: Event Type and Event Outcome, of which these are used here."""
    published = (
        "accession acc, capture cap, creation cre, deaccession dea, deletion del, exporting exp, fixity check fix, "
        "forensic feature analysis ffa, format identification for, imaging ima, information package merging ipm, "
        "ingestion ing, message digest calculation mes, metadata extraction mee, metadata modification mem, "
        "migration mig, modification mod, normalization nor, recovery rec, replication rep, transfer tra, "
        "validation val"
    )
    assert {tuple(one.rsplit(" ", 1)) for one in published.split(", ")} == set(EVENT_TYPES.items())
    assert OUTCOMES == {"success": "suc", "warning": "war", "fail": "fai"}


def test_a_reader_takes_part_as_an_instrument() -> None:
    assert (hardware("bench reader").kind, hardware("bench reader").role) == ("hardware", "instrument")


def test_an_event_that_was_there_before_is_noticed_though_the_digests_follow() -> None:
    """An identifier is of one event: PREMIS Data Dictionary 3.0, eventIdentifier."""
    data = chain(2)
    data = append_events(data, [event(last_digest(data), 0)])
    broken = verify_chain(data)
    assert broken is not None
    assert (broken.line, broken.why) == (3, f"the event {event(None, 0).id} was there before")


def test_each_event_carries_the_digest_of_the_one_before() -> None:
    lines = chain(3).splitlines()
    assert json.loads(lines[0])["previous"] is None
    for before, after in itertools.pairwise(lines):
        # RFC 8785: a line is in canonical form, so that its digest is that of its bytes
        assert json.loads(after)["previous"] == hashlib.sha256(before).hexdigest()
    assert last_digest(chain(3)) == hashlib.sha256(lines[-1]).hexdigest()


def test_a_chain_can_go_on_from_a_file() -> None:
    data = chain(2)
    data = append_events(data, [event(last_digest(data), 9)])
    assert verify_chain(data) is None
    assert len(parse_events(data)) == 3
    assert event_digest(parse_events(data)[-1]) == last_digest(data)


def test_an_unknown_member_of_a_later_version_does_not_break_the_chain() -> None:
    line = json.loads(chain(1))
    line["weather"] = "fair"
    data = json.dumps(line).encode() + b"\n"
    data = append_events(data, [event(last_digest(data), 9)])
    assert verify_chain(data) is None


@pytest.mark.parametrize("number", [0, 1, 2, 3])
def test_a_line_taken_away_is_noticed_behind_it(number: int) -> None:
    lines = chain(4).splitlines(keepends=True)
    broken = verify_chain(b"".join(lines[:number] + lines[number + 1 :]))
    if number == 3:
        assert broken is None   # nothing follows the last: the archive's own digest guards it
    else:
        assert broken is not None
        assert broken.line == number + 1


@pytest.mark.parametrize("number", [0, 1, 2])
def test_a_line_changed_is_noticed_behind_it(number: int) -> None:
    lines = chain(4).splitlines(keepends=True)
    lines[number] = lines[number].replace(b"a read of U4", b"a read of U5")
    broken = verify_chain(b"".join(lines))
    assert broken is not None
    assert broken.line == number + 2
    assert broken.expected != broken.found


def test_lines_exchanged_or_doubled_are_noticed() -> None:
    lines = chain(4).splitlines(keepends=True)
    exchanged = verify_chain(b"".join([lines[0], lines[2], lines[1], lines[3]]))
    doubled = verify_chain(b"".join([lines[0], lines[0]]))
    assert exchanged is not None
    assert exchanged.line == 2
    assert doubled is not None
    assert doubled.line == 2


@pytest.mark.parametrize(
    "line",
    [b"[]", b"{", b"null", b"1e5", b"\xff", b"[" * 100_000, b'{"id": 1.5}', b'{"previous": null}', b'"\\ud800"'],
)
def test_a_line_that_is_no_event_is_named(line: bytes) -> None:
    broken = verify_chain(chain(2) + line + b"\n")
    assert broken is not None
    assert broken.line == 3
    with pytest.raises(ArchiveError) as caught:
        parse_events(chain(2) + line + b"\n")
    assert caught.value.code == "archive-damaged"


def test_numbers_that_cannot_be_digested_are_named() -> None:
    line = json.loads(chain(1))
    for number in (1.5, 1 << 60):
        broken = verify_chain(json.dumps({**line, "more": number}).encode())
        assert broken is not None
        assert broken.line == 1


def test_a_time_must_be_exact() -> None:
    with refuses(UsageError, "usage", "a time is not written as RFC 3339 asks"):
        new_event(None, id="x", type="capture", time="2026-11-24", agents=[], detail="")


@given(st.binary(max_size=300))
def test_any_bytes_are_a_chain_or_broken(data: bytes) -> None:
    broken = verify_chain(data)
    assert (broken is None) == (not data.strip(b"\n \t\r\x0b\x0c"))


@given(st.lists(st.text(), min_size=1, max_size=5))
def test_any_text_can_be_a_detail(details: list[str]) -> None:
    data, previous = b"", None
    for number, detail in enumerate(details):
        previous = event(previous, number, detail)
        data = append_events(data, [previous])
    assert verify_chain(data) is None
    assert len(parse_events(data)) == len(details)


def test_an_event_that_does_not_read_back_is_not_appended() -> None:
    odd = new_event(
        None, id="0195c0de-0000-7000-8000-000000000001", type="capture", time="2026-11-24T22:00:00Z",
        agents=[person(1)], detail="U4",   # type: ignore[arg-type]
    )  # fmt: skip
    with refuses(InternalError, "internal", "agents[0].name is 1"):
        append_events(b"", [odd])
