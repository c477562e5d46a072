"""Figures of the other bytes that are stored among them: each a row with its source."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache, partial

from imagekeeper import tables
from imagekeeper.selfchecks import free_bits
from imagekeeper.selfchecks.balances import FLETCHER, PRACTICE, Figure, carried_sum, fletcher16, lane_sums
from imagekeeper.selfchecks.chance import Odds, Rank, Tier
from imagekeeper.selfchecks.figures import ByteOrder, Figures, Ranges
from imagekeeper.selfchecks.fill import FillRun
from imagekeeper.selfchecks.places import CheckPlace, places
from imagekeeper.selfchecks.trials import Trial

ADLER = "RFC 1950, ZLIB Compressed Data Format, 1996, section 8; its use in a ROM: common practice, no source"
CATALOGUE = "catalogue of parametrised CRC algorithms; its use here: common practice, no source"

USUAL_CRCS = ("CRC-16/ARC", "CRC-16/XMODEM", "CRC-16/IBM-3740", "CRC-32/ISO-HDLC")

#: The largest prime below 65536, by RFC 1950.
_PRIME = 65521

#: A hole is looked for only here: the same CRC at other places would weigh on all others.
_WITH_HOLE = ("asked", "end", "start", "used end")


@dataclass(frozen=True, kw_only=True)
class Stored:
    """A figure of the other bytes that is stored among them.

    Attributes:
        id: Short name.
        title: What is stored.
        bits: Width of the stored value: 8, 16 or 32. [bit]
        step: Length of the words that it needs whole: 1, 2 or 4. [byte]
        order: The one byte order in which it is tried, or None for both.
        rank: How often it is met.
        figure: Takes the figure over ranges.
        free: How many of its bits the bytes are free to choose. [bit]
        crc: The CRC whose own place is counted too, as a row of the table; else None.
        hole: What its own place is counted as.
        swapped: Whether it is another convention with its bytes swapped, which equal bytes do not tell apart.
        source: Where it is described.
    """

    id: str
    title: str
    bits: int
    step: int = 1
    order: ByteOrder | None = None
    rank: Rank = "possible"
    figure: Figure
    free: Figure
    crc: tables.Crc | None = None
    hole: int = 0
    swapped: bool = False
    source: str = PRACTICE

    def value(self, figures: Figures, place: CheckPlace) -> int:
        """Take the figure that would be stored at a place."""
        if self.crc is None:
            return self.figure(figures, place.over) % (1 << self.bits)
        before = sum(start < place.at for start, _ in place.over)
        return figures.crc(self.crc, place.over, (before, bytes([self.hole]) * (self.bits // 8)))


def adler32(figures: Figures, over: Ranges, first: int = 1) -> int:
    """Take the two sums of RFC 1950; the second is the high half."""
    total, running = figures.running(over)
    return (running + first * free_bits.length(over)) % _PRIME << 16 | (total + first) % _PRIME


def fletcher32(order: ByteOrder, figures: Figures, over: Ranges) -> int:
    """Take J. G. Fletcher's two sums of 16-bit words; the second is the high half."""
    first, second = figures.running_words(over, order)
    return second % 0xFFFF << 16 | first % 0xFFFF


def fletcher8(figures: Figures, over: Ranges) -> int:
    """Take J. G. Fletcher's two sums of hexadecimal digits; the second is the high digit."""
    first, second = figures.running_digits(over)
    return second << 4 | first


