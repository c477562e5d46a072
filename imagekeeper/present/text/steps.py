"""What was done to an image, step by step, in the trade's words."""

from __future__ import annotations

from imagekeeper.transforms.chip_steps import FillGaps, JoinLanes, Pad, Repeat, SplitLane, Swap, Trim, Window
from imagekeeper.transforms.disk_steps import FitGeometry, OrderSectors, OrderSides
from imagekeeper.transforms.replaying import AnyStep
from imagekeeper.units import plural


def describe(step: AnyStep) -> str:
    """Say a step in the trade's words.

    Example:
        >>> describe(SplitLane(0, 2, 1)), describe(Pad(8192, 255, "start"))
        ('lane 0 of 2, a byte wide', 'padded at the start with FF')
    """
    match step:
        case Window():
            return f"window from offset {step.offset:04X}"
        case FillGaps():
            return f"{plural(len(step.gaps), 'gap')} filled with {step.fill:02X}"
        case JoinLanes():
            return f"{len(step.others) + 1} lanes joined, each {_wide(step.width_bytes)}"
        case Trim():
            return f"trimmed of {step.fill:02X} at the end"
        case Swap():
            return f"{step.swapped} of {16 if step.swapped == 'bytes' else 32}-bit words swapped"
        case SplitLane():
            return f"lane {step.lane} of {step.lanes}, {_wide(step.width_bytes)}"
        case Pad():
            return f"padded at the {step.at} with {step.fill:02X}"
        case Repeat():
            return "repeated"
        case FitGeometry():
            return f"cut or padded with {step.fill:02X} to {_geometry(step)}"
        case OrderSides():
            return f"sides from {step.sides_from} to {step.sides_to}, {_geometry(step)}"
        case OrderSectors():
            before, after = _sectors(step.interleave_from, step.skew_from), _sectors(step.interleave_to, step.skew_to)
            return f"sectors from {before} to {after}, {_geometry(step)}"
        case _:
            return {"reverse-bits": "bits of every byte reversed", "invert": "every bit inverted"}[step.step]


def _wide(width_bytes: int) -> str:
    return {1: "a byte wide", 2: "a 16-bit word wide"}[width_bytes]


def _geometry(step: FitGeometry | OrderSides | OrderSectors) -> str:
    return step.geometry + (f" with a first track of {step.first_track}" if step.first_track else "")


def _sectors(interleave: int, skew: int) -> str:
    if (interleave, skew) == (1, 0):
        return "order by number"
    return f"interleave {interleave}" + (f" and skew {skew}" if skew else "")
