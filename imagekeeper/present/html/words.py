"""Texts of people and files made fit for a page."""

from __future__ import annotations

import unicodedata

_KEPT = "\n\u200c\u200d"   # joiners, which some scripts need


def visible(text: str) -> str:
    r"""Show characters that would be unseen, or would change how others are seen.

    Example:
        >>> visible("U4\u202egnp.exe\x07"), visible("two\nlines")
        ('U4\\u202egnp.exe\\x07', 'two\nlines')
    """
    if text.isprintable():
        return text
    return "".join(
        c
        if c.isprintable() or c in _KEPT or unicodedata.category(c) == "Zs"
        else " " if c == "\t"
        else "\ufffd" if 0xD800 <= ord(c) <= 0xDFFF
        else c.encode("unicode_escape").decode("ascii")
        for c in text.replace("\r\n", "\n")
    )  # fmt: skip


def short(text: str, most: int = 72) -> str:
    r"""Put a text on one line, cut where it is long.

    Example:
        >>> short("TG85 2.1\nEVEN"), short("x" * 9, 5)
        ('TG85 2.1 EVEN', 'xxxx…')
    """
    line = " ".join(text.split())
    return line if len(line) <= most else line[: most - 1].rstrip() + "…"


def sentence(words: str) -> str:
    """Make a sentence of a remark that begins small and has no full stop.

    Example:
        >>> sentence("read it again")
        'Read it again.'
    """
    return words[:1].upper() + words[1:] + ("" if words.endswith((".", "!", "?")) else ".")


def day(time: str) -> str:
    """Give a time as people read it, to the minute.

    Example:
        >>> day("2026-03-02T12:00:00Z"), day("1985-03")
        ('2026-03-02 12:00 UTC', '1985-03')
    """
    if len(time) == 20 and time.endswith("Z") and time[10] == "T":
        return f"{time[:10]} {time[11:16]} UTC"
    return time


def limited(text: str, most: int = 2000) -> str:
    """Cut a text that is longer than anybody writes on a chip, and say so.

    Example:
        >>> limited("TG85"), limited("xxxxxxxx", 4)
        ('TG85', 'xxxx… (cut: 8 characters in all)')
    """
    return text if len(text) <= most else f"{text[:most]}… (cut: {len(text)} characters in all)"
