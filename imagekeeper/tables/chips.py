"""Memory chips and what they share: the rows of `CHIP_TABLES`, pinouts, programming methods and signatures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from imagekeeper.own import remembered
from imagekeeper.tables import Cited, Dispute, bases, load, rows
from imagekeeper.tables.volts import NO_VOLTS, Volts, volts_of

#: The tables that hold chips, by technology, in the order in which chips are listed.
CHIP_TABLES = ("eproms", "electric", "proms", "mask_roms", "rams")

#: Every technology, in words.
TECHNOLOGIES: dict[str, str] = {
    "pmos-eprom": "PMOS EPROM",
    "nmos-eprom": "NMOS EPROM",
    "cmos-eprom": "CMOS EPROM",
    "electric-eprom": "EPROM erased electrically, without a window",
    "mcu-eprom": "microcontroller or port chip with EPROM",
    "eeprom": "EEPROM",
    "serial-eeprom": "serial EEPROM",
    "shadow-ram": "static RAM with an EEPROM behind it",
    "flash": "flash memory",
    "prom": "fuse PROM",
    "mask-rom": "mask ROM",
    "mcu-rom": "microcontroller with mask ROM",
    "ram": "static RAM",
    "clock-ram": "clock with RAM",
}

#: Those that light erases, where they have a window.
LIGHT = ("pmos-eprom", "nmos-eprom", "cmos-eprom", "mcu-eprom")

#: Those whose memory is reached through a processor or its bus.
MICROCONTROLLERS = ("mcu-eprom", "mcu-rom")

#: Technologies whose carrier has another name.
CARRIERS: dict[str, str] = dict.fromkeys(LIGHT, "eprom") | {
    "electric-eprom": "flash", "serial-eeprom": "eeprom", "shadow-ram": "eeprom", "mcu-rom": "mask-rom",
}

#: Those whose cells hold no charge that they could lose.
HOLD_NO_CHARGE = ("prom", "mask-rom", "ram", "clock-ram")

#: How a chip is still had, in words; from memory, and it changes with time.
AVAILABILITY: dict[str, str] = {
    "made": "still made",
    "made-one-time": "still made, only without a window: written once, never erased",
    "surplus": "no longer made: old stock, or taken from boards",
}


@dataclass(frozen=True, kw_only=True)
class Method:
    """A way to write a chip.

    Attributes:
        id: Its name.
        title: What it is, in a few words.
        says: The rule.
        pulse_us: The shortest and the longest pulse; none where there is no single figure. [us]
        most_pulses: How many pulses one byte may take, or null.
        overpulse: How many times the pulses used are given again at the end, or null.
        sources: The documents that give it.
        unsourced: Members that are from memory, wholly or in part.
        disputed: What speaks against a member.
    """

    id: str
    title: str
    says: str
    sources: tuple[Cited, ...]
    unsourced: tuple[str, ...]
    disputed: tuple[Dispute, ...]
    pulse_us: tuple[float, ...] = ()
    most_pulses: int | None = None
    overpulse: int | None = None


@dataclass(frozen=True)
class Organisation:
    """One way in which a chip shows its contents; all of them hold the same bits.

    Attributes:
        words: How many words it then holds.
        bits: The width of a word. [bit]
        address_bits: How many bits of address it takes in, those that count for nothing included.
        when: What makes it show them so.
    """

    words: int
    bits: int
    address_bits: int
    when: str


@dataclass(frozen=True)
class Signature:
    """What one maker's chip answers when it is asked for its electronic signature.

    Attributes:
        maker: Who made it.
        code: The maker's code and the device code, in hexadecimal.
        note: What else must be known, or null.
        sources: The ids of the documents that give it; none when it is from memory.
    """

    maker: str
    code: str
    note: str | None
    sources: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class PinoutRow:
    """A pinout as its row gives it.

    Attributes:
        id: Its name: package, number of pins, and the best known chip that has it.
        pins: How many pins.
        signals: Pin by pin, pin 1 first: the functions that the pin has.
        sourced: Pin by pin: the ids of the sources that give it; none is from memory.
        sources: Which document gives which pins.
        unsourced: Pins from memory, single or as ranges.
        disputed: What speaks against a pin.
        note: What else must be known.
    """

    id: str
    pins: int
    signals: tuple[tuple[str, ...], ...]
    sourced: tuple[tuple[str, ...], ...]
    sources: tuple[Cited, ...]
    unsourced: tuple[str, ...]
    disputed: tuple[Dispute, ...]
    note: str | None


@dataclass(frozen=True, kw_only=True)
class ChipRow:
    """A chip as its row gives it; the fields are described at `imagekeeper.chips.Chip`."""

    id: str
    technology: str
    carrier: str
    words: int
    bits: int
    bytes: int
    pins: int
    row_spacing_inch: float
    pinout: str
    supplies_v: dict[str, float]
    sources: tuple[Cited, ...]
    unsourced: tuple[str, ...]
    derived: dict[str, str]
    disputed: tuple[Dispute, ...]
    aliases: tuple[str, ...] = ()
    supply_tolerance_percent: float | None = None
    outputs: str | None = None
    vpp_v: Volts = NO_VOLTS
    vpp_max_v: tuple[float, ...] = ()
    vcc_programming_v: Volts = NO_VOLTS
    methods: tuple[str, ...] = ()
    programming: str | None = None
    pulse: str | None = None
    erasing: str | None = None
    ask_maker: str | None = None
    blank: str | None = None
    erase_dose_ws_cm2: tuple[float, ...] = ()
    access_ns: tuple[int, ...] = ()
    cell: str | None = None
    availability: str | None = None
    note: str | None = None
    latches_address: str | None = None
    organisations: tuple[Organisation, ...] = ()
    reading: str | None = None
    ask_marking: str | None = None
    protection: str | None = None


def carrier_of(technology: str) -> str:
    """Give the kind of carrier that chips of a technology are.

    Example:
        >>> carrier_of("cmos-eprom"), carrier_of("shadow-ram"), carrier_of("ram")
        ('eprom', 'eeprom', 'ram')
    """
    return CARRIERS.get(technology, technology)


def pin_numbers(text: str) -> range:
    """Read one pin or a range of pins.

    Example:
        >>> list(pin_numbers("18")), list(pin_numbers("18-20"))
        ([18], [18, 19, 20])
    """
    first, _, last = text.partition("-")
    return range(int(first), int(last or first) + 1)


@remembered()
def pinout_rows() -> dict[str, PinoutRow]:
    """Every pinout, by its id.

    Example:
        >>> pinout_rows()["dip24-2732"].signals[20 - 1]
        ('/OE', 'Vpp')
    """
    return {row["id"]: _pinout(row) for row in rows("pinout", "pinouts")}


@remembered()
def chip_rows() -> dict[str, ChipRow]:
    """Every chip, by its id, in the order of the table.

    Example:
        >>> chip_rows()["2716"].aliases
        ('2516',)
    """
    return {row["id"]: _chip(row) for row in rows("chip", *CHIP_TABLES)}


@remembered()
def methods() -> dict[str, Method]:
    """Every way to write a chip, by its id.

    Example:
        >>> methods()["fixed-50ms"].pulse_us
        (45000, 55000)
    """
    found = {}
    for row in load("programming")["method"]:
        plain = {name: value for name, value in row.items() if name not in ("sources", "unsourced", "disputed")}
        found[row["id"]] = Method(**plain | {"pulse_us": tuple(row.get("pulse_us", ()))}, **bases(row))
    return found


@remembered()
def signatures() -> dict[str, tuple[Signature, ...]]:
    """The electronic signatures, by the id of the chip; chips that have none, or whose is not known, are left out.

    Example:
        >>> "20 04" in [one.code for one in signatures()["27256"]], "2716" in signatures()
        (True, False)
    """
    found: dict[str, tuple[Signature, ...]] = {}
    for row in rows("signature", "signatures"):
        one = Signature(row["maker"], row["code"], row.get("note"), tuple(row["sources"]))
        found[row["chip"]] = (*found.get(row["chip"], ()), one)
    return found


@remembered()
def ambiguous() -> dict[str, tuple[str, ...]]:
    """Markings under which chips of different pinouts are sold, with the ids of those chips."""
    return {marking: tuple(ids) for marking, ids in load("eproms")["ambiguous"].items()}


@remembered()
def strangers() -> dict[str, str]:
    """Markings of chips that are not in the table, with why none of like number may be taken for them.

    Example:
        >>> strangers()["27513"].partition(":")[0]
        'no 27512'
    """
    return dict(load("eproms")["strangers"])


def _pinout(row: dict[str, Any]) -> PinoutRow:
    grounds = bases(row)
    sourced: dict[int, list[str]] = {}
    for cited in grounds["sources"]:
        for given in cited.gives:
            for number in pin_numbers(given):
                sourced.setdefault(number, []).append(cited.id)
    signals = tuple(tuple(one.split()) for one in row["signals"])   # counted: what a row says of pins may be absurd
    return PinoutRow(
        id=row["id"], pins=row["pins"], signals=signals, note=row.get("note"),
        sourced=tuple(tuple(sourced.get(number, ())) for number in range(1, len(signals) + 1)), **grounds,
    )  # fmt: skip


def _chip(row: dict[str, Any]) -> ChipRow:
    plain: dict[str, Any] = {
        name: tuple(value) if isinstance(value, list) else value
        for name, value in row.items()
        if name not in ("sources", "derived", "unsourced", "disputed")
    }
    shaped: dict[str, Any] = {name: volts_of(row.get(name)) for name in ("vpp_v", "vcc_programming_v")}
    shaped["organisations"] = tuple(Organisation(**one) for one in row.get("organisations", ()))
    return ChipRow(**plain | shaped, **bases(row))
