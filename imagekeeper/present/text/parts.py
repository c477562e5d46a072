"""What texts for people have in common."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import TYPE_CHECKING

from imagekeeper.addresses import Doubt
from imagekeeper.findings import Finding
from imagekeeper.jsonable import one_line
from imagekeeper.legible import shortened
from imagekeeper.present.text.paper import width
from imagekeeper.provenance.contents import DiskContents
from imagekeeper.provenance.reads import Read
from imagekeeper.provenance.replacements import ReadBack
from imagekeeper.units import address_digits, plural, range_text, size_text

if TYPE_CHECKING:   # a list of carriers loads little
    from imagekeeper.archive.ocfl.troubles import Unfit

#: The longest lists are cut here; the JSON document has all.
SHOWN = 8

#: No cell of a table becomes much wider: it loses its middle, which the JSON document has. [column]
WIDEST_CELL = 400


def table(rows: Sequence[Sequence[str]], *, right: Iterable[int] = (), indent: str = "  ") -> list[str]:
    """Lay out rows in columns; the columns numbered in `right` are set to the right.

    Example:
        >>> table([["line", "count"], ["D0", "7"]], right=[1])
        ['  line  count', '  D0        7']
    """
    # what people typed cannot drive the terminal, nor make every row as wide as a name of thousands of characters
    rows = [[shortened(one_line(cell), WIDEST_CELL) for cell in row] for row in rows]
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    flush = set(right)

    def cell(column: int, text: str) -> str:
        return text.rjust(widths[column]) if column in flush else text.ljust(widths[column])

    return [(indent + "  ".join(cell(i, text) for i, text in enumerate(row))).rstrip() for row in rows]


def container(container: str, wrapped_in: str | None) -> str:
    """Name a container with what lies around it."""
    return f"{container} in {wrapped_in}" if wrapped_in else container


def doubt(doubt: Doubt) -> str:
    """Say one doubt on one line."""
    place = "the file"
    if doubt.length:
        place = range_text(doubt.start, doubt.length, address_digits(doubt.start + doubt.length))
    return f"{place}: {doubt.why} ({doubt.code})"


def disk_contents(disk: DiskContents, indent: str = "") -> list[str]:
    """Show in short what disk an image is of and what is on it."""
    lines = wrapped(indent, disk.says)
    if disk.partitions:
        lines.append(f"{indent}  {plural(disk.partitions, 'partition')}")
    for volume in disk.volumes:
        label = f", label {volume.label}" if volume.label else ""
        held = f"{plural(volume.files, 'file')}, {plural(volume.directories, 'directory', 'directories')}"
        lines += wrapped(f"{indent}  ", f"{volume.title}{label}: {held}, {size_text(volume.free_bytes)} free")
        if volume.names:
            more = f", and {volume.files - len(volume.names)} more" if volume.files > len(volume.names) else ""
            lines += wrapped(f"{indent}    ", ", ".join(volume.names) + more)
        if volume.starts:
            lines += wrapped(f"{indent}    start: ", volume.starts)
    if disk.problems:
        lines.append(f"{indent}  {plural(disk.problems, 'problem')} noticed")
    return [*lines, f"{indent}  more: {disk.next}"]


def wrapped(label: str, words: str) -> list[str]:
    """Break a sentence into lines that hang below its label.

    Example:
        >>> wrapped("  next: ", "read it again")
        ['  next: read it again']
    """
    import textwrap  # most texts have no long sentence

    return textwrap.wrap(
        one_line(words), width(), initial_indent=label, subsequent_indent=" " * len(label), break_long_words=False,
        break_on_hyphens=False,
    ) or [label]  # fmt: skip


#: More that is set aside is only counted; the JSON document names all.
_ASIDE = 40


def set_aside(unfit: Sequence[Unfit], told: Collection[str] = ()) -> list[str]:
    """Name what was set aside, and why.

    Args:
        unfit: The carriers and machines.
        told: Ids of which this was told already.
    """
    lines: list[str] = []
    new = [one for one in unfit if one.id not in told]
    for one in new[:_ASIDE]:
        lines += wrapped("", f"{one.id} is set aside: {one.why}")
    if len(new) > _ASIDE:
        lines.append(f"and {len(new) - _ASIDE} more are set aside; --json names them all")
    if unfit:
        lines.append("  next: imagekeeper archive audit, which names all damage")
    return lines


def finding(found: Finding) -> list[str]:
    """Show one finding."""
    sure = "" if found.confidence == 1 else f", confidence {found.confidence:.2f}"
    lines = [f"  {found.severity}: {found.code}{sure}"]
    lines += wrapped("    why:  ", found.why) + wrapped("    next: ", found.hint)
    lines += [f"    wire: {row['line']} carries {row['carries']}" for row in found.detail.get("wiring", ())]
    return lines


def own(found: Iterable[Finding]) -> list[str]:
    """Say which rows that a person wrote an answer rests on."""
    return [line for one in found for line in wrapped("  own row: ", one.why)]


def own_star(stars: Iterable[bool]) -> list[str]:
    """Explain the star of a list, where one of its lines has it."""
    return ["", "* rests on a row of your own: imagekeeper table list"] if any(stars) else []


def between(read: Read | ReadBack) -> str:
    """Say what lay between a reader and what it read, as far as it is known."""
    names = ("adapter", "cable", "drive", "controller")
    told = [f"{name} {getattr(read, name)}" for name in names if getattr(read, name)]
    tries = getattr(read, "retries", None)   # a read-back has none
    return ", ".join([*told, *([f"{tries} retries at most"] if tries is not None else [])])


def not_read(read: Read) -> str:
    """Say what the reader's list calls not read well, nothing where there is no list.

    Example:
        >>> from types import SimpleNamespace as Some
        >>> not_read(Some(listed=True, not_read=())), not_read(Some(listed=False, not_read=()))
        ('all of it was read well, as the list of its reader says', '')
    """
    if not read.listed:
        return ""
    if not read.not_read:
        return "all of it was read well, as the list of its reader says"
    size, first = sum(one.length for one in read.not_read), read.not_read[0]
    where = first.place or f"byte {first.start}"
    return f"not read well, as the list of its reader says: {size_text(size)}, first {where} ({first.state})"


def insisted(label: str, members: Sequence[str]) -> list[str]:
    """Say which facts look impossible, or like a slip, and were insisted upon; nothing where none was."""
    if not members:
        return []
    named = ", ".join("file's time of change" if one == "modified" else one.replace("_", " ") for one in members)
    return wrapped(label, f"insisted upon: {named}")


def left_out(count: int, how: str = "--all") -> list[str]:
    """Say how many a list leaves out, for they were taken out of the collection; nothing where there is none."""
    return [f"{count} taken out of the collection; {how} shows {'it' if count == 1 else 'them'}"] if count else []
