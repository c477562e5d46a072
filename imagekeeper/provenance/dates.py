"""Times and dates as records hold them: exact where known, coarse where not, never guessed."""

from __future__ import annotations

import re
from datetime import date, datetime

from imagekeeper.errors import UsageError

_TIME = re.compile(r"(\d{4}-\d\d-\d\d)T(\d\d:\d\d):(\d\d)(\.\d+)?(Z|[+-](?:[01]\d|2[0-3]):[0-5]\d)", re.ASCII)
_DAY = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_MONTH = re.compile(r"\d{4}-(?:0[1-9]|1[0-2])", re.ASCII)
_YEAR = re.compile(r"\d{4}", re.ASCII)


def is_time(text: str) -> bool:
    """Whether a text is a date and time with seconds and a zone.

    Source:
        RFC 3339, section 5.6; a leap second (":60") is allowed by its section 5.7.

    Example:
        >>> is_time("2026-11-24T22:00:00Z"), is_time("2026-11-24"), is_time("2026-11-24T22:00:00")
        (True, False, False)
    """
    match = _TIME.fullmatch(text)
    if not match:
        return False
    day, clock, seconds, _, _ = match.groups()
    if seconds == "60":
        seconds = "59"
    try:
        datetime.fromisoformat(f"{day}T{clock}:{seconds}")
    except ValueError:
        return False
    return True


def check_time(text: str) -> str:
    """Accept a date and time, with `T` and `Z` in upper case.

    Raises:
        UsageError: `usage`.

    Example:
        >>> check_time("2026-11-24t22:00:00z")
        '2026-11-24T22:00:00Z'
    """
    upper = text.upper()
    if not is_time(upper):
        raise UsageError("usage/time", text=text)
    return upper


def check_date(text: str) -> str:
    """Accept a time, a day, or only the month or year where no more is known.

    Raises:
        UsageError: `usage`.

    Source:
        RFC 3339, section 5.6; for months and years, Extended Date/Time Format (ISO 8601-2:2019), level 0.

    Example:
        >>> check_date("1985"), check_date("1985-03"), check_date("1985-03-31")
        ('1985', '1985-03', '1985-03-31')
    """
    if _YEAR.fullmatch(text) or _MONTH.fullmatch(text) or is_time(text.upper()):
        return text.upper()
    if _DAY.fullmatch(text):
        try:
            return date.fromisoformat(text).isoformat()
        except ValueError:
            pass   # the thirtieth of February
    raise UsageError("usage/date", text=text)
