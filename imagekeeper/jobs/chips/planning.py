"""Plan a chip: the exact file for the programmer, and the burn sheet."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar, Literal

from imagekeeper import chips, files, fingerprints
from imagekeeper.chips import Chip
from imagekeeper.chips.cells import blank_content, change, stuck_bits
from imagekeeper.containers.model import Image, Segment
from imagekeeper.digests import sha256_hex
from imagekeeper.errors import ContradictionError, InputError, UsageError, Where
from imagekeeper.evidence.examining import shown_alone
from imagekeeper.fingerprints import Fingerprint
from imagekeeper.jobs.images.loading import Given, Options, loaded
from imagekeeper.jobs.images.transforming import transform
from imagekeeper.jobs.images.wanting import WantedSteps, check
from imagekeeper.jobs.images.writing import ChosenBy, check_output, chosen_kind, write_image
from imagekeeper.planning import chip as planned
from imagekeeper.planning.chip import Present, ProgrammerSums
from imagekeeper.planning.doubts import refuse_doubts
from imagekeeper.planning.grounds import UNKNOWN, Grounds, with_grounds
from imagekeeper.planning.sheet import Sheet
from imagekeeper.substitution import Fit, ImagePlan, arranged
from imagekeeper.substitution import fit as fit_in
from imagekeeper.transforms.chip_steps import Pad, Repeat
from imagekeeper.transforms.replaying import StepTaken, take

#: The lamp that data sheets speak of, and where it is measured. [mW/cm2] [cm]
LAMP_MW_CM2, LAMP_CM = 12.0, 2.5


@dataclass(frozen=True, kw_only=True)
class ChipPlan:
    """How an image gets into a chip.

    Attributes:
        source: The image as it was read.
        joined: The images that were joined with it.
        chip: The id of the chip.
        socket: The chip that the socket was made for, where that was said, else null.
        arrangement: How the pins of that socket lay the image out in the chip, or null.
        steps: What was done to the image, in order: all that is needed to do it again, and to take it back.
        before: What a programmer shows of the image as it was read.
        after: What it must show of the whole chip.
        present: What is in the chip now, or null.
        output: Name of the file for the programmer, made printable.
        container: The kind of that file.
        chosen_by: `option` where --to named the kind, `ending` where the file name did, `default` otherwise.
        sheet: The burn sheet.
        maker: Who made the chip, or null: then the sheet gives no voltage where makers differ in what destroys it.
        grounds: What the image rests on.
    """

    SCHEMA: ClassVar[Literal["chip-plan/1"]] = "chip-plan/1"

    source: Fingerprint
    joined: tuple[Fingerprint, ...]
    chip: str
    socket: str | None
    arrangement: ImagePlan | None
    steps: tuple[StepTaken, ...]
    before: ProgrammerSums
    after: ProgrammerSums
    present: Present | None
    output: str
    container: str
    chosen_by: ChosenBy
    sheet: Sheet
    maker: str | None
    grounds: Grounds = UNKNOWN


def plan_chip(
    path: Given, output: str, part: str, wanted: WantedSteps, options: Options, *, maker: str | None = None,
    socket: str | None = None, offset: int | None = None, present: Given | None = None, label: str | None = None,
    lamp_mw_cm2: float = LAMP_MW_CM2, lamp_cm: float = LAMP_CM, to: str | None = None, sheet_to: str | None = None,
    force: bool = False, grounds: Grounds | None = None,
) -> ChipPlan:  # fmt: skip
    """Make the file for the programmer, and the burn sheet.

    Args:
        path: The image.
        output: The file to write, whole or not at all.
        part: The marking of the chip.
        wanted: What is to be done to the image first.
        options: How to take the input; its `fill` closes gaps and pads.
        maker: Who made the chip, or None: where makers differ in what destroys it, the sheet then gives no voltage.
        socket: The marking of the chip that the socket was made for, where that is another; its pins then decide how
            the image lies in the chip.
        offset: Where in the chip the image begins; what is left is filled. [byte]
        present: A file that was read from the chip that is to be used, or None for an erased or new one.
        label: The sticker's text, or None for the part and the sum.
        lamp_mw_cm2: The intensity of the lamp that erases, 2.5 cm from it. [mW/cm2]
        lamp_cm: How far from it the chip lies. [cm]
        to: The kind to write, or None to go by the output's ending.
        sheet_to: Where the sheet will be written, so that nothing is written where that cannot be, or None.
        force: Replace the output if it is there.
        grounds: What the image rests on, where it comes from an archive.

    Raises:
        ContradictionError: `does-not-fit`, `must-erase`.
        NotFoundError: `chip-unknown`, `maker-unknown`.
        InputError: `doubtful`: the image, or what the chip holds, has doubts, which must be decided first; it cannot
            be understood.
        UsageError: Options clash; the output cannot be written.
    """
    kind, chosen_by = chosen_kind(output, to)
    others = [*wanted.join, *([present] if present is not None else [])]
    check_output(output, force=force, inputs=[path, *others])
    if sheet_to is not None:
        check_output(sheet_to, force=force, inputs=[path, *others], beside=output)
    check(wanted, options.fill)
    chip = chips.find(part, maker)
    images, figures = [], []
    for name in (path, *wanted.join):
        with loaded(name, options) as file:
            refuse_doubts(file.image, file.name)
            image = Image(
                segments=tuple(Segment(s.start, bytes(s.data[:])) for s in file.image.segments), container="raw"
            )
            images.append(image)
            figures.append(fingerprints.take(image, file.name, name_base64=file.name_base64))
    if grounds is not None and grounds.carrier is not None:
        figures[0] = replace(figures[0], name=f"{grounds.carrier} {grounds.what}")
    done = transform(images, [one.name for one in figures], wanted, options.fill)
    data, steps = done.image.tobytes(), list(done.steps)
    if offset is not None:
        data, steps = _placed(data, steps, chip, offset, options.fill)
    fit = None if socket is None else _fit(socket, chip)
    if fit is not None and fit.image is not None and offset is None:
        data, steps = _arranged(data, steps, chip, chips.find(socket or ""), fit.image)
    planned.refuse(chip, len(data))
    planned.refuse_nibbles(chip, data)
    now = None if present is None else _present(chip, data, present, options)
    if now is not None:
        planned.refuse_present(chip, now)
    result = Image(segments=(Segment(0, data),), container="raw", addressed=False)
    after = planned.sums(fingerprints.take(result, ""))
    erasing = planned.erasing_text(chip, lamp_mw_cm2, lamp_cm)   # refuses a lamp that cannot be, before OUT is there
    write_image(result, output, kind, sha256_hex(data), force=force)
    name = files.display_name(output)
    sticker = label or f"{chip.id} {after.sum16}"
    sheet = planned.sheet(
        chip, name, kind, planned.sums(figures[0]), after, _how(figures, steps, fit), present=now,
        socket=None if fit is None else planned.socket_part(fit, socket or ""),
        erasing=erasing, label=sticker,
    )  # fmt: skip
    sheet = replace(sheet, cautions=(*planned.blank_caution(chip, data), *sheet.cautions))
    known = grounds or UNKNOWN
    sheet = with_grounds(sheet, known, [
        one for image in images for one in shown_alone(image, "eprom", None)
        if one.code not in ("blank", "not-selected")   # of which the sheet tells already
    ])
    return ChipPlan(
        source=figures[0], joined=tuple(figures[1:]), chip=chip.id,
        socket=None if socket is None else chips.find(socket).id, arrangement=None if fit is None else fit.image,
        steps=tuple(steps), before=planned.sums(figures[0]), after=after, present=now, output=name, container=kind,
        chosen_by=chosen_by, sheet=sheet, maker=chip.maker, grounds=known,
    )  # fmt: skip


def _placed(
    data: bytes, steps: list[StepTaken], chip: Chip, offset: int, fill: int | None
) -> tuple[bytes, list[StepTaken]]:
    if fill is None:
        raise UsageError("usage/offset-without-fill", fill=chip.blank or 'FF')
    end = offset + len(data)
    if end > chip.file_bytes:
        raise UsageError("does-not-fit/at-offset", end=end, size=chip.file_bytes)
    for size, at in ((end, "start"), (chip.file_bytes, "end")):
        if size > len(data):
            data, done = take(data, Pad(size, fill, "start" if at == "start" else "end"))
            steps.append(done)
    return data, steps


def _present(chip: Chip, data: bytes, path: Given, options: Options) -> Present:
    with loaded(path, options) as file:
        refuse_doubts(file.image, file.name)   # whether the chip can take the image hangs on each bit that it holds
        held = b"".join(piece for _, piece in file.image.pieces())
        if len(held) != len(data) or len(file.image.segments) > 1:
            raise InputError(
                "does-not-fit/in-such-a-chip", size=len(held), chip=chip.id, chip_size=len(data),
                where=Where(file=file.name),
            )  # fmt: skip
        if chip.carrier == "prom" and chip.blank is None:
            raise ContradictionError("does-not-fit/blank-unknown", chip=chip.id, where=Where(file=file.name))
        blank = None if chip.blank is None else int(chip.blank, 16)
        if blank is None or change(chip) == "any":
            return Present(
                name=file.name, blank=False, programmable=True, wrong_bits=0, first_address=None
            )   # every byte can be written at any time
        if chip.bits == 4:   # the chip has no upper half, whatever the reader and the file put there
            held, data = (bytes(byte & 0x0F for byte in one) for one in (held, data))
        wrong, first = stuck_bits(held, data, blank)
        return Present(
            name=file.name, blank=held == blank_content(chip), programmable=not wrong, wrong_bits=wrong,
            first_address=first,
        )  # fmt: skip


def _how(figures: list[Fingerprint], steps: list[StepTaken], fit: Fit | None) -> str:
    sources = " and ".join(one.name for one in figures)
    names = [step.name for step in steps]
    if fit is not None and fit.image is not None and _crossed(fit.image):
        names.append("rearranged for the crossed lines of the socket")
    return f"{sources}: {', '.join(names)}" if names else f"{sources}, as it is"


def _fit(socket: str, chip: Chip) -> Fit:
    """Ask the pins.

    Raises:
        ContradictionError: `does-not-fit`: it must never be plugged in, or is too small.
    """
    found = fit_in(socket, chip)
    planned.refuse_socket(found, chips.find(socket).id)
    return found


def _crossed(plan: ImagePlan) -> bool:
    """Whether lines of the socket meet others of the chip, so that copies alone do not do."""
    lines = [(n, board) for n, board in enumerate(plan.address_from) if board is not None]
    straight = lines == [(n, n) for n in range(len(lines))]
    return not straight or plan.data_to != tuple(range(len(plan.data_to)))


def _arranged(
    data: bytes, steps: list[StepTaken], chip: Chip, socket: Chip, plan: ImagePlan
) -> tuple[bytes, list[StepTaken]]:
    """Lay the image out as the pins of the socket ask for: copies, or rearranged where lines are crossed."""
    if len(data) != socket.file_bytes:
        raise ContradictionError(
            "does-not-fit/not-of-socket", socket=socket.id, size=len(data), socket_size=socket.file_bytes,
        )  # fmt: skip
    if not _crossed(plan):
        if plan.copies > 1:
            data, done = take(data, Repeat(chip.file_bytes))
            steps = [*steps, done]
        return data, steps
    return arranged(data, plan, 2 if chip.bits == 16 else 1), steps
