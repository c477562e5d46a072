"""What one input may cost: the bytes that it unpacks to, the text that is read of it, the steps of a search, and time.

A few hundred bytes can ask for gigabytes, and a disk of nonsense for hours. Whoever opens an input puts its budget in
force, and whoever decodes or searches counts against it. Large inputs may cost more: all limits grow with the size of
the file, and hold from `LEAST_BYTES` on, so that what is small is done soon.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from imagekeeper.errors import InputError
from imagekeeper.units import MIB

#: Gives seconds that only count up: best those that the processor was busy for us, since others may keep it busy too.
Clock = Callable[[], float]

#: Smaller files may cost as much as one of this size. [byte]
LEAST_BYTES = MIB

#: What may come out of wrappers, for each byte of a file; and the most for any. [byte]
UNPACKED, MOST_UNPACKED = 32, 256 * MIB

#: How much text may come out of wrappers, for each byte of a file: hexadecimal text packs to a third if its bytes are
#: any, and to a fifth if they are a program's. And the most of text, whether it was wrapped or not. [byte]
TEXT, MOST_TEXT = 6, 512 * MIB

#: How much of an image that came out of wrappers is written as text, and shown as text, for each byte of a file: shown,
#: each byte takes five of text, and more time than anything else that is done with it. [byte]
WRITTEN, SHOWN = 8, 3

#: Time for each `LEAST_BYTES`. [s]
SECONDS = 3.5

#: Steps of all searches for how the volumes of a disk are divided.
STEPS = 1_000_000


class Budget:
    """What an input may cost, and what it has cost.

    Args:
        size: Of the input as it is given. [byte]
        clock: Where time comes from, or None where none is counted.
        patience: How many times the usual time is allowed, for slow machines.

    Example:
        >>> one = Budget(500)
        >>> one.unpack(32 * MIB)
        >>> one.unpack(1)
        Traceback (most recent call last):
        imagekeeper.errors.InputError: the wrapper unpacks to too much: 500 bytes hold more than 33554432 bytes (32M)
    """

    def __init__(self, size: int = 0, *, clock: Clock | None = None, patience: float = 1.0) -> None:
        counted = max(size, LEAST_BYTES)
        self._size = size
        self._unpacked = self._steps = 0
        self._most_unpacked = max(min(UNPACKED * counted, MOST_UNPACKED), size)
        self._counted = counted
        self._clock, self._seconds = clock, SECONDS * patience * counted / LEAST_BYTES
        self._end = clock() + self._seconds if clock is not None else 0.0

    @property
    def unpacked_left(self) -> int:
        """How much may still come out of wrappers. [byte]"""
        return self._most_unpacked - self._unpacked

    def unpack(self, size: int) -> None:
        """Count what came out of a wrapper. [byte]

        Raises:
            InputError: `too-large`.
        """
        self._unpacked += size
        if self._unpacked > self._most_unpacked:
            raise InputError("too-large/unpacked", size=self._size, limit=self._most_unpacked)
        self.tick()

    def take_text(self, size: int) -> None:
        """Ask whether so much text may be read, if it came out of a wrapper. [byte]

        Raises:
            InputError: `too-large`.
        """
        self._refuse(size, TEXT, "too-large/unpacked-text")

    def write_text(self, size: int) -> None:
        """Ask whether so much of an image may be written as text, if it came out of a wrapper. [byte]

        Raises:
            InputError: `too-large`.
        """
        self._refuse(size, WRITTEN, "too-large/unpacked-to-write")

    def show_text(self, size: int) -> None:
        """Ask whether so much of an image may be shown as text, if it came out of a wrapper. [byte]

        Raises:
            InputError: `too-large`.
        """
        self._refuse(size, SHOWN, "too-large/unpacked-to-show")

    def _refuse(self, size: int, most: int, about: str) -> None:
        limit = most * self._counted
        if self._unpacked and size > limit:
            raise InputError(about, size=self._size, asked=size, limit=limit)

    @property
    def steps_left(self) -> int:
        """How many steps of searches are left, whose searcher has to say what was not tried."""
        return STEPS - self._steps

    def step(self, count: int) -> None:
        """Count steps of a search."""
        self._steps += count

    def tick(self) -> None:
        """Look at the clock: called a few times a second at least, wherever the work depends on what the input says.

        Raises:
            InputError: `too-much-work`.

        Example:
            >>> seconds = iter((10.0, 12.0, 14.0))
            >>> one = Budget(500, clock=lambda: next(seconds))
            >>> one.tick()
            >>> one.tick()   # doctest: +ELLIPSIS
            Traceback (most recent call last):
            imagekeeper.errors.InputError: the file takes too much time: after 3.5 seconds of work ...
        """
        if self._clock is not None and self._clock() > self._end:
            raise InputError("too-much-work/time", size=self._size, seconds=round(self._seconds, 1))


_in_force: ContextVar[Budget | None] = ContextVar("budget", default=None)


def current() -> Budget:
    """Give the budget in force; where none is, a fresh one of the smallest size that counts no time.

    Example:
        >>> with spending(Budget(64 * MIB)) as mine:
        ...     current() is mine
        True
    """
    return _in_force.get() or Budget()


@contextmanager
def ensured(size: int) -> Iterator[Budget]:
    """Keep the budget in force, or put one in force that counts no time, for an input of this size. [byte]"""
    known = _in_force.get()
    if known is not None:
        yield known
    else:
        with spending(Budget(size)) as fresh:
            yield fresh


@contextmanager
def spending(budget: Budget) -> Iterator[Budget]:
    """Put a budget in force for what is done within."""
    token = _in_force.set(budget)
    try:
        yield budget
    finally:
        _in_force.reset(token)
