"""Which reads count, and which image they give."""

from __future__ import annotations

from collections.abc import Sequence

from imagekeeper.evidence.conditions import differing
from imagekeeper.provenance.reads import Read


def counted_reads(reads: Sequence[Read]) -> tuple[list[Read], list[str]]:
    """Leave out reads without a byte, and count a file that was added twice only once.

    The sign of the same file is the same name, time of change and digest. Where neither file has a time of change, the
    two pass for one unless a condition that is known on both sides differs.

    Returns:
        The reads that count, and a sentence for each that is a copy.
    """
    kept: list[Read] = []
    by_digest: dict[str, list[Read]] = {}
    notes: list[str] = []
    for read in reads:
        if not read.image.size_bytes:
            continue
        copy = next((k for k in by_digest.get(read.sha256, ()) if _same_file(k, read)), None)
        if copy is None:
            kept.append(read)
            by_digest.setdefault(read.sha256, []).append(read)
        else:
            notes.append(
                f"{read.id} is the same file as {copy.id} (same name, time of change and SHA-256)"
                " and does not count."
            )
    return kept, notes


def _same_file(a: Read, b: Read) -> bool:
    if (a.file, a.file_base64, a.modified, a.sha256) != (b.file, b.file_base64, b.modified, b.sha256):
        return False
    return a.modified is not None or not differing(a, b)


def by_image(reads: Sequence[Read]) -> list[list[Read]]:
    """Group reads that hold the same bytes in the same arrangement; a shift of the whole does not matter."""
    groups: dict[object, list[Read]] = {}
    for read in reads:
        image = read.image
        shape = tuple((s.start - image.first_address, s.length) for s in image.segments)
        groups.setdefault((image.sha256, shape), []).append(read)
    return list(groups.values())


def named(ids: Sequence[str], one: str = "gives", many: str = "give") -> str:
    """Say that reads do something.

    Example:
        >>> named(["r1"]), named(["r1", "r2", "r3"], "is", "are")
        ('r1 gives', 'r1, r2 and r3 are')
    """
    return f"{joined(ids)} {one if len(ids) == 1 else many}"


def joined(names: Sequence[str]) -> str:
    """Join names as people do.

    Example:
        >>> joined(["reader"]), joined(["reader", "drive", "specimen"])
        ('reader', 'reader, drive and specimen')
    """
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
