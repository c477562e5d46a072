"""What is kept beside the reads because it speaks for or against an image, and what people said of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

from imagekeeper.findings import Severity

TrialOutcome = Literal["started", "passed", "failed"]


@dataclass(frozen=True, kw_only=True)
class Sign:
    """A finding as it is kept: its words are those of the day.

    Attributes:
        code: One of the codes of findings.
        severity: `note`, `warning` or `fault`.
        confidence: From 0 to 1.
        why: The evidence in words.
        hint: What a person at the bench can do.
        detail: The evidence as values.
    """

    code: str
    severity: Severity
    confidence: float
    why: str
    hint: str
    detail: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Examination:
    """What one image showed by itself, when it was looked at.

    Attributes:
        sha256: Of the image.
        part: The type of chip that it was held against, or null.
        rules: The versions of the rules and tables that looked.
        figures: Its digests and sums by name, as `sum16` and `crc32`.
        signs: What was noticed, notes left out.
        checks: The checksums inside the image that hold, or null where they were not looked for.
    """

    sha256: str
    part: str | None
    rules: str
    figures: dict[str, str]
    signs: tuple[Sign, ...]
    checks: tuple[str, ...] | None = None


@dataclass(frozen=True, kw_only=True)
class StatedReason:
    """Why something that speaks against an image does not, as a person said.

    Attributes:
        id: Its id within the carrier: e1, e2, ...
        code: The code of the contradiction.
        basis: A digest of what the contradiction rested on: other evidence is not explained by this.
        why: What was explained, in the words of the day.
        reason: The reason.
        by: Who said so, or null.
        added: When, RFC 3339.
    """

    id: str
    code: str
    basis: str
    why: str
    reason: str
    by: str | None
    added: str


@dataclass(frozen=True, kw_only=True)
class MachineTrial:
    """How an image did in the machine.

    Attributes:
        id: Its id within the carrier: t1, t2, ...
        what: What was in the socket or drive: `original`, or the id of a replacement.
        sha256: Of the image that it is known to hold.
        outcome: `started`, `passed` where the machine tested it itself and found it good, or `failed`.
        together: Ids of the other carriers that were in the machine.
        machine: The machine, or null.
        date: When, or null.
        by: Who tried it, or null.
        note: A remark, or null.
        added: When this was recorded, RFC 3339.
    """

    id: str
    what: str
    sha256: str
    outcome: TrialOutcome
    together: tuple[str, ...]
    machine: str | None
    date: str | None
    by: str | None
    note: str | None
    added: str


@dataclass(frozen=True, kw_only=True)
class Withdrawal:
    """Something that was taken back: it stays, and is no evidence any more.

    Attributes:
        what: The id of a read (r2), of a read-back (w1/2), of a trial (t1), of a deaccession (x1), or the path of a
            picture.
        reason: Why.
        by: Who took it back, or null.
        added: When, RFC 3339.
    """

    what: str
    reason: str
    by: str | None
    added: str


@dataclass(frozen=True, kw_only=True)
class Deaccession:
    """That a carrier or machine was taken out of the collection: its record stays, with all that is kept of it.

    Attributes:
        id: Its id within the carrier or machine: x1, x2, ...
        reason: Why, such as that it was given away or is broken.
        by: Who took it out, or null.
        added: When, RFC 3339.
    """

    id: str
    reason: str
    by: str | None
    added: str


@dataclass(frozen=True, kw_only=True)
class ErasedFile:
    """A file that a carrier's last version held before it was erased.

    Attributes:
        path: Where it lay within the carrier.
        size_bytes: How large it was, or null where it was missing already. [byte]
        sha512: Of its bytes.
    """

    path: str
    size_bytes: int | None
    sha512: str


@dataclass(frozen=True, kw_only=True)
class Erased:
    """What remains of a carrier that was erased: that it was, by whom and why, and the digests of what it held.

    Attributes:
        of: The id that the carrier had.
        reason: Why it was erased.
        by: Who erased it, or null.
        added: When, RFC 3339.
        version: The number of its last version.
        inventory_sha512: SHA-512 of the last inventory.
        log_sha512: SHA-512 of the lines of the log of commits about it, each with its line feed.
        files: The files of its last version.
    """

    of: str
    reason: str
    by: str | None
    added: str
    version: int
    inventory_sha512: str
    log_sha512: str
    files: tuple[ErasedFile, ...]
