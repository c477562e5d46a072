"""The reasons that people give, wherever one must be given."""

from __future__ import annotations

from imagekeeper.errors import UsageError
from imagekeeper.jsonable import printable


def check_reason(reason: str) -> str:
    """Accept a reason: it must have words.

    Raises:
        UsageError: `usage`.

    Example:
        >>> check_reason(" a four-bit PROM ")
        'a four-bit PROM'
    """
    words = printable(reason).strip()
    if not any(c.isalnum() for c in words):
        raise UsageError("usage/no-reason")
    return words
