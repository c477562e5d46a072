"""Collect bytes at addresses from a text container, strictly or keeping what is doubtful."""

from __future__ import annotations

import bisect
from collections.abc import Sequence
from dataclasses import dataclass

from imagekeeper.containers.model import Doubt, Image, Segment
from imagekeeper.errors import InputError, Where
from imagekeeper.units import ADDRESS_LIMIT, address_digits, plural, range_text

#: A damaged file is described by its first doubts; past this many the rest are only counted.
MAX_DOUBTS = 10_000


@dataclass(frozen=True)
class Problem:
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


@dataclass(frozen=True)
class _Piece:
    """Bytes at consecutive addresses, from one line or from a run of lines."""

    start: int
    data: bytes
    addresses: Sequence[int]
    lines: Sequence[int]

    @property
    def end(self) -> int:
        return self.start + len(self.data)

    def line_of(self, address: int) -> int:
        return int(self.lines[max(bisect.bisect_right(self.addresses, address) - 1, 0)])


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
        self._run: list[bytes] = []
        self._run_start = self._run_end = 0
        self._run_addresses: list[int] = []
        self._run_lines: list[int] = []
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
        if address != self._run_end or not self._run:
            self._close_run()
            self._run_start = address
        self._run.append(data)
        self._run_addresses.append(address)
        self._run_lines.append(line)
        self._run_end = address + len(data)

    def put_run(self, data: bytes, addresses: Sequence[int], lines: Sequence[int]) -> None:
        """Add the bytes of many lines at consecutive addresses, with each line's address and number."""
        start = int(addresses[0])
        if start + len(data) > ADDRESS_LIMIT:
            self._beyond(start, len(data), int(lines[0]))
            return
        self._close_run()
        self._pieces.append(_Piece(start, data, addresses, lines))

    def _beyond(self, address: int, length: int, line: int) -> None:
        self.problem(
            Problem(
                "address-limit",
                "an address lies beyond 4 GiB",
                f"the line asks for {plural(length, 'byte')} at {address:X}, past FFFFFFFF",
                "check the address records before this line; --keep-doubtful leaves these bytes out",
                line,
            )
        )

    def problem(self, problem: Problem) -> None:
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
                Doubt(problem.start, problem.length, problem.code, problem.why, problem.line)
            )
        else:
            self._untold += 1

    def finish(self) -> Image:
        """Join everything into an image.

        Raises:
            InputError: `overlap` or `conflict` where an address came twice, unless doubtful input is kept: then
                the value that came first in the file stays. `not-this-kind` where there is no data at all.
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
                Doubt(0, 0, self._doubts[-1].code, f"{plural(self._untold, 'more doubt')} not listed")
            )
        return Image(
            segments,
            tuple(sorted(self._doubts, key=lambda d: (d.start, d.line or 0))),
            container=self._container,
            addressed=True,
            entry=self.entry,
            title=self.title,
        )

    def _close_run(self) -> None:
        if self._run:
            self._pieces.append(
                _Piece(self._run_start, b"".join(self._run), self._run_addresses, self._run_lines)
            )
            self._run, self._run_addresses, self._run_lines = [], [], []

    def _settled(self) -> list[_Piece]:
        """Sort by address and resolve addresses that came twice; the earlier in the file stays."""
        settled: list[_Piece] = []
        cluster: list[tuple[int, _Piece]] = []   # pieces that touch each other's addresses, with their place in the file
        end = -1
        for place, piece in sorted(enumerate(self._pieces), key=lambda pair: pair[1].start):
            if piece.start >= end and cluster:
                settled += self._settle(cluster)
                cluster = []
            cluster.append((place, piece))
            end = max(end, piece.end)
        return settled + self._settle(cluster)

    def _settle(self, cluster: list[tuple[int, _Piece]]) -> list[_Piece]:
        if len(cluster) == 1:
            return [cluster[0][1]]
        settled: list[_Piece] = []   # ascending and apart
        for _, piece in sorted(cluster, key=lambda pair: pair[0]):
            at = bisect.bisect_right(settled, piece.start, key=lambda s: s.end)
            rest, fresh = piece, []
            while at < len(settled) and rest.data and settled[at].start < rest.end:
                other = settled[at]
                if rest.start < other.start:
                    fresh.append(_cut(rest, rest.start, other.start))
                start, end = max(rest.start, other.start), min(rest.end, other.end)
                self._twice(other, rest, start, end)
                rest = _cut(rest, end, rest.end)
                at += 1
            if rest.data:
                fresh.append(rest)
            for new in fresh:
                bisect.insort(settled, new, key=lambda s: s.start)
        return settled

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
                f"line {line} gives {other[spot - start]:02X} at {spot:0{digits}X} where line {earlier} gave "
                f"{kept[spot - start]:02X}; {plural(len(differing), 'address', 'addresses')} in {where} differ"
            )
        else:
            code, what = "overlap", "an address is given twice"
            why = f"line {line} gives {where} again, with the same values as line {earlier}"
        self.problem(
            Problem(
                code,
                what,
                why,
                "each address should come once: look whether two files were joined; --keep-doubtful keeps the "
                "value that came first and records the addresses",
                line,
                start,
                end - start,
            )
        )


def _cut(piece: _Piece, start: int, end: int) -> _Piece:
    return _Piece(start, piece.data[start - piece.start : end - piece.start], piece.addresses, piece.lines)


def _join(pieces: list[_Piece]) -> tuple[Segment, ...]:
    segments: list[Segment] = []
    start, run, end = 0, [], -1
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
