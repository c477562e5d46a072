"""The faults that the diagnosis may be tuned on, as kinds of trials: `KINDS` by name, and which of them are double.

Where no source is named a fault is common practice, no source.
"""

from __future__ import annotations

import numpy as np

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
    exchanged_lines,
    flipped,
    in_all,
    in_every_read_and,
    in_one,
    lines_of,
    together,
    wiring_of,
)

# --- lines


def stuck_data(a: Bytes, draw: Draw) -> Made:
    line, value = draw.whole(0, 8), draw.whole(0, 2)
    mask = np.uint8(1 << line)
    cause = Cause("data-line-stuck", {"line": f"D{line}", "value": value})
    return Made(lambda x, d: x | mask if value else x & ~mask, cause)


def unstable_data(a: Bytes, draw: Draw) -> Made:
    line, value, rate = draw.whole(0, 8), draw.whole(0, 2), draw.rate(5e-4)
    mask = np.uint8(1 << line)

    def apply(x: Bytes, d: Draw) -> Bytes:
        forced = x | mask if value else x & ~mask
        return np.where(d.hits(len(x), rate), forced, x)

    return Made(apply, Cause("data-line-unstable", {"line": f"D{line}"}), by_chance=True)


def exchanged_data(a: Bytes, draw: Draw) -> Made:
    lines = list(range(8))
    if draw.chance():
        i, j = (int(x) for x in draw.dice.choice(8, 2, replace=False))
        lines[i], lines[j] = j, i
    else:
        lines = [int(x) for x in draw.dice.permutation(8)]
    cause = Cause("data-lines-exchanged", {"wiring": wiring_of(lines, "D")})
    return Made(lambda x, d: exchanged_lines(x, lines), cause)


def shorted_data(a: Bytes, draw: Draw) -> Made:
    i, j = sorted(int(x) for x in draw.dice.choice(8, 2, replace=False))
    wired = draw.one_of("and", "or")

    def apply(x: Bytes, d: Draw) -> Bytes:
        one, two = (x >> i) & 1, (x >> j) & 1
        both = one & two if wired == "and" else one | two
        return (x & np.uint8(255 ^ (1 << i | 1 << j))) | (both << i) | (both << j)

    return Made(apply, Cause("data-lines-shorted", {"lines": [f"D{i}", f"D{j}"], "wired": wired}))


def stuck_address(a: Bytes, draw: Draw) -> Made:
    line, value = draw.whole(0, lines_of(a)), draw.whole(0, 2)
    top = line == lines_of(a) - 1
    cause = Cause(
        "address-line-stuck", {"line": f"A{line}", "value": value}, also=("half-missing", "mirrored") if top else ()
    )  # fmt: skip

    def apply(x: Bytes, d: Draw) -> Bytes:
        at = addresses(x)
        source = at | (1 << line) if value else at & ~(1 << line)
        return x[np.minimum(source, len(x) - 1)]

    return Made(apply, cause)


def unstable_address(a: Bytes, draw: Draw) -> Made:
    line, value, rate = draw.whole(0, lines_of(a)), draw.whole(0, 2), draw.rate(1e-3)

    def apply(x: Bytes, d: Draw) -> Bytes:
        at = addresses(x)
        source = np.minimum(at | (1 << line) if value else at & ~(1 << line), len(x) - 1)
        return np.where(d.hits(len(x), rate), x[source], x)

    return Made(apply, Cause("address-line-unstable", {"line": f"A{line}"}), by_chance=True)


def exchanged_addresses(a: Bytes, draw: Draw) -> Made:
    count = lines_of(a)
    lines = list(range(count))
    if draw.chance(0.6):
        i, j = (int(x) for x in draw.dice.choice(count, 2, replace=False))
        lines[i], lines[j] = j, i
    else:
        lines = [int(x) for x in draw.dice.permutation(count)]
    cause = Cause("address-lines-exchanged", {"wiring": wiring_of(lines, "A")})
    return Made(lambda x, d: exchanged_address(x, lines), cause)


