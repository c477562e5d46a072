"""Data lines that never change, or always change together, in one image.

A line that reads the same everywhere may be stuck, or the content may leave it so: text leaves D7 at 0, a four-bit
PROM has no upper half, the dots of a character generator leave its edges free. What tells the two apart is the rest of
the content: how many different bytes there are, and of which kind. The sign itself (AND over all bytes 1 or OR over all
bytes 0 in one bit; two bits always equal) is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np

from imagekeeper.findings import Finding
from imagekeeper.inspection.content import Content, entropy
from imagekeeper.inspection.naming import PinNames
from imagekeeper.sentences.say import Phrase

#: Content of fewer different bytes says nothing of a line that never changes.
FEW = 12
#: Content of so many different bytes would not leave a line in the middle unused.
MANY = 16
#: Content of so many different bytes would not have two lines equal.
MANY_FOR_PAIRS = 32
#: Machine code without one line still has so many different bytes.
MANY_FOR_CODE = 64
#: Without D7 it has more than text with some other characters among it has.
MANY_WITHOUT_D7 = 108
#: Text of so many different characters uses every line but D7.
TEXT_VARIETY = 20
#: From this share of printable characters on, content is text.
TEXT = 0.85
#: From this share on, it may be text with other data between.
MIXED_TEXT = 0.7
#: Fill of this length with one line missing is telling by itself. [byte]
TELLING_FILL = 64

Severity = Literal["note", "warning", "fault"]


@dataclass(frozen=True)
class _Judged:
    severity: Severity
    confidence: float
    because: Phrase


def constant_lines(content: Content) -> dict[int, int]:
    """Find the data lines that never change, with their value.

    Example:
        >>> from imagekeeper.containers.model import Image
        >>> constant_lines(Content.of(Image.from_bytes(bytes([0x81, 0x82, 0x84, 0xBC, 0xC0]))))
        {7: 1}
    """
    values = np.flatnonzero(content.counts)
    high, low = int(np.bitwise_and.reduce(values)), int(np.bitwise_or.reduce(values))
    return {line: high >> line & 1 for line in range(8) if not (high ^ low) >> line & 1}


def stuck(content: Content, bench: PinNames) -> Iterator[Finding]:
    """Judge the lines that never change."""
    constant = constant_lines(content)
    width = bench.chip.bits if bench.chip and bench.chip.bits < 8 else 8
    for line in range(width, 8):
        constant.pop(line, None)
    if width == 8 and all(line in constant for line in range(4, 8)) and len({constant[k] for k in range(4, 8)}) == 1:
        value = constant[4]
        yield bench.finding(
            "data-line-stuck/four-bits", "note", 0.3, lines=[f"D{k}" for k in range(4, 8)], value=value,
            size=content.size, detail={"line_values": {f"D{k}": value for k in range(4, 8)}},
        )  # fmt: skip
        width = 4
    open_lines = [line for line in range(width) if line not in constant]
    if not open_lines:
        return
    harmless: dict[str, dict[int, int]] = {}   # by the reason
    for line, value in constant.items():
        if line >= width:
            continue
        judged = _judge(content, line, value, constant, open_lines, width)
        if judged.severity == "note":
            harmless.setdefault(str(judged.because), {})[line] = value
            continue
        yield bench.finding(
            "data-line-stuck", judged.severity, judged.confidence, lines=[f"D{line}"], size=content.size,
            because=judged.because, detail={"line": f"D{line}", "value": value, "variety": content.variety},
        )  # fmt: skip
    for because, lines in harmless.items():
        names = [f"D{line}" for line in lines]
        yield bench.finding(
            "data-line-stuck/harmless", "note", 0.1, lines=names, size=content.size, because=because,
            read=[Phrase("data-line-stuck/reads-so", line=f"D{line}", value=value) for line, value in lines.items()],
            detail={
                "line_values": {f"D{line}": value for line, value in lines.items()}, "variety": content.variety,
            },
        )  # fmt: skip


def _judge(
    content: Content, line: int, value: int, constant: dict[int, int], open_lines: list[int], width: int
) -> _Judged:
    variety = content.variety
    fill = _fill_that_lacks(content, line, value)
    if fill is not None:
        return _Judged(
            "fault" if variety >= FEW else "warning", 0.95 if variety >= FEW else 0.6,
            Phrase("data-line-stuck/fill", fill=fill, whole="00" if value else "FF"),
        )  # fmt: skip
    if variety < FEW:
        return _Judged("note", 0.1, Phrase("data-line-stuck/few-bytes", variety=variety))
    above = line > max(open_lines)
    edge = above or line < min(open_lines)
    alone = sum((k > max(open_lines)) if above else (k < min(open_lines)) for k in constant if k < width) == 1
    if content.text_share >= TEXT and not content.smooth:
        if line == 7:
            return _Judged("note", 0.02, Phrase("data-line-stuck/text"))
        if variety >= (TEXT_VARIETY if line != 6 else TEXT_VARIETY + 4):
            return _Judged("fault", 0.95, Phrase("data-line-stuck/no-text", variety=variety))
        return _Judged("note", 0.1, Phrase("data-line-stuck/figures", variety=variety))
    if line == 7 and value and _text_with_bit_7(content) >= TEXT:
        return _Judged("warning", 0.4, Phrase("data-line-stuck/text-at-0"))
    if not edge:
        if content.rowed:
            return _Judged("warning", 0.6, Phrase("data-line-stuck/dots", variety=variety))
        if variety >= MANY:
            return _Judged("fault", _sure(variety), Phrase("data-line-stuck/between", variety=variety))
        return _Judged("warning", 0.4, Phrase("data-line-stuck/between-few", variety=variety))
    if content.rowed:
        return _Judged("note", 0.1, Phrase("data-line-stuck/border"))
    if content.smooth:
        if line == 7 and content.wraps > 2:
            return _Judged("warning", 0.6, Phrase("data-line-stuck/jumps", places=content.wraps))
        if line == 0 and variety >= MANY_WITHOUT_D7:
            return _Judged("warning", 0.6, Phrase("data-line-stuck/steps-of-2", variety=variety))
        return _Judged("note", 0.15, Phrase("data-line-stuck/neighbours"))
    if line == 7 and not value and content.text_share >= MIXED_TEXT and not content.smooth:
        return _Judged("note", 0.1, Phrase("data-line-stuck/much-text"))
    if alone and variety >= (MANY_WITHOUT_D7 if line == 7 else MANY_FOR_CODE) and entropy(content.rest_counts) >= 5.0:
        return _Judged("fault", 0.8, Phrase("data-line-stuck/code", variety=variety))
    if variety >= MANY_FOR_CODE:
        return _Judged("warning", 0.4, Phrase("data-line-stuck/table-or-code", variety=variety))
    return _Judged("note", 0.15, Phrase("data-line-stuck/table", variety=variety))


def _sure(variety: int) -> float:
    return 1.0 - float(2.0 ** -(2 + variety / 8))


def _fill_that_lacks(content: Content, line: int, value: int) -> int | None:
    """Find fill that would be FF or 00 but for the line."""
    lacking = 0xFF & ~(1 << line) if not value else 1 << line
    total = sum(run.length for run in content.runs if run.value == lacking)
    return lacking if total >= TELLING_FILL else None


def _text_with_bit_7(content: Content) -> float:
    counts = content.rest_counts
    total = int(counts.sum())
    high = int(counts[0xA0:0xFF].sum() + counts[[0x8A, 0x8D]].sum())
    return high / max(int(total), 1)


def shorted(content: Content, bench: PinNames) -> Iterator[Finding]:
    """Judge the lines that are equal at every address."""
    values = np.flatnonzero(content.counts)
    constant = constant_lines(content)
    bits = {line: (values >> line) & 1 for line in range(8) if line not in constant}
    pairs = [(i, j) for i, j in combinations(bits, 2) if np.array_equal(bits[i], bits[j])]
    if not pairs or content.variety < FEW:   # so few different bytes say nothing of pairs
        return
    halves = {(k, k + 4) for k in range(4)}
    doubled = {(0, 1), (2, 3), (4, 5), (6, 7)}
    for both, about in ((halves, "data-lines-shorted/halves"), (doubled, "data-lines-shorted/doubled")):
        if len(set(pairs) & both) >= 3:
            yield bench.finding(about, "note", 0.1, detail={"pairs": [[f"D{i}", f"D{j}"] for i, j in pairs]})
            return
    for i, j in pairs:
        judged = _judge_pair(content, i, j, len(pairs))
        yield bench.finding(
            "data-lines-shorted", judged.severity, judged.confidence, lines=(f"D{i}", f"D{j}"), size=content.size,
            because=judged.because, detail={"line_pair": [f"D{i}", f"D{j}"], "variety": content.variety},
        )  # fmt: skip


def _judge_pair(content: Content, i: int, j: int, pairs: int) -> _Judged:
    variety = content.variety
    if {i, j} == {5, 6} and _small_letters(content) > 0.97:
        return _Judged("note", 0.02, Phrase("data-lines-shorted/small-letters"))
    if (pairs == 3 and i >= 5 and variety < MANY_FOR_CODE) or (j == 7 and i == 6 and content.smooth):
        return _Judged("note", 0.1, Phrase("data-lines-shorted/signed", variety=variety))
    if content.text_share >= TEXT and variety < MANY_FOR_PAIRS:
        return _Judged("note", 0.1, Phrase("data-lines-shorted/listing", variety=variety))
    if content.rowed:
        return _Judged("warning", 0.5, Phrase("data-lines-shorted/dots", variety=variety))
    if variety >= MANY_FOR_PAIRS:
        return _Judged("fault", _sure(variety), Phrase("data-lines-shorted/irregular", variety=variety))
    return _Judged("warning", 0.4, Phrase("data-lines-shorted/few-bytes", variety=variety))


def _small_letters(content: Content) -> float:
    counts = content.rest_counts
    plain = int(counts[0x61:0x7B].sum() + counts[[0x00, 0x0A, 0x0D]].sum())
    return plain / max(int(counts.sum()), 1)
