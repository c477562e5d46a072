"""Raw: the bytes as they are. Nothing in the file says so; it is what remains when nothing else fits."""

from __future__ import annotations

from imagekeeper.containers.model import Data, Image
from imagekeeper.ranked import Candidate, Evidence

NAME = "raw"

#: What a text file of any kind may hold: printable ASCII, white space, and what terminals and tapes send:
#: NUL, STX, ETX, BEL, BS, XON, XOFF, SUB and ESC.
_TEXT = bytes([0, 2, 3, 7, 8, 9, 10, 12, 13, 17, 19, 26, 27, *range(32, 127)])


def recognise(sample: bytes) -> Candidate[str]:
    """Score a sample by the bytes that no text holds.

    Example:
        >>> recognise(bytes(range(256))).score, recognise(b":00000001FF").score
        (1.0, 0.2)
    """
    foreign = len(sample.translate(None, _TEXT))
    if foreign > len(sample) // 10:
        return Candidate(NAME, 1.0, (Evidence(f"{foreign} of the first {len(sample)} bytes occur in no text", 1.0),))
    if foreign:
        says = f"{foreign} of the first {len(sample)} bytes occur in no text"
        return Candidate(NAME, 0.9, (Evidence(says, 1.0),))
    return Candidate(NAME, 0.2, (Evidence("the bytes could be text; raw remains if no kind of text fits", 0.1),))


def read(data: Data) -> Image:
    """Take the bytes as an image that starts at address 0."""
    return Image.from_bytes(data)
