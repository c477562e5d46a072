"""Where things lie within a carrier's object, and names that are safe there."""

from __future__ import annotations

import re
import unicodedata

CARRIER = "carrier.json"
MACHINE = "machine.json"
EVENTS = "events.jsonl"
AGREED = "agreed.json"
AGREED_IMAGE = "agreed.bin"
NOTES = "notes.json"
PHOTOS = "photos.json"
REPLACEMENTS = "replacements.json"
DERIVATIONS = "derivations.json"
EXAMINATIONS = "examinations.json"
EXPLANATIONS = "explanations.json"
TRIALS = "trials.json"
WITHDRAWALS = "withdrawals.json"
DEACCESSIONS = "deaccessions.json"
#: In a stub: what was erased.
ERASED = "erased.json"
#: Below this, by the digest of its last event, lies what another archive's copy of the carrier was when it was merged.
MERGED = "merged/"

#: Long enough to recognise a file, short enough for any system's limit on whole paths.
NAME_LENGTH = 80

_READ = re.compile(r"reads/(r[1-9][0-9]{0,8})/read\.json")
_RECORDS = frozenset((
    CARRIER, MACHINE, AGREED, NOTES, PHOTOS, REPLACEMENTS, DERIVATIONS, EXAMINATIONS, EXPLANATIONS, TRIALS, WITHDRAWALS,
    DEACCESSIONS, ERASED,
))  # fmt: skip
_DEVICE = re.compile(r"(?i)(?:con|prn|aux|nul|com[0-9]|lpt[0-9])(?:\..*)?")


def is_record(path: str) -> bool:
    """Whether a path is that of a record: neither of events nor of what was read, written or photographed.

    Example:
        >>> is_record("carrier.json"), is_record("reads/r1/read.json"), is_record("reads/r1/original/read.json")
        (True, True, False)
    """
    return path in _RECORDS or _READ.fullmatch(path) is not None


def read_record(read_id: str) -> str:
    """Give the path of a read's record.

    Example:
        >>> read_record("r1")
        'reads/r1/read.json'
    """
    return f"reads/{read_id}/read.json"


def read_image(read_id: str) -> str:
    """Give the path of a read's decoded bytes.

    Example:
        >>> read_image("r1")
        'reads/r1/image.bin'
    """
    return f"reads/{read_id}/image.bin"


def read_original(read_id: str, file_name: str) -> str:
    """Give the path of the reader's own file, under a safe form of its name.

    Example:
        >>> read_original("r1", "C:/dumps/TG85 U4.BIN")
        'reads/r1/original/TG85_U4.BIN'
    """
    return f"reads/{read_id}/original/{safe_name(file_name)}"


def photo(number: int, file_name: str) -> str:
    """Give the path of a picture.

    Example:
        >>> photo(2, "front side.jpg")
        'photos/2-front_side.jpg'
    """
    return f"photos/{number}-{safe_name(file_name)}"


def derived(derivation_id: str) -> str:
    """Give the path of a derived image's bytes.

    Example:
        >>> derived("d1")
        'derived/d1.bin'
    """
    return f"derived/{derivation_id}.bin"


def written(replacement_id: str) -> str:
    """Give the path of what was written to a replacement.

    Example:
        >>> written("w1")
        'replacements/w1/written.bin'
    """
    return f"replacements/{replacement_id}/written.bin"


def read_back(replacement_id: str, number: int) -> str:
    """Give the path of what was read from a replacement.

    Example:
        >>> read_back("w1", 2)
        'replacements/w1/back-2.bin'
    """
    return f"replacements/{replacement_id}/back-{number}.bin"


def read_ids(paths: list[str] | tuple[str, ...]) -> tuple[str, ...]:
    """Find the reads among an object's paths, in the order of their numbers.

    Example:
        >>> read_ids(["reads/r10/read.json", "reads/r2/read.json", "reads/r2/image.bin"])
        ('r2', 'r10')
    """
    found = [match[1] for path in paths if (match := _READ.fullmatch(path))]
    return tuple(sorted(found, key=lambda name: int(name[1:])))


def next_read_id(paths: list[str] | tuple[str, ...]) -> str:
    """Give the id for one more read.

    Example:
        >>> next_read_id([]), next_read_id(["reads/r2/read.json"])
        ('r1', 'r3')
    """
    taken = read_ids(paths)
    return f"r{int(taken[-1][1:]) + 1}" if taken else "r1"


def safe_name(file_name: str) -> str:
    r"""Make a file name that every system accepts: the last part only, plain ASCII, no reserved word.

    The exact name is kept in the record beside the file.

    Example:
        >>> safe_name("dump\udcff?.bin"), safe_name("../.."), safe_name("con.txt")
        ('dump__.bin', 'file', '_con.txt')
    """
    last = re.split(r"[/\\]", file_name)[-1]
    plain = unicodedata.normalize("NFKD", last)
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    plain = re.sub(r"[^A-Za-z0-9._-]", "_", plain).lstrip(".").rstrip(".")
    if len(plain) > NAME_LENGTH:
        stem, dot, suffix = plain.rpartition(".")
        if dot and len(suffix) <= 12:
            plain = stem[: NAME_LENGTH - len(suffix) - 1] + "." + suffix
        plain = plain[:NAME_LENGTH].rstrip(".")
    if _DEVICE.fullmatch(plain):
        plain = "_" + plain
    return plain or "file"
