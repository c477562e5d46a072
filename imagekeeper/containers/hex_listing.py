"""The order of a listing: addresses prove that no line is missing, repeated or cut short."""

from __future__ import annotations

from dataclasses import replace

from imagekeeper.containers.building import ImageBuilder, LineProblem
from imagekeeper.containers.hex_layout import ListingLayout
from imagekeeper.containers.hex_reading import LineReading, Role
from imagekeeper.containers.lines import Fault
from imagekeeper.containers.model import Image
from imagekeeper.units import ADDRESS_LIMIT, MIB, plural, range_text, size_text

NAME = "hex-text"

#: Lines that stand for repeated ones are written out up to so many bytes in all: three lines of text could ask for
#: 4 GiB. No chip or floppy disk of the period is larger. [byte]
MAX_REPEATED_BYTES = 64 * MIB

_LIST_AGAIN = (
    "have the machine print these addresses again and put the lines in their place; if the listing is all there is, "
    "--keep-doubtful imports it and records the doubtful addresses"
)


class Listing:
    """Follows the addresses from line to line.

    Args:
        layout: The layout.
        keep_doubtful: Record problems as doubts instead of raising the first.
    """

    def __init__(self, layout: ListingLayout, keep_doubtful: bool) -> None:
        self._layout = layout
        self._builder = ImageBuilder(NAME, keep_doubtful=keep_doubtful)
        self._addressed = layout.addressing != "none"
        plain_hex = layout.addressing == "plain" and layout.base == 16
        self._digits = max(4, layout.address_digits) if plain_hex else 5 if layout.addressing == "segmented" else 4
        self._held: tuple[int, int, bytes] | None = None   # the last line, until the next shows that it is no command
        self._last = (0, 0, b"", 0)   # line, address and bytes of the last line, and how many it should have had more
        self._expected: int | None = None   # where the next line should continue
        self._resume: int | None = None   # or here, after lines that came again
        self._interrupted = False
        self._repeat: int | None = None   # the line that stands for repeated ones
        self._end: tuple[int, int, bool] | None = None   # an address alone: line, address, whether interrupted before
        self._bare: tuple[int, int] | None = None   # the last line that had an address and no bytes: line, address
        self._repeated_bytes = 0
        self._seen: dict[int, int] = {}   # address to index in the lists
        self._lines: list[int] = []
        self._data: list[bytes] = []

    def take(self, line: int, reading: LineReading) -> None:
        """Take what one line says.

        Raises:
            InputError: Where it or its place is wrong, unless doubtful input is kept.
        """
        role = reading.role
        if role in (Role.ADDRESS, Role.SUSPECT) and reading.address >= 0:
            self._bare = (line, reading.address)
        if role is Role.DATA:
            self._take_data(line, reading)
        elif role is Role.DAMAGED:
            assert reading.fault is not None
            self._builder.problem(replace(reading.fault.at(line), hint=_LIST_AGAIN))
        elif role is Role.REPEAT:
            if self._expected is None or self._interrupted:
                self._interrupted = True   # the prompt of a monitor
            else:
                self._repeat = self._repeat or line
        elif role is Role.ADDRESS and self._repeat is not None:
            self._fill(reading.address)
            self._expected = reading.address
            self._interrupted = True
        elif role is Role.ADDRESS:
            self._settle_end()
            self._end = (line, reading.address, self._interrupted)
        elif role is Role.SUSPECT and reading.address in (self._expected, -1):
            pass   # a command typed does no harm; a damaged line must not pass for an interruption
        else:
            self._settle_end()
            if role is not Role.EMPTY and self._repeat is not None:
                self._unclear_repeat()
            self._interrupted = True

    def finish(self) -> Image:
        """Give the image.

        Raises:
            InputError: As `take` and `ImageBuilder.finish` do.
        """
        self._flush()
        self._settle_end()
        if self._repeat is not None:
            self._unclear_repeat()
        return replace(self._builder.finish(), addressed=self._addressed)

    # --- one line of bytes ---

    def _take_data(self, line: int, reading: LineReading) -> None:
        address = reading.address if self._addressed else self._expected or 0
        data = reading.data
        if address + len(data) > ADDRESS_LIMIT:
            self._builder.put(address, data, line=line)
            return
        held = self._held
        if held and held[1] == address and self._is_command(held, line, data):
            self._held, self._expected = None, None
        self._flush()
        if self._addressed:
            if self._bare:
                self._check_bare(*self._bare, line, address)
            self._check_address(line, address, len(data))
        else:
            self._check_length()
        if reading.fault:
            start, length = address, len(data)
            if reading.lost:
                start, length = address + length, reading.lost
            self._report(reading.fault, line, start, length, f"at {address:0{self._digits}X} ")
        self._held = (line, address, data)
        self._last = (line, address, data, reading.lost)
        lost = reading.lost if self._addressed else 0
        self._expected = address + len(data) + lost
        self._interrupted = False
        self._end = self._bare = None

    def _is_command(self, held: tuple[int, int, bytes], line: int, data: bytes) -> bool:
        """Whether the line before was no line of the listing but a command typed, as `0000 00FF`."""
        one_group = len(held[2]) * 2 <= self._layout.group_digits
        return self._addressed and one_group and len(data) > len(held[2]) and line - held[0] <= 3

    def _flush(self) -> None:
        """Put the bytes of the last line, unless they are there already."""
        if self._held is None:
            return
        line, address, data = self._held
        self._held = None
        index = self._seen.get(address)
        if index is None:
            self._seen[address] = len(self._lines)
            self._lines.append(line)
            self._data.append(data)
            self._builder.put(address, data, line=line)
            return
        first, earlier = self._data[index], self._lines[index]
        common = min(len(first), len(data))
        where = range_text(address, common, self._digits)
        if data[:common] == first[:common]:
            why = f"line {line} gives {where} again, with the same bytes as line {earlier}"
            fault = Fault("line-repeated", "an address in the listing comes again", why)
        else:
            at = next(i for i in range(common) if data[i] != first[i])
            why = (
                f"line {line} gives {data[at]:02X} at {address + at:0{self._digits}X} where line {earlier} gave "
                f"{first[at]:02X}"
            )
            fault = Fault("conflict", "an address is given twice with different values", why)
        self._builder.problem(
            LineProblem(
                code=fault.code, what=fault.what, why=fault.why,
                hint="look which of the two lines belongs there and remove the other; --keep-doubtful keeps the line "
                "that "
                "came first and records the addresses",
                line=line, start=address, length=common,
            )
        )  # fmt: skip
        if len(data) > common:
            self._builder.put(address + common, data[common:], line=line)

    # --- where it should continue ---

    def _check_address(self, line: int, address: int, length: int) -> None:
        expected = self._expected
        if expected is None:
            return
        if self._repeat is not None:
            self._fill(address)
        elif address < expected:
            self._resume = max(expected, self._resume or 0)
            wrapped = address == 0 and expected % 0x10000 == 0   # a machine's last address is followed by its first
            if not (self._interrupted or self._end or wrapped or address in self._seen):
                d = self._digits
                why = f"line {line} goes back to {address:0{d}X} where {expected:0{d}X} was expected"
                self._report(Fault("line-lost", "lines of the listing are out of order", why), line, address, length)
        elif address > expected and not self._interrupted and self._end is None and address != self._resume:
            self._lost(line, address)

    def _check_bare(self, bare: int, start: int, line: int, address: int) -> None:
        """Report an address alone in the place of a line: the next line continues as if it had its bytes."""
        size = self._layout.line_bytes
        if address == start + size and (self._expected is None or self._expected <= start):
            where = range_text(start, size, self._digits)
            why = (
                f"line {bare} has the address {start:0{self._digits}X} and no bytes, and line {line} continues at "
                f"{address:0{self._digits}X}: {where} missing"
            )
            self._report(Fault("record-length", "a line of the listing is cut short", why), bare, start, size)
            self._expected = address

    def _lost(self, line: int, address: int) -> None:
        """Report the addresses that the listing jumps over."""
        before, start, data, _ = self._last
        expected = start + len(data) if self._expected is None else self._expected
        missing = address - expected
        d = self._digits
        if len(data) < self._layout.line_bytes and address == start + self._layout.line_bytes:
            why = (
                f"line {before} has {plural(len(data), 'byte')} where {self._layout.line_bytes} are expected, and "
                f"line {line} continues at {address:0{d}X}: {range_text(expected, missing, d)} missing"
            )
            fault = Fault("record-length", "a line of the listing is cut short", why)
            self._report(fault, before, expected, missing)
            return
        why = (
            f"line {line} continues at {address:0{d}X} where {expected:0{d}X} was expected: "
            f"{plural(missing, 'byte')} missing, {range_text(expected, missing, d)}"
        )
        self._report(Fault("line-lost", "lines of the listing are missing", why), line, expected, missing)

    def _check_length(self) -> None:
        """Report a short line that is followed by another, in a listing without addresses."""
        line, address, data, _ = self._last
        if line and not self._interrupted and len(data) < self._layout.line_bytes:
            why = (
                f"line {line} has {plural(len(data), 'byte')} where {self._layout.line_bytes} are expected, and "
                f"another line follows"
            )
            fault = Fault("record-length", "a line of the listing is cut short", why)
            self._report(fault, line, address, len(data))
        if self._repeat is not None:
            self._unclear_repeat()

    def _settle_end(self) -> None:
        """Compare an address that stood alone, with no line of bytes after it, with where the listing ended."""
        if self._end is None:
            return
        line, address, interrupted = self._end
        self._end = None
        self._flush()
        if self._expected is None or interrupted:
            return
        if address > self._expected:
            self._lost(line, address)
        elif 0 < self._expected - address < self._layout.group_digits // 2:
            why = (
                f"line {line} ends the listing at {address:0{self._digits}X}, but the groups before it reach "
                f"{self._expected:0{self._digits}X}: the last one is filled up"
            )
            fault = Fault("record-length", "the listing holds more bytes than its end address says", why)
            self._report(fault, line, address, self._expected - address)
        self._interrupted = True

    # --- lines that stand for repeated ones ---

    def _fill(self, address: int) -> None:
        """Write out the repeated line up to an address."""
        line, self._repeat = self._repeat or 0, None
        self._flush()
        _, start, data, lost = self._last
        expected = start + len(data)
        missing = address - expected
        if missing <= 0 and not lost:
            return
        where = range_text(expected, missing, self._digits)
        if lost or missing % len(data):
            why = (
                f"line {line} stands for {where}, {plural(missing, 'byte')}, which the line before it, with "
                f"{plural(len(data), 'byte')}, does not fill evenly"
            )
            self._report(Fault("line-lost", "repeated lines cannot be written out", why), line, expected, missing)
        elif self._repeated_bytes + missing > MAX_REPEATED_BYTES:
            why = f"line {line} stands for {size_text(missing)}; the limit is {size_text(MAX_REPEATED_BYTES)} in all"
            fault = Fault("too-large-to-fill", "repeated lines stand for an absurd number of bytes", why)
            self._report(fault, line, expected, missing)
        elif address > ADDRESS_LIMIT:
            self._builder.put(expected, data * (missing // len(data)), line=line)
        else:
            self._repeated_bytes += missing
            self._builder.put(expected, data * (missing // len(data)), line=line)

    def _unclear_repeat(self) -> None:
        line, self._repeat = self._repeat, None
        after = self._last[1] + len(self._last[2])
        why = f"after {after:0{self._digits}X}, line {line} says that lines repeat, and no address says up to where"
        self._report(Fault("line-lost", "repeated lines cannot be written out", why), line or 0, after, 0)

    def _report(self, fault: Fault, line: int, start: int, length: int, prefix: str = "") -> None:
        problem = replace(fault.at(line, start, length), why=prefix + fault.why if prefix else fault.why)
        self._builder.problem(replace(problem, hint=_LIST_AGAIN))