def _pair(bits: int, complement_first: bool, counted: bool, figures: Figures, over: Ranges) -> int:
    """Put a sum and its complement side by side; their bytes always add up to the same, and may be counted too."""
    half = bits // 2
    mask = (1 << half) - 1
    own = 0xFF * (half // 8) if counted else 0
    total = (figures.total(over) + own) & mask
    first, second = (total ^ mask, total) if complement_first else (total, total ^ mask)
    return first << half | second


def _negative(of: Figure, figures: Figures, over: Ranges) -> int:
    return -of(figures, over)


def _inverse(figures: Figures, over: Ranges) -> int:
    return ~figures.total(over)


def _crc(row: tables.Crc, figures: Figures, over: Ranges) -> int:
    return figures.crc(row, over)


def _sums() -> Iterator[Stored]:
    yield Stored(id="sum8", title="8-bit sum", bits=8, figure=Figures.total, free=partial(free_bits.of_bytes, 8))
    negative = partial(_negative, Figures.total)
    plain: tuple[tuple[str, str, int, Rank, Figure], ...] = (
        ("sum16", "16-bit sum of bytes", 16, "usual", Figures.total),
        ("sum16-complement", "two's complement of the 16-bit sum of bytes", 16, "usual", negative),
        ("sum16-inverse", "one's complement of the 16-bit sum of bytes", 16, "usual", _inverse),
        ("sum32", "32-bit sum of bytes", 32, "possible", Figures.total),
        ("sum32-complement", "two's complement of the 32-bit sum of bytes", 32, "possible", negative),
    )
    for id_, title, bits, rank, figure in plain:
        yield Stored(id=id_, title=title, bits=bits, rank=rank, figure=figure, free=partial(free_bits.of_bytes, bits))
    yield Stored(
        id="carried8", title="8-bit sum with end-around carry", bits=8, rank="seldom",
        figure=partial(carried_sum, 8, Figures.total), free=free_bits.of_carried_bytes,
    )  # fmt: skip
    yield Stored(
        id="lanes8", title="8-bit sums of the even and of the odd bytes", bits=16, step=2, order="big", rank="seldom",
        figure=lane_sums, free=partial(free_bits.of_lanes, 8),
    )  # fmt: skip


def _words() -> Iterator[Stored]:
    """Sums of words. A complement stored in the order of the words is a balance, and is not here again."""
    ends: tuple[tuple[str, ByteOrder, ByteOrder, str], ...] = (
        ("le", "little", "big", "low"), ("be", "big", "little", "high"),
    )  # fmt: skip
    for short, order, other, end in ends:
        words = partial(Figures.words, order=order)
        free = partial(free_bits.of_words, 16, order)
        title = f"16-bit sum of words, {end} byte first"
        yield Stored(
            id=f"words-{short}", title=title, bits=16, step=2, order=order, rank="usual", figure=words, free=free
        )
        yield Stored(
            id=f"words-{short}-swapped", title=f"{title}, its bytes swapped", bits=16, step=2, order=other,
            rank="seldom", figure=words, free=free, swapped=True,
        )  # fmt: skip
        yield Stored(
            id=f"words-{short}-complement-swapped", title=f"two's complement of the {title}, its bytes swapped",
            bits=16, step=2, order=other, rank="seldom",
            figure=partial(_negative, words), free=free, swapped=True,
        )  # fmt: skip
        yield Stored(
            id=f"carried-words-{short}", title=f"16-bit sum of words with end-around carry, {end} byte first", bits=16,
            step=2, order=order, rank="seldom",
            figure=partial(carried_sum, 16, words), free=free_bits.of_carried_words,
        )  # fmt: skip
        yield Stored(
            id=f"words32-{short}", title=f"32-bit sum of 16-bit words, {end} byte first", bits=32, step=2,
            figure=words, free=partial(free_bits.of_words, 32, order),
        )  # fmt: skip
        yield Stored(
            id=f"long-words-{short}", title=f"32-bit sum of 32-bit words, {end} byte first", bits=32, step=4,
            figure=partial(Figures.long_words, order=order), free=partial(free_bits.of_long_words, order),
        )  # fmt: skip
        yield Stored(
            id=f"fletcher32-{short}", title=f"Fletcher's sums of words modulo 65535, {end} byte first", bits=32, step=2,
            figure=partial(fletcher32, order), free=free_bits.of_running_words, source=FLETCHER,
        )  # fmt: skip


def _running() -> Iterator[Stored]:
    yield Stored(
        id="fletcher8", title="Fletcher's sums of hexadecimal digits modulo 15", bits=8, rank="seldom",
        figure=fletcher8, free=free_bits.of_running_digits, source=FLETCHER,
    )  # fmt: skip
    for modulus in (255, 256):
        yield Stored(
            id=f"fletcher16-{modulus}", title=f"Fletcher's sums of bytes modulo {modulus}", bits=16, rank="seldom",
            figure=partial(fletcher16, modulus=modulus), free=partial(free_bits.of_running, modulus), source=FLETCHER,
        )  # fmt: skip
    yield Stored(id="adler32", title="Adler-32", bits=32, figure=adler32, free=free_bits.of_running_prime, source=ADLER)
    yield Stored(
        id="adler32-0", title="Adler-32 started from 0", bits=32, figure=partial(adler32, first=0),
        free=free_bits.of_running_prime,
    )  # fmt: skip


def _pairs() -> Iterator[Stored]:
    for bits in (16, 32):
        for inverse in (False, True):
            for counted in (False, True):
                title = f"{bits // 2}-bit sum of bytes and its complement"
                title += ", the complement first" if inverse else ""
                title += ", both counted in the sum" if counted else ""
                yield Stored(
                    id=f"sum{bits // 2}-pair{'-inverse' if inverse else ''}{'-counted' if counted else ''}",
                    title=title, bits=bits, rank="seldom", order="big" if bits == 16 else None,
                    figure=partial(_pair, bits, inverse, counted), free=partial(free_bits.of_pair, bits // 2),
                )  # fmt: skip


def _crcs() -> Iterator[Stored]:
    for name, row in tables.crcs().items():
        if row.width < 16:
            continue
        figure, free = partial(_crc, row), partial(free_bits.of_crc, row.width)
        yield Stored(
            id=name, title=name, bits=row.width, rank="usual" if name in USUAL_CRCS else "possible",
            figure=figure, free=free, source=CATALOGUE,
        )  # fmt: skip
        for hole in (0x00, 0xFF) if name in USUAL_CRCS else ():
            yield Stored(
                id=f"{name}-{hole:02X}", title=f"{name}, its own place counted as {hole:02X}", bits=row.width,
                rank="seldom", figure=figure, free=free, crc=row, hole=hole, source=CATALOGUE,
            )  # fmt: skip


@cache
def stored_rules() -> tuple[Stored, ...]:
    """Every convention with a stored value.

    What a balance to zero or to all ones covers already is not here again: a stored two's or one's complement of an
    8-bit sum, an exclusive or, a complement of a sum of words in their own order.
    """
    return (*_sums(), *_words(), *_running(), *_pairs(), *_crcs())


def _tier(rule: Stored, place: CheckPlace) -> Tier:
    """How much a trial counts: what is seldom anywhere is one step below what is possible."""
    if rule.rank == "usual":
        return place.tier
    return "seldom" if rule.rank == "seldom" and place.tier == "possible" else "possible"


def stored_trials(
    figures: Figures, asked: int | None, fill: FillRun | None, value_at: Callable[[int, int], bytes]
) -> Iterator[Trial]:
    """Try every stored value at every place.

    Args:
        figures: Figures of the searched range.
        asked: Offset that the user gave, or None.
        fill: Where the range is filled, if it is.
        value_at: Gives the bytes at an offset and of a length; fewer where the image ends.
    """
    known = {
        (width, step): tuple(places(figures.size, width, asked, fill, step))
        for width in (1, 2, 4) for step in (1, 2, 4)
    }  # fmt: skip
    blank = {0x00, 0xFF} if fill is None else {0x00, 0xFF, fill.value}
    for rule in stored_rules():
        width = rule.bits // 8
        tried = set()
        for place in known[width, rule.step]:
            if (place.usual_only and rule.rank != "usual") or (rule.crc and place.id not in _WITH_HOLE):
                continue
            filled = 0 if fill is None else fill.share_of(place.at, width)
            if filled == width and place.at != asked:
                continue   # there is no value, only fill
            held = value_at(place.at, width)
            if len(held) < width or (width == 1 and held in (b"\x00", b"\xff")):
                continue   # a single blank byte is no stored value
            if rule.swapped and len(set(held)) == 1:
                continue   # it reads the same either way: it was tried already
            value = rule.value(figures, place)
            if (place.at, value) in tried:
                continue   # the fill adds nothing to this figure: it was tried already
            tried.add((place.at, value))
            bits = float(rule.free(figures, place.over))
            if 0 < filled < width and bits < rule.bits:
                # the top of a sum that cannot fill its width is 00 or FF, as fills are: only the other bytes tell
                bits = min(bits, 8 * (width - filled))
            # a value that blank memory also holds, or the fill, says half as much
            if len(set(held)) == 1 and held[0] in blank:
                bits /= 2
            orders: tuple[ByteOrder, ...] = (rule.order,) if rule.order else ("little", "big")
            for order in orders if width > 1 else orders[:1]:
                stored = int.from_bytes(held, order)
                yield Trial(
                    id=rule.id, title=f"stored {rule.title}{place.says}", source=rule.source, tier=_tier(rule, place),
                    odds=Odds(2.0**-bits), holds=stored == value, bits=rule.bits, over=place.over, at=place.at,
                    stored=f"{stored:0{2 * width}X}", computed=f"{value:0{2 * width}X}",
                    order=order if width > 1 else None, place=place.id,
                )  # fmt: skip
