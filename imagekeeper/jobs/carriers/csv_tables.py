r"""Tables as CSV files, which any spreadsheet opens.

Written as RFC 4180 says: commas, CR LF, quotes where needed; in UTF-8. Two things are written otherwise than they are,
and both can be taken back, whatever the text holds:

- A spreadsheet takes a cell that begins with one of = + - @, in any width and behind any blanks, or with a tab or a
  carriage return, for a formula and would run it. Such a cell gets an apostrophe in front, and one that begins with
  apostrophes before that gets one more: taking one away gives the text back.
- A character that is not seen, or changes how others are seen, is written as `\uXXXX` or `\UXXXXXXXX`. Backslashes
  before it are doubled, and so are those before what only looks like such an escape.

Source:
    RFC 4180; for = + - @, tab and carriage return: OWASP, "CSV Injection" (from memory); for blanks and the wide and
    small forms (Unicode, Halfwidth and Fullwidth Forms, Small Form Variants): common practice, no source.
"""

from __future__ import annotations

import csv
import io
import re
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from imagekeeper import files
from imagekeeper.errors import InputError, Where
from imagekeeper.jsonable import one_line, printable
from imagekeeper.legible import UNSEEN
from imagekeeper.sentences.say import Phrase

#: A larger table is none of carriers. [byte]
SIZE_LIMIT = 256 << 20

#: No text of a carrier is longer. [characters]
CELL_LIMIT = 100_000

_RISKY = re.compile(r"'*(?:[\t\r]|\s*[=+\-@\uff1d\uff0b\uff0d\uff20\ufe66\ufe62\ufe63\ufe6b])")
_ESCAPE = r"u[0-9a-f]{4}|U[0-9a-f]{8}"
_TO_ESCAPE = re.compile(rf"(?<!\\)(\\*+)(?:({UNSEEN.pattern})|(?<=\\)({_ESCAPE}))")
_ESCAPED = re.compile(rf"(?<!\\)(\\++)({_ESCAPE})")
_BOM = b"\xef\xbb\xbf"


@dataclass(frozen=True)
class TableLine:
    """One row of a table.

    Attributes:
        number: The line where it begins, counted from 1.
        cells: Its cells by column; those of columns that are not known are left out.
    """

    number: int
    cells: dict[str, str]


@dataclass(frozen=True)
class CsvTable:
    """A table that was read.

    Attributes:
        name: The file's name, made printable.
        columns: The columns that are known, in their order.
        unknown: The other columns, as they are written.
        lines: The rows.
    """

    name: str
    columns: tuple[str, ...]
    unknown: tuple[str, ...]
    lines: tuple[TableLine, ...]


def guarded(cell: str) -> str:
    """Keep a spreadsheet from taking a text for a formula.

    Example:
        >>> guarded("=1+1"), guarded("'=1"), guarded("TG85 2.1"), guarded("'85")
        ("'=1+1", "''=1", 'TG85 2.1', "'85")
    """
    return f"'{cell}" if _RISKY.match(cell) else cell


def without_unseen(cell: str) -> str:
    r"""Write what would be unseen in a cell, or would change how it is seen, as escapes.

    Example:
        >>> print(without_unseen("U4\u202egnp"), without_unseen(r"C:\u4000"), without_unseen(r"C:\u202e"))
        U4\u202egnp C:\u4000 C:\\u202e
    """

    def written(found: re.Match[str]) -> str:
        slashes, unseen, like_an_escape = found.groups()
        if unseen is None:
            return found[0] if _unseen(like_an_escape) is None else slashes * 2 + like_an_escape
        code = ord(unseen)
        return slashes * 2 + (f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}")

    return _TO_ESCAPE.sub(written, cell)


