"""The names that records give to readers, people, drives and what lies between: by sort, to hold new ones against."""

from __future__ import annotations

from collections.abc import Iterator

from imagekeeper.provenance.machines import MachineRecord
from imagekeeper.provenance.records import CarrierRecord

#: The members of a read and of a read-back that are names: each is a sort of its own.
SORTS = ("reader", "operator", "adapter", "cable", "drive", "controller")


def names_in(record: CarrierRecord | MachineRecord) -> Iterator[tuple[str, str]]:
    """Give the names in a record, each with its sort, in the order in which they were recorded.

    Who wrote a remark is an operator; specimens are told apart within one carrier only, and are none of these.
    """
    for note in record.notes:
        if note.author:
            yield "operator", note.author
    if isinstance(record, MachineRecord):
        return
    for one in (*record.reads, *(back for made in record.replacements for back in made.read_backs)):
        for sort in SORTS:
            name = getattr(one, sort)
            if name:
                yield sort, name
    for made in record.replacements:
        if made.operator:
            yield "operator", made.operator
