"""Texts of people and files made fit to be read: nothing unseen, nothing that changes how the rest is read."""

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
