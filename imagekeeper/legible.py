r"""Texts of people and files made fit to be read: nothing unseen, nothing that changes how the rest is read.

One set of characters, `UNSEEN`, which no output lets through as they are: text for a terminal, JSON, messages, CSV,
HTML, SVG. Each output has one place of its own where it asks here, at its very end.

Source:
    ISO/IEC 6429 (ECMA-48), sections 5 and 8: the control characters of C0 and C1, which drive a terminal.
    Unicode Standard Annex #9, section 2: what turns the direction of writing.
    Unicode Standard, chapter 5, "Default Ignorable Code Points", and Unicode Technical Report #36, section 2: what is
    shown as nothing; Annex #31, section 2.3: joiners, which some scripts need, between their letters. The ranges are
    from memory.
"""

from __future__ import annotations

import re
import unicodedata

#: Joiners and selectors of a letter's form: some scripts need them, behind a letter of theirs.
_JOINERS = "\u180b-\u180d\u180f\u200c\u200d\U000e0100-\U000e01ef"

_ALWAYS = (
    "\x00-\x09\x0b-\x1f\x7f-\x9f"   # C0 but the line feed, delete, C1
    "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"   # direction
    "\u2028\u2029"   # separators of lines and paragraphs
    "\xad\u034f\u115f\u1160\u17b4\u17b5\u180e\u200b\u2060-\u2065\u206a-\u206f\u3164\ufeff\uffa0\ufff0-\ufffb"
    "\U0001bca0-\U0001bca3\U0001d173-\U0001d17a\U000e0000-\U000e00ff\U000e01f0-\U000e0fff"   # shown as nothing
    "\ud800-\udfff"   # halves of characters
)

#: A character that is not seen, or changes how others are seen; joiners too, wherever they stand.
UNSEEN = re.compile(f"[{_ALWAYS}{_JOINERS}]")

#: The same, but joiners only where no letter stands before them that they could belong to.
_MISLEADING = re.compile(
    f"[{_ALWAYS}]|(?<![\u0300-\u180a\u1810-\u200b\u200e-\U000e00ff\U000e01f0-\U0010ffff])[{_JOINERS}]"
)
_BEYOND_ASCII = re.compile(r"[^\n -~]")


def escape(character: str) -> str:
    r"""Write one character as an escape.

    Example:
        >>> escape("\x1b"), escape("\u202e"), escape("\U000e0041")
        ('\\x1b', '\\u202e', '\\U000e0041')
    """
    return character.encode("unicode_escape").decode("ascii")


def escaped(text: str) -> str:
    r"""Show as escapes what would be unseen, or would change how the rest is seen; all else stays, line feeds too.

    Example:
        >>> escaped("U4\u202egnp.exe\x07\x9b2J"), escaped("two\nlines")
        ('U4\\u202egnp.exe\\x07\\x9b2J', 'two\nlines')
        >>> escaped("u\u200d4"), escaped("\u0645\u06cc\u200c\u062e") == "\u0645\u06cc\u200c\u062e"
        ('u\\u200d4', True)
    """
    return _MISLEADING.sub(lambda found: escape(found[0]), text)


def visible(text: str) -> str:
    r"""Show texts for pages and pictures: as `escaped`, and also what no font knows; tabs become blanks.

    Example:
        >>> visible("U4\u202egnp.exe\x07"), visible("two\nlines"), visible("\ue000\udcff")
        ('U4\\u202egnp.exe\\x07', 'two\nlines', '\\ue000\ufffd')
    """
    if text.isascii() and text.isprintable():
        return text
    text = text.replace("\r\n", "\n").replace("\t", " ")
    text = re.sub("[\ud800-\udfff]", "\ufffd", text)
    return _BEYOND_ASCII.sub(lambda found: found[0] if _is_seen(found[0]) else escape(found[0]), escaped(text))


def _is_seen(character: str) -> bool:
    # a joiner that is left here stands where it may
    return character.isprintable() or unicodedata.category(character) == "Zs" or UNSEEN.match(character) is not None


def short(text: str, most: int = 72) -> str:
    r"""Put a text on one line, cut where it is long.

    Example:
        >>> short("TG85 2.1\nEVEN"), short("x" * 9, 5)
        ('TG85 2.1 EVEN', 'xxxx…')
    """
    line = " ".join(text.split())
    return line if len(line) <= most else line[: most - 1].rstrip() + "…"


def shortened(text: str, most: int) -> str:
    """Keep the beginning and the end of a text that is much too long, and say how much was left out.

    A text that would hardly become shorter stays whole.

    Args:
        text: The text.
        most: How much of it to keep. [characters]

    Example:
        >>> shortened("u4" + "x" * 60_000 + ".bin", 12)
        'u4xxxxxx … 59994 characters left out … .bin'
        >>> shortened("u4-first.bin", 8)
        'u4-first.bin'
    """
    left_out = len(text) - most
    if left_out <= 40:   # as long as what would be said instead
        return text
    end = most // 3
    return f"{text[: most - end]} … {left_out} characters left out … {text[len(text) - end :]}"
