"""The vote: held against its definition, one bit at a time, and against what it must never do."""

from __future__ import annotations

import hashlib
import random
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.addresses import Doubt
from imagekeeper.comparison import tally as tally_module
from imagekeeper.comparison.ballots import weights_by_voltage
from imagekeeper.comparison.majority import By, Majority, Ties
from imagekeeper.comparison.voting import vote
from imagekeeper.containers.model import Image, Segment
from imagekeeper.errors import UsageError
from imagekeeper.findings import Finding
from tests.refusals import refuses


def of(
    *reads: bytes, by: By = "byte", ties: Ties | None = None, volts: list[float | None] | None = None
) -> tuple[Majority, Image]:
    names = [f"read{i}.bin" for i in range(len(reads))]
    return vote([Image.from_bytes(read) for read in reads], names, by=by, ties=ties, volts=volts)


def byte_winner(values: list[int]) -> int | None:
    value, count = Counter(values).most_common(1)[0]
    return value if 2 * count > len(values) else None


def bit_winners(values: list[int], weights: list[int] | None) -> list[int | None]:
    """By definition: a bit is 0 where more than half of the votes, or of their weights, are for 0."""
    found: list[int | None] = []
    for bit in range(8):
        bits = [value >> bit & 1 for value in values]
        tallies = [[1] * len(values)] + ([weights] if weights else [])
        margins = [sum(w if b == 0 else -w for w, b in zip(tally, bits, strict=True)) for tally in tallies]
        found.append(None if max(margins) == 0 else int(max(margins) < 0))
    return found


def few_values(count: int) -> st.SearchStrategy[list[bytes]]:
    """Reads that often agree: bytes from a handful of values."""
    row = st.lists(st.sampled_from([0x00, 0x41, 0x43, 0xC1, 0xFF]), min_size=7, max_size=7).map(bytes)
    return st.lists(row, min_size=count, max_size=count)


some_reads = st.integers(3, 7).flatmap(few_values)


@given(some_reads)
def test_a_vote_by_bytes_is_its_definition(reads: list[bytes]) -> None:
    account, image = of(*reads)
    winners = [byte_winner([read[at] for read in reads]) for at in range(7)]
    disputed = [at for at in range(7) if len({read[at] for read in reads}) > 1]
    assert image.tobytes() == bytes(w for w in winners if w is not None)
    assert [(s.start, bytes(s.data[:])) for s in image.segments] == runs(winners)
    assert account.sha256 == hashlib.sha256(image.tobytes()).hexdigest()
    assert (account.size_bytes, account.unanimous) == (image.size_bytes, 7 - len(disputed))
    assert [d.address for d in account.list] == disputed
    assert account.disputed.ties == winners.count(None)
    assert account.disputed.bits == sum(
        len({read[at] >> bit & 1 for read in reads}) > 1 for at in disputed for bit in range(8)
    )
    assert [voter.outvoted for voter in account.reads] == [
        sum(w is not None and read[at] != w for at, w in enumerate(winners)) for read in reads
    ]
    for entry in account.list:
        winner = winners[entry.address]
        assert entry.values == tuple(f"{read[entry.address]:02X}" for read in reads)
        assert (entry.voted, entry.tied_bits) == ((None, "FF") if winner is None else (f"{winner:02X}", "00"))
    assert account.exit_code == int(None in winners)


def runs(values: list[int | None]) -> list[tuple[int, bytes]]:
    found: list[tuple[int, bytes]] = []
    for at, value in enumerate(values):
        if value is None:
            continue
        if found and found[-1][0] + len(found[-1][1]) == at:
            found[-1] = (found[-1][0], found[-1][1] + bytes([value]))
        else:
            found.append((at, bytes([value])))
    return found


