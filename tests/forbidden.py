"""What no output may hold as it is, listed here from the standards and not from our own code."""

from __future__ import annotations

#: C0 but the line feed, DEL, C1. Source: ISO/IEC 6429 (ECMA-48), sections 5.2 and 5.3.
CONTROLS = [chr(code) for code in (*range(0x20), *range(0x7F, 0xA0)) if code != 0x0A]

#: Unicode Standard Annex #9, section 2: the explicit directional formatting characters, all of them.
DIRECTIONS = [*"\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"]

#: Unicode Standard, section 5.8: the separators of lines and paragraphs.
SEPARATORS = [*"\u2028\u2029"]

#: Unicode Standard, section 5.21 (default ignorable code points), some of them: a byte order mark, blanks and joiners
#: without a width, a soft hyphen, letters of Hangul that are shown as nothing, a tag, an annotation.
UNSEEN = [*"\ufeff\u200b\u2060\u00ad\u3164\u115f\ufff9\U000e0041\u180e"]

#: The Unicode Standard, section 3.9, D73: a half of a character alone is no text.
HALVES = ["\ud800", "\udcff"]

ALL = [*CONTROLS, *DIRECTIONS, *SEPARATORS, *UNSEEN, *HALVES]

#: All of them in one text, sequences that a terminal obeys, a joiner where none belongs, private characters, and the
#: beginnings of formulas.
HOSTILE = "".join([
    "U4", *ALL, "\x1b[2J\x1b[31m\x1b]0;mine\x07\x9b2J", "x\u200dy", "\ue002RED\ue000", "\r\n=1+1\n"
])  # fmt: skip

#: As much of it as a file's name can hold. [255 bytes at most]
NAME = "U4" + "".join(one for one in ALL if one not in ("\0", *HALVES)) + "\x1b[2J"


def found(text: str) -> list[str]:
    """Tell which of them a text holds."""
    there = set(text)
    return [ascii(one) for one in ALL if one in there] + ["a joiner"] * ("x\u200dy" in text)
