"""Transform images as wanted, step by step, in one order."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from imagekeeper import containers
from imagekeeper.containers.model import Image, Segment
from imagekeeper.digests import sha256_hex
from imagekeeper.errors import InputError, UsageError, Where
from imagekeeper.floppy.arrangement import Geometry
from imagekeeper.jobs.images.wanting import WantedSteps
from imagekeeper.transforms import sizes
from imagekeeper.transforms.chip_steps import (
    FillGaps,
    Invert,
    JoinLanes,
    Pad,
    Repeat,
    ReverseBits,
    SplitLane,
    Swap,
    Trim,
    Window,
)
from imagekeeper.transforms.disk_steps import FitGeometry, OrderSectors, OrderSides, recorded
from imagekeeper.transforms.doubts import carried
from imagekeeper.transforms.replaying import AnyStep, StepTaken, take
from imagekeeper.units import plural, size_text


@dataclass(frozen=True)
class Transformed:
    """An image after its steps.

    Attributes:
        image: The result, with the doubts that came along.
        steps: What was done, in order.
    """

    image: Image
    steps: tuple[StepTaken, ...]


def transform(images: Sequence[Image], names: Sequence[str], wanted: WantedSteps, fill: int | None) -> Transformed:
    """Do what is wanted, in the order of the fields of `WantedSteps`.

    Args:
        images: The image, then those to join with it.
        names: Of their files.
        wanted: What is to be done; it has been checked.
        fill: The byte that closes gaps and pads, or None.

    Raises:
        UsageError: `gaps`, `does-not-fit`, `would-lose`, or `usage` for a value that a step cannot have.
        InputError: `too-large`.
        NotFoundError: `format-unknown`.
    """
    first = images[0]
    start, _ = span = wanted.window or (first.first_address, first.span_bytes)
    data, taken = _data(first, span, fill, window=wanted.window is not None)
    further = [_whole(image, name) for image, name in zip(images[1:], names[1:], strict=True)]
    for plan in _PLANS:
        for step in plan(wanted, data, fill, further):
            data, done = take(data, step, further if step.needs else ())
            taken.append(done)
    records = [done.record for done in taken]
    if not all(record.keeps_start for record in records):
        start = 0
    doubts = carried(images, records, start) if any(image.doubts for image in images) else ()
    # where a program begins is known only as long as its bytes stay what and where they are
    entry = first.entry if all(isinstance(record, FillGaps | Window) for record in records) else None
    return Transformed(replace(first, segments=(Segment(start, data),), doubts=doubts, entry=entry), tuple(taken))


def _data(image: Image, span: tuple[int, int], fill: int | None, *, window: bool) -> tuple[bytes, list[StepTaken]]:
    """Take the bytes of a run of addresses, its gaps closed; only these are read from the file."""
    low, high = span[0], sum(span)
    if window:
        outside = max(image.first_address - low, 0) + max(high - image.end_address, 0)
        if outside:
            raise UsageError(
                "does-not-fit", "the window is not wholly within the image",
                why=f"{size_text(outside)} of it lie outside; the image goes from {image.first_address:04X} to "
                f"{image.end_address - 1:04X}",
                hint="give an address and a size within; --pad-to makes a file larger",
            )  # fmt: skip
    parts, gaps, before, at = [], [], 0, low
    for segment in image.segments:
        begin, end = max(segment.start, low), min(segment.end, high)
        before += min(max(low - segment.start, 0), len(segment.data))
        if begin < end:
            gaps += [(at - low, begin - at)] if begin > at else []
            parts.append((segment, begin, end))
            at = end
    gaps += [(at - low, high - at)] if high > at else []
    if gaps:
        _need_fill(image, gaps[0][0] + low, len(gaps), fill, high - low)
    size = sum(end - begin for _, begin, end in parts)
    if not size:
        raise UsageError(
            "gaps", "the window lies in a gap", why=f"the image has no byte from {low:04X} to {high - 1:04X}",
            hint="`imagekeeper fingerprint` tells where its bytes are",
        )  # fmt: skip
    if size > sizes.LIMIT:
        raise InputError(
            "too-large", "the image is too large to be transformed", why=f"it holds {size_text(size)}; the limit is "
            f"{size_text(sizes.LIMIT)}", hint="--window takes a part of it",
        )  # fmt: skip
    data = b"".join(segment.data[begin - segment.start : end - segment.start] for segment, begin, end in parts)
    taken = []
    if window:
        taken.append(StepTaken(
            name="window", record=Window(before, size), before_bytes=image.size_bytes, after_bytes=size,
            sha256=sha256_hex(data), undo=None,
        ))  # fmt: skip
    if gaps:
        assert fill is not None
        data, done = take(data, FillGaps(fill, tuple(gaps)))
        taken.append(done)
    return data, taken


def _whole(image: Image, name: str) -> bytes:
    """Take all bytes of an image that is to be joined; only the steps of the source are recorded, so it has no gaps."""
    if image.gaps:
        raise UsageError(
            "gaps", "an image that is to be joined has gaps",
            why=f"{plural(len(image.gaps), 'gap')}, the first at {image.gaps[0].start:04X}",
            hint="convert that file first, with --fill FF or --window, and join the result", where=Where(file=name),
        )  # fmt: skip
    try:
        data, _ = _data(image, (image.first_address, image.span_bytes), None, window=False)
    except InputError as problem:
        raise problem.at(file=name) from None
    return data


def _need_fill(image: Image, first: int, count: int, fill: int | None, span: int) -> None:
    if fill is not None and span > containers.FILL_LIMIT:
        containers.fill(image, fill)
    if fill is None:
        raise UsageError(
            "gaps", "the image has gaps, and a transformation needs a byte at every address",
            why=f"{plural(count, 'gap')}, the first at {first:04X}",
            hint="--fill FF closes them with FF (or any other byte you give); --window takes a part without gaps",
        )  # fmt: skip


Plan = Callable[[WantedSteps, bytes, int | None, Sequence[bytes]], Iterator[AnyStep]]


def _join(wanted: WantedSteps, data: bytes, fill: int | None, others: Sequence[bytes]) -> Iterator[AnyStep]:
    if wanted.join:
        yield JoinLanes(tuple(map(sha256_hex, others)), wanted.lane_bytes or 1)


def _trim(wanted: WantedSteps, data: bytes, fill: int | None, others: Sequence[bytes]) -> Iterator[AnyStep]:
    if wanted.trim is not None:
        yield Trim(wanted.trim_to or sizes.trimmed_size(data, wanted.trim), wanted.trim)


def _exchange(wanted: WantedSteps, data: bytes, fill: int | None, others: Sequence[bytes]) -> Iterator[AnyStep]:
    if wanted.swap:
        yield Swap(wanted.swap)
    if wanted.reverse_bits:
        yield ReverseBits()
    if wanted.invert:
        yield Invert()
    if wanted.lane:
        yield SplitLane(*wanted.lane, wanted.lane_bytes or 1)


def _enlarge(wanted: WantedSteps, data: bytes, fill: int | None, others: Sequence[bytes]) -> Iterator[AnyStep]:
    if wanted.pad_to:
        assert fill is not None
        yield Pad(wanted.pad_to, fill, wanted.pad_at or "end")
    if wanted.repeat_to:
        yield Repeat(wanted.repeat_to)


def _disk(wanted: WantedSteps, data: bytes, fill: int | None, others: Sequence[bytes]) -> Iterator[AnyStep]:
    if wanted.geometry is None:
        return
    geometry = recorded(_geometry(wanted.geometry))
    if wanted.fit_geometry:
        assert fill is not None
        yield FitGeometry(*geometry, fill, wanted.cut_data)
    before, after, by_number = wanted.sectors_from, wanted.sectors_to, (1, 0)

    def order(was: tuple[int, int], becomes: tuple[int, int]) -> OrderSectors:
        return OrderSectors(
            geometry=geometry[0], first_track=geometry[1], interleave_from=was[0], skew_from=was[1],
            interleave_to=becomes[0], skew_to=becomes[1],
        )  # fmt: skip

    if not (wanted.sides_from or wanted.sides_to):
        if before != after:
            yield order(before, after)
        return
    if before != by_number:   # skew counts the tracks of the file as it is, so that sides wait
        yield order(before, by_number)
    yield OrderSides(*geometry, wanted.sides_from or "alternating", wanted.sides_to or "alternating")
    if after != by_number:
        yield order(by_number, after)


#: In the order of the fields of `WantedSteps`. A plan sees the data that the plans before it left.
_PLANS: tuple[Plan, ...] = (_join, _trim, _exchange, _enlarge, _disk)


def _geometry(text: str) -> Geometry:
    from imagekeeper.floppy import formats  # the tables come with it

    figures = formats.geometry_of(text)
    if not figures:
        return Geometry.of(formats.find(text))
    cylinders, heads, sectors, sector_bytes = figures
    return Geometry(cylinders=cylinders, heads=heads, sectors=sectors, sector_bytes=sector_bytes)
