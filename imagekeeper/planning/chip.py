"""The burn sheet: how an image gets into a chip, what the programmer must show, and what can go wrong."""

from __future__ import annotations

import math
from dataclasses import dataclass

from imagekeeper.chips import Chip, find, listed, makers
from imagekeeper.chips.cautions import is_danger
from imagekeeper.chips.cells import change
from imagekeeper.chips.erasing import USUAL_DOSE, exposure
from imagekeeper.chips.sourcing import on_memory
from imagekeeper.errors import ContradictionError, UsageError
from imagekeeper.fingerprints import Fingerprint
from imagekeeper.planning.sheet import Fact, Sheet, SheetPart, in_short, only_byte
from imagekeeper.sentences.say import Phrase
from imagekeeper.substitution import Fit, Wire, substitutes
from imagekeeper.units import size_text

#: What a data sheet must say before anything depends on it.
CHECK = "check the data sheet of the chip in your hand"

#: Kinds of chip that nobody can write.
READ_ONLY = ("mask-rom",)


@dataclass(frozen=True)
class ProgrammerSums:
    """What a programmer shows of an image.

    Attributes:
        size_bytes: [byte]
        sum16: Sum of all bytes, modulo 65536.
        crc32: CRC-32.
        sha256: SHA-256.
    """

    size_bytes: int
    sum16: str
    crc32: str
    sha256: str


@dataclass(frozen=True, kw_only=True)
class Present:
    """What is in the chip now, against what shall be.

    Attributes:
        name: The file that was read from it.
        blank: Whether it is blank.
        programmable: Whether it can be programmed without erasing.
        wrong_bits: How many bits would have to go back.
        first_address: The first byte of these, or null. [byte]
    """

    name: str
    blank: bool
    programmable: bool
    wrong_bits: int
    first_address: int | None


def sums(figures: Fingerprint) -> ProgrammerSums:
    """Take from a fingerprint what programmers show."""
    return ProgrammerSums(figures.size_bytes, figures.sum16, figures.crc32, figures.sha256)


def refuse(chip: Chip, size: int) -> None:
    """Stop where a chip cannot be written or would forget it at once, or where an image cannot go in.

    Raises:
        ContradictionError: `does-not-fit`.
    """
    if chip.carrier in READ_ONLY:
        raise ContradictionError("does-not-fit/mask-rom", chip=chip.id)
    if chip.cell == "outside":
        keepers = _keepers(chip)
        instead: Phrase | str = Phrase("does-not-fit/forgets-instead", parts=keepers) if keepers else ""
        raise ContradictionError("does-not-fit/forgets", chip=chip.id, instead=instead)
    if size > chip.file_bytes:
        raise ContradictionError("does-not-fit/larger-than-chip", chip=chip.id, size=size, chip_size=chip.file_bytes)
    if size < chip.file_bytes:
        raise ContradictionError(
            "does-not-fit/smaller-than-chip", chip=chip.id, size=size, chip_size=chip.file_bytes,
            fill=chip.blank or 'FF',
        )  # fmt: skip


def _keepers(chip: Chip) -> list[str]:
    """Name chips that keep what is written into them: EEPROM of its size and package, modules that fit its socket.

    Only EEPROM that is written with 5 V alone, for a RAM's socket gives no more.
    """
    eeproms = [one for one in listed(carrier="eeprom", size=chip.bytes).chips
               if (one.words, one.pins, one.vpp_v) == (chip.words, chip.pins, ())]  # fmt: skip
    modules = [one.part for one in substitutes(chip.id).fits
               if one.whole and one.technology == "ram" and find(one.part).cell == "inside"]  # fmt: skip
    return [*(f"{one.id} (EEPROM)" for one in eeproms), *(f"{one} (RAM with a battery inside)" for one in modules)]


def refuse_nibbles(chip: Chip, data: bytes) -> None:
    """Stop where a chip of four bits should hold the upper halves of bytes: they have no place there.

    Raises:
        ContradictionError: `does-not-fit`.
    """
    if chip.bits != 4 or max(data) <= 0x0F or min(data) >= 0xF0:
        return
    raise ContradictionError("does-not-fit/four-bits", chip=chip.id)


