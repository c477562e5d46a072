"""The answer: which chips serve in a socket, and what must be done for it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from imagekeeper.findings import Finding
from imagekeeper.ranked import Evidence
from imagekeeper.tables import Source

#: From the easiest on; `never` stands for what no adapter cures.
Verdict = Literal["drops-in", "image-placed", "image-rearranged", "straps", "adapter", "never"]

#: What a pin meets. `same`: its own signal. `idle`: what does not matter to it. `fixed`: an address pin at a level.
#: `crossed`: another line of its kind. `open`: nothing, where it needs a level. `missing`: not what it needs.
#: `danger`: what harms it, or makes it harm others.
Outcome = Literal["same", "idle", "fixed-high", "fixed-low", "crossed", "open", "missing", "danger"]


@dataclass(frozen=True, kw_only=True)
class Meeting:
    """What one pin of the chip meets when the chip is plugged into the socket as it is.

    Attributes:
        chip_pin: The pin of the chip.
        chip_signal: What it is there when the chip is read.
        socket_pin: The pin of the socket, or null where the chip overhangs.
        socket_signal: What the socket gives there, or null where the chip overhangs.
        outcome: same, idle, fixed-high, fixed-low, crossed, open, missing or danger.
        says: What that means, in a sentence; empty where it fits.
        condition: What must be true of the original or of the chip for it to fit, or null.
    """

    chip_pin: int
    chip_signal: str
    socket_pin: int | None
    socket_signal: str | None
    outcome: Outcome
    says: str = ""
    condition: str | None = None


@dataclass(frozen=True, kw_only=True)
class Wire:
    """One connection between a pin of the chip and the socket.

    Attributes:
        chip_pin: The pin of the chip.
        chip_signal: What it is there when the chip is read.
        socket_pins: The pin or pins of the socket that it is wired to; none where it is wired to no pin.
        socket_signal: What is there: the signals of those pins, `open` where the pin is left unconnected, or `ground of
            the board` where the socket has no such pin.
        gate: OR or AND where the lines of several pins are joined, or null for a plain wire.
        inverted: Those of the socket's pins whose line goes through an inverter first.
        straight: Whether the pin stays in the socket pin below it.
    """

    chip_pin: int
    chip_signal: str
    socket_pins: tuple[int, ...]
    socket_signal: str
    gate: Literal["OR", "AND"] | None
    inverted: tuple[int, ...]
    straight: bool


@dataclass(frozen=True, kw_only=True)
class ImagePlan:
    """How the original's bytes are laid out in the chip.

    Attributes:
        says: What to do with the image, in a sentence.
        copies: How many times the image fills the chip.
        seen_first: The first word of the chip that the machine sees.
        seen_last: The last.
        part: Which part of the chip that is, in words: all, upper half, quarter 3 of 4.
        address_from: For each address line of the chip, A0 first, the number of the board's line on it; null where it
            is held at a level.
        data_to: For each data line of the board, D0 first, the number of the chip's line on it.
    """

    says: str
    copies: int
    seen_first: int
    seen_last: int
    part: str
    address_from: tuple[int | None, ...]
    data_to: tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class Fit:
    """How one chip serves in the socket.

    Attributes:
        part: The chip.
        verdict: drops-in; image-placed (it drops in, the image is repeated or stands in one part of the chip);
            image-rearranged (it drops in, the image is permuted); straps (some pins are lifted out of the socket and
            tied to a level); adapter (lines are crossed over, or the package differs); never.
        says: The answer in a sentence.
        dangers: What would be harmed if it were plugged in as it is, and by what; none where nothing would.
        conditions: What must be true for the verdict to hold.
        additions: Parts that are needed beside wires.
        image: How the image is laid out in it, or null where the verdict is never.
        meetings: Every pin that does not simply meet its own signal, plugged in as it is.
        wires: Every pin, where straps or an adapter are needed.
        short: How much of the original's words the chip cannot hold. [word]
        access_ns: Access times met, fastest first. [ns]
        fast_enough: Whether its fastest kind is; null where its times, or what the board needs, are not known.
        technology: How it is made.
        availability: made, made-one-time or surplus, or null where it is not known.
        score: From 0 (excluded) to 1, comparable only within one ranking: ease first, then availability.
        evidence: What the score adds up from, strongest first.
        cautions: What to know or to do.
        from_memory: Pins of the original and of the chip whose signals are from memory: check the data sheets.
        sources: The ids of the documents that its pins and its own data rest on.
    """

    part: str
    verdict: Verdict
    says: str
    dangers: tuple[str, ...]
    conditions: tuple[str, ...]
    additions: tuple[str, ...]
    image: ImagePlan | None
    meetings: tuple[Meeting, ...]
    wires: tuple[Wire, ...]
    short: int
    access_ns: tuple[int, ...]
    fast_enough: bool | None
    technology: str
    availability: str | None
    score: float
    evidence: tuple[Evidence, ...]
    cautions: tuple[str, ...]
    from_memory: tuple[str, ...]
    sources: tuple[str, ...]

    @property
    def whole(self) -> bool:
        """Whether the chip can do all of the original's work: it has the room and, as far as known, the speed."""
        return self.verdict != "never" and not self.short and self.fast_enough is not False


@dataclass(frozen=True, kw_only=True)
class Substitution:
    """Which chips serve in the socket of another.

    Attributes:
        socket: The chip that the socket was wired for.
        words: What it holds. [word]
        bits: The width of a word. [bit]
        ram: Whether it is a RAM: then the machine fills the chip, and nobody puts an image into it.
        access_ns: How fast a chip must be, where that was given, else null. [ns]
        tied: Pins of the socket whose level the board fixes, as told: pin to high or low.
        says: The best answer in a sentence.
        fits: Every chip that can be compared, or the one asked about; best first.
        not_compared: The chips that were left out, with the reason; none where one chip was asked about.
        cautions: What to know or to do before anything is plugged in.
        sources: The documents that all of it rests on.
        own: Which rows that a person wrote it rests on.
    """

    SCHEMA: ClassVar[Literal["substitution/1"]] = "substitution/1"

    socket: str
    words: int
    bits: int
    ram: bool
    access_ns: int | None
    tied: dict[str, str]
    says: str
    fits: tuple[Fit, ...]
    not_compared: dict[str, str]
    cautions: tuple[str, ...]
    sources: tuple[Source, ...]
    own: tuple[Finding, ...] = ()

    @property
    def exit_code(self) -> int:
        """1 when no chip but the original's own type does all of its work, or the one asked about does not.

        Where a speed was asked for, a chip of unknown speed does not count.
        """
        others = [one for one in self.fits if one.part != self.socket or not self.not_compared]
        return 0 if any(one.whole and (self.access_ns is None or one.fast_enough) for one in others) else 1
