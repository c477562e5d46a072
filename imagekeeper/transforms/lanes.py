"""Lanes: the chips that lie side by side on a wider data bus. Bytes in, bytes out.

On a bus of 16 bits with chips of 8, one chip holds the even addresses, lane 0, the other the odd ones, lane 1. Which
of the two carries the high half of a word is the processor's affair: lanes go by address only.
"""

from __future__ import annotations

from collections.abc import Sequence

from imagekeeper.errors import UsageError

#: How many lanes there may be, and how wide each. [byte]
LANES, WIDTHS = (2, 4), (1, 2)


def words(data: bytes | bytearray, width_bytes: int) -> memoryview[int]:
    """See bytes as words of 1 or 2, the order of bytes within left alone."""
    view = memoryview(data)
    return view.cast("H") if width_bytes == 2 else view


def split(data: bytes, lane: int, lanes: int, width_bytes: int = 1) -> bytes:
    """Take one lane of an image.

    Args:
        data: The image, as the processor sees it.
        lane: Which lane, from 0: that of the lowest address.
        lanes: How many there are: 2 or 4.
        width_bytes: How wide each is: 1, or 2 for chips of 16 bits. [byte]

    Raises:
        UsageError: `does-not-fit` where the image does not divide, saying by how many bytes.

    Example:
        >>> split(b"TIDEGAGE", 0, 2), split(b"TIDEGAGE", 1, 2), split(b"TIDEGAGE", 1, 2, width_bytes=2)
        (b'TDGG', b'IEAE', b'DEGE')
    """
    over = len(data) % (lanes * width_bytes)
    if over:
        raise UsageError(
            "does-not-fit/lanes", lanes=lanes, width=width_bytes, size=len(data), over=over, row=lanes * width_bytes,
            short=lanes * width_bytes - over,
        )  # fmt: skip
    return words(data, width_bytes)[lane::lanes].tobytes()


def join(lanes: Sequence[bytes], width_bytes: int = 1) -> bytes:
    """Join lanes to the image that the processor sees: the way back from `split`.

    Args:
        lanes: The images of the chips, that of the lowest address first; 2 or 4 of one size.
        width_bytes: How wide each is. [byte]

    Raises:
        UsageError: `does-not-fit` where their sizes differ or do not divide; `usage` for another number of lanes.

    Example:
        >>> join([b"TDGG", b"IEAE"])
        b'TIDEGAGE'
    """
    if len(lanes) not in LANES:
        raise UsageError("usage/count-of-lanes", images=len(lanes))
    size = len(lanes[0])
    for number, lane in enumerate(lanes):
        more = len(lane) - size
        if more:
            raise UsageError(
                "does-not-fit/longer-lane" if more > 0 else "does-not-fit/shorter-lane",
                lane=number, by=abs(more), size=size,
            )  # fmt: skip
    if size % width_bytes:
        raise UsageError("does-not-fit/words-of-lane", width=width_bytes, size=size, over=size % width_bytes)
    whole = bytearray(size * len(lanes))
    view = words(whole, width_bytes)
    for number, lane in enumerate(lanes):
        view[number :: len(lanes)] = words(lane, width_bytes)
    return bytes(whole)
