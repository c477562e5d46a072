"""Digests over a stream, several at once on threads, in one pass and bounded memory.

`hashlib` and `zlib` release the interpreter lock while they work, so that each processor can run one algorithm.
The streams share a window of recent blocks; a worker always takes the idle stream that lags most, which keeps
all processors busy whatever the algorithms cost.
"""

from __future__ import annotations

import hashlib
import itertools
import threading
import zlib
from collections.abc import Iterable, Iterator
from typing import Generic, Protocol, TypeVar

T = TypeVar("T")
T_contra = TypeVar("T_contra", contravariant=True)

#: How many blocks may lie between the fastest and the slowest stream.
WINDOW = 16


#: The job of fetching the next block, beside the streams' numbers.
READING = -1


class Stream(Protocol[T_contra]):
    """Something that takes the pieces of a stream in order: a digest of `hashlib` is one."""

    def update(self, block: T_contra, /) -> None:
        """Take the next piece."""


class Crc32:
    """CRC-32/ISO-HDLC, by the library function.

    Example:
        >>> crc = Crc32(); crc.update(b"123456789"); crc.hexdigest()
        'CBF43926'
    """

    def __init__(self) -> None:
        self._value = 0

    def update(self, block: bytes, /) -> None:
        """Take the next bytes."""
        self._value = zlib.crc32(block, self._value)

    def hexdigest(self) -> str:
        """Give the eight upper-case digits."""
        return f"{self._value:08X}"


def new(name: str) -> hashlib._Hash:
    """Start a digest by name, also on systems whose policy forbids the old ones for security use."""
    return hashlib.new(name, usedforsecurity=False)


def sha256_hex(data: bytes) -> str:
    """Give the SHA-256 of some bytes in lower-case hexadecimal.

    Source:
        FIPS 180-4.

    Example:
        >>> sha256_hex(b"abc")[:16]
        'ba7816bf8f01cfea'
    """
    return hashlib.sha256(data).hexdigest()


def feed(blocks: Iterable[T], streams: Iterable[Stream[T]]) -> None:
    """Give every block to every stream, in order, on two threads when there is more than one block.

    Args:
        blocks: The pieces of the stream; reading them is one more job for the threads.
        streams: What takes them; each is only ever called from one thread at a time.

    Raises:
        Exception: Whatever reading a block or updating a stream raises, after all threads have stopped.

    Example:
        >>> a, b = Crc32(), new("sha1")
        >>> feed([b"1234", b"56789"], [a, b]); a.hexdigest()
        'CBF43926'
    """
    pending = iter(blocks)
    takers = list(streams)
    ready = list(itertools.islice(pending, 2))
    if len(ready) == 2 and takers:
        _keep_freed_memory()
        _Relay(ready, pending, takers).run()
        return
    for block in itertools.chain(ready, pending):
        for stream in takers:
            stream.update(block)


def _keep_freed_memory() -> None:
    """Make the C library reuse freed blocks instead of giving each back to the system: a tenth of the time.

    The GNU C library keeps what is smaller than the largest block that was ever mapped and freed, up to 32 MiB. The
    block is never touched, so it takes no memory. Elsewhere this does nothing. Source: mallopt(3), M_MMAP_THRESHOLD.
    """
    bytearray(31 << 20)


class _Relay(Generic[T]):
    """The shared window of blocks and who has had which."""

    def __init__(self, ready: list[T], pending: Iterator[T], streams: list[Stream[T]]) -> None:
        self._blocks: dict[int, T] = dict(enumerate(ready))
        self._read = len(ready)
        self._pending = pending
        self._ended = False
        self._reading = False
        self._streams = streams
        self._next = [0] * len(streams)
        self._busy = [False] * len(streams)
        self._failure: BaseException | None = None
        self._turn = threading.Condition()

    def run(self) -> None:
        helper = threading.Thread(target=self._work, daemon=True)
        helper.start()
        try:
            self._work()
        except BaseException as problem:   # an interrupt must stop the helper too, then goes on upwards
            self._stop(problem)
            raise
        finally:
            helper.join()
        if self._failure is not None:
            raise self._failure

    def _work(self) -> None:
        while (job := self._take()) is not None:
            try:
                if job == READING:
                    self._read_one()
                else:
                    self._streams[job].update(self._blocks[self._next[job]])
                    self._passed(job)
            except Exception as problem:
                self._stop(problem)

    def _take(self) -> int | None:
        """Wait for a job; None when all is done or has failed."""
        with self._turn:
            while self._failure is None and not self._finished():
                if (job := self._choose()) is not None:
                    return job
                self._turn.wait()
            return None

    def _finished(self) -> bool:
        return self._ended and all(done == self._read for done in self._next)

    def _choose(self) -> int | None:
        """Read ahead when a stream is about to starve, else serve the idle stream that lags most."""
        may_read = not self._ended and not self._reading and self._read - min(self._next) < WINDOW
        if may_read and self._read - max(self._next) < 2:
            self._reading = True
            return READING
        idle = [i for i, busy in enumerate(self._busy) if not busy and self._next[i] < self._read]
        if idle:
            job = min(idle, key=self._next.__getitem__)
            self._busy[job] = True
            return job
        if may_read:
            self._reading = True
            return READING
        return None

    def _read_one(self) -> None:
        try:
            block = next(self._pending)
        except StopIteration:
            with self._turn:
                self._reading, self._ended = False, True
                self._turn.notify_all()
            return
        with self._turn:
            self._blocks[self._read] = block
            self._read += 1
            self._reading = False
            self._turn.notify_all()

    def _passed(self, job: int) -> None:
        with self._turn:
            done = self._next[job]
            self._next[job] += 1
            self._busy[job] = False
            if min(self._next) > done:
                del self._blocks[done]
            self._turn.notify_all()

    def _stop(self, problem: BaseException) -> None:
        with self._turn:
            self._failure = self._failure or problem
            self._turn.notify_all()
