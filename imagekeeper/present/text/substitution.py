"""Which chips can take the place of another, and what must be done for it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page
from imagekeeper.substitution import Fit, Substitution, Wire
from imagekeeper.tables.chips import AVAILABILITY, TECHNOLOGIES
from imagekeeper.units import plural

#: So many chips of a group are shown without --all.
MOST = 6


GROUPS = {
    "drops-in": "Drops in, with the image as it is",
    "image-placed": "Drops in, with the image repeated to fill it, or in the part named",
    "image-rearranged": "Drops in, with the image rearranged",
    "straps": "With some pins lifted out of the socket and tied",
    "adapter": "With an adapter (name the chip behind the socket to see its wiring)",
}

#: Where the machine itself fills the chip, nobody puts an image into it.
RAM_GROUPS = GROUPS | {"drops-in": "Drops in", "image-placed": "Drops in, and a part of it is used"}


HAD = {"made": "still made", "made-one-time": "made, no window", "surplus": "surplus only", None: ""}


def substitutes_text(result: Substitution, *, everything: bool = False) -> str:
    """Show the chips, best first."""
    lines = [*parts.wrapped("", result.says), *_asked(result)]
    shown = [one for one in result.fits if everything or (one.whole and one.technology != "mask-rom")]
    ram = result.ram
    for verdict, title in (RAM_GROUPS if ram else GROUPS).items():
        group = [one for one in shown if one.verdict == verdict]
        if group:
            lines += ["", f"{title}:", *_group(group, everything, ram)]
    worst = [one for one in result.fits if one.dangers and (everything or one.verdict == "never" or not one.short)]
    worst.sort(key=lambda one: (one.verdict != "never", one.technology == "mask-rom"))   # what no adapter cures first
    if worst:
        lines += ["", "NEVER plug these in as they are:"]
        for one in worst if everything else worst[:MOST]:
            lines += parts.wrapped(f"  {one.part}: ", f"{one.dangers[0]}{_more(one)}")
        lines += _rest(len(worst), everything)
    lines += [""]
    for caution in result.cautions:
        lines += parts.wrapped("  caution: ", caution)
    lines += parts.own(result.own)
    memory = "Pins, and what is still made, are often from memory: check the data sheet of the chip in your hand."
    lines += parts.wrapped("  ", memory)
    if not everything:
        lines += parts.wrapped("  ", "--all shows every chip: too small, too slow, mask ROMs, and the dangerous ones.")
    return page(lines)


def _asked(result: Substitution) -> Iterator[str]:
    told = [f"pin {pin} of the socket is held {level}" for pin, level in result.tied.items()]
    if result.access_ns is not None:
        told.append(f"{result.access_ns} ns or faster")
    if told:
        yield f"  as asked: {', '.join(told)}"


def _group(group: list[Fit], everything: bool, ram: bool) -> Iterator[str]:
    rows = []
    for one in group if everything else group[:MOST]:
        rows.append([one.part, _speed(one), HAD[one.availability], _how(one, ram)])
    yield from _with_last_wrapped(rows, indent="  ")
    yield from _rest(len(group), everything)
    conditions = [(one.part, one.conditions) for one in (group if everything else group[:MOST]) if one.conditions]
    for part, texts in conditions:
        yield from parts.wrapped(f"    {part} only if ", "; and ".join(texts))


def _rest(count: int, everything: bool) -> list[str]:
    return [] if everything or count <= MOST else [f"  and {count - MOST} more"]


def _how(one: Fit, ram: bool) -> str:
    """Say in a few words what must be done; no image is put into a RAM that the machine fills."""
    ties = [wire for wire in one.wires if not wire.straight and wire.socket_pins]
    words = ""
    if one.verdict == "straps":
        words = ", ".join(f"{wire.chip_pin} to {_level(wire)}" for wire in ties)
    elif one.verdict == "adapter":
        gates = ", gate" if any(wire.gate for wire in ties) else ""
        gates += ", inverter" if any(wire.inverted for wire in one.wires) else ""
        words = f"{plural(len(ties), 'pin')} rewired{gates}"
    if one.additions and not words:
        words = "resistors at its outputs"
    if one.short:
        words += ("; " if words else "") + "too small"
    elif one.image is not None and one.image.copies > 1 and not ram:
        where = f"{one.image.copies} copies"
        if one.image.copies <= 4:
            where = f"{one.image.part}, or {where}"
        words += ("; " if words else "") + where
    if one.dangers and one.verdict == "straps":
        words += ("; " if words else "") + "never as it is"
    return words


def _level(wire: Wire) -> str:
    return "+5 V" if "Vcc" in wire.socket_signal else "GND"


def _speed(one: Fit) -> str:
    if not one.access_ns:
        return "speed not known"
    text = " to ".join(map(str, dict.fromkeys((one.access_ns[0], one.access_ns[-1])))) + " ns"
    return f"{text}, too slow" if one.fast_enough is False else text


def _more(one: Fit) -> str:
    count = len(one.dangers) - 1
    more = f" (and {count} more)" if count else ""
    cure = {"straps": "; tied pins cure it", "adapter": "; an adapter cures it"}.get(one.verdict, "; nothing cures it")
    return more + cure


def substitute_text(result: Substitution) -> str:
    """Show one chip, with every pin that matters."""
    one = result.fits[0]
    lines = [*parts.wrapped("", result.says), *_asked(result)]
    if one.dangers:
        lines += ["", f"NEVER plug a {one.part} in as it is:"]
        for text in one.dangers:
            lines += parts.wrapped("  ! ", text)
    lines += [""]
    if one.verdict != "never":
        lines += _labelled("do", (one.says,))
    lines += _labelled("only if", one.conditions) + _labelled("needed", one.additions)
    unknown = "" if one.fast_enough is not None else "; compare it with the marking of the original"
    lines += _labelled("speed", (_speed(one) + unknown,)) + _labelled("kind", (f"{TECHNOLOGIES[one.technology]}"
        + (f"; {AVAILABILITY[one.availability]} (from memory)" if one.availability else ""),))  # fmt: skip
    if one.wires:
        lines += ["", *_wiring(one, result)]
    differing = [m for m in one.meetings if m.outcome != "same"]
    if differing:
        lines += ["", f"  a {one.part} plugged in as it is, where its pins meet something else"]
        rows = [["chip", "is", "socket", "gives", ""]]
        rows += [[str(m.chip_pin), m.chip_signal, str(m.socket_pin or "-"), m.socket_signal or "overhangs",
                  f"{'DANGER: ' if m.outcome == 'danger' else ''}{m.says or 'does not matter'}"]
                 for m in differing]  # fmt: skip
        lines += _with_last_wrapped(rows, right=[0, 2], indent="    ")
    lines += [""]
    for caution in (*one.cautions, *result.cautions):
        lines += parts.wrapped("  caution: ", caution)
    lines += parts.own(result.own)
    if one.from_memory:
        told = f"from memory: {'; '.join(one.from_memory)}. Check the data sheet of the chip in your hand."
        lines += parts.wrapped("  ", told)
    lines += ["", "  sources"] if result.sources else []
    for source in result.sources:
        lines += parts.wrapped("    ", str(source))
    return page(lines)


def _with_last_wrapped(rows: list[list[str]], *, indent: str, right: Iterable[int] = ()) -> Iterator[str]:
    """Lay out rows in columns, of which the last may take several lines."""
    left = parts.table([row[:-1] for row in rows], right=right, indent=indent)
    width = max(map(len, left)) + 2
    for line, row in zip(left, rows, strict=True):
        yield from (one.rstrip() for one in parts.wrapped(line.ljust(width), row[-1]))


def _labelled(label: str, texts: Iterable[str]) -> list[str]:
    lines: list[str] = []
    for text in texts:
        lines += parts.wrapped(f"  {label:<8} ", text)
    return lines


def _between(wire: Wire) -> str:
    """Say what is between the two ends of a wire."""
    gate = f"{wire.gate} gate" if wire.gate else ""
    inverted = f"{' and '.join(map(str, wire.inverted))} inverted" if wire.inverted else ""
    between = ", ".join(one for one in (inverted, gate) if one)
    return f" ({between})" if between else ""


def _wiring(one: Fit, result: Substitution) -> Iterator[str]:
    """Lay out the wires, and say that all others go straight down."""
    moved = [wire for wire in one.wires if not wire.straight or wire.inverted]
    straight = [wire for wire in one.wires if wire.straight and not wire.inverted]
    yield "  wiring"
    rows = [["chip pin", "is", "goes to", "which is"]]
    for wire in moved:
        pins = " and ".join(map(str, wire.socket_pins))
        where = f"socket {pins}" if pins else "nothing"
        if not pins and wire.socket_signal != "open":
            where = "the board"
        rows.append([str(wire.chip_pin), wire.chip_signal, where, wire.socket_signal + _between(wire)])
    yield from _with_last_wrapped(rows, right=[0], indent="    ")
    if straight:
        offset = straight[0].socket_pins[0] - straight[0].chip_pin
        below = f"socket pin n {'+-'[offset < 0]} {abs(offset)}" if offset else "the socket pin of its own number"
        told = f"every other pin n of the chip goes straight to {below}; keep those above clear of the socket"
        yield from parts.wrapped("    ", told)
