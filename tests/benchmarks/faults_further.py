"""The third part of the faults that the diagnosis may be tuned on, as kinds of trials. See `faults`.

They were set aside once, and are no longer: what has been looked at proves nothing of what has not.

They are made from how chips, sockets, readers and transfers fail; where a fault has no code of its own, the truth is
the code whose sentence has the right thing done.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.benchmarks.faults import (
    charge_loss,
    dropped_bytes,
    filled_up,
    inverted,
    little_noise,
    lost_cells,
    shifted,
    stuck_address,
    stuck_data,
    truncated,
    with_bits,
)
from tests.benchmarks.faults_more import repeated_byte
from tests.benchmarks.injecting import (
    Bytes,
    Cause,
    Draw,
    Fault,
    Kind,
    Made,
    Trial,
    addresses,
    apart,
    by_reader,
    exchanged_lines,
    flipped,
    in_one,
    lines_of,
    together,
    wiring_of,
)

# --- cells


def leaky_array_lines(a: Bytes, draw: Draw) -> Made:
    """Charge leaks along a few word lines of the array, or along a few of its bit lines.

    The lowest address lines choose the column here, and each data line has columns of its own.
    """
    column_lines = draw.whole(4, 6)
    programmed = np.unpackbits(a).reshape(-1, 8) == 0
    at = addresses(a)
    inside = np.zeros_like(programmed)
    if draw.chance():
        rows = np.unique(at[programmed.any(axis=1)] >> column_lines)
        chosen = draw.dice.choice(rows, min(draw.whole(4, 10), len(rows)), replace=False)
        inside[np.isin(at >> column_lines, chosen)] = True
        share = float(draw.dice.uniform(0.06, 0.25))
    else:
        for _ in range(draw.whole(3, 6)):
            column = draw.whole(0, 1 << column_lines)
            inside[(at & ((1 << column_lines) - 1)) == column, draw.whole(0, 8)] = True
        share = float(draw.dice.uniform(0.15, 0.5))
    lost = np.flatnonzero((inside & programmed & draw.hits(inside.size, share).reshape(-1, 8)).ravel())
    return Made(lambda x, d: with_bits(x, lost, 1), Cause("charge-loss"))


def leaking_by_reader(a: Bytes, draw: Draw) -> Trial:
    """Three readers at one supply: each has a threshold of its own, so that each sees more lost cells, or fewer."""
    cells = lost_cells(a, draw, 0.03)
    limits = draw.dice.uniform(0, 1, len(cells))
    levels = [float(level) for level in draw.dice.permutation([0.0, draw.dice.uniform(0.25, 0.6), 0.95])]
    reads = tuple(with_bits(a, cells[limits + draw.dice.normal(0, 0.01, len(cells)) < level], 1) for level in levels)
    # which reader sees most is the reader's, and that there is something to see is the chip's
    cause = Cause("charge-loss", allowed=("weak-cells", "follows-reader"))
    readers = ("bench reader", "pocket reader", "office reader")
    return Trial(reads, (cause,), (5.0, 5.0, 5.0), readers, draw.one_of("eprom", None))


def leaking_with_heat(a: Bytes, draw: Draw) -> Trial:
    """The chip grows warm while it is read again and again: what was lost stays lost, and more is lost each time."""
    cells = lost_cells(a, draw, 0.03)
    limits = draw.dice.uniform(0, 1, len(cells))
    count = draw.whole(3, 6)
    levels = np.sort(draw.dice.uniform(0.0, 1.0, count))
    levels[0], levels[-1] = 0.0, 1.0
    reads = tuple(with_bits(a, cells[limits < level], 1) for level in levels)
    volts = (5.0,) * count if draw.chance() else ()
    return Trial(reads, (Cause("charge-loss", allowed=("weak-cells",)),), volts, technology="eprom")


def flickering_cells(a: Bytes, draw: Draw) -> Trial:
    """Cells at the threshold read as 1 now and as 0 then, at one supply: mostly still as they were programmed."""
    programmed = np.flatnonzero(np.unpackbits(a) == 0)
    wanted = max(int(len(programmed) * draw.rate(3e-4, 0.02)), 80)
    cells = draw.dice.choice(programmed, min(wanted, len(programmed) // 2), replace=False)
    chances = draw.dice.uniform(0.05, 0.4, len(cells))
    count = draw.whole(3, 6)
    reads = tuple(with_bits(a, cells[draw.dice.random(len(cells)) < chances], 1) for _ in range(count))
    volts = (5.0,) * count if draw.chance() else ()
    return Trial(reads, (Cause("charge-loss", also=("weak-cells",)),), volts, technology="eprom")


# --- lines


def soft_data(a: Bytes, draw: Draw) -> Made:
    """A data line has lost its contact: what it reads now and then is what its neighbour couples into it."""
    line, rate = draw.whole(0, 8), draw.rate(0.02, 0.7)
    beside = line + (1 if line == 0 or (line < 7 and draw.chance()) else -1)

    def apply(x: Bytes, d: Draw) -> Bytes:
        coupled = (x & np.uint8(255 ^ 1 << line)) | (((x >> beside) & 1) << line)
        return np.where(d.hits(len(x), rate), coupled, x)

    return Made(apply, Cause("data-line-unstable", {"line": f"D{line}"}), by_chance=True)


def found_contact_late(a: Bytes, draw: Draw) -> Made:
    """A data line has no contact when the read begins, and finds it on the way, for good."""
    line, value, end = draw.whole(0, 8), draw.whole(0, 2), draw.whole(len(a) // 16, len(a) * 5 // 8) | 1
    mask = np.uint8(1 << line)

    def apply(x: Bytes, d: Draw) -> Bytes:
        return np.where(addresses(x) < end, x | mask if value else x & ~mask, x)

    return Made(apply, Cause("contact-lost", {"line": f"D{line}"}, allowed=("data-line-unstable",)))


def loose_data(a: Bytes, draw: Draw) -> Made:
    """A data line that is loose at a rate that leaves room for another fault."""
    line, value, rate = draw.whole(0, 8), draw.whole(0, 2), draw.rate(0.01, 0.5)
    mask = np.uint8(1 << line)

    def apply(x: Bytes, d: Draw) -> Bytes:
        return np.where(d.hits(len(x), rate), x | mask if value else x & ~mask, x)

    return Made(apply, Cause("data-line-unstable", {"line": f"D{line}"}), by_chance=True)


def in_two(fault: Fault) -> Kind:
    """Make a kind of a fault of chance: it is in two of three to five reads, and the chip was reseated for the rest."""

    def kind(a: Bytes, draw: Draw) -> Trial:
        made = fault(a, draw)
        reads = [a] * draw.whole(3, 6)
        for number in draw.dice.choice(len(reads), 2, replace=False):
            reads[int(number)] = made.apply(a, draw)
        # a finding may stand for one of the two reads and the next for the other: no reads are asked for
        return Trial(tuple(reads), (made.cause,))

    return kind


def splashed_data(a: Bytes, draw: Draw) -> Made:
    """Solder over three pins of data lines that lie beside one another; a low output is the stronger, most often.

    The pins follow the 24-pin and 28-pin packages of JEDEC Standard 21-C, where ground parts D2 from D3 (from memory).
    """
    lowest, wired = draw.one_of(0, 3, 4, 5), draw.one_of("and", "and", "and", "or")
    three = np.uint8(0b111 << lowest)

    def apply(x: Bytes, d: Draw) -> Bytes:
        high = (x & three) == three if wired == "and" else (x & three) != 0
        return np.where(high, x | three, x & ~three)

    # two of the three may be named, or all: the bridge is seen where one looks for it
    return Made(apply, Cause("data-lines-shorted", {"wired": wired}))


def soft_address(a: Bytes, draw: Draw) -> Made:
    """An address line has lost its contact: the chip sees there what the neighbour couples into it, now and then."""
    count, rate = lines_of(a), draw.rate(0.02, 0.7)
    line = draw.whole(0, count)
    beside = line + (1 if line == 0 or (line < count - 1 and draw.chance()) else -1)

    def apply(x: Bytes, d: Draw) -> Bytes:
        at = addresses(x)
        source = np.minimum((at & ~(1 << line)) | (((at >> beside) & 1) << line), len(x) - 1)
        return np.where(d.hits(len(x), rate), x[source], x)

    return Made(apply, Cause("address-line-unstable", {"line": f"A{line}"}), by_chance=True)


def three_on_a_bad_reader(a: Bytes, draw: Draw) -> Trial:
    """A reader with a dead address line was believed for three reads; one or two more come from another reader."""
    made = stuck_address(a, draw)
    names = ["pocket reader"] * 3 + ["bench reader"] * draw.whole(1, 3)
    readers = tuple(names[int(number)] for number in draw.dice.permutation(len(names)))
    reads = tuple(made.apply(a, draw) if name == "pocket reader" else a for name in readers)
    return Trial(reads, (replace(made.cause, allowed=("follows-reader",)),), readers=readers)


# --- the bus


def deselected_in_bursts(a: Bytes, draw: Draw) -> Made:
    """The select line drops out for some addresses on end, at several places."""
    value, count, longest = draw.one_of(0xFF, 0x00, 0xFF), draw.whole(8, 40), draw.whole(6, 24)

    def apply(x: Bytes, d: Draw) -> Bytes:
        out = x.copy()
        for begin in d.dice.integers(0, len(x) - longest, count):
            out[begin : begin + d.whole(2, longest)] = value
        return out

    # a chip without any contact for so long reads the same
    return Made(apply, Cause("not-selected-at-times", also=("contact-lost",)), by_chance=True)


def resting_bus(a: Bytes, draw: Draw) -> Made:
    """The chip is not selected now and then, and the bus rests at a byte of its own: some lines are pulled up."""
    value, rate = draw.one_of(0x7F, 0xFE, 0xEF, 0x3F, 0x0F, 0xF0, 0x80, 0x01, 0xFB), draw.rate(3e-3, 0.5)
    return Made(
        lambda x, d: np.where(d.hits(len(x), rate), np.uint8(value), x), Cause("not-selected-at-times"), by_chance=True
    )  # fmt: skip


def carries(a: Bytes, draw: Draw) -> np.ndarray:
    """Draw a line, and give the addresses where it or one above it changes; 32 of them at least."""
    page = 1 << draw.whole(4, max(lines_of(a) - 5, 5))
    at = addresses(a)
    return (at % page == 0) & (at > 0)


def slow_after_a_carry(a: Bytes, draw: Draw) -> Made:
    """The outputs are late only where a higher address line changes: another word line must rise first."""
    here = carries(a, draw)
    rate, share = float(draw.dice.uniform(0.6, 1.0)), float(draw.dice.uniform(0.4, 0.85))

    def apply(x: Bytes, d: Draw) -> Bytes:
        before = np.concatenate((x[:1], x[:-1]))
        late = np.packbits(d.dice.random((len(x), 8)) < share, axis=1)[:, 0]
        late = np.where(here & d.hits(len(x), rate), late, np.uint8(0))
        return (x & ~late) | (before & late)

    return Made(apply, Cause("slow-outputs", allowed=("previous-byte-repeated",)), by_chance=True)


def repeated_at_page_starts(a: Bytes, draw: Draw) -> Made:
    """The reader's address counter carries too slowly: at the start of a page the byte before is taken once more."""
    here, rate = carries(a, draw), float(draw.dice.uniform(0.6, 1.0))

    def apply(x: Bytes, d: Draw) -> Bytes:
        return np.where(here & d.hits(len(x), rate), np.concatenate((x[:1], x[:-1])), x)

    return Made(apply, Cause("previous-byte-repeated", allowed=("slow-outputs",)), by_chance=True)