def refuse_present(chip: Chip, found: Present) -> None:
    """Stop where the chip must be erased first, or where that is impossible.

    Raises:
        ContradictionError: `must-erase`.
    """
    if found.programmable:
        return
    back: Phrase | str = ""
    if found.first_address is not None:
        back = Phrase("must-erase/first", at=found.first_address)
    once = chip.carrier == "prom"
    raise ContradictionError(
        "must-erase/never" if once else "must-erase", chip=chip.id, bits=found.wrong_bits, first=back
    )


def refuse_socket(fit: Fit, socket: str) -> None:
    """Stop where a chip must never be plugged into a socket, or cannot do the original's work.

    Raises:
        ContradictionError: `does-not-fit`.
    """
    if fit.verdict != "never" and not fit.short:
        return
    why = "; ".join(fit.dangers[:3]) if fit.dangers else fit.says
    raise ContradictionError("does-not-fit/socket", part=fit.part, socket=socket, trouble=why)


def socket_parts(fit: Fit, socket: str, read_back: int) -> tuple[SheetPart, ...]:
    """Say on the sheet what the socket needs: straps or an adapter, pin by pin, on what it depends, and what to try.

    Args:
        fit: How the chip serves there.
        socket: The chip that the socket was made for.
        read_back: How many words of the very file came back right over the simulated wiring.
    """
    facts = [Fact("made for", socket), *(Fact("NEVER as it is", one) for one in fit.dangers)]
    facts += [*(Fact("ONLY IF", one) for one in fit.conditions), Fact("the chip", fit.says)]
    facts += [Fact("also needed", one) for one in fit.additions]
    if fit.simulation is not None:
        facts.append(Fact("proved", f"{fit.simulation.says}; levels only, no times"))
    if read_back:
        facts.append(Fact("read back", f"{read_back} words of this file over this socket's pins: those of the image"))
    for which, its in (("first chip, ", fit.wires), ("second chip, ", fit.second)):
        wires = [wire for wire in its if not wire.straight]
        whose = which if fit.second else ""
        facts += [Fact(f"{whose}pin {wire.chip_pin} ({wire.chip_signal})", _wired(wire)) for wire in wires]
        if wires and len(wires) < len(its):
            facts.append(Fact(f"{whose}all other pins", "straight through"))
    facts += [Fact("from memory", one, True) for one in fit.from_memory]
    facts += [Fact("own row", one.why) for one in find(socket).own]
    tried = fit.ohmmeter.tried if fit.ohmmeter is not None else ()
    meter = SheetPart("Before the chip goes in", tuple(Fact(TRIED[label], text) for label, text in tried))
    return (SheetPart("The socket", tuple(facts)), *([meter] if tried else []))


#: What to do with the pins that are tried with a meter, on the adapter alone or at the empty socket.
TRIED = {
    "rings": "must ring", "try last": "ring to nothing", "silent": "must NOT ring", "measure": "at the empty socket",
}


def _wired(wire: Wire) -> str:
    if not wire.socket_pins:
        return f"bent out: {wire.socket_signal}"
    pins = " and ".join(map(str, wire.socket_pins))
    gate = f", joined by an {wire.gate} gate" if wire.gate else ""
    inverted = f", inverted first: {' and '.join(map(str, wire.inverted))}" if wire.inverted else ""
    return f"to socket pin {pins} ({wire.socket_signal}){gate}{inverted}"


def erasing_text(chip: Chip, lamp_mw_cm2: float, distance_cm: float) -> str | None:
    """Say how long a chip lies under a lamp, or None where light does not erase it.

    Args:
        chip: The chip.
        lamp_mw_cm2: The lamp's intensity, 2.5 cm from it. [mW/cm2]
        distance_cm: Where the chip lies. [cm]

    Raises:
        UsageError: `usage` for a lamp or distance that cannot be.

    Example:
        >>> from imagekeeper.chips import find
        >>> erasing_text(find("27128"), 12, 2.5)
        '15 W s/cm2 of 253.7 nm: 21 min under a lamp of 12 mW/cm2 at 2.5 cm'
        >>> erasing_text(find("28C64"), 12, 2.5) is None
        True
    """
    if not chip.erased_by_light:
        return None
    dose = max(chip.erase_dose_ws_cm2, default=USUAL_DOSE)
    try:
        found = exposure(lamp_mw_cm2, distance_cm=distance_cm, dose_ws_cm2=dose)
    except ValueError as problem:
        raise UsageError("usage/lamp", trouble=str(problem)) from problem
    short, long = math.ceil(found.shortest_s / 60), math.ceil(found.longest_s / 60)
    minutes = f"{long} min" if short == long else f"{short} to {long} min"
    return f"{dose:g} W s/cm2 of 253.7 nm: {minutes} under a lamp of {lamp_mw_cm2:g} mW/cm2 at {distance_cm:g} cm"


