"""What the records of carriers and of machines have in common: remarks, pictures, history."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page
from imagekeeper.units import plural

if TYPE_CHECKING:   # what makes the results is slow to load, and a list needs none of it
    from imagekeeper.provenance.machines import MachineRecord
    from imagekeeper.provenance.records import CarrierRecord
    from imagekeeper.provenance.remarks import Photo


def noted_text(record: CarrierRecord | MachineRecord) -> str:
    """Show the remarks, the new one last."""
    lines = [f"{record.id}: {plural(len(record.notes), 'remark')}"]
    for note in record.notes[-parts.SHOWN :]:
        lines += parts.wrapped(f"  {note.added}  ", note.text + (f" ({note.author})" if note.author else ""))
    return page(lines)


def pictured_text(record: CarrierRecord | MachineRecord) -> str:
    """Show the pictures, the new one last."""
    lines = [f"{record.id}: {plural(len(record.photos), 'picture')}"]
    lines += [line for one in record.photos[-parts.SHOWN :] for line in photo(one)]
    return page(lines)


def photo(one: Photo) -> list[str]:
    """Name a picture."""
    return parts.wrapped("  picture  ", one.file + (f": {one.caption}" if one.caption else ""))


def remarks(record: CarrierRecord | MachineRecord) -> list[str]:
    """Give the remarks and name the pictures."""
    lines = [line for note in record.notes for line in parts.wrapped("  remark   ", note.text)]
    return lines + [line for one in record.photos for line in photo(one)]


def history(record: CarrierRecord | MachineRecord) -> list[str]:
    """Tell what happened, event by event."""
    lines = ["", "  history"]
    for event in record.events:
        lines += parts.wrapped(f"    {event.time}  ", f"{event.type}: {event.detail}")
    return lines


def described(rows: Sequence[tuple[str, str | None]]) -> list[str]:
    """Lay out what is said of something; long texts hang beside their names."""
    said = [(name, text) for name, text in rows if text]
    width = max(len(name) for name, _ in said)
    return [line for name, text in said for line in parts.wrapped(f"  {name:{width}}  ", text)]
