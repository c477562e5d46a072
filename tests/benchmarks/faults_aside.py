"""Faults that the diagnosis is not tuned on: they say how it fares with what it was not made for. See `faults`.

Who tunes a rule reads no further.

Where no source is named a fault is common practice, no source. They are made from how chips, sockets, readers and
transfers fail; where a fault has no code of its own, the truth is the code whose sentence has the right thing done.
"""

from __future__ import annotations

import re

import numpy as np

from tests.benchmarks.faults import (
    FEWEST,
    charge_loss,
    exchanged_addresses,
    exchanged_bytes,
    filled_up,
    little_noise,
    lost_cells,
    lost_contact,
    mirrored,
    parity,
    stretch,
    stuck_data,
    told_apart,
    truncated,
    with_bits,
)
from tests.benchmarks.faults_more import shorted_address
from tests.benchmarks.injecting import (
    Bytes,
    Cause,
    Draw,
    Kind,
    Made,
    Trial,
    addresses,
    apart,
    by_reader,
    exchanged_address,
    flipped,
    in_one,
    lines_of,
    together,
    wiring_of,
)

# --- contacts


def open_data(a: Bytes, draw: Draw) -> Made:
    """A data line is open throughout: what the reader sees there is no level at all, one time so and one time so."""
    line, ones = draw.whole(0, 8), float(draw.dice.uniform(0.25, 0.75))
    mask = np.uint8(1 << line)
    return Made(
        lambda x, d: np.where(d.hits(len(x), ones), x | mask, x & ~mask),
        Cause("data-line-unstable", {"line": f"D{line}"}), by_chance=True,
    )  # fmt: skip


