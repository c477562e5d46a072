"""Collect bytes at addresses from a text container, strictly or keeping what is doubtful."""

from __future__ import annotations

import bisect
import itertools
from array import array
from collections.abc import Sequence
from dataclasses import dataclass
from operator import ne

from imagekeeper import budget
from imagekeeper.addresses import Doubt, Span, joined
from imagekeeper.containers.manner import PLAIN, Manner, Repeats
from imagekeeper.containers.model import Image, Segment
from imagekeeper.errors import InputError, Where
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import ADDRESS_LIMIT, address_digits, range_text

#: A damaged file is described by its first doubts; past this many the rest are one doubt around them all.
MAX_DOUBTS = 10_000

#: So many pieces are laid over each other between two looks at the clock.
_A_LOOK = 4096


@dataclass(frozen=True)
class LineProblem:
    """Something wrong with a line, and the addresses whose bytes it makes doubtful.

    Attributes:
        fault: What is wrong.
        line: Line number, counted from 1, or None for the file as a whole.
        start: First doubtful address.
        length: How many addresses; 0 for none.
    """

    fault: Phrase
    line: int | None = None
    start: int = 0
    length: int = 0


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
        manner: How the text is taken beyond that.

    Example:
        >>> builder = ImageBuilder("intel-hex")
        >>> builder.put(0x10, b"AB", line=1); builder.put(0x12, b"C", line=2)
        >>> builder.finish().tobytes()
        b'ABC'
    """

    def __init__(self, container: str, *, keep_doubtful: bool = False, manner: Manner = PLAIN) -> None:
        self._container = container
        self._keep_doubtful = keep_doubtful
        self._manner = manner
        self._broken = sorted(manner.broken)   # the lines whose parity is broken
        self._broken_told: set[int] = set()
        self._repeats: Repeats | None = None
        self._pieces: list[_Piece] = []
        self._run: list[bytes] = []   # joins into the piece that is growing
        self._run_lines: list[_Lines] = []
        self._run_start = self._run_end = 0
        self._doubts: list[Doubt] = []
        self._untold = 0
        self._untold_from, self._untold_to = ADDRESS_LIMIT, 0   # the addresses that they are about
        self._hangs_on: LineProblem | None = None   # the faulty line that says where the bytes now coming belong
        self._hanging: list[Span] = []   # where those bytes came to lie
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
        if line in self._manner.broken:
            self._break(line, address, len(data))
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
        first, after = (bisect.bisect_left(self._broken, line) for line in (lines[0], lines[-1] + 1))
        for line in self._broken[first:after]:
            at = bisect.bisect_left(lines, line)
            end = addresses[at + 1] if at + 1 < len(addresses) else addresses[0] + len(data)
            self._break(line, addresses[at], end - addresses[at])
        self._extend(addresses[0], data)
        self._run_lines.append((addresses, lines))

    def broken(self, line: int, start: int = 0, length: int = 0) -> LineProblem | None:
        """Say what is wrong with a line whose characters break the parity that the others carry."""
        if line not in self._manner.broken:
            return None
        values = {"broken": self._manner.broken[line], "parity": self._manner.parity}
        return LineProblem(Phrase("record-parity", **values), line, start, length)

    def _break(self, line: int, start: int = 0, length: int = 0) -> None:
        self._broken_told.add(line)
        if problem := self.broken(line, start, length):
            self.problem(problem)

    def _extend(self, address: int, data: bytes) -> None:
        if address != self._run_end or not self._run:
            self._close_run()
            self._run_start = address
        self._run.append(data)
        self._run_end = address + len(data)
        if self._hangs_on is not None:
            self._hang(address, len(data))

    def _hang(self, start: int, length: int) -> None:
        if self._hanging and self._hanging[-1].end == start:
            start, length = self._hanging[-1].start, self._hanging.pop().length + length
        self._hanging.append(Span(start, length))

    def _beyond(self, address: int, length: int, line: int) -> None:
        self.problem(LineProblem(Phrase("address-limit", length=length, at=address), line))

    def problem(self, problem: LineProblem) -> None:
        """Raise a problem, or keep it as a doubt when doubtful input is kept.

        Raises:
            InputError: With the problem's code, unless doubtful input is kept.
        """
        if not self._keep_doubtful:
            raise InputError(problem.fault.about, where=Where(line=problem.line), **problem.fault.values)
        self._doubt(problem, str(problem.fault))

    def depend(self, problem: LineProblem) -> None:
        """From here on, whatever bytes come belong where a faulty line says: they are as doubtful as that line is.

        Args:
            problem: One that was told to `problem` and kept. It replaces the one before.
        """
        self.depend_no_more()
        self._hangs_on = problem

    def depend_no_more(self) -> None:
        """From here on it is known again where bytes belong."""
        problem, self._hangs_on = self._hangs_on, None
        spans, self._hanging = joined(self._hanging), []
        if problem is not None:
            why = str(Phrase("record-form/moves", trouble=problem.fault))
            for span in spans:
                self._doubt(LineProblem(problem.fault, problem.line, span.start, span.length), why)

    def missing(self, problem: LineProblem) -> None:
        """Note addresses that may be those of a line that told its bytes wrongly, or not at all.

        Args:
            problem: One that was told to `problem` and kept, with these addresses.
        """
        self._doubt(problem, str(Phrase("record-form/missing", trouble=problem.fault)))

    def _doubt(self, problem: LineProblem, why: str) -> None:
        if len(self._doubts) < MAX_DOUBTS:
            self._doubts.append(Doubt(
                start=problem.start, length=problem.length, code=problem.fault.code, why=why, line=problem.line
            ))  # fmt: skip
            return
        self._untold += 1
        if problem.length:
            self._untold_from = min(self._untold_from, problem.start)
            self._untold_to = max(self._untold_to, problem.start + problem.length)

    def finish(self) -> Image:
        """Join everything into an image.

        Raises:
            InputError: `overlap` or `conflict` where an address came twice and it was not chosen which value counts,
                unless doubtful input is kept: then the value that came first in the file stays. `record-parity` for a
                line without data that breaks the parity. `not-this-kind` where there is no data.
        """
        self._close_run()
        self.depend_no_more()
        for line in self._broken:
            if line not in self._broken_told:
                self._break(line)
        if not self._pieces:
            raise InputError("not-this-kind/no-data", container=self._container)
        segments = _join(self._settled())
        if self._untold:
            length = max(self._untold_to - self._untold_from, 0)
            self._doubts.append(Doubt(
                start=self._untold_from if length else 0, length=length, code=self._doubts[-1].code,
                why=str(Phrase("record-form/not-listed", doubts=self._untold)),
            ))  # fmt: skip
        return Image(
            segments=segments,
            doubts=tuple(sorted(self._doubts, key=lambda d: (d.start, d.line or 0))),
            container=self._container,
            addressed=True,
            entry=self.entry,
            title=self.title,
            repeats=self._repeats,
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
        allowed = budget.current()
        for number, (place, piece) in enumerate(sorted(enumerate(self._pieces), key=lambda pair: pair[1].start)):
            if not number % _A_LOOK:
                allowed.tick()
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
        allowed = budget.current()
        for number, piece in enumerate(pieces):
            if not number % _A_LOOK:
                allowed.tick()
            at = piece.start
            for owner, same in itertools.groupby(owners[at - base : piece.end - base]):
                after = at + sum(1 for _ in same)
                if owner >= 0 and self._manner.repeated == "refuse":
                    self._twice(pieces[owner], piece, at, after)
                elif owner >= 0:
                    self._choose(pieces[owner], piece, at, after)
                if owner < 0 or self._manner.repeated == "last":
                    values[at - base : after - base] = piece.data[at - piece.start : after - piece.start]
                    owners[at - base : after - base] = array("i", [number]) * (after - at)
                at = after
        return _Piece(base, bytes(values), pieces[0].lines)

    def _choose(self, before: _Piece, again: _Piece, start: int, end: int) -> None:
        """Count the addresses from `start` to before `end`, which both pieces give and one was chosen for."""
        values = before.data[start - before.start : end - before.start]
        others = again.data[start - again.start : end - again.start]
        known = self._repeats or Repeats(self._manner.repeated, 0, 0, start)
        self._repeats = Repeats(
            known.choice, known.again + end - start, known.differing + sum(map(ne, values, others)),
            min(known.first, start),
        )  # fmt: skip

    def _twice(self, first: _Piece, again: _Piece, start: int, end: int) -> None:
        """Report the addresses from `start` to before `end`, which both pieces give."""
        kept = first.data[start - first.start : end - first.start]
        other = again.data[start - again.start : end - again.start]
        digits = address_digits(end)
        differing = [start + i for i in range(end - start) if kept[i] != other[i]] if kept != other else []
        spot = differing[0] if differing else start
        line, earlier = again.line_of(spot), first.line_of(spot)
        span = range_text(start, end - start, digits)
        if differing:
            fault = Phrase(
                "conflict", line=line, value=other[spot - start], at=spot, digits=digits, earlier=earlier,
                kept=kept[spot - start], differing=len(differing), span=span,
            )  # fmt: skip
        else:
            fault = Phrase("overlap", line=line, span=span, earlier=earlier)
        self.problem(LineProblem(fault, line, start, end - start))


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
