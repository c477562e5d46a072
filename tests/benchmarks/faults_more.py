"""The second part of the faults that the diagnosis may be tuned on, as kinds of trials. See `faults`.

They were set aside once, and are no longer: what has been looked at proves nothing of what has not.
"""

from __future__ import annotations

import re

import numpy as np

from tests.benchmarks.faults import (
    FEWEST,
    charge_loss,
    dropped_bytes,
    exchanged_addresses,
    filled_up,
    little_noise,
    lost_cells,
    mirrored,
    missing_block,
    reversed_bits,
    stretch,
    stuck_address,
    stuck_data,
    told_apart,
    truncated,
    unstable_data,
    voltages,
    with_bits,
)
from tests.benchmarks.injecting import (
    Bytes,
    Cause,
    Draw,
    Kind,
    Made,
    Trial,
    addresses,
    apart,
    flipped,
    in_all,
    in_one,
    lines_of,
    together,
)


def shorted_address(a: Bytes, draw: Draw) -> Made:
    """Two address lines touch: the chip gets the AND, or the OR, of both on each."""
    i, j = sorted(int(x) for x in draw.dice.choice(lines_of(a), 2, replace=False))
    wired = draw.one_of("and", "or")

    def apply(x: Bytes, d: Draw) -> Bytes:
        at = addresses(x)
        one, two = (at >> i) & 1, (at >> j) & 1
        both = one & two if wired == "and" else one | two
        source = (at & ~(1 << i | 1 << j)) | (both << i) | (both << j)
        return x[np.minimum(source, len(x) - 1)]

    return Made(apply, Cause("address-lines-shorted", {"lines": [f"A{i}", f"A{j}"], "wired": wired}))


def repeated_byte(a: Bytes, draw: Draw) -> Made:
    """The reader latches before the chip has answered: the byte before comes once more."""
    rate = draw.rate(1e-3)

    def apply(x: Bytes, d: Draw) -> Bytes:
        return np.where(d.hits(len(x), rate), np.concatenate((x[:1], x[:-1])), x)

    return Made(apply, Cause("previous-byte-repeated", allowed=("slow-outputs",)), by_chance=True)


def lost_flow_control(a: Bytes, draw: Draw) -> Made:
    """The line took 11 and 13 for itself.

    Source: ISO/IEC 6429 and ASCII (ANSI X3.4) have DC1 at 11 and DC3 at 13; their use to stop and go on is common
    practice.
    """
    filled = draw.one_of(None, 0xFF, 0x00)

    def apply(x: Bytes, d: Draw) -> Bytes:
        gone = (x == 0x11) | (x == 0x13)
        if np.count_nonzero(gone) < FEWEST:
            return x
        return x[~gone] if filled is None else filled_up(x[~gone], len(x), filled)

    return Made(apply, Cause("flow-control-lost", allowed=("shifted",)))


