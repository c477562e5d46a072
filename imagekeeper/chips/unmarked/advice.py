"""What can destroy a chip that may be one of several, and the order of steps in which nothing is destroyed.

That power is off, capacitors empty and grounds found first, and that a first supply is limited, is common practice, no
source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from imagekeeper.chips.model import Chip
from imagekeeper.chips.unmarked.pins import WRITES, kind_of, meaning_of
from imagekeeper.chips.unmarked.results import ComparedPin, NextPin

#: So many chips are named in a sentence.
_NAMED = 5


def dangers(chips: Sequence[Chip]) -> Iterator[str]:
    """Tell what can destroy it, or what it holds, worst first."""
    if not chips:
        yield (
            "Nothing is known of its supplies. Chips of its time take -5 V, -9 V or +12 V beside +5 V, or have +5 V "
            "and ground at other pins than their neighbours: connect nothing until all of them are found on the board."
        )
        return
    yield from _odd_supplies(chips)
    yield from _supplies_elsewhere(chips)
    yield from _written(chips)
    if kept := [one for one in chips if one.carrier in ("ram", "clock-ram") or one.technology == "shadow-ram"]:
        yield (
            f"It could be a memory that forgets ({_names(kept)}): where the machine still runs, or a battery may be on "
            "the board, read it there before the supply is cut or the chip is taken out."
        )
    high = [one for one in chips if one.vpp_v or one.ask_maker or one.ask_marking or one.signatures]
    among = f"; {_names(high)} would be among them" if high else ""
    yield (
        "Only read. Programming, erasing, a blank check as another type, or asking for a signature (12 V on A9) puts "
        f"high voltages on pins that are something else in others{among}."
    )
    if latched := [one for one in chips if one.latches_address]:
        yield (
            f"{_names(latched)} {'take' if len(latched) > 1 else 'takes'} the address in as /CE falls: with /CE held "
            "low one byte comes over and over, and such reads agree with each other."
        )


def steps(pins: int, compared: Sequence[ComparedPin], nexts: Sequence[NextPin]) -> Iterator[str]:
    """Give the steps, in the order in which they are safe."""
    settled = {one.number: one.meanings[0].what for one in compared if len(one.meanings) == 1}
    grounds = [number for number, what in settled.items() if what == "GND"]
    supplies = [number for number, what in settled.items() if what.startswith("Vcc")]
    yield (
        "Write down and photograph everything on the chip and beside its socket, the notch, and whether it has a "
        "window. If the machine still runs and it may be a memory with a battery, read that first."
    )
    yield (
        "Switch the machine off and pull its plug; let its supplies fall to zero. Inside mains supplies and by picture "
        "tubes charge stays: leave that to somebody qualified, under the rules of the place."
    )
    yield (
        "With an earthed wrist strap take the chip out, and measure at the empty socket with an ohm-meter. "
        + (f"Ground is {_pins(grounds)} in all candidates. " if grounds else "Ground is not known to be at one pin. ")
        + "Such a pin has next to no resistance to the ground of the board."
    )
    yield (
        "Supply: the other end of the small capacitor beside the socket, and the supply pins of plain logic chips. "
        + (f"It is {_pins(supplies)} in all candidates." if supplies else "It is not known to be at one pin.")
    )
    yield (
        "Other supplies: pins that lead to a regulator, a diode or a large capacitor, and to the same pin of the "
        "sockets beside it, are -5 V, -9 V or +12 V until the board shows otherwise."
    )
    yield (
        "Buses: pins that are joined with those of other memories and of the processor are addresses and data; a pin "
        "that is joined with nothing is unused. Selects come from decoders and gates."
    )
    for one in nexts:
        told = "; ".join(f"{found} leaves {_some(parts)}" for found, parts in one.outcomes.items())
        yield f"Measure where pin {one.number} goes: {told}. Then ask again with what you found."
    yield (
        f"Diode test of the chip itself, out of the socket: with the red lead on ground, most of its {pins} pins "
        "show one diode, unused pins nothing, and the supply less than the others. What shows a short is broken or "
        "no such chip."
    )
    yield (
        "Only when ground and every supply are found on the board, and no candidate is left that has another: "
        "connect +5 V from a supply limited to 150 mA, with all selects off. Where it takes more, or grows warm, "
        "switch off at once."
    )
    yield (
        "Read it as each type that is left, at 5 V only, several times, and keep every read with the name of the "
        "setting. What differs between settings tells which address lines it has. Its own data sheet decides, never "
        "this list."
    )


def _odd_supplies(chips: Sequence[Chip]) -> Iterator[str]:
    odd = [one for one in chips if any(volts != one.supplies_v["Vcc"] for volts in one.supplies_v.values())]
    rest = [one for one in chips if one not in odd]
    if odd:
        where: dict[int, set[str]] = {}
        for one in odd:
            for pin in range(1, one.pins + 1):
                if kind_of(one, pin) == "other-supply":
                    where.setdefault(pin, set()).add(meaning_of(one, pin))
        told = ", ".join(f"pin {pin}: {' or '.join(sorted(names))}" for pin, names in sorted(where.items()))
        others = f" These destroy the others ({_names(rest)})." if rest else ""
        yield (
            f"{_names(odd)} {'take' if len(odd) > 1 else 'takes'} more supplies than +5 V ({told}).{others} A reader "
            "that is set to the wrong type destroys it at once: find out first what the board brings to these pins."
        )


def _supplies_elsewhere(chips: Sequence[Chip]) -> Iterator[str]:
    for pin in range(1, chips[0].pins + 1):
        kinds = {kind: [one for one in chips if kind_of(one, pin) == kind] for kind in ("supply", "ground")}
        if kinds["supply"] and kinds["ground"]:
            yield (
                f"Pin {pin} is the supply of {_names(kinds['supply'])} and the ground of {_names(kinds['ground'])}: "
                "power to the one is a short through the other."
            )


def _written(chips: Sequence[Chip]) -> Iterator[str]:
    for pin in range(1, chips[0].pins + 1):
        writes = [one for one in chips if one.signals_at(pin)[0] in WRITES]
        driven = [one for one in chips if one not in writes and kind_of(one, pin) in ("address", "input", "ground")]
        if writes and driven:
            name = meaning_of(writes[0], pin)
            yield (
                f"Pin {pin} is {name} in {_names(writes)}, and no line that writes in {_names(driven)}: a reader "
                "that is set to the latter can drive it low, and writes over what it holds. Hold it high until it is "
                "known."
            )


def _names(chips: Sequence[Chip]) -> str:
    return _some([one.id for one in chips])


def _some(names: Sequence[str]) -> str:
    more = len(names) - _NAMED
    if more > 0:
        return f"{', '.join(names[:_NAMED])} and {more} more"
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))


def _pins(numbers: Sequence[int]) -> str:
    word = "pin" if len(numbers) == 1 else "pins"
    return f"{word} {', '.join(map(str, numbers))}"