# --- chance, cells and supply


def noise(a: Bytes, draw: Draw) -> Made:
    rate = draw.rate(1e-3, 0.1)
    return Made(lambda x, d: flipped(x, rate, d), Cause("random-noise"), by_chance=True)


def little_noise(a: Bytes, draw: Draw) -> Made:
    """Noise beside another fault: so little that it hides nothing, and enough to be seen."""
    count = draw.whole(24, max(25, min(400, len(a) // 24)))
    return Made(lambda x, d: flipped(x, count / len(x), d), Cause("random-noise"), by_chance=True)


def lost_cells(a: Bytes, draw: Draw, most: float = 0.05) -> np.ndarray:
    """Draw programmed bits, as numbers of bits from the first on, that lost their charge."""
    zeros = np.flatnonzero(np.unpackbits(a) == 0)
    count = int(len(zeros) * draw.rate(3e-4, most))
    return draw.dice.choice(zeros, min(max(count, 24), len(zeros) // 2), replace=False)


def with_bits(a: Bytes, at: np.ndarray, values: np.ndarray | int) -> Bytes:
    bits = np.unpackbits(a)
    bits[at] = values
    return np.packbits(bits)


def charge_loss(a: Bytes, draw: Draw) -> Made:
    """Programmed cells, read as 0, read as 1 when they have lost their charge.

    Source: the erased state is 1 in the makers' data sheets of EPROMs; the rest is common practice.
    """
    cells = lost_cells(a, draw)
    return Made(lambda x, d: with_bits(x, cells[cells < 8 * len(x)], 1), Cause("charge-loss"), by_chance=True)


def charge_loss_with_volts(a: Bytes, draw: Draw) -> Trial:
    """The higher the supply, the more cells read as 1: each has a voltage of its own, and is stable away from it."""
    cells = lost_cells(a, draw)
    limits = draw.dice.uniform(4.3, 5.6, len(cells))
    volts = voltages(draw)
    reads = tuple(
        with_bits(a, cells[limits + draw.dice.normal(0, 0.01, len(cells)) < at], 1) for at in volts
    )
    return Trial(reads, (Cause("charge-loss", also=("weak-cells",)),), volts, technology=draw.one_of("eprom", None))


def voltages(draw: Draw, count: int = 0) -> tuple[float, ...]:
    """Draw the voltages of some reads, two of them unlike at least. [volt]"""
    while True:
        volts = tuple(draw.one_of(4.5, 4.75, 5.0, 5.25, 5.5) for _ in range(count or draw.whole(2, 6)))
        if max(volts) - min(volts) >= 0.5:
            return volts


def told_apart(draw: Draw) -> tuple[float, ...]:
    """Draw voltages at which bits that follow the supply are no noise of one read: three, or two of each. [volt]"""
    while True:
        volts = voltages(draw, draw.whole(3, 6))
        if len(set(volts)) > 2 or min(volts.count(at) for at in volts) > 1:
            return volts


def weak_cells(a: Bytes, draw: Draw) -> Trial:
    """Bits that follow the supply, some one way and some the other: sense amplifiers at their limit."""
    bits = np.unpackbits(a)
    count = min(max(int(len(bits) * draw.rate(1e-4, 0.01)), 48), len(bits) // 8)
    cells = draw.dice.choice(len(bits), count, replace=False)
    limits = draw.dice.uniform(4.5, 5.5, count)
    wrong_above = draw.dice.random(count) < draw.dice.uniform(0.3, 0.7)
    volts = told_apart(draw)
    reads = []
    for at in volts:
        above = limits + draw.dice.normal(0, 0.01, count) < at
        wrong = np.where(wrong_above, above, ~above)
        reads.append(with_bits(a, cells, bits[cells] ^ wrong))
    return Trial(tuple(reads), (Cause("weak-cells"),), volts, technology=draw.one_of("eprom", None))


def mask_rom_rot(a: Bytes, draw: Draw) -> Trial:
    """A mask ROM holds no charge: bits that went from 0 to 1 have another reason."""
    cells = lost_cells(a, draw, 0.01)
    count = draw.whole(2, 5)
    reads = [a] * count
    ill = draw.whole(0, count)
    reads[ill] = with_bits(a, cells, 1)
    volts = tuple(draw.one_of(4.5, 5.0, 5.5) for _ in range(count))
    cause = Cause("random-noise", allowed=("weak-cells",), reads=(ill + 1,) if count > 2 else None)
    return Trial(tuple(reads), (cause,), volts, technology="mask-rom", never=("charge-loss",))


# --- the bus


def whole_fill(a: Bytes, draw: Draw) -> Made:
    value = draw.one_of(0xFF, 0x00)
    code, also = ("blank", ("not-selected",)) if value else ("not-selected", ())
    return Made(lambda x, d: np.full_like(x, value), Cause(code, also=also))


def dropped_bytes(a: Bytes, draw: Draw) -> Made:
    """The chip is not selected now and then: whole bytes are what the bus gives by itself."""
    value, rate = draw.one_of(0xFF, 0x00, 0xFF), draw.rate(5e-4)

    def apply(x: Bytes, d: Draw) -> Bytes:
        return np.where(d.hits(len(x), rate), np.uint8(value), x)

    return Made(apply, Cause("not-selected-at-times"), by_chance=True)


def floating(a: Bytes, draw: Draw) -> Made:
    """No chip drives the bus, and it keeps a part of the address."""
    shift, mask = draw.one_of(0, 8), draw.one_of(0, 0xFF)

    def apply(x: Bytes, d: Draw) -> Bytes:
        return ((addresses(x) >> shift & 0xFF) ^ mask).astype(np.uint8)

    return Made(apply, Cause("floating-bus"))


def slow_outputs(a: Bytes, draw: Draw) -> Made:
    """An output that has not yet left the level of the byte before."""
    rate = draw.rate(2e-3)
    some = draw.whole(1, 256) if draw.chance(0.6) else 255
    share = float(draw.dice.uniform(0.2, 0.9))

    def apply(x: Bytes, d: Draw) -> Bytes:
        before = np.concatenate((x[:1], x[:-1]))
        late = np.packbits(d.dice.random((len(x), 8)) < share, axis=1)[:, 0] & np.uint8(some)
        late = np.where(d.hits(len(x), rate), late, np.uint8(0))
        return (x & ~late) | (before & late)

    allowed = ("data-line-unstable",) if bin(some).count("1") == 1 else ()
    cause = Cause("slow-outputs", allowed=("previous-byte-repeated", *allowed))
    return Made(apply, cause, by_chance=True)


def contention(a: Bytes, draw: Draw) -> Made:
    """A second chip drives the same bus at every address: the stronger level wins."""
    other, wired = draw.other(len(a)), draw.one_of("and", "or")
    return Made(lambda x, d: x & other if wired == "and" else x | other, Cause("contention"))


def lost_contact(a: Bytes, draw: Draw) -> Made:
    """For a stretch the chip has no contact, then all is right again."""
    begin, length = stretch(a, draw)
    value = draw.one_of(0xFF, 0x00)

    def apply(x: Bytes, d: Draw) -> Bytes:
        out = x.copy()
        out[begin : begin + length] = value
        return out

    return Made(apply, Cause("contact-lost"))


def stretch(a: Bytes, draw: Draw) -> tuple[int, int]:
    """Draw a stretch that begins and ends at no round address: 48 bytes at least, a third of the read at most."""
    length = int(len(a) / 3 * draw.rate(max(150 / len(a), 2e-3), 1.0)) | 1
    begin = draw.whole(1, len(a) - length - 64) | 1
    return begin, length


def line_without_contact(a: Bytes, draw: Draw) -> Made:
    """For a stretch one data line floats: it is stuck there, or at random."""
    begin, length = stretch(a, draw)
    line, how = draw.whole(0, 8), draw.one_of("high", "low", "random")
    mask = np.uint8(1 << line)

    def apply(x: Bytes, d: Draw) -> Bytes:
        out = x.copy()
        part = out[begin : begin + length]
        if how == "random":
            part[:] = (part & ~mask) | (d.dice.integers(0, 2, length).astype(np.uint8) << line)
        else:
            part[:] = part | mask if how == "high" else part & ~mask
        return out

    cause = Cause("contact-lost", {"line": f"D{line}"}, allowed=("data-line-unstable",))
    return Made(apply, cause, by_chance=how == "random")


# --- extent and transfer


def shifted(a: Bytes, draw: Draw) -> Made:
    """Some bytes are lost, one to three times."""
    slips = [
        (int(place), draw.whole(1, 40))
        for place in sorted(draw.dice.integers(0, len(a) * 3 // 4, draw.whole(1, 4)).tolist(), reverse=True)
    ]
    filled = draw.chance()

    def apply(x: Bytes, d: Draw) -> Bytes:
        out = x
        for place, length in slips:
            out = np.delete(out, np.arange(place, place + length))
        return filled_up(out, len(x)) if filled else out

    return Made(apply, Cause("shifted"))


def filled_up(out: Bytes, size: int, value: int = 0xFF) -> Bytes:
    """Make what a transfer gave as long as the chip: what is missing is fill, what is too much is cut off."""
    return np.concatenate([out, np.full(max(size - len(out), 0), value, np.uint8)])[:size]


def truncated(a: Bytes, draw: Draw) -> Made:
    at, how = draw.whole(len(a) // 8, len(a) - 40), draw.one_of("short", 0xFF, 0x00)

    def apply(x: Bytes, d: Draw) -> Bytes:
        return x[:at] if how == "short" else filled_up(x[:at], len(x), how)

    return Made(apply, Cause("truncated", also=("ends-in-fill",)))


def inverted(a: Bytes, draw: Draw) -> Made:
    return Made(lambda x, d: ~x, Cause("inverted"))


def exchanged_bytes(a: Bytes, draw: Draw) -> Made:
    return Made(lambda x, d: x[addresses(x) ^ 1], Cause("bytes-exchanged", {"address_xor": 1}))


def reversed_bits(a: Bytes, draw: Draw) -> Made:
    cause = Cause("bits-reversed", also=("data-lines-exchanged",))
    return Made(lambda x, d: exchanged_lines(x, range(7, -1, -1)), cause)


def lane(a: Bytes, draw: Draw) -> Made:
    which = draw.whole(0, 2)
    return Made(lambda x, d: x[which::2], Cause("lane-of", {"lane": which}))


def mirrored(a: Bytes, draw: Draw) -> Made:
    times = draw.one_of(2, 4)
    return Made(lambda x, d: np.tile(x, times), Cause("mirrored", {"times": times}))


def half_filled(a: Bytes, draw: Draw) -> Made:
    """Only one half was read: fill stands in the other."""
    upper, value, half = draw.chance(), draw.one_of(0xFF, 0x00), len(a) // 2

    def apply(x: Bytes, d: Draw) -> Bytes:
        out = x.copy()
        out[half if upper else 0 : None if upper else half] = value
        return out

    also = ("truncated", "ends-in-fill", "block-missing") if upper else ("block-missing",)
    return Made(apply, Cause("half-missing", also=also))


def half_twice(a: Bytes, draw: Draw) -> Made:
    """Only one half was read: it stands in the other as well, as with the highest address line stuck."""
    upper, half = draw.chance(), len(a) // 2
    kept = slice(half, None) if upper else slice(0, half)
    cause = Cause("half-missing", also=("address-line-stuck", "mirrored"))
    return Made(lambda x, d: np.tile(x[kept], 2), cause)


def missing_block(a: Bytes, draw: Draw) -> Made:
    """One aligned quarter or eighth is fill."""
    parts, value = draw.one_of(4, 8), draw.one_of(0xFF, 0x00)
    which, size = draw.whole(0, parts), len(a) // parts

    def apply(x: Bytes, d: Draw) -> Bytes:
        out = x.copy()
        out[which * size : (which + 1) * size] = value
        return out

    return Made(apply, Cause("block-missing", also=("truncated", "ends-in-fill") if which == parts - 1 else ()))


#: With fewer characters that a transfer changed nothing tells that from bytes lost or gained.
FEWEST = 6


def crlf_for_lf(a: Bytes, draw: Draw) -> Made:
    """A program took the bytes for text and made CR LF of each LF."""
    cut = draw.chance()

    def apply(x: Bytes, d: Draw) -> Bytes:
        if np.count_nonzero(x == 10) < FEWEST:
            return x
        out = np.frombuffer(x.tobytes().replace(b"\n", b"\r\n"), np.uint8)
        return out[: len(x)] if cut else out

    return Made(apply, Cause("line-endings-changed"))


def crlf_inserted(a: Bytes, draw: Draw) -> Made:
    """A program put CR LF after every so many bytes."""
    every, cut = draw.one_of(16, 32, 64, 80, 128), draw.chance()

    def apply(x: Bytes, d: Draw) -> Bytes:
        data = x.tobytes()
        parts = (data[at : at + every] for at in range(0, len(data), every))
        out = np.frombuffer(b"\r\n".join(parts), np.uint8)
        return out[: len(x)] if cut else out

    return Made(apply, Cause("line-endings-changed"))


def parity(a: Bytes, draw: Draw) -> Made:
    """The transfer carried seven bits, and the highest is even or odd parity.

    Source of the words: ISO 1155, longitudinal and character parity of seven-bit characters (from memory).
    """
    odd = draw.whole(0, 2)

    def apply(x: Bytes, d: Draw) -> Bytes:
        low = x & 0x7F
        ones = np.unpackbits(low[:, None], axis=1).sum(axis=1).astype(np.uint8)
        return low | (((ones + odd) & 1) << 7)

    return Made(apply, Cause("parity-in-bit-7", also=("data-line-unstable",)))


# --- what is easily taken for another


def tail_noise(a: Bytes, draw: Draw) -> Trial:
    """Random bytes, then FF; one byte in the tail differs: that is no end of a read."""
    size = draw.one_of(16384, 32768, 65536)
    base = np.full(size, 0xFF, np.uint8)
    base[:8000] = draw.dice.integers(0, 256, 8000)
    other = base.copy()
    other[draw.whole(8200, size - 200)] ^= draw.whole(1, 255)
    reads = [base] * draw.whole(2, 5)
    reads[draw.whole(0, len(reads))] = other
    # of two reads nothing tells which is the right one: the other may have lost the charge of all bits there
    cause = Cause(
        "random-noise", also=("charge-loss",) if len(reads) == 2 else (),
        allowed=("charge-loss", "data-line-unstable", "content-differs"),
    )  # fmt: skip
    return Trial(tuple(reads), (cause,), never=("truncated",), least=1)


def lone_bit(a: Bytes, draw: Draw) -> Trial:
    """One bit of a tail of FF is 0: no charge is lost where none was put."""
    size = len(a)
    base = a.copy()
    base[size // 2 :] = 0xFF
    other = base.copy()
    other[draw.whole(size // 2 + 64, size - 64)] ^= np.uint8(1 << draw.whole(0, 8))
    reads = [base] * draw.whole(2, 5)
    reads[draw.whole(0, len(reads))] = other
    cause = Cause(
        "random-noise", also=("charge-loss",) if len(reads) == 2 else (), allowed=("data-line-unstable", "charge-loss")
    )  # fmt: skip
    return Trial(tuple(reads), (cause,), never=("truncated", "shifted"), least=1)


def unlike_start(a: Bytes, draw: Draw) -> Trial:
    """A short start of few values against random bytes there: different content, and nothing of wiring."""
    length = draw.whole(64, max(65, len(a) // 8))
    one, two = a.copy(), a.copy()
    one[:length] = draw.dice.integers(0, draw.whole(2, 6), length)
    two[:length] = draw.dice.integers(0, 256, length)
    return Trial((one, two) if draw.chance() else (two, one), (Cause("content-differs", allowed=("contact-lost",)),))


def other_content(a: Bytes, draw: Draw) -> Trial:
    """Another program altogether, in one of the reads."""
    reads = [a] * draw.whole(2, 5)
    ill = draw.whole(0, len(reads))
    reads[ill] = draw.other(len(a))
    return Trial(tuple(reads), (Cause("content-differs", reads=(ill + 1,) if len(reads) > 2 else None),))


KINDS: dict[str, Kind] = {
    "data-line-stuck": in_one(stuck_data),
    "data-line-unstable": in_one(unstable_data),
    "data-line-unstable in all": in_all(unstable_data),
    "data-lines-exchanged": in_one(exchanged_data),
    "data-lines-shorted": in_one(shorted_data),
    "address-line-stuck": in_one(stuck_address),
    "address-line-unstable": in_one(unstable_address),
    "address-line-unstable in all": in_all(unstable_address),
    "address-lines-exchanged": in_one(exchanged_addresses),
    "data-line-stuck on a reader": by_reader(stuck_data),
    "address-line-unstable on a reader": by_reader(unstable_address),
    "random-noise": in_one(noise),
    "random-noise in all": in_all(noise),
    "noise, stuck line in all": in_every_read_and(stuck_data, noise),
    "noise, shorted lines in all": in_every_read_and(shorted_data, noise),
    "noise, stuck address in all": in_every_read_and(stuck_address, noise),
    "charge-loss": in_one(charge_loss),
    "charge-loss with volts": charge_loss_with_volts,
    "weak-cells": weak_cells,
    "mask ROM rot": mask_rom_rot,
    "blank or not selected": in_one(whole_fill),
    "not-selected-at-times": in_one(dropped_bytes),
    "floating-bus": in_one(floating),
    "slow-outputs": in_one(slow_outputs),
    "contention": in_one(contention),
    "contact-lost": in_one(lost_contact),
    "contact-lost, one line": in_one(line_without_contact),
    "shifted": in_one(shifted),
    "truncated": in_one(truncated),
    "inverted": in_one(inverted),
    "bytes-exchanged": in_one(exchanged_bytes),
    "bits-reversed": in_one(reversed_bits),
    "lane-of": in_one(lane),
    "mirrored": in_one(mirrored),
    "half-missing, fill": in_one(half_filled),
    "half-missing, twice": in_one(half_twice),
    "block-missing": in_one(missing_block),
    "line endings, CR LF for LF": in_one(crlf_for_lf),
    "line endings, CR LF put in": in_one(crlf_inserted),
    "parity": in_one(parity),
    "one byte in a tail": tail_noise,
    "lone bit in a tail": lone_bit,
    "unlike start": unlike_start,
    "other content": other_content,
}

DOUBLE: dict[str, Kind] = {
    "address lines exchanged + charge loss": together(exchanged_addresses, charge_loss),
    "data line stuck + noise": together(stuck_data, little_noise),
    "data lines shorted + noise": together(shorted_data, little_noise),
    "address line stuck + noise": together(stuck_address, little_noise),
    "address line stuck + data line stuck": together(stuck_address, stuck_data),
    "address lines + data lines exchanged": together(exchanged_addresses, exchanged_data),
    "data lines exchanged + noise": together(exchanged_data, little_noise),
    "inverted + noise": together(inverted, little_noise),
    "bytes exchanged + data line stuck": together(exchanged_bytes, stuck_data),
    "half missing + noise": together(little_noise, half_filled),
    "truncated + data line stuck": together(stuck_data, truncated),
    "shifted + data line stuck": together(stuck_data, shifted),
    "data line stuck, another noise": apart(stuck_data, little_noise),
    "address line loose, another data line": apart(unstable_address, unstable_data),
    "address lines exchanged, another dropped": apart(exchanged_addresses, dropped_bytes),
    "slow outputs, another charge loss": apart(slow_outputs, charge_loss),
}