@given(some_reads, st.data())
def test_a_vote_by_bits_is_its_definition(reads: list[bytes], data: st.DataObject) -> None:
    volts = data.draw(st.none() | st.lists(st.sampled_from([4.25, 4.5, 5.0, 5.5, None]), min_size=len(reads),
                                            max_size=len(reads)))  # fmt: skip
    weights = None if volts is None else list(weights_by_voltage(volts))
    account, image = of(*reads, by="bit", ties=Ties("first"), volts=volts)
    winners = [bit_winners([read[at] for read in reads], weights) for at in range(7)]
    expected = bytes(
        sum((reads[0][at] >> bit & 1 if w is None else w) << bit for bit, w in enumerate(bits))
        for at, bits in enumerate(winners)
    )
    assert image.tobytes() == expected
    assert account.disputed.ties == sum(None in bits for bits in winners)
    for entry in account.list:
        tied = sum((w is None) << bit for bit, w in enumerate(winners[entry.address]))
        assert entry.tied_bits == f"{tied:02X}"
        assert (entry.voted is None) == bool(tied)
    assert [voter.outvoted for voter in account.reads] == [
        sum(
            any(w is not None and read[at] >> bit & 1 != w for bit, w in enumerate(bits))
            for at, bits in enumerate(winners)
        )
        for read in reads
    ]


@given(st.binary(min_size=40, max_size=400), st.integers(3, 6), st.sampled_from(["byte", "bit"]), st.data())
def test_single_faults_at_distinct_addresses_are_mended(original: bytes, k: int, by: By, data: st.DataObject) -> None:
    places = data.draw(st.lists(st.integers(0, len(original) - 1), unique=True, max_size=30))
    reads = [bytearray(original) for _ in range(k)]
    for number, at in enumerate(places):
        reads[number % k][at] ^= data.draw(st.integers(1, 255))
    account, image = of(*map(bytes, reads), by=by)
    assert image.tobytes() == original
    assert (account.disputed.addresses, account.disputed.ties, account.exit_code) == (len(places), 0, 0)
    assert sum(voter.outvoted for voter in account.reads) == len(places)


@given(some_reads, st.sampled_from(["byte", "bit"]), st.randoms(use_true_random=False))
def test_the_order_of_the_reads_does_not_matter(reads: list[bytes], by: By, dice: random.Random) -> None:
    """Gaps where there are ties: then nothing depends on which read is the first."""
    account, image = of(*reads, by=by)
    turned = list(range(len(reads)))
    dice.shuffle(turned)
    other, again = of(*(reads[i] for i in turned), by=by)
    assert (other.sha256, other.disputed, other.unanimous) == (account.sha256, account.disputed, account.unanimous)
    assert [s.start for s in again.segments] == [s.start for s in image.segments]
    assert [other.reads[j].outvoted for j in range(len(reads))] == [account.reads[i].outvoted for i in turned]


@pytest.mark.parametrize(
    ("ties", "starts", "data"),
    [
        (Ties(), [0, 3], b"ABEF"),
        (Ties("first"), [0], b"ABcEF"),
        (Ties("fill", 0x2E), [0], b"AB.EF"),
    ],
)
def test_what_becomes_of_a_tie(ties: Ties, starts: list[int], data: bytes) -> None:
    account, image = of(b"ABcEF", b"ABdEF", b"ABfEG", ties=ties)
    assert ([s.start for s in image.segments], image.tobytes()) == (starts, data)
    assert (account.ties, account.exit_code, account.sha256) == (str(ties), 1, hashlib.sha256(data).hexdigest())
    found = account.findings[0]
    assert (found.code, found.severity, found.where.address) == ("no-majority", "fault", 2)


def test_the_first_value_fills_only_the_bits_that_are_tied() -> None:
    """Four reads; bit 0 is tied and bit 7 has a majority of three."""
    _, image = of(b"\x01", b"\x81", b"\x80", b"\x80", by="bit", ties=Ties("first"))
    assert image.tobytes() == b"\x81"


def test_ties_at_both_ends_and_nowhere_else() -> None:
    _, image = of(b"aXb", b"cXd", b"eXf")
    assert [(s.start, bytes(s.data[:])) for s in image.segments] == [(1, b"X")]
    _, empty = of(b"a", b"c", b"e")
    assert empty.segments == ()


# --- supply voltage -------------------------------------------------------------------------------------------------


