"""Learn the layout of a listing from the listing as a whole.

A line of a listing is: perhaps a mark, perhaps an address, groups of hexadecimal digits, perhaps a text column. A
single line cannot tell whether its first group is the address, nor where a text such as `CAFE` begins. All lines
together can: addresses go up by the number of bytes on a line.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import islice
from typing import TypeVar

from imagekeeper.containers.hex_column import agrees
from imagekeeper.containers.hex_layout import ListingLayout, Survey
from imagekeeper.containers.hex_lines import GROUP, gaps_of, group_run, hex_bytes
from imagekeeper.ranked import Evidence
from imagekeeper.units import plural

_H = TypeVar("_H", bound=Hashable)

_LEAD = r" *+([>.*#=\[(<|-]{0,3}) *+(0[xX]|\$)?"
_MARK = r"([hH]?(?: ?[:>\])|=/.-]{1,3})?)( *)"
_PLAIN = re.compile(_LEAD + r"([0-9A-Fa-f]{1,16})(?![0-9A-Fa-f])" + _MARK)
_SEGMENTED = re.compile(_LEAD + r"([0-9A-Fa-f]{4}:[0-9A-Fa-f]{4})(?![0-9A-Fa-f])" + _MARK)
_UNADDRESSED = re.compile(r" *+([>*#=|]?)()()()( *)")
_STAR_COMMAND = re.compile(r"\*[0-9A-Fa-f]{2}")
_STRONG_MARK = re.compile(r"[hH:>\])|=]")

#: Addresses of so many digits may be octal or decimal: those of `od` are, where nothing else is asked for.
#: IEEE Std 1003.1-2017, od: the address base is octal by default; d, o, x or n may be chosen.
_WIDE_DIGITS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """A line under one interpretation."""

    number: int
    lead: str
    prefix: str
    digits: str
    mark: str
    width: int   # of a group, 0 for bytes run together
    run: str
    rest: str

    @property
    def style(self) -> tuple[str, str, str, int]:
        return self.lead, self.prefix, self.mark, self.width

    def byte_count(self) -> int:
        return sum(map(len, re.findall("[0-9A-Fa-f]+", self.run))) // 2


def _row(number: int, line: str, head: re.Pattern[str]) -> _Row | None:
    """Read a line under one interpretation; None where it does not fit."""
    m = head.match(line)
    if m is None:
        return None
    lead, prefix, digits, mark, blanks = (part or "" for part in m.groups())
    if digits and not mark and not blanks and m.end() < len(line):
        return None
    if digits and m.end() == len(line):
        return _Row(
            number=number, lead=lead, prefix=prefix.lower(), digits=digits, mark=mark.strip(), width=-1, run="",
            rest="",
        )  # fmt: skip
    width, run = group_run(line, m.end())
    if not run:
        return None
    end = m.end() + len(run)
    last = GROUP.match(line, end)
    if last and 2 < width <= 16 and len(last[2]) < width and len(last[2]) % 2 == 0:
        after = line[last.end() :]
        if not after.strip() or after.startswith("  "):
            run += last[0]   # an odd number of bytes ends in a narrower group
            end = last.end()
    rest = line[end:]
    stripped = rest.strip()
    if stripped and not (rest[:2] == "  " or stripped[0] in "|><[*" or len(stripped) <= len(run) // 2 + 2):
        return None
    if head is _PLAIN and prefix == "" and mark == "" and len(digits) < 2:
        return None
    if head is _UNADDRESSED and GROUP.match(rest) and not agrees(hex_bytes(run), rest.strip()):
        return None   # the first group is rather an address
    if width not in (2, 4, 8, 16):
        if head is _UNADDRESSED and stripped:
            return None   # a digest and the name of its file, perhaps
        width = 0
    return _Row(
        number=number, lead=lead, prefix=prefix.lower(), digits=digits, mark=mark.strip(), width=width, run=run,
        rest=rest,
    )  # fmt: skip


def _most_common(values: Iterable[_H]) -> _H:
    """Give the value that occurs most; the first of several."""
    return Counter(values).most_common(1)[0][0]


def _column_begins(row: _Row, count: int) -> bool:
    """Whether the text column, or the end of the line, follows so many bytes of a row.

    It does at the end of the groups, at a gap wider than the first, and where what follows agrees as text.
    """
    if row.byte_count() <= count:
        return row.byte_count() == count
    if not row.width or count * 2 % row.width:
        return False
    gaps = gaps_of(row.run)
    at = count * 2 // row.width
    if len(gaps[at]) > max(map(len, gaps[1:at]), default=1):
        return True
    return agrees(*_split(row, at))


def _split(row: _Row, groups: int) -> tuple[bytes, str]:
    """Cut a row behind so many groups: their bytes, and what follows as text, without the gap."""
    ends = [m.end() for m in re.finditer("[0-9A-Fa-f]+", row.run)]
    return hex_bytes(row.run[: ends[groups - 1]]), (row.run[ends[groups - 1] :] + row.rest).lstrip()


def _extent(row: _Row) -> int:
    """Count the bytes of a row without help from its neighbours. [byte]

    Example:
        >>> _extent(_row(0, "0000 41 42  AB", _PLAIN)), _extent(_row(0, "0000 41 42  43 44", _PLAIN))
        (2, 4)
    """
    for i, group in enumerate(islice(re.finditer("([ -]*)[0-9A-Fa-f]+", row.run), 64)):
        behind = len(row.run) + len(row.rest) - group.end(1)
        if i and len(group[1]) >= 2 and behind <= i * row.width + 80 and agrees(*_split(row, i)):
            return i * row.width // 2
    return row.byte_count()


def _addresses(rows: list[_Row], addressing: str, base: int) -> list[int] | None:
    try:
        if addressing == "segmented":
            return [16 * int(row.digits[:4], 16) + int(row.digits[5:], 16) for row in rows]
        return [int(row.digits, base) for row in rows]
    except ValueError:
        return None


def _line_bytes(rows: list[_Row], addresses: list[int] | None) -> int:
    """Find the number of bytes on a full line: by the steps of the addresses, or else what most rows have. [byte]"""
    if addresses:
        pairs = zip(rows, rows[1:], addresses, addresses[1:], strict=False)
        steps = Counter(b - a for r, s, a, b in pairs if s.number == r.number + 1 and b > a)
        data = [row for row in rows if row.run]
        for step, times in steps.most_common(3):
            if 2 * times >= steps.total() and 2 * sum(_column_begins(row, step) for row in data) >= len(data):
                return step
    counts = Counter(_extent(row) for row in rows if row.run)
    return max(counts, key=lambda count: (counts[count], count))


def _shape(rows: list[_Row], line_bytes: int) -> tuple[int, tuple[str, ...], int | None, bool]:
    """Find the digits of a group, the gaps between groups and the text column on full lines."""
    width = _most_common(row.width for row in rows if row.run) or 2 * line_bytes
    groups = -(-2 * line_bytes // width)
    full: list[tuple[_Row, str]] = []   # with what follows the bytes
    for row in rows:
        if len(gaps_of(row.run)) >= groups:
            ends = [m.end() for m in re.finditer("[0-9A-Fa-f]+", row.run)]
            full.append((row, row.run[ends[groups - 1] :] + row.rest))
    if not full:
        return width, (" ",) * (groups - 1), None, False
    gaps = _most_common(gaps_of(row.run)[1:groups] for row, _ in full)
    shown = [(row, text) for row, text in full if text.strip()]
    if 2 * len(shown) < len(full) and not any(agrees(*_split(row, groups)) for row, _ in shown):
        return width, gaps, None, False   # a line or two with too much on them make no column
    if not shown:
        return width, gaps, None, False
    fenced = 2 * sum(_is_fenced(text.strip()) for _, text in shown) > len(shown)
    return width, gaps, _text_gap(shown, groups), fenced


def _text_gap(shown: list[tuple[_Row, str]], groups: int) -> int:
    """Find where text columns begin: where most of them agree with the bytes; the first such place."""
    counts = Counter(len(text) - len(text.lstrip()) for _, text in shown)
    sample = [(_split(row, groups)[0], text) for row, text in shown[:64]]
    places = sorted(gap for gap, _ in counts.most_common(8))
    return max(places, key=lambda gap: sum(agrees(data, text[gap:].ljust(len(data))) for data, text in sample))


def _is_fenced(text: str) -> bool:
    return len(text) > 2 and text[0] + text[-1] in ("||", "><", "[]", "**", "''", '""', "<>")


def _trial(rows: list[_Row], lines: int, addressing: str, base: int) -> Survey | None:
    """Try one interpretation on all rows."""
    data = [row for row in rows if row.run]
    if not data:
        return None
    style = _most_common(row.style for row in data)
    rows = [row for row in rows if row.style == style or (not row.run and row.style[:3] == style[:3])]
    addresses = None if addressing == "none" else _addresses(rows, addressing, base)
    if addresses is None and addressing != "none":
        return None
    line_bytes = _line_bytes(rows, addresses)
    if line_bytes == 0:
        return None
    data = [row for row in rows if row.run]
    width, gaps, text_gap, fenced = _shape(data, line_bytes)
    steps = continued = 0
    trusted = {len(row.digits) for row in data} if len(data) == 1 else set()
    if addresses:
        for row, after, a, b in zip(rows, rows[1:], addresses, addresses[1:], strict=False):
            if after.number == row.number + 1 and row.run:
                steps += 1
                count = min(row.byte_count(), line_bytes)
                if b == a + count and (count == row.byte_count() or _column_begins(row, count)):
                    continued += 1
                    trusted |= {len(row.digits), len(after.digits)}
    if not any(len(row.digits) > 1 and row.digits.startswith("0") for row in data):
        trusted = {len(row.digits) for row in data}   # addresses are not filled up with zeros: each may be right
    address_digits = min(trusted) if trusted else _most_common(len(row.digits) for row in data)
    lead, prefix, mark, _ = style
    layout = ListingLayout(
        addressing=addressing, base=base, address_digits=address_digits, lead=lead, prefix=prefix, mark=mark,
        group_digits=width, line_bytes=line_bytes, gaps=gaps, text_gap=text_gap, fenced=fenced, star_prompt=False,
    )  # fmt: skip
    digits: set[str] = set()
    for row in data:
        digits.update(row.run.upper())
    return Survey(
        layout=layout,
        lines=lines,
        fitting=len(data),
        full=sum(row.byte_count() >= line_bytes and _column_begins(row, line_bytes) for row in data),
        steps=steps,
        continued=continued,
        characters=sum(len(row.digits) + len(row.run) + len(row.rest) for row in data),
        digits=frozenset(digits & set("0123456789ABCDEF")),
    )


def _is_addressed(survey: Survey) -> bool:
    """Whether the first groups are addresses: they go up as the bytes do, or else look like addresses only."""
    layout = survey.layout
    if survey.steps and 2 * survey.continued >= survey.steps:
        return True
    if layout.base != 16:
        return False
    if layout.prefix or _STRONG_MARK.search(layout.mark) or layout.addressing == "segmented":
        return True
    if layout.address_digits < 4:
        return False
    if layout.address_digits != layout.group_digits:
        return True
    return survey.steps == 0 and layout.groups in (4, 8, 16, 32)


def _merit(survey: Survey) -> tuple[float, bool]:
    """Rank interpretations: by the lines they explain, then by round numbers of groups."""
    layout = survey.layout
    weight = 0.7 if layout.addressing == "none" else 1.0
    return survey.continued + weight * survey.fitting, layout.groups in (4, 8, 16, 32)


def _trials(lines: list[tuple[int, str]]) -> Iterator[Survey]:
    """Try all interpretations, the likelier ones first."""
    for addressing, head in (("plain", _PLAIN), ("segmented", _SEGMENTED), ("none", _UNADDRESSED)):
        rows = [row for number, line in lines if (row := _row(number, line, head))]
        wide = rows and all(len(row.digits) >= _WIDE_DIGITS for row in rows)
        for base in (16, 8, 10) if addressing == "plain" and wide else (16,):
            survey = _trial(rows, len(lines), addressing, base)
            if survey and (addressing == "none" or _is_addressed(survey)):
                yield survey


def learn(lines: Iterable[tuple[int, str]]) -> Survey | None:
    """Learn the layout from lines, given with their numbers; None where nothing looks like a listing.

    Example:
        >>> layout = learn(enumerate(["monitor ready", "0100: 41 42 43 44  ABCD", "0104: 45 46 00 FF  EF.."])).layout
        >>> layout.addressing, layout.address_digits, layout.mark, layout.line_bytes, layout.text_gap
        ('plain', 4, ':', 4, 2)
        >>> learn(enumerate(["3E 01 D3 00"])).layout.addressing, learn(enumerate(["a deaf cafe"]))
        ('none', None)
    """
    kept = [(number, line) for number, line in lines if line and not line.isspace()]
    best = max(_trials(kept), key=_merit, default=None)
    if best is None:
        return None
    layout = replace(best.layout, star_prompt=any(_STAR_COMMAND.match(line) for _, line in kept))
    return replace(best, layout=layout, evidence=_evidence(best))


def _evidence(survey: Survey) -> tuple[Evidence, ...]:
    """Say in words what speaks for the layout."""
    layout = survey.layout
    share = survey.fitting / max(survey.lines, 1)
    found = [Evidence(f"{survey.fitting} of {plural(survey.lines, 'line')} hold groups of hexadecimal digits", share)]
    if survey.steps:
        found.append(
            Evidence(
                f"{survey.continued} of {plural(survey.steps, 'address', 'addresses')} continue where the line before "
                f"ended", survey.continued / survey.steps - 0.5,
            )
        )  # fmt: skip
    found.append(
        Evidence(
            f"{survey.full} of {plural(survey.fitting, 'line')} have {plural(layout.line_bytes, 'byte')} each",
            0.5 * survey.full / survey.fitting,
        )
    )
    if layout.text_gap is not None:
        found.append(Evidence("a text column follows the bytes", 0.1))
    return tuple(sorted(found, key=lambda e: -abs(e.weight)))
