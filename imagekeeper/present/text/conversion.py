"""Images written in other containers."""

from __future__ import annotations

from imagekeeper.jobs.reads.converting import Conversion
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page
from imagekeeper.present.text.steps import describe
from imagekeeper.units import plural, size_text


def conversion_text(result: Conversion) -> str:
    """Show what was written."""
    chosen = {"option": "as asked", "ending": "by its ending", "default": "no ending says otherwise"}[result.chosen_by]
    base = "" if result.base is None else f", first byte at {result.base:04X}"
    rows = []
    for label, read in zip(("from", *("with" for _ in result.joined)), (result.source, *result.joined), strict=True):
        container = parts.container(read.container, read.wrapped_in)
        rows.append([label, f"{read.name}: {size_text(read.size_bytes)}, {container}"])
    rows += [
        ["to", f"{result.output}: {result.container} ({chosen}), {size_text(result.file_bytes)} on disk{base}"],
        ["SHA-256", f"{result.sha256} (of the image{' written' if result.steps else ''})"],
    ]
    if result.steps:
        rows.append(["before", f"{result.source.sha256} (of the image read)"])
    if result.source.gaps and not result.steps:
        rows.append(["gaps", f"{plural(len(result.source.gaps), 'gap')} kept"])
    if result.doubts and result.steps:
        rows.append(["doubts", f"{plural(len(result.doubts), 'place')} in the image written, {_doubtful(result)}"])
    return page(["Converted, and read back equal.", *parts.table(rows), *_steps(result), *_found(result)])


def _found(result: Conversion) -> list[str]:
    return ["", *(line for found in result.findings for line in parts.finding(found))] if result.findings else []


def _doubtful(result: Conversion) -> str:
    return f"first {parts.doubt(result.doubts[0])}"


def _steps(result: Conversion) -> list[str]:
    if not result.steps:
        return []
    rows = [
        [f"{number}", describe(done.record), size_text(done.after_bytes), "" if done.undo else "no way back from OUT"]
        for number, done in enumerate(result.steps, 1)
    ]
    return ["", "Done to the image, in this order:", *parts.table(rows)]