def with_unseen(cell: str) -> str:
    r"""Give the text back that `without_unseen` wrote.

    Example:
        >>> with_unseen(r"U4\u202egnp") == "U4\u202egnp", with_unseen(r"C:\\u202e") == r"C:\u202e"
        (True, True)
    """

    def meant(found: re.Match[str]) -> str:
        slashes, written = found.groups()
        unseen = _unseen(written)
        if unseen is None:
            return found[0]
        half = "\\" * (len(slashes) // 2)
        return half + (unseen if len(slashes) % 2 else written)

    return _ESCAPED.sub(meant, cell)


def _unseen(written: str) -> str | None:
    """Give the character that an escape stands for; None where no cell would hold that one as an escape."""
    code = int(written[1:], 16)
    if code > sys.maxunicode or 0xD800 <= code <= 0xDFFF:
        return None
    return chr(code) if UNSEEN.match(chr(code)) else None


def unguarded(cell: str) -> str:
    """Give the text back.

    Example:
        >>> unguarded("'=1+1"), unguarded("''=1"), unguarded("'85"), unguarded("-5")
        ('=1+1', "'=1", "'85", '-5')
    """
    return cell[1:] if cell.startswith("'") and _RISKY.match(cell) else cell


def write_sheet(columns: Sequence[str], rows: Iterable[Sequence[str | None]], *, bom: bool = False) -> bytes:
    r"""Write a table; what is unknown is an empty cell.

    Args:
        columns: The names in the first row.
        rows: The cells.
        bom: Begin with the mark by which some spreadsheets recognise UTF-8.

    Example:
        >>> write_sheet(["id", "label"], [["u4", "-5 V"], ["u5", None]])
        b"id,label\r\nu4,'-5 V\r\nu5,\r\n"
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows([_written(cell or "") for cell in row] for row in rows)
    return (_BOM if bom else b"") + text.getvalue().encode()


def _written(cell: str) -> str:
    return guarded(without_unseen(printable(cell).replace("\r\n", "\n")))


def _meant(cell: str) -> str:
    return with_unseen(unguarded(cell).replace("\r\n", "\n"))


def read_sheet(path: str, known: Sequence[str], *, need: Sequence[str]) -> CsvTable:
    """Read a table with the columns in any order.

    Capitals, blanks, hyphens and underscores in their names make no difference. Where the first row holds no comma, a
    semicolon or tab may part the cells, as some spreadsheets write them.

    Args:
        path: The file.
        known: The columns that have a meaning.
        need: Those of which one must be there.

    Raises:
        NotFoundError: `not-found`.
        InputError: `table-form` with line and column; `too-large`; the file cannot be read.
    """
    name = files.display_name(path)
    with files.opened(path) as (file, _):
        data = files.read_limited(file, SIZE_LIMIT, name)
    try:
        text = data.removeprefix(_BOM).decode()
    except UnicodeDecodeError as problem:
        line = data[: problem.start].count(b"\n") + 1
        raise wrong(name, line, Phrase("table-form/not-utf8")) from problem
    if not text.strip():
        raise wrong(name, 1, Phrase("table-form/no-header"))
    head = text.partition("\n")[0]
    parting = next((one for one in (",", ";", "\t") if one in head), ",")
    csv.field_size_limit(CELL_LIMIT * len("\\U000e0041") + 1)   # each character may be an escape
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=parting, strict=True)
    lines: list[TableLine] = []
    names: list[str | None] = []
    given: list[str] = []
    begin = 1
    try:
        for row in reader:
            number, begin = begin, reader.line_num + 1
            if not names:
                given = [_meant(cell) for cell in row]
                names = _columns(name, given, known, need)
            elif any(cell.strip() for cell in row):
                lines.append(TableLine(number, _cells(name, number, names, row)))
    except csv.Error as problem:
        raise wrong(name, begin, str(problem)) from problem
    unknown = tuple(one_line(cell) for cell, column in zip(given, names, strict=True) if column is None and cell)
    return CsvTable(name, tuple(one for one in names if one is not None), unknown, tuple(lines))


def wrong(name: str, line: int, why: Phrase | str, column: str | None = None) -> InputError:
    """Say what is wrong with a table, and where."""
    place = Where(file=name, line=line)
    if column is None:
        return InputError("table-form", line=line, trouble=why, where=place)
    return InputError("table-form/in-column", line=line, column=column, trouble=why, where=place)


def _columns(name: str, given: Sequence[str], known: Sequence[str], need: Sequence[str]) -> list[str | None]:
    plain = {_plain(one): one for one in known}
    names = [plain.get(_plain(cell)) for cell in given]
    found = [one for one in names if one is not None]
    for one in found:
        if found.count(one) > 1:
            raise wrong(name, 1, Phrase("table-form/column-twice"), one)
    if not set(need) & set(found):
        raise wrong(name, 1, Phrase("table-form/no-column", columns=need))
    return names


def _plain(column: str) -> str:
    return re.sub(r"[\s_-]+", "", column).casefold()


def _cells(name: str, number: int, names: Sequence[str | None], row: Sequence[str]) -> dict[str, str]:
    if len(row) > len(names) and any(cell.strip() for cell in row[len(names) :]):
        raise wrong(name, number, Phrase("table-form/cells", cells=len(row), columns=len(names)))
    cells = {}
    for column, cell in zip(names, row, strict=False):
        if column is None:
            continue
        text = _meant(cell)
        if "\0" in text:
            raise wrong(name, number, Phrase("table-form/no-text"), column)
        if len(text) > CELL_LIMIT:
            raise wrong(name, number, Phrase("table-form/long-text", characters=len(text), limit=CELL_LIMIT), column)
        cells[column] = text
    return cells
