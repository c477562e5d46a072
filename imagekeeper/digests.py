"""Digests over a stream, several at once on threads, in one pass and bounded memory.

`hashlib` and `zlib` release the interpreter lock while they work, so that each processor can run one algorithm.
The streams share a window of recent blocks; a worker always takes the idle stream that lags most, which keeps
all processors busy whatever the algorithms cost.
"""

from __future__ import annotations

import hashlib
import threading
import zlib
from collections.abc import Callable, Iterable
from typing import Protocol

#: Blocks of this size are long enough for the lock hand-over not to matter and short enough for the cache.
BLOCK_BYTES = 1 << 20

#: How many blocks may lie between the fastest and the slowest stream.
WINDOW = 16


class Stream(Protocol):
    """Something that takes a stream of bytes in order."""

    def update(self, block: bytes, /) -> None:
        """Take the next bytes."""


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


def feed(blocks: Iterable[bytes], streams: Iterable[Stream], advance: Callable[[int], None] | None = None) -> None:
    """Give every block to every stream, in order, using two threads when there is enough work.

    Args:
        blocks: The bytes, in pieces.
        streams: What takes them; each is only ever called from one thread at a time.
        advance: Told the bytes read since the last call.

    Raises:
        Exception: Whatever reading a block or updating a stream raises, after all threads have stopped.

    Example:
        >>> a, b = Crc32(), new("sha1")
        >>> feed([b"1234", b"56789"], [a, b]); a.hexdigest()
        'CBF43926'
    """
    pending = iter(blocks)
    first = next(pending, None)
    if first is None:
        return
    second = next(pending, None)
    ready = [first] if second is None else [first, second]
    if len(ready) == 1:
        for stream in streams:
            stream.update(first)
        if advance:
            advance(len(first))
        return
    _Relay(ready, pending, list(streams), advance).run()


class _Relay:
    """The shared window of blocks and who has had which."""

    def __init__(
        self,
        ready: list[bytes],
        pending: Iterable[bytes],
        streams: list[Stream],
        advance: Callable[[int], None] | None,
    ) -> None:
        self._blocks: dict[int, bytes] = dict(enumerate(ready))
        self._read = len(ready)
        self._pending = iter(pending)
        self._ended = False
        self._reading = False
        self._streams = streams
        self._next = [0] * len(streams)
        self._busy = [False] * len(streams)
        self._advance = advance
        self._failure: BaseException | None = None
        self._turn = threading.Condition()
        if advance:
            advance(sum(map(len, ready)))

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

    def _stop(self, problem: BaseException) -> None:
        with self._turn:
            self._failure = self._failure or problem
            self._turn.notify_all()

    def _work(self) -> None:
        while True:
            with self._turn:
                job = self._choose()
                while job is None:
                    if self._failure is not None or self._finished():
                        return
                    self._turn.wait()
                    job = self._choose()
            try:
                if job < 0:
                    self._read_one()
                else:
                    self._streams[job].update(self._blocks[self._next[job]])
                    self._passed(job)
            except Exception as problem:
                self._stop(problem)
                return

    def _finished(self) -> bool:
        return self._ended and all(n == self._read for n in self._next)

    def _choose(self) -> int | None:
        """Pick a job: reading when the window runs low, else the idle stream that lags most."""
        if self._failure is not None:
            return None
        waiting = self._read - max(self._next)
        room = self._read - min(self._next) < WINDOW
        if not self._ended and not self._reading and room and waiting < 2:
            self._reading = True
            return -1
        idle = [i for i, busy in enumerate(self._busy) if not busy and self._next[i] < self._read]
        if idle:
            job = min(idle, key=self._next.__getitem__)
            self._busy[job] = True
            return job
        if not self._ended and not self._reading and room:
            self._reading = True
            return -1
        return None

    def _read_one(self) -> None:
        block = next(self._pending, None)
        with self._turn:
            self._reading = False
            if block is None:
                self._ended = True
            else:
                self._blocks[self._read] = block
                self._read += 1
            self._turn.notify_all()
        if block is not None and self._advance:
            self._advance(len(block))

    def _passed(self, job: int) -> None:
        with self._turn:
            done = self._next[job]
            self._next[job] += 1
            self._busy[job] = False
            if all(n > done for n in self._next):
                self._blocks.pop(done, None)
            self._turn.notify_all()
