"""The one family of errors: each says what, why, what to do next, and where; its class knows the exit code.

::

    ImagekeeperError
    ├── ContradictionError exit 1  two things that should agree do not: the answer is no
    ├── UsageError      exit 2   the request itself cannot be carried out
    ├── InputError      exit 3   an input cannot be understood
    ├── ArchiveError    exit 4   the archive is damaged
    ├── NotFoundError   exit 5   a file, carrier or member is not there
    └── InternalError   exit 3   a check of our own work failed
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, ClassVar, Self

if TYPE_CHECKING:
    from imagekeeper.sentences.say import Part, Phrase

#: Every code that an error can carry, with its meaning: the source of the reference page.
CODES: dict[str, str] = {
    # usage
    "usage": "An option or argument is wrong, missing, or does not fit the others.",
    "exists": "The place to write to is taken; nothing is overwritten unasked.",
    "cannot-write": "The operating system refused to write the result.",
    "not-writable-kind": "The container can be read here but not written.",
    "gaps": "The image has gaps and the container asked for cannot hold them.",
    "too-large-to-fill": "Filling the gaps would make an absurdly large file.",
    "address-out-of-range": "An address does not fit the container asked for.",
    "unknown-name": "A name that should be one of a fixed list is not.",
    "does-not-fit": "The size of an image does not fit what is to be done with it.",
    "misread": "An image shows that something went wrong when its disk was read.",
    "would-lose": "What is to be cut away holds more than fill.",
    "step-record": "A recorded step of a conversion is not one that can be done again.",
    # the input as a file
    "directory": "A folder was given where a file is read.",
    "cannot-read": "The operating system refused to read a file.",
    "not-a-file": "A pipe or device was given where a file of known size is needed.",
    "empty": "The file, member or text holds no bytes to work with.",
    "too-large": "The input is larger than the limit that guards against malicious or mistaken files.",
    "too-much-work": "The input asks for more work than any honest one of its size.",
    # wrappers
    "wrapper-damaged": "A gzip or zip wrapper is cut short, damaged, encrypted or of an unknown method.",
    "wrapper-nesting": "Wrappers lie in wrappers more than four deep.",
    "member-choice": "A zip file has several members and none was chosen.",
    "member-missing": "A zip file has no such member, or none at all.",
    # text containers
    "not-this-kind": "The text holds nothing in the container's form.",
    "record-form": "A line is not a record of the container.",
    "record-digits": "A record holds an odd number of digits, or a character that is no digit.",
    "record-length": "A record's byte count disagrees with the bytes on its line, as when a line is cut.",
    "record-sum": "A record's check value disagrees with the bytes before it.",
    "record-parity": "Characters of a line break the parity that the others carry in bit 7.",
    "record-type": "A record's type is reserved, unknown, or does not fit its length.",
    "record-count": "The count of records that the file states is not the count found.",
    "no-end": "The end record is missing: the file may be cut short.",
    "after-end": "There is more after the end record.",
    "overlap": "An address is given twice with the same value.",
    "conflict": "An address is given twice with different values.",
    "address-limit": "An address lies beyond 4 GiB.",
    "line-lost": "Addresses in a listing jump ahead: lines are missing.",
    "line-repeated": "An address in a listing comes again.",
    "column-mismatch": "The text column of a listing disagrees with its hexadecimal column.",
    "bench-form": "The file that lists a person's drives and disks is not in its form.",
    "own-rows": "A row or file of a person's own tables cannot be used.",
    "table-form": "A row or column of a table that was filled in cannot be understood.",
    # archive and catalogue
    "archive-missing": "No archive was named and none encloses this folder.",
    "archive-exists": "There is already an archive, or something else, at the place given.",
    "archive-damaged": "The archive's files contradict their own digests or the standard's structure.",
    "archive-busy": "Another program holds the archive's lock.",
    "archive-newer": "The archive was made by a later version than this program understands.",
    "replica-moved-on": "A copy of the archive holds what the archive never had.",
    "odd-facts": "A fact cannot be so, or a name looks like a slip of one that is known; it is kept if insisted upon.",
    "carrier-id": "A carrier id cannot serve as a folder name everywhere.",
    "carrier-exists": "There is already a carrier or machine with this id.",
    "carrier-missing": "There is no carrier with this id.",
    "machine-missing": "There is no machine with this id.",
    "picture-unknown": "A file that was given as a picture is none that can be kept as one.",
    "bag-damaged": "A bag is not complete, not valid, or holds no carriers that can be taken in.",
    "bag-unsafe": "A bag holds links, paths or other things that no bag needs and that could do harm.",
    "no-reads": "The carrier has no read to work with.",
    "not-found": "A file or folder that was named does not exist.",
    "chip-unknown": "No chip of the table, or more than one, has this marking.",
    "maker-unknown": "No data sheet of this maker's chip is in the table.",
    "doubtful": "An image has bytes that its own file speaks against, and something final was to be made of it.",
    "not-blank": "A chip that was to be blank before it is written is not.",
    "not-of-image": "What was written to a replacement does not hold the image that it should be made from.",
    "must-erase": "A chip cannot take an image as it is: bits would have to go back to the blank state.",
    "drive-unknown": "No class of drives, and no drive of the bench, has this name.",
    "drive-cannot": "A drive cannot write the disk that was asked for.",
    "format-unknown": "No disk format of the table, or more than one, goes by this name.",
    "reference-mismatch": "A reference digest that was supplied is not that of the image.",
    # last resort
    "interrupted": "The user stopped the command; nothing was left half made.",
    "internal": "The program met a state it was not built for: a fault of its own, worth reporting.",
}


@dataclass(frozen=True)
class Where:
    """The place that an error or finding is about; unknown parts are None.

    Attributes:
        file: The file's name as given, made printable.
        member: The member of a zip file.
        line: Line number, counted from 1.
        address: Address in the image. [byte]
        length: How many bytes from there. [byte]
    """

    file: str | None = None
    member: str | None = None
    line: int | None = None
    address: int | None = None
    length: int | None = None

    def __str__(self) -> str:
        """Say it in words, largest part first.

        Example:
            >>> print(Where(file="u4.hex", line=3))
            u4.hex, line 3
        """
        parts = []
        if self.file is not None:
            parts.append(self.file)
        if self.member is not None:
            parts.append(f"member {self.member}")
        if self.line is not None:
            parts.append(f"line {self.line}")
        if self.address is not None:
            parts.append(f"address {self.address:04X}")
        return ", ".join(parts)


class ImagekeeperError(Exception):
    """What went wrong, why, what to do next, and where.

    Its sentences stand in `imagekeeper.sentences`; the error carries their key and what to put into them.

    Args:
        about: One of `CODES`, or one with the name of a case behind it: `record-digits/odd`.
        where: The place, as far as it is known.
        values: What the sentences need.

    Attributes:
        code: The code.
        about: The key of its sentences.
        values: What is put into them.
        where: The place.

    Example:
        >>> problem = InputError("record-digits/odd", where=Where(line=3), digits=5)
        >>> print(problem)
        a record holds an odd number of digits: there are 5 of them: one is missing
    """

    exit_code: ClassVar[int] = 3

    def __init__(self, about: str, /, *, where: Where | None = None, **values: Any) -> None:
        super().__init__(about)
        self.about = about
        self.code = about.partition("/")[0]
        self.where = where or Where()
        self.values = values
        self._more: list[tuple[str, Phrase]] = []

    @property
    def what(self) -> str:
        """The failure, as a sentence without a full stop."""
        return self._say("what")

    @property
    def why(self) -> str:
        """The evidence for it: what was found and what was expected."""
        return self._say("why")

    @property
    def hint(self) -> str:
        """What the user can do next."""
        return self._say("next")

    def _say(self, part: Part) -> str:
        from imagekeeper.sentences.say import said  # not needed before something fails

        more = "".join(str(phrase) for behind, phrase in self._more if behind == part)
        return said(self.about, part, self.values) + more

    def __str__(self) -> str:
        return f"{self.what}: {self.why}"

    def adding(self, *, why: Phrase | None = None, next: Phrase | None = None) -> Self:   # noqa: A002
        """Put more behind a sentence, which only the caller knows."""
        self._more += [(part, phrase) for part, phrase in (("why", why), ("next", next)) if phrase is not None]
        return self

    def at(self, *, file: str | None = None, member: str | None = None) -> Self:
        """Add the file and member, which only the caller knows, unless they are known already."""
        where = self.where
        if where.file is None:
            where = replace(where, file=file)
        if where.member is None:
            where = replace(where, member=member)
        self.where = where
        return self


class ContradictionError(ImagekeeperError):
    """Two things that should agree do not: the answer is no."""

    exit_code = 1


class UsageError(ImagekeeperError):
    """The request itself cannot be carried out."""

    exit_code = 2


class InputError(ImagekeeperError):
    """An input cannot be understood."""

    exit_code = 3


class ArchiveError(ImagekeeperError):
    """The archive is damaged, or not one that this program can use."""

    exit_code = 4


class NotFoundError(ImagekeeperError):
    """A file, carrier or member is not there."""

    exit_code = 5


class InternalError(ImagekeeperError):
    """A check of our own work failed: what was made is not what it should be, and is not given out.

    Such checks are no asserts, which `python -O` leaves out.
    """

    exit_code = 3


#: Exit codes, with their meaning: the source of the reference page.
EXIT_CODES: dict[int, str] = {
    0: "fine",
    1: "the answer is no, the reads differ, or there are findings",
    2: "usage: the request cannot be carried out as given",
    3: "an input cannot be understood",
    4: "the archive is damaged",
    5: "not found",
    130: "interrupted",
}
