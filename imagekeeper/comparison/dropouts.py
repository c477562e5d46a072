"""Causes of differences that take whole bytes: a chip not selected, a contact lost for a while, two chips answering.

What a chip that does not answer reads as depends on the bus: FF where resistors pull it up, 00 where it is held low,
or what stood there last. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from imagekeeper.comparison.coding import choice_bits, noise_bits, strange_bits, subset_bits
from imagekeeper.comparison.data_lines import EXCEPTIONS, before_fill
from imagekeeper.comparison.pair import Account, Bytes, Explanation, Pair, ones, stretches_of, told_within
from imagekeeper.comparison.shapes import FLOOR_OF_CONTENT
from imagekeeper.units import address_digits, range_text

#: A stretch of one value shorter than this is no lost contact. [byte]
SHORTEST = 8

#: Of a stretch one place in so many differs at least: else the value is what belongs there, with a few wrong bytes.
SPARSE = 8

#: So many stretches are looked at, those that explain most.
MOST_STRETCHES = 8

#: The parts that a chip may be missing in: halves, quarters and so on, as its address lines divide it.
PARTS = (2, 4, 8, 16)


#: What a bus that nobody drives most often reads as; any other value takes a byte to name.
AT_REST = (0xFF, 0x00)


def not_selected_at_times(pair: Pair) -> Iterator[Explanation]:
    """Now and then a whole byte of the second read is one value: the chip did not answer at those addresses.

    A lost charge changes single bits; here all bits of a byte go together.
    """
    if not len(pair.at):
        return
    often = int(np.bincount(pair.second[pair.at]).argmax())
    for value in dict.fromkeys((*AT_REST, often)):
        hit = pair.second[pair.at] == value
        count = int(hit.sum())
        whole = ones((pair.up | pair.down)[hit])
        if count < 2 or whole < 1.3 * count:   # single bits are lost in another way
            continue
        if value not in AT_REST and count * 2 < len(pair.at):   # the value that comes most often among wrong bytes
            continue
        open_to = int(np.count_nonzero(pair.first != value))
        if count * 10 > open_to * 9:
            continue
        foretold = pair.first.copy()
        foretold[pair.at[hit]] = value
        yield Explanation(
            accounts=(
                Account.of(
                    "not-selected-at-times", other=pair.names[0],
                    detail={
                        "value": f"{value:02X}", "addresses": count, "of_addresses": len(pair.at),
                        "read": pair.names[1],
                    },
                ),
            ),
            bits=(1.0 if value in AT_REST else 1.0 + choice_bits(256)) + subset_bits(open_to, count)
            + noise_bits(pair.size, ones(foretold ^ pair.second)),
            foretold=foretold,
            naming=1.0 + choice_bits(open_to + 1),
        )  # fmt: skip


#: A stretch of noise has so many bytes at least, and there are so many such stretches at most. [byte]
SHORTEST_NOISE, MOST_OF_NOISE = 48, 3

#: Content that takes more bits a byte than this looks like noise by itself. [bit]
PLAIN = 7.8


def noise_for_a_while(pair: Pair) -> Iterator[Explanation]:
    """For a stretch the second read holds bytes that are like nothing else in it: the bus floated, and was not quiet.

    Packed data of another version look the same, so this is never likelier than other content.
    """
    stretches = pair.stretches
    if not 0 < len(stretches) <= MOST_OF_NOISE or min(end - begin for begin, end in stretches) < SHORTEST_NOISE:
        return
    inside = np.zeros(pair.size, np.bool_)
    for begin, end in stretches:
        if np.count_nonzero(pair.first[begin:end] != pair.second[begin:end]) * 10 < (end - begin) * 9:
            return
        inside[begin:end] = True
    if np.count_nonzero(inside) * 2 > pair.size:
        return
    known = np.bincount(pair.first[~inside], minlength=256)
    for begin, end in stretches:
        length = end - begin
        if strange_bits(pair.second[begin:end], known) < 8.0 * length:
            return
        if strange_bits(pair.first[begin:end], known) > PLAIN * length:   # the content itself is no less strange
            return
    digits = address_digits(pair.start + pair.size)
    yield Explanation(
        accounts=(
            Account.of(
                "contact-lost/noise",
                spans=[range_text(pair.start + begin, end - begin, digits) for begin, end in stretches],
                detail={
                    "stretches": [{"start": pair.start + begin, "length": end - begin} for begin, end in stretches],
                    "read": pair.names[1],
                },
            ),
        ),
        bits=pair.other_content_bits + FLOOR_OF_CONTENT,
        foretold=np.where(inside, pair.second, pair.first),
    )  # fmt: skip


class _Run(NamedTuple):
    begin: int
    end: int
    flips: int


def contact_lost(pair: Pair) -> Iterator[Explanation]:
    """For a stretch the second read holds one value, or one line of it does; before and after it is right."""
    runs = _runs(pair.second, pair.first ^ pair.second)
    if runs:
        foretold = pair.first.copy()
        for run in runs:
            foretold[run.begin : run.end] = pair.second[run.begin]
        yield _lost(pair, runs, foretold, None)
    body = before_fill(pair.second)
    for line in range(8):
        mask = np.uint8(1 << line)
        hit = pair.at[(pair.up | pair.down) & mask != 0]
        if not _dense_somewhere(hit):
            continue
        high = int(np.count_nonzero(pair.second[:body] & mask))
        if min(high, body - high) * EXCEPTIONS <= body:   # it is stuck, with some noise over it
            continue
        differing = (pair.first ^ pair.second) & mask
        runs = [
            run for run in _runs(pair.second & mask, differing)
            if run.flips >= SHORTEST and np.ptp(pair.first[run.begin : run.end] & mask)
        ]  # fmt: skip
        if runs and sum(run.end - run.begin for run in runs) * 10 < pair.size * 9:
            foretold = pair.first.copy()
            for run in runs:
                part = slice(run.begin, run.end)
                foretold[part] = (foretold[part] & ~mask) | (pair.second[run.begin] & mask)
            yield _lost(pair, runs, foretold, line)
        yield from _line_at_random(pair, line, hit)


def _dense_somewhere(hit: NDArray[np.int64]) -> bool:
    """Whether as many places as a stretch needs lie as close together as in a stretch."""
    if len(hit) < SHORTEST:
        return False
    return int((hit[SHORTEST - 1 :] - hit[: len(hit) - SHORTEST + 1]).min()) < SHORTEST * SPARSE


def _line_at_random(pair: Pair, line: int, hit: NDArray[np.int64]) -> Iterator[Explanation]:
    """For a stretch a line of the second floats and is now the one, now the other; before and after it is right."""
    mask = np.uint8(1 << line)
    begin, end = int(hit[0]), int(hit[-1]) + 1
    if (end - begin) * 10 >= pair.size * 9 or len(hit) * SPARSE < end - begin:
        return
    if not np.ptp(pair.first[begin:end] & mask):   # then it is the first in which it stayed
        return
    in_both = pair.first & pair.second & mask != 0
    in_either = (pair.first | pair.second) & mask != 0
    for shows in (~in_both, in_either):   # where a line that floats up, or down, would show
        inside = int(np.count_nonzero(shows[begin:end]))
        if (int(np.count_nonzero(shows)) - inside) * len(hit) < SHORTEST * (end - begin):
            return   # nothing tells that it was right there
    before = pair.first[hit] & mask
    open_to = end - begin if np.ptp(before) else int(np.count_nonzero(pair.first[begin:end] & mask == before[0]))
    foretold = pair.first.copy()
    foretold[begin:end] ^= (pair.first ^ pair.second)[begin:end] & mask
    digits = address_digits(pair.start + pair.size)
    yield Explanation(
        accounts=(
            Account.of(
                "contact-lost/line-at-random", other=pair.names[0], lines=(f"D{line}",), flips=len(hit),
                span=range_text(pair.start + begin, end - begin, digits),
                detail={
                    "stretches": [{"start": pair.start + begin, "length": end - begin}], "read": pair.names[1],
                    "line": f"D{line}",
                },
            ),
        ),
        bits=choice_bits(8) + 2 * choice_bits(pair.size) + subset_bits(open_to, len(hit))
        + noise_bits(pair.size, ones(foretold ^ pair.second)),
        foretold=foretold,
    )  # fmt: skip


def _runs(values: Bytes, differing: Bytes) -> list[_Run]:
    """Find the stretches of one value over places that differ, each worth more than it takes to name it.

    One that reaches the end is left out: a read that is not right again afterwards was cut short.
    """
    size = len(values)
    where = np.flatnonzero(differing)
    if len(where) < SHORTEST:
        return []
    edges = np.flatnonzero(values[1:] != values[:-1]) + 1
    begins, ends = np.concatenate(([0], edges)), np.concatenate((edges, [size]))
    long = (ends - begins >= SHORTEST) & (ends < size)
    begins, ends = begins[long], ends[long]
    totals = np.concatenate(([0], np.cumsum(np.bitwise_count(differing[where]), dtype=np.int64)))
    flips = totals[np.searchsorted(where, ends)] - totals[np.searchsorted(where, begins)]
    worth = np.flatnonzero(flips * 8 > 2 * choice_bits(size))
    found = []
    for i in worth[np.argsort(flips[worth])[::-1][:MOST_STRETCHES]].tolist():
        begin, end = int(begins[i]), int(ends[i])
        # where the value would have stood anyway, nobody can tell
        first = int(where[np.searchsorted(where, begin)])
        last = int(where[np.searchsorted(where, end) - 1])
        inside = np.searchsorted(where, last + 1) - np.searchsorted(where, first)
        if last + 1 - first >= SHORTEST and inside * SPARSE >= last + 1 - first:
            found.append(_Run(first, last + 1, int(flips[i])))
    return sorted(found)


def _lost(pair: Pair, runs: list[_Run], foretold: Bytes, line: int | None) -> Explanation:
    digits = address_digits(pair.start + pair.size)
    spans = [range_text(pair.start + run.begin, run.end - run.begin, digits) for run in runs[:4]]
    values = sorted({f"{int(pair.second[run.begin]):02X}" for run in runs})
    shared = {
        "stretches": [{"start": pair.start + run.begin, "length": run.end - run.begin} for run in runs],
        "read": pair.names[1],
    }
    if line is None:
        account = Account.of(
            "contact-lost", other=pair.names[0], spans=spans, values=values, detail={**shared, "values": values}
        )
        told = sum(1.0 if int(pair.second[run.begin]) in (0, 0xFF) else 9.0 for run in runs)
    else:
        level = [int(pair.second[run.begin]) >> line & 1 for run in runs]
        account = Account.of(
            "contact-lost/line", other=pair.names[0], spans=spans, lines=(f"D{line}",), level=level[0],
            detail={**shared, "line": f"D{line}"},
        )
        told = choice_bits(8) + len(runs)
    bits = told + 2 * len(runs) * choice_bits(pair.size) + noise_bits(pair.size, ones(foretold ^ pair.second))
    return Explanation(accounts=(account,), bits=bits, foretold=foretold)


def part_missing(pair: Pair) -> Iterator[Explanation]:
    """An aligned half, quarter, eighth or sixteenth of the second read is fill: a high address line, or a chip's block.

    Address lines divide a chip in such parts. Common practice, no source.
    """
    told: set[tuple[tuple[int, int], ...]] = set()
    for parts in PARTS:
        if pair.size % parts or pair.size // parts < 2 * SHORTEST:
            continue
        length = pair.size // parts
        rows = pair.second.reshape(parts, length)
        differs = (pair.first != pair.second).reshape(parts, length).sum(axis=1)
        for value in (0xFF, 0x00):
            missing = [i for i in range(parts) if differs[i] >= SHORTEST and np.all(rows[i] == value)]
            where = tuple((i * pair.size // parts, (i + 1) * pair.size // parts) for i in missing)
            to_the_end = len(missing) > 1 and missing == list(range(parts - len(missing), parts))
            if to_the_end and parts > 2:   # a read that was cut short, wherever
                continue
            if not missing or len(missing) == parts or _joined(where) in told:   # known as a larger part
                continue
            told.add(_joined(where))
            foretold = pair.first.copy()
            for i in missing:
                foretold[i * length : (i + 1) * length] = value
            digits = address_digits(pair.start + pair.size)
            spans = [range_text(pair.start + i * length, length, digits) for i in missing[:4]]
            half = parts == 2
            detail = {
                "value": f"{value:02X}", "parts": parts, "missing": missing, "read": pair.names[1],
                "line": f"A{(length - 1).bit_length()}",
            }  # fmt: skip
            yield Explanation(
                accounts=(
                    Account.of(
                        "half-missing" if half else "block-missing", spans=spans, other=pair.names[0],
                        which=("lower", "upper")[missing[0]] if half else "", detail=detail,
                        lines=(f"A{(length - 1).bit_length()}",),
                    ),
                ),
                bits=choice_bits(8) + len(missing) * choice_bits(parts)
                + noise_bits(pair.size, ones(foretold ^ pair.second)),
                foretold=foretold,
            )  # fmt: skip


def _joined(spans: tuple[tuple[int, int], ...]) -> tuple[tuple[int, int], ...]:
    found: list[tuple[int, int]] = []
    for begin, end in spans:
        if found and found[-1][1] == begin:
            begin = found.pop()[0]
        found.append((begin, end))
    return tuple(found)


def contention(pair: Pair) -> Iterator[Explanation]:
    """At some addresses the bits of the second are those of the first with others pulled one way, several in a byte.

    Two outputs on one line: of most families the low one wins. From memory.
    """
    if len(pair.at) < 2:
        return
    for wired, one_way, other_way, open_to in (
        ("and", pair.down, pair.up, pair.first), ("or", pair.up, pair.down, ~pair.first)
    ):  # fmt: skip
        hit = (one_way != 0) & (other_way == 0)
        count, changed = int(hit.sum()), ones(one_way[hit])
        if count < 2 or changed < 1.2 * count or ones(other_way) * 4 > pair.flips:
            continue
        places = pair.at[hit]
        if np.count_nonzero(open_to[places] == 0xFF) * 20 > count * 19:   # of that, anything can be made so
            continue
        stretches = stretches_of(places)
        if _by_lines(one_way[hit], open_to) * 16 > changed * 15 or _by_bytes(one_way[hit], open_to[places]):
            continue
        foretold = pair.first.copy()
        foretold[places] = pair.second[places]
        # another chip's lines are not alike, as single cells all over a chip are
        by_line = sum(
            subset_bits(
                int(np.count_nonzero(open_to[places] & np.uint8(1 << line))),
                int(np.count_nonzero(one_way[hit] & np.uint8(1 << line))),
            )
            for line in range(8)
        )
        scattered = subset_bits(pair.size, count) + min(by_line, subset_bits(ones(open_to[places]), changed))
        if changed * HEAVY > ones(open_to):
            scattered = min(scattered, _of_another_chip(pair.first ^ foretold, open_to))
        inside = sum(ones(open_to[a:b]) for a, b in stretches[:1000])
        together = len(stretches) * 2 * choice_bits(pair.size) + subset_bits(inside, changed)
        bits = min(scattered, together) if len(stretches) <= 1000 else scattered
        if count >= ALL_ONE_WAY and not ones(other_way):   # what else drives is content too
            bits = min(bits, max(pair.contents))
        yield Explanation(
            accounts=(
                Account.of(
                    "contention", level="low" if wired == "and" else "high",
                    detail={
                        "wired": wired, "addresses": count, "bits": changed, "of_bits": pair.flips,
                        "read": pair.names[1],
                    },
                ),
            ),
            bits=(2.0 if wired == "and" else 4.0) + bits + noise_bits(pair.size, ones(foretold ^ pair.second)),
            foretold=foretold,
        )  # fmt: skip


def _by_lines(pulled: Bytes, open_to: Bytes) -> int:
    """Count the bits on lines of which nearly all that could be pulled were: those lines are stuck."""
    told = 0
    for line in range(8):
        mask = np.uint8(1 << line)
        on_line = int(np.count_nonzero(pulled & mask))
        told += on_line if on_line * 32 >= int(np.count_nonzero(open_to & mask)) * 31 else 0
    return told


def _by_bytes(pulled: Bytes, open_to: Bytes) -> bool:
    """Whether nearly all bytes were pulled with all their bits: then nothing drove them."""
    several = np.bitwise_count(open_to) > 1
    return int(np.count_nonzero(several & (pulled == open_to))) * 10 > int(np.count_nonzero(several)) * 9


#: Where one bit in so many that could be pulled was pulled, what pulls them is looked at for itself.
HEAVY = 6


def _of_another_chip(pulled: Bytes, open_to: Bytes) -> float:
    """Bits to say which bits were pulled, line by line, when it is known what happened beside and before each.

    Another chip holds code or texts too: its lines, and its neighbouring bytes, have to do with each other. Single
    cells have not.
    """
    before = np.concatenate((pulled[:1], pulled[:-1]))
    total = 0.0
    for line in range(8):
        mask = np.uint8(1 << line)
        could = open_to & mask != 0
        told = (pulled & mask != 0)[could]
        around = [(pulled & ~mask)[could], before[could], (before >> line & 1 | before >> line + 1 << 1)[could]]
        total += 2.0 + min(subset_bits(len(told), int(told.sum())), *(told_within(told, one) for one in around))
    return total


#: So many places that all changed one way are no chance.
ALL_ONE_WAY = 64