def test_two_reads_at_a_low_voltage_bring_a_lost_0_back() -> None:
    """A cell that leaks reads 1 at 5.0 V and above, and 0 at 4.5 V: common practice, no source."""
    lossy, held = b"\x09", b"\x01"
    plain, _ = of(lossy, lossy, lossy, held, held, by="bit")
    weighed, image = of(lossy, lossy, lossy, held, held, by="bit", volts=[5.0, 5.0, 5.0, 4.5, 4.5])
    assert plain.list[0].voted == "09"
    assert image.tobytes() == held
    assert [voter.weight for voter in weighed.reads] == [1, 1, 1, 2, 2]
    assert weighed.remaining is None


def test_weights_never_speak_for_a_1() -> None:
    """A 1 at the lower voltage against 0s at the higher is no lost charge: there each read has one vote."""
    _, image = of(b"\x00", b"\x00", b"\x00", b"\x08", b"\x08", by="bit", volts=[5.0, 5.0, 5.0, 4.5, 4.5])
    assert image.tobytes() == b"\x00"


@given(st.lists(st.sampled_from([4.0, 4.25, 4.5, 4.75, 5.0, 5.5, None]), min_size=3, max_size=8), st.data())
def test_one_read_alone_never_outvotes_all_others(volts: list[float | None], data: st.DataObject) -> None:
    alone = data.draw(st.integers(0, len(volts) - 1))
    reads = [b"\x00" if i == alone else b"\xff" for i in range(len(volts))]
    account, _ = of(*reads, by="bit", volts=volts)
    assert account.list[0].voted in (None, "FF")


# --- reads of different shapes, and bad requests --------------------------------------------------------------------


def codes(findings: tuple[Finding, ...]) -> set[str]:
    return {found.code for found in findings}


def test_reads_of_different_sizes_are_voted_on_where_all_hold_bytes() -> None:
    account, image = of(b"TIDE GAUGE", b"TIDE GAUGE", b"TIDE")
    assert image.tobytes() == b"TIDE"
    assert "sizes-differ" in codes(account.findings)
    assert account.exit_code == 1
    assert [voter.sha256 for voter in account.reads] == [
        hashlib.sha256(r).hexdigest() for r in (b"TIDE GAUGE", b"TIDE GAUGE", b"TIDE")
    ]


def test_gaps_and_doubts_are_told() -> None:
    holed = Image(
        segments=(Segment(0x100, b"AB"), Segment(0x104, b"EF")), addressed=True, container="s-record", entry=0x100
    )
    doubtful = Image(
        segments=(Segment(0x100, b"ABCDEF"),), doubts=(Doubt(start=0x101, length=1, code="record-sum", why="spoilt"),),
        addressed=True, container="s-record",
    )  # fmt: skip
    raw = Image.from_bytes(b"ABCDEX")
    account, image = vote([holed, doubtful, raw], ["a.s19", "b.s19", "c.bin"])
    assert [(s.start, bytes(s.data[:])) for s in image.segments] == [(0x100, b"AB"), (0x104, b"EF")]
    assert {"gaps-differ", "sizes-differ"} & codes(account.findings)
    assert account.exit_code == 1
    assert {"doubtful-bytes", "addresses-moved"} <= codes(account.findings)
    assert (image.entry, image.addressed, account.first_address) == (0x100, True, 0x100)


