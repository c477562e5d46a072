"""The kinds of container: one row each, in the order in which they are listed to people."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from imagekeeper.containers.manner import PLAIN, Manner
from imagekeeper.containers.model import Image
from imagekeeper.ranked import Candidate

#: Looks at a sample of the file's beginning and scores how much it looks like this kind; None: not at all.
Recognise = Callable[[bytes], "Candidate[str] | None"]


class Decode(Protocol):
    """Decodes a whole text."""

    def __call__(self, text: bytes, keep_doubtful: bool = False, manner: Manner = PLAIN, /) -> Image:
        """Decode it; the flag keeps doubtful input instead of raising, and the manner says what was chosen."""
        ...


Read = Decode

#: Encodes an image; the pieces are written one after the other.
Write = Callable[[Image], bytes]


@dataclass(frozen=True, kw_only=True)
class Kind:
    """A kind of container.

    Attributes:
        name: Its name in options and documents.
        title: Its name in prose.
        recognise: Scores a sample of the file.
        read: Decodes a file.
        write: Encodes an image, or None where we only read.
        source: The document that defines it.
    """

    name: str
    title: str
    recognise: Recognise
    read: Read
    write: Write | None
    source: str
