"""Which pin of a socket a pin of a chip stands in."""

from __future__ import annotations

from imagekeeper.chips import Chip

#: Packages of one row spacing that go into each other's sockets, at the ground end. [pin]
NESTED = (24, 28, 32)


def seatable(chip: Chip, socket: Chip) -> bool:
    """Whether the chip goes into the socket at all: as it is, in a longer socket, or overhanging a shorter one.

    Example:
        >>> from imagekeeper.chips import find
        >>> seatable(find("2716"), find("2764")), seatable(find("82S123"), find("2716"))
        (True, False)
    """
    if chip.row_spacing_inch != socket.row_spacing_inch:
        return False
    return chip.pins == socket.pins or (chip.pins in NESTED and socket.pins in NESTED)


def socket_pin(pin: int, chip_pins: int, socket_pins: int) -> int | None:
    """Find the pin of the socket below a pin of the chip; None where the chip overhangs.

    A chip of 24 pins sits at the ground end of a 28-pin socket, its pin n in socket pin n + 2.

    Source:
        classiccmp, posts on the wiring from a 2532 to a 2732 and on 24-pin chips in 28-pin sockets.

    Example:
        >>> socket_pin(24, 24, 28), socket_pin(1, 28, 24), socket_pin(28, 28, 32)
        (26, None, 30)
    """
    found = pin + (socket_pins - chip_pins) // 2
    return found if 1 <= found <= socket_pins else None
