"""Arguments of the door: of the type that their hint asks for, and numbers and days that a record keeps as text."""

from __future__ import annotations

import datetime
import decimal
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin

from imagekeeper.door.sources import among


def check_typed(keyword: str, value: Any, hint: Any) -> None:
    """Accept what a type hint asks for: words of a `Literal`, whole numbers, pairs of them, texts, flags.

    Raises:
        TypeError: It is of another type, or a word that is none of the list.

    Example:
        >>> check_typed("window", (0x3000, 8192), tuple[int, int] | None)
        >>> check_typed("window", "3000:8K", tuple[int, int] | None)
        Traceback (most recent call last):
        ...
        TypeError: window is a pair of whole numbers, not '3000:8K'
    """
    kinds = [one for one in get_args(hint) if one is not NoneType] if get_origin(hint) in (Union, UnionType) else [hint]
    for kind in kinds:
        if get_origin(kind) is Literal:
            among(keyword, value, kind)
        elif get_origin(kind) is tuple and not (
            isinstance(value, tuple | list) and len(value) == 2 and all(isinstance(one, int) for one in value)
        ):
            raise TypeError(f"{keyword} is a pair of whole numbers, not {value!r}")
        elif kind is int and not isinstance(value, int):
            raise TypeError(f"{keyword} is a whole number, not {value!r}")
        elif kind is bool and not isinstance(value, bool):
            raise TypeError(f"{keyword} is True or False, not {value!r}")
        elif kind is str and not isinstance(value, str):
            raise TypeError(f"{keyword} is text, not {value!r}")


def decimal_text(keyword: str, value: Any) -> str | None:
    """Give a number as the text that a record keeps, to the last digit; a text as it is.

    Raises:
        TypeError: It is neither.

    Example:
        >>> decimal_text("vcc", 5.0), decimal_text("vcc", 4.75), decimal_text("vcc", "5.00 V"), decimal_text("vcc", 5)
        ('5.0', '4.75', '5.00 V', '5')
    """
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, bool) or not isinstance(value, int | float | decimal.Decimal):
        raise TypeError(f"{keyword} is a number or a text, not {value!r}")
    shortest = float.__repr__(value) if isinstance(value, float) else str(value)   # a subclass may have its own
    return format(decimal.Decimal(shortest), "f")


def date_text(keyword: str, value: Any) -> str | None:
    """Give a day or time as the text that a record keeps; a text as it is.

    Raises:
        TypeError: It is neither, or a time without its zone, which would be another moment elsewhere.

    Example:
        >>> date_text("date", datetime.date(2026, 3, 2)), date_text("date", "2026-03")
        ('2026-03-02', '2026-03')
    """
    if value is None or isinstance(value, str):
        return value
    if not isinstance(value, datetime.date):
        raise TypeError(f"{keyword} is a day, a time or a text, not {value!r}")
    if isinstance(value, datetime.datetime) and value.utcoffset() is None:
        raise TypeError(f"{keyword} has no time zone: give one as tzinfo, or only the day")
    return value.isoformat()
