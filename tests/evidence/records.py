"""Carrier records for the tests of what is weighed: invented, small, and complete enough to be weighed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from imagekeeper.addresses import Span
from imagekeeper.provenance.agreed import Agreed
from imagekeeper.provenance.reads import Read, ReadImage
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.references import Reference
from imagekeeper.provenance.testimony import Examination, Sign

A, B, C = "a" * 64, "b" * 64, "c" * 64


def read(number: int, sha256: str = A, **changes: Any) -> Read:
    """Give a read of 16 bytes, of which nothing is known but its image."""
    doubts = changes.pop("doubts", ())
    given = changes.pop("image", None)
    segments = changes.pop("segments", (Span(0, 16),))
    image = ReadImage(
        sha256=sha256, crc32="CBF43926", size_bytes=sum(s.length for s in segments),
        first_address=segments[0].start if segments else 0, segments=segments, doubts=doubts,
    )  # fmt: skip
    members: dict[str, Any] = {
        "id": f"r{number}", "file": f"u4-{number}.bin", "file_base64": None, "original": "x", "size_bytes": 16,
        "sha256": sha256, "modified": f"2026-11-24T22:00:{number:02}Z", "container": "raw", "wrapped_in": None,
        "image": given or image, "image_path": "x", "reader": None, "operator": None, "date": None, "vcc": None,
        "specimen": None, "software": "s", "notes": (), "added": "2026-11-24T22:00:00Z",
    }  # fmt: skip
    return Read(**{**members, **changes})


def seen(sha256: str = A, *signs: Sign, **changes: Any) -> Examination:
    """Give what an image showed by itself."""
    members: dict[str, Any] = {
        "sha256": sha256, "part": None, "rules": "examination 1, tables 0", "signs": signs, "checks": (),
        "figures": {"crc32": "CBF43926", "sum16": "3F2A"},
    }  # fmt: skip
    return Examination(**{**members, **changes})


def agreed(sha256: str | None = A, references: Sequence[Reference] = (), **changes: Any) -> Agreed:
    """Give the record that somebody settled an image."""
    members: dict[str, Any] = {
        "sha256": sha256, "grade": "single", "because": "x", "raise_by": None, "reads": (), "image": "agreed.bin",
        "references": tuple(references),
    }  # fmt: skip
    return Agreed(**{**members, **changes})


def carrier(reads: Sequence[Read] = (), **changes: Any) -> CarrierRecord:
    """Give the record of an EPROM, whose images were all looked at and showed nothing."""
    members: dict[str, Any] = {
        "id": "u4", "kind": "eprom", "machine": None, "board": None, "position": None, "reads": tuple(reads),
        "agreed": agreed(), "replacements": (), "events": (), "findings": (), "uuid": "x", "part": None, "label": None,
        "note": None, "created": "2026-11-24T22:00:00Z", "examinations": (seen(A), seen(B), seen(C)),
    }  # fmt: skip
    return CarrierRecord(**{**members, **changes})
