"""The note in a copy's log that it is one.

A copy holds what the archive holds, and no more: an event that a repair added to a carrier's history would be a version
that the archive never had. So a repair must know a copy. The note lies among the logs, which are each copy's own; a
copy that is to be the archive from now on loses it with that file.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from imagekeeper.archive.ocfl.reading import bytes_if_any
from imagekeeper.jsonable import canonical

if TYPE_CHECKING:
    from imagekeeper.archive.ocfl.folder import ArchiveFolder

COPY = "copy.json"


def is_copy(archive: ArchiveFolder) -> bool:
    """Whether this is a copy that is kept up to date from an archive."""
    return bytes_if_any(archive.log / COPY) is not None


def copy_note(archive: ArchiveFolder, time: str) -> bytes:
    """Write the note.

    Args:
        archive: The archive of which it is a copy.
        time: When it was made one, RFC 3339.
    """
    return canonical({"copy_of": archive.marker.uuid, "since": time}) + b"\n"
