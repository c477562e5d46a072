"""One carrier in two archives that both moved on: nothing is lost, and both come to the same."""

from __future__ import annotations

import json
import os
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imagekeeper.archive.audits.audit import audit
from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import ArchiveError, UsageError
from imagekeeper.jobs.archive.exchanging import TakenIn, merge_archive
from imagekeeper.jobs.carriers import describing, keeping
from imagekeeper.jobs.carriers.agreeing import agree
from imagekeeper.jsonable import to_json
from imagekeeper.provenance import places
from imagekeeper.provenance.derivations import Derivation, DerivationSource
from imagekeeper.provenance.events import last_digest, verify_chain
from imagekeeper.provenance.fields import write_json
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.replacements import Replacement
from tests.refusals import refuses

from .conftest import USER, Judge
from .harbour import Clock, found, keep, records, tree

PNG = b"\x89PNG\r\n\x1a\n" + bytes(20)


@pytest.fixture
def clock() -> Clock:
    return Clock()


def twins(tmp_path: Path, clock: Clock, reads: tuple[bytes, ...] = (b"first",)) -> tuple[ArchiveStore, ArchiveStore]:
    """Two archives with the same carrier u4, of which each knows the same."""
    ours = found(tmp_path / "harbour", clock)
    keeping.add_carrier(ours, "u4", "eprom", clock.session(), part="TG85-2", label="TG85")
    for data in reads:
        keep(ours, "u4", data, clock)
    theirs = found(tmp_path / "museum", clock)
    assert one(merge_archive(theirs, str(ours.path), clock.session())).what == "added"
    return ours, theirs


def one(result: Any) -> TakenIn:
    (taken,) = result.taken
    assert isinstance(taken, TakenIn)
    return taken


def take(ours: ArchiveStore, theirs: ArchiveStore, clock: Clock) -> TakenIn:
    return one(merge_archive(ours, str(theirs.path), clock.session("Berta")))


def record(archive: ArchiveStore, name: str = "u4") -> CarrierRecord:
    return load_record(archive, name)


def content(archive: ArchiveStore, name: str = "u4", *, graded: bool = True) -> Any:
    """What is known of a carrier, without what only tells how an archive came to know it: numbers and events."""
    plain = to_json(record(archive, name))
    for part in ("events", "version", "findings"):
        del plain[part]
    names = {}
    for read in plain["reads"]:
        names[read["id"]] = [read["sha256"], read["modified"], read["reader"]]
        for part in ("id", "original", "image_path", "added"):
            del read[part]
    for photo in plain["photos"]:   # when it came to an archive is that archive's own affair
        del photo["added"]
    for made in (*plain["photos"], *plain["replacements"], *plain["derivations"]):
        for part in ("id", "path"):
            made.pop(part, None)
    for made in plain["derivations"]:
        for source in made["sources"]:
            source["what"] = names.get(source["what"], source["what"])
    # the verdict names reads by their numbers, too
    plain["standing"] = [plain["standing"][part] for part in ("sha256", "grade")]
    for part in ("reads", "photos", "replacements", "derivations", "examinations"):
        plain[part].sort(key=lambda item: json.dumps(item, sort_keys=True))
    if plain["agreed"] is not None:   # its sentences name reads by their numbers
        kept = plain["agreed"]
        refs = sorted(json.dumps(item, sort_keys=True) for item in kept["references"])
        graded_by = [kept["grade"], sorted(str(names[read]) for read in kept["reads"])] if graded else []
        # what was recorded on some day may be older than the evidence; how that stands is compared above
        plain["agreed"] = [kept["sha256"], refs, *graded_by] if graded else refs
    return plain


