"""What a conversion may be asked to do to an image's bytes, and which of it fits together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from imagekeeper.errors import UsageError
from imagekeeper.floppy.arrangement import SideOrder
from imagekeeper.transforms.bits import Swapped


@dataclass(frozen=True, kw_only=True)
class WantedSteps:
    """What is to be done to an image, in the order in which it is done; None, False or nothing where it is not.

    Gaps are closed behind the window. Sectors go by number while sides change their order.

    Attributes:
        window: Address and size of the part to take. [byte]
        join: The files of lane 1 and so on.
        trim: The fill byte to cut away at the end.
        trim_to: What to leave; without it the smallest power of two. [byte]
        swap: What changes places.
        reverse_bits: Whether to reverse the bits of every byte.
        invert: Whether to invert every bit.
        lane: Which lane to take, of how many.
        lane_bytes: How wide a lane is. [byte]
        pad_to: The size to pad to. [byte]
        pad_at: Where to pad; behind the image without it.
        repeat_to: The size to fill with copies. [byte]
        geometry: The geometry of a disk, or the name of its format.
        fit_geometry: Whether to cut or pad to it.
        cut_data: Whether to cut away what is not fill.
        interleave_from: The interleave in which the file has its sectors.
        skew_from: The skew that it has. [sector]
        sides_from: The order of sides that the file has.
        sides_to: The order wanted.
        interleave_to: The interleave wanted.
        skew_to: The skew wanted. [sector]
    """

    window: tuple[int, int] | None = None
    join: tuple[str, ...] = ()
    trim: int | None = None
    trim_to: int | None = None
    swap: Swapped | None = None
    reverse_bits: bool = False
    invert: bool = False
    lane: tuple[int, int] | None = None
    lane_bytes: int | None = None
    pad_to: int | None = None
    pad_at: Literal["end", "start"] | None = None
    repeat_to: int | None = None
    geometry: str | None = None
    fit_geometry: bool = False
    cut_data: bool = False
    interleave_from: int | None = None
    skew_from: int | None = None
    sides_from: SideOrder | None = None
    sides_to: SideOrder | None = None
    interleave_to: int | None = None
    skew_to: int | None = None

    @property
    def anything(self) -> bool:
        """Whether there is anything to do."""
        return self != WantedSteps()

    @property
    def sectors_from(self) -> tuple[int, int]:
        """Interleave and skew that the file has: by number where nothing is said."""
        return (1 if self.interleave_from is None else self.interleave_from), self.skew_from or 0

    @property
    def sectors_to(self) -> tuple[int, int]:
        """Interleave and skew wanted: by number where nothing is said."""
        return (1 if self.interleave_to is None else self.interleave_to), self.skew_to or 0


_OF_DISKS = (
    "--fit-geometry", "--sides-from", "--sides-to", "--interleave-from", "--skew-from", "--interleave-to", "--skew-to"
)

#: Options that say nothing without one of some others, which are named.
_NEEDS: tuple[tuple[str, tuple[str, ...], str], ...] = (
    ("--lane-width", ("--lane", "--join"), "it says how wide a lane is"),
    ("--trim-to", ("--trim",), "that names the byte that may be cut away"),
    ("--pad-to", ("--fill",), "that names the byte to pad with"),
    ("--pad-at", ("--pad-to",), "that says to which size"),
    ("--cut-data", ("--fit-geometry",), "that is what cuts"),
    ("--fit-geometry", ("--fill",), "that names the byte to pad with, and the only one that may be cut away"),
    *((option, ("--geometry",), "that says where tracks and sectors begin") for option in _OF_DISKS),
    ("--geometry", _OF_DISKS, "it says what the disk is like, not what to do"),
)

#: Options that contradict each other.
_CLASHES = (
    ("--join", "--lane", "one makes the whole image of its lanes, the other takes a lane of the whole"),
    ("--join", "--geometry", "lanes are of chips, a geometry is of a disk"),
    ("--lane", "--geometry", "lanes are of chips, a geometry is of a disk"),
    ("--repeat-to", "--geometry", "chips are filled with copies, a disk never is"),
)


def check(wanted: WantedSteps, fill: int | None) -> None:
    """Refuse what does not fit together, before any file is read.

    Args:
        wanted: What is to be done.
        fill: The byte that closes gaps and pads, or None.

    Raises:
        UsageError: `usage`, naming the two options that clash.

    Example:
        >>> check(WantedSteps(lane=(0, 2), join=("u5.bin",)), None)
        Traceback (most recent call last):
        imagekeeper.errors.UsageError: --join and --lane clash: one makes the whole image of its lanes, ...
    """
    given = {_option(name) for name, value in vars(wanted).items() if value not in (None, ()) and value is not False}
    given |= set() if fill is None else {"--fill"}
    for one, other, why in _CLASHES:
        if {one, other} <= given:
            raise _usage(f"{one} and {other} clash", why, "do one, and the other with its result")
    for option, others, why in _NEEDS:
        if option in given and given.isdisjoint(others):
            names = " or ".join(others)
            raise _usage(f"{option} needs {names}", why, f"add {names}, or leave out {option}")
    if len(wanted.join) not in (0, 1, 3):
        raise _usage(
            f"{len(wanted.join) + 1} images cannot be joined as lanes", "a bus has 2 or 4 lanes, and IN is the first",
            "give --join once, or three times",
        )  # fmt: skip
    order = (wanted.sides_from or "alternating", wanted.sides_to or "alternating")
    if given & {"--sides-from", "--sides-to"} and order[0] == order[1]:
        raise _usage(
            "--sides-from and --sides-to clash", f"both are {order[0]}, so that nothing would change",
            "give the order that the file has, and the order wanted",
        )  # fmt: skip
    if given & set(_OF_DISKS[3:]) and wanted.sectors_from == wanted.sectors_to:
        raise _usage(
            "the interleave and skew from and to clash", "they are the same, so that nothing would change",
            "give those that the file has, and those wanted; what is left out is interleave 1 and skew 0",
        )  # fmt: skip


def _option(field: str) -> str:
    return "--lane-width" if field == "lane_bytes" else "--" + field.replace("_", "-")


def _usage(what: str, why: str, hint: str) -> UsageError:
    return UsageError("usage", what, why=why, hint=hint)
