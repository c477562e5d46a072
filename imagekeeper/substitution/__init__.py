"""Which chips serve in the socket of another, worked out pin by pin from their pinouts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from imagekeeper import chips
from imagekeeper.chips import Chip
from imagekeeper.chips.voltages import between_letters
from imagekeeper.errors import UsageError
from imagekeeper.findings import Finding
from imagekeeper.own import in_force
from imagekeeper.ranked import Candidate, rank
from imagekeeper.substitution.cautions import GENERAL, ULTRAVIOLET, clock_caution, pulsed, runs_a_clock
from imagekeeper.substitution.image import arranged, both_ram
from imagekeeper.substitution.lines import Level, lines_of, not_judged
from imagekeeper.substitution.results import Fit, ImagePlan, Meeting, Substitution, Wire
from imagekeeper.substitution.solving import judge
from imagekeeper.tables import sources
from imagekeeper.tables.chips import LIGHT

__all__ = ["Fit", "ImagePlan", "Meeting", "Substitution", "Wire", "arranged", "fit", "substitutes"]

#: Kinds of line that a board may hold at a level without harm to the original.
_TIEABLE = ("nothing", "level", "select")


def fit(
    socket: str | Chip, chip: str | Chip, *, access_ns: int | None = None, tied: Mapping[int, Level] | None = None
) -> Fit:
    """Judge one chip in the socket of another.

    Args:
        socket: The chip that the socket was wired for, or its marking.
        chip: The chip to be plugged in, or its marking.
        access_ns: How fast it must be, or None where that is not known. [ns]
        tied: Pins of the socket that the board holds high or low, such as an unconnected pin 26 at Vcc.

    Raises:
        NotFoundError: `chip-unknown`.
        UsageError: `usage` when a tied pin carries something that cannot be tied; `does-not-fit` when the two chips
            cannot be compared at all.

    Example:
        >>> fit("2716", "2732A").says.partition(",")[0]
        'drops in; fill the chip with the image repeated 2 times'
        >>> fit("27256", "28C256").verdict, fit("27256", "28C256").dangers[0]
        ('adapter', 'pin 27: /WE would be pulled low by A14: reading would write')
    """
    original = socket if isinstance(socket, Chip) else chips.find(socket)
    other = chip if isinstance(chip, Chip) else chips.find(chip)
    reason = _not_comparable(other, original)
    if reason is not None:
        raise UsageError("does-not-fit/stand-in", other=other.id, original=original.id, trouble=reason)
    return judge(other, original, _checked(original, tied or {}), access_ns)


def substitutes(
    socket: str, only: str | None = None, *, access_ns: int | None = None, tied: Mapping[int, Level] | None = None
) -> Substitution:
    """Find every chip that serves in the socket of another, best first.

    Args:
        socket: The marking of the chip that the socket was wired for.
        only: The marking of the one chip to be judged; all where it is None.
        access_ns: How fast a chip must be, or None where that is not known. [ns]
        tied: Pins of the socket that the board holds high or low.

    Raises:
        NotFoundError: `chip-unknown`.
        UsageError: `usage` when a tied pin carries something that cannot be tied; `does-not-fit` when the one chip
            asked about cannot be compared at all.

    Example:
        >>> found = substitutes("2716")
        >>> [one.part for one in found.fits[:3]], found.fits[1].verdict
        (['2716', '28C16', '27C16'], 'drops-in')
    """
    original = chips.find(socket)
    fixed = _checked(original, tied or {})
    compared, left_out = [], {}
    if only is not None:
        compared.append(fit(original, only, access_ns=access_ns, tied=fixed))
    for line in chips.listed().chips if only is None else ():
        other = chips.find(line.id)
        reason = _not_comparable(other, original)
        if reason is None:
            compared.append(judge(other, original, fixed, access_ns))
        else:
            left_out[other.id] = reason
    ranked = rank(Candidate(one, one.score, one.evidence) for one in compared)
    fits = tuple(one.answer for one in ranked)
    cited = dict.fromkeys(name for one in fits for name in one.sources)
    return Substitution(
        socket=original.id, words=original.words, bits=original.bits, ram=original.carrier in ("ram", "clock-ram"),
        access_ns=access_ns,
        tied={str(pin): level for pin, level in fixed.items()}, says=_says(original, fits, only is not None, access_ns),
        fits=fits, not_compared=left_out, cautions=tuple(_cautions(original, fits, only is not None)),
        sources=tuple(sources()[name] for name in cited), own=_own(original, fits),
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
    return f"{own}The table has no other chip that surely takes its place.{last}" if own and access_ns is None else (
        f"The table has no chip that surely takes the place of a {original.id}."
    )


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
        "straps": "works once some pins are lifted and tied" + (", but is too small" if one.short else ""),
        "adapter": "works on an adapter" + (", but is too small" if one.short else ""),
        "never": "must never be plugged in" if one.dangers else "cannot work",
    }[one.verdict] + (", if what it depends on is true" if one.conditions else "")


def _checked(original: Chip, tied: Mapping[int, Level]) -> Mapping[int, Level]:
    lines = lines_of(original, given=True)
    for pin in tied:
        if not 1 <= pin <= original.pins or lines[pin - 1].kind not in _TIEABLE:
            what = f"carries {lines[pin - 1]}" if 1 <= pin <= original.pins else "does not exist"
            raise UsageError("usage/pin-at-level", pin=pin, chip=original.id, trouble=what)
    return dict(tied)


def _not_comparable(chip: Chip, socket: Chip) -> str | None:
    """Say why a chip is no candidate at all, or None."""
    if chip.id == socket.id:
        return None
    for one in (chip, socket):
        if (reason := not_judged(one)) is not None:
            return reason
    if chip.bits != socket.bits and (socket.bits, chip.bits) != (4, 8):
        return f"its words have {chip.bits} bits, the original's {socket.bits}"
    ram = ("ram", "clock-ram")
    if socket.carrier in ram and chip.carrier not in ram:
        return "the original is a RAM: the machine writes to it at any time"
    if socket.carrier not in ram and chip.carrier == "clock-ram":
        return "a clock runs in some of its bytes"
    if socket.carrier not in ram and chip.carrier == "ram" and chip.cell != "inside":
        return "it forgets its contents without power"
    return None
