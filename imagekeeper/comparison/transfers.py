"""Bytes that a transfer over a text or serial line changes: line ends, and the two characters that stop and go.

A line that treats a dump as text writes CR LF for LF or takes CR away; one with software handshake keeps DC1 (11) and
DC3 (13) for itself. Source: ECMA-48, 5th edition, 1991, 8.3 (CR, LF), and ISO/IEC 646; that DC1 and DC3 are taken for
XON and XOFF is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from imagekeeper.comparison.coding import choice_bits, noise_bits, subset_bits
from imagekeeper.comparison.pair import Account, Bytes, Explanation, Pair, ones, told_bits
from imagekeeper.comparison.shapes import equal_run

CR, LF, DC1, DC3 = 0x0D, 0x0A, 0x11, 0x13

#: So many bytes may be wrong beside what the transfer did. [byte]
MOST_WRONG = 24

#: So many bytes must have gone or come for it to be a habit of the line. [byte]
FEWEST = 3

#: More changes than this are not followed one by one.
MOST_CHANGES = 100_000


#: How far to go on in the first, and in the second.
_Step = tuple[int, int]


@dataclass(frozen=True)
class _Habit:
    """What a line does to some bytes.

    Attributes:
        about: The key of its sentences.
        at: How many bytes to go on in the first and in the second where it did something; none where it did not.
        touched: The bytes at which it may; none for anywhere.
    """

    about: str
    at: Callable[[bytes, int, bytes, int], _Step | None]
    touched: tuple[int, ...]


def _adds_cr(first: bytes, i: int, second: bytes, j: int) -> _Step | None:
    return (0, 1) if second[j] == CR and first[i] == LF and second[j + 1 : j + 2] == b"\n" else None


def _adds_lf(first: bytes, i: int, second: bytes, j: int) -> _Step | None:
    return (0, 1) if second[j] == LF and j and second[j - 1] == CR else None


def _takes(*values: int) -> Callable[[bytes, int, bytes, int], _Step | None]:
    return lambda first, i, second, j: (1, 0) if first[i] in values else None


def _breaks_lines(first: bytes, i: int, second: bytes, j: int) -> _Step | None:
    if second[j : j + 2] == b"\r\n":
        return 0, 2
    if j and i and second[j - 1 : j + 1] == b"\r\n":   # before a CR of the content, which looked like that put in
        return -1, 1
    return None


_HABITS = (
    _Habit("line-endings-changed/cr-added", _adds_cr, (LF,)),
    _Habit("line-endings-changed/lf-added", _adds_lf, (CR,)),
    _Habit("line-endings-changed/cr-taken", _takes(CR), (CR,)),
    _Habit("line-endings-changed/lf-taken", _takes(LF), (LF,)),
    _Habit("line-endings-changed/broken", _breaks_lines, ()),
    _Habit("flow-control-lost", _takes(DC1, DC3), (DC1, DC3)),
)


def changed_on_the_way(
    first: Bytes, second: Bytes, names: tuple[str, str]
) -> tuple[Account, float] | None:
    r"""Explain a read that went over a line which adds or takes certain bytes.

    Returns:
        The finding, and the bits to describe the second read so; None where no habit of a line explains it.

    Example:
        >>> text = np.frombuffer(b"10 INPUT T\n20 PRINT T * 2\n30 GOTO 10\n40 END\n" * 4, np.uint8)
        >>> sent = np.frombuffer(text.tobytes().replace(b"\n", b"\r\n"), np.uint8)
        >>> changed_on_the_way(text, sent, ("a", "b"))[0].code
        'line-endings-changed'
    """
    a, b = first.tobytes(), second.tobytes()
    best: tuple[Account, float] | None = None
    for habit in _HABITS:
        changes, wrong, i, j = _follow(a, b, habit)
        rest_a, rest_b = len(a) - i, len(b) - j
        tail = second[j:]
        filled = rest_b == 0 or bool(np.all(tail == tail[0]))
        if changes < FEWEST or not filled or (rest_a and rest_b) or rest_a > 2 * changes + MOST_WRONG:
            continue
        open_to = max(int(np.count_nonzero(np.isin(first, habit.touched))) if habit.touched else len(a), changes)
        bits = choice_bits(len(_HABITS)) + subset_bits(open_to, changes) + noise_bits(len(first), wrong * 4)
        bits += 8 if rest_b else 0
        account = Account.of(
            habit.about, other=names[0], read=names[1],
            detail={"changes": changes, "of": open_to, "still_wrong": wrong, "read": names[1]},
        )  # fmt: skip
        if best is None or bits < best[1]:
            best = account, bits
    return best


def _follow(first: bytes, second: bytes, habit: _Habit) -> tuple[int, int, int, int]:
    """Go through both, letting the habit add and take: the changes, single wrong bytes, and where it ended."""
    i = j = changes = wrong = 0
    fill = len(second.rstrip(second[-1:]))
    while i < len(first) and j < len(second):
        run = equal_run(first, i, second, j)
        i, j = i + run, j + run
        if i >= len(first) or j >= len(second):
            break
        step = habit.at(first, i, second, j)
        if step is not None:
            changes += 1
            i, j = i + step[0], j + step[1]
        else:
            wrong += 1
            if j >= fill:   # only fill is left
                break
            i, j = i + 1, j + 1
        if wrong > MOST_WRONG or changes > MOST_CHANGES:
            break
    return changes, wrong, i, j


def parity(pair: Pair) -> Iterator[Explanation]:
    """Bit 7 of each byte of the second is the parity of the other seven: a line with seven data bits.

    From memory of ITU-T V.4: an even number of ones where characters go in start-stop transmission, an odd one in
    synchronous.
    """
    seven = pair.first & np.uint8(0x7F)
    odd = (np.bitwise_count(seven) & 1).astype(np.uint8) << 7
    for called, bit in (("even", odd), ("odd", odd ^ np.uint8(0x80))):
        foretold = seven | bit
        left = ones(foretold ^ pair.second)
        if left * 4 < pair.flips:
            yield Explanation(
                accounts=(
                    Account.of(
                        "parity-in-bit-7", other=pair.names[0], kind=called,
                        detail={
                            "parity": called, "read": pair.names[1],
                            "changed": int(np.count_nonzero(foretold != pair.first)),
                        },
                    ),
                ),
                bits=choice_bits(8) + noise_bits(pair.size, left),
                foretold=foretold,
                richer_by=told_bits(pair.first > 0x7F, seven)[0],
            )  # fmt: skip
