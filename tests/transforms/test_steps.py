"""Steps as records: done again from their JSON, undone, and refused when they are hostile."""

from __future__ import annotations

import json
import typing
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imagekeeper.addresses import Doubt
from imagekeeper.containers.model import Image, Segment
from imagekeeper.digests import sha256_hex
from imagekeeper.errors import ImagekeeperError, InputError, UsageError
from imagekeeper.jsonable import canonical, to_json
from imagekeeper.transforms.chip_steps import (
    FillGaps,
    Invert,
    JoinLanes,
    Pad,
    Repeat,
    ReverseBits,
    SplitLane,
    Swap,
    Trim,
    Window,
)
from imagekeeper.transforms.disk_steps import FitGeometry, OrderSectors, OrderSides
from imagekeeper.transforms.doubts import PLACES, carried
from imagekeeper.transforms.replaying import AnyStep, replay, steps_of, take

#: 512 bytes of which the last 200 are FF; as a disk, two cylinders of two sides of two sectors of 64 bytes.
DATA = bytes(range(1, 251)) + bytes(range(62)) + b"\xff" * 200
OTHER = bytes(range(255, -1, -1)) * 2

STEPS: tuple[AnyStep, ...] = (
    Window(3, 300), FillGaps(0xEE, ((5, 3), (100, 1), (516, 4))), JoinLanes((sha256_hex(OTHER),), 2), Trim(400, 0xFF),
    Swap("bytes"), Swap("words"), ReverseBits(), Invert(), SplitLane(1, 2, 1), SplitLane(3, 4, 2),
    Pad(600, 0x00, "end"), Pad(600, 0xFF, "start"), Repeat(1024), FitGeometry("3x2x2x64", None, 0xE5, False),
    FitGeometry("2x2x1x96", None, 0xFF, False), FitGeometry("1x2x2x64", None, 0xFF, True),
    OrderSides("2x2x2x64", None, "alternating", "side-1-reversed"), OrderSectors(
        geometry="2x2x2x64", first_track=None, interleave_from=1, skew_from=0, interleave_to=1, skew_to=1
    ),
    OrderSides("2x2x2x64", "1x128", "side-after-side", "alternating"),
)  # fmt: skip


def others(step: AnyStep) -> list[bytes]:
    return [OTHER for _ in step.needs]


def test_every_kind_of_step_is_tried_here() -> None:
    assert {type(step) for step in STEPS} == set(typing.get_args(AnyStep))


@pytest.mark.parametrize("step", STEPS, ids=repr)
def test_a_record_gives_the_same_step_and_the_same_bytes(step: AnyStep) -> None:
    after, done = take(DATA, step, others(step))
    record = json.loads(json.dumps(to_json(done)))["record"]
    assert record["step"] == done.name
    assert steps_of([record]) == (step,)
    again = replay(DATA, steps_of([record]), {sha256_hex(OTHER): OTHER})
    assert again == after
    assert (done.before_bytes, done.after_bytes, done.sha256) == (512, len(again), sha256_hex(again))


@pytest.mark.parametrize("step", STEPS, ids=repr)
def test_what_is_said_to_lead_back_does(step: AnyStep) -> None:
    after, done = take(DATA, step, others(step))
    lost = isinstance(step, (Window, SplitLane, FillGaps)) or (isinstance(step, FitGeometry) and step.cut_data)
    assert (done.undo is None) == lost
    if done.undo is not None:
        assert replay(after, steps_of([to_json(done.undo)])) == DATA


