"""Which files lie on each other: one of them has bytes that are the other's."""

from __future__ import annotations

from collections.abc import Sequence

from imagekeeper.filesystems.model import Entry


def cross_linked(entries: Sequence[Entry]) -> dict[int, tuple[str, ...]]:
    """Find the entries that share bytes with others; what is marked deleted is left aside, as its space is free.

    Args:
        entries: Of one volume, directories too.

    Returns:
        By the number of the entry, counted from 0, the paths of others that it shares bytes with: one at least, not
        always all of them. The time grows as sorting does, whatever a damaged disk says.

    Example:
        >>> from imagekeeper.filesystems.model import Extent
        >>> def entry(name, *places): return Entry(
        ...     path=name, name=name, name_hex="", kind="file", size_bytes=512,
        ...     extents=tuple(Extent(*one) for one in places),
        ... )
        >>> cross_linked([entry("A", (0, 512)), entry("B", (512, 512), (256, 100)), entry("C", (1024, 512))])
        {1: ('A',), 0: ('B',)}
    """
    stretches = sorted(
        (extent.start, extent.start + extent.length, number)
        for number, entry in enumerate(entries) if not entry.deleted
        for extent in entry.extents if extent.start is not None and extent.length
    )  # fmt: skip
    found: dict[int, dict[str, None]] = {}
    farthest: list[tuple[int, int]] = []   # end and entry of the two that reach farthest, of different entries
    for start, end, number in stretches:
        other = next((one for one in farthest if one[1] != number), None)
        if other is not None and other[0] > start:
            found.setdefault(number, {})[entries[other[1]].path] = None
            found.setdefault(other[1], {})[entries[number].path] = None
        reach = {one: far for far, one in farthest}
        reach[number] = max(end, reach.get(number, end))
        farthest = sorted(((far, one) for one, far in reach.items()), reverse=True)[:2]
    return {number: tuple(names) for number, names in found.items()}
