"""The conclusion in a sentence, and what to do next."""

from __future__ import annotations

from imagekeeper.geometry.known import Known
from imagekeeper.geometry.results import SPEAKS, GeometryAnswer, GeometryCandidate, GeometryRival, together
from imagekeeper.sentences.say import Phrase
from imagekeeper.tables.floppy import format_rows
from imagekeeper.units import plural

#: Below this a first place means little.
_SURE, _DOUBTFUL = 0.9, 0.4

#: So many other disks of the size are named.
_BESIDE = 3


def conclude(
    candidates: tuple[GeometryCandidate, ...], rivals: tuple[GeometryRival, ...], tells: tuple[str, ...],
    known: Known, *, content: bool, blank: int | None,
) -> tuple[str, str]:  # fmt: skip
    """Say what the disk is, and what to do next.

    Args:
        candidates: Best first.
        rivals: Disks of other recordings, best first.
        tells: How they are told apart.
        known: What was asked.
        content: Whether there was an image to look at.
        blank: The byte of which the whole image consists, or None.
    """
    facts = ", ".join(known.say(name) for name in known.given())
    if not candidates and not rivals:
        return (
            f"No floppy disk of the table, and no shape that a drive could hold, has {facts}.",
            "Check the numbers. A file of such a size may be a container with its own headers, the image of a hard "
            "disk, or cut short; leaving a fact out shows what the others allow.",
        )
    answers = together(candidates, rivals)
    best, others = answers[0], answers[1:]
    if known.size_bytes is None and not content and best.score < _DOUBTFUL:
        return (
            f"Many disks have {facts}; the most usual are listed, {best.geometry} ({name_of(best)}) among them.",
            "Say more of what you know: the size of the file in bytes tells most, then cylinders and sectors.",
        )
    near = [one for one in others if one.score > 0.8 * best.score]
    more = f", or just as well {_called(near[0], answers)}" if near else ""
    says = f"{_sure(best)} {best.geometry}, {name_of(best)}{_off(best)}{more}."
    if blank is not None:
        says += f" Every byte is {blank:02X}: only the size speaks."
    elif best.content < SPEAKS and _exact(best) and known.size_bytes is not None:
        beside = [_called(one, answers) for one in others if _exact(one) and one not in near[:1]][:_BESIDE]
        says += f" Only its size speaks; also of this size: {_and(beside)}." if beside else " Only its size speaks."
    if isinstance(best, GeometryRival):
        return says, " ".join([*tells, str(Phrase("step/own-controller"))])
    if tells and best.content < SPEAKS:
        return says, " ".join(tells)
    return says, _next(best, [one for one in others if isinstance(one, GeometryCandidate)], content)


def _exact(one: GeometryAnswer) -> bool:
    return isinstance(one, GeometryRival) or one.exact


def _called(one: GeometryAnswer, answers: list[GeometryAnswer]) -> str:
    """Name an answer: by its geometry, and in words too where another has the same."""
    alike = sum(other.geometry == one.geometry for other in answers)
    return f"{one.geometry} ({name_of(one)})" if alike > 1 else one.geometry


def _and(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def name_of(one: GeometryAnswer) -> str:
    """Name an answer as people do.

    Without its format: the recording is all that is known.
    """
    rows = format_rows()
    if isinstance(one, GeometryRival):
        return one.title
    if not one.formats:
        return f"no format of the table ({one.encoding.upper()}, {one.data_rate / 1000:g} kbit/s)"
    return " or ".join(rows[name].title for name in one.formats)


def _sure(best: GeometryAnswer) -> str:
    if best.score >= _SURE and best.content >= SPEAKS:
        return "This is"
    if best.score >= _DOUBTFUL:
        return "Most likely"
    return "One of several, most likely" if _exact(best) else "Nothing explains this well; least unlikely is"


def _off(best: GeometryAnswer) -> str:
    if isinstance(best, GeometryRival):
        return ""
    parts = []
    if best.short_bytes:
        parts.append(f"{plural(best.short_bytes, 'byte')} short")
    if best.extra_bytes:
        where = f", of which {best.data_start} in front" if best.data_start else ""
        parts.append(f"{plural(best.extra_bytes, 'byte')} too many{where}")
    return f", but {' and '.join(parts)}" if parts else ""


def _next(best: GeometryCandidate, others: list[GeometryCandidate], content: bool) -> str:
    rows = format_rows()
    if best.short_bytes:
        return (
            "Read the disk again: tracks or sectors are missing. A reader that leaves out what it cannot read shifts "
            "all that follows; fill unreadable sectors instead."
        )
    if best.data_start:
        first = plural(best.data_start, "byte")
        return f"Remove the first {first}, which are no part of the disk, and keep the original file."
    cylinder = best.heads * best.sectors * best.sector_bytes
    if 0 < best.extra_bytes < 4 * cylinder:
        return (
            "Look at the end of the file: where it repeats what stands before it, or is blank, it is no part of the "
            "disk. Keep this file, and leave the end out of a copy."
        )
    if best.extra_bytes:
        return (
            "Read the disk again with the right number of tracks and sides (a 40-track disk in an 80-track drive "
            "by double steps), and compare; keep this file too."
        )
    rivals = [one for one in others if one.score > best.score / 10 and one.exact]
    if rivals:
        return str(Phrase("step/settle-geometry", rivals=[one.geometry for one in rivals[:2]]))
    inches = sorted({rows[name].disk_inch for name in best.formats})
    ask = []
    if len(inches) > 1:
        ask.append(f"Look at the disk: {' or '.join(f'{inch:g}' for inch in inches)} inch; a file does not show it.")
    if content and best.heads == 2 and best.side_order is None:
        ask.append(
            "The order of sides cannot be told from the content: ask how the file was read, before it is written to a "
            "disk."
        )
    elif best.side_order in ("side-after-side", "side-1-reversed"):
        ask.append("Most programs want the sides by turns: reorder a copy before it is written to a disk.")
    return " ".join(ask) or str(Phrase("step/which-drive"))
