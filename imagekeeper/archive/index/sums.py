"""The sum that every row of a table carries over all its columns, so that no row is shown that was not written so.

The column `row_sum` is a table's last. It says nothing of what the columns are: a table may get more of them.
"""

from __future__ import annotations

import marshal
import sqlite3
import zlib
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

#: The column with the sum.
SUM = "row_sum"

_WHOLE = "whole_rows"

#: The column of a query behind which whole rows stand, to be held against their sums.
WHOLE = f"NULL AS {_WHOLE}"

_TYPES: dict[str, type] = {"INTEGER": int, "TEXT": str, "BLOB": bytes}


#: What SQLite raises for a damaged file, and for text in it that is none.
DAMAGE = (sqlite3.Error, UnicodeDecodeError)


class RowDamagedError(sqlite3.DatabaseError):
    """A row is not as it was written."""


def row_sum(values: Sequence[Any]) -> int:
    """Give the sum of a row's other columns, in their order, as 63 bits.

    Two sums of different kinds, CRC-32 and Adler-32 (RFC 1950, section 8), are put together. The form that they are
    taken of is the one of Python that is fastest to make; if it were ever another, the index would be made anew.

    Example:
        >>> row_sum(("tg85-u4", 2, None)) != row_sum(("tg85-u4", 3, None))
        True
    """
    data = marshal.dumps(tuple(values), 2)   # of this version on, equal values may be written in different ways
    return zlib.adler32(data) << 31 ^ zlib.crc32(data)


class Tables:
    """Writes rows with their sums.

    Args:
        base: The database; the caller has begun the transaction.
    """

    def __init__(self, base: sqlite3.Connection) -> None:
        self._base = base
        self._columns: dict[str, dict[str, type]] = {}
        self._numbers: dict[str, int] = {}

    def columns(self, table: str) -> dict[str, type]:
        """Give a table's columns with the types of their values; the sum is left out."""
        known = self._columns.get(table)
        if known is None:
            rows = self._base.execute("SELECT name, type FROM pragma_table_info(?)", (table,))
            known = self._columns[table] = {name: _TYPES[kind] for name, kind in rows if name != SUM}
        return known

    def put(self, table: str, rows: Iterable[Mapping[str, Any]]) -> None:
        """Put rows in, given by the columns that are not null.

        Raises:
            TypeError: A value is of another type than its column.
            sqlite3.Error: They cannot be put in.
        """
        columns = self.columns(table)
        filled = [[_fitting(kind, row.get(name)) for name, kind in columns.items()] for row in rows]
        marks = ", ".join("?" * (len(columns) + 1))
        self._base.executemany(
            f"INSERT INTO {table} VALUES ({marks})",   # noqa: S608  one of our tables
            [[*values, row_sum(values)] for values in filled],
        )

    def next_number(self, table: str) -> int:
        """Give a number for a new row, which its sum covers too."""
        if table not in self._numbers:
            query = f"SELECT coalesce(max(number), 0) FROM {table}"   # noqa: S608  one of our tables
            self._numbers[table] = self._base.execute(query).fetchone()[0]
        self._numbers[table] += 1
        return self._numbers[table]

    def change(self, table: str, number: int, values: Mapping[str, Any]) -> None:
        """Change columns of a row, whose other columns must be as they were written.

        Raises:
            RowDamagedError: They are not.
        """
        columns = self.columns(table)
        query = f"SELECT * FROM {table} WHERE number = ?"   # noqa: S608  one of our tables
        *old, known = self._base.execute(query, (number,)).fetchone()
        if known != row_sum(old):
            raise RowDamagedError(f"row {number} of the table {table}")
        new = {**dict(zip(columns, old, strict=True)), **values}
        sets = ", ".join(f"{name} = ?" for name in values)
        self._base.execute(
            f"UPDATE {table} SET {sets}, {SUM} = ? WHERE number = ?",   # noqa: S608  one of our tables
            (*values.values(), row_sum([_fitting(columns[name], value) for name, value in new.items()]), number),
        )


def checked(cursor: sqlite3.Cursor, absent: int = 0) -> list[Any]:
    """Fetch rows whose last columns are all those of one table or several, and hold these against their sums.

    Args:
        cursor: What was asked for: some columns, then `WHOLE`, then all columns of each table they are taken from, as
            in `SELECT o.id, c.part, NULL AS whole_rows, o.*, c.* FROM ...`; or only these tables.
        absent: In how many of the tables each row has nothing, as a left join finds it.

    Returns:
        The rows, with the columns before `WHOLE` only; or, where it is not there, with all.

    Raises:
        RowDamagedError: A row is not as it was written.
    """
    names = [about[0] for about in cursor.description]
    ends = [place for place, name in enumerate(names) if name == SUM]
    keep = names.index(_WHOLE) if _WHOLE in names else None
    first = 0 if keep is None else keep + 1
    spans = list(zip([first, *(end + 1 for end in ends)], ends, strict=False))
    rows = cursor.fetchall()
    for row in rows:
        nothing = 0
        for start, end in spans:
            if row[end] == row_sum(row[start:end]):
                continue
            if row[start : end + 1].count(None) <= end - start:
                raise RowDamagedError("a row has another sum")
            nothing += 1
        if nothing != absent:
            raise RowDamagedError("a row of another table is missing")
    return rows if keep is None else [row[:keep] for row in rows]


def _fitting(kind: type, value: Any) -> Any:
    """Refuse what the database would store as something else, of which the sum would be another."""
    if value is not None and type(value) is not kind:
        raise TypeError(f"{type(value).__name__} instead of {kind.__name__}")
    return value
