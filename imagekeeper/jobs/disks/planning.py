"""Plan a disk: the file in the order of the writer, and the sheet for the drive that will write it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, ClassVar, Literal

from imagekeeper import drives, files, fingerprints
from imagekeeper.containers.model import Image, Segment
from imagekeeper.drives import DiskForDrive, Verdict
from imagekeeper.drives.at_hand import AtHand, Hung
from imagekeeper.drives.bench import Bench
from imagekeeper.errors import ContradictionError, NotFoundError, UsageError, Where
from imagekeeper.fingerprints import Fingerprint
from imagekeeper.floppy import formats
from imagekeeper.floppy.arrangement import Geometry, SideOrder, order_sides
from imagekeeper.jobs.disks.matching_drives import today_for
from imagekeeper.jobs.disks.one_read import SURE, reading_faults
from imagekeeper.jobs.images.loading import STDIN, Given, Options, loaded
from imagekeeper.jobs.images.transforming import transform
from imagekeeper.jobs.images.wanting import WantedSteps
from imagekeeper.jobs.images.writing import check_output, write_image
from imagekeeper.planning import disk as planned
from imagekeeper.planning.disk import DiskImage, FormatParameters
from imagekeeper.planning.doubts import refuse_doubts
from imagekeeper.planning.grounds import UNKNOWN, Grounds, with_grounds
from imagekeeper.planning.sheet import Fact, Sheet, only_byte
from imagekeeper.sentences.say import Phrase
from imagekeeper.tables.drives import drive_rows
from imagekeeper.tables.floppy import FormatRow
from imagekeeper.transforms.replaying import StepTaken

if TYPE_CHECKING:
    from imagekeeper.geometry.results import GeometryCandidate, GeometrySolution

#: What a file is filled up with where nothing else is said. Common practice, no source: E5 is what many systems leave.
FILL = 0xE5

#: From here on another disk that the image may be of is warned of. Our judgement.
_LIKELY = 0.8


@dataclass(frozen=True, kw_only=True)
class DiskPlan:
    """How a disk is made from an image in one drive.

    Attributes:
        source: The image as it was read.
        format: The id of the format.
        format_from: `named`, or `content` where it was worked out from the image.
        drive: What the drive is called on the bench, or its class.
        verdict: What that drive can do, and how it is set.
        parameters: What the program that formats must be told.
        image: The file that was written, to be given to the program that writes.
        steps: What was done to the image for it.
        sheet: The sheet for the bench.
        grounds: What the image rests on.
    """

    SCHEMA: ClassVar[Literal["disk-plan/1"]] = "disk-plan/1"

    source: Fingerprint
    format: str
    format_from: Literal["named", "content"]
    drive: str
    verdict: Verdict
    parameters: FormatParameters
    image: DiskImage
    steps: tuple[StepTaken, ...]
    sheet: Sheet
    grounds: Grounds = UNKNOWN


@dataclass(frozen=True, kw_only=True)
class DiskChoice:
    """What a person says of the disk and of its image.

    Attributes:
        format: The name of the format, or None to work it out from the image.
        sides_from: The order of sides in the image, or None for by turns.
        sides_to: The order that the writer wants, or None for by turns.
        fill: What fills up a short image and what formatting leaves.
        first_sector: The number of the first sector on each track.
        interleave: Of the sectors on the disk.
    """

    format: str | None = None
    sides_from: SideOrder | None = None
    sides_to: SideOrder | None = None
    fill: int = FILL
    first_sector: int = 1
    interleave: int = 1


def plan_disk(
    path: Given, output: str, drive: str, choice: DiskChoice, options: Options, *,
    bench: Bench | None = None, sheet_to: str | None = None, force: bool = False, grounds: Grounds | None = None,
) -> DiskPlan:  # fmt: skip
    """Make the file for the writer, and the sheet for the bench.

    Args:
        path: The image.
        output: The file to write, whole or not at all.
        drive: The name of a drive on the bench, or a class of drives.
        choice: What is known of the disk.
        options: How to take the image.
        bench: What is at hand, or None.
        sheet_to: Where the sheet will be written, so that nothing is written where that cannot be, or None.
        force: Replace the output if it is there.
        grounds: What the image rests on, where it comes from an archive.

    Raises:
        ContradictionError: `misread`: the image shows that the disk was not read as it is; `drive-cannot`: the drive
            cannot write the format; the hint names those that can.
        NotFoundError: `drive-unknown`; `format-unknown`.
        InputError: `doubtful`: the image has doubts, which must be decided first.
        UsageError: The image is larger than the disk, or the output cannot be written.
        ImagekeeperError: The image cannot be understood.
    """
    check_output(output, force=force, inputs=[path])
    if sheet_to is not None:
        check_output(sheet_to, force=force, inputs=[path], beside=output)
    _check("first sector", choice.first_sector, 0, 255)
    _check("interleave", choice.interleave, 1, 255)
    with loaded(path, options) as file:
        refuse_doubts(file.image, file.name)
        row, told = _format(file.image, choice, path, options)
        _check("first sector", choice.first_sector, 0, 256 - row.sectors)   # the last one's number is a byte too
        _check("interleave", choice.interleave, 1, max(1, row.sectors - 1))
        disk = DiskForDrive.of(row)
        found, more = _hung(disk, drive, bench)
        verdict = found.verdict
        others = [one.drive for one in drives.match(disk).drives if one.can_write != "no"]
        planned.refuse(disk, verdict, drive, others)
        planned.refuse_size(row, file.image.size_bytes)
        _refuse_misread(file.image, row, choice, file.name)
        other = _other_content(row, path, options) if told == "named" else None
        source = fingerprints.take(file.image, file.name, name_base64=file.name_base64)
        blank = planned.blank_caution(only_byte(piece for _, piece in file.image.pieces()))
        wanted = WantedSteps(geometry=row.id, fit_geometry=True, sides_from=choice.sides_from, sides_to=choice.sides_to)
        if choice.sides_from == choice.sides_to:
            wanted = replace(wanted, sides_from=None, sides_to=None)
        done = transform([file.image], [file.name], wanted, choice.fill)
        data = done.image.tobytes()
    if grounds is not None and grounds.carrier is not None:
        source = replace(source, name=f"{grounds.carrier} {grounds.what}")
    figures = fingerprints.take(done.image, "")
    result = Image(segments=(Segment(0, data),), container="raw", addressed=False)
    write_image(result, output, "raw", figures.sha256, force=force)
    image = DiskImage(
        name=files.display_name(output), size_bytes=len(data), sha256=figures.sha256, crc32=figures.crc32,
        first_data_crc=planned.first_data_crc(data, row), filled_bytes=len(data) - source.size_bytes,
    )  # fmt: skip
    parameters = planned.format_parameters(
        row, first_sector=choice.first_sector, interleave=choice.interleave, fill=choice.fill
    )
    sheet = planned.sheet(row, found, drive, parameters, image, more)
    sheet = replace(sheet, cautions=(*blank, *([other] if other is not None else []), *sheet.cautions))
    sheet = with_grounds(sheet, grounds or UNKNOWN)
    return DiskPlan(
        source=source, format=row.id, format_from=told, drive=drive, verdict=verdict, parameters=parameters,
        image=image, steps=done.steps, sheet=sheet, grounds=grounds or UNKNOWN,
    )  # fmt: skip


def _refuse_misread(image: Image, row: FormatRow, choice: DiskChoice, name: str) -> None:
    """Stop where the image shows that its disk was not read as it is: such a copy would start no machine.

    Raises:
        ContradictionError: `misread`.
    """
    from imagekeeper.geometry import solve  # slow to load: only where a disk is worked out

    if len(image.segments) != 1:
        return
    data, geometry = image.segments[0].data[:], Geometry.of(row)
    if choice.sides_from not in (None, "alternating") and len(data) == geometry.bytes and geometry.heads == 2:
        data = order_sides(data, geometry, choice.sides_from, "alternating")
    for one in reading_faults(data, solve(data), geometry) if data else ():
        if one.confidence >= SURE:
            raise ContradictionError("misread", why=one.why, next=one.hint, where=Where(file=name))


def _check(what: str, value: int, least: int, most: int) -> None:
    if not least <= value <= most:
        raise UsageError("usage/no-such-number", thing=what, value=value, least=least, most=most)


def _format(
    image: Image, choice: DiskChoice, path: Given, options: Options
) -> tuple[FormatRow, Literal["named", "content"]]:
    """Find the format: the one named, or the one that the content speaks for."""
    if choice.format is not None:
        other = formats.find_other(choice.format)
        if other is not None:
            holes = Phrase("drive-cannot/sectoring", holes=other.holes) if other.holes else Phrase("drive-cannot/soft")
            raise ContradictionError("drive-cannot/other-recording", format=other.id, title=other.title, disk=holes)
        return formats.find(choice.format), "named"
    if path == STDIN:
        raise UsageError("usage/format-of-stdin")
    from imagekeeper.geometry import Known  # slow to load: only where a disk is worked out
    from imagekeeper.jobs.disks.solving import solve_file

    found = solve_file(path, options, Known())
    best = found.candidates[0] if found.candidates else None
    if best is not None and best.format is not None and best.exact:
        _refuse_size_alone(best, found)
    if best is None or best.format is None or best.score < 0.9 or not best.exact:
        same = _of_this_size(found)
        sizes = Phrase("format-unknown/of-this-size", same=same) if same else ""
        raise NotFoundError("format-unknown/uncertain", found=found.says, same=sizes)
    if len(best.formats) > 1:
        raise NotFoundError("format-unknown/size-of-disk", formats=best.formats)
    return formats.find(best.format), "content"


def _refuse_size_alone(best: GeometryCandidate, found: GeometrySolution) -> None:
    """Refuse a format that only the size of the file speaks for, or that what is on the disk does not single out.

    Another disk of the same size would be written as if it were this one, and start no machine.
    """
    from imagekeeper.geometry.results import SPEAKS  # slow to load: only where a disk is worked out

    beside = [one.content for one in found.candidates[1:] if one.exact] + [one.content for one in found.rivals]
    if best.content >= SPEAKS and all(content < best.content for content in beside):
        return
    speaks = Phrase("format-unknown/for-several" if best.content >= SPEAKS else "format-unknown/for-none")
    tells = " ".join(found.tells)
    raise NotFoundError(
        "format-unknown/size-alone", format=best.format, speaks=speaks, same=_of_this_size(found),
        tells=Phrase("format-unknown/tells", tells=tells) if tells else "",
    )  # fmt: skip


def _of_this_size(found: GeometrySolution) -> list[str]:
    return [
        *(name for one in found.candidates if one.exact for name in one.formats),
        *(one.format for one in found.rivals),
    ]


def _other_content(row: FormatRow, path: Given, options: Options) -> str | None:
    """Warn where the content speaks for another format than the one named: the disk might start no machine."""
    from imagekeeper.geometry import Known  # slow to load: only where a disk is worked out
    from imagekeeper.geometry.results import SPEAKS, GeometryRival  # slow to load: only where a disk is worked out
    from imagekeeper.jobs.disks.solving import solve_file

    if path == STDIN:
        return None
    found = solve_file(path, options, Known())
    best = found.leading_rival or next((one for one in found.candidates if one.exact and one.formats), None)
    names = () if best is None else (best.format,) if isinstance(best, GeometryRival) else best.formats
    if best is None or best.score < _LIKELY or row.id in names:
        return None
    what = "The image is that" if best.content >= SPEAKS else "The image has the size"
    return (
        f"{what} of another disk: {', '.join(names)}. Written as {row.id} it may be of no use to the machine: see "
        "which of the two it takes before anything is written."
    )


def _hung(disk: DiskForDrive, drive: str, bench: Bench | None) -> tuple[Hung, tuple[Fact, ...]]:
    """Find the drive with the best controller of the bench; give its cable, and what trials showed of it."""
    held = AtHand(disk, bench or Bench(), today_for(bench))
    for own in held.bench.drives:
        if own.name == drive:
            found, trials = held.own(own)
            return found, (*_cable(held, found), *(Fact("shown", one.says) for one in trials))
    if drive in drive_rows():
        found = held.hung(drive_rows()[drive])
        return found, _cable(held, found)
    named = [own.name for own in bench.drives] if bench is not None else []
    at_hand = Phrase("drive-unknown/on-bench", drives=named) if named else ""
    raise NotFoundError("drive-unknown", drive=drive, at_hand=at_hand, classes=tuple(drive_rows()))


def _cable(held: AtHand, found: Hung) -> tuple[Fact, ...]:
    """Name the cable of the bench, or the one to get; nothing where nothing is known of cables."""
    joined = held.joined(found.row, None if found.controller is None else found.controller.row)
    if joined.row is None or (joined.name is None and joined.wanted is None):
        return ()
    to_get = f"to get: {joined.row.title}"
    return (Fact("cable", to_get if joined.name is None else f"{joined.name}: {joined.row.title}"),)
