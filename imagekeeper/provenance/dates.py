"""Times and dates as records hold them: exact where known, coarse where not, never guessed."""

from __future__ import annotations

import functools
import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

from imagekeeper.errors import UsageError

_TIME = re.compile(r"(\d{4}-\d\d-\d\d)T(\d\d:\d\d):(\d\d)(\.\d+)?(Z|[+-](?:[01]\d|2[0-3]):[0-5]\d)", re.ASCII)
_DAY = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_MONTH = re.compile(r"\d{4}-(?:0[1-9]|1[0-2])", re.ASCII)
_YEAR = re.compile(r"\d{4}", re.ASCII)
_DATE = re.compile(r"(\d{4})(?:-(\d\d)(?:-(\d\d))?)?", re.ASCII)
_FOUR = re.compile(r"(?<![0-9])[0-9]{4}(?![0-9])")

#: No semiconductor memory is older, nor a magnetic disk: common practice, no source. [year]
_OLDEST = 1950


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


@functools.lru_cache(4096)
def time_span(text: str) -> tuple[str | None, str | None]:
    """Give the first and the last second, in UTC, that a date may mean; None for both where it is no date.

    Example:
        >>> time_span("1985-03"), time_span("2026-03-02T01:30:00+02:00")[0]
        (('1985-03-01T00:00:00', '1985-03-31T23:59:59'), '2026-03-01T23:30:00')
    """
    if "T" in text:
        try:
            moment = datetime.fromisoformat(text.replace("Z", "+00:00")).astimezone(UTC)
        except (ValueError, OverflowError):
            return None, None
        second = moment.strftime("%Y-%m-%dT%H:%M:%S")
        return second, second
    match = _DATE.fullmatch(text)
    if match is None:
        return None, None
    year, month, day = match.groups()
    last = day or str(_days(int(year), int(month or 12)))
    return f"{year}-{month or '01'}-{day or '01'}T00:00:00", f"{year}-{month or '12'}-{last}T23:59:59"


def _days(year: int, month: int) -> int:
    import calendar  # slow to load, and most dates are whole

    return calendar.monthrange(max(year, 1), month)[1] if 1 <= month <= 12 else 31


def date_code_start(text: str) -> str | None:
    """Give the first second, in UTC, that the date code of a chip may mean; None where none can be recognised.

    Four digits together may be a year and a week, a week and a year, or a year: the earliest of what they may mean
    counts, so that nothing is called impossible which is only unclear. Makers count weeks differently, so one week
    before the week counts still.

    Args:
        text: What stands on the chip.

    Source:
        Year and week: EIA-476, Source and Date Code Marking (from memory). The other ways: common practice, no source.

    Example:
        >>> date_code_start("8512"), date_code_start("KOREA 1285"), date_code_start("1985"), date_code_start("5A")
        ('1985-03-12T00:00:00', '1985-03-12T00:00:00', '1985-01-01T00:00:00', None)
    """
    found = [start for code in _FOUR.findall(text) for start in _code_starts(int(code[:2]), int(code[2:]))]
    return min(found, default=None)


def _code_starts(first: int, second: int) -> Iterator[str]:
    if _OLDEST <= first * 100 + second < _OLDEST + 100:
        yield f"{first}{second:02}-01-01T00:00:00"
    for year, week in ((first, second), (second, first)):
        if 1 <= week <= 53:
            century = 1900 if year >= _OLDEST % 100 else 2000
            day = datetime(century + year, 1, 1, tzinfo=UTC) + timedelta(weeks=week - 2)
            yield day.strftime("%Y-%m-%dT%H:%M:%S")
