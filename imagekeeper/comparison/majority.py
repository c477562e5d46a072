"""The result of a vote over three or more reads, as a document."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from imagekeeper.comparison.confidence import Remaining
from imagekeeper.findings import Finding
from imagekeeper.provenance.compared_disk import ComparedDisk

By = Literal["byte", "bit"]


@dataclass(frozen=True)
class Ties:
    """What becomes of an address without a majority.

    Attributes:
        leave: `gap` to leave the address out; `first` to take the first read's value in the bits that are tied; `fill`
            to put a byte there.
        fill: That byte, 0 to 255.
    """

    leave: Literal["gap", "first", "fill"] = "gap"
    fill: int = 0xFF

    def __str__(self) -> str:
        return f"{self.fill:02X}" if self.leave == "fill" else self.leave


@dataclass(frozen=True)
class DisputedAddress:
    """An address where the reads differ.

    Attributes:
        address: The address. [byte]
        values: The value of every read there, in the order of the reads, as two hexadecimal digits.
        voted: The value that has the majority, or null where none has.
        tied_bits: The bits without a majority as ones, as two hexadecimal digits; FF where no byte has one.
    """

    address: int
    values: tuple[str, ...]
    voted: str | None
    tied_bits: str


@dataclass(frozen=True, kw_only=True)
class Voter:
    """One of the reads that voted.

    Attributes:
        name: The file's name as given, made printable.
        container: The kind of file.
        wrapped_in: What lay around it, or null.
        size_bytes: How many bytes it holds. [byte]
        sha256: SHA-256 of its bytes, lower case.
        vcc: Its supply voltage, or null where none was given. [volt]
        weight: What its vote for a 0 weighs; 1 where no voltages were given.
        outvoted: Addresses where the majority is another than its value.
        name_base64: The exact bytes of the file name where text cannot carry them, else null.
    """

    name: str
    container: str
    wrapped_in: str | None
    size_bytes: int
    sha256: str
    vcc: float | None
    weight: int
    outvoted: int
    name_base64: str | None = None


@dataclass(frozen=True)
class Disputed:
    """How much was disputed.

    Attributes:
        addresses: Addresses where not all reads are equal.
        bits: Bits there in which not all reads are equal.
        ties: Those of the addresses where no value has a majority.
    """

    addresses: int
    bits: int
    ties: int


@dataclass(frozen=True, kw_only=True)
class Majority:
    """The majority image of several reads.

    Attributes:
        output: Name of the file written, made printable, or null where none was written.
        container: The kind of file written or asked for, or null where none was asked for.
        by: Whether whole bytes or single bits were voted on.
        ties: What becomes of addresses without a majority: `gap`, `first` (the first read's value), or the byte that
            fills them as two hexadecimal digits.
        reads: The reads, in the order given.
        first_address: The lowest address of the voted image. [byte]
        size_bytes: How many bytes the voted image holds; addresses that became gaps do not count. [byte]
        sha256: SHA-256 of these bytes in address order, lower case.
        unanimous: Addresses where all reads are equal.
        disputed: How many are not.
        list: Disputed addresses, ascending: the first thousand with a majority and the first thousand without.
        remaining: The chance that random faults left a wrong byte; null where reads were weighed.
        findings: Why the reads differ, and what else was noticed, most important first.
        signs: What is quickly seen of a fault in the voted image, and so in most reads: a line that never changes, two
            that are always equal, one value only, bytes that repeat the address.
        disk: Where the reads agree by cylinder, side and sector, where they are of a disk, else null.
    """

    SCHEMA: ClassVar[Literal["vote/1"]] = "vote/1"

    output: str | None
    container: str | None
    by: By
    ties: str
    reads: tuple[Voter, ...]
    first_address: int
    size_bytes: int
    sha256: str
    unanimous: int
    disputed: Disputed
    list: tuple[DisputedAddress, ...]
    remaining: Remaining | None
    findings: tuple[Finding, ...]
    signs: tuple[Finding, ...] = ()
    disk: ComparedDisk | None = None

    @property
    def unlike(self) -> bool:
        """Whether the reads differ in size or addresses, so that only a part was voted on."""
        return any(one.code in ("sizes-differ", "gaps-differ") for one in self.findings)

    @property
    def fill_outvotes(self) -> bool:
        """Whether fill would outvote content somewhere: then nothing is written."""
        return any(one.code == "fill-outvotes" for one in self.findings)

    @property
    def mixed(self) -> bool:
        """Whether sectors were put together of bytes of several reads."""
        return self.disk is not None and any(one.sectors > one.agree + one.majority for one in self.disk.tracks)

    @property
    def exit_code(self) -> int:
        """0 when every address has a majority; 1 when ties remain, the reads are unlike, or fill outvotes content.

        It is 1 too when the voted image shows the sign of a fault, and when a sector of a disk stands in no read so.
        """
        return 1 if self.disputed.ties or self.unlike or self.fill_outvotes or self.signs or self.mixed else 0
