"""What a media descriptor byte says, which is little: several formats share each.

Source: Microsoft, Q75131, except FA, FB and the second use of F8, which are from memory.
"""

from __future__ import annotations

from collections.abc import Iterator

from imagekeeper.geometry.shapes import Shape
from imagekeeper.ranked import Evidence

#: Cylinders, heads and sectors of the formats that use a byte.
MEDIA: dict[int, tuple[tuple[int, int, int], ...]] = {
    0xF0: ((80, 2, 18), (80, 2, 36)),
    0xF8: ((80, 1, 9),),
    0xF9: ((80, 2, 9), (80, 2, 15)),
    0xFA: ((80, 1, 8),),
    0xFB: ((80, 2, 8),),
    0xFC: ((40, 1, 9),),
    0xFD: ((40, 2, 9), (77, 2, 26)),
    0xFE: ((40, 1, 8), (77, 1, 26), (77, 2, 8)),
    0xFF: ((40, 2, 8),),
}


def says_media(media: int, shape: Shape) -> Iterator[Evidence]:
    """Weigh a media byte that stands where it should; call it only where more than this byte speaks for a FAT.

    Example:
        >>> from imagekeeper.geometry.shapes import shapes
        >>> shape = next(shape for shape in shapes() if shape.text == "77x2x26x128")
        >>> [e.says for e in says_media(0xFD, shape)]   # not only the 360K disk has it
        ['the media byte FD is one of 77x2x26x128']
    """
    mine = (shape.cylinders, shape.heads, shape.sectors)
    if mine in MEDIA.get(media, ()):
        yield Evidence(f"the media byte {media:02X} is one of {shape.text}", 1.0)
    elif media != 0xF0 and any(mine in users for users in MEDIA.values()):   # F0 also stands for all others
        yield Evidence(f"the media byte {media:02X} is not that of {shape.text}", -2.0)
