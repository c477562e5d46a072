"""What a repair did, and what is left."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from imagekeeper.archive.audits.audit_report import Discrepancy
from imagekeeper.archive.audits.reproof import Conclusion
from imagekeeper.archive.writing.recovery import Repair

Origin = Literal["replica", "archive", "stray"]


@dataclass(frozen=True, kw_only=True)
class Restored:
    """A file that is right again.

    Attributes:
        carrier: The carrier's id, or null.
        path: The file, or the folder of a carrier or version, relative to the archive.
        origin: `replica`, `archive` where the archive's own files bore it out, or `stray` where a file with the right
            digest lay elsewhere in the archive.
        sha512: The SHA-512 of what is there now; null for a folder.
        damaged_sha512: The SHA-512 of what was there; null where nothing was, or it could not be read.
        quarantine: Where what was there lies now, relative to the archive, or null.
        stray: Where the file lay that it was restored from, relative to the archive, or null.
    """

    carrier: str | None
    path: str
    origin: Origin
    sha512: str | None
    damaged_sha512: str | None
    quarantine: str | None
    stray: str | None = None


@dataclass(frozen=True)
class SetAside:
    """Something unexpected that was moved out of the holdings.

    Attributes:
        path: Where it lay, relative to the archive.
        quarantine: Where it lies now, relative to the archive.
    """

    path: str
    quarantine: str


@dataclass(frozen=True)
class Refused:
    """A carrier of which a version was found that is not the noted one, or is noted nowhere: it was not taken.

    Attributes:
        carrier: The carrier's id.
        version: The first such version.
        why: In words.
        here: Whether it is the archive's own version that is not the noted one.
    """

    carrier: str
    version: int
    why: str
    here: bool = False


@dataclass(frozen=True, kw_only=True)
class SecondHistory:
    """Another history of a carrier that lay in the archive, such as that of the other computer in a sync conflict.

    Attributes:
        carrier: The carrier's id.
        version: The first version that is another.
        head: The newest version that is whole, or of which the inventory tells where none is.
        found: Where its inventory lay, relative to the archive.
        archive: The small archive in quarantine that holds it now, relative to the archive, which can be merged; null
            where it was left as it lay.
        why: Why it was left, in words, or null.
    """

    carrier: str
    version: int
    head: int
    found: str
    archive: str | None
    why: str | None


@dataclass(frozen=True, kw_only=True)
class Repaired:
    """What a repair did, and what is left.

    Attributes:
        interrupted: Changes that had been interrupted, and what was done about them.
        restored: Files that are right again.
        set_aside: What was unexpected and lies in quarantine now.
        events: Carriers whose history tells of the repair now.
        damaged: What is still damaged.
        missing: What is still missing.
        unexpected: What is still unexpected.
        ok: Whether nothing is left, and nothing is contradicted.
        time: When the repair was made, RFC 3339.
        refused: Carriers of which another history than the noted one was found, in the replica or here, or one that
            is noted nowhere.
        second: Second histories of carriers, and where they can be merged from.
        log_incomplete: Whether lines of the log of commits were damaged or missing, so that what it does not note
            was judged by the replica's log.
        of_copy: Whether this is a copy of another archive, so that the carriers' histories do not tell of it.
        contradicted: What records of restored carriers conclude, and does not follow from the files that were read.
    """

    SCHEMA: ClassVar[str] = "repair/1"

    interrupted: tuple[Repair, ...]
    restored: tuple[Restored, ...]
    set_aside: tuple[SetAside, ...]
    events: tuple[str, ...]
    damaged: tuple[Discrepancy, ...]
    missing: tuple[Discrepancy, ...]
    unexpected: tuple[Discrepancy, ...]
    ok: bool
    time: str
    refused: tuple[Refused, ...] = ()
    second: tuple[SecondHistory, ...] = ()
    log_incomplete: bool = False
    of_copy: bool = False
    contradicted: tuple[Conclusion, ...] = ()

    @property
    def exit_code(self) -> int:
        """4 for what is damaged, missing, not what was noted or contradicted, 1 for what is unexpected, else 0."""
        if self.damaged or self.missing or self.contradicted or any(one.here for one in self.refused):
            return 4
        return 1 if self.unexpected else 0
