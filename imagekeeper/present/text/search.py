"""What a search found."""

from __future__ import annotations

from collections.abc import Iterator

from imagekeeper.archive.index.hits import Hit
from imagekeeper.jobs.archive.searching import KnownImage, Search
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page, painted
from imagekeeper.units import size_text

_HOW = {"exact": "", "start": "", "mistyped": " (perhaps meant)", "digest": ""}


def search_text(result: Search) -> str:
    """Show what was found, best first."""
    lines: list[str] = []
    for hit in result.hits:
        lines += [*_hit(hit)]
    for image in result.images:
        lines += [*([""] if lines else []), *_image(image)]
    if not lines:
        lines = parts.wrapped("", f"Nothing found: {result.hint}.")
    if result.more:
        lines += ["", "There is more: --limit shows it, a further word narrows it down."]
    if result.unread:
        lines += ["", f"{result.unread} images could not be looked at: imagekeeper archive audit names the damage."]
    if result.set_aside:
        lines += ["", *parts.set_aside(result.set_aside)]
    return page(lines)


def _hit(hit: Hit) -> Iterator[str]:
    what = " ".join(part for part in (hit.kind or hit.what, hit.part) if part)
    where = ", ".join(part for part in (hit.machine, hit.board, hit.position) if part)
    grade = "" if hit.what == "machine" else f"  {hit.grade or ('not settled' if hit.reads else 'no read')}"
    if hit.open:
        grade += f"; open: {', '.join(hit.open.split())}"
    if hit.taken_out is not None:
        grade += "; taken out of the collection"
    about = f"{what}{' in' if hit.what == 'carrier' else ''} {where}" if where else what
    yield painted(hit.id, "strong") + f"  {about}{grade}"
    told = set()
    for match in hit.matches:
        line = f"{match.field}: {match.text}{_HOW[match.how]}"
        if line not in told:
            told.add(line)
            yield from parts.wrapped("  ", line)


def _image(image: KnownImage) -> Iterator[str]:
    place = ", ".join(part for part in (image.part, image.machine, image.board, image.position) if part)
    held = ", ".join(image.held_as)
    yield painted(f"{image.carrier} {held}", "strong") + (f"  {place}" if place else "")
    yield from parts.wrapped("  ", image.says)
    if image.taken_out is not None:
        yield from parts.wrapped("  ", f"taken out of the collection: {image.taken_out}")
    size = "" if image.size_bytes is None else size_text(image.size_bytes) + ", "
    yield f"  {size}SHA-256 {image.sha256[:16]}…"
    for one in image.texts:
        here, there = (repr(text) if text is not None else "nothing" for text in (one.here, one.there))
        yield from parts.wrapped(f"    {one.address:04X}  ", f"{here} here, {there} there")
