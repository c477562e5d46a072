"""Write a sheet of labels for carriers."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import ClassVar, Literal

from imagekeeper import files
from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.ocfl.reading import file_blocks
from imagekeeper.archive.ocfl.troubles import Unfit, damaged, unfit
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.digests import Crc32, feed, new
from imagekeeper.errors import ArchiveError, NotFoundError, UsageError
from imagekeeper.fingerprints import RunningSums
from imagekeeper.jobs.pages.label_layout import SIZES, Label, laid_out
from imagekeeper.jobs.pages.label_sheets import PAPERS, LabelSheets, arranged, fits
from imagekeeper.jobs.pages.values import Made
from imagekeeper.jobs.session import SOFTWARE, Session
from imagekeeper.provenance.kinds import CHIPS
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.sentences.say import Phrase


@dataclass(frozen=True, kw_only=True)
class LabelText:
    """What one label says.

    Attributes:
        id: The carrier's id.
        size: The label's size by name, or null for one that was given in millimetres.
        width_mm: Its width. [mm]
        height_mm: Its height. [mm]
        sum16: Sum of the bytes of the agreed image, modulo 65536, or null where no image is agreed.
        crc32: CRC-32 of the same bytes, or null.
        qr: Whether the QR code of the id had room.
        lines: What is printed, line by line, as it was made to fit.
        left_out: What had no room.
        grade: Of the evidence as it stands.
        open: The codes of what speaks against the image or the record.
    """

    id: str
    size: str | None
    width_mm: float
    height_mm: float
    sum16: str | None
    crc32: str | None
    qr: bool
    lines: tuple[str, ...]
    left_out: tuple[str, ...]
    grade: str | None = None
    open: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Labels:
    """A sheet of labels.

    Attributes:
        output: The file, made printable.
        paper: `a4` or `letter`.
        sheets: How many sheets there are.
        labels: The labels, in order.
        set_aside: Carriers that have none, because something is wrong with them.
    """

    SCHEMA: ClassVar[Literal["labels/1"]] = "labels/1"

    output: str
    paper: str
    sheets: int
    labels: tuple[LabelText, ...]
    set_aside: tuple[Unfit, ...] = ()

    @property
    def exit_code(self) -> int:
        """4 where a carrier has no label, else 0."""
        return 4 if self.set_aside else 0


#: More used places than this are on no sheet.
MOST_SKIPPED = 1000

_MEASURE = re.compile(r"(\d{1,3}(?:\.\d{1,2})?)\s*[xX×]\s*(\d{1,3}(?:\.\d{1,2})?)(?:\s*mm)?")


def parse_size(text: str) -> tuple[str | None, tuple[float, float]]:
    """Read a size of label: one of the names, or width and height in millimetres.

    Raises:
        UsageError: `usage`.

    Example:
        >>> parse_size("dip28"), parse_size("25.4x9")
        (('dip28', (28, 11)), (None, (25.4, 9.0)))
    """
    name = text.strip().lower()
    if name in SIZES:
        return name, SIZES[name]
    match = _MEASURE.fullmatch(name)
    if match is None or not (6 <= float(match[1]) <= 300 and 4 <= float(match[2]) <= 300):
        raise UsageError("usage/label-size", text=text, known=SIZES)
    return None, (float(match[1]), float(match[2]))


def write_labels(
    archive: ArchiveStore,
    ids: Sequence[str],
    output: str,
    session: Session,
    *,
    size: str | None = None,
    paper: str = "a4",
    skip: int = 0,
    force: bool = False,
    render: Callable[[LabelSheets], str],
) -> Labels:
    """Write labels for carriers, as a page that prints at its true size.

    Args:
        archive: The archive.
        ids: The carriers, in the order of their labels.
        output: The file.
        session: Gives the time that the page bears.
        size: The size of all labels (`parse_size`), or None for what suits each carrier.
        paper: A key of `label_sheets.PAPERS`.
        skip: How many places at the beginning of the first sheet to leave empty.
        force: Replace the output if it is there.
        render: Makes the text of the page, such as `imagekeeper.present.html.label_sheet.render_sheets`.

    Raises:
        NotFoundError: `carrier-missing`.
        ArchiveError: `archive-damaged` where all are damaged: a label must not vouch for that, so it is left out.
        UsageError: `usage` for a size that does not fit the paper, or a carrier that was taken out of the collection;
            `exists`, `cannot-write`.
    """
    given = None if size is None else parse_size(size)
    labels, texts = [], []
    problems: dict[str, ArchiveError] = {}
    for carrier_id in ids:
        try:
            record = load_record(archive, carrier_id)
            sums = _sums(archive, record)
        except ArchiveError as problem:
            problems[carrier_id] = problem
            continue
        if record.deaccessions:
            gone = record.deaccessions[-1]
            raise UsageError("usage/label-taken-out", id=carrier_id, what=gone.id, reason=gone.reason)
        name, measure = given or (usual := usual_size(record), SIZES[usual])
        if not fits(measure, paper):
            raise UsageError("usage/label-larger", width=measure[0], height=measure[1], paper=paper)
        label = laid_out(carrier_id, _lines(record, sums), measure)
        labels.append(label)
        texts.append(_text(label, name, sums, record))
    if problems and not labels:
        raise next(iter(problems.values()))
    sheets = arranged(labels, paper, min(max(skip, 0), MOST_SKIPPED))
    made = Made(session.now(), SOFTWARE, archive.marker.title, archive.marker.uuid)
    title = f"Labels for {labels[0].id}" if len(labels) == 1 else f"Labels for {len(labels)} carriers"
    page = LabelSheets(title, made, PAPERS[paper], sheets)
    files.write_whole(output, [render(page).encode()], force=force)
    return Labels(
        output=files.display_name(output), paper=paper, sheets=len(sheets), labels=tuple(texts),
        set_aside=tuple(unfit(one, problem) for one, problem in problems.items()),
    )  # fmt: skip


def _text(label: Label, name: str | None, sums: tuple[str, str] | None, record: CarrierRecord) -> LabelText:
    sum16, crc32 = sums or (None, None)
    found = record.standing
    return LabelText(
        id=label.id, size=name, width_mm=float(label.width), height_mm=float(label.height), sum16=sum16, crc32=crc32,
        qr=bool(label.code), lines=tuple(line.text for line in label.lines), left_out=label.left_out,
        grade=found.grade if found else None,
        open=tuple(dict.fromkeys(one.code for one in found.open)) if found else (),
    )  # fmt: skip


def usual_size(record: CarrierRecord) -> str:
    """Choose the label that suits a carrier: by the pins of its part or package, or by the width of the disk.

    Common practice, no source: what is not known counts as 28 pins, or 5.25 inch.
    """
    said = " ".join(filter(None, (record.part, record.package))).lower()
    if record.kind not in (*CHIPS, "pal", "clock-ram"):
        if re.search(r"\b3[.,]5|\b90 ?mm", said):
            return "disk35"
        return "disk8" if re.search(r"\b8[ -]?(?:inch|in\b|\")|\b200 ?mm", said) else "disk525"
    pins = re.search(r"\b(\d\d)[ -]?pin", said)
    count = int(pins[1]) if pins else None
    if count is None and record.part is not None:
        from imagekeeper import chips  # the tables, only where the record does not say it

        with suppress(NotFoundError):
            count = chips.find(record.part).pins
    if count is None or 24 < count <= 28:
        return "dip28"
    return "dip24" if count <= 24 else "dip32"


def _lines(record: CarrierRecord, sums: tuple[str, str] | None) -> list[tuple[int, str]]:
    """Give what a label says from top to bottom, each with its importance."""
    dates = [read.date for read in record.reads if read.date and record.agreed and read.id in record.agreed.reads]
    lines = [(0, record.id), (2, record.label or ""), (4, record.part or "")]
    if sums is None:
        lines.append((1, "no agreed image"))
    else:
        lines += [(1, f"CS {sums[0]}"), (3, f"CRC {sums[1]}")]
    found = record.standing
    if found is not None and found.open:
        lines.append((2, f"! {', '.join(dict.fromkeys(one.code for one in found.open))}"))
    elif found is not None and sums is not None:
        lines.append((4, f"{found.grade}, explained" if found.explained else found.grade))
    return [*lines, (5, max(dates, default="")[:10])]


def _sums(archive: ArchiveStore, record: CarrierRecord) -> tuple[str, str] | None:
    """Take the figures that chip labels carry from the agreed image; none where the reads agree on no image.

    Raises:
        ArchiveError: `archive-damaged`.
    """
    agreed = record.agreed
    if agreed is None or agreed.sha256 is None or agreed.image is None:
        return None
    path = archive.content_path(record.id, agreed.image)
    sums, crc, sha256 = RunningSums(), Crc32(), new("sha256")
    try:
        feed(file_blocks(path), [sums, crc, sha256])
    except OSError as problem:
        raise damaged(archive.name_of(path), files.reason(problem)) from problem
    if sha256.hexdigest() != agreed.sha256:
        raise damaged(archive.name_of(path), Phrase("archive-damaged/agreed-digest"))
    return f"{sums.total & 0xFFFF:04X}", crc.hexdigest()