def sheet(
    chip: Chip, file: str, kind: str, before: ProgrammerSums, after: ProgrammerSums, how: str, *,
    present: Present | None = None, socket: tuple[SheetPart, ...] = (), erasing: str | None = None,
    label: str | None = None,
) -> Sheet:  # fmt: skip
    """Write the burn sheet.

    Args:
        chip: The chip.
        file: The file for the programmer.
        kind: Its container.
        before: Of the image as it came.
        after: Of what goes into the chip.
        how: How the one became the other, in words.
        present: What is in the chip now, or None.
        socket: What is to be known of the socket.
        erasing: How long erasing takes, or None where nothing is erased by light.
        label: The sticker's text.
    """
    memory = set(chip.unsourced)

    def fact(name: str, value: str, *members: str) -> Fact:
        doubts = "".join(f". Disputed: {one.says}" for one in chip.disputed if one.field in members)
        return Fact(name, value + doubts, bool(memory & set(members)))

    volts = ", ".join(f"{name} {value:+g} V" for name, value in chip.supplies_v.items())
    the_chip = [
        fact("part", f"{chip.id}, {chip.pins} pins", "pins"),
        *([fact("also marked", ", ".join(chip.aliases))] if chip.aliases else []),
        fact("pin 1", "left of the notch, seen from above with the notch up; the notch of the socket decides"),
        fact("supply", volts, "supplies_v"),
    ]
    for way in chip.organisations:
        the_chip.append(fact("words", f"{way.words} of {way.bits} bits: {way.when}", "organisations"))
    if chip.reading:
        the_chip.append(fact("to read it", chip.reading, "reading"))
    if chip.note and not is_danger(chip.note):
        the_chip.append(fact("note", chip.note, "note"))
    for one in chip.its_signatures:
        told = "; ".join(filter(None, (f"{one.code}: {one.maker}", one.note)))
        the_chip.append(Fact("signature", told, not one.sources))
    if guessed := on_memory(chip):
        the_chip.append(Fact("no document seen for", ", ".join(guessed), True))
    programming = []
    if chip.ask_marking:
        programming.append(Fact("EA", str(Phrase("step/name-marking", because=chip.ask_marking))))
    if chip.maker:
        programming.append(Fact("maker", f"{chip.maker}; another maker's chip may take other voltages and pulses"))
    if chip.voltage_unknown:
        asked = Phrase("step/name-maker", because=chip.ask_maker)
        programming.append(Fact("Vpp and Vcc", str(asked), "ask_maker" in memory))
    programming += [Fact(one.maker, makers.said(one)) for one in chip.makers if chip.maker in (None, one.maker)]
    if chip.vpp_v:
        chosen = "choose what the chip's own data sheet says"
        programming.append(fact("Vpp", f"{chip.vpp.text(chip.by)}: {chosen}", "vpp_v"))
    if chip.vpp_max_v:
        programming.append(fact("Vpp never above", f"{min(chip.vpp_max_v):g} V", "vpp_max_v"))
    if chip.vcc_programming_v:
        programming.append(fact("Vcc meanwhile", chip.vcc_programming.text(chip.by), "vcc_programming_v"))
    if gaps := makers.missing(chip):
        programming.append(Fact("not in the table", gaps))
    for method in chip.methods:
        doubts = "".join(f" Disputed: {dispute.says}." for dispute in method.disputed)
        programming.append(Fact("method", f"{method.title}: {method.says}{doubts}", bool(method.unsourced)))
    if chip.programming and not chip.methods:
        programming.append(fact("method", chip.programming, "programming"))
    if chip.pulse:
        programming.append(fact("program pulse", chip.pulse, "pulse"))
    if chip.blank:
        programming.append(fact("blank", f"every byte {chip.blank} before programming", "blank"))
    elif change(chip) == "unknown":
        programming.append(Fact("blank", "00 or FF, by maker and family: its own data sheet says which"))
    if erasing:
        programming.append(Fact("erasing", erasing))
    if chip.erasing:
        programming.append(fact("erasing", f"{chip.erasing}: never with a lamp", "erasing"))
    if not programming:
        told = "few programmers write this kind, and its machine may have to; "
        programming.append(Fact("method", told + CHECK, True))
    the_file = [Fact("file", f"{file} ({kind})"), Fact("made by", how), Fact("size", size_text(after.size_bytes))]
    if before != after:
        was = f"sum {before.sum16}, CRC-32 {before.crc32}, {size_text(before.size_bytes)}"
        the_file.append(Fact("before that", was))
    to_see = [
        Fact("sum", f"{after.sum16} (all bytes, 16 bits)"), Fact("CRC-32", after.crc32), Fact("SHA-256", after.sha256)
    ]
    parts = [
        SheetPart("The chip", tuple(the_chip)), *socket,
        SheetPart("Programming", tuple(programming)), SheetPart("The file", tuple(the_file)),
        SheetPart("The programmer must show", tuple(to_see)),
    ]  # fmt: skip
    return Sheet(
        title=f"Program a {chip.id} with {file}", parts=tuple(parts), steps=_steps(chip, file, after, present, label),
        cautions=tuple(_cautions(chip)), sources=tuple(dict.fromkeys(in_short(basis.source) for basis in chip.sources)),
        danger=_danger(chip),
    )  # fmt: skip