def both_ways(ours: ArchiveStore, theirs: ArchiveStore, clock: Clock, *, graded: bool = True) -> None:
    """Merge each into a copy of the other, and see that both come to the same."""
    copies = {}
    for archive in (ours, theirs):
        place = archive.path.parent / f"{archive.path.name}-copy"
        shutil.copytree(archive.path, place)
        copies[archive] = ArchiveStore.open(place)
    take(copies[ours], theirs, clock)
    take(copies[theirs], ours, clock)
    assert content(copies[ours], graded=graded) == content(copies[theirs], graded=graded)
    for archive, other in ((copies[ours], copies[theirs]), (copies[theirs], copies[ours])):
        assert take(archive, other, clock).what == "unchanged"
        assert audit(archive, now=clock.now()).ok
    for archive in copies.values():
        shutil.rmtree(archive.path)


def test_reads_of_both_are_kept_under_numbers_of_their_own(tmp_path: Path, clock: Clock, judge: Judge) -> None:
    ours, theirs = twins(tmp_path, clock)
    keep(ours, "u4", b"harbour", clock, reader="bench reader")
    keep(theirs, "u4", b"museum", clock, reader="own monitor", vcc="4.5")
    keep(theirs, "u4", b"museum again", clock, name="again.bin")
    both_ways(ours, theirs, clock)
    before = record(ours)
    taken = take(ours, theirs, clock)
    assert (taken.what, taken.reads, taken.said) == ("merged", 2, ("2 reads: r3 (there r2), r4 (there r3)",))
    after = record(ours)
    assert [read.id for read in after.reads] == ["r1", "r2", "r3", "r4"]
    assert after.reads[:2] == before.reads
    theirs_r2 = record(theirs).reads[1]
    assert after.reads[2] == replace(
        theirs_r2, id="r3", original="reads/r3/original/u4.bin", image_path="reads/r3/image.bin"
    )
    assert ours.read_file("u4", "reads/r3/image.bin") == b"museum"
    assert ours.read_file("u4", "reads/r3/original/u4.bin") == b"museum"
    assert judge(ours.root) == []
    assert audit(ours, now=clock.now()).ok


def test_the_event_names_the_other_chain_and_the_copy_is_whole(tmp_path: Path, clock: Clock) -> None:
    ours, theirs = twins(tmp_path, clock)
    keep(ours, "u4", b"harbour", clock)
    keep(theirs, "u4", b"museum", clock)
    before = ours.read_file("u4", places.EVENTS)
    end = last_digest(theirs.read_file("u4", places.EVENTS))
    assert end is not None
    take(ours, theirs, clock)
    data = ours.read_file("u4", places.EVENTS)
    assert data.startswith(before)
    assert verify_chain(data) is None
    event = record(ours).events[-1]
    # PREMIS event type vocabulary of the Library of Congress
    assert event.type_uri == "http://id.loc.gov/vocabulary/preservation/eventType/ipm"
    assert f"sha256:{end}" in [item.identifier for item in event.objects]
    assert f"urn:uuid:{theirs.marker.uuid}" in [item.identifier for item in event.objects]
    assert [agent.name for agent in event.agents if agent.kind == "person"] == ["Berta"]
    inventory = theirs.inventory("u4")
    top = f"merged/{end[:16]}/"
    for path, digest in inventory.manifest.items():   # all bytes of all their versions
        assert ours.inventory("u4").state[top + path] == digest
    assert ours.read_file("u4", f"{top}inventory.json") == inventory.to_bytes()


def test_an_equal_read_is_not_doubled_and_a_repeated_one_is_kept(tmp_path: Path, clock: Clock) -> None:
    ours, theirs = twins(tmp_path, clock)
    seconds = clock.seconds
    for archive in (ours, theirs):   # the same file was added on both sides
        clock.seconds = seconds
        keep(archive, "u4", b"twice", clock, reader="bench reader")
    keep(theirs, "u4", b"twice", clock, reader="bench reader")   # read once more, which is evidence
    keep(theirs, "u4", b"twice", clock, reader="bench reader", vcc="4.5")
    both_ways(ours, theirs, clock)
    assert take(ours, theirs, clock).reads == 2
    assert [read.vcc for read in record(ours).reads] == [None, None, None, "4.5"]


