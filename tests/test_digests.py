"""Several streams fed at once."""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Iterator

import pytest

from imagekeeper.digests import WINDOW, Crc32, feed


class Recorder:
    def __init__(self) -> None:
        self.blocks: list[bytes] = []

    def update(self, block: bytes, /) -> None:
        self.blocks.append(block)


@pytest.mark.parametrize("count", [0, 1, 2, 3, 100])
def test_every_stream_gets_every_block_in_order(count: int) -> None:
    blocks = [bytes([i]) * 3 for i in range(count)]
    streams = [Recorder(), Recorder(), Recorder()]
    feed(iter(blocks), streams)
    assert all(stream.blocks == blocks for stream in streams)


def test_no_streams_still_reads_everything() -> None:
    seen = []

    def blocks() -> Iterator[bytes]:
        for i in range(5):
            seen.append(i)
            yield b"x"

    feed(blocks(), [])
    assert seen == [0, 1, 2, 3, 4]


def test_memory_is_bounded_by_the_window() -> None:
    """Blocks are not read far ahead of the slowest stream."""
    handed = 0

    class Slow:
        done = 0
        worst = 0

        def update(self, block: bytes, /) -> None:
            self.worst = max(self.worst, handed - self.done)
            self.done += 1

    def blocks() -> Iterator[bytes]:
        nonlocal handed
        for _ in range(300):
            handed += 1
            yield b"x"

    slow, quick = Slow(), Recorder()
    feed(blocks(), [slow, quick])
    assert slow.done == 300
    assert slow.worst <= WINDOW + 1


@pytest.mark.parametrize("at", [0, 1, 7])
def test_a_failure_anywhere_comes_out_once_and_leaves_no_thread(at: int) -> None:
    class Failing:
        calls = 0

        def update(self, block: bytes, /) -> None:
            self.calls += 1
            if self.calls == at + 1:
                raise OSError("the disk went away")

    before = threading.active_count()
    with pytest.raises(OSError, match="the disk went away"):
        feed((b"x" for _ in range(20)), [Crc32(), Failing(), hashlib.sha256()])
    assert threading.active_count() == before


def test_a_failing_reader_comes_out() -> None:
    def blocks() -> Iterator[bytes]:
        yield from [b"a", b"b", b"c"]
        raise OSError("bad sector")

    with pytest.raises(OSError, match="bad sector"):
        feed(blocks(), [Crc32(), hashlib.sha1()])
