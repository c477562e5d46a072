"""Collect bytes at addresses from a text container, strictly or keeping what is doubtful."""

from __future__ import annotations

import bisect
import itertools
from array import array
from collections.abc import Sequence
from dataclasses import dataclass

from imagekeeper.addresses import Doubt
from imagekeeper.containers.model import Image, Segment
from imagekeeper.errors import InputError, Where
from imagekeeper.units import ADDRESS_LIMIT, address_digits, plural, range_text

#: A damaged file is described by its first doubts; past this many the rest are only counted.
MAX_DOUBTS = 10_000


@dataclass(frozen=True, kw_only=True)
class LineProblem:
    """Something wrong with a line, and the addresses whose bytes it makes doubtful.

    Attributes:
        code: An error code.
        what: The failure, in words.
        why: What was found and what was expected.
        hint: What to do next.
        line: Line number, counted from 1, or None for the file as a whole.
        start: First doubtful address.
        length: How many addresses; 0 for none.
    """

    code: str
    what: str
    why: str
    hint: str
    line: int | None = None
    start: int = 0
    length: int = 0


FETCH_AGAIN = (
    "fetch the file from the reader again; if it is all there is, --keep-doubtful imports it "
    "and records the doubtful addresses"
)


#: The addresses at which lines begin, ascending, and those lines' numbers.
_Lines = tuple[Sequence[int], Sequence[int]]


@dataclass(frozen=True, slots=True)
class _Piece:
    """Bytes at consecutive addresses, with the lines that they came from."""

    start: int
    data: bytes
    lines: Sequence[_Lines]

    @property
    def end(self) -> int:
        return self.start + len(self.data)

    def line_of(self, address: int) -> int:
        addresses, numbers = self.lines[bisect.bisect_right(self.lines, address, key=lambda ls: ls[0][0]) - 1]
        return numbers[bisect.bisect_right(addresses, address) - 1]


