"""What can destroy a chip, or hurt whoever works on it; common practice, and the absolute ratings of the table."""

from __future__ import annotations

from imagekeeper.chips.makers import electric_twins
from imagekeeper.chips.power import order_cautions
from imagekeeper.chips.voltages import ground_text, letter_cautions
from imagekeeper.tables.chips import LIGHT, MICROCONTROLLERS, ChipRow, pinout_rows, signatures
from imagekeeper.tables.volts import volts_text


def cautions_of(row: ChipRow, maker: str | None = None) -> tuple[str, ...]:
    """Say what can destroy the chip, which stands first, or hurt whoever works on it.

    Args:
        row: The chip, with the figures of its maker where that is known.
        maker: Its maker, or None.

    Example:
        >>> from imagekeeper.tables.chips import chip_rows
        >>> [len(cautions_of(chip_rows()[part])) for part in ("2708", "2716", "2332")]
        [5, 4, 1]
    """
    cautions = []
    others = [f"{name} {volts:+g} V" for name, volts in row.supplies_v.items() if volts != row.supplies_v["Vcc"]]
    if others:
        cautions.append(
            f"Reading takes {' and '.join(others)} beside Vcc. The wrong socket setting destroys the chip, and this "
            "setting destroys most others: set the reader to this very type before the chip goes in, and see the "
            "maker's data sheet first."
        )
    cautions += order_cautions(row)
    if row.ask_marking:
        cautions.append(
            f"No voltage for EA is given: {row.ask_marking}. Until then nothing above 5 V goes to the chip."
        )
    if row.ask_maker and maker is None:
        cautions.append(
            f"No programming voltage is given without the maker, for the wrong one destroys the chip: {row.ask_maker}. "
            "Find the maker on the chip, and that maker's data sheet."
        )
    if row.vpp_v:
        takes = row.vpp_v.text("method" if maker else "maker")
        most = f" and never more than {volts_text(min(row.vpp_max_v))}" if row.vpp_max_v else ""
        most += ground_text(row, "vpp_max_v") if most else ""
        cautions.append(
            f"Programming takes Vpp {takes}{ground_text(row, 'vpp_v')}{most}. A "
            "wrong type or socket setting destroys the chip. Makers differ: the marking on the chip and its maker's "
            "data sheet decide."
        )
    cautions += letter_cautions(row)
    if row.latches_address:
        whose = "It" if row.latches_address == "always" else "Some makers' parts of this number"
        takes = "takes" if row.latches_address == "always" else "take"
        cautions.append(
            f"{whose} {takes} the address in as /CE falls{ground_text(row, 'latches_address')}. Read with /CE held "
            "low, such a chip gives one byte over and over, equally in every pass: the reader must let /CE rise and "
            "fall for every address. An image of one byte only is the sign that it did not."
        )
    if row.technology == "electric-eprom":
        # 13.5 V: STMicroelectronics, M27C64A, page 1, and M27C256B, page 3; Microchip, 27C512A, page 2
        cautions.append(
            f"It is erased {row.erasing}; light does not erase it. Set the programmer to this very type, and see that "
            "it answers with this type's signature before it is erased: 14 V on A9 is more than the 13.5 V that many "
            "EPROMs stand there, and destroys one that is only marked like this."
        )
    if twins := electric_twins(row):
        names = ", ".join(name for one in twins for name in (one.id, *one.aliases))
        cautions.append(
            f"Chips with the same pins are no such EPROMs, but are erased electrically, with other voltages: {names}. "
            "Read the whole marking: a wrong type setting destroys either."
        )
    if row.technology in LIGHT:
        cautions.append(
            "Erasing takes short-wave ultraviolet light, which harms eyes and skin: never look into the lamp, and "
            "run it only in its closed box. Cover the window of every chip that is to keep its contents."
        )
    if row.id not in signatures() and row.carrier != "clock-ram" and row.words >= 1024 and _has_plain_a9(row):
        cautions.append(
            "The table knows no electronic signature of it: let no reader ask for one. That puts 12 V on pin A9, which "
            "can destroy a chip that has none."
        )
    if row.carrier == "prom":
        cautions.append("A bit that is written can never be taken back.")
    if row.carrier in ("ram", "clock-ram"):
        cautions.append("Read it before its supply or battery is cut: its contents are lost with them.")
    if row.technology == "shadow-ram":
        cautions.append(
            "It holds two images, and its RAM is lost as the supply is cut: where the board still runs, read the RAM "
            "there first. Then hold every pin that copies one memory over the other at rest, from the same supply."
        )
    return tuple(sorted(cautions, key=lambda text: not is_danger(text)))


def is_danger(text: str) -> bool:
    """Whether a caution is of what destroys a chip, or cannot be undone: these stand before the others.

    Example:
        >>> is_danger("A bit that is written can never be taken back."), is_danger("Cover the window.")
        (True, False)
    """
    return "destroys" in text or "never be taken back" in text


def _has_plain_a9(row: ChipRow) -> bool:
    """Whether a reader could raise its A9: a microcontroller has no such pin, nor has a chip that is read in series."""
    return row.technology not in MICROCONTROLLERS and ("A9",) in pinout_rows()[row.pinout].signals
