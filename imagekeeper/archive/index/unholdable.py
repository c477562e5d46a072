"""What no index can hold, and how that is said."""

from __future__ import annotations

#: What is raised for a value that cannot be put into the index.
UNHOLDABLE = (ValueError, OverflowError, TypeError)


def says(problem: Exception) -> str:
    """Put into words why a record cannot be held."""
    if isinstance(problem, UnicodeError):
        return "it holds half of a character, which is no text"
    if isinstance(problem, OverflowError):
        return "it holds a whole number of more than 64 bits"
    return "it holds a digest or number that is none, or a value of another kind than belongs there"
