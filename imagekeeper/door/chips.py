"""Memory chips: look them up, find what can take a chip's place, plan a new one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Unpack

from imagekeeper import chips
from imagekeeper.chips import Chip, ChipList
from imagekeeper.chips.unmarked import MOST_PINS, Measured, UnknownChip, narrow
from imagekeeper.containers.manner import Repeated
from imagekeeper.door.arguments import check_typed
from imagekeeper.door.sources import Place, Source, among, given, named, options
from imagekeeper.door.steps import Steps, spelled_out, wanted_of
from imagekeeper.jobs.chips import planning
from imagekeeper.jobs.chips.planning import LAMP_CM, LAMP_MW_CM2, ChipPlan
from imagekeeper.substitution import Substitution, substitutes
from imagekeeper.substitution.lines import Level
from imagekeeper.transforms.step import within


def find_chip(part: str, *, maker: str | None = None) -> Chip:
    """Look a memory chip up by its marking: sizes, voltages, pins, and what each of them rests on.

    The maker's prefix, and what tells speed and package, do not matter. The maker's data sheet decides.

    Args:
        part: What is printed on it.
        maker: Whose chip it is, as marked: then what that maker's data sheet gives goes first.

    Raises:
        NotFoundError: `chip-unknown`: no chip of the table, or more than one, has this marking; `maker-unknown`.

    Example:
        >>> import imagekeeper
        >>> chip = imagekeeper.find_chip("27C256")
        >>> chip.bytes, chip.pins, chip.pin_of("D0")
        (32768, 28, 11)
    """
    check_typed("part", part, str)
    return chips.find(part, maker)


def list_chips(*, carrier: str | None = None, size_bytes: int | None = None) -> ChipList:
    """List the memory chips of the table.

    Args:
        carrier: Only those of this kind: `eprom`, `mask-rom`, `ram`, ...
        size_bytes: Only those of this size. [byte]

    Example:
        >>> import imagekeeper
        >>> "2716" in [chip.id for chip in imagekeeper.list_chips(carrier="eprom", size_bytes=2048).chips]
        True
    """
    return chips.listed(carrier=carrier, size=size_bytes)


def narrow_chip(
    pins: int, *, size_bytes: int | None = None, bits: int | None = None, carrier: str | None = None,
    row_spacing_inch: float | None = None, measured: Mapping[int, Measured] | None = None,
) -> UnknownChip:  # fmt: skip
    """Tell which chips one could be whose number the table does not have, and how to find out without harm.

    It is never said to be one of them: the table does not have every chip.

    Args:
        pins: How many pins it has.
        size_bytes: What it holds. [byte]
        bits: The width of its words. [bit]
        carrier: Only chips of this kind: `eprom`, `mask-rom`, `prom`, ...
        row_spacing_inch: How far its two rows of pins are apart. [inch]
        measured: What an ohm-meter found at pins of its socket, the power off: `ground`, `5v`, `other-supply`, `bus`
            or `open`.

    Raises:
        UsageError: `usage`: it has no such pin.

    Example:
        >>> import imagekeeper
        >>> found = imagekeeper.narrow_chip(24, size_bytes=2048, carrier="eprom", measured={21: "5v"})
        >>> [one.part for one in found.candidates], found.ruled_out
        (['2716', '27C16'], {'2716-three-supply': 'pin 21 goes to the +5 V rail, and is its Vbb -5 V'})
    """
    check_typed("pins", pins, int)
    within("the number of pins", pins, 1, MOST_PINS)
    for pin, what in (measured or {}).items():
        check_typed("a pin", pin, int)
        among(f"pin {pin}", what, Measured)
    return narrow(
        pins, size=size_bytes, bits=bits, carrier=carrier, inch=row_spacing_inch, measured=measured
    )


def substitute(
    socket: str, part: str | None = None, *, access_ns: int | None = None, tied: Mapping[int, Level] | None = None
) -> Substitution:
    """Tell which chips serve in the socket of another, best first, pin by pin, and what would do harm there.

    Args:
        socket: The marking of the chip that the socket was made for.
        part: Judge this chip alone, or None for all of the table.
        access_ns: How fast a chip must be. [ns]
        tied: Pins of the socket that the board holds `high` or `low`.

    Raises:
        NotFoundError: `chip-unknown`.
        UsageError: `usage` for a pin that cannot be tied.

    Example:
        >>> import imagekeeper
        >>> fit = imagekeeper.substitute("27128", "27C256").fits[0]
        >>> fit.verdict, fit.image.copies
        ('image-placed', 2)
    """
    check_typed("socket", socket, str)
    for pin, level in (tied or {}).items():
        among(f"pin {pin}", level, Level)
    return substitutes(socket, part, access_ns=access_ns, tied=tied)


@spelled_out
def plan_chip(
    source: Source,
    output: Place,
    chip: str,
    *,
    maker: str | None = None,
    socket: str | None = None,
    offset: int | None = None,
    present: Source | None = None,
    label: str | None = None,
    lamp_mw_cm2: float = LAMP_MW_CM2,
    lamp_cm: float = LAMP_CM,
    to: str | None = None,
    force: bool = False,
    container: str | None = None,
    member: str | None = None,
    keep_doubtful: bool = False, repeated: Repeated = "refuse",
    fill: int | None = None,
    **steps: Unpack[Steps],
) -> ChipPlan:
    r"""Make the file that programs an image into a chip, and the burn sheet for the bench.

    The steps are done first, in the order in which they stand here; then the image must fill the chip, or it is said
    how it is placed. `html` and `text` show the sheet.

    Args:
        source: A path, the bytes of a file, or an image.
        output: The file for the programmer, written whole or not at all.
        chip: The marking of the chip to be programmed.
        maker: Whose chip it is, as marked: voltages differ by maker, and without one none is given that could harm.
        socket: The marking of the chip that the socket was made for, where that is another: its pins then decide how
            the image lies in the chip.
        offset: Where in the chip the image begins; `fill` fills the rest. [byte]
        present: What was read from the chip that is to be used; None for an erased or new one.
        label: The sticker's text; without it the part and the sum.
        lamp_mw_cm2: The intensity of the lamp that erases, 2.5 cm from it. [mW/cm2]
        lamp_cm: How far from it the chip lies. [cm]
        to: The kind to write; without it the ending of the output decides, and raw where that says nothing.
        force: Replace the output if it is there; an input never is.
        container: The kind to take the source as, instead of finding it.
        member: Which file of a zip file.
        keep_doubtful: Take what the file itself speaks against.
        repeated: Which value counts where a file gives an address several: `first`, `last`, or `refuse`.
        fill: The byte that closes gaps, and pads.
        steps: What is to be done to the bytes first.

    Raises:
        ContradictionError: `does-not-fit`, `must-erase`.
        NotFoundError: `chip-unknown`; there is no such file.
        InputError: `doubtful`: the image has bytes that must be decided first; it cannot be understood.
        UsageError: What is wanted does not go together; the output cannot be written.

    Example:
        >>> import imagekeeper, tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     plan = imagekeeper.plan_chip(b"TIDE" * 4096, f"{folder}/u4.hex", "27C128")
        >>> plan.chip, plan.container, plan.after.sum16
        ('27C128', 'intel-hex', '6000')
    """
    check_typed("chip", chip, str)
    sources = (source,) if present is None else (source, present)
    how = options(
        *sources, container=container, member=member, keep_doubtful=keep_doubtful, repeated=repeated, fill=fill
    )
    within("the offset", offset or 0, 0, (1 << 32) - 1)
    return planning.plan_chip(
        given(source), named(output), chip, wanted_of(steps), how, maker=maker, socket=socket, offset=offset,
        present=None if present is None else given(present), label=label, lamp_mw_cm2=lamp_mw_cm2, lamp_cm=lamp_cm,
        to=to, force=force,
    )  # fmt: skip
