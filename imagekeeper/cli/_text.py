"""Results as plain text for people."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from imagekeeper.cli._shell import paint
from imagekeeper.compare.comparison import Comparison
from imagekeeper.containers.model import Doubt
from imagekeeper.findings import Finding
from imagekeeper.fingerprint import Fingerprint
from imagekeeper.hexdump import Row, text_of
from imagekeeper.units import address_digits, plural, range_text, size_text
from imagekeeper.workflows.converting import Conversion

#: The longest lists are cut here; the JSON document has all.
SHOWN = 8


def table(rows: Sequence[Sequence[str]], *, right: Iterable[int] = (), indent: str = "  ") -> list[str]:
    """Lay out rows in columns; the columns numbered in `right` are set to the right.

    Example:
        >>> table([["line", "count"], ["D0", "7"]], right=[1])
        ['  line  count', '  D0        7']
    """
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    flush = set(right)

    def cell(column: int, text: str) -> str:
        return text.rjust(widths[column]) if column in flush else text.ljust(widths[column])

    return [(indent + "  ".join(cell(i, text) for i, text in enumerate(row))).rstrip() for row in rows]


def container_text(container: str, wrapped_in: str | None) -> str:
    """Name a container with what lies around it."""
    return f"{container} in {wrapped_in}" if wrapped_in else container


def doubt(doubt: Doubt) -> str:
    """Say one doubt on one line."""
    place = "the file"
    if doubt.length:
        place = range_text(doubt.start, doubt.length, address_digits(doubt.start + doubt.length))
    return f"{place}: {doubt.why} ({doubt.code})"


def fingerprint(figures: Fingerprint) -> str:
    """Show one file's fingerprint."""
    digits = address_digits(figures.first_address + figures.span_bytes)
    rows = [
        ["size", f"{size_text(figures.size_bytes)}, {container_text(figures.container, figures.wrapped_in)}"],
        ["addresses", range_text(figures.first_address, figures.span_bytes, digits)],
    ]
    if figures.gaps:
        listed = ", ".join(range_text(gap.start, gap.length, digits) for gap in figures.gaps[:SHOWN])
        more = f" and {len(figures.gaps) - SHOWN} more" if len(figures.gaps) > SHOWN else ""
        rows.append(["gaps", f"{listed}{more}: nothing is known of these, and the figures leave them out"])
    rows += [
        ["sums", f"{figures.sum16} (16 bits), {figures.sum8} (8), {figures.sum32} (32), {figures.xor8} (exclusive or)"],
        ["CRC-32", figures.crc32],
        ["SHA-1", figures.sha1],
        ["SHA-256", figures.sha256],
    ]
    rows += [[name, value or "none: an odd number of bytes"] for name, value in figures.more.items()]
    if figures.blank is not None:
        rows.append(["blank", f"every byte is {figures.blank}: an erased chip, or one that was not selected"])
    lines = [figures.name, *table(rows)]
    for one in figures.doubts[:SHOWN]:
        lines.append(f"  doubtful   {doubt(one)}")
    if len(figures.doubts) > SHOWN:
        lines.append(f"  doubtful   and {len(figures.doubts) - SHOWN} more; --json lists all")
    return "\n".join(lines)


def finding(found: Finding) -> list[str]:
    """Show one finding."""
    return [f"  {found.severity} ({found.code}): {found.why}", f"    next: {found.hint}"]


def comparison(result: Comparison, ranges: int, picture: str | None) -> str:
    """Show a comparison: the verdict first, then the evidence."""
    count = len(result.reads)
    differences = result.differences
    digits = address_digits(max(read.first_address + read.size_bytes for read in result.reads))
    if result.agree:
        lines = [
            paint(f"The {count} reads agree", fg="green", bold=True)
            + f": the same {size_text(result.size_bytes)} at the same addresses."
        ]
    elif differences.bytes == 0:
        lines = [
            paint(f"The {count} reads differ in what they cover", fg="red", bold=True)
            + f", not in the {size_text(differences.compared_bytes)} they have in common."
        ]
    else:
        lines = [
            paint(f"The {count} reads differ", fg="red", bold=True)
            + f" at {differences.bytes} of {plural(differences.compared_bytes, 'address', 'addresses')}, "
            f"in {plural(differences.bits, 'bit')}: {differences.zero_to_one} go from 0 to 1, "
            f"{differences.one_to_zero} from 1 to 0 "
            f"(from the first read to {'the second' if count == 2 else 'any other'})."
        ]
    lines += ["", *_reads(result)]
    if differences.bytes:
        lines += ["", *_ranges(result, ranges, digits), "", *_lines(result)]
    if result.findings:
        lines += ["", *(line for found in result.findings for line in finding(found))]
    if picture is not None:
        lines += ["", f"picture: {picture}"]
    return "\n".join(lines)


