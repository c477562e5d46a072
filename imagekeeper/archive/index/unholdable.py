"""What no index can hold, and how that is said."""

from __future__ import annotations

#: What is raised for a value that cannot be put into the index.
UNHOLDABLE = (ValueError, OverflowError, TypeError)

#: What a value that nobody foresaw makes a program raise while it reads a record.
UNFORESEEN = (ArithmeticError, AttributeError, LookupError, RecursionError, TypeError, ValueError)


def says(problem: Exception) -> str:
    """Put into words why a record cannot be held."""
    if isinstance(problem, UnicodeError):
        return "it holds half of a character, which is no text"
    if isinstance(problem, OverflowError):
        return "it holds a whole number of more than 64 bits"
    if not isinstance(problem, UNHOLDABLE):
        return f"it brings out a fault of this program ({type(problem).__name__}), which is worth reporting"
    return "it holds a digest or number that is none, or a value of another kind than belongs there"