def port_on_the_bus(a: Bytes, draw: Draw) -> Made:
    """The chip was read in its board, where a port that is decoded by few lines answers as well, with a fixed byte."""
    lines = draw.dice.choice(lines_of(a), draw.whole(1, 4), replace=False)
    mask = sum(1 << int(line) for line in lines)
    answer = mask & draw.whole(0, 1 << lines_of(a))
    strong = sum(1 << int(line) for line in draw.dice.choice(8, draw.whole(3, 6), replace=False))
    low = draw.chance(0.75)

    def apply(x: Bytes, d: Draw) -> Bytes:
        both = x & np.uint8(255 ^ strong) if low else x | np.uint8(strong)
        return np.where((addresses(x) & mask) == answer, both, x)

    return Made(apply, Cause("contention"))


# --- extent and transfer


def part_alone(a: Bytes, draw: Draw) -> Made:
    """The reader was set to a smaller chip: an aligned half, quarter or eighth was read, and nothing more."""
    parts = draw.one_of(2, 2, 4, 8)
    which, size = draw.whole(0, parts), len(a) // parts
    code = "half-missing" if parts == 2 else "block-missing"
    return Made(
        lambda x, d: x[which * size : (which + 1) * size], Cause(code, also=() if which else ("truncated",))
    )  # fmt: skip


