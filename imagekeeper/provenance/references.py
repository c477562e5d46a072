"""Digests that the user supplies from a label, a listing or another collection, held against an image."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from imagekeeper.errors import ContradictionError, UsageError

#: A digest's algorithm, by its number of hexadecimal digits.
BY_LENGTH = {8: "crc32", 40: "sha1", 64: "sha256"}

#: What people call them.
NAMES = {"crc32": "CRC-32", "sha1": "SHA-1", "sha256": "SHA-256"}


@dataclass(frozen=True)
class Reference:
    """A digest from outside the archive.

    Attributes:
        algorithm: `crc32`, `sha1` or `sha256`.
        digest: In hexadecimal: upper case for a CRC, lower case for the others.
        source: Where it comes from, as the user says, or null.
    """

    algorithm: str
    digest: str
    source: str | None = None


def parse_reference(text: str, source: str | None = None) -> Reference:
    """Recognise a digest by its length.

    Raises:
        UsageError: `usage`.

    Example:
        >>> parse_reference("cbf43926").algorithm
        'crc32'
    """
    digits = re.sub(r"^0x|[\s:-]", "", text.strip().lower())
    algorithm = BY_LENGTH.get(len(digits))
    if algorithm is None or not re.fullmatch(r"[0-9a-f]+", digits):
        raise UsageError("usage/reference", text=text)
    return Reference(algorithm, digits.upper() if algorithm == "crc32" else digits, source)


def check_reference(reference: Reference, digests: Mapping[str, str]) -> None:
    """Hold a reference digest against those of an image.

    Args:
        reference: What the user supplied.
        digests: The image's digests by algorithm name; the reference's algorithm must be among them.

    Raises:
        ContradictionError: `reference-mismatch`.

    Example:
        >>> check_reference(parse_reference("CBF43926"), {"crc32": "CBF43926"})
    """
    found = digests[reference.algorithm]
    if found.lower() != reference.digest.lower():
        said = f" by {reference.source}" if reference.source else ""
        raise ContradictionError(
            "reference-mismatch", algorithm=NAMES[reference.algorithm], found=found, supplied=reference.digest,
            said=said,
        )  # fmt: skip
