"""Texts of people and files made fit for a page."""

from __future__ import annotations


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
