"""Steps done, recorded, and done again."""

from __future__ import annotations

import dataclasses
import typing
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType, NoneType, UnionType
from typing import Any, TypeAlias

from imagekeeper.digests import sha256_hex
from imagekeeper.errors import InputError, UsageError
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
from imagekeeper.transforms.disk_steps import FitGeometry, OrderSectors, OrderSides
from imagekeeper.transforms.step import Step

#: Every kind of step.
AnyStep: TypeAlias = (
    Window | FillGaps | JoinLanes | Trim | Swap | ReverseBits | Invert | SplitLane | Pad | Repeat | FitGeometry
    | OrderSides | OrderSectors
)  # fmt: skip

#: More steps than this are no record of ours.
LIMIT = 100


@dataclass(frozen=True, kw_only=True)
class StepTaken:
    """A step that was done, and what came of it.

    Attributes:
        name: Its name.
        record: The step with its parameters: all that is needed to do it again.
        before_bytes: The size of the image before. [byte]
        after_bytes: The size after. [byte]
        sha256: SHA-256 of the image after.
        undo: The step that leads back from the result alone, or null where there is none.
    """

    name: str
    record: AnyStep
    before_bytes: int
    after_bytes: int
    sha256: str
    undo: AnyStep | None


def take(data: bytes, step: AnyStep, others: Sequence[bytes] = ()) -> tuple[bytes, StepTaken]:
    """Do one step.

    Args:
        data: The image.
        step: The step.
        others: The images that it needs, in order.

    Returns:
        The image after it, and the account.

    Raises:
        UsageError: The image's size does not fit the step, or data would be lost.

    Example:
        >>> take(b"TIDEGAGE", SplitLane(0, 2, 1))[1].after_bytes
        4
    """
    after = step.apply(data, others)
    back = typing.cast("AnyStep | None", step.undo(len(data)))
    return after, StepTaken(
        name=step.step, record=step, before_bytes=len(data), after_bytes=len(after), sha256=sha256_hex(after),
        undo=back,
    )  # fmt: skip


def replay(data: bytes, steps: Sequence[Step], others: Mapping[str, bytes] = MappingProxyType({})) -> bytes:
    """Do recorded steps again.

    Args:
        data: The bytes of the source image, one after the other; gaps contribute nothing.
        steps: The steps, from `steps_of`.
        others: By their SHA-256, the further images that steps need.

    Raises:
        InputError: `step-record` where an image that a step needs is not among `others`.
        UsageError: The image's size does not fit a step, or data would be lost.

    Example:
        >>> replay(b"TIDEGAGE", steps_of([{"step": "split-lane", "lane": 0, "lanes": 2, "width_bytes": 1}]))
        b'TDGG'
    """
    for number, step in enumerate(steps, 1):
        missing = [sha256 for sha256 in step.needs if sha256 not in others]
        if missing:
            raise _wrong(number, f"it needs the image {missing[0][:80]}, which was not given")
        data = step.apply(data, [others[sha256] for sha256 in step.needs])
    return data


def steps_of(records: Any) -> tuple[AnyStep, ...]:
    """Read the records of steps, as their JSON gave them.

    Args:
        records: A list of objects; whatever else it is, the error says so.

    Raises:
        InputError: `step-record`.

    Example:
        >>> steps_of([{"step": "invert"}, {"step": "swap", "swapped": "bytes"}])
        (Invert(step='invert'), Swap(step='swap', swapped='bytes'))
    """
    if not isinstance(records, (list, tuple)) or len(records) > LIMIT:
        raise _wrong(0, f"the records should be a list of at most {LIMIT}")
    return tuple(_step_of(number, record) for number, record in enumerate(records, 1))


@cache
def _kinds() -> dict[str, tuple[type, dict[str, Any]]]:
    """Every class of step by its name, with the types of its parameters."""
    kinds = {}
    for cls in typing.get_args(AnyStep):
        hints = typing.get_type_hints(cls)
        parameters = {f.name: hints[f.name] for f in dataclasses.fields(cls) if f.init}
        kinds[typing.get_args(hints["step"])[0]] = (cls, parameters)
    return kinds


def _step_of(number: int, record: Any) -> AnyStep:
    name = record.get("step") if isinstance(record, dict) else None
    if not isinstance(name, str) or name not in _kinds():
        raise _wrong(number, f"its name is none of {', '.join(_kinds())}")
    cls, parameters = _kinds()[name]
    if set(record) != {"step", *parameters}:
        raise _wrong(number, f"{name} has the members {', '.join(('step', *parameters))}, no more and no fewer")
    values = {}
    for parameter, hint in parameters.items():
        if not _is_of(record[parameter], hint):
            raise _wrong(number, f"{parameter} of {name} is not of its type")
        values[parameter] = _frozen(record[parameter])
    try:
        step: AnyStep = cls(**values)
    except UsageError as problem:
        raise _wrong(number, f"{problem.what}; {problem.why}") from None
    return step


def _is_of(value: Any, hint: Any) -> bool:
    """Whether a value from JSON is of a type that a parameter may have."""
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin is typing.Literal:
        return isinstance(value, str) and value in arguments
    if origin in (typing.Union, UnionType):
        return any(_is_of(value, one) for one in arguments)
    if origin is tuple:
        if not isinstance(value, (list, tuple)):
            return False
        if arguments[-1] is Ellipsis:
            return all(_is_of(one, arguments[0]) for one in value)
        return len(value) == len(arguments) and all(map(_is_of, value, arguments))
    if hint is int:
        return isinstance(value, int) and not isinstance(value, bool)
    return isinstance(value, NoneType if hint is None else hint)


def _frozen(value: Any) -> Any:
    return tuple(map(_frozen, value)) if isinstance(value, (list, tuple)) else value


def _wrong(number: int, why: str) -> InputError:
    return InputError(
        "step-record", "a recorded step of a conversion cannot be done again",
        why=f"step {number}: {why}" if number else why,
        hint="the record is damaged, or was made by a later version of this program",
    )  # fmt: skip
