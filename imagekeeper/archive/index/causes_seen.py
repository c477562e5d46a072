"""Why reads of carriers differ, as it was found before, kept beside the index: it can be deleted at any time.

To explain reads takes far longer than to read a record, and gives the same each time. What is kept stands under a
digest of the images, how they were taken, and the program, so that nothing old is ever taken for new.
"""

from __future__ import annotations

import contextlib
import json
from pathlib import Path
from typing import TYPE_CHECKING

from imagekeeper.archive.index.sqlite.base import cache_file
from imagekeeper.digests import sha256_hex
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.version import __version__

if TYPE_CHECKING:
    from imagekeeper.archive.store import ArchiveStore

#: Codes of causes, each with its confidence.
Causes = tuple[tuple[str, float], ...]

#: A larger file is begun anew. [byte]
_LIMIT = 4 << 20


def key_of(record: CarrierRecord) -> str:
    """Name what the reads of a carrier are, and how they were taken."""
    reads = [(read.image.sha256, read.image.first_address, read.vcc, read.reader) for read in record.reads]
    return sha256_hex(json.dumps([__version__, record.part, reads]).encode())[:40]


def seen_causes(archive: ArchiveStore) -> dict[str, Causes]:
    """Give all that was kept, by `key_of`; a file that cannot be read is none."""
    found: dict[str, Causes] = {}
    with contextlib.suppress(OSError, ValueError, KeyError, TypeError):
        file = _file(archive)
        if file.stat().st_size <= _LIMIT:
            for line in file.read_text("ascii").splitlines():
                note = json.loads(line)
                found[str(note["key"])] = tuple((str(code), float(share)) for code, share in note["causes"])
    return found


def keep_causes(archive: ArchiveStore, record: CarrierRecord, causes: Causes) -> None:
    """Note why the reads of a carrier differ; where that is impossible it is found again when needed."""
    file = _file(archive)
    with contextlib.suppress(OSError):
        file.parent.mkdir(parents=True, exist_ok=True)
        fresh = file.exists() and file.stat().st_size > _LIMIT
        with open(file, "w" if fresh else "a", encoding="ascii") as notes:
            notes.write(json.dumps({"key": key_of(record), "causes": causes}) + "\n")


def _file(archive: ArchiveStore) -> Path:
    return cache_file(archive).with_suffix(".causes")
