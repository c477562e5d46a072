"""A map of where reads differ: addresses from left to right, data lines from top to bottom, both directions."""

from __future__ import annotations

from imagekeeper.comparison.comparison import Comparison
from imagekeeper.present.svg import disk_map
from imagekeeper.present.svg.shapes import BLUE, GROUND, INK, ORANGE, QUIET, Drawing
from imagekeeper.units import address_digits, plural, size_text

_LEFT, _TOP, _CELL, _ROW, _BARS = 64, 92, 6, 26, 150


def draw(result: Comparison, *, follows: bool = False) -> str:
    """Draw the map of a comparison that was made with `map_columns`.

    Each cell is one data line over one stretch of addresses. Its upper half shows bits that go from 0 to 1, its lower
    half bits that go from 1 to 0, the stronger the more of that stretch's bits do; bars on the right give the
    totals of each line. Position and words carry the meaning, colour only repeats it.

    Reads of a disk are drawn by cylinder and side instead.

    Args:
        result: The comparison.
        follows: Whether the picture is a file of its own; one of a disk then follows the reader's screen.

    Raises:
        ValueError: When the comparison has no map.
    """
    if result.disk is not None:
        return disk_map.draw(result, result.disk, follows=follows)
    counts = result.map
    if counts is None:
        raise ValueError("the comparison was made without a map")
    columns = len(counts.zero_to_one[0])
    cell = max(_CELL, 768 // columns)
    wide = cell * columns
    width, height = _LEFT + wide + 24 + _BARS + 24, _TOP + 8 * _ROW + 96
    names = ", ".join(read.name for read in result.reads[:3]) + (", …" if len(result.reads) > 3 else "")
    verdict = _verdict(result)
    drawing = Drawing(width, height, f"Differences between {names}", verdict)
    drawing.text(24, 32, "Where the reads differ", size=18, bold=True)
    drawing.text(24, 52, names, size=12, colour=QUIET)
    drawing.text(24, 72, verdict, size=12)
    most_bits = max(1, *(line.zero_to_one + line.one_to_zero for line in result.differences.data_lines))
    digits = address_digits(counts.start + counts.column_bytes * columns)
    for row, bit in enumerate(range(7, -1, -1)):
        y = _TOP + row * _ROW
        drawing.text(_LEFT - 10, y + _ROW / 2 + 3, f"D{bit}", anchor="end")
        drawing.rectangle(_LEFT, y, wide, _ROW - 4, GROUND)
        halves = (
            (counts.zero_to_one[bit], 0.0, ORANGE, "from 0 to 1"),
            (counts.one_to_zero[bit], 0.5, BLUE, "from 1 to 0"),
        )
        for values, offset, colour, direction in halves:
            for column, count in enumerate(values):
                if count:
                    share = count / counts.column_bytes
                    start = counts.start + column * counts.column_bytes
                    drawing.rectangle(
                        _LEFT + column * cell, y + offset * (_ROW - 4), cell - 1, (_ROW - 4) / 2, colour,
                        opacity=0.35 + 0.65 * min(share * 4, 1.0),
                        note=f"D{bit} from {start:0{digits}X}: {plural(count, 'bit')} {direction}",
                    )  # fmt: skip
        line = result.differences.data_lines[bit]
        x = _LEFT + wide + 24.0
        for count, colour in ((line.zero_to_one, ORANGE), (line.one_to_zero, BLUE)):
            length = (_BARS - 50) * count / most_bits
            drawing.rectangle(x, y + 3, length, _ROW - 10, colour)
            x += length
        drawing.text(x + 6, y + _ROW / 2 + 3, str(line.zero_to_one + line.one_to_zero), size=11, colour=QUIET)
    _axis(drawing, counts.start, counts.column_bytes, columns, cell, digits)
    _legend(drawing, counts.column_bytes)
    return drawing.text_of()


def _verdict(result: Comparison) -> str:
    d = result.differences
    if result.agree:
        return f"The {len(result.reads)} reads agree over {size_text(result.size_bytes)}."
    return (
        f"{d.bytes} of {plural(d.compared_bytes, 'address', 'addresses')} differ: "
        f"{plural(d.zero_to_one, 'bit')} from 0 to 1, {d.one_to_zero} from 1 to 0."
    )


def _axis(drawing: Drawing, start: int, column_bytes: int, columns: int, cell: int, digits: int) -> None:
    y = _TOP + 8 * _ROW
    for quarter in range(5):
        column = columns * quarter // 4
        x = _LEFT + column * cell
        drawing.line(x, y - 2, x, y + 4)
        drawing.text(
            x, y + 18, f"{start + column * column_bytes:0{digits}X}", size=11, colour=QUIET,
            anchor="start" if quarter == 0 else "end" if quarter == 4 else "middle",
        )  # fmt: skip
    drawing.text(_LEFT + columns * cell + 24, y + 18, "bits in all", size=11, colour=QUIET)


def _legend(drawing: Drawing, column_bytes: int) -> None:
    y = _TOP + 8 * _ROW + 44
    drawing.rectangle(_LEFT, y - 9, 12, 6, ORANGE)
    drawing.text(_LEFT + 20, y, "upper half: 0 in the first read, 1 in another", size=11, colour=INK)
    drawing.rectangle(_LEFT, y + 15, 12, 6, BLUE)
    drawing.text(_LEFT + 20, y + 22, "lower half: 1 in the first read, 0 in another", size=11, colour=INK)
    drawing.text(
        _LEFT + 330, y, f"one column is {size_text(column_bytes)}; full strength from a quarter of them on",
        size=11, colour=QUIET,
    )  # fmt: skip
