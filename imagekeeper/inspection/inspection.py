"""Inspect one image: every rule, in the order in which one makes others idle."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from imagekeeper.chips import Chip
from imagekeeper.containers.model import Image
from imagekeeper.findings import Finding
from imagekeeper.inspection import (
    address_lines,
    answers,
    blocks,
    crossed_addresses,
    crossed_data,
    data_lines,
    extent,
    lanes,
    processors,
    texts,
)  # fmt: skip
from imagekeeper.inspection.content import Content, entropy
from imagekeeper.inspection.naming import PinNames
from imagekeeper.inspection.results import DataLine, Fill, Inspection, Text
from imagekeeper.units import plural

#: Larger images are not inspected: no chip of the period is so large. [byte]
SIZE_LIMIT = 64 << 20

#: So many runs of fill are listed, the longest.
FILLS = 100

_WORST_FIRST = {"fault": 0, "warning": 1, "note": 2}


def inspect_image(image: Image, chip: Chip | None = None) -> Inspection:
    """Tell what one image says of itself.

    Args:
        image: The image; with gaps, nothing is said of address lines.
        chip: The type of chip that it was read from, where it is known: its pins go into the hints.

    Returns:
        Findings, the worst first, and facts. Nothing is raised, whatever the bytes are.

    Example:
        >>> ramp = Image.from_bytes(bytes(range(256)) * 32)
        >>> [found.code for found in inspect_image(ramp).findings], inspect_image(ramp).exit_code
        (['floating-bus'], 1)
    """
    size = image.size_bytes
    if not 0 < size <= SIZE_LIMIT:
        return _unread(image, chip)
    content, bench = Content.of(image), PinNames(chip)
    strings, strings_total = texts.texts(content)
    findings = worst_first(_findings(content, strings, bench))
    longest = sorted(sorted(content.runs, key=lambda run: -run.length)[:FILLS], key=lambda run: run.at)
    constant = data_lines.constant_lines(content)
    one_copy = content.data[: address_lines.period(content)]
    answered = not any(f.code in ("blank", "not-selected", "floating-bus") for f in findings)
    start = content.start if image.addressed else None
    return Inspection(
        name="",
        container=image.container,
        wrapped_in=image.wrapped_in,
        size_bytes=size,
        start=content.start,
        chip=chip.id if chip else None,
        says=conclusion(findings),
        entropy=entropy(content.counts),
        distinct=int((content.counts > 0).sum()),
        data_lines=tuple(
            DataLine(f"D{line}", sum(int(content.counts[v]) for v in range(256) if v >> line & 1), constant.get(line))
            for line in range(8)
        ),
        block_bytes=blocks.block_bytes(size),
        blocks=blocks.blocks(content),
        fills=tuple(Fill(content.address_of(run.at), run.length, f"{run.value:02X}") for run in longest),
        fill_bytes=sum(run.length for run in content.runs),
        texts=strings,
        texts_total=strings_total,
        processors=processors.processors(processors.Program(one_copy, start)) if answered and content.gapless else (),
        findings=findings,
    )


def _findings(content: Content, strings: tuple[Text, ...], bench: PinNames) -> Iterator[Finding]:
    yield from bench.chip.own if bench.chip is not None else ()   # it was held against rows that a person wrote
    yield from extent.size_of_chip(content, bench)
    silent = tuple(answers.answered(content, bench))
    if silent:
        yield from silent
        return
    lines = (
        *data_lines.stuck(content, bench), *data_lines.shorted(content, bench),
        *address_lines.mirrored(content, bench), *address_lines.stuck(content, bench),
        *address_lines.shorted(content, bench),
    )  # fmt: skip
    yield from lines
    yield from extent.tail(content, bench)
    if all(found.severity == "note" for found in lines):   # texts with a bit missing have odd pairs of letters, too
        order = tuple(crossed_data.crossed(content, bench)) or tuple(crossed_addresses.crossed(content, bench))
        yield from order or lanes.lane(content, strings, bench)


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Put findings in order: the worst first, and of these the surest."""
    return tuple(sorted(findings, key=lambda f: (_WORST_FIRST[f.severity], -f.confidence)))


def conclusion(findings: Sequence[Finding]) -> str:
    """Say in a sentence what findings about one image come to."""
    count = {severity: sum(f.severity == severity for f in findings) for severity in _WORST_FIRST}
    if count["fault"]:
        them = "it" if count["fault"] == 1 else "them"
        return f"{plural(count['fault'], 'sign')} of a fault in this read: see to {them} before keeping it."
    if count["warning"]:
        return f"{plural(count['warning'], 'thing')} to look into before this read is believed."
    return (
        "Nothing in these bytes speaks against the read. That does not prove it: noise and faded cells leave no mark "
        "that one read could show."
    )


def _unread(image: Image, chip: Chip | None) -> Inspection:
    size = image.size_bytes
    if size:
        finding = PinNames(chip).finding("not-diagnosed/too-large", "note", 0.99, size=size, limit=SIZE_LIMIT)
    else:
        finding = PinNames(chip).finding("not-diagnosed/empty", "note", 0.99, size=size)
    return Inspection(
        name="", container=image.container, wrapped_in=image.wrapped_in, size_bytes=size, start=image.first_address,
        chip=chip.id if chip else None, says="The image was not inspected.", entropy=None, distinct=0, data_lines=(),
        block_bytes=0, blocks=(), fills=(), fill_bytes=0, texts=(), texts_total=0, processors=(), findings=(finding,),
    )  # fmt: skip
