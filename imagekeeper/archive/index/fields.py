"""What is searched, how much it counts, and what a date may mean."""

from __future__ import annotations

import functools
import re
from datetime import UTC, datetime

#: What is searched, and how much a match there counts: what names a thing comes before what is said of it.
FIELDS: dict[str, float] = {
    "id": 1.0, "position": 0.95, "part": 0.95, "name": 0.95, "serial": 0.95, "machine": 0.9, "model": 0.9,
    "board": 0.85, "label": 0.8,
    "maker": 0.7, "markings": 0.7, "date code": 0.7, "file": 0.65, "owner": 0.6, "kind": 0.6, "specimen": 0.5,
    "reader": 0.5, "operator": 0.5, "package": 0.45, "condition": 0.45, "picture": 0.45, "caption": 0.45,
    "derived image": 0.4, "note": 0.4, "remark": 0.4, "read note": 0.4, "written by": 0.3,
}  # fmt: skip

#: From here on a field names the thing.
NAMING = 0.8

_DATE = re.compile(r"(\d{4})(?:-(\d\d)(?:-(\d\d))?)?", re.ASCII)


@functools.lru_cache(4096)
def time_span(date: str) -> tuple[str | None, str | None]:
    """Give the first and the last second, in UTC, that a date may mean; None for both where it is no date.

    Example:
        >>> time_span("1985-03"), time_span("2026-03-02T01:30:00+02:00")[0]
        (('1985-03-01T00:00:00', '1985-03-31T23:59:59'), '2026-03-01T23:30:00')
    """
    if "T" in date:
        try:
            moment = datetime.fromisoformat(date.replace("Z", "+00:00")).astimezone(UTC)
        except (ValueError, OverflowError):
            return None, None
        second = moment.strftime("%Y-%m-%dT%H:%M:%S")
        return second, second
    match = _DATE.fullmatch(date)
    if match is None:
        return None, None
    year, month, day = match.groups()
    last = day or str(_days(int(year), int(month or 12)))
    return f"{year}-{month or '01'}-{day or '01'}T00:00:00", f"{year}-{month or '12'}-{last}T23:59:59"


def _days(year: int, month: int) -> int:
    import calendar  # slow to load, and most dates are whole

    return calendar.monthrange(max(year, 1), month)[1] if 1 <= month <= 12 else 31