def fourth_lane(a: Bytes, draw: Draw) -> Made:
    """One chip of a set of four on a bus of 32 bits."""
    which = draw.whole(0, 4)
    return Made(lambda x, d: x[which::4], Cause("lane-of", {"lane": which}))


def xored_addresses(x: Bytes, mask: int) -> Bytes:
    return x[np.minimum(addresses(x) ^ mask, len(x) - 1)]


def longer_words(a: Bytes, draw: Draw) -> Made:
    """Words of 32 bits in another order; or an address line that went through an inverter, above the lowest."""
    mask = draw.one_of(2, 3, 1 << draw.whole(2, lines_of(a)))
    return Made(lambda x, d: xored_addresses(x, mask), Cause("bytes-exchanged", {"address_xor": mask}))


def swapped_halves(a: Bytes, draw: Draw) -> Made:
    """The two halves changed places."""
    mask = 1 << (lines_of(a) - 1)
    return Made(lambda x, d: xored_addresses(x, mask), Cause("bytes-exchanged", {"address_xor": mask}))


def timed_out(a: Bytes, draw: Draw) -> Made:
    """The reader got no more answer, and went on with the last byte that it had."""
    at = draw.whole(len(a) // 8, len(a) - 40)
    cause = Cause("truncated", also=("ends-in-fill",), allowed=("contact-lost",))
    return Made(lambda x, d: filled_up(x[:at], len(x), int(x[at - 1])), cause)


def overrun(a: Bytes, draw: Draw) -> Made:
    """A buffer ran over each time that it was full: a few bytes are lost at regular distances."""
    every, most, filled = len(a) // draw.one_of(4, 8, 16), draw.whole(2, 5), draw.chance()
    places = range(every * (len(a) // every - 1), 0, -every)
    slips = [(place, draw.whole(1, most)) for place in places]

    def apply(x: Bytes, d: Draw) -> Bytes:
        out = x
        for place, length in slips:
            out = np.delete(out, np.arange(place, place + length))
        return filled_up(out, len(x)) if filled else out

    return Made(apply, Cause("shifted", allowed=("content-differs",)))


# --- for two at once


def rare_noise(a: Bytes, draw: Draw) -> Made:
    """Single bits, few of them: an interference on the cable."""
    rate = max(draw.rate(5e-4, 0.02), 24 / len(a))
    return Made(lambda x, d: flipped(x, rate, d), Cause("random-noise"), by_chance=True)


def two_exchanged(a: Bytes, draw: Draw) -> Made:
    """Two data lines changed places."""
    lines = list(range(8))
    i, j = (int(x) for x in draw.dice.choice(8, 2, replace=False))
    lines[i], lines[j] = j, i
    cause = Cause("data-lines-exchanged", {"wiring": wiring_of(lines, "D")})
    return Made(lambda x, d: exchanged_lines(x, lines), cause)


KINDS: dict[str, Kind] = {
    "charge-loss along lines of the array": in_one(leaky_array_lines),
    "charge-loss, three readers": leaking_by_reader,
    "charge-loss, more each time": leaking_with_heat,
    "charge-loss, flickering": flickering_cells,
    "data line soft": in_one(soft_data),
    "data line open at the start": in_one(found_contact_late),
    "data line loose in two": in_two(loose_data),
    "three data lines bridged": in_one(splashed_data),
    "address line soft": in_one(soft_address),
    "address line stuck, three on a reader": three_on_a_bad_reader,
    "not selected in bursts": in_one(deselected_in_bursts),
    "not selected, bus at rest": in_one(resting_bus),
    "slow after a carry": in_one(slow_after_a_carry),
    "previous byte at page starts": in_one(repeated_at_page_starts),
    "port on the bus": in_one(port_on_the_bus),
    "a part alone": in_one(part_alone),
    "every fourth byte": in_one(fourth_lane),
    "longer words": in_one(longer_words),
    "inverted on a reader": by_reader(inverted),
    "timed out": in_one(timed_out),
    "overrun": in_one(overrun),
    "rare noise in two": in_two(rare_noise),
}

DOUBLE: dict[str, Kind] = {
    "charge loss + data line loose": together(charge_loss, loose_data),
    "data line loose, another noise": apart(loose_data, rare_noise),
    "charge loss + address line stuck": together(charge_loss, stuck_address),
    "noise + shifted": together(little_noise, shifted),
    "data lines exchanged + truncated": together(two_exchanged, truncated),
    "inverted + data line stuck": together(inverted, stuck_data),
    "halves swapped + dropped": together(swapped_halves, dropped_bytes),
    "charge loss + previous byte": together(charge_loss, repeated_byte),
}
