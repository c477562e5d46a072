"""The order of a listing: addresses prove that no line is missing, repeated or cut short.

What depends on what: the address of a line says where its bytes belong. One alone after a jump, which the next line
does not continue, is a witness for itself only: its bytes are doubtful. In a listing without addresses a line belongs
behind those before it: after one of which it is not certain how many bytes it had, all that follows is doubtful.
"""

from __future__ import annotations

from dataclasses import replace

from imagekeeper.containers.building import ImageBuilder, LineProblem
from imagekeeper.containers.hex_layout import ListingLayout
from imagekeeper.containers.hex_reading import LineReading, Role
from imagekeeper.containers.lines import Fault
from imagekeeper.containers.manner import PLAIN, Manner
from imagekeeper.containers.model import Image
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import ADDRESS_LIMIT, MIB, range_text

NAME = "hex-text"

#: Lines that stand for repeated ones are written out up to so many bytes in all: three lines of text could ask for
#: 4 GiB. No chip or floppy disk of the period is larger. [byte]
MAX_REPEATED_BYTES = 64 * MIB


class Listing:
    """Follows the addresses from line to line.

    Args:
        layout: The layout.
        keep_doubtful: Record problems as doubts instead of raising the first.
        manner: How the text is taken beyond that.
    """

    def __init__(self, layout: ListingLayout, keep_doubtful: bool, manner: Manner = PLAIN) -> None:
        self._layout = layout
        self._builder = ImageBuilder(NAME, keep_doubtful=keep_doubtful, manner=manner)
        self._chosen = manner.repeated != "refuse"   # which value counts: then the builder settles it
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
        self._jumped: LineProblem | None = None   # the last line, where it stands behind a jump that was reported
        self._moving: LineProblem | None = None   # the last line, where those that follow may belong elsewhere
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
            self._builder.problem(reading.fault.at(line))
            self._moves(reading.fault, line)
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
        self._settle_jump()
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
            place = Phrase("column-mismatch/at", address=address, digits=self._digits)
            fault = reading.fault.saying(at=place)
            self._report(fault, line, start, length)
            if fault.code != "column-mismatch" and not self._addressed:
                self._moving = fault.at(line)
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
        if self._held is not None:
            held, self._held = self._held, None
            self._put(*held)
        if self._moving is not None:
            self._builder.depend(self._moving)
            self._moving = None

    def _moves(self, fault: Fault, line: int) -> None:
        """Note that in a listing without addresses the lines from here on may belong elsewhere."""
        if not self._addressed:
            self._moving = fault.at(line)
            self._flush()

    def _put(self, line: int, address: int, data: bytes) -> None:
        index = self._seen.get(address)
        if index is None:
            self._seen[address] = len(self._lines)
            self._lines.append(line)
            self._data.append(data)
            self._builder.put(address, data, line=line)
            return
        if self._chosen:
            self._builder.put(address, data, line=line)
            return
        first, earlier = self._data[index], self._lines[index]
        common = min(len(first), len(data))
        span = range_text(address, common, self._digits)
        if data[:common] == first[:common]:
            fault = Fault("line-repeated", line=line, span=span, earlier=earlier)
        else:
            at = next(i for i in range(common) if data[i] != first[i])
            fault = Fault(
                "conflict/in-listing", line=line, value=data[at], at=address + at, digits=self._digits,
                earlier=earlier, kept=first[at],
            )  # fmt: skip
        self._report(fault, line, address, common)
        if len(data) > common:
            self._builder.put(address + common, data[common:], line=line)

    # --- where it should continue ---

    def _check_address(self, line: int, address: int, length: int) -> None:
        expected = self._expected
        if expected is None:
            return
        if address == expected:
            self._jumped = None   # two lines in order bear each other out
        self._settle_jump()
        if self._repeat is not None:
            self._fill(address)
        elif address < expected:
            self._resume = max(expected, self._resume or 0)
            wrapped = address == 0 and expected % 0x10000 == 0   # a machine's last address is followed by its first
            if not (self._interrupted or self._end or wrapped or address in self._seen):
                fault = Fault("line-lost/order", line=line, at=address, expected=expected, digits=self._digits)
                self._report(fault, line, address, length)
        elif address > expected and not self._interrupted and self._end is None and address != self._resume:
            self._lost(line, address, length)

    def _settle_jump(self) -> None:
        """Doubt a line behind a jump that nothing bears out: its address may be what is wrong."""
        if self._jumped is not None:
            self._builder.problem(self._jumped)
            self._jumped = None

    def _check_bare(self, bare: int, start: int, line: int, address: int) -> None:
        """Report an address alone in the place of a line: the next line continues as if it had its bytes."""
        size = self._layout.line_bytes
        if address == start + size and (self._expected is None or self._expected <= start):
            fault = Fault(
                "record-length/address-alone", bare=bare, start=start, digits=self._digits, line=line, at=address,
                missing=range_text(start, size, self._digits),
            )  # fmt: skip
            self._report(fault, bare, start, size)
            self._expected = address

    def _lost(self, line: int, address: int, length: int = 0) -> None:
        """Report the addresses that the listing jumps over to a line of so many bytes."""
        before, start, data, _ = self._last
        expected = start + len(data) if self._expected is None else self._expected
        missing = address - expected
        d = self._digits
        if len(data) < self._layout.line_bytes and address == start + self._layout.line_bytes:
            fault = Fault(
                "record-length/line-of-listing", short=before, held=len(data), wanted=self._layout.line_bytes,
                line=line, at=address, digits=d, missing=range_text(expected, missing, d),
            )  # fmt: skip
            self._report(fault, before, expected, missing)
            return
        fault = Fault(
            "line-lost", line=line, at=address, expected=expected, digits=d, missing=missing,
            span=range_text(expected, missing, d),
        )  # fmt: skip
        self._report(fault, line, expected, missing)
        self._jumped = fault.at(line, address, length) if length else None

    def _check_length(self) -> None:
        """Report a short line that is followed by another, in a listing without addresses."""
        line, address, data, _ = self._last
        if line and not self._interrupted and len(data) < self._layout.line_bytes:
            fault = Fault(
                "record-length/short-line", line=line, held=len(data), wanted=self._layout.line_bytes
            )
            self._report(fault, line, address, len(data))
            self._moves(fault, line)
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
        if address == self._expected:
            self._jumped = None
        elif address > self._expected:
            self._lost(line, address)
        elif 0 < self._expected - address < self._layout.group_digits // 2:
            fault = Fault(
                "record-length/beyond-end", line=line, at=address, reached=self._expected, digits=self._digits
            )
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
        span = range_text(expected, missing, self._digits)
        if lost or missing % len(data):
            fault = Fault("line-lost/uneven", line=line, span=span, missing=missing, held=len(data))
            self._report(fault, line, expected, missing)
        elif self._repeated_bytes + missing > MAX_REPEATED_BYTES:
            fault = Fault("too-large-to-fill/repeated", line=line, size=missing, limit=MAX_REPEATED_BYTES)
            self._report(fault, line, expected, missing)
        elif address > ADDRESS_LIMIT:
            self._builder.put(expected, data * (missing // len(data)), line=line)
        else:
            self._repeated_bytes += missing
            self._builder.put(expected, data * (missing // len(data)), line=line)

    def _unclear_repeat(self) -> None:
        line, self._repeat = self._repeat, None
        after = self._last[1] + len(self._last[2])
        fault = Fault("line-lost/unending", after=after, digits=self._digits, line=line)
        self._report(fault, line or 0, after, 0)
        self._moves(fault, line or 0)

    def _report(self, fault: Fault, line: int, start: int, length: int) -> None:
        self._builder.problem(fault.at(line, start, length))
