"""The conventions by which a whole image checks itself: each a row with its name, its figure and its source."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from imagekeeper import tables
from imagekeeper.selfchecks.chance import Odds
from imagekeeper.selfchecks.figures import ByteOrder, Figures, Ranges
from imagekeeper.selfchecks.trials import CheckPlace, Trial

PRACTICE = "common practice, no source"
LEFT_OUT = {"nothing": 0, "6 bytes of vectors": 6, "8 bytes of vectors": 8, "16 bytes": 16}


@dataclass(frozen=True, kw_only=True)
class Balance:
    """A figure that comes out as a fixed value because some byte or word was chosen so.

    Attributes:
        id: Short name.
        title: What holds.
        bits: Width of the figure. [bit]
        words: Whether it needs whole 16-bit words.
        value: The fixed value.
        usual: Whether it is met often.
        figure: Takes the figure over ranges.
        known_bits: How many of its bits data lines that never change fix in advance. [bit]
        source: Where it is described.
    """

    id: str
    title: str
    bits: int
    words: bool
    value: int
    usual: bool
    figure: Callable[[Figures, Ranges], int]
    known_bits: Callable[[Figures], int]
    source: str = PRACTICE


def _low(lines: int) -> int:
    """Count the low bits below the first line that changes."""
    return ((lines | 0x100) & -(lines | 0x100)).bit_length() - 1


def _low_of_sum(figures: Figures) -> int:
    return _low(figures.variety.all)


def _low_of_words(order: ByteOrder) -> Callable[[Figures], int]:
    def count(figures: Figures) -> int:
        low, high = figures.variety.even, figures.variety.odd
        if order == "big":
            low, high = high, low
        return _low(low) if low else 8 + _low(high)

    return count


def _xor16(figures: Figures, over: Ranges) -> int:
    even, odd = figures.xor_lanes(over)
    return even << 8 | odd


def _lanes(figures: Figures, over: Ranges) -> int:
    even, odd = figures.lanes(over)
    return (even & 0xFF) << 8 | odd & 0xFF


def _quiet(lines: int) -> int:
    return 8 - lines.bit_count()


_XOR_SOURCE = "GTCO 2500 series user's guide, page 17: the exclusive or of all bytes is zero"
_SUM_SOURCE = "common practice, no source; for extension ROMs the Plug and Play BIOS Specification 1.0A asks for it"

BALANCES: tuple[Balance, ...] = (
    Balance(
        id="sum8-zero", title="8-bit sum is zero", bits=8, words=False, value=0, usual=False,
        figure=lambda f, over: f.total(over), known_bits=_low_of_sum, source=_SUM_SOURCE,
    ),
    Balance(
        id="sum8-ones", title="8-bit sum is FF", bits=8, words=False, value=0xFF, usual=False,
        figure=lambda f, over: f.total(over), known_bits=_low_of_sum,
    ),
    Balance(
        id="xor8-zero", title="exclusive or of all bytes is zero", bits=8, words=False, value=0, usual=False,
        figure=lambda f, over: f.xor(over), known_bits=lambda f: _quiet(f.variety.all), source=_XOR_SOURCE,
    ),
    Balance(
        id="words-le-zero", title="16-bit sum of words, low byte first, is zero", bits=16, words=True, value=0,
        usual=True, figure=lambda f, over: f.words(over, "little"), known_bits=_low_of_words("little"),
    ),
    Balance(
        id="words-be-zero", title="16-bit sum of words, high byte first, is zero", bits=16, words=True, value=0,
        usual=True, figure=lambda f, over: f.words(over, "big"), known_bits=_low_of_words("big"),
    ),
    Balance(
        id="words-le-ones", title="16-bit sum of words, low byte first, is FFFF", bits=16, words=True, value=0xFFFF,
        usual=False, figure=lambda f, over: f.words(over, "little"), known_bits=_low_of_words("little"),
    ),
    Balance(
        id="words-be-ones", title="16-bit sum of words, high byte first, is FFFF", bits=16, words=True, value=0xFFFF,
        usual=False, figure=lambda f, over: f.words(over, "big"), known_bits=_low_of_words("big"),
    ),
    Balance(
        id="lanes-zero", title="8-bit sums of the even and of the odd bytes are zero", bits=16, words=True, value=0,
        usual=False, figure=_lanes, known_bits=lambda f: _low(f.variety.even) + _low(f.variety.odd),
    ),
    Balance(
        id="xor16-zero", title="exclusive or of all 16-bit words is zero", bits=16, words=True, value=0, usual=False,
        figure=_xor16, known_bits=lambda f: _quiet(f.variety.even) + _quiet(f.variety.odd),
    ),
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Stored:
    """A figure of the other bytes that is stored among them.

    Attributes:
        id: Short name.
        title: What is stored.
        bits: Width of the stored value: 8, 16 or 32. [bit]
        words: Whether it needs whole 16-bit words; then it is stored in the order of its words.
        order: The one byte order in which it is tried, or None for both.
        usual: Whether it is met often.
        figure: Takes the figure over ranges.
        known_bits: How many of its bits are fixed in advance. [bit]
        source: Where it is described.
    """

    id: str
    title: str
    bits: int
    words: bool
    order: ByteOrder | None
    usual: bool
    figure: Callable[[Figures, Ranges], int]
    known_bits: Callable[[Figures], int]
    source: str = PRACTICE


def stored_rules() -> tuple[Stored, ...]:
    """Every convention with a stored value.

    What a balance to zero or to all ones covers already is not here again: a stored two's or one's complement of an
    8-bit sum, an exclusive or, a complement of a sum of words in their own order.
    """
    none: Callable[[Figures], int] = lambda f: 0  # noqa: E731  a rule is a row
    rules = [
        Stored(
            id="sum8", title="8-bit sum", bits=8, words=False, order=None, usual=False,
            figure=lambda f, over: f.total(over), known_bits=_low_of_sum,
        ),
        Stored(
            id="sum16", title="16-bit sum of bytes", bits=16, words=False, order=None, usual=True,
            figure=lambda f, over: f.total(over), known_bits=_low_of_sum,
        ),
        Stored(
            id="sum16-complement", title="two's complement of the 16-bit sum of bytes", bits=16, words=False,
            order=None, usual=True, figure=lambda f, over: -f.total(over), known_bits=_low_of_sum,
        ),
        Stored(
            id="sum16-inverse", title="one's complement of the 16-bit sum of bytes", bits=16, words=False, order=None,
            usual=True, figure=lambda f, over: ~f.total(over), known_bits=_low_of_sum,
        ),
        Stored(
            id="words-le", title="16-bit sum of words, low byte first", bits=16, words=True, order="little", usual=True,
            figure=lambda f, over: f.words(over, "little"), known_bits=_low_of_words("little"),
        ),
        Stored(
            id="words-be", title="16-bit sum of words, high byte first", bits=16, words=True, order="big", usual=True,
            figure=lambda f, over: f.words(over, "big"), known_bits=_low_of_words("big"),
        ),
        Stored(
            id="sum32", title="32-bit sum of bytes", bits=32, words=False, order=None, usual=False,
            figure=lambda f, over: f.total(over), known_bits=_low_of_sum,
        ),
        Stored(
            id="sum32-complement", title="two's complement of the 32-bit sum of bytes", bits=32, words=False,
            order=None, usual=False, figure=lambda f, over: -f.total(over), known_bits=_low_of_sum,
        ),
    ]  # fmt: skip
    usual = ("CRC-16/ARC", "CRC-16/XMODEM", "CRC-16/IBM-3740", "CRC-32/ISO-HDLC")
    for name, row in tables.crcs().items():
        if row.width >= 16:
            rules.append(
                Stored(
                    id=name, title=name, bits=row.width, words=False, order=None, usual=name in usual,
                    figure=lambda f, over, row=row: f.crc(row, over), known_bits=none,  # type: ignore[misc]
                    source="catalogue of parametrised CRC algorithms; its use here: common practice, no source",
                )
            )
    return tuple(rules)


def places(size: int, width: int, asked: int | None) -> Iterator[CheckPlace]:
    """Name where a stored value of some width is looked for.

    Args:
        size: Length of the searched range. [byte]
        width: Size of the value. [byte]
        asked: Offset that the user gave, or None; it may lie outside the range. [byte]
    """
    if size <= width + 16:
        return
    found: list[CheckPlace] = []
    if asked is not None:
        if asked >= size or asked <= -width:
            found.append(CheckPlace("asked", asked, ((0, size),), "asked"))
        elif 0 <= asked <= size - width:
            parts = tuple((a, b) for a, b in ((0, asked), (asked + width, size)) if a < b)
            found.append(CheckPlace("asked", asked, parts, "asked"))
            if asked:
                found.append(CheckPlace("asked, and before only", asked, ((0, asked),), "possible"))
    found.append(CheckPlace("end", size - width, ((0, size - width),), "usual"))
    found.append(CheckPlace("start", 0, ((width, size),), "possible"))
    spots = {
        "16 before the end": size - 16,   # AT&T 3B2 off-line diagnostic manual, page 5-8: a tape controller's ROM
        "before 6 bytes of vectors": size - 6 - width,
        "before 8 bytes of vectors": size - 8 - width,
        "before the last 16": size - 16 - width,
    }
    for name, at in spots.items():
        found.append(CheckPlace(name, at, ((0, at),), "possible"))
        found.append(CheckPlace(f"{name}, and after", at, ((0, at), (at + width, size)), "possible"))
    seen = set()
    for place in found:   # an address that the user gave may be one of the others
        if (place.at, place.over) not in seen:
            seen.add((place.at, place.over))
            yield place


def cuts(size: int, asked: int | None) -> set[int]:
    """Every offset at which a range of the rules starts or ends. [byte]"""
    found = {size - left for left in LEFT_OUT.values() if left < size}
    for width in (1, 2, 4):
        for place in places(size, width, asked):
            found.update(edge for part in place.over for edge in part)
    return found


def balance_trials(figures: Figures, size: int) -> Iterator[Trial]:
    """Try every balance over the whole range, and with vectors at its end left out."""
    for name, left in LEFT_OUT.items():
        over = ((0, size - left),)
        if size - left < 32:
            continue
        for rule in BALANCES:
            if (left and rule.value) or (rule.words and (size - left) % 2):
                continue
            value = rule.figure(figures, over) % (1 << rule.bits)
            odds = Odds(2.0 ** -(rule.bits - rule.known_bits(figures)))
            digits = rule.bits // 4
            title = rule.title + (f", the last {name} left out" if left else "")
            yield Trial(
                id=rule.id, title=title, source=rule.source, tier="usual" if rule.usual and not left else "possible",
                odds=odds, holds=value == rule.value, bits=rule.bits, over=over, stored=f"{rule.value:0{digits}X}",
                computed=f"{value:0{digits}X}", place=f"left out {left}",
            )  # fmt: skip


def stored_trials(
    figures: Figures, size: int, asked: int | None, value_at: Callable[[int, int], bytes]
) -> Iterator[Trial]:
    """Try every stored value at every place.

    Args:
        figures: Figures of the searched range.
        size: Its length. [byte]
        asked: Offset that the user gave, or None. [byte]
        value_at: Gives the bytes at an offset and of a length; fewer where the image ends.
    """
    for rule in stored_rules():
        width, digits = rule.bits // 8, rule.bits // 4
        for place in places(size, width, asked):
            assert place.at is not None
            if rule.words and any(edge % 2 for part in place.over for edge in part):
                continue
            held = value_at(place.at, width)
            if len(held) < width or (width == 1 and held in (b"\x00", b"\xff")):
                continue   # a single blank byte is no stored value
            value = rule.figure(figures, place.over) % (1 << rule.bits)
            # a sum cannot fill more bits than it reaches, and a value that blank memory also holds says half as much
            known = rule.known_bits(figures)
            if rule.id == "sum32":
                known = max(known, 32 - (255 * size).bit_length())
            bits = float(rule.bits - known)
            if len(set(held)) == 1 and held[0] in (0x00, 0xFF):
                bits /= 2
            orders: tuple[ByteOrder, ...] = (rule.order,) if rule.order else ("little", "big")
            for order in orders if width > 1 else orders[:1]:
                stored = int.from_bytes(held, order)
                tier = place.tier if rule.usual or place.tier == "possible" else "possible"
                yield Trial(
                    id=rule.id, title=f"stored {rule.title}", source=rule.source, tier=tier, odds=Odds(2.0**-bits),
                    holds=stored == value, bits=rule.bits, over=place.over, at=place.at, stored=f"{stored:0{digits}X}",
                    computed=f"{value:0{digits}X}", order=order if width > 1 else None, place=place.id,
                )  # fmt: skip
