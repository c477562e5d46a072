"""The disk-write sheet: how one drive writes one disk, and how the result is proved."""

from __future__ import annotations

from dataclasses import dataclass

from imagekeeper.drives import DiskForDrive, Verdict
from imagekeeper.drives.at_hand import Hung
from imagekeeper.errors import ContradictionError
from imagekeeper.floppy.crc import field_crc
from imagekeeper.floppy.gaps import handbook_gaps
from imagekeeper.floppy.layout import TrackLayout, lay_out
from imagekeeper.floppy.recording import DATA_MARK
from imagekeeper.planning.moving import moving
from imagekeeper.planning.sheet import Fact, Sheet, SheetPart, in_short
from imagekeeper.sentences.say import Phrase
from imagekeeper.tables import resting_on, sources
from imagekeeper.tables.drives import drive_rows, medium_rows
from imagekeeper.tables.floppy import FormatRow
from imagekeeper.units import size_text


@dataclass(frozen=True, kw_only=True)
class FormatParameters:
    """What the program that formats the disk must be told.

    Attributes:
        cylinders: How many.
        heads: How many sides.
        sectors: On each track.
        first_sector: The number of the first sector; it belongs to the machine, and 1 is common practice, no source.
        sector_bytes: [byte]
        size_code: The size as IDs state it.
        encoding: fm, mfm or perpendicular.
        gap3_format: To format with. [byte]
        gap3_write: To read and write with where a handbook gives it, or null. [byte]
        gap3_from: Where these come from.
        interleave: From one number to the next it goes this many sectors on.
        fill: What formatting leaves, and what fills the end of a short image.
    """

    cylinders: int
    heads: int
    sectors: int
    first_sector: int
    sector_bytes: int
    size_code: int
    encoding: str
    gap3_format: int
    gap3_write: int | None
    gap3_from: str
    interleave: int
    fill: str


@dataclass(frozen=True, kw_only=True)
class DiskImage:
    """The file that is to be written.

    Attributes:
        name: Its name.
        size_bytes: [byte]
        sha256: Of the file.
        crc32: Of the file.
        first_data_crc: CRC of the data field of its first sector, mark included, as the disk has it behind the data.
        filled_bytes: How much of its end was filled, because the image was shorter than the disk. [byte]
    """

    name: str
    size_bytes: int
    sha256: str
    crc32: str
    first_data_crc: str
    filled_bytes: int


def first_data_crc(data: bytes, row: FormatRow) -> str:
    r"""Take the CRC that the disk will have behind its first sector's data.

    Source:
        CRC-16/IBM-3740 from the data mark on, as in `imagekeeper.floppy.crc`.

    Example:
        >>> from imagekeeper.floppy.formats import find
        >>> first_data_crc(b"\xe5" * 512, find("360K"))
        'C40B'
    """
    encoding, size = row.encoding, row.sector_bytes
    if row.first_track is not None:
        encoding, size = row.first_track.encoding, row.first_track.sector_bytes
    return f"{field_crc(bytes([DATA_MARK]) + data[:size], encoding):04X}"


def format_parameters(row: FormatRow, *, first_sector: int, interleave: int, fill: int) -> FormatParameters:
    """Choose what formatting needs to be told: gap 3 from a handbook where one is safe, else from the limits.

    Example:
        >>> from imagekeeper.floppy.formats import find
        >>> found = format_parameters(find("360K"), first_sector=1, interleave=1, fill=0xF6)
        >>> found.gap3_format, found.gap3_write, found.size_code
        (80, 42, 2)
    """
    layout = _layout(row)
    known = handbook_gaps(row.encoding, row.data_rate, row.rotation, row.sectors, row.sector_bytes)
    safe = [gap for gap in known if gap.verdict == "safe"]
    gap3, write, told = layout.gap3, None, "midway between its limits, which are computed"
    if safe:
        best = next((gap for gap in safe if gap.gap3_write is not None), safe[0])
        gap3, write = best.gap3_format, best.gap3_write
        told = f"{best.source.author}, for {best.use}" if best.source else f"from memory, for {best.use}"
    return FormatParameters(
        cylinders=row.cylinders, heads=row.heads, sectors=row.sectors, first_sector=first_sector,
        sector_bytes=row.sector_bytes, size_code=layout.size_code, encoding=row.encoding, gap3_format=gap3,
        gap3_write=write, gap3_from=told, interleave=interleave, fill=f"{fill:02X}",
    )  # fmt: skip


def _layout(row: FormatRow) -> TrackLayout:
    return lay_out(
        row.encoding, sectors=row.sectors, sector_bytes=row.sector_bytes, data_rate=row.data_rate,
        rotation=row.rotation,
    )  # fmt: skip


def refuse(disk: DiskForDrive, found: Verdict, drive: str, others: list[str]) -> None:
    """Stop where the drive cannot write the disk, and name those that can.

    Raises:
        ContradictionError: `drive-cannot`.
    """
    if found.can_write != "no":
        return
    raise ContradictionError(
        "drive-cannot", drive=drive, disk=disk.title, format=f"{disk.format} " if disk.format else "",
        because=found.because[0] if found.because else Phrase("drive-cannot/misfit"),
        could=Phrase("drive-cannot/others", drives=others) if others else Phrase("drive-cannot/no-other"),
    )  # fmt: skip


