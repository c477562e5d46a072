"""The steps for images of chips."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from imagekeeper.digests import sha256_hex
from imagekeeper.errors import UsageError
from imagekeeper.transforms import bits, lanes, sizes
from imagekeeper.transforms.step import Step, fill_byte, one_of, within


@dataclass(frozen=True)
class Window(Step):
    """Take a part.

    Attributes:
        step: Its name.
        offset: Where the part begins, counted in the bytes present. [byte]
        size_bytes: How much of them. [byte]
    """

    step: Literal["window"] = field(default="window", init=False)
    offset: int
    size_bytes: int

    def __post_init__(self) -> None:
        within("the offset", self.offset, 0, 1 << 40)
        within("the size", self.size_bytes, 1, sizes.LIMIT)

    def _do(self, data: bytes, others: Sequence[bytes]) -> bytes:
        return sizes.window(data, self.offset, self.size_bytes)


@dataclass(frozen=True)
class FillGaps(Step):
    """Close gaps with one byte value.

    Attributes:
        step: Its name.
        fill: The byte.
        gaps: Offset in the result, and length, of each. [byte]
    """

    step: Literal["fill-gaps"] = field(default="fill-gaps", init=False)
    fill: int
    gaps: tuple[tuple[int, int], ...]

    def __post_init__(self) -> None:
        fill_byte(self.fill)
        for offset, length in self.gaps:
            within("the offset of a gap", offset, 0, sizes.LIMIT)
            within("the length of a gap", length, 1, sizes.LIMIT - offset)

    def _do(self, data: bytes, others: Sequence[bytes]) -> bytes:
        return sizes.fill_gaps(data, self.gaps, self.fill)

    def _carry(self, marks: bytes, others: Sequence[bytes]) -> bytes:
        return sizes.fill_gaps(marks, self.gaps, 0)


@dataclass(frozen=True)
class JoinLanes(Step):
    """Join the image, as lane 0, with others.

    Attributes:
        step: Its name.
        others: SHA-256 of the images of the further lanes, in order.
        width_bytes: How wide each lane is. [byte]
    """

    step: Literal["join-lanes"] = field(default="join-lanes", init=False)
    others: tuple[str, ...]
    width_bytes: int

    def __post_init__(self) -> None:
        one_of("the number of lanes", len(self.others) + 1, lanes.LANES)
        one_of("the width of a lane", self.width_bytes, lanes.WIDTHS)

    @property
    def keeps_start(self) -> bool:
        """The whole begins where its lanes together do, which no lane tells."""
        return False

    @property
    def needs(self) -> tuple[str, ...]:
        """The SHA-256 of the images of lane 1 and so on."""
        return self.others

    def _do(self, data: bytes, others: Sequence[bytes]) -> bytes:
        found = tuple(map(sha256_hex, others))
        if found != self.others:
            raise UsageError("does-not-fit/other-images", wanted=self.others, found=', '.join(found) or 'missing')
        return lanes.join([data, *others], self.width_bytes)

    def _carry(self, marks: bytes, others: Sequence[bytes]) -> bytes:
        return lanes.join([marks, *others], self.width_bytes)

    def _undo(self, before_bytes: int) -> Step:
        return SplitLane(0, len(self.others) + 1, self.width_bytes)


@dataclass(frozen=True)
class Trim(Step):
    """Cut fill away at the end.

    Attributes:
        step: Its name.
        size_bytes: What is kept. [byte]
        fill: The only byte that is cut away.
    """

    step: Literal["trim"] = field(default="trim", init=False)
    size_bytes: int
    fill: int

    def __post_init__(self) -> None:
        within("the size", self.size_bytes, 1, sizes.LIMIT)
        fill_byte(self.fill)

    def _do(self, data: bytes, others: Sequence[bytes]) -> bytes:
        return sizes.trim(data, self.size_bytes, self.fill)

    def _carry(self, marks: bytes, others: Sequence[bytes]) -> bytes:
        return marks[: self.size_bytes]

    def _undo(self, before_bytes: int) -> Step:
        return Pad(before_bytes, self.fill, "end")


@dataclass(frozen=True)
class Swap(Step):
    """Exchange the bytes of 16-bit words, or the 16-bit halves of 32-bit ones.

    Attributes:
        step: Its name.
        swapped: What changes places.
    """

    step: Literal["swap"] = field(default="swap", init=False)
    swapped: Literal["bytes", "words"]

    def _do(self, data: bytes, others: Sequence[bytes]) -> bytes:
        return bits.swap(data, self.swapped)

    def _undo(self, before_bytes: int) -> Step:
        return self


@dataclass(frozen=True)
class ReverseBits(Step):
    """Reverse the bits of every byte.

    Attributes:
        step: Its name.
    """

    step: Literal["reverse-bits"] = field(default="reverse-bits", init=False)

    def _do(self, data: bytes, others: Sequence[bytes]) -> bytes:
        return bits.reverse(data)

    def _carry(self, marks: bytes, others: Sequence[bytes]) -> bytes:
        return marks

    def _undo(self, before_bytes: int) -> Step:
        return self


@dataclass(frozen=True)
class Invert(Step):
    """Invert every bit.

    Attributes:
        step: Its name.
    """

    step: Literal["invert"] = field(default="invert", init=False)

    def _do(self, data: bytes, others: Sequence[bytes]) -> bytes:
        return bits.invert(data)

    def _carry(self, marks: bytes, others: Sequence[bytes]) -> bytes:
        return marks

    def _undo(self, before_bytes: int) -> Step:
        return self


@dataclass(frozen=True)
class SplitLane(Step):
    """Take one lane.

    Attributes:
        step: Its name.
        lane: Which, from 0.
        lanes: How many there are.
        width_bytes: How wide each is. [byte]
    """

    step: Literal["split-lane"] = field(default="split-lane", init=False)
    lane: int
    lanes: int
    width_bytes: int

    def __post_init__(self) -> None:
        one_of("the number of lanes", self.lanes, lanes.LANES)
        one_of("the width of a lane", self.width_bytes, lanes.WIDTHS)
        within("the lane", self.lane, 0, self.lanes - 1)

    @property
    def keeps_start(self) -> bool:
        """A lane counts addresses of its own."""
        return False

    def _do(self, data: bytes, others: Sequence[bytes]) -> bytes:
        return lanes.split(data, self.lane, self.lanes, self.width_bytes)


@dataclass(frozen=True)
class Pad(Step):
    """Pad to a size.

    Attributes:
        step: Its name.
        size_bytes: The size. [byte]
        fill: The byte to pad with.
        at: Whether behind the image, or before it.
    """

    step: Literal["pad"] = field(default="pad", init=False)
    size_bytes: int
    fill: int
    at: Literal["end", "start"]

    def __post_init__(self) -> None:
        within("the size", self.size_bytes, 1, sizes.LIMIT)
        fill_byte(self.fill)

    @property
    def keeps_start(self) -> bool:
        """Padding before the image comes to lie at its start."""
        return self.at == "end"

    def _do(self, data: bytes, others: Sequence[bytes]) -> bytes:
        return sizes.pad(data, self.size_bytes, self.fill, self.at)

    def _carry(self, marks: bytes, others: Sequence[bytes]) -> bytes:
        return sizes.pad(marks, self.size_bytes, 0, self.at)

    def _undo(self, before_bytes: int) -> Step:
        return Window(self.size_bytes - before_bytes if self.at == "start" else 0, before_bytes)


@dataclass(frozen=True)
class Repeat(Step):
    """Repeat the image until it fills a size.

    Attributes:
        step: Its name.
        size_bytes: The size. [byte]
    """

    step: Literal["repeat"] = field(default="repeat", init=False)
    size_bytes: int

    def __post_init__(self) -> None:
        within("the size", self.size_bytes, 1, sizes.LIMIT)

    def _do(self, data: bytes, others: Sequence[bytes]) -> bytes:
        return sizes.repeat(data, self.size_bytes)

    def _undo(self, before_bytes: int) -> Step:
        return Window(0, before_bytes)
