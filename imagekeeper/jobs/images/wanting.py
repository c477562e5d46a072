"""What a conversion may be asked to do to an image's bytes, and which of it fits together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from imagekeeper.errors import UsageError
from imagekeeper.floppy.arrangement import SideOrder
from imagekeeper.sentences.say import Phrase
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


_OF_DISKS = ("fit_geometry", "sides_from", "sides_to", "interleave_from", "skew_from", "interleave_to", "skew_to")

#: What the members of `WantedSteps`, and the byte that fills, are called.
_CALLED = {
    "lane": Phrase("usage/called-lane"), "lane_bytes": Phrase("usage/called-lane-width"),
    "join": Phrase("usage/called-join"), "trim": Phrase("usage/called-trim"),
    "trim_to": Phrase("usage/called-trim-to"), "pad_to": Phrase("usage/called-pad-to"),
    "pad_at": Phrase("usage/called-pad-at"), "repeat_to": Phrase("usage/called-repeat-to"),
    "cut_data": Phrase("usage/called-cut-data"), "geometry": Phrase("usage/called-geometry"),
    "fit_geometry": Phrase("usage/called-fit-geometry"), "sides_from": Phrase("usage/called-sides-from"),
    "sides_to": Phrase("usage/called-sides-to"), "interleave_from": Phrase("usage/called-interleave-from"),
    "interleave_to": Phrase("usage/called-interleave-to"), "skew_from": Phrase("usage/called-skew-from"),
    "skew_to": Phrase("usage/called-skew-to"), "fill": Phrase("usage/called-fill"),
}  # fmt: skip

#: What says nothing without one of some others, which are named.
_NEEDS: tuple[tuple[str, tuple[str, ...], Phrase], ...] = (
    ("lane_bytes", ("lane", "join"), Phrase("usage/needs-lane")),
    ("trim_to", ("trim",), Phrase("usage/needs-trim")),
    ("pad_to", ("fill",), Phrase("usage/needs-fill")),
    ("pad_at", ("pad_to",), Phrase("usage/needs-size")),
    ("cut_data", ("fit_geometry",), Phrase("usage/needs-fit")),
    ("fit_geometry", ("fill",), Phrase("usage/needs-fill-to-fit")),
    *((one, ("geometry",), Phrase("usage/needs-geometry")) for one in _OF_DISKS),
    ("geometry", _OF_DISKS, Phrase("usage/needs-work")),
)

#: What contradicts each other.
_CLASHES = (
    ("join", "lane", Phrase("usage/clash-of-lanes")),
    ("join", "geometry", Phrase("usage/clash-of-lanes-and-disk")),
    ("lane", "geometry", Phrase("usage/clash-of-lanes-and-disk")),
    ("repeat_to", "geometry", Phrase("usage/clash-of-copies")),
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
        imagekeeper.errors.UsageError: lanes to join and one lane clash: one makes the whole image of its lanes, ...
    """
    given = {name for name, value in vars(wanted).items() if value not in (None, ()) and value is not False}
    given |= set() if fill is None else {"fill"}
    for one, other, why in _CLASHES:
        if {one, other} <= given:
            raise UsageError("usage/steps-clash", one=_CALLED[one], other=_CALLED[other], because=why)
    for one, others, why in _NEEDS:
        if one in given and given.isdisjoint(others):
            wants = [_CALLED[name] for name in others]
            raise UsageError("usage/step-needs", step=_CALLED[one], wanted=wants, because=why)
    if len(wanted.join) not in (0, 1, 3):
        raise UsageError("usage/count-to-join", images=len(wanted.join) + 1)
    order = (wanted.sides_from or "alternating", wanted.sides_to or "alternating")
    if given & {"sides_from", "sides_to"} and order[0] == order[1]:
        raise UsageError("usage/sides-as-they-are", order=order[0])
    if given & set(_OF_DISKS[3:]) and wanted.sectors_from == wanted.sectors_to:
        raise UsageError("usage/sectors-as-they-are")
