"""The records of a carrier: what is written into its files, and the whole as the commands show it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, ClassVar, Literal

from imagekeeper.errors import UsageError
from imagekeeper.findings import Finding
from imagekeeper.provenance.contents import DiskContents
from imagekeeper.provenance.events import Event
from imagekeeper.provenance.references import Reference

Grade = Literal["none", "single", "repeated", "independent", "corroborated", "disputed"]

_DECIMAL = re.compile(r"[0-9]{1,4}(?:\.[0-9]{1,6})?")


def check_vcc(text: str) -> str:
    """Accept a supply voltage.

    Args:
        text: A decimal number, with or without a V behind it. [volt]

    Returns:
        The number as it was written: 5.00 may say more than 5.

    Raises:
        UsageError: `usage`.

    Example:
        >>> check_vcc("5.0 V")
        '5.0'
    """
    number = text.strip().rstrip("vV").rstrip()
    if not _DECIMAL.fullmatch(number):
        raise UsageError(
            "usage", "a supply voltage cannot be understood", why=f"{text[:40]!r} was given",
            hint="write a decimal number of volts, such as 4.75",
        )  # fmt: skip
    return number


@dataclass(frozen=True)
class Carrier:
    """The physical thing that holds data.

    Attributes:
        id: Its id in this archive, which is also its folder's name.
        uuid: Its identity across archives.
        kind: One of the kinds of carrier.
        part: Its type as marked, such as 27128; null when unknown.
        machine: The machine it belongs to, or null.
        board: The board it sits on, or null.
        position: The designator beside its socket, the drive, or the place on the shelf, or null.
        label: What is written on it, line by line as it stands there, or null.
        note: Anything else that was known when it was added, or null.
        created: When it was added to the archive, RFC 3339.
        markings: What its maker printed on it, line by line, or null.
        date_code: The date code among the markings, as it stands there, such as 8512, or null.
        package: Its package, such as a 28-pin ceramic DIP with a window, or null.
        condition: What can be seen of its state, or null.
    """

    id: str
    uuid: str
    kind: str
    part: str | None
    machine: str | None
    board: str | None
    position: str | None
    label: str | None
    note: str | None
    created: str
    markings: str | None = None
    date_code: str | None = None
    package: str | None = None
    condition: str | None = None


@dataclass(frozen=True)
class Machine:
    """The computer or instrument being restored.

    Attributes:
        id: Its id in this archive, which is also its folder's name.
        uuid: Its identity across archives.
        name: What it is called.
        maker: Who made it, or null.
        model: Its model, or null.
        serial: Its serial number, or null.
        owner: Whose it is, or null.
        note: Anything else, or null.
        created: When it was added to the archive, RFC 3339.
    """

    id: str
    uuid: str
    name: str
    maker: str | None
    model: str | None
    serial: str | None
    owner: str | None
    note: str | None
    created: str


def check_temperature(text: str) -> str:
    """Accept a temperature.

    Args:
        text: A decimal number, with or without a C behind it. [degree Celsius]

    Returns:
        The number as it was written.

    Raises:
        UsageError: `usage`.

    Example:
        >>> check_temperature("21.5 C"), check_temperature("-5")
        ('21.5', '-5')
    """
    number = text.strip().rstrip("cC").rstrip().rstrip("°").rstrip()
    if not _DECIMAL.fullmatch(number.removeprefix("-")) or not -274 < float(number) < 1000:
        raise UsageError(
            "usage", "a temperature cannot be understood", why=f"{text[:40]!r} was given",
            hint="write a decimal number of degrees Celsius, such as 21.5",
        )  # fmt: skip
    return number


@dataclass(frozen=True)
class Extent:
    """A run of addresses that hold bytes.

    Attributes:
        start: First address. [byte]
        length: How many addresses. [byte]
    """

    start: int
    length: int


@dataclass(frozen=True)
class ReadDoubt:
    """Addresses whose bytes the read's own container speaks against.

    Attributes:
        start: First address. [byte]
        length: How many addresses; 0 where the doubt is about the file as a whole. [byte]
        code: The error code that a strict import would have raised.
        why: What was found and what was expected.
        line: Line of the file, counted from 1, or null.
    """

    start: int
    length: int
    code: str
    why: str
    line: int | None = None


@dataclass(frozen=True)
class ReadImage:
    """The image that a read's file stands for.

    Attributes:
        sha256: Of the bytes present, in address order; gaps contribute nothing.
        crc32: Of the same bytes.
        size_bytes: How many bytes are present. [byte]
        first_address: The lowest address that holds a byte. [byte]
        segments: Where the bytes lie, ascending.
        doubts: Bytes that the file itself speaks against.
    """

    sha256: str
    crc32: str
    size_bytes: int
    first_address: int
    segments: tuple[Extent, ...]
    doubts: tuple[ReadDoubt, ...] = ()


@dataclass(frozen=True)
class Read:
    """One pass of one reader over one carrier.

    Attributes:
        id: Its id within the carrier: r1, r2, ...
        file: The file's name as given, made printable.
        file_base64: The name's exact bytes in Base64 where the printable form lost some, else null.
        original: Path of the untouched file within the carrier's object.
        size_bytes: Size of that file. [byte]
        sha256: Of that file.
        modified: When that file was last changed, RFC 3339, or null.
        container: The kind of file: `raw`, `intel-hex`, ...
        wrapped_in: What lay around that, or null.
        image: What the file stands for once decoded.
        image_path: Path of the decoded bytes within the carrier's object.
        reader: The reader used, or null when unknown.
        operator: Who read, or null.
        date: When it was read: a time, a day, a month or a year, or null; never guessed.
        vcc: The supply voltage as a decimal number, or null. [volt]
        specimen: Which of several equal chips or disks was read, or null.
        software: The program and version that added the read.
        notes: Remarks.
        added: When the read was added, RFC 3339.
        temperature: The temperature as a decimal number, or null. [degree Celsius]
    """

    id: str
    file: str
    file_base64: str | None
    original: str
    size_bytes: int
    sha256: str
    modified: str | None
    container: str
    wrapped_in: str | None
    image: ReadImage
    image_path: str
    reader: str | None
    operator: str | None
    date: str | None
    vcc: str | None
    specimen: str | None
    software: str
    notes: tuple[str, ...]
    added: str
    temperature: str | None = None

    def __post_init__(self) -> None:
        for name, value in (("vcc", self.vcc), ("temperature", (self.temperature or "").removeprefix("-") or None)):
            if value is not None and not _DECIMAL.fullmatch(value):
                raise ValueError(f"{name} is not a decimal number: {value!r}")


@dataclass(frozen=True)
class Agreed:
    """The image that the reads of a carrier support, and how good the evidence is.

    Attributes:
        sha256: Of the image, or null where the reads support none.
        grade: `none`, `single`, `repeated`, `independent`, `corroborated` or `disputed`.
        because: What the grade rests on.
        raise_by: What would raise it; null for the highest.
        reads: Ids of the reads that give exactly this image.
        image: Path of its bytes within the carrier's object, or null.
        references: Digests from outside that agree with it; they are held against it again when it is settled anew.
        voted_by: `byte` or `bit` for the majority of reads, or null where reads give the image whole.
        voters: Ids of the reads that voted.
    """

    sha256: str | None
    grade: Grade
    because: str
    raise_by: str | None
    reads: tuple[str, ...]
    image: str | None
    references: tuple[Reference, ...] = ()
    voted_by: Literal["byte", "bit"] | None = None
    voters: tuple[str, ...] = ()


ReplacementGrade = Literal["unread", "failed", "single", "repeated", "proved"]


@dataclass(frozen=True)
class ReadBack:
    """What was read from a new chip or disk, held against what was written.

    Attributes:
        file: The file's name as given, made printable.
        path: Where the decoded bytes lie within the carrier's object.
        sha256: Of these.
        matches: `whole` where they are all that was written, `in-part` where they are the image without what was put
            around it, `no` where they differ.
        reader: The reader used, or null.
        operator: Who read, or null.
        vcc: The supply voltage as a decimal number, or null. [volt]
        date: When it was read, or null.
        added: When this was recorded, RFC 3339.
    """

    file: str
    path: str
    sha256: str
    matches: Literal["whole", "in-part", "no"]
    reader: str | None
    operator: str | None
    vcc: str | None
    date: str | None
    added: str


@dataclass(frozen=True)
class Replacement:
    """A new chip or disk made from an image.

    Attributes:
        id: Its id within the carrier: w1, w2, ...
        part: What it was made of, such as 27C128.
        sha256: Of the image it was made from.
        read_back_sha256: Of the image read back from it last, or null when that was not done.
        matches: Whether all that was read back is what was written, or null.
        operator: Who made it, or null.
        date: When it was made, or null.
        note: A remark, or null.
        added: When this was recorded, RFC 3339.
        image: Which image it was made from: `agreed`, or the id of a read or derived image.
        written_sha256: Of all that was written to it, or null where only the image is known.
        placed: How the image lies in what was written, in words, or null.
        written: Where the written bytes lie within the carrier's object, or null.
        read_backs: What was read from it.
        grade: `unread`, `failed`, `single`, `repeated` or `proved`.
        because: What the grade rests on.
    """

    id: str
    part: str | None
    sha256: str
    read_back_sha256: str | None
    matches: bool | None
    operator: str | None
    date: str | None
    note: str | None
    added: str
    image: str = "agreed"
    written_sha256: str | None = None
    placed: str | None = None
    written: str | None = None
    read_backs: tuple[ReadBack, ...] = ()
    grade: ReplacementGrade = "unread"
    because: str = "Nothing was read back."


@dataclass(frozen=True)
class Derivation:
    """An image that was made from others, so that it can be made again.

    Attributes:
        id: Its id within the carrier: d1, d2, ...
        title: What it is for, or null.
        sources: What it was made from, in the order in which the steps take them.
        steps: What was done, as `imagekeeper convert` records it: each with its name and its parameters.
        sha256: Of the result.
        size_bytes: Of the result. [byte]
        path: Where the result lies within the carrier's object, or null where only its digest is kept.
        software: The program and version that made it.
        added: When, RFC 3339.
        first_address: Of the result. [byte]
    """

    id: str
    title: str | None
    sources: tuple[DerivationSource, ...]
    steps: tuple[dict[str, Any], ...]
    sha256: str
    size_bytes: int
    path: str | None
    software: str
    added: str
    first_address: int = 0


@dataclass(frozen=True)
class DerivationSource:
    """An image that went into another.

    Attributes:
        carrier: The id of the carrier that holds it.
        what: `agreed` for its agreed image, or the id of a read or derivation.
        sha256: Of the image.
    """

    carrier: str
    what: str
    sha256: str


@dataclass(frozen=True)
class Note:
    """A remark on a carrier.

    Attributes:
        text: The remark.
        author: Who made it, or null.
        added: When, RFC 3339.
    """

    text: str
    author: str | None
    added: str


@dataclass(frozen=True)
class Photo:
    """A picture of a carrier.

    Attributes:
        path: Where it lies within the carrier's object.
        file: The file's name as given, made printable.
        sha256: Of the file.
        caption: What it shows, or null.
        added: When, RFC 3339.
    """

    path: str
    file: str
    sha256: str
    caption: str | None
    added: str


@dataclass(frozen=True)
class CarrierRecord:
    """Everything that the archive knows about one carrier.

    Attributes:
        id: The carrier's id.
        kind: One of the kinds of carrier.
        machine: The machine it belongs to, or null.
        board: The board it sits on, or null.
        position: Where it sits on the board or elsewhere, or null.
        reads: Its reads, in the order they were added.
        agreed: The agreed image and its grade, or null where none was settled yet.
        replacements: New chips or disks made from its images.
        events: What happened to it, in order.
        findings: What checks noticed.
        uuid: Its identity across archives.
        part: Its type as marked, or null.
        label: What is written on it, or null.
        note: What was known when it was added, or null.
        created: When it was added, RFC 3339.
        notes: Remarks, in the order they were made.
        photos: Pictures of it.
        version: How often its record was changed, counting its creation.
        markings: What its maker printed on it, or null.
        date_code: The date code among the markings, or null.
        package: Its package, or null.
        condition: What can be seen of its state, or null.
        derivations: Images made from its images.
        contents: What is on a disk, or null where it was not looked at, or nothing is recognised.
    """

    SCHEMA: ClassVar[str] = "carrier/1"

    id: str
    kind: str
    machine: str | None
    board: str | None
    position: str | None
    reads: tuple[Read, ...]
    agreed: Agreed | None
    replacements: tuple[Replacement, ...]
    events: tuple[Event, ...]
    findings: tuple[Finding, ...]
    uuid: str
    part: str | None
    label: str | None
    note: str | None
    created: str
    notes: tuple[Note, ...] = ()
    photos: tuple[Photo, ...] = ()
    version: int = 1
    markings: str | None = None
    date_code: str | None = None
    package: str | None = None
    condition: str | None = None
    derivations: tuple[Derivation, ...] = ()
    contents: DiskContents | None = None


@dataclass(frozen=True)
class MachineRecord:
    """Everything that the archive knows about one machine, without its carriers.

    Attributes:
        id: The machine's id.
        uuid: Its identity across archives.
        name: What it is called; carriers name their machine by this or by the id.
        maker: Who made it, or null.
        model: Its model, or null.
        serial: Its serial number, or null.
        owner: Whose it is, or null.
        note: What was known when it was added, or null.
        created: When it was added, RFC 3339.
        notes: Remarks, in the order they were made.
        photos: Pictures of it.
        events: What happened to it, in order.
        carriers: The ids of its carriers.
        version: How often its record was changed, counting its creation.
    """

    SCHEMA: ClassVar[str] = "machine/1"

    id: str
    uuid: str
    name: str
    maker: str | None
    model: str | None
    serial: str | None
    owner: str | None
    note: str | None
    created: str
    notes: tuple[Note, ...] = ()
    photos: tuple[Photo, ...] = ()
    events: tuple[Event, ...] = ()
    carriers: tuple[str, ...] = ()
    version: int = 1
