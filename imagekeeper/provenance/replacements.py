"""The record of a replacement: a new chip or disk made from an image, and what was read back from it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from imagekeeper.units import plural

ReplacementGrade = Literal["unread", "failed", "single", "repeated", "proved"]


@dataclass(frozen=True, kw_only=True)
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
        adapter: The adapter between reader and chip, or null.
        cable: The cable between reader and chip or drive, or null.
        drive: The drive that read the disk, or null.
        controller: What the drive hung on, or null.
        modified: When the file was last changed, RFC 3339, or null.
        taken_back: Whether it was taken back: then it is no evidence any more.
        insisted: The members that look impossible, or like a slip, and were insisted upon.
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
    adapter: str | None = None
    cable: str | None = None
    drive: str | None = None
    controller: str | None = None
    modified: str | None = None
    insisted: tuple[str, ...] = ()
    taken_back: bool = False


@dataclass(frozen=True, kw_only=True)
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
        written_bytes: The size of all that was written to it, or null. [byte]
        markings: What is printed on the new chip or disk, or null.
        date_code: The date code among that, or null.
        blank: What shows that it was blank before it was written, or null.
        look_again: When to read it again, or null.
        written_file: The name of the file that was written, or null where it was not recorded.
        written_modified: When that was last changed, RFC 3339, or null.
        insisted: The members that look impossible, or like a slip, and were insisted upon.
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
    insisted: tuple[str, ...] = ()
    written_bytes: int | None = None
    markings: str | None = None
    date_code: str | None = None
    blank: str | None = None
    look_again: str | None = None
    written_file: str | None = None
    written_modified: str | None = None


@dataclass(frozen=True)
class Placement:
    """How an image lies in what is written to a chip or disk.

    Attributes:
        says: In words.
        start: Where the first copy begins. [byte]
        copies: How many copies there are.
    """

    says: str
    start: int
    copies: int


def placement(image: bytes, written: bytes) -> Placement | None:
    r"""Find how an image lies in what is written: whole, repeated, or with one fill byte around it.

    Returns:
        None where the image is not in it, or something else is there besides.

    Example:
        >>> placement(b"TIDE", b"TIDETIDE").says, placement(b"TIDE", b"\xff\xffTIDE\xff").start
        ('2 copies', 2)
        >>> placement(b"TIDE", b"TIDEGAGE") is None
        True
    """
    if not image or len(image) > len(written):
        return None
    if image == written:
        return Placement("as it is", 0, 1)
    copies, over = divmod(len(written), len(image))
    if not over and image * copies == written:
        return Placement(plural(copies, "copy", "copies"), 0, copies)
    start = written.find(image)
    while start >= 0:
        around = written[:start] + written[start + len(image) :]
        if around == around[:1] * len(around):
            return Placement(f"from {start:04X}, with {around[0]:02X} around it", start, 1)
        start = written.find(image, start + 1)
    return None