def test_the_form_of_a_record_stays() -> None:
    """Archives keep these: a change here loses what they say."""
    records = [canonical(step).decode() for step in STEPS]
    assert records[0] == '{"offset":3,"size_bytes":300,"step":"window"}'
    assert records[1] == '{"fill":238,"gaps":[[5,3],[100,1],[516,4]],"step":"fill-gaps"}'
    assert records[2] == f'{{"others":["{sha256_hex(OTHER)}"],"step":"join-lanes","width_bytes":2}}'
    assert records[3] == '{"fill":255,"size_bytes":400,"step":"trim"}'
    assert records[4] == '{"step":"swap","swapped":"bytes"}'
    assert records[6] == '{"step":"reverse-bits"}'
    assert records[7] == '{"step":"invert"}'
    assert records[8] == '{"lane":1,"lanes":2,"step":"split-lane","width_bytes":1}'
    assert records[11] == '{"at":"start","fill":255,"size_bytes":600,"step":"pad"}'
    assert records[12] == '{"size_bytes":1024,"step":"repeat"}'
    assert records[13] == (
        '{"cut_data":false,"fill":229,"first_track":null,"geometry":"3x2x2x64","step":"fit-geometry"}'
    )
    assert records[16] == (
        '{"first_track":null,"geometry":"2x2x2x64","sides_from":"alternating","sides_to":"side-1-reversed",'
        '"step":"order-sides"}'
    )
    assert records[17] == (
        '{"first_track":null,"geometry":"2x2x2x64","interleave_from":1,"interleave_to":1,"skew_from":0,"skew_to":1,'
        '"step":"order-sectors"}'
    )


HOSTILE: list[Any] = [
    None, 7, "invert", {"step": "invert"}, [None], [[]], [{}], [{"step": 3}], [{"step": ["invert"]}],
    [{"step": "explode"}], [{"step": "invert", "twice": True}], [{"step": "invert"}] * 101,
    [{"step": "swap"}], [{"step": "swap", "swapped": "bits"}], [{"step": "swap", "swapped": ["bytes"]}],
    [{"step": "pad", "size_bytes": 1 << 62, "fill": 0, "at": "end"}],
    [{"step": "pad", "size_bytes": True, "fill": 0, "at": "end"}],
    [{"step": "pad", "size_bytes": 600, "fill": 256, "at": "end"}],
    [{"step": "pad", "size_bytes": 600.0, "fill": 0, "at": "end"}],
    [{"step": "repeat", "size_bytes": 0}], [{"step": "repeat", "size_bytes": -1}],
    [{"step": "repeat", "size_bytes": 1e9}],
    [{"step": "window", "offset": -1, "size_bytes": 4}], [{"step": "trim", "size_bytes": 4, "fill": None}],
    [{"step": "fill-gaps", "fill": 0, "gaps": [[0, 1 << 40]]}], [{"step": "fill-gaps", "fill": 0, "gaps": [[0]]}],
    [{"step": "fill-gaps", "fill": 0, "gaps": [[0, -1]]}], [{"step": "fill-gaps", "fill": 0, "gaps": {"0": 1}}],
    [{"step": "fill-gaps", "fill": 0, "gaps": [[0, 1 << 28], [1 << 28, 1 << 28]]}],
    [{"step": "split-lane", "lane": 2, "lanes": 2, "width_bytes": 1}],
    [{"step": "split-lane", "lane": 0, "lanes": 0, "width_bytes": 1}],
    [{"step": "split-lane", "lane": 0, "lanes": 2, "width_bytes": 3}],
    [{"step": "join-lanes", "others": [], "width_bytes": 1}],
    [{"step": "join-lanes", "others": [None], "width_bytes": 1}],
    [{"step": "order-sides", "geometry": "9" * 5000, "first_track": None, "sides_from": "alternating",
      "sides_to": "side-after-side"}],
    [{"step": "order-sides", "geometry": "80x2x9x512", "first_track": "x", "sides_from": "alternating",
      "sides_to": "side-after-side"}],
    [{"step": "fit-geometry", "geometry": "99999x255x255x16384", "first_track": None, "fill": 0, "cut_data": False}],
]  # fmt: skip


@pytest.mark.parametrize("records", HOSTILE, ids=lambda records: repr(records)[:60])
def test_hostile_records_raise_our_error(records: Any) -> None:
    with pytest.raises(InputError) as problem:
        steps_of(records)
    assert problem.value.code == "step-record"
    assert len(problem.value.why) < 300


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


