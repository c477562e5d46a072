"""The header of x86 extension ROMs: 55 AA, a length, and an 8-bit sum of zero over it.

Sources: Plug and Play BIOS Specification 1.0A (Compaq, Phoenix, Intel, 5 May 1994), section 3.1 and appendix A: the
option ROM header and its expansion header. The scan in steps of 2 KiB, and the sockets at E0000 whose length byte is
not used and whose sum covers 64 KiB: Tech Help manual, page on the ROM scan. The signature 0EF1 of drivers for
extensible firmware, which carry no sum: UEFI Specification, chapter on PCI option ROMs, from memory.
"""

from __future__ import annotations

from collections.abc import Iterator

from imagekeeper.errors import Where
from imagekeeper.findings import Finding
from imagekeeper.selfchecks.chance import Odds
from imagekeeper.selfchecks.results import Expansion, ExtensionHeader
from imagekeeper.selfchecks.trials import Trial
from imagekeeper.units import address_digits, range_text, size_text

MARK = b"\x55\xaa"
UNIT_BYTES = 512
STEP_BYTES = 2048
SOCKET_BYTES = 65536
EXPANSION_MARK = b"$PnP"
EXPANSION_UNIT_BYTES = 16
EXPANSIONS_MOST = 16

SOURCE = "Plug and Play BIOS Specification 1.0A, section 3.1 and appendix A"
SOCKET_SOURCE = "Tech Help manual, page on the ROM scan"

#: The mark and the sum have to come out right together.
_ODDS = Odds(2.0**-24)


def read_header(data: bytes, first_address: int = 0) -> ExtensionHeader | None:
    r"""Read the header at the first byte, or None where there is none.

    Args:
        data: The image.
        first_address: Address of its first byte. [byte]

    Example:
        >>> rom = bytes.fromhex("55AA01CB") + bytes(507) + b"\x35"
        >>> header = read_header(rom)
        >>> header.length_bytes, header.sum_ok, header.balance
        (512, True, '35')
    """
    if not data.startswith(MARK) or len(data) < 3:
        return None
    length = data[2] * UNIT_BYTES
    covers = length
    asks = data[4:8] != b"\xf1\x0e\0\0"
    if len(data) >= SOCKET_BYTES and (length == 0 or sum(data[:length]) % 256) and not sum(data[:SOCKET_BYTES]) % 256:
        covers = SOCKET_BYTES
    total = sum(data[:covers]) % 256 if 0 < covers <= len(data) else None
    return ExtensionHeader(
        start=first_address,
        length_bytes=length,
        covers_bytes=covers,
        sum8=None if total is None else f"{total:02X}",
        sum_ok=None if total is None or not asks else total == 0,
        balance=None if total is None else f"{(data[covers - 1] - total) % 256:02X}",
        entry_jump=data[3:4] in (b"\xe9", b"\xeb"),
        expansions=tuple(_expansions(data, min(covers, len(data)), first_address)),
    )


def _expansions(data: bytes, end: int, first_address: int) -> Iterator[Expansion]:
    at, seen = int.from_bytes(data[0x1A:0x1C], "little"), set[int]()
    while 0x1C <= at <= end - 10 and data[at : at + 4] == EXPANSION_MARK and at not in seen:
        seen.add(at)
        length = data[at + 5] * EXPANSION_UNIT_BYTES
        inside = 0 < length <= end - at
        total = f"{sum(data[at : at + length]) % 256:02X}" if inside else None
        yield Expansion(first_address + at, length, total)
        if len(seen) == EXPANSIONS_MOST:
            return
        at = int.from_bytes(data[at + 6 : at + 8], "little")


def trials(data: bytes, header: ExtensionHeader | None) -> Iterator[Trial]:
    """Try the header at every place of the ROM scan, and the expansion headers of the first."""
    covered = 0
    for at in range(0, len(data), STEP_BYTES):
        length = data[at + 2] * UNIT_BYTES if data[at : at + 2] == MARK and at + 2 < len(data) else 0
        holds = at >= covered and 0 < length <= len(data) - at and not sum(data[at : at + length]) % 256
        if holds:
            covered = at + length
        yield Trial(
            id="extension-rom", title="8-bit sum of the extension ROM is zero", source=SOURCE, tier="usual", odds=_ODDS,
            holds=holds, bits=8, over=((at, at + length),), stored="00", computed="00", place=f"rom-{at:X}",
        )  # fmt: skip
    if len(data) >= SOCKET_BYTES:
        holds = header is not None and header.covers_bytes == SOCKET_BYTES != header.length_bytes
        yield Trial(
            id="extension-socket", title="8-bit sum over 64 KiB behind the mark 55 AA is zero", source=SOCKET_SOURCE,
            tier="usual", odds=_ODDS, holds=holds, bits=8, over=((0, SOCKET_BYTES),), stored="00", computed="00",
            place="rom-0",
        )  # fmt: skip
    for found in header.expansions if header else ():
        at = found.start - header.start if header else 0
        yield Trial(
            id="expansion-header", title="8-bit sum of the expansion header $PnP is zero", source=SOURCE, tier="usual",
            odds=Odds(2.0**-40), holds=found.sum8 == "00", bits=8, over=((at, at + found.length_bytes),), stored="00",
            computed=found.sum8 or "", place=f"expansion-{at:X}",
        )  # fmt: skip


def contradictions(header: ExtensionHeader | None, size: int) -> Iterator[Finding]:
    """Say where the image breaks what its header claims.

    Args:
        header: The header, if there is one.
        size: The image's size. [byte]
    """
    if header is None:
        return
    start, digits = header.start, address_digits(header.start + size)
    sure = 0.99 if header.entry_jump else 0.9
    if header.length_bytes > size and header.covers_bytes == header.length_bytes:
        yield Finding(
            "header-beyond-image", "fault", 0.9 if header.entry_jump else 0.7, Where(address=start, length=3),
            f"the header 55 AA states {size_text(header.length_bytes)}, and the image holds {size_text(size)}",
            "read the chip again with the right size; where the ROM is spread over several chips, join them first",
            {"length_bytes": header.length_bytes, "size_bytes": size},
        )  # fmt: skip
    if header.sum_ok is False:
        yield Finding(
            "header-sum-wrong", "fault", sure, Where(address=start, length=header.covers_bytes),
            f"the header 55 AA asks for an 8-bit sum of 00 over {range_text(start, header.covers_bytes, digits)}, "
            f"and the bytes give {header.sum8}; a last byte of {header.balance} would balance it",
            "read the chip again and compare: do not change the last byte to make the sum fit",
            {"sum8": header.sum8, "balance": header.balance, "length_bytes": header.covers_bytes},
        )  # fmt: skip
    for found in header.expansions:
        if found.sum8 != "00":
            gives = f"the bytes give {found.sum8}" if found.sum8 else "it does not fit into the ROM"
            yield Finding(
                "header-sum-wrong", "fault", sure, Where(address=found.start, length=found.length_bytes),
                f"the expansion header $PnP at {found.start:0{digits}X} asks for an 8-bit sum of 00 over "
                f"{size_text(found.length_bytes)}, and {gives}",
                "read the chip again and compare",
                {"sum8": found.sum8, "length_bytes": found.length_bytes},
            )  # fmt: skip
