"""Names, attributes and times of a directory entry: from bytes to what people read.

Source: ECMA-107 and ISO/IEC 9293, the clause on directories. Long names, lower-case flags and the further times came
later; they and the code E5 for a deleted entry are from memory.
"""

from __future__ import annotations

import datetime
from functools import cache

from imagekeeper.errors import UsageError
from imagekeeper.legible import UNSEEN

READ_ONLY, HIDDEN, SYSTEM, LABEL, DIRECTORY, ARCHIVE = 1, 2, 4, 8, 16, 32

#: The attributes that together mark a part of a long name.
LONG_NAME = READ_ONLY | HIDDEN | SYSTEM | LABEL

_ATTRIBUTES = ((READ_ONLY, "read-only"), (HIDDEN, "hidden"), (SYSTEM, "system"), (ARCHIVE, "archive"))

#: Bytes that no name has, besides control characters. Source: ECMA-107 names the characters allowed; this is the list
#: of those that systems refuse, from memory.
FORBIDDEN = frozenset(b'"*+,./:;<=>?[\\]|')


@cache
def attribute_words(attributes: int) -> tuple[str, ...]:
    """Name the attributes.

    Example:
        >>> attribute_words(0x27)
        ('read-only', 'hidden', 'system', 'archive')
    """
    return tuple(word for bit, word in _ATTRIBUTES if attributes & bit)


def check_code_page(name: str) -> str:
    """Refuse a code that is none, or that does not hold ASCII as it is.

    Raises:
        UsageError: `unknown-name`.

    Example:
        >>> check_code_page("cp850")
        'cp850'
    """
    try:
        plain, escapes = "".join(map(chr, range(32, 127))), r"\n\x41\u0041"
        fits = escapes.encode().decode(name) == escapes and plain.encode().decode(name) == plain
        if fits:
            bytes(range(256)).decode(name, "backslashreplace")   # not every code can show what it does not know
    except (LookupError, UnicodeError, ValueError):
        fits = False
    if not fits:
        raise UsageError("unknown-name/code-page", name=name)
    return name


def text_of(raw: bytes, code_page: str) -> str:
    r"""Make bytes of a name readable on one line; what is no character, or would part a path, becomes \xNN.

    Example:
        >>> text_of(b"\x8eNDERUNG", "cp437"), text_of(b"A/B\x01", "cp437"), text_of(b"\x81", "cp1252")
        ('ÄNDERUNG', 'A\\x2fB\\x01', '\\x81')
    """
    if raw.isalnum():   # ASCII letters and digits, as nearly all names
        return raw.decode("ascii")
    text = raw.decode(code_page, "backslashreplace") if b"\\" not in raw else _apart(raw, code_page)
    if text.isascii() and text.isprintable() and "/" not in text:
        return text
    return "".join(
        c if _is_plain(c) and c != "/" else "".join(f"\\x{b:02x}" for b in c.encode(code_page, "replace")) for c in text
    )


def _is_plain(character: str) -> bool:
    return character.isprintable() and not UNSEEN.match(character)


def _apart(raw: bytes, code_page: str) -> str:
    """Decode a name with backslashes in it, some of which may be second halves of characters."""
    text = raw.decode(code_page, "replace")
    if "\\" not in text and "\ufffd" not in text:
        return text
    return "".join(f"\\x{b:02x}" if b == 0x5C or b >= 0x80 else chr(b) for b in raw)


def short_name(raw: bytes, code_page: str, *, deleted: bool = False) -> str:
    r"""Write a name of eleven bytes with its dot.

    Args:
        raw: The eleven bytes as they stand.
        code_page: Their code.
        deleted: Whether the first byte is only the mark of deletion.

    Example:
        >>> short_name(b"TIDE    LOG", "cp437"), short_name(b"\xe5IDE    LOG", "cp437", deleted=True)
        ('TIDE.LOG', '?IDE.LOG')
    """
    if deleted:
        raw = b"?" + raw[1:]
    elif raw[0] == 0x05:   # stands for E5, which would mean deleted
        raw = b"\xe5" + raw[1:]
    base, ending = raw[:8].rstrip(b" "), raw[8:].rstrip(b" ")
    text = text_of(base, code_page)
    return f"{text}.{text_of(ending, code_page)}" if ending else text


def checksum(raw: bytes) -> int:
    """Sum a name's eleven bytes as the parts of its long name hold it. From memory.

    Example:
        >>> checksum(b"TIDE    LOG")
        7
    """
    total = 0
    for byte in raw:
        total = ((total >> 1) + (total << 7) + byte) & 0xFF
    return total


def long_part(entry: bytes) -> bytes:
    """Give the thirteen 16-bit characters that one entry adds to a long name."""
    return entry[1:11] + entry[14:26] + entry[28:32]


def long_text(parts: bytes) -> str:
    """Write a long name from its parts in order."""
    text = parts.decode("utf-16-le", "replace")
    end = text.find("\0")
    text = text if end < 0 else text[:end]
    return "".join(c if _is_plain(c) and c not in "/\\" else f"\\x{ord(c):02x}" for c in text)


@cache
def day(value: int) -> str | None:
    """Write a date, or None where there is none or none that can be.

    Source:
        ECMA-107 and ISO/IEC 9293: years from 1980 in 7 bits, month in 4, day in 5.

    Example:
        >>> day(0x16A5), day(0), day(0xFFFF)
        ('1991-05-05', None, None)
    """
    try:
        return datetime.date(1980 + (value >> 9), value >> 5 & 15, value & 31).isoformat()
    except ValueError:
        return None


def moment(date: int, time: int, hundredths: int = 0) -> str | None:
    """Write a date and time without a zone, which is not kept; seconds go by twos.

    Args:
        date: As the entry holds it.
        time: Hours in 5 bits, minutes in 6, pairs of seconds in 5.
        hundredths: What times of creation add, from 0 to 199. [10 ms]

    Example:
        >>> moment(0x16A5, 0x7194), moment(0x16A5, 0xFFFF)
        ('1991-05-05T14:12:40', None)
    """
    on = day(date)
    hour, minute, second = time >> 11, time >> 5 & 63, (time & 31) * 2 + min(hundredths, 199) // 100
    if on is None or hour > 23 or minute > 59 or second > 59:
        return None
    return f"{on}T{hour:02}:{minute:02}:{second:02}"
