"""Plan a chip: the exact file for the programmer, and the burn sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from imagekeeper import chips, files, fingerprint
from imagekeeper.chips import Chip
from imagekeeper.containers.model import Image, Segment
from imagekeeper.digests import sha256_hex
from imagekeeper.errors import InputError, UsageError, Where
from imagekeeper.fingerprint import Fingerprint
from imagekeeper.planning import chip as planned
from imagekeeper.planning.chip import Present, Sums
from imagekeeper.planning.sheet import Sheet
from imagekeeper.transforms.chip_steps import Pad
from imagekeeper.transforms.replaying import StepTaken, take
from imagekeeper.units import plural, size_text
from imagekeeper.workflows.loading import Options, loaded
from imagekeeper.workflows.transforming import transform
from imagekeeper.workflows.wanting import Wanted, check
from imagekeeper.workflows.writing import ChosenBy, check_output, chosen_kind, write_image


@dataclass(frozen=True)
class ChipPlan:
    """How an image gets into a chip.

    Attributes:
        source: The image as it was read.
        joined: The images that were joined with it.
        chip: The id of the chip.
        steps: What was done to the image, in order: all that is needed to do it again, and to take it back.
        before: What a programmer shows of the image as it was read.
        after: What it must show of the whole chip.
        present: What is in the chip now, or null.
        output: Name of the file for the programmer, made printable.
        container: The kind of that file.
        chosen_by: `option` where --to named the kind, `ending` where the file name did, `default` otherwise.
        sheet: The burn sheet.
    """

    SCHEMA: ClassVar[Literal["chip-plan/1"]] = "chip-plan/1"

    source: Fingerprint
    joined: tuple[Fingerprint, ...]
    chip: str
    steps: tuple[StepTaken, ...]
    before: Sums
    after: Sums
    present: Present | None
    output: str
    container: str
    chosen_by: ChosenBy
    sheet: Sheet


def plan_chip(
    path: str, output: str, part: str, wanted: Wanted, options: Options, *,
    offset: int | None = None, present: str | None = None, label: str | None = None, to: str | None = None,
    force: bool = False,
) -> ChipPlan:  # fmt: skip
    """Make the file for the programmer, and the burn sheet.

    Args:
        path: The image.
        output: The file to write, whole or not at all.
        part: The marking of the chip.
        wanted: What is to be done to the image first.
        options: How to take the input; its `fill` closes gaps and pads.
        offset: Where in the chip the image begins; what is left is filled. [byte]
        present: A file that was read from the chip that is to be used, or None for an erased or new one.
        label: The sticker's text, or None for the part and the sum.
        to: The kind to write, or None to go by the output's ending.
        force: Replace the output if it is there.

    Raises:
        ContradictionError: `does-not-fit`, `must-erase`.
        NotFoundError: `chip-unknown`.
        InputError: `doubtful`: the image has doubts, which must be decided first; it cannot be understood.
        UsageError: Options clash; the output cannot be written.
    """
    kind, chosen_by = chosen_kind(output, to)
    others = [*wanted.join, *([present] if present is not None else [])]
    check_output(output, force=force, inputs=[path, *others])
    check(wanted, options.fill)
    chip = chips.find(part)
    images, figures = [], []
    for name in (path, *wanted.join):
        with loaded(name, options) as file:
            _refuse_doubts(file.image, file.name)
            image = Image(tuple(Segment(s.start, bytes(s.data[:])) for s in file.image.segments), container="raw")
            images.append(image)
            figures.append(fingerprint.take(image, file.name, name_base64=file.name_base64))
    done = transform(images, [one.name for one in figures], wanted, options.fill)
    data, steps = done.image.tobytes(), list(done.steps)
    if offset is not None:
        data, steps = _placed(data, steps, chip, offset, options.fill)
    planned.refuse(chip, len(data))
    planned.refuse_nibbles(chip, data)
    now = None if present is None else _present(chip, data, present, options)
    if now is not None:
        planned.refuse_present(chip, now)
    result = Image((Segment(0, data),), container="raw", addressed=False)
    after = planned.sums(fingerprint.take(result, ""))
    write_image(result, output, kind, sha256_hex(data), force=force)
    name = files.display_name(output)
    sticker = label or f"{chip.id} {after.sum16}"
    sheet = planned.sheet(
        chip, name, kind, planned.sums(figures[0]), after, _how(figures, steps), present=now, label=sticker
    )
    return ChipPlan(
        figures[0], tuple(figures[1:]), chip.id, tuple(steps), planned.sums(figures[0]), after, now, name, kind,
        chosen_by, sheet,
    )  # fmt: skip


def _refuse_doubts(image: Image, name: str) -> None:
    """A doubtful byte must not be burnt into a chip."""
    if image.doubts:
        first = image.doubts[0]
        raise InputError(
            "doubtful", "the image has doubtful bytes, which must be decided first",
            why=f"{plural(len(image.doubts), 'doubt')}, the first at {first.start:04X}: {first.why}",
            hint="read the chip again, compare, and settle the image; then plan with that", where=Where(file=name),
        )  # fmt: skip


def _placed(
    data: bytes, steps: list[StepTaken], chip: Chip, offset: int, fill: int | None
) -> tuple[bytes, list[StepTaken]]:
    if fill is None:
        raise UsageError(
            "usage", "--offset needs --fill", why="what is left of the chip must be filled with something",
            hint=f"give --fill {chip.blank or 'FF'}",
        )  # fmt: skip
    end = offset + len(data)
    if end > chip.file_bytes:
        raise UsageError(
            "does-not-fit", "the image does not fit the chip at that offset",
            why=f"it would end at {end:X}, and the chip ends at {chip.file_bytes:X}", hint="give a lower --offset",
        )  # fmt: skip
    for size, at in ((end, "start"), (chip.file_bytes, "end")):
        if size > len(data):
            data, done = take(data, Pad(size, fill, "start" if at == "start" else "end"))
            steps.append(done)
    return data, steps


def _present(chip: Chip, data: bytes, path: str, options: Options) -> Present:
    with loaded(path, options) as file:
        held = b"".join(piece for _, piece in file.image.pieces())
        if len(held) != len(data) or len(file.image.segments) > 1:
            raise InputError(
                "does-not-fit", "the file does not hold what is in such a chip",
                why=f"it has {size_text(len(held))}, and a {chip.id} holds {size_text(len(data))}",
                hint="read the whole chip again, as this type", where=Where(file=file.name),
            )  # fmt: skip
        blank = None if chip.blank is None else int(chip.blank, 16)
        if blank is None or chip.carrier in ("eeprom", "ram", "clock-ram"):
            return Present(file.name, False, True, 0, None)   # every byte can be written at any time
        wrong, first = planned.burnt(held, data, blank)
        return Present(file.name, held == bytes([blank]) * len(held), not wrong, wrong, first)


def _how(figures: list[Fingerprint], steps: list[StepTaken]) -> str:
    sources = " and ".join(one.name for one in figures)
    if not steps:
        return f"{sources}, as it is"
    return f"{sources}: {', '.join(step.name for step in steps)}"