def test_ties_run_on_over_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    """The smallest pieces, so that runs cross them."""
    monkeypatch.setattr(tally_module, "_BUDGET", 1)
    size = 3 * 4096
    reads = [bytearray(range(256)) * (size // 256) for _ in range(3)]
    for at in (*range(4090, 4100), 8191, 12287):
        for number, read in enumerate(reads):
            read[at] ^= 1 << number
    account, image = of(*map(bytes, reads))
    assert [(s.start, s.end) for s in image.segments] == [(0, 4090), (4100, 8191), (8192, 12287)]
    assert account.sha256 == hashlib.sha256(image.tobytes()).hexdigest()
    assert account.disputed.ties == 12


def test_the_list_is_cut_and_the_counts_are_not(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tally_module, "MAX_LISTED", 5)
    a, b, c = bytes(100), b"\x01" * 50 + bytes(50), b"\x02" * 25 + bytes(75)
    account, _ = of(a, b, c)
    assert account.disputed.addresses == 50
    assert account.disputed.ties == 25
    assert [d.address for d in account.list] == [0, 1, 2, 3, 4, 25, 26, 27, 28, 29]


def test_an_image_full_of_gaps_is_not_made(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tally_module, "MAX_GAPS", 3)
    account, image = of(b"1-2-3-4-5", b"a-b-c-d-e", b"A-B-C-D-E")
    assert image.segments == ()
    assert "gaps" in account.findings[0].why


def test_hundreds_of_reads() -> None:
    original = random.Random(3).randbytes(5000)
    reads = []
    for number in range(300):
        read = bytearray(original)
        read[number] ^= 0x10
        reads.append(bytes(read))
    account, image = of(*reads)
    assert image.tobytes() == original
    assert {voter.outvoted for voter in account.reads} == {1}


@pytest.mark.parametrize(
    ("reads", "options"),
    [
        ([b"A", b"A"], {}),
        ([b"A"], {}),
        ([b"A"] * 3, {"volts": [5.0, 4.5], "by": "bit"}),
        ([b"A"] * 3, {"volts": [5.0, 4.5, None], "by": "byte"}),
    ],
)
def test_impossible_votes(reads: list[bytes], options: dict[str, object]) -> None:
    with pytest.raises(UsageError) as caught:
        of(*reads, **options)   # type: ignore[arg-type]
    assert caught.value.code == "usage"


def test_how_many_reads_there_are_is_told_where_they_are_too_few() -> None:
    for reads, why in (([b"A"], "there is 1"), ([b"A", b"A"], "there are 2")):
        with pytest.raises(UsageError, match=why):
            of(*reads)


def test_a_vote_is_by_bytes_and_each_read_has_one_vote_unless_told_otherwise() -> None:
    account, _ = vote([Image.from_bytes(b"A")] * 3, ["a", "b", "c"])
    assert account.by == "byte"
    assert [voter.weight for voter in account.reads] == [1, 1, 1]
    assert {voter.sha256 for voter in account.reads} == {hashlib.sha256(b"A").hexdigest()}


def test_progress_comes_to_all_the_bytes_of_all_reads() -> None:
    done: list[int] = []
    vote([Image.from_bytes(bytes(10_000))] * 3, ["a", "b", "c"], advance=done.append)
    assert sum(done) == 30_000


def test_the_cause_of_a_dispute_is_looked_for_and_none_where_there_is_no_dispute() -> None:
    good = random.Random(3).randbytes(512)
    stuck = bytes(value | 8 for value in good)
    account, image = of(good, good, stuck)
    assert image.tobytes() == good
    assert "data-line-stuck" in codes(account.findings)
    assert of(good, good, good)[0].findings == ()


def test_how_a_tie_can_be_settled_follows_from_the_way_of_voting() -> None:
    """By definition: a bit of an odd number of equal votes is never tied; a byte can be."""
    tied = {
        "bytes": of(b"a", b"b", b"c")[0], "even": of(b"a", b"a", b"b", b"b", by="bit")[0],
        "weighed": of(b"\x00", b"\x08", b"\x08", by="bit", volts=[4.0, 5.0, 5.0])[0],
    }  # fmt: skip
    hints = {name: next(f for f in account.findings if f.code == "no-majority").hint for name, account in tied.items()}
    again = "read the carrier again, and vote over all reads"
    assert hints == {
        "bytes": f"{again}; a vote by bits settles addresses where no whole byte has a majority",
        "even": f"{again}; with an odd number of reads no bit can be tied, unless reads are weighed",
        "weighed": again,
    }


def test_reads_without_a_common_address() -> None:
    pieces = [Image(segments=(Segment(0, b"AB"), Segment(n, b"C")), addressed=True) for n in (16, 32)]
    with refuses(UsageError, "usage", "the reads have no address in common"):
        vote([*pieces, Image(segments=(Segment(16, b"AB"), Segment(32, b"AB")), addressed=True)], ["a", "b", "c"])
