"""A trial: one convention at one place of one image, with its outcome."""

from __future__ import annotations

from dataclasses import dataclass

from imagekeeper.selfchecks.chance import Odds, Tier
from imagekeeper.selfchecks.figures import ByteOrder, Ranges


@dataclass(frozen=True, kw_only=True)
class Trial:
    """One convention at one place.

    Attributes:
        id: Short name of the convention.
        title: What would hold.
        source: Where the convention is described.
        tier: Its share in the correction for chance.
        odds: How likely it is to hold by chance.
        holds: Whether it does.
        bits: Width of the check value. [bit]
        over: The bytes that it covers. [byte]
        at: Offset of the stored value, or None. [byte]
        stored: The stored value, or what the convention asks for.
        computed: The value that the bytes give.
        order: Byte order of the stored value; None for one byte.
        place: Short name of the place.
        block: Size of the blocks that are checked each by itself; None for one value over all. [byte]
        length: Size of what is stored, or None where that is one value. [byte]
    """

    id: str
    title: str
    source: str
    tier: Tier
    odds: Odds
    holds: bool
    bits: int
    over: Ranges
    at: int | None = None
    stored: str = ""
    computed: str = ""
    order: ByteOrder | None = None
    place: str = "whole"
    block: int | None = None
    length: int | None = None

    @property
    def stored_bytes(self) -> int:
        """Size of what is stored. [byte]"""
        if self.at is None:
            return 0
        return self.bits // 8 if self.length is None else self.length
