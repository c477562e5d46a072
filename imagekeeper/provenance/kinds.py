"""The kinds of carrier, and what each one means for reading it."""

from __future__ import annotations

from imagekeeper.errors import UsageError

#: Every kind of carrier, with a sentence that says what it is.
KINDS: dict[str, str] = {
    "eprom": "An EPROM: programmed electrically, erased by ultraviolet light, losing charge over decades.",
    "mask-rom": "A mask ROM: its contents were made with the chip and cannot change.",
    "prom": "A PROM: written once by burning fuses or changing cells.",
    "pal": "A programmable logic device (PAL, GAL and relatives), kept as its fuse map.",
    "ram": "A battery-backed RAM: gone when the battery is, so it is read before anything else.",
    "clock-ram": "The RAM inside a clock chip, with a battery of its own.",
    "eeprom": "An EEPROM: written and erased electrically, byte by byte.",
    "flash": "A flash memory: written electrically, erased in blocks or as a whole.",
    "floppy": "A floppy disk: its image is that of its sectors, or of the signal they were read from.",
    "hard-disk": "A hard disk, kept as its sectors in order.",
    "tape": "A tape or cassette, kept as its blocks in order.",
    "module": "A plug-in module or cartridge that is read as one piece.",
}

#: Those whose images come from the pins of one chip.
CHIPS = ("eprom", "mask-rom", "prom", "ram", "eeprom", "flash")

#: Those that hold sectors.
DISKS = ("floppy", "hard-disk")


def check_kind(name: str) -> str:
    """Accept the name of a kind of carrier.

    Raises:
        UsageError: `unknown-name`.

    Example:
        >>> check_kind("eprom")
        'eprom'
    """
    if name not in KINDS:
        raise UsageError("unknown-name/kind-of-carrier", name=name, known=KINDS)
    return name
