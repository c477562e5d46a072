r"""Whether the index can hold a record, tried before the record is taken in.

A record that comes from outside may be sound JSON of the right types and still hold what no index can: whole numbers
beyond 64 bits, halves of characters, digests that are none. It is put into an empty index in memory, by the code that
will do it later, so that the two can never differ.
"""

from __future__ import annotations

import sqlite3
from typing import Self

from imagekeeper.archive.index.entries import Writer
from imagekeeper.archive.index.sqlite.tables import finish, is_full_text, prepared
from imagekeeper.archive.index.unholdable import UNHOLDABLE, says
from imagekeeper.provenance.machines import MachineRecord
from imagekeeper.provenance.records import CarrierRecord


class IndexTrial:
    """An empty index in memory; use it in a `with` statement."""

    def __init__(self) -> None:
        self._base = prepared(":memory:", "trial")
        finish(self._base)
        self._writer = Writer(self._base, full_text=is_full_text(self._base))

    def __enter__(self) -> Self:
        """Use it."""
        return self

    def __exit__(self, *problem: object) -> None:
        """Forget it."""
        self._base.close()

    def refuses(self, record: CarrierRecord | MachineRecord) -> str | None:
        r"""Say why the index cannot hold a record, or None where it can.

        Example:
            >>> machine = MachineRecord(
            ...     id="tg85", uuid="", name="Quillmere TG-85", maker=None, model=None, serial=None, owner=None,
            ...     note=None, created="",
            ... )
            >>> from dataclasses import replace
            >>> with IndexTrial() as trial:
            ...     trial.refuses(machine), trial.refuses(replace(machine, owner="half a letter: \ud800"))
            (None, 'it holds half of a character, which is no text')
        """
        try:
            self._writer.add(record, "", "")
        except (*UNHOLDABLE, sqlite3.Error) as problem:
            return says(problem)
        finally:
            self._writer.remove(record.id)
        return None
