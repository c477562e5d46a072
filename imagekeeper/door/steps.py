"""What may be done to an image's bytes on the way, given as plain keyword arguments."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Sequence
from typing import Any, Literal, ParamSpec, TypedDict, TypeVar, get_type_hints

from imagekeeper.door.arguments import check_typed
from imagekeeper.door.sources import Place, named
from imagekeeper.floppy.arrangement import SideOrder
from imagekeeper.jobs.images.wanting import WantedSteps
from imagekeeper.transforms.bits import Swapped
from imagekeeper.transforms.step import fill_byte

P = ParamSpec("P")
R = TypeVar("R")


class Steps(TypedDict, total=False):
    """The steps, in the order in which they are done; none is done that is not asked for.

    Attributes:
        window: Address and size of the part to take. [byte]
        join: The files of lane 1 and so on, one or three; the source is lane 0.
        trim: The fill byte to cut away at the end.
        trim_to: What to leave; without it the smallest power of two. [byte]
        swap: What changes places: `bytes` or `words`.
        reverse_bits: Whether to reverse the bits of every byte.
        invert: Whether to invert every bit.
        lane: Which lane to take, of how many: (0, 2) is every even byte.
        lane_bytes: How wide a lane is. [byte]
        pad_to: The size to pad to with `fill`. [byte]
        pad_at: Where to pad: `end`, which is meant without it, or `start`.
        repeat_to: The size to fill with copies. [byte]
        geometry: The geometry of a disk, such as 80x2x9x512, or the name of its format.
        fit_geometry: Whether to cut or pad to it.
        cut_data: Whether to cut away what is not fill.
        interleave_from: The interleave in which the source has its sectors.
        skew_from: The skew that it has. [sector]
        sides_from: The order of sides that the source has: `alternating`, `side-after-side` or `side-1-reversed`.
        sides_to: The order wanted.
        interleave_to: The interleave wanted.
        skew_to: The skew wanted. [sector]
    """

    window: tuple[int, int] | None
    join: Sequence[Place] | None
    trim: int | None
    trim_to: int | None
    swap: Swapped | None
    reverse_bits: bool
    invert: bool
    lane: tuple[int, int] | None
    lane_bytes: int | None
    pad_to: int | None
    pad_at: Literal["end", "start"] | None
    repeat_to: int | None
    geometry: str | None
    fit_geometry: bool
    cut_data: bool
    interleave_from: int | None
    skew_from: int | None
    sides_from: SideOrder | None
    sides_to: SideOrder | None
    interleave_to: int | None
    skew_to: int | None


def wanted_of(steps: Steps) -> WantedSteps:
    """Gather the steps.

    Raises:
        TypeError: There is no such step, it has no such way, or it is given what it does not take.
        UsageError: `usage` for a byte that is none.
    """
    for name in steps:
        if name not in Steps.__annotations__:
            raise TypeError(f"there is no keyword argument {name!r}")
    plain: dict[str, Any] = {name: value for name, value in steps.items() if value is not None}
    hints = get_type_hints(Steps)
    for name, value in plain.items():
        check_typed(name, value, hints[name])
    if "trim" in plain:
        fill_byte(plain["trim"])
    if "join" in plain:
        plain["join"] = tuple(named(one) for one in plain["join"])
    return WantedSteps(**plain)


def _kinds() -> dict[str, str]:
    """Give the type of each step as it is written above."""
    return {name: getattr(kind, "__forward_arg__", str(kind)) for name, kind in Steps.__annotations__.items()}


def spelled_out(function: Callable[P, R]) -> Callable[P, R]:
    """Let help and editors see every step in a function's signature, and not only `**steps`."""
    signature = inspect.signature(function)
    kept = [one for one in signature.parameters.values() if one.kind is not inspect.Parameter.VAR_KEYWORD]
    steps = [
        inspect.Parameter(
            name, inspect.Parameter.KEYWORD_ONLY, default=False if kind == "bool" else None, annotation=kind
        )
        for name, kind in _kinds().items()
    ]

    @functools.wraps(function)
    def called(*args: P.args, **kwargs: P.kwargs) -> R:
        return function(*args, **kwargs)

    called.__signature__ = signature.replace(parameters=[*kept, *steps])   # type: ignore[attr-defined]
    return called
