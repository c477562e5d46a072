"""Causes that lie in the extent of a read: cut short, doubled, every second byte, bytes lost or gained on the way."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from imagekeeper.comparison.coding import choice_bits, noise_bits, subset_bits
from imagekeeper.comparison.pair import Account, Bytes, Explanation, Pair, ones
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import address_digits, range_text

#: Bytes that must agree after a loss or gain for the reads to count as in step again.
WINDOW = 16

#: The longest loss or gain that is looked for. [byte]
REACH = 4096

#: With more losses and gains than this the reads are not one content transferred badly.
MAX_SLIPS = 24

#: After every so many wrong bytes it is looked whether the reads are still in step: so many agree for each wrong one.
FEW_WRONG, IN_STEP = 24, 6

#: All but one byte in so many agree, beside those that were lost, for it to be one content.
IN_STEP_OF = 8

#: Of the bytes after a single wrong one so many agree.
MOSTLY = 12


def of_unequal_sizes(first: Bytes, second: Bytes, names: tuple[str, str], start: int = 0) -> Account | None:
    """Explain why two reads differ in size, where the shorter is wholly contained in the longer.

    Returns:
        `truncated`, `mirrored` or `lane-of`; None where no such rule fits.

    Example:
        >>> data = np.arange(64, dtype=np.uint8)
        >>> of_unequal_sizes(data, data[1::2], ("pair.bin", "u5.bin")).code
        'lane-of'
    """
    if len(first) == len(second) or not len(first) or not len(second):
        return None
    longer, shorter, (long_name, short_name) = (first, second, names)
    if len(first) < len(second):
        longer, shorter, (long_name, short_name) = second, first, names[::-1]
    ratio, rest = divmod(len(longer), len(shorter))
    if not rest and np.array_equal(longer.reshape(ratio, -1), np.broadcast_to(shorter, (ratio, len(shorter)))):
        return Account.of(
            "mirrored/reads", "warning", other=short_name,
            detail={"times": ratio, "size_bytes": len(shorter), "read": long_name},
        )
    surplus = longer[len(shorter) :]
    if np.array_equal(longer[: len(shorter)], shorter) and len(surplus) > 1 and np.all(surplus == surplus[0]):
        return Account.of(
            "ends-in-fill/reads", "warning", other=short_name, more=len(surplus),
            detail={"size_bytes": len(shorter), "fill": f"{int(surplus[0]):02X}", "read": long_name},
        )
    if np.array_equal(longer[: len(shorter)], shorter):
        lost = len(longer) - len(shorter)
        where = range_text(start + len(shorter), lost, address_digits(start + len(longer)))
        return Account.of(
            "truncated/reads", other=long_name, span=where,
            detail={"missing": lost, "at": start + len(shorter), "read": short_name},
        )
    if not rest and ratio in (2, 4, 8):
        for part in range(1, ratio):   # the first part is a read cut short
            if np.array_equal(longer[part * len(shorter) : (part + 1) * len(shorter)], shorter):
                line = f"A{(len(shorter) - 1).bit_length()}"
                return Account.of(
                    "half-missing/alone" if ratio == 2 else "block-missing/alone", other=long_name, lines=(line,),
                    which="upper" if ratio == 2 else part + 1,
                    detail={"parts": ratio, "missing": [i for i in range(ratio) if i != part], "read": short_name,
                            "line": line},
                )  # fmt: skip
    if not rest and ratio in (2, 4):
        for lane in range(ratio):
            if np.array_equal(longer[lane::ratio], shorter):
                return Account.of(
                    "lane-of/second" if ratio == 2 else "lane-of/fourth", "note", other=long_name,
                    detail={"lane": lane, "of": ratio, "read": short_name},
                )
    return None


def uniform(pair: Pair) -> Iterator[Explanation]:
    """The second read holds one value only: the chip is blank there, or did not answer.

    FF is what an erased EPROM gives, and also a bus that only pull-up resistors drive; 00 a bus that is held low.
    Sources: makers' data sheets give FF as the erased state; the rest is common practice, no source.
    """
    value = pair.second[0]
    if not len(pair.at) or pair.size < WINDOW or np.any(pair.second != value):
        return
    yield Explanation(
        accounts=(
            Account.of(
                "blank/read" if value == 0xFF else "not-selected/read",
                detail={"value": f"{int(value):02X}", "read": pair.names[1]},
            ),
        ),
        bits=8 + noise_bits(pair.size, 0) / 2,
        foretold=np.full_like(pair.first, value),
    )


#: What a bus that nobody drives may show: a byte of the address that was on it.
_FOLLOWS = (("low", 0, 0x00), ("high", 8, 0x00), ("low", 0, 0xFF), ("high", 8, 0xFF))


def floating(pair: Pair) -> Iterator[Explanation]:
    """The second read follows its addresses: no chip drove the bus, and the last thing on it stays.

    Common practice, no source.
    """
    at = np.arange(pair.size) + pair.start
    for which, shift, inverted in _FOLLOWS:
        foretold = (at >> shift).astype(np.uint8) ^ np.uint8(inverted)
        if np.count_nonzero(foretold[pair.sample] != pair.second[pair.sample]) * 4 > len(pair.sample):
            continue
        left = ones(foretold ^ pair.second)
        if left * 4 < pair.flips and np.ptp(foretold):
            follow = int(np.count_nonzero(foretold == pair.second))
            yield Explanation(
                accounts=(
                    Account.of(
                        "floating-bus/reads", follow=follow, size=pair.size, turned=", inverted" if inverted else "",
                        detail={"address_byte": which, "inverted": bool(inverted), "read": pair.names[1]},
                    ),
                ),
                bits=choice_bits(4) + noise_bits(pair.size, left),
                foretold=foretold,
            )  # fmt: skip


#: What it takes at least to say that content differs. [bit]
FLOOR_OF_CONTENT = 32.0

#: Stretches shorter than this on average are no content of their own. [byte]
MEAN_STRETCH = 4


def different_content(pair: Pair) -> Iterator[Explanation]:
    """The reads hold different content over whole stretches: another revision, another chip, or memory that changed."""
    if not len(pair.at):
        return
    stretches = pair.stretches
    told = sum(end - begin for begin, end in stretches)
    bits = _revised_bits(pair)
    if told >= MEAN_STRETCH * len(stretches):
        bits = min(bits, pair.other_content_bits)
    if math.isinf(bits):   # single wrong bytes are noise, whatever is wrong with them
        return
    digits = address_digits(pair.start + pair.size)
    where = ", ".join(
        range_text(pair.start + begin, end - begin, digits) for begin, end in stretches[:4]
    )
    more = Phrase("content-differs/more-stretches", count=len(stretches) - 4) if len(stretches) > 4 else ""
    yield Explanation(
        accounts=(
            Account.of(
                "content-differs", count=len(stretches), spans=where, more=more,
                detail={
                    "stretches": [{"start": pair.start + begin, "length": end - begin}
                                  for begin, end in stretches[:100]],
                    "addresses": len(pair.at),
                },
            ),
        ),
        bits=bits + FLOOR_OF_CONTENT,
        foretold=pair.second.copy(),
    )


#: So many bytes of data at least must be missing for a read to be cut short: fewer are single wrong bytes. [byte]
FEWEST_MISSING = 4


#: What the regularity of changes must tell for each of them, for faults follow the content too. [bit]
REGULAR = 1.0

#: So many bytes at least must have been changed one by one for it to be another version.
FEWEST_REVISED = 8


def _revised_bits(pair: Pair) -> float:
    """Bits to describe single bytes that were changed on purpose: each as likely beside its neighbours as any other.

    Addresses change where a program is put together anew, and what stands there then is no stranger.
    """
    if not pair.few or len(pair.at) < FEWEST_REVISED:
        return math.inf
    _, takes, step = pair.taken_at
    count = len(pair.at)
    plain = subset_bits(pair.size, count) + float(takes.sum()) * step
    if sum(one > 0 for one in pair.by_line) < 2:   # one line that changes is a fault of the line
        return plain
    placed = min(_placed_bits(pair, every) for every in (1, 2, 4, 8))
    patterns = _pattern_bits(pair.first[pair.at] ^ pair.second[pair.at], count)
    return min(plain, placed + patterns + count * REGULAR)


def _placed_bits(pair: Pair, every: int) -> float:
    """Bits to say which places differ, where they prefer some of each so many, as words of a program do."""
    counts = np.bincount(pair.at % every, minlength=every)
    each = pair.size // every
    return sum(subset_bits(each, int(one)) for one in counts if one <= each) + every


def _pattern_bits(patterns: Bytes, count: int) -> float:
    """Bits to say which bits changed in each byte: a program that was moved changes the same ones again and again."""
    counts = np.unique(patterns, return_counts=True)[1]
    ways = math.lgamma(count + 1) - sum(math.lgamma(int(one) + 1) for one in counts)
    return ways / math.log(2) + subset_bits(255, len(counts)) + subset_bits(count - 1, len(counts) - 1)


def cut_short(pair: Pair) -> Iterator[Explanation]:
    """From some address on the second read holds one value only: the end was not read.

    Common practice, no source: readers fill what they did not get with FF, 00 or the last byte.
    """
    last = pair.second[-1]
    other = np.flatnonzero(pair.second != last)
    begin = int(other[-1]) + 1 if len(other) else 0
    if not len(pair.at) or begin >= pair.size - 1 or not (begin or pair.size < WINDOW):   # the whole of it is `uniform`
        return
    place = max(begin, int(pair.at[0]))   # where the value would have stood anyway, nobody can tell
    tail = pair.first[place:]
    if np.count_nonzero(tail != last) < max(FEWEST_MISSING, len(tail) // 32):   # a stray byte in fill is no lost end
        return
    foretold = pair.first.copy()
    foretold[place:] = last
    left = ones(foretold ^ pair.second)
    if left >= pair.flips:
        return
    yield Explanation(
        accounts=(cut_from(place, int(last), pair.size, pair.names, pair.start),),
        bits=choice_bits(pair.size) + 8 + noise_bits(pair.size, left),
        foretold=foretold,
    )


def cut_from(place: int, fill: int, size: int, names: tuple[str, str], start: int) -> Account:
    """Say that the second of two reads holds one value from a place on, where the first has data."""
    where = range_text(start + place, size - place, address_digits(start + size))
    return Account.of(
        "truncated/from-there", span=where, other=names[0],
        detail={"missing": size - place, "at": start + place, "fill": f"{fill:02X}", "read": names[1]},
    )


@dataclass(frozen=True)
class Slip:
    """A place where bytes were lost or gained.

    Attributes:
        at: Place in the first read. [byte]
        lost: How many bytes the second lacks from there; below 0: how many it has too many. [byte]
    """

    at: int
    lost: int


class _Step(NamedTuple):
    """How many bytes agreed, and how many were wrong, when it was last looked whether the reads are in step."""

    agreed: int
    wrong: int


def follow(first: bytes, second: bytes) -> tuple[list[Slip], int, int]:
    """Follow two transfers of one content side by side, over the places where one lost or gained bytes.

    Returns:
        The slips, how many bytes of the second were found to agree, and how many single bytes differ on the way.

    Example:
        >>> data = bytes(i * 7 % 251 for i in range(400))
        >>> follow(data, data[:100] + data[103:])
        ([Slip(at=100, lost=3)], 397, 0)
    """
    slips: list[Slip] = []
    i = j = agreed = wrong = 0
    since = _Step(0, 0)
    while i < len(first) and j < len(second):
        run = equal_run(first, i, second, j)
        i, j, agreed = i + run, j + run, agreed + run
        if i >= len(first) or j >= len(second) or len(slips) >= MAX_SLIPS:
            break
        if wrong - since.wrong > FEW_WRONG:
            if agreed - since.agreed < IN_STEP * FEW_WRONG:
                break
            since = _Step(agreed, wrong)
        slip = _slip(first, i, second, j)
        if slip is None:   # a single wrong byte, or a place beyond understanding
            wrong += 1
            i, j = i + 1, j + 1
            continue
        slips.append(Slip(i, slip))
        i, j = (i + slip, j) if slip > 0 else (i, j - slip)
    return slips, agreed, wrong


def slipped(first: Bytes, second: Bytes, slips: list[Slip]) -> Bytes:
    """Give what the first becomes by losing and gaining bytes as the second did, up to the end of the second.

    What was gained, and what stands at the end after a loss, is the second's.

    Example:
        >>> slipped(np.arange(6), np.array([0, 1, 4, 9, 9, 9]), [Slip(2, 2)]).tolist()
        [0, 1, 4, 5, 9, 9]
    """
    out, i, j = second.copy(), 0, 0
    for slip in [*slips, Slip(len(first), 0)]:
        run = max(min(slip.at - i, len(out) - j), 0)
        out[j : j + run] = first[i : i + run]
        i, j = slip.at + max(slip.lost, 0), j + run + max(-slip.lost, 0)
    return out


def equal_run(first: bytes, i: int, second: bytes, j: int) -> int:
    """Count the equal bytes from two places on, in growing steps."""
    run, step = 0, 256
    while True:
        a, b = first[i + run : i + run + step], second[j + run : j + run + step]
        length = min(len(a), len(b))
        if a[:length] != b[:length]:
            differs = np.frombuffer(a, np.uint8, length) != np.frombuffer(b, np.uint8, length)
            return run + int(differs.argmax())
        run += length
        if length < step:
            return run
        step = min(step * 4, 1 << 20)


def _slip(first: bytes, i: int, second: bytes, j: int) -> int | None:
    """Find how far one must be moved for the two to agree again; None where a single byte is wrong or nothing fits.

    What follows in the one is looked for in the other, as it is if it is varied enough to be known again; else with
    what comes before it, so that the edge of a run is found; else, for want of better, though it is a run.
    """
    after = zip(first[i + 1 : i + 1 + WINDOW], second[j + 1 : j + 1 + WINDOW], strict=False)
    if sum(one == other for one, other in after) >= min(MOSTLY, len(first) - i - 1, len(second) - j - 1):
        return None
    for before, variety in ((0, 3), (8, 2), (0, 1)):
        lost = _find(second, j, first, i, before, variety)
        gained = _find(first, i, second, j, before, variety)
        if lost is not None and (gained is None or lost <= gained):
            return lost
        if gained is not None:
            return -gained
    return None


def _find(needle_in: bytes, at: int, hay: bytes, start: int, before: int, variety: int) -> int | None:
    """Find how much further on `hay` has what `needle_in` has at a place, with some bytes before it."""
    before = min(before, at, start)
    needle = needle_in[at - before : at + WINDOW]
    if len(needle) < WINDOW // 2 or len(set(needle)) < variety:
        return None
    found = hay.find(needle, start - before + 1, start + REACH + len(needle))
    return None if found < 0 else found + before - start


#: So many bytes may come out of nothing on the way.
MOST_GAINED = 2


def _may_be_another_version(slips: list[Slip], tail: Bytes) -> bool:
    """Whether bytes came that a transfer seldom makes: content behind what was lost, or whole pieces in the middle."""
    balance = sum(slip.lost for slip in slips)
    filled = not len(tail) or bool(np.all(tail == tail[0]))
    return (balance > 0 and not filled) or (balance < 0 and any(slip.lost < -MOST_GAINED for slip in slips))


def shifted(
    first: Bytes, second: Bytes, names: tuple[str, str], start: int = 0
) -> Iterator[tuple[Account, float, Bytes]]:
    """Explain a read in which bytes were lost or gained on the way, as over a serial line.

    Pieces put in or taken out of a read of the same size may be another version of the content as well: then that is
    told too, at the same length, for nothing in the two reads tells them apart.

    Returns:
        The findings, the bits to describe the second read so, and what the first becomes by it; none where the reads
        do not fall into step again.

    Example:
        >>> data = np.random.default_rng(1).integers(0, 256, 400, np.uint8)
        >>> [account.detail["slips"] for account, *_ in shifted(data, np.delete(data, 100), ("a", "b"))]
        [[{'at': 100, 'lost': 1}]]
    """
    slips, agreed, wrong = follow(first.tobytes(), second.tobytes())
    size = min(len(first), len(second))
    lost = sum(slip.lost for slip in slips)
    gained = sum(-slip.lost for slip in slips if slip.lost < 0)
    tail = second[agreed + wrong + gained :]   # what stands where bytes were lost before: most often one value
    if not slips or len(slips) >= MAX_SLIPS or agreed * IN_STEP_OF < size * (IN_STEP_OF - 1) - IN_STEP_OF * abs(lost):
        return
    digits = address_digits(start + max(len(first), len(second)))
    places = [
        Phrase(
            "shifted/lost" if slip.lost > 0 else "shifted/gained",
            count=abs(slip.lost), at=start + slip.at, digits=digits,
        )
        for slip in slips[:4]
    ]
    detail: dict[str, Any] = {
        "slips": [{"at": start + slip.at, "lost": slip.lost} for slip in slips[:100]],
        "agreeing": agreed, "still_wrong": wrong,
    }  # fmt: skip
    told: dict[str, Any] = {"read": names[1], "other": names[0], "places": places, "size": size}
    told["more"] = Phrase("shifted/more-places", count=len(slips) - 4) if len(slips) > 4 else ""
    bits = sum(choice_bits(size) + choice_bits(2 * abs(s.lost) + 2) * 2 + max(-s.lost, 0) * 8 for s in slips)
    bits += 8 if len(tail) and np.all(tail == tail[0]) else 8 * len(tail)
    foretold = slipped(first, second, slips)
    bits += noise_bits(size, ones(foretold ^ second))
    yield Account.of("shifted", detail=detail | {"read": names[1]}, **told), bits, foretold
    more_than_noise = wrong > FEW_WRONG or agreed * 10 < size * 9 - 10 * abs(lost)   # a version changes bytes as well
    if len(first) == len(second) and (more_than_noise or _may_be_another_version(slips, tail)):
        yield Account.of("content-differs/moved", detail=dict(detail), **told), bits, foretold
