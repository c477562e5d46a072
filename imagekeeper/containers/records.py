"""What the formats made of checked records share: the record, its faults, and the walk over a file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from imagekeeper.addresses import Span
from imagekeeper.containers.building import ImageBuilder
from imagekeeper.containers.lines import AFTER_END, Fault
from imagekeeper.containers.manner import PLAIN, Manner
from imagekeeper.containers.model import Image
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import plural

#: No record of any format holds more, so that a faulty line leaves no larger hole. [byte]
MAX_RECORD_BYTES = 255


@dataclass(frozen=True, slots=True, kw_only=True)
class LineRecord:
    """What one line says.

    Attributes:
        type: The record's type, as the format numbers it; -1 where the line is no record.
        address: The address field.
        data: Bytes for the image.
        payload: The content of a record that is not for the image.
        fault: What is wrong with the line; the other fields are then what could still be read.
        moves: Whether it says where later records belong; of a faulty line, whether it may have been meant to.
    """

    type: int = -1
    address: int = 0
    data: bytes = b""
    payload: bytes = b""
    fault: Fault | None = None
    moves: bool = False


def wrong_length(stated: int, found: int, of: str = "byte") -> Fault:
    """Tell of a count that disagrees with the line."""
    cut = Phrase("record-length/may-be-cut") if found < stated else ""
    return Fault("record-length", stated=plural(stated, of), held=max(found, 0), cut=cut)


def too_short(found: int, needed: int, of: str = "byte") -> Fault:
    """Tell of a line that ends before a record could be complete."""
    return Fault("record-length/cut-short", held=plural(found, of), least=needed)


def wrong_sum(found: int, expected: int, digits: int = 2, place: Phrase | None = None) -> Fault:
    """Tell of a check value that disagrees with the bytes before it, and that ends the line if not said otherwise."""
    place = place or Phrase("record-sum/line-ends-in")
    return Fault("record-sum", place=place, stated=f"{found:0{digits}X}", computed=f"{expected:0{digits}X}")


def wrong_count(stated: int, found: int) -> Fault:
    """Tell of a stated count of records that was not met."""
    return Fault("record-count", stated=stated, found=found)


class RecordReader:
    """Turns records into an image. Each format derives from it and says what its records mean.

    Args:
        keep_doubtful: Keep what can be kept instead of raising at the first problem.
        manner: How the text is taken beyond that.

    Attributes:
        container: The kind of file.
        end_record: What ends the file, in words.
        data_types: The record types that hold data.
    """

    container: ClassVar[str]
    end_record: ClassVar[str]
    data_types: ClassVar[tuple[int, ...]]

    def __init__(self, keep_doubtful: bool, manner: Manner = PLAIN) -> None:
        self.builder = ImageBuilder(self.container, keep_doubtful=keep_doubtful, manner=manner)
        self.ended = False
        self.data_records = 0
        self._last_line = 0
        self._has_end = False   # an end record came, though perhaps a faulty one
        self._end: int | None = None   # where the bytes so far end
        self._torn: tuple[Fault, int] | None = None   # the first faulty line since
        self._torn_lines = 0

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

    def end(self, record: LineRecord) -> bool:
        """Take an end record; a faulty one ends nothing, since it may have been another record."""
        self._has_end = True
        self.ended = self.ended or record.fault is None
        return record.fault is None

    def tear(self, fault: Fault, line: int) -> None:
        """Note that a line told its bytes wrongly, or not at all: addresses that then lack may be its own."""
        self._torn = self._torn or (fault, line)
        self._torn_lines += 1

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
        if record.fault:
            self.tear(record.fault, number)
        if spans:
            self._follow(spans[0][0], spans[-1][0] + len(spans[-1][1]), faulty=record.fault is not None)
        if record.type in self.data_types:
            start, data = spans[0] if spans else (0, b"")
            self.note_data(record.type, number, 1, Span(start, len(data)))
        self.take(record, number)
        if record.moves:
            self._end, self._torn, self._torn_lines = None, None, 0
            if record.fault:
                self.builder.depend(record.fault.at(number))
            elif broken := self.builder.broken(number):
                self.builder.depend(broken)
            else:
                self.builder.depend_no_more()

    def _follow(self, start: int, end: int, *, faulty: bool) -> None:
        """Keep account of where the bytes end; what then lacks up to a good line may be that of the faulty ones."""
        if faulty:
            self._end = end if start == self._end else self._end
            return
        if self._torn is not None:
            (fault, line), before = self._torn, self._end
            if before is not None and before < start <= before + self._torn_lines * MAX_RECORD_BYTES:
                self.builder.missing(fault.at(line, before, start - before))
            self._torn, self._torn_lines = None, 0
        self._end = end

    def mistaken_for_data(self) -> Span:
        """Give the bytes that may be the content of the end record that lacks; by default none."""
        return Span(0, 0)

    def note_data(self, type_: int, line: int, count: int, place: Span) -> None:
        """Keep account of consecutive data records of one type, the first of them on `line`, and where they lie."""
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
        self._follow(start, start + len(data), faulty=False)
        self.note_data(type_, line, count, Span(start, len(data)))
        self._last_line = line + count - 1

    def finish(self) -> Image:
        """Give the image.

        Raises:
            InputError: `no-end`, unless doubtful input is kept; and what `ImageBuilder.finish` raises.
        """
        if not self._has_end and self.data_records:
            fault = Fault("no-end", line=self._last_line, wanted=self.end_record)
            mistaken = self.mistaken_for_data()
            self.builder.problem(fault.at(self._last_line, mistaken.start, mistaken.length))
        return self.builder.finish()
