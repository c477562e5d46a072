"""What a memory chip is: its size, voltages, pins, and what all of that rests on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from imagekeeper.findings import Finding
from imagekeeper.tables import Basis, Dispute
from imagekeeper.tables.chips import LIGHT, Method, Organisation, Signature
from imagekeeper.tables.volts import NO_VOLTS, Kind, Volts


@dataclass(frozen=True)
class Pin:
    """One pin.

    Attributes:
        number: As the data sheet counts: from 1, against the clock, seen from above.
        signals: Its functions. A leading / is active low; A0 and D0 are the least significant lines.
        sources: The ids of the documents that give it; none when it is from memory.
    """

    number: int
    signals: tuple[str, ...]
    sources: tuple[str, ...]


@dataclass(frozen=True)
class Pinout:
    """The pins of a chip.

    Attributes:
        id: A name for the pinout, which other chips may share.
        note: What else must be known of it, or null.
        pins: Pin by pin, pin 1 first.
    """

    id: str
    note: str | None
    pins: tuple[Pin, ...]


@dataclass(frozen=True, kw_only=True)
class MakerFigures:
    """What one maker's sheet says of its own chip; what is empty or null was not seen in it.

    Attributes:
        maker: Who made it.
        vpp_v: The programming voltage. [V]
        vpp_kind: What its figures are: single, range (its ends), any (one of them, by method) or steps (one after the
            other); null where there are none.
        vpp_max_v: Its absolute maximum, or null. [V]
        a9_max_v: The absolute maximum of pin A9, or null. [V]
        vcc_programming_v: The supply while programming. [V]
        vcc_programming_kind: What its figures are, as for Vpp.
        vcc_max_v: The absolute maximum of the supply, or null. [V]
        methods: How it is written.
        note: What else must be known, or null.
        sources: The ids of the documents that give all this.
    """

    maker: str
    vpp_v: tuple[float, ...]
    vpp_kind: Kind | None
    vpp_max_v: float | None
    a9_max_v: float | None
    vcc_programming_v: tuple[float, ...]
    vcc_programming_kind: Kind | None
    vcc_max_v: float | None
    methods: tuple[Method, ...]
    note: str | None
    sources: tuple[str, ...]

    @property
    def vpp(self) -> Volts:
        """The programming voltage, as one value."""
        return _volts(self.vpp_v, self.vpp_kind)

    @property
    def vcc_programming(self) -> Volts:
        """The supply while programming, as one value."""
        return _volts(self.vcc_programming_v, self.vcc_programming_kind)


@dataclass(frozen=True, kw_only=True)
class Chip:
    """What is known of one type of memory chip; the maker's data sheet decides.

    Attributes:
        id: Its generic part number.
        aliases: Other numbers under which the same chip is sold.
        technology: How it is made.
        carrier: The kind of carrier that it is.
        words: How many words it holds.
        bits: The width of a word. [bit]
        bytes: What it holds. [byte]
        file_bytes: The size of a file with whole bytes for every word: twice `bytes` for a four-bit chip. [byte]
        pins: How many pins it has.
        row_spacing_inch: Between its two rows of pins. [inch]
        supplies_v: The supplies for reading, by pin. [V]
        supply_tolerance_percent: How far they may be off, or null. [%]
        outputs: open-collector or three-state where the family has both kinds, else null.
        vpp_v: The programming voltage. [V]
        vpp_kind: What its figures are: single, range (its ends), any (one of them, by maker or method) or steps (one
            after the other); null where there are none.
        vpp_max_v: Its absolute maximum, by different makers. [V]
        vcc_programming_v: The supply while programming. [V]
        vcc_programming_kind: What its figures are, as for Vpp.
        methods: How it is written: makers' parts of one number take different ones, and their sheets say which.
        programming: How it is written, in a sentence, or null.
        blank: The byte that a cell gives before anything is written, in hexadecimal; null where nothing is erased.
        erase_dose_ws_cm2: Light of 253.7 nm that erases it, by different documents. [W s/cm2]
        access_ns: Access times met, fastest first. [ns]
        signatures: What makers' chips answer when asked for their electronic signature; none where it has none, or
            where none is known.
        cell: Where the battery of a RAM is, inside or outside; null where there is none.
        availability: made, made-one-time or surplus, or null where it is not known.
        note: What else must be known of it, or null.
        pinout: Its pins.
        cautions: What can destroy the chip, or hurt; the gravest first.
        power_steps: In which order its supplies come on and go off, as steps at the device; none where nothing is known
            or one supply is all there is.
        sources: The documents that this rests on.
        derived: Members that follow from others, with the rule.
        unsourced: Members, and pins, that are from memory, wholly or in part.
        disputed: What speaks against a member or a pin.
        maker: Whose figures vpp_v, vpp_max_v, vcc_programming_v and methods are, or null: then they are those of all
            makers, and where makers differ in what destroys the chip there are none.
        ask_maker: Why no programming voltage is given without the maker, or null.
        makers: What is known of each maker's chip, where makers are told apart.
        makers_differ_in: The members in which makers' parts of this number differ, as far as their sheets were seen.
        pulse: The level of the program pulse and its pin, or null where no sheet was seen.
        erasing: How it is erased electrically, or null where light erases it, or where every byte is simply written.
        own: Which rows that a person wrote this rests on; none where the tables that come with the program give all.
        latches_address: always, or some (of the makers' parts of that number), where it takes the address in as /CE
            falls: read with /CE held low it gives one byte over and over. Null where no such part is known.
        organisations: How its words may be cut, where that is chosen by a pin or by the type; none where they are as
            words and bits say.
        reading: How it is read, or null where its address, data and select pins do all of it.
        ask_marking: Why no voltage for reading is given without the exact marking, or null.
        protection: What may keep it from being read, or null where nothing can.
    """

    SCHEMA: ClassVar[Literal["chip/1"]] = "chip/1"

    id: str
    aliases: tuple[str, ...]
    technology: str
    carrier: str
    words: int
    bits: int
    bytes: int
    file_bytes: int
    pins: int
    row_spacing_inch: float
    supplies_v: dict[str, float]
    supply_tolerance_percent: float | None
    outputs: str | None
    vpp_v: tuple[float, ...]
    vpp_kind: Kind | None
    vpp_max_v: tuple[float, ...]
    vcc_programming_v: tuple[float, ...]
    vcc_programming_kind: Kind | None
    methods: tuple[Method, ...]
    programming: str | None
    blank: str | None
    erase_dose_ws_cm2: tuple[float, ...]
    access_ns: tuple[int, ...]
    signatures: tuple[Signature, ...]
    cell: str | None
    availability: str | None
    note: str | None
    pinout: Pinout
    cautions: tuple[str, ...]
    power_steps: tuple[str, ...]
    sources: tuple[Basis, ...]
    derived: dict[str, str]
    unsourced: tuple[str, ...]
    disputed: tuple[Dispute, ...]
    maker: str | None
    ask_maker: str | None
    makers: tuple[MakerFigures, ...]
    makers_differ_in: tuple[str, ...]
    pulse: str | None
    erasing: str | None
    latches_address: str | None
    organisations: tuple[Organisation, ...]
    reading: str | None
    ask_marking: str | None
    protection: str | None
    own: tuple[Finding, ...] = ()

    @property
    def vpp(self) -> Volts:
        """The programming voltage, as one value.

        Example:
            >>> from imagekeeper.chips import find
            >>> print(find("2708").vpp.text(find("2708").by))
            26 V (25 to 27 V)
        """
        return _volts(self.vpp_v, self.vpp_kind)

    @property
    def vcc_programming(self) -> Volts:
        """The supply while programming, as one value."""
        return _volts(self.vcc_programming_v, self.vcc_programming_kind)

    @property
    def by(self) -> str:
        """What a choice between several of its voltages hangs on."""
        return "method" if self.maker else "maker"

    @property
    def erased_by_light(self) -> bool:
        """Whether short-wave ultraviolet light erases it, where it has a window.

        Example:
            >>> from imagekeeper.chips import find
            >>> find("27C512").erased_by_light, find("W27C512").erased_by_light
            (True, False)
        """
        return self.technology in LIGHT

    @property
    def voltage_unknown(self) -> bool:
        """Whether no programming voltage is given because its maker was not named.

        Example:
            >>> from imagekeeper.chips import find
            >>> find("27C64").voltage_unknown, find("27C64", "ST").voltage_unknown, find("27512").voltage_unknown
            (True, False, False)
        """
        return self.ask_maker is not None and self.maker is None

    @property
    def its_signatures(self) -> tuple[Signature, ...]:
        """The signatures of its maker's chips where that was named, and those of all makers where it was not.

        Example:
            >>> from imagekeeper.chips import find
            >>> [one.code for one in find("27256", "SGS-Thomson").its_signatures]
            ['20 04']
        """
        return tuple(one for one in self.signatures if self.maker in (None, one.maker))

    @property
    def address_lines(self) -> tuple[str, ...]:
        """The address lines, A0 first."""
        return tuple(f"A{n}" for n in range((self.words - 1).bit_length()))

    @property
    def data_lines(self) -> tuple[str, ...]:
        """The data lines, D0 first."""
        return tuple(f"D{n}" for n in range(self.bits))

    def pins_of(self, signal: str) -> tuple[int, ...]:
        """Find every pin that has a function; capitals and the leading / do not matter.

        Example:
            >>> from imagekeeper.chips import find
            >>> find("1702A").pins_of("Vcc")
            (12, 22, 23)
        """
        wanted = signal.strip().lstrip("/").casefold()
        return tuple(
            pin.number
            for pin in self.pinout.pins
            if any(one.lstrip("/").casefold() == wanted for one in pin.signals)
        )

    def pin_of(self, signal: str) -> int | None:
        """Find the pin that has a function, the lowest number where there are several.

        Example:
            >>> from imagekeeper.chips import find
            >>> find("2716").pin_of("D3"), find("27128").pin_of("D3"), find("2716").pin_of("A11")
            (13, 15, None)
        """
        return next(iter(self.pins_of(signal)), None)

    def signals_at(self, pin: int) -> tuple[str, ...]:
        """Give the functions of a pin; none when the chip has no such pin.

        Example:
            >>> from imagekeeper.chips import find
            >>> find("2732A").signals_at(20), find("2732A").signals_at(25)
            (('/OE', 'Vpp'), ())
        """
        return self.pinout.pins[pin - 1].signals if 1 <= pin <= self.pins else ()


@dataclass(frozen=True, kw_only=True)
class ChipLine:
    """One chip of a list.

    Attributes:
        id: Its generic part number.
        aliases: Other numbers under which the same chip is sold.
        technology: How it is made.
        carrier: The kind of carrier that it is.
        words: How many words it holds.
        bits: The width of a word. [bit]
        bytes: What it holds. [byte]
        pins: How many pins it has.
        vpp_v: The programming voltage. [V]
        vpp_kind: What its figures are: single, range (its ends), any (one of them, by maker or method) or steps (one
            after the other); null where there are none.
        by_maker: Whether it is given only for a maker that is named.
        own: Whether it rests on a row that a person wrote.
    """

    id: str
    aliases: tuple[str, ...]
    technology: str
    carrier: str
    words: int
    bits: int
    bytes: int
    pins: int
    vpp_v: tuple[float, ...]
    vpp_kind: Kind | None
    by_maker: bool
    own: bool = False


@dataclass(frozen=True)
class ChipList:
    """The chips of the table.

    Attributes:
        chips: One a chip, in the order of the table: by technology, width and size.
    """

    SCHEMA: ClassVar[Literal["chip-list/1"]] = "chip-list/1"

    chips: tuple[ChipLine, ...]


def _volts(figures: tuple[float, ...], kind: Kind | None) -> Volts:
    return Volts(figures, kind) if kind else NO_VOLTS
