"""How long it takes to program a whole chip, where every byte takes one pulse of a fixed length."""

from __future__ import annotations

from dataclasses import replace

from imagekeeper.tables.chips import ChipRow, Method, methods


def seconds(method: Method, words: int) -> float | None:
    """Add up the pulses of a whole chip, or None where their number is not fixed.

    Args:
        method: How it is written; the middle of its shortest and its longest pulse is taken.
        words: What the chip holds. [word]

    Example:
        >>> [seconds(methods()["fixed-50ms"], words) for words in (2048, 4096, 8192)]
        [102.4, 204.8, 409.6]
        >>> seconds(methods()["quick-100us"], 8192) is None
        True
    """
    if method.most_pulses != 1 or not method.pulse_us:
        return None
    return words * (method.pulse_us[0] + method.pulse_us[-1]) / 2 / 1e6


def methods_of(row: ChipRow, names: tuple[str, ...]) -> tuple[Method, ...]:
    """Give the ways in which a chip is written, each with the time for this very chip where that is fixed.

    Example:
        >>> from imagekeeper.tables.chips import chip_rows
        >>> methods_of(chip_rows()["2716"], ("fixed-50ms",))[0].says.partition("level. ")[2]
        'The pulses of all 2048 bytes take 102 s.'
    """
    return tuple(_timed(methods()[name], row) for name in names)


def _timed(method: Method, row: ChipRow) -> Method:
    takes = seconds(method, row.words)
    if takes is None:
        return method
    what = "bytes" if row.bits == 8 else "words"
    return replace(method, says=f"{method.says} The pulses of all {row.words} {what} take {takes:.0f} s.")
