"""From what is given to an image: a path, or bytes or an image that are in memory already."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from typing import BinaryIO

from imagekeeper import budget, containers, files
from imagekeeper.containers.manner import Repeated
from imagekeeper.containers.model import Data, Image
from imagekeeper.errors import ImagekeeperError, UsageError, Where
from imagekeeper.jsonable import exact_name

#: The name that stands for standard input.
STDIN = "-"

#: What a job can take an image from: a path, the bytes of a file, or an image.
Given = str | bytes | Image


@dataclass(frozen=True, kw_only=True)
class Options:
    """How files are to be taken.

    Attributes:
        kind: A container kind to force, or None to find it.
        member: Which member of a zip file.
        keep_doubtful: Import what the file itself speaks against, recorded as doubts.
        repeated: Which value counts where a file gives an address several.
        fill: The byte to close gaps with, or None to keep them.
        stdin: Where `-` reads from, or None where it may not be used.
        patience: How many times the usual time a file may take.
    """

    kind: str | None = None
    member: str | None = None
    keep_doubtful: bool = False
    repeated: Repeated = "refuse"
    fill: int | None = None
    stdin: BinaryIO | None = None
    patience: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Loaded:
    """A file and the image it stands for, usable while its context is open.

    Attributes:
        path: The path as given; empty for what was in memory.
        name: The path, made printable, or what stands for it.
        name_base64: The path's exact bytes where text cannot carry them, else None.
        data: The file's own bytes; those of the image where an image was given.
        image: The image.
        identity: What tells that two paths lead to one file, or None where there is no path.
        modified: The file's time of last change in seconds since 1970, or None. [s]
    """

    path: str
    name: str
    name_base64: str | None
    data: Data
    image: Image
    identity: tuple[int, int] | None
    modified: float | None


@contextmanager
def loaded(given: Given, options: Options, *, name: str | None = None) -> Iterator[Loaded]:
    """Open one file and decode it; raw files stay on disk and are read where they are looked at.

    What is done with the file while it is open counts against its budget.

    Args:
        given: The file, or what is in memory in its place.
        options: How to take it. An image is decoded already: only `fill` concerns it.
        name: What to call it; without it the path, or `image` where there is none.

    Raises:
        ImagekeeperError: Whatever is wrong with the file, with its name in `where`.
    """
    path = given if isinstance(given, str) else ""
    if name is None:
        name = files.display_name(path) if isinstance(given, str) else "image"
    with ExitStack() as stack:
        try:
            data: Data
            identity: tuple[int, int] | None = None
            modified: float | None = None
            if isinstance(given, Image):
                data = given.tobytes() if len(given.segments) != 1 else given.segments[0].data
            elif isinstance(given, bytes):
                data = given
            elif path == STDIN:
                if options.stdin is None:
                    raise UsageError("usage/stdin-not-here")
                data = files.read_limited(options.stdin, budget.MOST_TEXT, "standard input")
            else:
                file, about = stack.enter_context(files.opened(path))
                size = about.st_size or file.seek(0, os.SEEK_END)   # a disk device states its size only so
                data = files.FileData(file, size, name)
                identity, modified = (about.st_dev, about.st_ino), about.st_mtime
            allowed = budget.Budget(len(data), clock=time.thread_time, patience=options.patience)
            stack.enter_context(budget.spending(allowed))
            image = given if isinstance(given, Image) else containers.read(
                data, kind=options.kind, member=options.member, keep_doubtful=options.keep_doubtful,
                repeated=options.repeated,
            )  # fmt: skip
            if options.fill is not None:
                image = containers.fill(image, options.fill)
        except ImagekeeperError as problem:
            raise problem.at(file=name) from problem.__cause__
        yield Loaded(
            path=path, name=name, name_base64=exact_name(path), data=data, image=image, identity=identity,
            modified=modified,
        )  # fmt: skip


@contextmanager
def all_loaded(paths: Sequence[Given], options: Options) -> Iterator[list[Loaded]]:
    """Open several files at once; what is in memory is called `image 1` and so on, by its place among them.

    Raises:
        UsageError: `usage` when standard input is named more than once.
        ImagekeeperError: Whatever is wrong with a file.
    """
    if paths.count(STDIN) > 1:
        raise UsageError("usage/stdin-once", count=paths.count(STDIN))
    with ExitStack() as stack:
        yield [
            stack.enter_context(loaded(path, options, name=None if isinstance(path, str) else f"image {number}"))
            for number, path in enumerate(paths, 1)
        ]


def refuse_same(reads: Sequence[Loaded]) -> None:
    """Refuse one file under two names, by its identity, not by its content.

    Raises:
        UsageError: `usage`.
    """
    seen: dict[tuple[int, int], str] = {}
    for read in reads:
        if read.identity is None:
            continue
        if read.identity in seen:
            raise UsageError("usage/same-file", one=seen[read.identity], other=read.name, where=Where(file=read.name))
        seen[read.identity] = read.name
