"""Whether a reader has been shown to work: with a chip whose content is known, and with an empty socket.

Two reads on one reader share its faults. A known chip shows that no line of the reader hangs, if its content moves
every line; an empty socket shows what the reader gives where no chip answers, so that this is known again when it turns
up in a read. Both together cost a minute. Common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from imagekeeper.containers.model import Image
from imagekeeper.evidence.examining import shown_alone
from imagekeeper.findings import Finding
from imagekeeper.units import size_text


@dataclass(frozen=True)
class Qualified:
    """What two trial reads show of a reader.

    Attributes:
        holds: Whether the reader is shown to work.
        says: That, in words.
        findings: What speaks against it.
    """

    holds: bool
    says: str
    findings: tuple[Finding, ...]


def qualify(known: bytes, read: bytes, empty: bytes) -> Qualified:
    """Hold a reader's read of a known chip against what is known, and look at its read of the empty socket.

    Args:
        known: What the chip is known to hold.
        read: What the reader gave for it.
        empty: What the reader gave for its empty socket.

    Example:
        >>> import random
        >>> known = random.Random(1).randbytes(2048)
        >>> qualify(known, known, bytes([255] * 2048)).says
        'a known chip of 2048 bytes (2K) was read right, and its empty socket gives FF'
        >>> [one.code for one in qualify(known, bytes(b | 8 for b in known), known).findings]
        ['reader-misreads', 'empty-socket-answers']
    """
    found: list[Finding] = []
    if known != read:
        wrong = sum(a != b for a, b in zip(known, read, strict=False)) + abs(len(known) - len(read))
        found.append(Finding.of("reader-misreads", "fault", 0.99, detail={"bytes": wrong, "of_bytes": len(known)}))
    weak = shown_alone(Image.from_bytes(known), "eprom", None)
    if weak or len(set(known)) < 32:
        why = weak[0].why if weak else f"it holds only {len(set(known))} different bytes"
        found.append(Finding.of("known-chip-weak", "warning", 0.99, trouble=why))
    answers = shown_alone(Image.from_bytes(empty), "eprom", None) if empty else ()
    silent = {one.code for one in answers} & {"blank", "not-selected", "floating-bus"}
    if not silent:
        found.append(Finding.of("empty-socket-answers", "fault", 0.95, detail={"bytes": len(empty)}))
    given = "follows the addresses" if "floating-bus" in silent else f"gives {empty[:1].hex().upper()}"
    says = f"a known chip of {size_text(len(known))} was read right, and its empty socket {given}"
    return Qualified(not found, says if not found else "this does not show that the reader works", tuple(found))
