"""Reading files once, for all digests that are wanted of them, on all processors and in bounded memory.

`hashlib` releases the interpreter's lock while it works on a block, so threads are enough. Small files are digested
where they are read; to hand them over would cost more than the digest.
"""

from __future__ import annotations

import hashlib
import os
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from imagekeeper.archive.ocfl.reading import BLOCK_BYTES, file_blocks, size_if_any
from imagekeeper.digests import feed
from imagekeeper.progress import Advance

#: A record of this size or less is kept in memory when it is digested, so that it need not be read again. [byte]
KEPT_BYTES = 4 << 20

#: A file of this size or more has one thread an algorithm when there is more than one. [byte]
SHARED_BYTES = 32 * BLOCK_BYTES


class StoppedError(Exception):
    """The work was given up; nothing was found out."""


@dataclass(frozen=True)
class FileToDigest:
    """A file to be digested.

    Attributes:
        path: Where it lies.
        algorithms: The digests, by the names that `hashlib` knows.
        keep: Whether its bytes are wanted too.
    """

    path: Path
    algorithms: tuple[str, ...]
    keep: bool = False


@dataclass(frozen=True)
class Digested:
    """What was found.

    Attributes:
        size: How much was read. [byte]
        digests: By algorithm, in lower-case hexadecimal.
        data: The bytes where they were wanted and are not too many, else None.
    """

    size: int
    digests: dict[str, str]
    data: bytes | None


class Hashing:
    """The threads that digest, and the count of what they have read; a context that ends them.

    Args:
        advance: Told the bytes read, from one thread at a time.
        jobs: How many files at a time.
    """

    def __init__(self, advance: Advance, jobs: int) -> None:
        self.jobs = jobs
        self._advance = advance
        self._lock = threading.Lock()
        self._stopped = False
        self._pool = ThreadPoolExecutor(jobs, "digest") if jobs > 1 else None

    def __enter__(self) -> Hashing:
        return self

    def __exit__(self, *problem: object) -> None:
        self._stopped = True
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)

    def stop(self) -> None:
        """Let every reading end with `StoppedError`."""
        self._stopped = True

    def counted(self, path: Path) -> Iterator[bytes]:
        """Read a regular file in pieces, and count them.

        Raises:
            OSError: It cannot be read.
            StoppedError: The work was given up.
        """
        for block in file_blocks(path):
            if self._stopped:
                raise StoppedError
            with self._lock:
                self._advance(len(block))
            yield block

    def digest_all(self, wanted: Sequence[FileToDigest]) -> Iterator[Digested | OSError]:
        """Digest files; large ones on other threads.

        Returns:
            What was found, or why that was impossible, in the order of the files.
        """
        found: list[Callable[[], Digested | OSError]] = []
        for one in wanted:
            if self._pool is not None and size_if_any(one.path) >= BLOCK_BYTES:
                future: Future[Digested | OSError] = self._pool.submit(self._digest, one)
                found.append(future.result)
            else:
                result = self._digest(one)
                found.append(lambda result=result: result)   # type: ignore[misc]
        for give in found:
            yield give()

    def _digest(self, wanted: FileToDigest) -> Digested | OSError:
        digests = {name: hashlib.new(name) for name in wanted.algorithms}
        kept: list[bytes] | None = [] if wanted.keep else None
        size = 0

        def blocks() -> Iterator[bytes]:
            nonlocal size, kept
            for block in self.counted(wanted.path):
                size += len(block)
                if kept is not None:
                    kept = [*kept, block] if size <= KEPT_BYTES else None
                yield block

        try:
            if self._pool is not None and len(digests) > 1 and size_if_any(wanted.path) >= SHARED_BYTES:
                feed(blocks(), digests.values())
            else:
                for block in blocks():
                    for digest in digests.values():
                        digest.update(block)
        except OSError as problem:
            return problem
        data = None if kept is None else b"".join(kept)
        return Digested(size, {name: digest.hexdigest() for name, digest in digests.items()}, data)


def processors() -> int:
    """Give how many processors this program may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
