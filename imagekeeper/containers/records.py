"""What the formats made of checked records share: the record, its faults, and the walk over a file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from imagekeeper.containers.building import ImageBuilder
from imagekeeper.containers.lines import AFTER_END, Fault
from imagekeeper.containers.model import Image
from imagekeeper.units import plural


@dataclass(frozen=True, slots=True, kw_only=True)
class LineRecord:
    """What one line says.

    Attributes:
        type: The record's type, as the format numbers it; -1 where the line is no record.
        address: The address field.
        data: Bytes for the image.
        payload: The content of a record that is not for the image.
        fault: What is wrong with the line; the other fields are then what could still be read.
    """

    type: int = -1
    address: int = 0
    data: bytes = b""
    payload: bytes = b""
    fault: Fault | None = None


def wrong_length(stated: int, found: int, of: str = "byte") -> Fault:
    """Tell of a count that disagrees with the line."""
    cut = ": it may be cut" if found < stated else ""
    return Fault(
        "record-length",
        "a record's count disagrees with its line",
        f"the count asks for {plural(stated, of)}, the line holds {max(found, 0)}{cut}",
    )


def too_short(found: int, needed: int, of: str = "byte") -> Fault:
    """Tell of a line that ends before a record could be complete."""
    return Fault(
        "record-length",
        "a record is cut short",
        f"the line holds {plural(found, of)}, a record has {needed} at least",
    )


def wrong_sum(found: int, expected: int, digits: int = 2, place: str = "the line ends in") -> Fault:
    """Tell of a check value that disagrees with the bytes before it."""
    return Fault(
        "record-sum",
        "a record's check value is wrong",
        f"{place} {found:0{digits}X} but its bytes call for {expected:0{digits}X}",
    )


def wrong_type(why: str) -> Fault:
    """Tell of a record type that does not exist or does not fit."""
    return Fault("record-type", "a record's type is unknown or does not fit", why)


def wrong_count(stated: int, found: int) -> Fault:
    """Tell of a stated count of records that was not met."""
    return Fault(
        "record-count",
        "the stated count of records is not met",
        f"the file states {plural(stated, 'data record')}, {found} came before",
    )


class RecordReader:
    """Turns records into an image. Each format derives from it and says what its records mean.

    Args:
        keep_doubtful: Keep what can be kept instead of raising at the first problem.

    Attributes:
        container: The kind of file.
        end_record: What ends the file, in words.
        data_types: The record types that hold data.
    """

    container: ClassVar[str]
    end_record: ClassVar[str]
    data_types: ClassVar[tuple[int, ...]]

    def __init__(self, keep_doubtful: bool) -> None:
        self.builder = ImageBuilder(self.container, keep_doubtful=keep_doubtful)
        self.ended = False
        self.data_records = 0
        self._last_line = 0

    def parse(self, line: bytes) -> LineRecord:
        """Read one line by the rules of the format."""
        raise NotImplementedError

    def base(self) -> int:
        """Give what the records before this one add to its address."""
        return 0

    def spans(self, record: LineRecord) -> list[tuple[int, bytes]]:
        """Give the bytes of a record with the addresses where they belong."""
        return [(self.base() + record.address, record.data)] if record.data else []

    def take(self, record: LineRecord, line: int) -> None:
        """Follow what a record says beyond its bytes; it may be a faulty one that was kept."""

    def read_line(self, number: int, line: bytes) -> None:
        """Take one line.

        Raises:
            InputError: Where it is wrong, unless doubtful input is kept.
        """
        self._take(number, self.parse(line))

    def _take(self, number: int, record: LineRecord) -> None:
        self._last_line = number
        spans = self.spans(record)
        fault = AFTER_END if self.ended else record.fault
        if fault:
            for start, data in spans or [(0, b"")]:
                self.builder.problem(fault.at(number, start, len(data)))
        for start, data in spans:
            self.builder.put(start, data, line=number)
        if record.type in self.data_types:
            self.note_data(record.type, number, 1)
        self.take(record, number)

    def note_data(self, type_: int, line: int, count: int) -> None:
        """Keep account of consecutive data records of one type, the first of them on `line`."""
        self.data_records += count

    def read_run(self, type_: int, address: int, data: bytes, record_bytes: int, line: int) -> None:
        """Take consecutive lines of faultless data records, equally long and at consecutive addresses.

        Args:
            type_: Their type.
            address: The first record's address field.
            data: All their bytes.
            record_bytes: How many bytes each holds. [byte]
            line: The first line's number.
        """
        count = len(data) // record_bytes
        if self.ended:
            for i in range(count):
                at = i * record_bytes
                self._take(line + i, LineRecord(type=type_, address=address + at, data=data[at : at + record_bytes]))
            return
        start = self.base() + address
        self.builder.put_run(data, range(start, start + len(data), record_bytes), range(line, line + count))
        self.note_data(type_, line, count)
        self._last_line = line + count - 1

    def finish(self) -> Image:
        """Give the image.

        Raises:
            InputError: `no-end`, unless doubtful input is kept; and what `ImageBuilder.finish` raises.
        """
        if not self.ended and self.data_records:
            why = f"the file stops after line {self._last_line} without {self.end_record}"
            self.builder.problem(Fault("no-end", "the end record is missing", why).at(self._last_line))
        return self.builder.finish()