def _reads(result: Comparison) -> list[str]:
    group_of = {number: i for i, group in enumerate(result.groups) for number in group}
    rows = [["", "read", "bytes", "container", "SHA-256", "equal to"]]
    for number, read in enumerate(result.reads, 1):
        others = [str(n) for n in result.groups[group_of[number]] if n != number]
        rows.append(
            [
                str(number), read.name, str(read.size_bytes), container_text(read.container, read.wrapped_in),
                read.sha256[:16] + "…", ", ".join(others) or "none",
            ]
        )  # fmt: skip
    return table(rows, right=[0, 2])


def _ranges(result: Comparison, count: int, digits: int) -> list[str]:
    differences = result.differences
    shown = differences.ranges[:count]
    rows = [["differing addresses", "bytes", "0 to 1", "1 to 0"]]
    rows += [
        [range_text(r.start, r.length, digits), str(r.length), str(r.zero_to_one), str(r.one_to_zero)] for r in shown
    ]
    lines = table(rows, right=[1, 2, 3]) if shown else []
    if differences.ranges_total > len(shown):
        rest = differences.ranges_total - len(shown)
        lines.append(f"  and {plural(rest, 'more range')}" if shown else f"  {plural(rest, 'differing range')}")
    return lines


def _lines(result: Comparison) -> list[str]:
    """Counts by data line on the left, by address line on the right."""
    left = [["data line", "0 to 1", "1 to 0"]]
    left += [[d.line, str(d.zero_to_one), str(d.one_to_zero)] for d in result.differences.data_lines]
    right = [["address line", "where 0", "where 1"]]
    right += [[a.line, str(a.low), str(a.high)] for a in result.differences.address_lines]
    height = max(len(left), len(right))
    left += [["", "", ""]] * (height - len(left))
    right += [["", "", ""]] * (height - len(right))
    return table([[*a, "  ", *b] for a, b in zip(left, right, strict=True)], right=[1, 2, 5, 6])


class HexdumpText:
    """Rows of a hexdump as lines; it notices whether any row differed.

    Args:
        end: The first address after all rows, for the width of addresses.
        everything: Show rows that repeat the one before.
        only_differences: Leave out the rows that agree.
    """

    def __init__(self, end: int, *, everything: bool, only_differences: bool) -> None:
        self._digits = address_digits(end)
        self._everything = everything
        self._only_differences = only_differences
        self.differed = False

    def lines(self, rows: Iterable[Row]) -> Iterator[str]:
        """Turn rows into lines as they come."""
        before: Row | None = None
        repeated = 0
        for row in rows:
            self.differed = self.differed or row.other is not None
            if self._only_differences and row.other is None:
                continue
            if self._repeats(row, before):
                assert before is not None
                repeated += 1
                before = row
                continue
            if repeated:
                yield self._repeat_line(repeated)
                repeated = 0
            yield self._row(row.address, row.cells, row.doubtful, row.differs)
            if row.other is not None:
                yield self._other(row)
            before = row
        if repeated:
            yield self._repeat_line(repeated)

    def _repeats(self, row: Row, before: Row | None) -> bool:
        return (
            not self._everything
            and before is not None
            and row.cells == before.cells
            and row.address == before.address + len(row.cells)
            and not any(row.doubtful)
            and not any(before.doubtful)
        )

    def _repeat_line(self, count: int) -> str:
        return " " * self._digits + f"  ... {plural(count, 'more row')} like this"

    def _row(
        self, address: int, cells: tuple[int | None, ...], doubtful: tuple[bool, ...], differs: tuple[bool, ...]
    ) -> str:
        parts = []
        for i, (cell, doubt_, differ) in enumerate(zip(cells, doubtful, differs, strict=True)):
            text = "  " if cell is None else f"{cell:02X}"
            mark = "?" if doubt_ else "*" if differ else " "
            parts.append((paint(text, fg="red", bold=True) if differ else text) + mark + (" " if i % 4 == 3 else ""))
        return f"{address:0{self._digits}X}  {''.join(parts)} {text_of(cells)}".rstrip()

    def _other(self, row: Row) -> str:
        assert row.other is not None
        cells = "".join(
            (("  " if other is None else f"{other:02X}") if differ else "··") + " " + (" " if i % 4 == 3 else "")
            for i, (other, differ) in enumerate(zip(row.other, row.differs, strict=True))
        )
        return f"{'other':>{self._digits}}  {cells} {text_of(row.other)}".rstrip()


def conversion(result: Conversion) -> str:
    """Show what was written."""
    chosen = {"option": "as asked", "ending": "by its ending", "default": "no ending says otherwise"}[result.chosen_by]
    source = result.source
    base = "" if result.base is None else f", first byte at {result.base:04X}"
    container = container_text(source.container, source.wrapped_in)
    rows = [
        ["from", f"{source.name}: {size_text(source.size_bytes)}, {container}"],
        ["to", f"{result.output}: {result.container} ({chosen}), {size_text(result.file_bytes)} on disk{base}"],
        ["SHA-256", f"{source.sha256} (of the image)"],
    ]
    if source.gaps:
        rows.append(["gaps", f"{plural(len(source.gaps), 'gap')} kept"])
    return "\n".join(["Converted, and read back equal.", *table(rows)])
