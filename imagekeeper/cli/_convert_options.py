"""The options of convert that change an image's bytes, gathered into one `wanted`."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, TypeVar

import click

from imagekeeper.cli import _shell
from imagekeeper.floppy.arrangement import SIDE_ORDERS
from imagekeeper.jobs.images.wanting import WantedSteps
from imagekeeper.units import parse_address, parse_size

Command = TypeVar("Command", bound=Callable[..., Any])


class _Window(click.ParamType[tuple[int, int]]):
    """An address and a size."""

    name = "window"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[int, int]:
        if isinstance(value, tuple):
            return value
        address, _, size = value.partition(":")
        try:
            return parse_address(address), parse_size(size)
        except ValueError as problem:
            self.fail(f"{problem}; a window is an address and a size such as 2000:8K", param, ctx)


class _Lane(click.ParamType[tuple[int, int]]):
    """A lane and how many there are."""

    name = "lane"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[int, int]:
        if isinstance(value, tuple):
            return value
        match = re.fullmatch(r"([0-3])/([24])", value.strip())
        if match is None or int(match[1]) >= int(match[2]):
            self.fail(f"{value!r} is none of 0/2, 1/2, 0/4, 1/4, 2/4, 3/4", param, ctx)
        return int(match[1]), int(match[2])


_SIDES = click.Choice(tuple(SIDE_ORDERS))

#: In the order in which they take effect.
_OPTIONS = (
    click.option(
        "--window", type=_Window(), metavar="ADDRESS:SIZE", help="Take a part, such as 2000:8K; its addresses stay."
    ),
    click.option(
        "--join", multiple=True, metavar="OTHER",
        help="Join chips of one bus: IN is lane 0, at the lowest address, the first OTHER lane 1, and so on; one "
        "OTHER or three.",
    ),
    click.option(
        "--trim", type=_shell.BYTE, metavar="BYTE",
        help="Cut this byte away at the end, down to the smallest power of two that holds the rest.",
    ),
    click.option("--trim-to", type=_shell.SIZE, metavar="SIZE", help="Cut it away down to this size instead."),
    click.option(
        "--swap", type=click.Choice(["bytes", "words"]),
        help="Swap the bytes of 16-bit words, or the 16-bit words of 32-bit ones.",
    ),
    click.option("--reverse-bits", is_flag=True, help="Reverse the bits of every byte: D0 with D7, D1 with D6, ..."),
    click.option("--invert", is_flag=True, help="Invert every bit."),
    click.option(
        "--lane", type=_Lane(), metavar="LANE/LANES", help="Take one chip's share of a bus: 0/2 is every even byte."
    ),
    click.option(
        "--lane-width", type=click.Choice(["byte", "word"]),
        help="How wide a lane is, for --join and --lane: a byte, or a word of 16 bits. A byte without it.",
    ),
    click.option("--pad-to", type=_shell.SIZE, metavar="SIZE", help="Pad to this size with the byte of --fill."),
    click.option(
        "--pad-at", type=click.Choice(["end", "start"]), help="Pad behind the image or before it. Behind it without it."
    ),
    click.option("--repeat-to", type=_shell.SIZE, metavar="SIZE", help="Fill this size with copies of the image."),
    click.option(
        "--geometry", metavar="GEOMETRY|FORMAT",
        help="Of a disk, such as 80x2x9x512 (cylinders, heads, sectors, bytes) or 720K.",
    ),
    click.option(
        "--fit-geometry", is_flag=True,
        help="Cut or pad the file at its end to --geometry; only the byte of --fill is cut away.",
    ),
    click.option("--cut-data", is_flag=True, help="Let --fit-geometry cut away whatever there is."),
    click.option(
        "--sides-from", type=_SIDES,
        help="The order of sides that IN has. " + "; ".join(f"{name}: {what}" for name, what in SIDE_ORDERS.items())
        + ".",
    ),
    click.option("--sides-to", type=_SIDES, help="The order wanted. For either, alternating is what is left out."),
    click.option(
        "--interleave-from", type=int, metavar="N",
        help="IN holds sectors as they pass the head, with this interleave; 1 is by number.",
    ),
    click.option(
        "--skew-from", type=int, metavar="N",
        help="And each track of the file begins this many sectors later than the one before; 0 is not at all.",
    ),
    click.option("--interleave-to", type=int, metavar="N", help="The interleave wanted."),
    click.option("--skew-to", type=int, metavar="N", help="The skew wanted."),
)  # fmt: skip

_NAMES = tuple(name for name in WantedSteps.__dataclass_fields__ if name != "lane_bytes")


def transforming_options(command: Command) -> Command:
    """Add the options that change bytes; the command receives them as one `wanted`."""

    def gathered(*args: Any, lane_width: str | None, **rest: Any) -> Any:
        width = {None: None, "byte": 1, "word": 2}[lane_width]
        return command(*args, wanted=WantedSteps(**{name: rest.pop(name) for name in _NAMES}, lane_bytes=width), **rest)

    return _shell.with_options(command, gathered, _OPTIONS[::-1])
