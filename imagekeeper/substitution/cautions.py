"""What to know or to do when a chip takes the place of another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from imagekeeper.chips import Chip
from imagekeeper.chips.voltages import between_letters
from imagekeeper.substitution.joints import Joint
from imagekeeper.substitution.lines import lines_of
from imagekeeper.substitution.results import Verdict

#: Before anything is plugged in. Common practice, no source; that 254 nm harms is in `imagekeeper.chips.erasing`.
GENERAL = (
    "The pins are those of the generic types: the maker's data sheet of the very chip, and the board itself, decide. "
    "Compare both with this answer before anything is plugged in, and measure the supplies at the empty socket.",
    "Static destroys chips: wear an earthed wrist strap, keep them in conductive foam, and switch the power off and "
    "let it fall to zero before a chip goes in or out. Mind the notch: the wrong way round usually destroys at once.",
    "Never open a machine that is plugged in. Programming voltages above 5 V belong in a device programmer only; have "
    "work on mains, on picture tubes, or on high voltage done by someone qualified under the local rules.",
)

ULTRAVIOLET = (
    "Windowed chips are erased with short-wave ultraviolet light, which burns eyes and skin, hours later and without "
    "warning: only in a closed box, never with a look into the lamp. Then check for blank at low and at high Vcc."
)


def pulsed(chip: Chip) -> Iterator[str]:
    """Tell of the pin on which a chip of the first generation takes a high voltage; from memory, no sheet was seen."""
    for pin, line in enumerate(lines_of(chip), 1):
        if line.pulse_v:
            yield (
                f"A {chip.id} is written and erased with {line.pulse_v:g} V on pin {pin} (from memory), and its board "
                f"may do that in the socket: {line.pulse_v:g} V destroys what stands there instead, a 2816A or 28C16 "
                f"(/WE on pin 21, 5 V only) as well. Look at the whole marking, and measure pin {pin} of the socket "
                "while the machine reads and while it saves."
            )


def runs_a_clock(chip: Chip, socket: Chip) -> bool:
    """Tell whether a clock runs in bytes of a chip that are plain memory in the original."""
    return chip.carrier == "clock-ram" and socket.carrier != "clock-ram"


def clock_caution(ticking: Sequence[Chip]) -> str:
    """Warn of the clock in a RAM: it is in the last eight bytes of each of these chips.

    Source:
        That there is a clock: the data sheet of the chip, as its row cites it. Where it is: from memory.
    """
    named = " or ".join(
        f"{chip.id} ({chip.words - 8:X} to {chip.words - 1:X}{', from memory' if 'note' in chip.unsourced else ''})"
        for chip in ticking
    )
    return (
        f"A clock runs in the last 8 bytes of a {named}, and they change by themselves: what the machine writes there "
        "is not kept, and sets or stops the clock. It serves only where the machine never uses them."
    )


def cautions_of(chip: Chip, socket: Chip, verdict: Verdict, joints: Sequence[Joint]) -> Iterator[str]:
    """Say what to know or to do about one chip in the socket of another, the weightiest first."""
    if chip.id == socket.id:
        return
    yield from pulsed(chip)
    yield from between_letters(chip.id, socket.id)
    if chip.erasing is not None:
        yield f"It is erased {chip.erasing}: in a programmer set to this very type, never with a lamp."
    writable = any(one.need.writes for one in joints)
    joined = any(one.need.writes and any(line.writes for line in one.given) for one in joints)
    written = any(line.writes or line.pulse_v for line in lines_of(socket))
    if writable and socket.carrier not in ("ram", "clock-ram"):
        yield (
            "Noise on /WE while power comes up can write into it: see that /WE is firmly high, and switch its write "
            "protection on where it has one."
        )
    if written and not joined:
        yield "The machine can write to the original; to this chip it cannot: its settings will not be kept."
    if joined and (chip.carrier == "flash") != (socket.carrier == "flash"):
        yield (
            "Flash memory is written by other commands than other chips: what the machine writes is not kept, or "
            "spoils what is there. Write the chip in a programmer, and switch its write protection on where it has one."
        )
    if socket.carrier in ("ram", "clock-ram") and chip.carrier in ("ram", "clock-ram") and chip.cell == "outside":
        yield "It keeps its contents only while the board's battery feeds it."
    if runs_a_clock(chip, socket):
        yield clock_caution((chip,))
    if socket.carrier == "clock-ram" and chip.carrier != "clock-ram":
        yield "It has no clock: the machine's time stands still."
    fewer = (chip.supply_tolerance_percent, socket.supply_tolerance_percent)
    if None not in fewer and fewer[0] < fewer[1]:  # type: ignore[operator]  # both are numbers
        yield f"Its supply may be off by {fewer[0]:g}% only, the original's by {fewer[1]:g}%: measure it."
    if any(one.need.name == "READY" for one in joints):
        yield "Its READY output pulls low while it is being written: never write it in the socket."
    if any(one.need.name == "/INT" for one in joints):
        yield "Its /INT output pulls low while the supply fails: bend that pin out where the board has anything there."
    if verdict == "adapter" and _linked(joints):
        yield "Two selects are tied together: the chip may answer later after them than the original did."
    if chip.technology == "cmos-eprom" and socket.technology in ("nmos-eprom", "pmos-eprom", "mask-rom", "prom"):
        yield "It is a CMOS chip: no input may float, as old boards let them (from memory)."
    if chip.row_spacing_inch != socket.row_spacing_inch:
        yield f"Its rows are {chip.row_spacing_inch:g} inch apart, the socket's {socket.row_spacing_inch:g} inch."


def _linked(joints: Sequence[Joint]) -> bool:
    selects = [one.socket_pins for one in joints if one.need.kind == "select" and one.given
               and one.given[0].kind == "select"]  # fmt: skip
    return len(set(selects)) < len(selects)