def contact_that_comes_and_goes(a: Bytes, draw: Draw) -> Made:
    """A dirty pin of a data line loses its contact for a while, several times in one read."""
    line, value = draw.whole(0, 8), draw.whole(0, 2)
    mask = np.uint8(1 << line)
    without = np.zeros(len(a), np.bool_)
    for _ in range(draw.whole(3, 8)):
        length = draw.whole(len(a) // 64, len(a) // 12)
        begin = draw.whole(0, len(a) - length)
        without[begin : begin + length] = True
    # that it is this pin is what counts: the same contact is to be cleaned
    cause = Cause("contact-lost", {"line": f"D{line}"}, also=("data-line-unstable",))
    return Made(lambda x, d: np.where(without, x | mask if value else x & ~mask, x), cause)


# --- readers and adapters


def sagging_data(a: Bytes, draw: Draw) -> Made:
    """A reader's ground is poor: one of its data lines reads 0 where most of the others are 1, nearly each time."""
    line, most, rate = draw.whole(0, 8), draw.whole(4, 6), float(draw.dice.uniform(0.5, 1.0))
    mask = np.uint8(1 << line)

    def apply(x: Bytes, d: Draw) -> Bytes:
        high = np.unpackbits((x & ~mask)[:, None], axis=1).sum(axis=1)
        return np.where((high >= most) & d.hits(len(x), rate), x & ~mask, x)

    return Made(apply, Cause("data-line-unstable", {"line": f"D{line}"}, allowed=("follows-reader",)), by_chance=True)


def slow_address(a: Bytes, draw: Draw) -> Made:
    """A reader's driver of one address line is weak: for some cycles after a change the chip sees the old level."""
    line = draw.whole(1, max(lines_of(a) - 5, 2))
    cycles, rising = draw.whole(1, max((1 << line) // 2, 1) + 1), draw.chance(0.7)
    rate = float(draw.dice.uniform(0.5, 1.0))

    def apply(x: Bytes, d: Draw) -> Bytes:
        at = addresses(x)
        fresh = (at % (1 << line) < cycles) & ((at >> line & 1) == rising) & (at >= 1 << line)
        return np.where(fresh & d.hits(len(x), rate), x[np.minimum(at ^ (1 << line), len(x) - 1)], x)

    return Made(
        apply, Cause("address-line-unstable", {"line": f"A{line}"}, allowed=("follows-reader",)), by_chance=True
    )  # fmt: skip


def wrong_adapter(a: Bytes, draw: Draw) -> Made:
    """The adapter is wired for another type: three of the upper address lines go round."""
    count = lines_of(a)
    three = [int(line) for line in draw.dice.choice(np.arange(count - 6, count), 3, replace=False)]
    lines = list(range(count))
    for line, carries in zip(three, (*three[1:], three[0]), strict=True):
        lines[line] = carries
    cause = Cause("address-lines-exchanged", {"wiring": wiring_of(lines, "A")}, allowed=("follows-reader",))
    return Made(lambda x, d: exchanged_address(x, lines), cause)


# --- lanes


def lanes_after_one_another(a: Bytes, draw: Draw) -> Made:
    """A chip of words was read in an adapter, one lane after the other, and the files were joined end to end."""
    count = lines_of(a)
    lines = [*range(1, count), 0]
    cause = Cause("address-lines-exchanged", {"wiring": wiring_of(lines, "A")}, also=("lane-of",))
    return Made(lambda x, d: exchanged_address(x, lines), cause)


def words_of_several_chips(a: Bytes, draw: Draw) -> Trial:
    """One read is of the words of two chips, or of four, and the others are of one chip alone."""
    step = draw.one_of(2, 2, 4)
    which = draw.whole(0, step)
    lanes = [a if lane == which else draw.other(len(a)) for lane in range(step)]
    reads = [a] * draw.whole(2, 5)
    reads[draw.whole(0, len(reads))] = np.stack(lanes, axis=1).ravel()
    return Trial(tuple(reads), (Cause("lane-of", {"lane": which}),))


def stuck_in_one_lane(a: Bytes, draw: Draw) -> Made:
    """A data line of a chip of words is stuck in its adapter: every second byte has the fault."""
    line, value, lane = draw.whole(0, 8), draw.whole(0, 2), draw.whole(0, 2)
    mask = np.uint8(1 << line)
    cause = Cause("data-line-stuck", {"line": f"D{line}", "value": value}, also=("data-line-unstable",))
    return Made(
        lambda x, d: np.where((addresses(x) & 1) == lane, x | mask if value else x & ~mask, x), cause
    )  # fmt: skip


def one_lane_unread(a: Bytes, draw: Draw) -> Made:
    """One lane of an adapter had no chip that answered: every second byte is what the bus gives by itself."""
    lane, value = draw.whole(0, 2), draw.one_of(0xFF, 0xFF, 0x00)
    return Made(
        lambda x, d: np.where((addresses(x) & 1) == lane, np.uint8(value), x),
        Cause("not-selected-at-times", allowed=("contact-lost", "half-missing")),
    )  # fmt: skip


# --- types and sizes


def wrong_type(a: Bytes, draw: Draw) -> Made:
    """A chip in a socket for its like: the reader's highest address line is its select, and its own stands high.

    Source: the pin-outs of 2732 and 2532 in their makers' data sheets (from memory): A11 is pin 21 of the one and pin
    18 of the other, where the first has its chip enable, and the supply is at pin 21 when the second is read.
    """
    half = len(a) // 2
    # a transfer that lost the first half leaves the very same bytes
    cause = Cause(
        "half-missing", also=("address-line-stuck", "block-missing", "truncated", "ends-in-fill", "shifted"),
        allowed=("bytes-exchanged", "content-differs"),
    )  # fmt: skip
    return Made(lambda x, d: filled_up(x[half:], len(x)), cause)


def size_too_large(a: Bytes, draw: Draw) -> Trial:
    """The reader was set to a larger chip, and the line above selects: beyond the content there is nothing."""
    times, value = draw.one_of(2, 2, 4), draw.one_of(0xFF, 0xFF, 0x00)
    reads = [a] * draw.whole(2, 6)
    reads[draw.whole(0, len(reads))] = filled_up(a, times * len(a), value)
    # a larger chip that is not full, of which the others are parts, would read the same: no read is the ill one
    return Trial(tuple(reads), (Cause("ends-in-fill", also=("truncated", "half-missing", "block-missing")),))


# --- cells


def blurred_by_volts(a: Bytes, draw: Draw) -> Trial:
    """Lost cells follow the supply, and the supply is not steady: near its threshold each gives now 0 and now 1."""
    cells = lost_cells(a, draw, 0.02)
    limits = draw.dice.uniform(4.4, 5.7, len(cells))
    blur = float(draw.dice.uniform(0.08, 0.2))
    volts = told_apart(draw)
    reads = tuple(with_bits(a, cells[limits + draw.dice.normal(0, blur, len(cells)) < at], 1) for at in volts)
    return Trial(reads, (Cause("charge-loss", also=("weak-cells",)),), volts, technology=draw.one_of("eprom", None))


def leaking_in_one_output(a: Bytes, draw: Draw) -> Trial:
    """The columns of one output are the weak ones: its programmed cells read as 1 the sooner, the higher the supply."""
    line = draw.whole(0, 8)
    zeros = np.flatnonzero((a >> line & 1) == 0)
    count = min(max(int(len(zeros) * draw.rate(5e-3, 0.2)), 40), len(zeros) * 3 // 4)
    cells = draw.dice.choice(zeros, count, replace=False) * 8 + 7 - line
    limits = draw.dice.uniform(4.3, 5.6, count)
    volts = told_apart(draw)
    reads = tuple(with_bits(a, cells[limits + draw.dice.normal(0, 0.01, count) < at], 1) for at in volts)
    # the line itself is no wrong observation, but its contact is not what is ill
    cause = Cause("charge-loss", also=("weak-cells",), allowed=("data-line-unstable",))
    return Trial(reads, (cause,), volts, technology="eprom")


def lost_since_the_first(a: Bytes, draw: Draw) -> Trial:
    """One read is years old, and all others are of today: they agree among themselves that the charge is gone."""
    cells = lost_cells(a, draw, 0.02)
    today = with_bits(a, cells, 1)
    count = draw.whole(3, 6)
    volts = (5.0,) * count if draw.chance() else ()
    return Trial((a, *[today] * (count - 1)), (Cause("charge-loss"),), volts, technology="eprom")


# --- supply and cables


def dips(a: Bytes, draw: Draw) -> Trial:
    """The supply dips again and again while the chip is read: some ones of a byte read as 0, in every read anew."""
    rate, share = max(draw.rate(1e-3, 0.05), 32 / len(a)), float(draw.dice.uniform(0.15, 0.5))

    def dipped() -> Bytes:
        gone = np.packbits(draw.dice.random((len(a), 8)) < share, axis=1)[:, 0]
        return a & ~np.where(draw.hits(len(a), rate), gone, np.uint8(0))

    # a second chip that answers at times pulls low as well
    cause = Cause("random-noise", also=("contention",), allowed=("weak-cells",))
    return Trial(tuple(dipped() for _ in range(draw.whole(4, 7))), (cause,))


def noise_at_a_low_supply(a: Bytes, draw: Draw) -> Trial:
    """A low supply leaves less room for its noise: many bits are wrong there and few above, never the same twice."""
    rate = max(draw.rate(2e-3, 0.03), 40 / len(a))
    low, high = draw.one_of((4.5, 5.0), (4.5, 5.5), (4.75, 5.25))
    count_low, count_high = draw.whole(2, 4), draw.whole(2, 4)
    volts = tuple(float(at) for at in draw.dice.permutation([low] * count_low + [high] * count_high))
    share = draw.one_of(0.0, 0.05, 0.1)
    reads = tuple(flipped(a, rate if at == low else rate * share, draw) for at in volts)
    cause = Cause("random-noise", allowed=("weak-cells",))
    return Trial(reads, (cause,), volts, technology=draw.one_of("eprom", None))


def garbled(a: Bytes, draw: Draw) -> Made:
    """A serial line without a check: a disturbed character arrives as any other, and none is lost."""
    rate = max(draw.rate(1e-3, 0.05), 32 / len(a))

    def apply(x: Bytes, d: Draw) -> Bytes:
        return np.where(d.hits(len(x), rate), d.dice.integers(0, 256, len(x)).astype(np.uint8), x)

    return Made(apply, Cause("random-noise", allowed=("content-differs",)), by_chance=True)


# --- transfers


def blocks_lost_or_twice(a: Bytes, draw: Draw) -> Made:
    """A transfer in blocks: one or two are lost, or come twice since the answer to them was lost."""
    size = draw.one_of(*[size for size in (128, 256, 512, 1024) if size * 12 <= len(a)])
    # behind it is something that moves: in a tail of fill a lost block is no other than one that was never read
    last = min(int(np.flatnonzero(a != a[-1]).max(initial=0)) // size - 2, len(a) // size * 3 // 4)
    blocks = draw.dice.choice(np.arange(1, max(last, 3)), draw.whole(1, 3), replace=False)
    places = [int(block) * size for block in sorted(blocks)]
    twice, filled = draw.chance(), draw.chance(0.7)

    def apply(x: Bytes, d: Draw) -> Bytes:
        out = x
        for place in reversed(places):
            block = slice(place, place + size)
            out = np.insert(out, place, out[block]) if twice else np.delete(out, block)
        return filled_up(out, len(x)) if filled else out

    # a piece that is left out is what another version has as well; one that stands there twice is not
    how = {"allowed": ("content-differs",)} if twice else {"also": ("content-differs",)}
    return Made(apply, Cause("shifted", **how))


def after_each_cr(a: Bytes, draw: Draw) -> Made:
    """A terminal program put a LF after each CR that had none; or it took away the one that stood there."""
    filled = draw.chance()

    def apply(x: Bytes, d: Draw) -> Bytes:
        data = x.tobytes()
        if data.count(b"\r\n") >= FEWEST:
            out = data.replace(b"\r\n", b"\r")
        elif len(re.findall(rb"\r(?!\n)", data)) >= FEWEST:
            out = re.sub(rb"\r(?!\n)", b"\r\n", data)
        else:
            return x
        array = np.frombuffer(out, np.uint8)
        return filled_up(array, len(x)) if filled else array

    return Made(apply, Cause("line-endings-changed", allowed=("shifted",)))


def records_left_out(a: Bytes, draw: Draw) -> Made:
    """Lines of a text container were lost on the way, and what they held was never put into the image."""
    length, value = draw.one_of(16, 16, 32), draw.one_of(0xFF, 0xFF, 0x00)
    records = len(a) // length
    lost = np.zeros(records, np.bool_)
    for begin in draw.dice.integers(0, records - 4, draw.whole(3, 14)):
        lost[begin : begin + draw.one_of(1, 1, 1, 2, 4)] = True
    gone = np.repeat(lost, length)
    # spans of one value, at whole records: no code is for these, and those that name the spans have it read again
    cause = Cause("contact-lost", also=("not-selected-at-times", "block-missing"))
    return Made(lambda x, d: np.where(gone, np.uint8(value), x), cause)


# --- content


def part_of_another_chip(a: Bytes, draw: Draw) -> Made:
    """Two chips in one read: an aligned part, a half most often, came from another chip of the set."""
    parts = draw.one_of(2, 2, 4)
    size = len(a) // parts
    which, other = draw.whole(0, parts), draw.other(size)

    def apply(x: Bytes, d: Draw) -> Bytes:
        out = x.copy()
        out[which * size : (which + 1) * size] = other
        return out

    return Made(apply, Cause("content-differs", allowed=("contact-lost",)))


def powered_up_part(a: Bytes, draw: Draw) -> Made:
    """A battery RAM was without supply for a moment: a part of it holds what such cells come up with, row by row."""
    parts, row = draw.one_of(2, 4, 8), draw.one_of(16, 32, 64)
    which, size = draw.whole(0, parts), len(a) // parts
    at = np.arange(size)
    fresh = np.where((at // row & 1) == draw.whole(0, 2), 0xFF, 0x00).astype(np.uint8)
    fresh = flipped(fresh, float(draw.dice.uniform(0.02, 0.3)), draw)

    def apply(x: Bytes, d: Draw) -> Bytes:
        out = x.copy()
        out[which * size : (which + 1) * size] = fresh
        return out

    return Made(apply, Cause("content-differs", allowed=("contact-lost",)))


def memory_in_use(a: Bytes, draw: Draw) -> Trial:
    """A battery RAM that the machine wrote to between the reads: some variables differ, always the same ones."""
    fields = []
    for _ in range(draw.whole(3, 7)):
        length = draw.whole(8, 33)
        fields.append((draw.whole(0, len(a) - length), length))
    now, reads = a, []
    for _ in range(draw.whole(2, 6)):
        reads.append(now)
        now = now.copy()
        for begin, length in fields:
            now[begin : begin + length] = draw.dice.integers(0, 256, length)
    # noise in bursts would be elsewhere each time, and of two reads nothing tells that
    cause = Cause(
        "content-differs", also=("random-noise",) if len(reads) == 2 else (), allowed=("random-noise", "contact-lost")
    )  # fmt: skip
    return Trial(tuple(reads), (cause,), technology="ram", never=("charge-loss",))


# --- for two at once


def long_without_contact(a: Bytes, draw: Draw) -> Made:
    """For a stretch one data line floats low, or high."""
    begin, length = stretch(a, draw)
    line, value = draw.whole(0, 8), draw.whole(0, 2)
    mask = np.uint8(1 << line)

    def apply(x: Bytes, d: Draw) -> Bytes:
        at = addresses(x)
        return np.where((at >= begin) & (at < begin + length), x | mask if value else x & ~mask, x)

    return Made(apply, Cause("contact-lost", {"line": f"D{line}"}, allowed=("data-line-unstable",)))


KINDS: dict[str, Kind] = {
    "data line open throughout": in_one(open_data),
    "contact that comes and goes": in_one(contact_that_comes_and_goes),
    "data line that sags, on a reader": by_reader(sagging_data),
    "address line slow, on a reader": by_reader(slow_address),
    "wrong adapter, on a reader": by_reader(wrong_adapter),
    "lanes after one another": in_one(lanes_after_one_another),
    "words of several chips": words_of_several_chips,
    "data line stuck in one lane": in_one(stuck_in_one_lane),
    "one lane not read": in_one(one_lane_unread),
    "wrong type": in_one(wrong_type),
    "size set too large": size_too_large,
    "charge-loss, unsteady supply": blurred_by_volts,
    "charge-loss in one output": leaking_in_one_output,
    "charge-loss since the first read": lost_since_the_first,
    "supply that dips, in all": dips,
    "noise at a low supply": noise_at_a_low_supply,
    "garbled characters": in_one(garbled),
    "blocks lost or twice": in_one(blocks_lost_or_twice),
    "line endings, after each CR": in_one(after_each_cr),
    "records left out": in_one(records_left_out),
    "part of another chip": in_one(part_of_another_chip),
    "battery RAM, a part powered up": in_one(powered_up_part),
    "battery RAM in use": memory_in_use,
}

DOUBLE: dict[str, Kind] = {
    "charge loss + contact lost, one line": together(charge_loss, long_without_contact),
    "address lines shorted + noise": together(shorted_address, little_noise),
    "bytes exchanged + charge loss": together(charge_loss, exchanged_bytes),
    "mirrored + charge loss": together(charge_loss, mirrored),
    "parity + charge loss": together(charge_loss, parity),
    "data line stuck, another exchanged": apart(stuck_data, exchanged_addresses),
    "contact lost, another truncated": apart(lost_contact, truncated),
    "data line open, another blocks": apart(open_data, blocks_lost_or_twice),
}
