"""Figures that come out as a fixed value because some byte or word was chosen so: each a row with its source."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from imagekeeper.selfchecks import free_bits
from imagekeeper.selfchecks.chance import Odds, Rank, Tier
from imagekeeper.selfchecks.figures import ByteOrder, Figures, Ranges
from imagekeeper.selfchecks.fill import FillRun
from imagekeeper.selfchecks.places import LEFT_OUT
from imagekeeper.selfchecks.trials import Trial

#: Takes a figure, or counts its free bits, over ranges.
Figure = Callable[[Figures, Ranges], int]

PRACTICE = "common practice, no source"


@dataclass(frozen=True, kw_only=True)
class Balance:
    """A figure that comes out as a fixed value because some byte or word was chosen so.

    Attributes:
        id: Short name.
        title: What holds.
        bits: Width of the figure. [bit]
        step: Length of the words that it needs whole: 1, 2 or 4. [byte]
        value: The fixed value.
        rank: How often it is met.
        figure: Takes the figure over ranges.
        free: How many of its bits the bytes are free to choose. [bit]
        source: Where it is described.
    """

    id: str
    title: str
    bits: int
    step: int = 1
    value: int = 0
    rank: Rank = "possible"
    figure: Figure
    free: Figure
    source: str = PRACTICE


def carried(total: int, bits: int) -> int:
    """Add the carries of a sum back into it (end-around carry): only all zeros add up to zero.

    Example:
        >>> f"{carried(0x2DDF0, 16):04X}"   # RFC 1071, section 3: 2DDF0 folds to DDF2
        'DDF2'
    """
    most = (1 << bits) - 1
    return (total - 1) % most + 1 if total else 0


def _xor16(figures: Figures, over: Ranges) -> int:
    even, odd = figures.xor_lanes(over)
    return even << 8 | odd


def carried_sum(bits: int, of: Figure, figures: Figures, over: Ranges) -> int:
    """Take another figure with the carries added back into it."""
    return carried(of(figures, over), bits)


def lane_sums(figures: Figures, over: Ranges) -> int:
    """Take the 8-bit sums of the even and of the odd bytes; the even is the high byte."""
    even, odd = figures.lanes(over)
    return (even & 0xFF) << 8 | odd & 0xFF


def fletcher16(figures: Figures, over: Ranges, modulus: int = 255) -> int:
    """Take J. G. Fletcher's two sums of bytes; the second is the high byte."""
    first, second = figures.running(over)
    return second % modulus << 8 | first % modulus


_XOR_SOURCE = "GTCO 2500 series user's guide, page 17: the exclusive or of all bytes is zero"
_SUM_SOURCE = "common practice, no source; for extension ROMs the Plug and Play BIOS Specification 1.0A asks for it"
RFC_1071 = "RFC 1071, Computing the Internet Checksum, 1988; its use in a ROM: common practice, no source"
FLETCHER = (
    "J. G. Fletcher, An Arithmetic Checksum for Serial Transmissions, IEEE Transactions on Communications, January "
    "1982; its use in a ROM: common practice, no source"
)

_SUM8 = partial(free_bits.of_bytes, 8)


def _sum8(name: str, value: int, rank: Rank, source: str = PRACTICE) -> Balance:
    title = f"8-bit sum is {'zero' if not value else f'{value:02X}'}"
    return Balance(
        id=f"sum8-{name}", title=title, bits=8, value=value, rank=rank, figure=Figures.total, free=_SUM8, source=source
    )


def _xor8(name: str, value: int, rank: Rank, source: str = PRACTICE) -> Balance:
    title = f"exclusive or of all bytes is {'zero' if not value else f'{value:02X}'}"
    return Balance(
        id=f"xor8-{name}", title=title, bits=8, value=value, rank=rank, figure=Figures.xor, free=free_bits.of_xor,
        source=source,
    )  # fmt: skip


#: The two byte orders of words: in ids, by name, and which byte comes first.
ENDS: tuple[tuple[str, ByteOrder, str], ...] = (("le", "little", "low"), ("be", "big", "high"))

