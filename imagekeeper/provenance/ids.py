"""Carrier ids: short, readable, and safe as a folder's name on every system."""

from __future__ import annotations

import re
import unicodedata

from imagekeeper.errors import UsageError

MAX_LENGTH = 64

_FORM = re.compile(r"[a-z0-9](?:[a-z0-9._-]*[a-z0-9_-])?")

#: Names that Windows keeps for devices, whatever extension follows.
#: Source: Microsoft, "Naming Files, Paths, and Namespaces".
_DEVICES = {"con", "prn", "aux", "nul"} | {f"{port}{n}" for port in ("com", "lpt") for n in range(10)}

#: Names that the storage root needs for itself when carriers lie directly in it.
#: Source: OCFL 1.1, section 4.1.
_ROOT_NAMES = {"extensions", "ocfl_layout.json"}


def check_carrier_id(text: str) -> str:
    """Accept an id for a carrier.

    Lower case only, so that two ids never differ by case alone: many file systems would take them for one.

    Raises:
        UsageError: `carrier-id`, with a usable id in the hint.

    Example:
        >>> check_carrier_id("tg85-u4")
        'tg85-u4'
        >>> check_carrier_id("TG-85 U4")
        Traceback (most recent call last):
        imagekeeper.errors.UsageError: the id cannot name a folder everywhere: 'T' at position 1 is not ...
    """
    if problem := _problem(text):
        raise UsageError("carrier-id", trouble=str(problem), better=suggest_id(text))
    return text


def _problem(text: str) -> str | None:
    if not text:
        return "it is empty"
    if len(text) > MAX_LENGTH:
        return f"it has {len(text)} characters, and at most {MAX_LENGTH} are safe"
    for position, character in enumerate(text, 1):
        if not re.match(r"[a-z0-9._-]", character):
            return f"{character!r} at position {position} is not a lower-case letter, a digit, - _ or ."
    if not _FORM.fullmatch(text):
        return "it must begin with a letter or digit and must not end with a dot"
    if text.partition(".")[0] in _DEVICES:
        return f"Windows keeps the name {text.partition('.')[0]!r} for a device"
    if text in _ROOT_NAMES:
        return "the archive needs this name for itself"
    return None


def suggest_id(text: str) -> str:
    """Make an acceptable id out of any text.

    Example:
        >>> suggest_id("TG-85 / U4"), suggest_id("con"), suggest_id("Grün?")
        ('tg-85-u4', 'con-1', 'grun')
    """
    plain = unicodedata.normalize("NFKD", text[:256]).encode("ascii", "ignore").decode().lower()
    slug = re.sub(r"[^a-z0-9._-]+", "-", plain)
    slug = re.sub(r"-{2,}", "-", slug).strip("-._")[: MAX_LENGTH - 2].rstrip("-.")
    if not slug:
        return "carrier-1"
    return f"{slug}-1" if _problem(slug) else slug


def is_carrier_id(text: str) -> bool:
    """Whether a text could be a carrier's id.

    Example:
        >>> is_carrier_id("tg85-u4"), is_carrier_id("../tg85")
        (True, False)
    """
    return _problem(text) is None