@given(st.sampled_from(STEPS), st.data())
def test_a_record_with_anything_in_one_member_is_read_or_refused(step: AnyStep, data: st.DataObject) -> None:
    record = to_json(step)
    record[data.draw(st.sampled_from(sorted(record)))] = data.draw(json_values)
    try:
        replay(DATA, steps_of([record]), {sha256_hex(OTHER): OTHER})
    except ImagekeeperError as problem:
        assert problem.code in ("step-record", "does-not-fit", "would-lose", "usage")


def test_the_images_to_join_must_be_those_of_the_record() -> None:
    step = JoinLanes((sha256_hex(OTHER),), 1)
    with pytest.raises(InputError) as missing:
        replay(DATA, [step])
    assert missing.value.code == "step-record"
    with pytest.raises(UsageError) as wrong:
        replay(DATA, [step], {sha256_hex(OTHER): DATA})
    assert wrong.value.code == "does-not-fit"


@given(st.permutations(range(len(STEPS))), st.sets(st.integers(0, 511), max_size=12))
def test_doubts_go_where_their_bytes_go(order: list[int], doubtful: set[int]) -> None:
    """Bytes are marked by a value that nothing else has; steps that change values or add that value are left out."""
    marked = bytes(0x77 if at in doubtful else 0x01 for at in range(512))
    movers = [
        STEPS[at] for at in order if not isinstance(STEPS[at], (ReverseBits, Invert, JoinLanes, Trim))
    ]  # fmt: skip
    done, data = [], marked
    for step in movers:
        try:
            data = step.apply(data)
        except UsageError:
            continue
        done.append(step)
        if len(done) == 3:
            break
    source = replace(
        Image.from_bytes(bytes(512)), doubts=tuple(Doubt(
            start=at, length=1, code="record-sum", why=f"{at}"
        ) for at in sorted(doubtful))
    )
    found = carried([source], done, 0x100)
    places = {doubt.start - 0x100 + i for doubt in found for i in range(doubt.length)}
    assert places == {at for at, byte in enumerate(data) if byte == 0x77}


def test_doubts_of_lanes_come_together() -> None:
    whole = Doubt(start=0, length=0, code="no-end", why="the end record is missing", line=None)
    one = replace(Image.from_bytes(b"abcd", 0x40), doubts=(Doubt(
        start=0x41, length=1, code="record-sum", why="one", line=3
    ), whole))
    two = Image(
        segments=(Segment(0, b"ab"), Segment(8, b"cd")),
        doubts=(Doubt(start=1, length=8, code="record-sum", why="two", line=4),),
    )  # fmt: skip
    found = carried([one, two], [JoinLanes((sha256_hex(b"abcd"),), 1)], 0)
    assert found[0] == whole
    assert [(doubt.start, doubt.length, doubt.why) for doubt in found[1:]] == [
        (2, 1, "one"), (3, 1, "two"), (5, 1, "two")
    ]  # fmt: skip


def test_a_doubt_at_many_places_becomes_one_span() -> None:
    source = replace(Image.from_bytes(bytes(512)), doubts=(Doubt(
        start=0, length=256, code="record-sum", why="the sum is wrong"
    ),))
    (found,) = carried([source, Image.from_bytes(bytes(512))], [JoinLanes((sha256_hex(bytes(512)),), 1)], 0)
    assert (found.start, found.length) == (0, 511)
    assert found.why == "at 256 places within: the sum is wrong"
    assert PLACES < 256


def test_more_doubts_than_a_byte_can_number() -> None:
    doubts = tuple(Doubt(start=at, length=1, code="record-sum", why=f"line {at}", line=at) for at in range(0, 1024, 2))
    source = replace(Image.from_bytes(bytes(1024)), doubts=doubts)
    found = carried([source], [SplitLane(0, 2, 1)], 0)
    assert [(doubt.start, doubt.line) for doubt in found] == [(at, 2 * at) for at in range(512)]