def gained(a: Bytes, draw: Draw) -> Made:
    """Some bytes come once more, or strange ones come in between, one to three times."""
    slips = [
        (int(place), draw.whole(1, 40), draw.chance())
        for place in sorted(draw.dice.integers(64, len(a) * 3 // 4, draw.whole(1, 4)).tolist(), reverse=True)
    ]
    cut = draw.chance(0.7)
    strange = draw.dice.integers(0, 256, 40).astype(np.uint8)

    def apply(x: Bytes, d: Draw) -> Bytes:
        out = x
        for place, length, again in slips:
            out = np.insert(out, place, x[place - length : place] if again else strange[:length])
        return out[: len(x)] if cut else out

    return Made(apply, Cause("shifted"))


def local_charge_loss(a: Bytes, draw: Draw) -> Trial:
    """Charge was lost in one part of the chip only: light fell in at the edge of a label, say."""
    size = len(a) // draw.one_of(4, 8)
    begin = draw.whole(0, len(a) - size)
    cells = lost_cells(a[begin : begin + size], draw, 0.08) + 8 * begin
    limits = draw.dice.uniform(4.3, 5.6, len(cells))
    volts = voltages(draw)
    reads = tuple(with_bits(a, cells[limits + draw.dice.normal(0, 0.01, len(cells)) < at], 1) for at in volts)
    return Trial(reads, (Cause("charge-loss", also=("weak-cells",)),), volts, technology="eprom")


def bursts(a: Bytes, draw: Draw) -> Made:
    """Noise that comes in bursts: a motor near by."""
    count, length = draw.whole(6, 20), draw.whole(8, 40)

    def apply(x: Bytes, d: Draw) -> Bytes:
        out = x.copy()
        for begin in d.dice.integers(0, max(len(x) - length, 1), count):
            out[begin : begin + length] = flipped(out[begin : begin + length], 0.4, d)
        return out

    return Made(apply, Cause("random-noise", allowed=("contact-lost",)), by_chance=True)


def slow_to_rise(a: Bytes, draw: Draw) -> Made:
    """Outputs that are slow in one direction only: a weak pull-up, or a heavy load."""
    rate, rising, share = draw.rate(5e-3), draw.chance(0.7), float(draw.dice.uniform(0.3, 0.95))

    def apply(x: Bytes, d: Draw) -> Bytes:
        before = np.concatenate((x[:1], x[:-1]))
        late = np.packbits(d.dice.random((len(x), 8)) < share, axis=1)[:, 0]
        late = np.where(d.hits(len(x), rate), late, np.uint8(0)) & (x & ~before if rising else ~x & before)
        return x ^ late

    return Made(apply, Cause("slow-outputs", allowed=("previous-byte-repeated",)), by_chance=True)


def contention_at_times(a: Bytes, draw: Draw) -> Made:
    """A second chip answers too, in a part of the addresses that both claim, or now and then."""
    other, wired = draw.other(len(a)), draw.one_of("and", "or")
    part, rate = 1 << draw.whole(lines_of(a) - 3, lines_of(a)), draw.rate(0.02)
    begin = draw.whole(0, max(len(a) // part, 1)) * part
    ranged = draw.chance()

    def apply(x: Bytes, d: Draw) -> Bytes:
        both = x & other if wired == "and" else x | other
        at = addresses(x)
        return np.where((at >= begin) & (at < begin + part) if ranged else d.hits(len(x), rate), both, x)

    return Made(apply, Cause("contention"), by_chance=not ranged)


def line_endings(a: Bytes, draw: Draw) -> Made:
    """CR LF became LF; or LF became CR LF, but where a CR stood before it already."""
    filled = draw.chance()

    def apply(x: Bytes, d: Draw) -> Bytes:
        data = x.tobytes()
        if data.count(b"\r\n") >= FEWEST:
            out = data.replace(b"\r\n", b"\n")
        elif len(re.findall(rb"(?<!\r)\n", data)) >= FEWEST:
            out = re.sub(rb"(?<!\r)\n", b"\r\n", data)
        else:
            return x
        array = np.frombuffer(out, np.uint8)
        return filled_up(array, len(x)) if filled else array

    return Made(apply, Cause("line-endings-changed", allowed=("shifted",)))


def noise_without_contact(a: Bytes, draw: Draw) -> Made:
    """For a stretch the bus floats, and what is read there is nothing that holds still."""
    begin, length = stretch(a, draw)

    def apply(x: Bytes, d: Draw) -> Bytes:
        out = x.copy()
        out[begin : begin + length] = d.dice.integers(0, 256, length)
        return out

    return Made(apply, Cause("contact-lost", allowed=("content-differs",)), by_chance=True)


def address_without_contact(a: Bytes, draw: Draw) -> Made:
    """For a stretch one address line has no contact, and reads as one level."""
    begin, length = stretch(a, draw)
    line, value = draw.whole(0, lines_of(a) - 1), draw.whole(0, 2)

    def apply(x: Bytes, d: Draw) -> Bytes:
        at = addresses(x)
        source = np.minimum(at | (1 << line) if value else at & ~(1 << line), len(x) - 1)
        inside = (at >= begin) & (at < begin + length)
        return np.where(inside, x[source], x)

    cause = Cause("contact-lost", {"line": f"A{line}"}, allowed=("address-line-unstable",))
    return Made(apply, cause)


def weak_below(a: Bytes, draw: Draw) -> Trial:
    """Some cells and amplifiers fail at a low supply only, the same at each read there."""
    bits = np.unpackbits(a)
    count = min(max(int(len(bits) * draw.rate(1e-4, 0.01)), 48), len(bits) // 8)
    cells = draw.dice.choice(len(bits), count, replace=False)
    limits = draw.dice.uniform(4.4, 4.95, count)
    volts = told_apart(draw)
    while min(volts) > 4.5:
        volts = told_apart(draw)
    reads = tuple(with_bits(a, cells, bits[cells] ^ (limits > at)) for at in volts)
    return Trial(reads, (Cause("weak-cells"),), volts, technology="eprom")


def mask_rom_with_volts(a: Bytes, draw: Draw) -> Trial:
    """Bits of a mask ROM that follow the supply: they look like lost charge, and there is none in it."""
    cells = lost_cells(a, draw, 0.01)
    limits = draw.dice.uniform(4.5, 5.5, len(cells))
    volts = told_apart(draw)
    reads = tuple(with_bits(a, cells[limits < at], 1) for at in volts)
    return Trial(reads, (Cause("weak-cells"),), volts, technology="mask-rom", never=("charge-loss",))


def loose_address(a: Bytes, draw: Draw) -> Made:
    """An address line that is loose at a rate that leaves room for another fault."""
    line, value, rate = draw.whole(0, lines_of(a)), draw.whole(0, 2), draw.rate(0.02, 0.5)

    def apply(x: Bytes, d: Draw) -> Bytes:
        at = addresses(x)
        source = np.minimum(at | (1 << line) if value else at & ~(1 << line), len(x) - 1)
        return np.where(d.hits(len(x), rate), x[source], x)

    return Made(apply, Cause("address-line-unstable", {"line": f"A{line}"}), by_chance=True)


KINDS: dict[str, Kind] = {
    "address-lines-shorted": in_one(shorted_address),
    "previous-byte-repeated": in_one(repeated_byte),
    "previous-byte-repeated in all": in_all(repeated_byte),
    "flow-control-lost": in_one(lost_flow_control),
    "shifted, bytes gained": in_one(gained),
    "charge-loss in one part": local_charge_loss,
    "noise in bursts, in all": in_all(bursts),
    "not-selected-at-times in all": in_all(dropped_bytes),
    "slow-outputs, one direction": in_one(slow_to_rise),
    "contention in a part or at times": in_one(contention_at_times),
    "line endings, other ways": in_one(line_endings),
    "contact-lost, noise": in_one(noise_without_contact),
    "contact-lost, address line": in_one(address_without_contact),
    "weak-cells at a low supply": weak_below,
    "mask ROM at unlike supplies": mask_rom_with_volts,
}

DOUBLE: dict[str, Kind] = {
    "two data lines stuck": together(stuck_data, stuck_data),
    "two loose address lines": together(loose_address, loose_address),
    "address lines exchanged + data line loose": together(exchanged_addresses, unstable_data),
    "bits reversed + noise": together(reversed_bits, little_noise),
    "mirrored + data line stuck": together(stuck_data, mirrored),
    "block missing + charge loss": together(charge_loss, missing_block),
    "address line stuck, another truncated": apart(stuck_address, truncated),
}
