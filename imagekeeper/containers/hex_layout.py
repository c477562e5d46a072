"""The layout of a listing: what its lines have in common, and the patterns that follow from it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import groupby

from imagekeeper.ranked import Evidence


@dataclass(frozen=True, kw_only=True)
class ListingLayout:
    """How the lines of a listing are built.

    Attributes:
        addressing: `none`; `plain`; or `segmented`, which is segment:offset, the address being segment * 16 + offset.
        base: The base of the addresses: 16, or 8 or 10 as `od` may print them.
        address_digits: No address has fewer digits.
        lead: What stands before the address, blanks left out.
        prefix: `0x`, `$` or nothing.
        mark: What follows the address, blanks left out.
        group_digits: How many digits each group has, the last of a line perhaps fewer.
        line_bytes: How many bytes a full line has. [byte]
        gaps: What lies between the groups of a full line.
        text_gap: How many characters after a full line's last group the text column begins; None without one.
        fenced: Whether the text column stands between bars or the like.
        star_prompt: Whether an asterisk is the monitor's prompt, so that one alone says nothing about repeated lines.
    """

    addressing: str
    base: int
    address_digits: int
    lead: str
    prefix: str
    mark: str
    group_digits: int
    line_bytes: int
    gaps: tuple[str, ...]
    text_gap: int | None
    fenced: bool
    star_prompt: bool

    @property
    def groups(self) -> int:
        """How many groups a full line has."""
        return -(-self.line_bytes * 2 // self.group_digits)

    def head(self) -> str:
        """Give the pattern of what comes before the first group; its first group is the address.

        Example:
            >>> layout = ListingLayout(
            ...     addressing="plain", base=16, address_digits=4, lead=">", prefix="", mark=":", group_digits=2,
            ...     line_bytes=3, gaps=(" ", " "), text_gap=None, fenced=False, star_prompt=False,
            ... )
            >>> re.match(layout.head(), "> 0110: 44")[1]
            '0110'
        """
        before = rf" *+{re.escape(self.lead)} *+{re.escape(self.prefix)}"
        if self.addressing == "none":
            return before + "()"
        digits = "[0-9A-Fa-f]"
        if self.addressing == "segmented":
            address = f"({digits}{{4}}:{digits}{{4}})"
        else:
            address = f"({digits}{{{self.address_digits},16}})"
        after = rf" *+{re.escape(self.mark)}" if self.mark.strip() else "(?= |$)"
        return f"{before}{address}{after}" + (" *+" if self.mark else "")

    def lone_address(self) -> str:
        """Give the pattern of a line that holds an address only, with or without the mark behind it."""
        if self.addressing == "none":
            return "(?!)"
        digits = "[0-9A-Fa-f]"
        address = f"{digits}{{4}}:{digits}{{4}}" if self.addressing == "segmented" else (
            f"{digits}{{{self.address_digits},16}}"
        )
        lead, prefix, mark = map(re.escape, (self.lead, self.prefix, self.mark))
        return rf" *+{lead} *+{prefix}({address}) *+(?:{mark})? *+$"

    def full_line(self) -> str | None:
        """Give the pattern of a full line: address, groups, the rest; None where it would be unwieldy."""
        digits = "[0-9A-Fa-f]"
        runs = [(gap, len(list(same))) for gap, same in groupby(self.gaps)]
        if len(runs) > 40:
            return None
        group = f"{digits}{{{self.group_digits}}}"
        parts = "".join(f"(?:{group}{re.escape(gap)}){{{count}}}" for gap, count in runs)
        last = self.line_bytes * 2 - self.group_digits * (self.groups - 1)
        return rf"{self.head()} *+({parts}{digits}{{{last}}})(?!{digits})(.*)$"

    def address(self, text: str) -> int:
        """Read an address.

        Raises:
            ValueError: When it has a digit that the base does not have.
        """
        if self.addressing == "segmented":
            return 16 * int(text[:4], 16) + int(text[5:], 16)
        return int(text, self.base)


@dataclass(frozen=True, kw_only=True)
class Survey:
    """What the lines looked at say together.

    Attributes:
        layout: The layout that fits them best.
        lines: How many lines that are not blank were looked at.
        fitting: How many of them are lines of the listing.
        full: How many of these have as many bytes as the layout says.
        steps: How many pairs of neighbouring lines have addresses to compare.
        continued: How many of these pairs continue without a gap.
        characters: How many characters the fitting lines have.
        digits: The digits that occur in the bytes.
        evidence: All that in words.
    """

    layout: ListingLayout
    lines: int
    fitting: int
    full: int
    steps: int
    continued: int
    characters: int
    digits: frozenset[str]
    evidence: tuple[Evidence, ...] = ()