class ImageBuilder:
    """Bytes come in as the lines give them; an image comes out.

    Args:
        container: The kind of file, for the image.
        keep_doubtful: Record problems as doubts instead of raising the first.

    Example:
        >>> builder = ImageBuilder("intel-hex")
        >>> builder.put(0x10, b"AB", line=1); builder.put(0x12, b"C", line=2)
        >>> builder.finish().tobytes()
        b'ABC'
    """

    def __init__(self, container: str, *, keep_doubtful: bool = False) -> None:
        self._container = container
        self._keep_doubtful = keep_doubtful
        self._pieces: list[_Piece] = []
        self._run: list[bytes] = []   # joins into the piece that is growing
        self._run_lines: list[_Lines] = []
        self._run_start = self._run_end = 0
        self._doubts: list[Doubt] = []
        self._untold = 0
        self.entry: int | None = None
        self.title: str | None = None

    def put(self, address: int, data: bytes, *, line: int) -> None:
        """Add one line's bytes.

        Raises:
            InputError: `address-limit`, unless doubtful input is kept (the bytes are then left out).
        """
        if not data:
            return
        if address + len(data) > ADDRESS_LIMIT:
            self._beyond(address, len(data), line)
            return
        self._extend(address, data)
        if not self._run_lines or not isinstance(self._run_lines[-1][0], list):
            self._run_lines.append(([], []))
        addresses, numbers = self._run_lines[-1]
        assert isinstance(addresses, list)
        assert isinstance(numbers, list)
        addresses.append(address)
        numbers.append(line)

    def put_run(self, data: bytes, addresses: Sequence[int], lines: Sequence[int]) -> None:
        """Add the bytes of many lines at consecutive addresses, with each line's address and number.

        The result is that of one `put` a line, except that a run past 4 GiB is refused as a whole.

        Raises:
            InputError: `address-limit`, unless doubtful input is kept (the bytes are then left out).
        """
        if addresses[0] + len(data) > ADDRESS_LIMIT:
            self._beyond(addresses[0], len(data), lines[0])
            return
        self._extend(addresses[0], data)
        self._run_lines.append((addresses, lines))

    def _extend(self, address: int, data: bytes) -> None:
        if address != self._run_end or not self._run:
            self._close_run()
            self._run_start = address
        self._run.append(data)
        self._run_end = address + len(data)

    def _beyond(self, address: int, length: int, line: int) -> None:
        self.problem(
            LineProblem(
                code="address-limit",
                what="an address lies beyond 4 GiB",
                why=f"the line asks for {plural(length, 'byte')} at {address:X}, past FFFFFFFF",
                hint="check the address records before this line; --keep-doubtful leaves these bytes out",
                line=line,
            )
        )

    def problem(self, problem: LineProblem) -> None:
        """Raise a problem, or keep it as a doubt when doubtful input is kept.

        Raises:
            InputError: With the problem's code, unless doubtful input is kept.
        """
        if not self._keep_doubtful:
            raise InputError(
                problem.code, problem.what, why=problem.why, hint=problem.hint, where=Where(line=problem.line)
            )
        if len(self._doubts) < MAX_DOUBTS:
            self._doubts.append(
                Doubt(start=problem.start, length=problem.length, code=problem.code, why=problem.why, line=problem.line)
            )
        else:
            self._untold += 1

    def finish(self) -> Image:
        """Join everything into an image.

        Raises:
            InputError: `overlap` or `conflict` where an address came twice, unless doubtful input is kept:
                then the value that came first in the file stays. `not-this-kind` where there is no data.
        """
        self._close_run()
        if not self._pieces:
            raise InputError(
                "not-this-kind",
                "the file holds no data",
                why=f"no line of it gives bytes as {self._container} does",
                hint="look at the file; --from names another kind of container",
            )
        segments = _join(self._settled())
        if self._untold:
            self._doubts.append(
                Doubt(
                    start=0, length=0, code=self._doubts[-1].code,
                    why=f"{plural(self._untold, 'more doubt')} not listed",
                )
            )
        return Image(
            segments=segments,
            doubts=tuple(sorted(self._doubts, key=lambda d: (d.start, d.line or 0))),
            container=self._container,
            addressed=True,
            entry=self.entry,
            title=self.title,
        )

    def _close_run(self) -> None:
        if self._run:
            self._pieces.append(_Piece(self._run_start, b"".join(self._run), self._run_lines))
            self._run, self._run_lines = [], []

    def _settled(self) -> list[_Piece]:
        """Sort by address and resolve addresses that came twice; the earlier in the file stays."""
        settled: list[_Piece] = []
        cluster: list[tuple[int, _Piece]] = []   # pieces that share addresses, with their place in the file
        end = -1
        for place, piece in sorted(enumerate(self._pieces), key=lambda pair: pair[1].start):
            if piece.start >= end and cluster:
                settled.append(self._settle(cluster))
                cluster = []
            cluster.append((place, piece))
            end = max(end, piece.end)
        if cluster:
            settled.append(self._settle(cluster))
        return settled

    def _settle(self, cluster: list[tuple[int, _Piece]]) -> _Piece:
        """Lay overlapping pieces over each other, in time and memory that grow with their bytes alone."""
        if len(cluster) == 1:
            return cluster[0][1]
        pieces = [piece for _, piece in sorted(cluster, key=lambda pair: pair[0])]
        base, end = min(piece.start for piece in pieces), max(piece.end for piece in pieces)
        values = bytearray(end - base)
        owners = array("i", [-1]) * (end - base)   # which piece gave each value; -1: none yet
        for number, piece in enumerate(pieces):
            at = piece.start
            for owner, same in itertools.groupby(owners[at - base : piece.end - base]):
                after = at + sum(1 for _ in same)
                if owner < 0:
                    values[at - base : after - base] = piece.data[at - piece.start : after - piece.start]
                    owners[at - base : after - base] = array("i", [number]) * (after - at)
                else:
                    self._twice(pieces[owner], piece, at, after)
                at = after
        return _Piece(base, bytes(values), pieces[0].lines)

    def _twice(self, first: _Piece, again: _Piece, start: int, end: int) -> None:
        """Report the addresses from `start` to before `end`, which both pieces give."""
        kept = first.data[start - first.start : end - first.start]
        other = again.data[start - again.start : end - again.start]
        digits = address_digits(end)
        differing = [start + i for i in range(end - start) if kept[i] != other[i]] if kept != other else []
        spot = differing[0] if differing else start
        line, earlier = again.line_of(spot), first.line_of(spot)
        where = range_text(start, end - start, digits)
        if differing:
            code, what = "conflict", "an address is given twice with different values"
            why = (
                f"line {line} gives {other[spot - start]:02X} at {spot:0{digits}X} where line {earlier} "
                f"gave {kept[spot - start]:02X}; "
                f"{plural(len(differing), 'address', 'addresses')} in {where} differ"
            )
        else:
            code, what = "overlap", "an address is given twice"
            why = f"line {line} gives {where} again, with the same values as line {earlier}"
        self.problem(
            LineProblem(
                code=code,
                what=what,
                why=why,
                hint="each address should come once: look whether two files were joined; --keep-doubtful keeps "
                "the value that came first and records the addresses",
                line=line,
                start=start,
                length=end - start,
            )
        )


def _join(pieces: list[_Piece]) -> tuple[Segment, ...]:
    segments: list[Segment] = []
    run: list[bytes] = []
    start, end = 0, -1
    for piece in pieces:
        if piece.start != end and run:
            segments.append(Segment(start, b"".join(run)))
            run = []
        if not run:
            start = piece.start
        run.append(piece.data)
        end = piece.end
    if run:
        segments.append(Segment(start, b"".join(run)))
    return tuple(segments)
