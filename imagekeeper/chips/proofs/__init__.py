"""What a row of a chip must prove by itself: its members agree with each other and with its pins.

No data sheet is needed: 13 address pins reach 8192 words and no others, a pin that is named Vpp has a voltage. A row of
the tables and a row of a person's own go through the same proofs.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from imagekeeper.chips.proofs import grounds, making, pins, programming, volts
from imagekeeper.chips.proofs.subject import RowSubject
from imagekeeper.findings import Finding
from imagekeeper.tables.chips import ChipRow, PinoutRow, Signature, chip_rows, pinout_rows, signatures
from imagekeeper.tables.makers import MakerRow, maker_rows

__all__ = ["PROOFS", "RowSubject", "contradictions", "contradictions_of"]

#: Every proof, pins first, for most others speak of them.
PROOFS = (*pins.PROOFS, *volts.PROOFS, *programming.PROOFS, *making.PROOFS, *grounds.PROOFS)


def contradictions(
    row: ChipRow, pinout: PinoutRow, makers: Iterable[MakerRow] = (), known: Iterable[Signature] = ()
) -> Iterator[Finding]:
    """Tell where a row contradicts itself, its pinout, or what its makers' sheets give.

    Args:
        row: The chip.
        pinout: Its pins.
        makers: What is known of each maker's chip.
        known: What makers' chips answer when asked for their signature.

    Returns:
        Findings `row-contradicts`, whose detail names the member that is wrong as `field`; none for a good row.

    Example:
        >>> from dataclasses import replace
        >>> row = chip_rows()["2716"]
        >>> list(contradictions(row, pinout_rows()[row.pinout]))
        []
        >>> wrong = replace(row, words=4096, bytes=4096)
        >>> [found.why for found in contradictions(wrong, pinout_rows()[row.pinout])]
        ['11 address pins reach 2048 words, and it is said to hold 4096']
    """
    subject = RowSubject(row=row, pinout=pinout, makers=tuple(makers), signatures=tuple(known))
    for proof in PROOFS:
        yield from proof(subject)


def contradictions_of(part: str) -> tuple[Finding, ...]:
    """Tell where a row of the tables contradicts itself, by the chip's id.

    Example:
        >>> contradictions_of("27C010")
        ()
    """
    row = chip_rows()[part]
    return tuple(
        contradictions(row, pinout_rows()[row.pinout], maker_rows().get(part, ()), signatures().get(part, ()))
    )
