"""The CRC of address and data fields: CRC-16/IBM-3740, preset at the right byte."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from imagekeeper.floppy.recording import recording
from imagekeeper.tables import crcs

NAME = "CRC-16/IBM-3740"


@cache
def _step() -> Callable[..., int]:
    import crcmod  # only where such a check value is taken

    row = crcs()[NAME]
    made: Callable[..., int] = crcmod.mkCrcFun(
        1 << row.width | row.poly, initCrc=row.init, rev=row.reflected, xorOut=row.xorout
    )
    return made


def crc16(data: bytes, before: int = 0xFFFF) -> int:
    """Take the CRC of some bytes, or carry one on.

    Args:
        data: The bytes.
        before: The CRC of what came before them.

    Source:
        The catalogue of parametrised CRC algorithms, CRC-16/IBM-3740.

    Example:
        >>> f"{crc16(b'123456789'):04X}", crc16(b"6789", crc16(b"12345")) == 0x29B1
        ('29B1', True)
    """
    return _step()(data, before)


@cache
def preset(encoding: str) -> int:
    """Give the register just before the byte of a mark.

    In FM it is preset at that byte; in MFM at the first of the three A1, which are therefore inside the sum.

    Source:
        Western Digital, FD 179X-02 data sheet, May 1980, "Write track": F7 and the presets.

    Raises:
        UsageError: `unknown-name`.

    Example:
        >>> f"{preset('fm'):04X}", f"{preset('mfm'):04X}"
        ('FFFF', 'CDB4')
    """
    return crc16(recording(encoding).lead)


def field_crc(field: bytes, encoding: str) -> int:
    """Take the CRC of a field, from the byte of its mark on.

    Raises:
        UsageError: `unknown-name`.

    Example:
        >>> f"{field_crc(bytes.fromhex('FE 00 00 01 02'), 'mfm'):04X}"
        'CA6F'
    """
    return crc16(field, preset(encoding))