BALANCES: tuple[Balance, ...] = (
    _sum8("zero", 0x00, "possible", _SUM_SOURCE),
    _sum8("ones", 0xFF, "possible"),
    _sum8("55", 0x55, "seldom"),
    _sum8("aa", 0xAA, "seldom"),
    Balance(
        id="carried8-ones", title="8-bit sum with end-around carry is FF", bits=8, value=0xFF, rank="seldom",
        figure=partial(carried_sum, 8, Figures.total), free=free_bits.of_carried_bytes,
    ),
    _xor8("zero", 0x00, "possible", _XOR_SOURCE),
    _xor8("ones", 0xFF, "seldom"),
    _xor8("55", 0x55, "seldom"),
    _xor8("aa", 0xAA, "seldom"),
    *(
        Balance(
            id=f"words-{short}-{name}", title=f"16-bit sum of words, {end} byte first, is {said}", bits=16, step=2,
            value=value, rank="possible" if value else "usual",
            figure=partial(Figures.words, order=order),
            free=partial(free_bits.of_words, 16, order),
        )
        for name, value, said in (("zero", 0, "zero"), ("ones", 0xFFFF, "FFFF"))
        for short, order, end in ENDS
    ),
    Balance(
        id="carried-words-ones", title="16-bit words added with end-around carry give FFFF (Internet checksum)",
        bits=16, step=2, value=0xFFFF, rank="usual",
        figure=partial(carried_sum, 16, partial(Figures.words, order="big")), free=free_bits.of_carried_words,
        source=RFC_1071,
    ),
    Balance(
        id="lanes-zero", title="8-bit sums of the even and of the odd bytes are zero", bits=16, step=2,
        figure=lane_sums, free=partial(free_bits.of_lanes, 8),
    ),
    Balance(
        id="xor16-zero", title="exclusive or of all 16-bit words is zero", bits=16, step=2, figure=_xor16,
        free=free_bits.of_word_xor,
    ),
    Balance(
        id="fletcher16-zero", title="both of Fletcher's sums modulo 255 are zero", bits=16, figure=fletcher16,
        free=partial(free_bits.of_running, 255), source=FLETCHER,
    ),
    Balance(
        id="fletcher16-256-zero", title="both of Fletcher's sums modulo 256 are zero", bits=16, rank="seldom",
        figure=partial(fletcher16, modulus=256), free=partial(free_bits.of_running, 256), source=FLETCHER,
    ),
    *(
        Balance(
            id=f"long-words-{short}-zero", title=f"32-bit sum of words, {end} byte first, is zero", bits=32, step=4,
            figure=partial(Figures.long_words, order=order),
            free=partial(free_bits.of_long_words, order),
        )
        for short, order, end in ENDS
    ),
)  # fmt: skip


def balance_trials(figures: Figures, fill: FillRun | None) -> Iterator[Trial]:
    """Try every balance over the whole range, with vectors at its end left out, and over what lies before its fill."""
    for name, left in LEFT_OUT.items():
        says = f", the last {name} left out" if left else ""
        yield from _over(figures, figures.size - left, says, f"left out {left}", "possible" if left else "usual")
    if fill is not None:
        yield from _over(figures, fill.start, fill.says_before, "used", "used")


def _over(figures: Figures, end: int, says: str, place: str, tier: Tier) -> Iterator[Trial]:
    for rule in BALANCES:
        over = ((0, end + -end % rule.step if place == "used" else end),)
        if end < 32 or over[0][1] % rule.step or (tier != "usual" and rule.value and rule.rank != "usual"):
            continue
        value = rule.figure(figures, over) % (1 << rule.bits)
        if place == "used" and value == rule.figure(figures, ((0, figures.size),)) % (1 << rule.bits):
            continue   # the fill adds nothing to it: this was tried already
        digits = rule.bits // 4
        yield Trial(
            id=rule.id, title=rule.title + says, source=rule.source,
            tier=tier if rule.rank == "usual" else "seldom" if tier == rule.rank == "seldom" else "possible",
            odds=Odds(2.0 ** -rule.free(figures, over)), holds=value == rule.value, bits=rule.bits, over=over,
            stored=f"{rule.value:0{digits}X}", computed=f"{value:0{digits}X}", place=place,
        )  # fmt: skip
