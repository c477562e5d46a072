"""The three ways to record a track, field by field.

Source of all sizes and bytes unless said otherwise: Western Digital, FD 179X-02 data sheet, May 1980, "Formatting the
disk", whose FM and MFM fields the later controllers repeat; for perpendicular recording, Standard Microsystems, FDC37
series data sheets, format fields and perpendicular mode.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from imagekeeper.errors import UsageError

Encoding = Literal["fm", "mfm", "perpendicular"]

ID_BYTES, CRC_BYTES = 4, 2

#: The marks that may begin a data field: FB, F8 for deleted data, and F9 and FA, which only FM controllers write.
DATA_MARKS = (0xFB, 0xF8, 0xF9, 0xFA)
ID_MARK, INDEX_MARK, DATA_MARK, DELETED_MARK = 0xFE, 0xFC, 0xFB, 0xF8


@dataclass(frozen=True, kw_only=True)
class Recording:
    """The sizes and bytes of one way to record.

    Attributes:
        encoding: Its name.
        title: Its name in words.
        fill: What gaps hold.
        sync: How many bytes of 00 stand before every mark. [byte]
        lead: The bytes with missing clocks before the byte of an ID or data mark.
        index_lead: The same for the index mark.
        gap4a: From the index to the sync of the index mark. [byte]
        gap1: From the index mark to the first sector. [byte]
        gap2: From the CRC of an ID to the sync of its data. [byte]
        gap3_least: The least gap 3 of the data sheet, "Non-IBM formats"; it allows for no error of speed. [byte]
        erased_ahead: How far the erase head leads the write head, so that it takes this much beyond the end of
            what is written. [byte]
        usual_rate: The data rate of the common drives. [bit/s]
    """

    encoding: Encoding
    title: str
    fill: int
    sync: int
    lead: bytes
    index_lead: bytes
    gap4a: int
    gap1: int
    gap2: int
    gap3_least: int
    erased_ahead: int
    usual_rate: int

    @property
    def index_gap(self) -> int:
        """Everything before the first sector. [byte]

        Example:
            >>> RECORDINGS["fm"].index_gap, RECORDINGS["mfm"].index_gap
            (73, 146)
        """
        return self.gap4a + self.sync + len(self.index_lead) + 1 + self.gap1

    @property
    def overhead(self) -> int:
        """A sector without its data and its gap 3. [byte]

        Example:
            >>> [r.overhead for r in RECORDINGS.values()]
            [33, 62, 81]
        """
        mark = self.sync + len(self.lead) + 1
        return mark + ID_BYTES + CRC_BYTES + self.gap2 + mark + CRC_BYTES

    def rewritten(self, sector_bytes: int) -> int:
        """What a controller writes when it replaces the data of a sector: sync to CRC, and one byte more. [byte]

        Source: Western Digital, FD 179X-02 data sheet, May 1980, "Write sector".

        Example:
            >>> RECORDINGS["mfm"].rewritten(512)
            531
        """
        return self.sync + len(self.lead) + 1 + sector_bytes + CRC_BYTES + 1


RECORDINGS: dict[Encoding, Recording] = {
    "fm": Recording(
        encoding="fm", title="FM", fill=0xFF, sync=6, lead=b"", index_lead=b"", gap4a=40, gap1=26, gap2=11,
        gap3_least=10, erased_ahead=0, usual_rate=125_000,
    ),
    "mfm": Recording(
        encoding="mfm", title="MFM", fill=0x4E, sync=12, lead=b"\xa1" * 3, index_lead=b"\xc2" * 3, gap4a=80, gap1=50,
        gap2=22, gap3_least=24, erased_ahead=0, usual_rate=250_000,
    ),
    "perpendicular": Recording(
        encoding="perpendicular", title="perpendicular MFM", fill=0x4E, sync=12, lead=b"\xa1" * 3,
        index_lead=b"\xc2" * 3, gap4a=80, gap1=50, gap2=41, gap3_least=24, erased_ahead=38, usual_rate=1_000_000,
    ),
}


def recording(encoding: str) -> Recording:
    """Look a way to record up by its name.

    Raises:
        UsageError: `unknown-name`.
    """
    for name, one in RECORDINGS.items():
        if name == encoding:
            return one
    raise UsageError(
        "unknown-name", "there is no such way to record a track", why=f"{encoding!r} is not one of them",
        hint=f"name one of {', '.join(RECORDINGS)}",
    )  # fmt: skip


def at_rate(kind: Recording, data_rate: int) -> Recording:
    """Adapt a way to record to the data rate: at 500 kbit/s perpendicular recording has the gap 2 of MFM.

    The erase head leads by a fixed length of track, so it takes half as many bytes, which fit into the common gap 2.

    Source:
        Standard Microsystems, FDC37 series data sheets, perpendicular mode: 41 bytes at 1 Mbit/s, 22 at 500 kbit/s, of
        which 38 and 19 are written anew with a sector.

    Example:
        >>> [at_rate(RECORDINGS["perpendicular"], rate).gap2 for rate in (1_000_000, 500_000)]
        [41, 22]
    """
    if kind.encoding == "perpendicular" and data_rate <= 500_000:
        return replace(kind, gap2=RECORDINGS["mfm"].gap2, erased_ahead=19)
    return kind
