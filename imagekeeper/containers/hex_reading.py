"""One line of a listing, read under the layout that the listing as a whole has."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from enum import Enum
from itertools import pairwise

from imagekeeper.containers.hex_column import agrees, column_fault
from imagekeeper.containers.hex_layout import ListingLayout
from imagekeeper.containers.hex_lines import GROUP, REPEAT, hex_bytes, same_width_run
from imagekeeper.containers.lines import Fault, excerpt
from imagekeeper.units import plural

_STUMP = re.compile(r" *[$>]?[0-9A-Fa-fx:]{1,8} *")
_DIGIT = re.compile(r"[0-9A-Fa-f]")
_GROUP_ENDS = re.compile(r"([ -]*)[0-9A-Fa-f]+")


class Role(Enum):
    """What a line is to the listing."""

    DATA = "data"
    ADDRESS = "address"   # alone: where the listing ends, or a command typed
    REPEAT = "repeat"   # stands for lines equal to the one before it
    DAMAGED = "damaged"   # was a line of the listing, and cannot be read
    SUSPECT = "suspect"   # an address or a part of one, but no bytes: perhaps a command, perhaps damaged
    EMPTY = "empty"   # blank, or a heading over the columns
    OTHER = "other"   # prompts, commands, banners


@dataclass(frozen=True, slots=True, kw_only=True)
class LineReading:
    """What one line says.

    Attributes:
        role: What it is.
        address: Its address, 0 where it has none.
        data: Its bytes.
        fault: What is wrong with it.
        lost: How many bytes after `data` the line should have had but cannot be read. [byte]
    """

    role: Role
    address: int = 0
    data: bytes = b""
    fault: Fault | None = None
    lost: int = 0


_EMPTY = LineReading(role=Role.EMPTY)
_OTHER = LineReading(role=Role.OTHER)
_REPEAT = LineReading(role=Role.REPEAT)


class LineReader:
    """Reads lines under one layout.

    Example:
        >>> from imagekeeper.containers.hex_survey import learn
        >>> survey = learn(enumerate(["0000 41 42 43 44", "0004 45 46 47 48"]))
        >>> reader = LineReader(survey.layout)
        >>> reader.read("0008 49 4A")
        LineReading(role=<Role.DATA: 'data'>, address=8, data=b'IJ', fault=None, lost=0)
        >>> reader.read("> next 8").role.value, reader.read("0008").role.value
        ('other', 'address')
        >>> reader.read("0008 49 4 4B 4C").fault.why
        "after 1 byte comes '4 4B 4C' where 2 hexadecimal digits are expected"
    """

    def __init__(self, layout: ListingLayout) -> None:
        self._layout = layout
        self._group_bytes = layout.group_digits // 2
        self._head = re.compile(layout.head())
        self._lone = re.compile(layout.lone_address())
        self._full = re.compile(pattern) if (pattern := layout.full_line()) else None
        self._dashes = any("-" in gap for gap in layout.gaps)
        self._addressed = layout.addressing != "none"
        self._hex_base = layout.addressing == "plain" and layout.base == 16
        self._anywhere = re.compile(
            rf"(?<![0-9A-Za-z])[0-9A-Fa-f]{{{min(layout.group_digits, 512)}}}(?=[ |-]|$)"
        )

    def read(self, line: str) -> LineReading:
        """Read one line."""
        layout = self._layout
        if self._full and (m := self._full.match(line)):
            text = m[3]
            if layout.text_gap is not None or not text or text.isspace():
                try:
                    address = int(m[1], 16) if self._hex_base else self._address(m[1])
                except ValueError:
                    return self._no_address(line)
                data = bytes.fromhex(m[2].replace("-", " ") if self._dashes else m[2])
                fault = None
                if layout.text_gap is not None and text:
                    fault = column_fault(data, text[layout.text_gap :], self._group_bytes, layout.fenced)
                return LineReading(role=Role.DATA, address=address, data=data, fault=fault)
        return self._read_slowly(line)

    def _address(self, digits: str) -> int:
        return self._layout.address(digits) if self._addressed else 0

    def _read_slowly(self, line: str) -> LineReading:
        layout = self._layout
        if not line or line.isspace():
            return _EMPTY
        if REPEAT.fullmatch(line):
            return _OTHER if layout.star_prompt and "*" in line else _REPEAT
        lone = self._lone.match(line)
        m = lone or self._head.match(line)
        if m is None:
            return self._no_address(line)
        try:
            address = self._address(m[1])
        except ValueError:
            return self._no_address(line)
        if lone:
            return LineReading(role=Role.ADDRESS, address=address)
        data, end, text = self._columns(line, m.end())
        if not data:
            return self._without_groups(line, address)
        return self._judged(line, address, data, end, text)

    def _columns(self, line: str, start: int) -> tuple[bytes, int, str | None]:
        """Take the groups of a line that is not a full one as expected.

        Returns:
            The bytes; where they end; and the text column, None where there is none.
        """
        layout = self._layout
        run = same_width_run(line, start, layout.group_digits)
        ends: list[int] = []
        for group in _GROUP_ENDS.finditer(run):
            i = len(ends)
            if i == layout.groups:
                break
            if i and len(group[1]) > max(len(layout.gaps[i - 1]), 1):
                break
            if i and len(group[1]) > 1 and self._is_text(line, start, start + ends[-1], i):
                break
            ends.append(group.end())
        if layout.text_gap is not None and ends and len(ends) < layout.groups:
            for i in range(len(ends), max(len(ends) - 4, 0), -1):   # a text may look like a group or two
                if self._is_text(line, start, start + ends[i - 1], i):
                    ends = ends[:i]
                    break
        end = start + ends[-1] if ends else start
        if len(ends) < layout.groups and (last := GROUP.match(line, end)):
            narrow = len(last[2]) < layout.group_digits and len(last[2]) % 2 == 0
            after = line[last.end() :]
            if narrow and len(last[1]) <= 1 + (not ends) * 80 and (not after.strip() or after[:2] == "  "):
                end = last.end()
        if end == start:
            return b"", start, None
        return hex_bytes(line[start:end]), end, self._text(line, start, end)

    def _text(self, line: str, start: int, end: int) -> str | None:
        """Give the text column behind the groups, whether or not a short line is padded up to it."""
        layout = self._layout
        if layout.text_gap is None or not line[end:].strip():
            return None
        first = GROUP.match(line, start)
        blanks = len(first[1]) if first else 0
        width = 2 * layout.line_bytes + sum(map(len, layout.gaps)) if layout.groups <= 512 else 0
        column = start + blanks + width + layout.text_gap
        if len(line) > column > end and line[end:column].strip() == "":
            return line[column:]
        return line[end + layout.text_gap :]

    def _is_text(self, line: str, start: int, end: int, groups: int) -> bool:
        """Whether what follows the first groups is exactly their text column."""
        if self._layout.text_gap is None or len(line) - end > groups * self._layout.group_digits + 1000:
            return False
        return agrees(hex_bytes(line[start:end]), line[end:].strip())

    def _judged(self, line: str, address: int, data: bytes, end: int, text: str | None) -> LineReading:
        """Say whether what follows the bytes of a line is what may follow them."""
        layout = self._layout
        rest = line[end:]
        missing = layout.line_bytes - len(data)
        if not rest.strip():
            return LineReading(role=Role.DATA, address=address, data=data)
        gap = len(rest) - len(rest.lstrip())
        found = excerpt(rest.strip().encode("ascii", "replace"), 12)
        if text is None and missing <= 0:
            why = f"it goes on with {found} after {plural(len(data), 'byte')}, as many as the other lines have"
            return LineReading(
                role=Role.DATA, address=address, data=data,
                fault=Fault("record-length", "a line of the listing is too long", why),
            )  # fmt: skip
        joined = missing > 0 and gap < 2 and rest.strip()[0] not in "|>" and not agrees(data, rest.strip())
        if text is None or joined:
            why = (
                f"after {plural(len(data), 'byte')} comes {found} where "
                f"{layout.group_digits} hexadecimal digits are expected"
            )
            fault = Fault("record-digits", "a line of the listing has a group that is none", why)
            return LineReading(role=Role.DATA, address=address, data=data, fault=fault, lost=max(missing, 0))
        return LineReading(
            role=Role.DATA, address=address, data=data,
            fault=column_fault(data, text, self._group_bytes, layout.fenced),
        )  # fmt: skip

    def _groups_seen(self, line: str) -> list[str]:
        return self._anywhere.findall(line)

    def _is_wreck(self, seen: list[str]) -> bool:
        """Whether a line has so many groups that it was a line of the listing once."""
        if self._layout.groups == 1:
            return len(seen) > 0 and self._layout.group_digits >= 16
        return len(seen) >= max(2, math.ceil(self._layout.groups / 2))

    def _resembles(self, line: str) -> bool:
        """Whether a line consists of digits where a full line does, but for a character or two."""
        layout = self._layout
        address = (0 if layout.addressing == "none" else layout.address_digits) + len(layout.mark + layout.lead)
        part = line.lstrip()[: address + 2 * layout.line_bytes + sum(map(len, layout.gaps)) + 1]
        digits = len(_DIGIT.findall(part))
        others = len(part) - digits - sum(map(part.count, " -:|"))
        return 2 * digits >= address + 2 * layout.line_bytes and others <= 1 + digits // 8

    def _without_groups(self, line: str, address: int) -> LineReading:
        if not self._is_wreck(self._groups_seen(line)) and (self._addressed or not self._resembles(line)):
            return LineReading(role=Role.SUSPECT, address=address) if self._addressed else _OTHER
        found = excerpt(line.strip().encode("ascii", "replace"))
        why = f"{found} has no {self._layout.group_digits} hexadecimal digits where the first are expected"
        fault = Fault("record-digits", "a line of the listing has a group that is none", why)
        return LineReading(role=Role.DAMAGED, address=address, data=b"", fault=fault)

    def _no_address(self, line: str) -> LineReading:
        """Tell a heading or a remark from a line of the listing that lost its address."""
        seen = self._groups_seen(line)
        if not self._addressed:
            return self._without_groups(line, 0)
        if not self._is_wreck(seen):
            suspect = _STUMP.fullmatch(line) or self._resembles(line)
            return LineReading(role=Role.SUSPECT, address=-1) if suspect else _OTHER
        values = [int(group, 16) for group in seen[: self._layout.groups]]
        steps = {b - a for a, b in pairwise(values)}
        if values[0] < 16 and len(steps) == 1 and steps <= {1, self._group_bytes}:
            return _EMPTY   # a heading that numbers the columns
        found = excerpt(line.strip().encode("ascii", "replace"))
        why = f"it reads {found} where an address is expected first"
        fault = Fault("record-form", "a line of the listing has no address", why)
        return LineReading(role=Role.DAMAGED, address=0, data=b"", fault=fault)
