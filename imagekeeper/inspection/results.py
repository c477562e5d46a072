"""What the inspection of one image gives."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar, Literal

from imagekeeper.findings import Finding
from imagekeeper.provenance.contents import DiskContents
from imagekeeper.ranked import Evidence

BlockKind = Literal["fill", "sparse", "text", "table", "varied", "dense"]
TextForm = Literal["ascii", "bit-7-last", "bit-7"]


@dataclass(frozen=True)
class DataLine:
    """What one data line does over all addresses.

    Attributes:
        line: Its name, D0 to D7.
        ones: At how many addresses it reads 1.
        constant: The value that it never leaves, or null.
    """

    line: str
    ones: int
    constant: int | None


@dataclass(frozen=True, kw_only=True)
class Block:
    """One block of the image.

    Attributes:
        start: Its first address. [byte]
        length: How many bytes. [byte]
        kind: `fill`, one value; `sparse`, mostly one value; `text`, printable ASCII; `table`, neighbours near each
            other; `varied`, as machine code and most data are; `dense`, as varied as chance makes it.
        entropy: How much each byte says. [bit/byte]
        distinct: How many different bytes there are.
        commonest: The commonest byte, in hexadecimal.
        commonest_share: Its share, from 0 to 1.
        text_share: Share of printable ASCII among the bytes that are not 00, from 0 to 1.
    """

    start: int
    length: int
    kind: BlockKind
    entropy: float
    distinct: int
    commonest: str
    commonest_share: float
    text_share: float


@dataclass(frozen=True)
class Fill:
    """A run of one value.

    Attributes:
        start: Its first address. [byte]
        length: How many bytes. [byte]
        value: The byte in hexadecimal.
    """

    start: int
    length: int
    value: str


@dataclass(frozen=True)
class Text:
    """A printable string.

    Attributes:
        start: Its first address. [byte]
        length: How many characters. [byte]
        form: `ascii`; `bit-7-last`, where bit 7 marks the last character; `bit-7`, where it is set in all.
        text: The characters, cut with … where they are too many.
    """

    start: int
    length: int
    form: TextForm
    text: str


@dataclass(frozen=True)
class ProcessorHint:
    """A processor whose program this may be: a hint, never a verdict.

    Attributes:
        processor: Its name.
        weight: From 0 to 1, comparable only within this image.
        evidence: What speaks for it, strongest first; weights in bits.
    """

    processor: str
    weight: float
    evidence: tuple[Evidence, ...]


@dataclass(frozen=True, kw_only=True)
class Inspection:
    """What one image says of itself.

    Attributes:
        name: The file's name as given, made printable.
        container: The kind of file that the image came from.
        wrapped_in: What lay around that, or null.
        size_bytes: How many bytes are present. [byte]
        start: The lowest address. [byte]
        chip: The type of chip that it was held against, or null.
        says: The conclusion in words.
        entropy: How much each byte says. [bit/byte]
        distinct: How many different bytes there are.
        data_lines: What each data line does, D0 first.
        block_bytes: The size of a block. [byte]
        blocks: The image block by block.
        fills: Runs of one value, the longest of them, in order of addresses.
        fill_bytes: How many bytes lie in such runs in all. [byte]
        texts: Printable strings, the longest of them, in order of addresses.
        texts_total: How many there are in all.
        processors: Whose program it may be, most likely first.
        findings: What was noticed, worst first.
        name_base64: The exact bytes of the file name where text cannot carry them, else null.
        disk: What disk it is of and what is on it, or null where nothing says that it is one.
    """

    SCHEMA: ClassVar[Literal["inspection/1"]] = "inspection/1"

    name: str
    container: str
    wrapped_in: str | None
    size_bytes: int
    start: int
    chip: str | None
    says: str
    entropy: float | None
    distinct: int
    data_lines: tuple[DataLine, ...]
    block_bytes: int
    blocks: tuple[Block, ...]
    fills: tuple[Fill, ...]
    fill_bytes: int
    texts: tuple[Text, ...]
    texts_total: int
    processors: tuple[ProcessorHint, ...]
    findings: tuple[Finding, ...]
    name_base64: str | None = None
    disk: DiskContents | None = None

    @property
    def exit_code(self) -> int:
        """1 when there is a fault or a warning, else 0."""
        return 1 if any(found.severity != "note" for found in self.findings) else 0

    def named(self, name: str, name_base64: str | None) -> Inspection:
        """Give the same result with the file's name."""
        findings = tuple(replace(found, where=replace(found.where, file=name)) for found in self.findings)
        return replace(self, name=name, name_base64=name_base64, findings=findings)