def _danger(chip: Chip) -> str | None:
    """The voltages that kill the chip, or its neighbours under like numbers, and what cannot be undone."""
    return "\n".join(text for text in (*chip.cautions, chip.note or "") if is_danger(text)) or None


def _cautions(chip: Chip) -> list[str]:
    texts = [text for text in chip.cautions if not is_danger(text)]
    return [
        *texts, *(one.why for one in chip.own),
        "Static electricity destroys chips: touch the grounded mat first, and carry them in conductive foam.",
    ]


def blank_caution(chip: Chip, data: bytes) -> tuple[str, ...]:
    """Warn of an image that holds nothing: every byte is the same, as in a bad read or a wrong file."""
    value = only_byte([data])
    if value is None:
        return ()
    used = 0x0F if chip.bits == 4 else 0xFF
    told = "so that it holds no program and no data"
    if chip.blank is not None and not (value ^ int(chip.blank, 16)) & used:
        told = "as in a chip of this type that was never written: there is nothing to program"
    return (f"The image is blank: every byte is {value:02X}, {told}. See that it is the right file, and a good read.",)


def _steps(chip: Chip, file: str, after: ProgrammerSums, present: Present | None, label: str | None) -> tuple[str, ...]:
    steps = [f"Read the marking on the chip, and find its own data sheet: {chip.id} is only the generic type."]
    if chip.voltage_unknown:
        steps.append(str(Phrase("step/find-maker")))
    if chip.erased_by_light and present is None:
        steps.append("If it has a window, erase it in the closed box; let it cool.")
    steps += [
        f"Choose this very type on the programmer; load {file}; the programmer must show sum {after.sum16}.",
        "Put the chip in with the power of the socket off, pin 1 where the socket has it; look twice.",
        *chip.power_steps,
    ]
    if chip.erasing and present is None:
        steps.append("Read its signature; only if that is right, erase it there, electrically. Never under a lamp.")
    if present is None and chip.blank and change(chip) != "any":   # what is written over needs not be blank
        steps.append(f"Blank check: every byte must be {chip.blank}.")
    elif present is None and chip.carrier == "prom" and chip.blank is None:
        steps.append("Blank check: every byte must be what its own data sheet says of a new chip, all 00 or all FF.")
    elif present is not None:
        state = "blank" if present.blank else "already partly written, and need not be erased"
        steps.append(f"Read it again: it must still be as in {present.name}, which is {state}.")
    only = " with the figures of its maker's data sheet, and no others" if chip.voltage_unknown else ""
    steps += [
        f"Program it{only}, and let the programmer verify.",
        "Take it out, put it in again, read it to a file; do this twice, the second time at another supply voltage or "
        "on another reader.",
        str(Phrase("step/prove-chip", crc32=after.crc32)),
    ]
    if chip.erased_by_light:
        steps.append("Cover the window with a label that keeps light out.")
    if label:
        steps.append(f"Label it: {label}")
    return tuple(steps)
