"""How lower layers report progress without knowing a terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager

#: Called with the bytes done since the last call.
Advance = Callable[[int], None]

#: Called with a label and the total of bytes (0: unknown); gives a context in which `Advance` may be called.
Progress = Callable[[str, int], AbstractContextManager[Advance]]


@contextmanager
def silent(label: str, total: int) -> Iterator[Advance]:
    """Report to nobody.

    Example:
        >>> with silent("Comparing", 1024) as advance:
        ...     advance(512)
    """
    yield lambda done: None