def refuse_size(row: FormatRow, size: int) -> None:
    """Stop where the image is larger than the disk: what of it is left out is no matter of planning.

    Raises:
        ContradictionError: `does-not-fit`.
    """
    if size > row.bytes:
        raise ContradictionError("does-not-fit/larger-than-disk", size=size, disk=row.title, disk_size=row.bytes)


def sheet(
    row: FormatRow, chosen: Hung, drive: str, parameters: FormatParameters, image: DiskImage,
    more: tuple[Fact, ...] = (),
) -> Sheet:  # fmt: skip
    """Write the sheet.

    Args:
        row: The format.
        chosen: The drive, which can write the disk, and its controller.
        drive: What the drive is called, or its class.
        parameters: For formatting.
        image: The file to write.
        more: What else is known of the drive: its cable, and what was seen of it.
    """
    found = chosen.verdict
    assert found.settings is not None
    settings = found.settings
    medium = medium_rows()[settings.media]
    tracks = f"{row.cylinders} cylinders, {'two sides' if row.heads == 2 else 'one side'}"
    oersted = " to ".join(map(str, settings.coercivity_oe))
    gap3 = f"{parameters.gap3_format} ({parameters.gap3_format:02X} hex)"
    if parameters.gap3_write is not None:
        gap3 += f"; to read and write {parameters.gap3_write} ({parameters.gap3_write:02X} hex)"
    disk = SheetPart("The disk", (
        Fact("to buy", settings.buy, "buy" in medium.unsourced),
        Fact("coercivity", f"{oersted} Oe" if oersted else "not known", "coercivity_oe" in medium.unsourced),
        Fact("made blank", settings.blank, "degauss" in medium.unsourced),
        Fact("index hole", medium.index_hole, "index_hole" in medium.unsourced),
    ))  # fmt: skip
    unsourced = drive_rows()[found.drive].unsourced
    drive_part = SheetPart("The drive", (
        Fact("drive", f"{drive}: {found.title}"),
        Fact("data rate", f"{settings.data_rate / 1000:g} kbit/s, {_encoding(settings.encoding)}"),
        Fact("rotation", f"{settings.rotation:g} rev/min", "modes.rotation" in unsourced),
        Fact("steps", f"{settings.step}, {'two pulses' if settings.step == 'double' else 'one pulse'} for each track"),
        *moving(chosen),
        Fact("density line", settings.density, "modes.density" in unsourced),
        *((Fact("precompensation", settings.precompensation),) if settings.precompensation else ()),
        *more,
    ))  # fmt: skip
    formatting = SheetPart("Format with", (
        Fact("tracks", tracks, _memory(row, "cylinders")),
        Fact("sectors", f"{row.sectors} of {row.sector_bytes} bytes, size code {parameters.size_code}",
             _memory(row, "sectors")),
        Fact("first sector", f"{parameters.first_sector}", True),
        Fact("gap 3", f"{gap3}; {parameters.gap3_from}", parameters.gap3_from.startswith("from memory")),
        Fact("interleave", f"{parameters.interleave}", True),
        Fact("fill", parameters.fill, True),
        *((Fact("first track", f"track 00 of side 0 in FM: {row.first_track.sectors} sectors of "
                               f"{row.first_track.sector_bytes} bytes"),) if row.first_track else ()),
    ))  # fmt: skip
    file = SheetPart("The file", (
        Fact("name", image.name),
        Fact("size", size_text(image.size_bytes)),
        Fact("CRC-32", image.crc32),
        Fact("SHA-256", image.sha256),
        Fact("first sector on disk", f"CRC {image.first_data_crc} behind its data"),
        *((Fact("filled up", f"{size_text(image.filled_bytes)} of {parameters.fill} behind the image: it was shorter "
                "than the disk"),) if image.filled_bytes else ()),
    ))  # fmt: skip
    care = "in this one drive" if found.can_write == "with-care" else "in this drive"
    steps = (
        f"Take a new or bulk-erased disk: {medium.title}.",
        "Clean the heads; try the drive on a disk that may be lost.",
        f"Set the drive as above, and format the whole disk {care}.",
        f"Write {image.name}, all of it.",
        "Read the disk back twice, the second time after taking it out and putting it in again.",
        str(Phrase("step/prove-disk")),
        "Protect the disk against writing (the notch or the tab), and label it: format, date, CRC-32.",
        "Try it in the machine before the original disk goes back on the shelf.",
    )
    own = resting_on(("format", row.id), ("drive", found.drive), ("medium", medium.id))
    refused = [] if chosen.refused is None else [f"No controller of the bench can: {chosen.refused}. Get another."]
    cautions = (*refused, *(one.text for one in found.cautions), *(one.why for one in own))
    cited = tuple(dict.fromkeys(in_short(sources()[name]) for name in found.sources))
    return Sheet(
        title=f"Write {row.title} in drive {drive}", parts=(disk, drive_part, formatting, file), steps=steps,
        cautions=cautions, sources=cited,
    )  # fmt: skip


def blank_caution(value: int | None) -> tuple[str, ...]:
    """Warn of an image that holds nothing: what formatting leaves, or a bad read or a wrong file.

    Args:
        value: The one value that every byte of the image has, or None where there are several.
    """
    if value is None:
        return ()
    return (
        f"The image is blank: every byte is {value:02X}, as formatting may leave a disk, so that it holds no files and "
        "starts no machine. See whether it is the right file and a good read.",
    )


def _memory(row: FormatRow, member: str) -> bool:
    return member in row.unsourced


def _encoding(name: str) -> str:
    return {"fm": "FM", "mfm": "MFM"}.get(name, "perpendicular recording")
