"""The record of a read: which file, read by whom, when and how, and the image that the file stands for."""

from __future__ import annotations

import re
from dataclasses import dataclass

from imagekeeper.addresses import Doubt, Span
from imagekeeper.errors import UsageError

#: No supply voltage of a memory chip is higher, the oldest with their 12 V and more included: common practice, no
#: source. It bounds what is said of a part that the tables do not have. [volt]
MOST_VOLTS = 30

#: More digits no number of retries has.
_MOST_DIGITS = 5

_DECIMAL = re.compile(r"[0-9]{1,4}(?:\.[0-9]{1,6})?")


def check_vcc(text: str) -> str:
    """Accept a supply voltage; whether it can be that of a chip is asked elsewhere.

    Args:
        text: A decimal number without a sign, with or without a V behind it. [volt]

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
        raise UsageError("usage/voltage", text=text)
    return number


def check_volts(value: float) -> None:
    """Refuse a number that is the supply voltage of no memory chip, where one is reckoned with. [volt]

    Raises:
        UsageError: `usage`.

    Example:
        >>> check_volts(4.5)
    """
    if not 0 < value <= MOST_VOLTS:
        raise UsageError("usage/voltage-of-no-chip", volts=f"{value:g}", most=MOST_VOLTS)


def check_temperature(text: str) -> str:
    """Accept a temperature; whether a bench can have it is asked elsewhere.

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
        raise UsageError("usage/temperature", text=text)
    return number


def check_retries(text: str) -> str:
    """Accept how often a drive tried a sector again at most.

    Returns:
        The number as it was written.

    Raises:
        UsageError: `usage`.

    Example:
        >>> check_retries(" 20 ")
        '20'
    """
    number = text.strip()
    if not (number.isascii() and number.isdecimal() and len(number) <= _MOST_DIGITS):
        raise UsageError("usage/retries", text=text)
    return number


@dataclass(frozen=True, kw_only=True)
class NotRead:
    """A stretch of a disk that was not read well, as the list of its reader has it.

    Attributes:
        start: Where it begins in the image. [byte]
        length: Its size. [byte]
        state: doubtful, bad or missing, as in a list of bad sectors.
        place: Cylinder, head and sector of its first sector, or null where the list states bytes.
    """

    start: int
    length: int
    state: str
    place: str | None = None


@dataclass(frozen=True, kw_only=True)
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
    segments: tuple[Span, ...]
    doubts: tuple[Doubt, ...] = ()


@dataclass(frozen=True, kw_only=True)
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
        adapter: What stood between the chip and the reader's own socket, or null.
        cable: The cable used, or null.
        drive: The drive that a disk was read in, or null.
        controller: What drove that drive, or null.
        insisted: Names of those members that are unlikely and were insisted upon.
        qualified: What had shown, when this was read, that the reader works, or null.
        parity: The parity that the file's characters carried in bit 7, which was taken away: even, odd, mark, or null.
        repeated: Which value was chosen where the file gives an address several: first, last, or null.
        retries: How often the drive tried a sector again at most, or null.
        listed: Whether a list of what was not read well came with it: without one nothing is known of that.
        not_read: What that list names, ascending; nothing that it calls good.
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
    adapter: str | None = None
    cable: str | None = None
    drive: str | None = None
    controller: str | None = None
    insisted: tuple[str, ...] = ()
    qualified: str | None = None
    parity: str | None = None
    repeated: str | None = None
    retries: str | None = None
    listed: bool = False
    not_read: tuple[NotRead, ...] = ()

    def __post_init__(self) -> None:
        for name, value in (("vcc", self.vcc), ("temperature", (self.temperature or "").removeprefix("-") or None)):
            if value is not None and not _DECIMAL.fullmatch(value):
                raise ValueError(f"{name} is not a decimal number: {value!r}")
