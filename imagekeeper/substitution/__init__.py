"""Which chips serve in the socket of another, worked out pin by pin from their pinouts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from imagekeeper import chips
from imagekeeper.chips import Chip
from imagekeeper.chips.voltages import between_letters
from imagekeeper.errors import UsageError
from imagekeeper.findings import Finding
from imagekeeper.own import in_force
from imagekeeper.ranked import Candidate, rank
from imagekeeper.substitution.cautions import GENERAL, ULTRAVIOLET, clock_caution, pulsed, runs_a_clock
from imagekeeper.substitution.image import arranged, both_ram
from imagekeeper.substitution.joints import given_by
from imagekeeper.substitution.lines import Level, lines_of
from imagekeeper.substitution.plain import beyond
from imagekeeper.substitution.proving import proved
from imagekeeper.substitution.results import Fit, ImagePlan, Meeting, Substitution, Wire, level_of
from imagekeeper.substitution.ringing import rung
from imagekeeper.substitution.simulation import Rig
from imagekeeper.substitution.solving import Asked, judge
from imagekeeper.substitution.widths import by_bytes, has_bytes
from imagekeeper.substitution.writing import RAM, written_in_place
from imagekeeper.tables import sources
from imagekeeper.tables.chips import LIGHT

__all__ = ["Fit", "ImagePlan", "Meeting", "Substitution", "Wire", "arranged", "fit", "substitutes"]

#: Kinds of line that a board may hold at a level without harm to the original.
_TIEABLE = ("nothing", "level", "select")


def fit(
    socket: str | Chip, chip: str | Chip, *, access_ns: int | None = None, tied: Mapping[int, Level] | None = None,
    writes: bool | None = None,
) -> Fit:  # fmt: skip
    """Judge one chip in the socket of another, and prove it on the simulated bus.

    Args:
        socket: The chip that the socket was wired for, or its marking.
        chip: The chip to be plugged in, or its marking.
        access_ns: How fast it must be, or None where that is not known. [ns]
        tied: Pins of the socket that the board holds high or low, such as an unconnected pin 26 at Vcc.
        writes: Whether the board writes to the original in its socket, or None where that is not known; to a RAM it
            always does.

    Raises:
        NotFoundError: `chip-unknown`.
        UsageError: `usage` when a tied pin carries something that cannot be tied, or where nothing can write, or to a
            RAM nothing should; `does-not-fit` when the two chips cannot be compared at all.

    Example:
        >>> fit("2716", "2732A").says.partition(",")[0]
        'drops in; fill the chip with the image repeated 2 times'
        >>> fit("27256", "28C256").verdict, fit("27256", "28C256").dangers[0]
        ('adapter', 'pin 27: /WE would be pulled low by A14: reading would write')
        >>> fit("27256", "28C256").simulation.kinds
        {'read': 40, 'stand-by': 12}
    """
    original = socket if isinstance(socket, Chip) else chips.find(socket)
    other = chip if isinstance(chip, Chip) else chips.find(chip)
    asked = _checked(original, tied or {}, access_ns, writes)
    return _judged(original, other, asked, Rig(original, asked.tied, asked.writes))


def _judged(original: Chip, other: Chip, asked: Asked, rig: Rig) -> Fit:
    reason = _not_comparable(other, original, asked)
    if reason is not None:
        raise UsageError("does-not-fit/stand-in", other=other.id, original=original.id, trouble=reason)
    found = _proved(original, other, asked, rig)
    return replace(found, ohmmeter=rung(found, other, original, given_by(original, asked.tied)))


def _proved(original: Chip, other: Chip, asked: Asked, rig: Rig) -> Fit:
    socket = by_bytes(original) if read_by_bytes(original, asked) else original
    chip = by_bytes(other) if has_bytes(other) and socket.bits == 8 else other
    found = judge(chip, socket, asked)
    return found if other.id == original.id else proved(found, other, rig)   # what is proposed, not what was there


def substitutes(
    socket: str, only: str | None = None, *, access_ns: int | None = None, tied: Mapping[int, Level] | None = None,
    writes: bool | None = None,
) -> Substitution:  # fmt: skip
    """Find every chip that serves in the socket of another, best first; each is proved on the simulated bus.

    Args:
        socket: The marking of the chip that the socket was wired for.
        only: The marking of the one chip to be judged; all where it is None.
        access_ns: How fast a chip must be, or None where that is not known. [ns]
        tied: Pins of the socket that the board holds high or low.
        writes: Whether the board writes to the original in its socket, or None where that is not known.

    Raises:
        NotFoundError: `chip-unknown`.
        UsageError: `usage` when a tied pin carries something that cannot be tied, or where nothing can write;
            `does-not-fit` when the one chip asked about cannot be compared at all.

    Example:
        >>> found = substitutes("2716")
        >>> [one.part for one in found.fits[:3]], found.fits[1].verdict
        (['2716', '28C16', '27C16'], 'drops-in')
    """
    original = chips.find(socket)
    asked = _checked(original, tied or {}, access_ns, writes)
    rig = Rig(original, asked.tied, asked.writes)
    compared, left_out = [], {}
    if only is not None:
        compared.append(_judged(original, chips.find(only), asked, rig))
    for line in chips.listed().chips if only is None else ():
        other = chips.find(line.id)
        reason = _not_comparable(other, original, asked)
        if reason is None:
            compared.append(_proved(original, other, asked, rig))
        else:
            left_out[other.id] = reason
    ranked = rank(Candidate(one, one.score, one.evidence) for one in compared)
    fits = tuple(one.answer for one in ranked)
    cited = dict.fromkeys(name for one in fits for name in one.sources)
    halved = read_by_bytes(original, asked)
    return Substitution(
        socket=original.id, words=original.words << halved, bits=8 if halved else original.bits,
        ram=original.carrier in RAM, access_ns=access_ns,
        tied={str(pin): level for pin, level in asked.tied.items()}, writes=asked.writes,
        says=_says(original, fits, only is not None, access_ns), fits=fits, not_compared=left_out,
        cautions=tuple(_cautions(original, fits, only is not None)), sources=tuple(sources()[name] for name in cited),
        own=_own(original, fits),
    )  # fmt: skip


def _own(original: Chip, fits: tuple[Fit, ...]) -> tuple[Finding, ...]:
    """Which own rows the chips rest on, each once."""
    if not in_force().rows:
        return ()
    found = [own for chip in (original, *(chips.find(one.part) for one in fits)) for own in chip.own]
    return tuple({own.why: own for own in found}.values())


def _cautions(original: Chip, fits: tuple[Fit, ...], one_only: bool) -> Iterator[str]:
    """What holds for the whole answer; what one chip alone must be known by is with that chip."""
    yield from pulsed(original)
    if not one_only:
        for one in fits:
            yield from between_letters(original.id, one.part)
        whole = [chips.find(one.part) for one in fits if one.whole]
        if ticking := [one for one in whole if runs_a_clock(one, original)]:
            yield clock_caution(ticking)
    yield from GENERAL
    if any(one.technology in LIGHT and one.verdict != "never" for one in fits):
        yield ULTRAVIOLET


def _says(original: Chip, fits: tuple[Fit, ...], one_only: bool, access_ns: int | None) -> str:
    if one_only:
        one = fits[0]
        slow = _slow(original, one, access_ns)
        return f"In the socket of a {original.id}, a {one.part} {_verb(one, original)}.{slow}"
    good = [one for one in fits if one.whole and one.part != original.id and not one.conditions]
    if access_ns is not None:
        good = [one for one in good if one.fast_enough]   # who gives a figure wants it kept for sure
    clocks = [one for one in good if runs_a_clock(chips.find(one.part), original)]
    good = [one for one in good if one not in clocks]
    easy = [one for one in good if one.verdict in ("drops-in", "image-placed")]
    own = f"Another {original.id} is the first choice. " if original.carrier == "ram" else ""
    ticking = [one.part for one in clocks if one.verdict in ("drops-in", "image-placed")]
    last = f" Last of all {', '.join(ticking)}: a clock runs in the last bytes." if ticking else ""
    if easy:
        rest = f" {', '.join(one.part for one in easy[1:4])} as well." if easy[1:] else ""
        slow = _slow(original, easy[0], access_ns)
        return f"{own}In the socket of a {original.id}, a {easy[0].part} {_verb(easy[0], original)}.{slow}{rest}{last}"
    if good:
        slow = _slow(original, good[0], access_ns)
        nothing = f"Nothing{' else' if own else ''} simply drops in{', unless with a clock' if ticking else ''}."
        return f"{own}{nothing} The least work is a {good[0].part}: {good[0].says}.{slow}{last}"
    if own and access_ns is None:
        return f"{own}The table has no other chip that surely takes its place.{last}"
    none = f"The table has no chip that surely takes the place of a {original.id}."
    unwritten = [one for one in fits if one.whole and one.part != original.id and one.writes in ("lost", "spoils")
                 and len(one.conditions) == 1 and (access_ns is None or one.fast_enough)]  # fmt: skip
    if not unwritten:
        return none
    return f"{none} If its board never writes there, the least work is a {unwritten[0].part}: {unwritten[0].says}."


def _slow(original: Chip, one: Fit, access_ns: int | None) -> str:
    """Say what speaks against its speed; a slower chip may not replace a faster one."""
    if one.verdict == "never" or one.part == original.id:
        return ""
    if access_ns is not None:
        return {True: "", False: " It is too slow.", None: " Its speed is not known."}[one.fast_enough]
    slower = one.access_ns and original.access_ns and one.access_ns[0] > original.access_ns[-1]
    return " It is slower than the original: it serves only where the board is slow enough." if slower else ""


def _verb(one: Fit, original: Chip) -> str:
    """Say what a chip does in the socket, to go behind its name."""
    ram = both_ram(chips.find(one.part), original)
    placed = "and a part of it is used" if ram else "with the image placed or repeated"
    return {
        "drops-in": "drops in" if ram else "drops in, with the image as it is",
        "image-placed": "drops in, " + ("but is too small" if one.short else placed),
        "image-rearranged": "drops in, with the image rearranged",
        "straps": f"works once {_lifted(one)}" + (", but is too small" if one.short else ""),
        "adapter": ("works, two of them on an adapter" if one.second else "works on an adapter")
            + (", but is too small" if one.short else ""),
        "never": "must never be plugged in" if one.dangers else f"cannot work: {one.refused}",
    }[one.verdict] + (", if what it depends on is true" if one.conditions else "")  # fmt: skip


def _lifted(one: Fit) -> str:
    """Name the pins that are lifted, and what each is tied to."""
    lifted = [wire for wire in one.wires if not wire.straight and wire.socket_pins]
    named = [f"pin {wire.chip_pin} ({wire.chip_signal.split()[0]}) to {level_of(wire)}" for wire in lifted]
    told = f"{'pins are' if len(named) > 1 else 'a pin is'} lifted out of the socket and tied: {', '.join(named)}"
    if not named:
        return "it has resistors at its outputs"
    return told + ("; and it has resistors at its outputs" if one.pull_ups else "")


def _checked(
    original: Chip, tied: Mapping[int, Level], access_ns: int | None, writes: bool | None
) -> Asked:
    lines = lines_of(original, given=True)
    for pin in tied:
        if not 1 <= pin <= original.pins or lines[pin - 1].kind not in _TIEABLE:
            what = f"carries {lines[pin - 1]}" if 1 <= pin <= original.pins else "does not exist"
            raise UsageError("usage/pin-at-level", pin=pin, chip=original.id, trouble=what)
    if writes is False and original.carrier in RAM:
        raise UsageError("usage/ram-not-written", chip=original.id)
    if writes and not written_in_place(lines):
        raise UsageError("usage/nothing-writes", chip=original.id)
    return Asked(tied=dict(tied), access_ns=access_ns, writes=True if original.carrier in RAM else writes)


def read_by_bytes(socket: Chip, asked: Asked) -> bool:
    """Whether the board reads a chip of 16 bits by bytes: it holds the width pin low."""
    return has_bytes(socket) and any(asked.tied.get(pin) == "low" for pin in socket.pins_of("/BYTE"))


def _not_comparable(chip: Chip, socket: Chip, asked: Asked) -> str | None:
    """Say why a chip is no candidate at all, or None."""
    if chip.id == socket.id:
        return None
    for one in (chip, socket):
        if (reason := beyond(one)) is not None:
            return reason
    bits = 8 if read_by_bytes(socket, asked) else socket.bits
    pair = (bits, chip.bits)
    if chip.bits != bits and pair not in ((4, 8), (16, 8)) and not (pair == (8, 16) and has_bytes(chip)):
        return f"its words have {chip.bits} bits, the original's {bits}"
    if socket.carrier in RAM and chip.carrier not in RAM:
        return "the original is a RAM: the machine writes to it at any time"
    if socket.carrier not in RAM and chip.carrier == "clock-ram":
        return "a clock runs in some of its bytes"
    if socket.carrier not in RAM and chip.carrier == "ram" and chip.cell != "inside":
        return "it forgets its contents without power"
    return None
