"""What one image says of itself."""

from __future__ import annotations

from collections.abc import Iterator

from imagekeeper.inspection.results import Inspection
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page, painted
from imagekeeper.units import address_digits, plural, range_text, size_text

#: What the letters of the map in text mean, and the map in pictures as well.
KINDS = {
    "fill": (".", "fill"), "sparse": (":", "mostly one value"), "text": ("T", "text"), "table": ("/", "table"),
    "varied": ("c", "varied, as code is"), "dense": ("#", "as chance makes it"),
}  # fmt: skip


_ROW_BLOCKS = 64


def inspection_text(result: Inspection, picture: str | None = None) -> str:
    """Show an inspection: the conclusion and the findings first, then the facts."""
    faults = any(found.severity == "fault" for found in result.findings)
    says = painted(result.says, "bad") if faults else result.says
    lines = [result.name]
    if result.disk is not None:
        lines += [*parts.disk_contents(result.disk), ""]
    lines += [says] if faults else parts.wrapped("", says)
    for found in result.findings:
        lines += ["", *parts.finding(found)]
    if result.entropy is None:
        return page(lines)
    lines += ["", *_facts(result)]
    if result.processors:
        lines += ["", "  hints at the processor, no verdict:"]
        for hint in result.processors[:3]:
            lines += parts.wrapped(
                f"    {hint.processor}, weight {hint.weight:.2f}: ", "; ".join(e.says for e in hint.evidence)
            )
    if result.texts:
        lines += ["", *_strings(result)]
    lines += ["", *_map(result)]
    if picture is not None:
        lines += ["", f"picture: {picture}"]
    return page(lines)


def _facts(result: Inspection) -> list[str]:
    digits = address_digits(result.start + result.size_bytes)
    rows = [
        ["size", size_text(result.size_bytes) + f" from {result.start:0{digits}X}"],
        ["container", parts.container(result.container, result.wrapped_in)],
        ["bytes", f"{plural(result.distinct, 'different value')}, {result.entropy:.2f} bits each"],
        ["ones", ", ".join(f"{d.line} {d.ones / result.size_bytes:.0%}" for d in reversed(result.data_lines))],
    ]
    if result.fills:
        longest = max(result.fills, key=lambda fill: fill.length)
        rows.append(
            ["fill", f"{size_text(result.fill_bytes)} in runs, the longest of {longest.value} at "
             f"{range_text(longest.start, longest.length, digits)}"]
        )  # fmt: skip
    return parts.table(rows)


def _strings(result: Inspection) -> Iterator[str]:
    digits = address_digits(result.start + result.size_bytes)
    longest = sorted(sorted(result.texts, key=lambda t: -t.length)[: parts.SHOWN], key=lambda t: t.start)
    yield f"  {plural(result.texts_total, 'string')}" + (", the longest:" if result.texts_total > len(longest) else ":")
    for one in longest:
        form = {"ascii": "", "bit-7-last": "  (bit 7 marks the end)", "bit-7": "  (bit 7 set)"}[one.form]
        yield f"    {one.start:0{digits}X}  {one.text}{form}"


def _map(result: Inspection) -> Iterator[str]:
    digits = address_digits(result.start + result.size_bytes)
    yield f"  a block is {size_text(result.block_bytes)}:"
    for first in range(0, len(result.blocks), _ROW_BLOCKS):
        row = result.blocks[first : first + _ROW_BLOCKS]
        yield f"    {row[0].start:0{digits}X}  {''.join(KINDS[block.kind][0] for block in row)}"
    present = {block.kind for block in result.blocks}
    yield "    " + ", ".join(f"{letter} {words}" for kind, (letter, words) in KINDS.items() if kind in present)