@settings(max_examples=20)
@given(st.data())
def test_any_two_histories_come_to_the_same(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    clock = Clock()
    place = tmp_path_factory.mktemp("any")
    ours, theirs = twins(place, clock)
    kinds = st.sampled_from(["read", "note", "edit", "agree", "photo"])
    steps = st.lists(st.tuples(kinds, st.integers(0, 2)), max_size=4)
    for archive, work in ((ours, data.draw(steps)), (theirs, data.draw(steps))):
        for what, number in work:
            session = clock.session()
            if what == "read":
                keep(archive, "u4", b"read %d" % number if number else b"first", clock, reader=f"reader {number}")
            elif what == "note":
                describing.add_note(archive, "u4", f"remark {number}", session)
            elif what == "edit":
                describing.edit_carrier(archive, "u4", {"part": f"27{number}", "board": str(number)}, session)
            elif what == "photo":
                picture = place / "top.png"
                picture.write_bytes(PNG + bytes([number]))
                try:
                    describing.add_photo(archive, "u4", str(picture), None, session)
                except UsageError as problem:   # that very picture is there
                    assert problem.code == "exists"
            else:
                agree(archive, "u4", session)
    mine, other = record(ours), record(theirs)
    # a read that its own archive has not weighed is weighed by the other at once: nothing new for the first
    both_ways(ours, theirs, clock, graded=False)
    take(ours, theirs, clock)
    merged = record(ours)
    assert {read.image.sha256 for read in (*mine.reads, *other.reads)} == {r.image.sha256 for r in merged.reads}
    assert len(merged.reads) >= max(len(mine.reads), len(other.reads))
    assert {*mine.notes, *other.notes} == {*merged.notes}
    assert {photo.sha256 for photo in (*mine.photos, *other.photos)} == {photo.sha256 for photo in merged.photos}


# --- what is said of it ---


def test_a_correction_of_one_side_is_taken_over(tmp_path: Path, clock: Clock) -> None:
    ours, theirs = twins(tmp_path, clock)
    describing.edit_carrier(ours, "u4", {"position": "U4"}, clock.session())
    describing.edit_carrier(theirs, "u4", {"label": "TG85 2.1"}, clock.session())
    both_ways(ours, theirs, clock)
    taken = take(ours, theirs, clock)
    assert taken.said == ("label is 'TG85 2.1', not 'TG85'",)
    assert (record(ours).position, record(ours).label) == ("U4", "TG85 2.1")


def test_of_two_corrections_the_later_stands_and_the_other_is_named(tmp_path: Path, clock: Clock) -> None:
    ours, theirs = twins(tmp_path, clock)
    describing.edit_carrier(theirs, "u4", {"label": "theirs, earlier"}, clock.session())
    describing.edit_carrier(ours, "u4", {"label": "ours, later", "board": "logic"}, clock.session())
    describing.add_note(theirs, "u4", "seen", clock.session())
    both_ways(ours, theirs, clock)
    taken = take(ours, theirs, clock)
    assert taken.said[0] == "label is 'ours, later', not 'theirs, earlier' (both archives had changed it)"
    assert record(ours).label == "ours, later"
    assert "theirs, earlier" in record(ours).events[-1].detail


def test_an_earlier_correction_alone_is_told_of_once(tmp_path: Path, clock: Clock) -> None:
    ours, theirs = twins(tmp_path, clock)
    describing.edit_carrier(theirs, "u4", {"label": "theirs, earlier"}, clock.session())
    describing.edit_carrier(ours, "u4", {"label": "ours, later"}, clock.session())
    taken = take(ours, theirs, clock)
    assert (taken.what, record(ours).label) == ("merged", "ours, later")
    assert "theirs, earlier" in record(ours).events[-1].detail
    version = record(ours).version
    assert take(ours, theirs, clock).what == "unchanged"
    assert record(ours).version == version


def test_a_text_put_back_is_no_text_unchanged(tmp_path: Path, clock: Clock) -> None:
    ours, theirs = twins(tmp_path, clock)
    describing.edit_carrier(theirs, "u4", {"label": "wrong"}, clock.session())
    describing.edit_carrier(ours, "u4", {"label": "wrong"}, clock.session())
    describing.edit_carrier(ours, "u4", {"label": "TG85"}, clock.session())   # ours found out
    describing.add_note(theirs, "u4", "seen", clock.session())
    both_ways(ours, theirs, clock)
    take(ours, theirs, clock)
    assert record(ours).label == "TG85"


def test_remarks_and_pictures_of_both_are_kept_once(tmp_path: Path, clock: Clock) -> None:
    ours, theirs = twins(tmp_path, clock)
    picture = tmp_path / "top.png"
    for archive, last in ((ours, b"a"), (theirs, b"b"), (theirs, b"a")):
        picture.write_bytes(PNG + last)
        describing.add_photo(archive, "u4", str(picture), last.decode(), clock.session())
        describing.add_note(archive, "u4", f"seen {last.decode()}", clock.session())
    both_ways(ours, theirs, clock)
    take(ours, theirs, clock)
    after = record(ours)
    assert [note.text for note in after.notes] == ["seen a", "seen b", "seen a"]
    assert sorted(photo.caption or "" for photo in after.photos) == ["a", "b"]
    assert {ours.read_file("u4", photo.path) for photo in after.photos} == {PNG + b"a", PNG + b"b"}
    assert len({photo.path for photo in after.photos}) == 2


def write(archive: ArchiveStore, changes: dict[str, bytes], clock: Clock) -> None:
    head = archive.inventory("u4").head
    archive.commit("u4", changes, message="m", user=USER, now=clock.now(), expected_head=head)


def test_replacements_and_derived_images_of_both_are_kept(tmp_path: Path, clock: Clock) -> None:
    import hashlib

    ours, theirs = twins(tmp_path, clock)
    for archive, data in ((ours, b"ours"), (theirs, b"theirs")):
        keep(archive, "u4", data, clock)
        sha256 = hashlib.sha256(data).hexdigest()
        made = Derivation(
            id="d1", title=data.decode(),
            sources=(DerivationSource("u4", "r2", sha256), DerivationSource("u5", "agreed", sha256)),
            steps=({"step": "trim", "to": 5},), sha256=sha256, size_bytes=len(data), path="derived/d1.bin",
            software="imagekeeper 0.1.0", added=clock.now(),
        )  # fmt: skip
        new = Replacement(
            id="w1", part="27C16", sha256=sha256, read_back_sha256=None, matches=None, operator="Ann", date=None,
            note=data.decode(), added=clock.now(),
        )  # fmt: skip
        write(archive, {
            places.DERIVATIONS: write_json([made]), "derived/d1.bin": data, places.REPLACEMENTS: write_json([new]),
        }, clock)   # fmt: skip
    both_ways(ours, theirs, clock)
    take(ours, theirs, clock)
    after = record(ours)
    assert [(made.id, made.title) for made in after.derivations] == [("d1", "ours"), ("d2", "theirs")]
    assert [source.what for source in after.derivations[1].sources] == ["r3", "agreed"]   # their r2 is r3 here
    assert ours.read_file("u4", "derived/d2.bin") == b"theirs"
    assert [(new.id, new.note) for new in after.replacements] == [("w1", "ours"), ("w2", "theirs")]


def test_what_was_read_back_from_one_replacement_in_two_archives_is_kept(tmp_path: Path, clock: Clock) -> None:
    from imagekeeper.jobs.carriers.replacing import add_read_backs, add_replacement
    from imagekeeper.jobs.images.loading import Options

    ours, theirs = found(tmp_path / "harbour", clock), found(tmp_path / "museum", clock)
    keeping.add_carrier(ours, "u4", "eprom", clock.session())
    keep(ours, "u4", b"first", clock)
    file = tmp_path / "written.bin"
    file.write_bytes(b"first")
    agree(ours, "u4", clock.session())
    plain = keeping.Conditions()
    add_replacement(ours, "u4", "TG85-2", str(file), [], Options(kind="raw"), plain, clock.session())
    take(theirs, ours, clock)
    for archive, reader in ((ours, "bench reader"), (theirs, "own monitor")):
        conditions = keeping.Conditions(reader=reader, operator="Anna", date=clock.now())
        back = tmp_path / reader / "back.bin"
        back.parent.mkdir()
        back.write_bytes(b"first")
        os.utime(back, (len(reader), len(reader)))
        add_read_backs(archive, "u4", "w1", [str(back)], Options(kind="raw"), conditions, clock.session())
        add_replacement(archive, "u4", reader, str(file), [str(back)], Options(kind="raw"), conditions, clock.session())
    take(ours, theirs, clock)
    made = record(ours).replacements
    assert [(one.id, one.part, len(one.read_backs)) for one in made] == [
        ("w1", "TG85-2", 2), ("w2", "bench reader", 1), ("w3", "own monitor", 1)
    ]
    assert made[0].grade == "proved"   # the two read-backs differ in reader
    for one in made:
        assert one.written is not None
        for path in (one.written, *(back.path for back in one.read_backs)):
            assert path.startswith(f"replacements/{one.id}/")
            assert ours.read_file("u4", path) == b"first"
    assert take(ours, theirs, clock).what == "unchanged"
    take(theirs, ours, clock)
    assert [len(one.read_backs) for one in record(theirs).replacements] == [2, 1, 1]
    assert audit(ours, now=clock.now()).ok


# --- the agreed image ---


def test_an_image_both_agree_on_stands_and_is_graded_anew(tmp_path: Path, clock: Clock) -> None:
    ours, theirs = twins(tmp_path, clock)
    keep(ours, "u4", b"first", clock, reader="bench reader")
    keep(theirs, "u4", b"first", clock, reader="own monitor")
    for archive in (ours, theirs):
        agree(archive, "u4", clock.session())
        assert record(archive).agreed.grade == "repeated"   # type: ignore[union-attr]
    both_ways(ours, theirs, clock)
    assert not take(ours, theirs, clock).disputed
    agreed = record(ours).agreed
    assert agreed is not None
    assert (agreed.grade, agreed.reads) == ("independent", ("r1", "r2", "r3"))
    assert ours.read_file("u4", places.AGREED_IMAGE) == b"first"


def test_an_image_settled_differently_is_open_again(tmp_path: Path, clock: Clock) -> None:
    ours, theirs = twins(tmp_path, clock, ())
    for archive, data in ((ours, b"ours"), (theirs, b"theirs")):
        keep(archive, "u4", data, clock)
        agree(archive, "u4", clock.session())
    both_ways(ours, theirs, clock)
    taken = take(ours, theirs, clock)
    assert taken.disputed
    agreed = record(ours).agreed
    assert agreed is not None
    assert (agreed.sha256, agreed.grade, agreed.image) == (None, "disputed", None)
    assert places.AGREED_IMAGE not in ours.inventory("u4").state
    assert record(ours).events[-1].outcome == "warning"
    assert audit(ours, now=clock.now()).ok


def test_what_one_side_settled_after_the_other_gave_in_stands(tmp_path: Path, clock: Clock) -> None:
    """A dispute that was settled by a vote in one archive is settled in the other, once that hears of it."""
    ours, theirs = twins(tmp_path, clock, (b"\x00\x00", b"\x00\x01", b"\x00\x00"))
    agree(ours, "u4", clock.session())
    assert take(theirs, ours, clock).what == "extended"
    describing.add_note(theirs, "u4", "seen", clock.session())
    agree(ours, "u4", clock.session(), by_vote="byte")
    both_ways(ours, theirs, clock)
    take(theirs, ours, clock)
    agreed = record(theirs).agreed
    assert agreed is not None
    assert agreed.sha256 == record(ours).agreed.sha256   # type: ignore[union-attr]
    assert theirs.read_file("u4", places.AGREED_IMAGE) == b"\x00\x00"


def test_a_vote_after_a_merge_is_not_undone_by_the_same_copy(tmp_path: Path, clock: Clock) -> None:
    ours, theirs = twins(tmp_path, clock, ())
    for archive, data in ((ours, b"\x01"), (theirs, b"\x02")):
        keep(archive, "u4", data, clock)
        agree(archive, "u4", clock.session())
    take(ours, theirs, clock)
    keep(ours, "u4", b"\x01", clock)
    agree(ours, "u4", clock.session(), by_vote="byte")
    before = tree(ours.root)
    assert take(ours, theirs, clock).what == "unchanged"
    assert tree(ours.root) == before
    take(theirs, ours, clock)   # and the other side takes it over
    assert record(theirs).agreed.sha256 == record(ours).agreed.sha256   # type: ignore[union-attr]


def test_references_of_both_are_kept(tmp_path: Path, clock: Clock) -> None:
    import hashlib
    import zlib

    ours, theirs = twins(tmp_path, clock)
    agree(ours, "u4", clock.session(), references={f"{zlib.crc32(b'first'):08X}": "the label"})
    agree(theirs, "u4", clock.session(), references={hashlib.sha1(b"first").hexdigest(): "the manual"})
    both_ways(ours, theirs, clock)
    take(ours, theirs, clock)
    agreed = record(ours).agreed
    assert agreed is not None
    given = {(reference.algorithm, reference.source) for reference in agreed.references}
    assert given == {("crc32", "the label"), ("sha1", "the manual")}


# --- archives ---


def test_a_third_archive_reaches_the_first_by_way_of_the_second(tmp_path: Path, clock: Clock, judge: Judge) -> None:
    ours, theirs = twins(tmp_path, clock)
    third = found(tmp_path / "third", clock)
    take(third, ours, clock)
    for archive in (ours, theirs, third):
        keep(archive, "u4", archive.path.name.encode(), clock)
    take(theirs, third, clock)
    take(ours, theirs, clock)
    assert {ours.read_file("u4", read.image_path) for read in record(ours).reads} == {
        b"first", b"harbour", b"museum", b"third"
    }
    assert take(ours, third, clock).what == "unchanged"
    take(third, ours, clock)
    take(theirs, third, clock)
    assert content(ours) == content(theirs) == content(third)
    for archive in (ours, theirs, third):
        assert judge(archive.root) == []
        assert max(map(len, archive.inventory("u4").manifest)) < 200   # copies do not nest


def test_a_copy_under_another_id_is_merged_too(tmp_path: Path, clock: Clock) -> None:
    ours = found(tmp_path / "harbour", clock)
    keeping.add_carrier(ours, "u4", "eprom", clock.session())
    theirs = found(tmp_path / "museum", clock)
    keeping.add_carrier(theirs, "u4", "prom", clock.session())
    assert take(theirs, ours, clock).here == "u4-2"
    keep(ours, "u4", b"harbour", clock)
    taken = take(theirs, ours, clock)
    assert (taken.here, taken.what, taken.reads) == ("u4-2", "merged", 1)
    assert record(theirs, "u4-2").reads == record(ours).reads
    assert audit(theirs, now=clock.now()).ok


def test_machines_are_merged_as_carriers_are(tmp_path: Path, clock: Clock) -> None:
    ours = found(tmp_path / "harbour", clock)
    describing.add_machine(ours, "tg85", "Quillmere TG-85", clock.session())
    theirs = found(tmp_path / "museum", clock)
    take(theirs, ours, clock)
    describing.edit_machine(ours, "tg85", {"serial": "0117"}, clock.session())
    describing.add_note(theirs, "tg85", "lid missing", clock.session())
    assert take(theirs, ours, clock).what == "merged"
    take(ours, theirs, clock)
    for archive in (ours, theirs):
        machine = records(archive)["tg85"]
        assert (machine.serial, [note.text for note in machine.notes]) == ("0117", ["lid missing"])   # type: ignore[union-attr]


def test_the_other_archive_is_only_read(tmp_path: Path, clock: Clock) -> None:
    ours, theirs = twins(tmp_path, clock)
    keep(ours, "u4", b"harbour", clock)
    keep(theirs, "u4", b"museum", clock)
    before = tree(theirs.path)
    take(ours, theirs, clock)
    assert tree(theirs.path) == before


def test_a_damaged_carrier_is_set_aside(tmp_path: Path, clock: Clock) -> None:
    ours, theirs = twins(tmp_path, clock)
    keeping.add_carrier(theirs, "a1", "eprom", clock.session())
    path = theirs.object_path("u4") / "v2" / "content" / "reads" / "r1" / "original" / "u4.bin"
    assert path.read_bytes() == b"first"
    path.write_bytes(b"First")
    before = tree(ours.object_path("u4"))
    result = merge_archive(ours, str(theirs.path), clock.session())
    (aside,) = result.set_aside
    assert (aside.id, "u4.bin" in aside.why, result.exit_code) == ("u4", True, 4)
    assert [one.id for one in result.taken] == ["a1"]
    assert tree(ours.object_path("u4")) == before


def test_an_archive_that_is_damaged_all_over_gives_nothing(tmp_path: Path, clock: Clock) -> None:
    ours, theirs = twins(tmp_path, clock)
    (theirs.object_path("u4") / "inventory.json").unlink()
    before = tree(ours.path)
    with refuses(ArchiveError, "archive-damaged", "nothing was taken from it") as caught:
        merge_archive(ours, str(theirs.path), clock.session())
    assert "inventory.json" in caught.value.why
    assert tree(ours.path) == before


def test_of_two_carriers_with_one_uuid_neither_is_taken(tmp_path: Path, clock: Clock) -> None:
    ours, theirs = twins(tmp_path, clock)
    session = replace(clock.session(), new_uuid=lambda: "0195c0de-0000-7000-8000-000000000001")
    for name in ("a1", "a2"):
        keeping.add_carrier(theirs, name, "eprom", session)
    result = merge_archive(ours, str(theirs.path), clock.session())
    assert [(one.id, "have the same UUID" in one.why) for one in result.set_aside] == [("a1", True), ("a2", True)]
    assert [one.id for one in result.taken] == ["u4"]


def test_an_archive_is_not_merged_with_itself(tmp_path: Path, clock: Clock) -> None:
    ours, _ = twins(tmp_path, clock)
    with refuses(UsageError, "usage", "an archive cannot be merged with itself"):
        merge_archive(ours, str(ours.path / ".." / "harbour"), clock.session())


def test_a_machine_is_no_carrier(tmp_path: Path, clock: Clock) -> None:
    """Two records with one identity of which one is a machine: somebody made that up."""
    ours, theirs = found(tmp_path / "harbour", clock), found(tmp_path / "museum", clock)
    session = replace(clock.session(), new_uuid=lambda: "0195c0de-0000-7000-8000-000000000001")
    keeping.add_carrier(ours, "u4", "eprom", session)
    describing.add_machine(theirs, "u4", "Quillmere TG-85", session)
    (aside,) = merge_archive(ours, str(theirs.path), clock.session()).set_aside
    assert "a machine in one archive and a carrier in the other" in aside.why
