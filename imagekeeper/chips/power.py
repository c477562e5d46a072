"""In which order the supplies of a chip come and go: the wrong order destroys some kinds."""

from __future__ import annotations

from imagekeeper.tables.chips import ChipRow


def order_cautions(row: ChipRow) -> tuple[str, ...]:
    """Say which supply comes first and which goes last, where the order matters; what destroys the chip stands first.

    That Vcc is on before Vpp, or comes with it, and goes after it, or with it, is in every sheet that was seen to speak
    of it: Texas Instruments TMS2532, page 148, TMS2564 and TMS2732A; SGS-Thomson M2716, M2732A and M27256; Intel 27128;
    Atmel AT27C400 and AT27C256R; STMicroelectronics M27C322. The order of -5 V among three supplies is from memory. Of
    the 1702A, a PMOS chip with supplies of its own, nothing is known.

    Example:
        >>> from imagekeeper.tables.chips import chip_rows
        >>> for part in ("2708", "2716", "28C64", "1702A"):
        ...     print(part, [text.partition(":")[0] for text in order_cautions(chip_rows()[part])])
        2708 ['Vbb -5 V on first and off last (from memory)']
        2716 ['Vcc on before Vpp or with it, Vpp off before Vcc or with it']
        28C64 []
        1702A ['In which order its supplies come and go is not in the table']
    """
    if row.technology == "pmos-eprom":
        return (
            "In which order its supplies come and go is not in the table: find it in the maker's data sheet, for the "
            "wrong order destroys chips of this age (from memory).",
        )
    if after := _after_vbb(row):
        return (
            f"Vbb {row.supplies_v['Vbb']:+g} V on first and off last (from memory): to give {after} without it "
            "destroys the chip. The program pulse comes only while all of them stand. Never in or out of a socket with "
            "any of them on.",
        )
    if _has_vpp(row):
        return (
            "Vcc on before Vpp or with it, Vpp off before Vcc or with it: a programmer must keep to this. Never in or "
            "out of a socket with either on.",
        )
    return ()


def order_steps(row: ChipRow) -> tuple[str, ...]:
    """Give the same as steps at the device, for what is powered by hand.

    Example:
        >>> from imagekeeper.tables.chips import chip_rows
        >>> order_steps(chip_rows()["2708"])[0]
        'Power on, where the device does not do it by itself: Vbb -5 V first, then Vcc +5 V and Vdd +12 V; off: Vbb last (order from memory).'
    """  # noqa: E501  # an example stands on one line
    if row.technology == "pmos-eprom":
        return ("Find the order of its supplies in the maker's data sheet before anything is switched on.",)
    if after := _after_vbb(row):
        return (
            f"Power on, where the device does not do it by itself: Vbb {row.supplies_v['Vbb']:+g} V first, then "
            f"{after}; off: Vbb last (order from memory).",
        )
    if _has_vpp(row):
        return (
            "Power on, where the device does not do it by itself: Vcc first, then Vpp, or both at once, and Vpp at its "
            "programming voltage only to program; off: Vpp first, or both at once.",
        )
    return ()


def _after_vbb(row: ChipRow) -> str:
    """Name the supplies that come after Vbb; nothing where there is none, or all are alike."""
    if "Vbb" not in row.supplies_v or len(set(row.supplies_v.values())) == 1:
        return ""
    return " and ".join(f"{name} {volts:+g} V" for name, volts in row.supplies_v.items() if name != "Vbb")


def _has_vpp(row: ChipRow) -> bool:
    return bool(row.vpp_v or row.ask_maker or row.vpp_max_v)
