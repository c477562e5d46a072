"""How one image differs from another that is nearly the same: bytes in, words out.

Common practice, no source: what tells versions of a program apart at a glance is the text in which they name it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from imagekeeper.containers.model import Image
from imagekeeper.units import plural

#: So many differing texts are named.
TEXTS = 8

_VERSION = re.compile(r"(?i)\b(?:v|ver|vers|version|rev|revision|rel|release|issue)[ .:]*\d|\b\d+\.\d+|(?:19|20)\d\d")


@dataclass(frozen=True)
class DifferingText:
    """A text that is another in the two images.

    Attributes:
        address: Where it stands in the image that was asked about, counted from its first byte. [byte]
        here: What stands in that image, or null.
        there: What stands in the archive's, or null.
    """

    address: int
    here: str | None
    there: str | None


@dataclass(frozen=True)
class Difference:
    """How an image differs from the archive's.

    Attributes:
        says: In words.
        bytes: How many bytes differ, where both are of one size, else null. [byte]
        texts: Texts that differ, at most `TEXTS`.
    """

    says: str
    bytes: int | None
    texts: tuple[DifferingText, ...]


def difference(here: bytes, there: bytes) -> Difference:
    r"""Tell how two images differ.

    Args:
        here: The image that was asked about.
        there: The archive's.

    Example:
        >>> head = bytes(range(128, 256))
        >>> found = difference(head + b"TIDE RECORDER V1.3\0", head + b"TIDE RECORDER V1.2\0")
        >>> found.says, found.texts[0].there
        ('1 byte differs, only in a version text', 'TIDE RECORDER V1.2')
    """
    ours, theirs = _texts(here), _texts(there)
    pairs = _paired(ours, theirs)
    if len(here) == len(there):   # a text on one side only is then one whose bytes changed, as noise makes many
        pairs = [pair for pair in pairs if pair[1] is not None and pair[2] is not None]
    shown = tuple(DifferingText(*pair) for pair in pairs[:TEXTS])
    if len(here) != len(there):
        more = len(here) - len(there)
        says = f"{plural(abs(more), 'byte')} {'more' if more > 0 else 'fewer'} than the archive's"
        return Difference(says + (f", and {plural(len(pairs), 'text')} differ" if pairs else ""), None, shown)
    import numpy as np  # slow to load: only where there is work for it

    places = np.flatnonzero(np.frombuffer(here, np.uint8) != np.frombuffer(there, np.uint8))
    inside = np.zeros(len(here) + 1, bool)
    for start, (end, _) in [*ours.items(), *theirs.items()]:
        inside[start:end] = True
    in_texts = int(inside[places].sum())
    count = len(places)
    says = f"{plural(count, 'byte differs', 'bytes differ')}"
    if in_texts:
        kind = _kind(pairs)
        if in_texts == count:
            says += f", only in {kind}"
        elif count - in_texts <= 4:
            says += f", in {kind} and in {plural(count - in_texts, 'byte')} elsewhere, as a checksum would be"
        else:
            says += f", {in_texts} of them in {kind}"
    return Difference(says, count, shown)


def _kind(pairs: list[tuple[int, str | None, str | None]]) -> str:
    version = any(here and there and (_VERSION.search(here) or _VERSION.search(there)) for _, here, there in pairs)
    if version:
        return "a version text" if len(pairs) == 1 else "texts, one of them a version"
    return "a text" if len(pairs) == 1 else "texts"


def _texts(data: bytes) -> dict[int, tuple[int, str]]:
    """Find the texts of an image: by their begin, with their end."""
    from imagekeeper.inspection.content import Content  # slow to load, and few images differ in texts
    from imagekeeper.inspection.texts import texts

    found, _ = texts(Content.of(Image.from_bytes(data)))
    return {text.start: (text.start + text.length, text.text) for text in found}


def _paired(
    ours: dict[int, tuple[int, str]], theirs: dict[int, tuple[int, str]]
) -> list[tuple[int, str | None, str | None]]:
    """Pair the texts that only one image has: those at one address, then what is left in its order."""
    known_here, known_there = {text for _, text in ours.values()}, {text for _, text in theirs.values()}
    here = {at: text for at, (_, text) in ours.items() if text not in known_there}
    there = {at: text for at, (_, text) in theirs.items() if text not in known_here}
    pairs: list[tuple[int, str | None, str | None]] = [(at, here[at], there[at]) for at in here if at in there]
    left, right = [(at, text) for at, text in here.items() if at not in there], [at for at in there if at not in here]
    pairs += [(at, text, None) for at, text in left] + [(at, None, there[at]) for at in right]
    return sorted(pairs, key=lambda pair: (pair[1] is None or pair[2] is None, pair[0]))
