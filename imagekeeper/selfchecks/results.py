"""What a search for built-in checks gives."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar, Literal

from imagekeeper.addresses import Span
from imagekeeper.findings import Finding


@dataclass(frozen=True, kw_only=True)
class Check:
    """One built-in check that holds.

    Attributes:
        id: The convention's short name.
        title: What holds, as a phrase.
        where: The bytes that it covers, and where the check value lies, in words.
        start: First address that it covers. [byte]
        covers_bytes: How many bytes it covers, the check value included. [byte]
        stored_at: Address of the stored check value; null where any byte may balance the sum.
        stored: The value that the image holds or the convention asks for, in hexadecimal.
        computed: The value that the bytes give.
        bits: Width of the check value: a random fault in the bytes escapes it once in 2 to this power. [bit]
        chance_alone: Chance that bytes which know nothing of the convention fit it. [probability]
        chance: The same when all the trials of this search are counted. [probability]
        confidence: From 0, where chance explains it in one search of 20 or more, to 1.
        strong: Whether chance explains it less often than once in 1000 searches.
        says: The reasoning in words.
        source: Where the convention is described.
        also: What else holds because this does, or reads the same stored value in another way.
        by_blocks: Whether it is a sum of zero over each of many blocks; a ramp and other regular data do so by
            themselves.
        over: The ranges that the value is taken over, ascending.
    """

    id: str
    title: str
    where: str
    start: int
    covers_bytes: int
    stored_at: int | None
    stored: str
    computed: str
    bits: int
    chance_alone: float
    chance: float
    confidence: float
    strong: bool
    says: str
    source: str
    also: tuple[str, ...] = ()
    by_blocks: bool = False
    over: tuple[Span, ...] = ()


@dataclass(frozen=True)
class Expansion:
    """One expansion header ($PnP) of an extension ROM.

    Attributes:
        start: Its first address. [byte]
        length_bytes: The length that it states. [byte]
        sum8: The 8-bit sum over that length, which should be 00; null where it reaches beyond the image.
    """

    start: int
    length_bytes: int
    sum8: str | None


@dataclass(frozen=True, kw_only=True)
class ExtensionHeader:
    """The header 55 AA of an extension ROM at the image's first byte.

    Attributes:
        start: Its address. [byte]
        length_bytes: The length that it states, in bytes; 0 where the byte is not used. [byte]
        covers_bytes: The length over which the sum was taken: the stated one, or 64 KiB on system board sockets. [byte]
        sum8: The 8-bit sum over it, which should be 00; null where it reaches beyond the image.
        sum_ok: Whether the sum is zero; null where it cannot be taken or none is asked for.
        balance: What the last byte of the range must be for the sum to be zero.
        entry_jump: Whether the entry at offset 3 starts with a jump, as it usually does.
        expansions: The expansion headers ($PnP) that the header's chain leads to.
    """

    start: int
    length_bytes: int
    covers_bytes: int
    sum8: str | None
    sum_ok: bool | None
    balance: str | None
    entry_jump: bool
    expansions: tuple[Expansion, ...] = ()


@dataclass(frozen=True, kw_only=True)
class SelfCheck:
    """Which built-in checks of an image hold, and how far chance explains them.

    Attributes:
        name: The file's name as given, made printable.
        size_bytes: The image's size. [byte]
        start: First address of the range that was searched. [byte]
        length_bytes: Length of the range that was searched; shorter than the image where a range was given, or where
            the image is the same bytes over again. [byte]
        copies: How many times over the image holds these bytes; sums over equal copies prove nothing.
        conclusion: `strong`, where a check that covers at least half of the content cannot be explained by chance;
            `weak`, where something holds, but chance or a small part explains it; `none`, where nothing holds.
        says: The conclusion in words.
        tests_tried: How many trials were made.
        expected_by_chance: How many of them would hold on bytes that know nothing of any convention.
        holds: What holds, most certain first.
        header: The header of an extension ROM, or null where the image does not start with one.
        findings: What contradicts the image's own claims.
        name_base64: The exact bytes of the file name where text cannot carry them, else null.
    """

    SCHEMA: ClassVar[Literal["selfcheck/1"]] = "selfcheck/1"

    name: str
    size_bytes: int
    start: int
    length_bytes: int
    copies: int
    conclusion: Literal["strong", "weak", "none"]
    says: str
    tests_tried: int
    expected_by_chance: float
    holds: tuple[Check, ...]
    header: ExtensionHeader | None
    findings: tuple[Finding, ...]
    name_base64: str | None = None

    @property
    def exit_code(self) -> int:
        """1 when a header claims a sum that does not hold, else 0."""
        return 1 if any(found.severity == "fault" for found in self.findings) else 0

    def named(self, name: str, name_base64: str | None) -> SelfCheck:
        """Give the same result with the file's name."""
        findings = tuple(replace(found, where=replace(found.where, file=name)) for found in self.findings)
        return replace(self, name=name, name_base64=name_base64, findings=findings)
