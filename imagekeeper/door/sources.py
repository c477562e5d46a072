"""What a program may give: a path, bytes, or an image that it has already."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any, get_args

from imagekeeper.containers.manner import Repeated
from imagekeeper.containers.model import Image, Segment
from imagekeeper.jobs.images.loading import STDIN, Given, Options, loaded
from imagekeeper.transforms.step import fill_byte

#: Where an image may come from: the path of a file of any container, the bytes of such a file, or an image.
Source = str | os.PathLike[str] | bytes | bytearray | memoryview | Image

#: Where a file or folder lies.
Place = str | os.PathLike[str]


def given(source: Source) -> Given:
    """Take a source as the jobs do.

    Raises:
        TypeError: It is none.

    Example:
        >>> from pathlib import Path
        >>> given(Path("u4.bin")), given(bytearray(b"TIDE"))
        ('u4.bin', b'TIDE')
    """
    if isinstance(source, Image | bytes):
        return source
    if isinstance(source, bytearray | memoryview):
        return bytes(source)
    return named(source)


def named(place: Place) -> str:
    """Give a path as text; `-` is a file of that name here, never standard input.

    Raises:
        TypeError: It is no path.

    Example:
        >>> named("u4.bin"), named("-")
        ('u4.bin', './-')
    """
    if not isinstance(place, str | os.PathLike):
        raise TypeError(f"a path, bytes or an Image is wanted, not {type(place).__name__}")
    path = os.fspath(place)
    if not isinstance(path, str):
        raise TypeError("a path is text: bytes are taken as the content of a file")
    return f".{os.sep}-" if path == STDIN else path


def options(
    *sources: Source | None, container: str | None, member: str | None, keep_doubtful: bool, fill: int | None,
    repeated: Repeated = "refuse",
) -> Options:
    """Gather how files are to be taken.

    Raises:
        TypeError: An image is given together with what says how a file is to be decoded, or `repeated` is no choice.
        UsageError: `usage` for a fill that is no byte.
    """
    if any(isinstance(one, Image) for one in sources) and (container is not None or member is not None):
        raise TypeError("container and member say how a file is to be decoded, and an Image is decoded already")
    among("repeated", repeated, Repeated)
    if fill is not None:
        fill_byte(fill)
    return Options(kind=container, member=member, keep_doubtful=keep_doubtful, repeated=repeated, fill=fill)


def among(name: str, value: object, words: Any) -> None:
    """Refuse a word that is none of those that an argument can be, given as their `Literal`.

    Whoever runs no type checker would otherwise get the answer to another question.

    Raises:
        TypeError: It is none of them.

    Example:
        >>> from typing import Literal
        >>> among("by", "nibble", Literal["byte", "bit"])
        Traceback (most recent call last):
        ...
        TypeError: by is 'byte' or 'bit', not 'nibble'
    """
    if value not in get_args(words):
        raise TypeError(f"{name} is {' or '.join(map(repr, get_args(words)))}, not {value!r}")


def texts(**values: Any) -> None:
    """Refuse what is no text where a record takes text or None.

    Raises:
        TypeError: It is neither.

    Example:
        >>> texts(part="27128", note=None)
        >>> texts(part=27128)
        Traceback (most recent call last):
        ...
        TypeError: part is text, not 27128
    """
    for name, value in values.items():
        if value is not None and not isinstance(value, str):
            raise TypeError(f"{name} is text, not {value!r}")


def in_memory(image: Image) -> Image:
    """Give an image whose bytes are all in memory, so that it outlives its file."""
    return replace(image, segments=tuple(Segment(one.start, bytes(one.data[:])) for one in image.segments))


@contextmanager
def opened(source: Source, how: Options) -> Iterator[Image]:
    """Open a source as an image, whose bytes may stay in the file."""
    with loaded(given(source), how) as file:
        yield file.image
