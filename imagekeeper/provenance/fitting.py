r"""Whether the values of a record fit what they mean: what is said of a digest must be one, and of a date likewise.

A value can be of the right type and still be none of its kind: a CRC of one letter, an address of forty digits, a path
that leads out of the carrier, half of a character. Such a record could be kept and never be listed, compared or handed
on again, so none is ever written, and one that comes from outside is not taken in.

What is unlikely is not judged here: a read of the year 1800 fits.

The rules go by the name of a field, or by its class and name where that name means different things; a text without a
rule of its own must be text, of bounded length.

Source:
    RFC 3339 for times; RFC 9562 for the form of UUIDs; RFC 7493 (I-JSON), sections 2.1 to 2.3, for halves of
    characters, numbers and members that are there twice. Limits of length and depth: common practice, no source.
"""

from __future__ import annotations

import dataclasses
import functools
import json
import re
from collections.abc import Callable, Iterable
from typing import Any

from imagekeeper.errors import UsageError
from imagekeeper.provenance import places
from imagekeeper.provenance.dates import check_date, is_time
from imagekeeper.provenance.ids import is_carrier_id
from imagekeeper.provenance.kinds import KINDS
from imagekeeper.provenance.references import BY_LENGTH
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import ADDRESS_LIMIT

#: No text of a record is longer: a remark may hold a whole listing. [character]
TEXT_LIMIT = 1 << 20

#: No path within a carrier is longer. [character]
PATH_LIMIT = 1024

#: Larger whole numbers are not kept exactly by every reader of JSON. Source: RFC 7493, section 2.2.
NUMBER_LIMIT = (1 << 53) - 1

#: Nothing in a record lies deeper: steps of a conversion are the deepest.
DEPTH_LIMIT = 32

#: Where the classes of records stand: those of carriers and machines, and the mark of an archive.
RECORDS = ("imagekeeper.provenance.", "imagekeeper.addresses", "imagekeeper.archive.ocfl.founding")

_HALF = re.compile("[\ud800-\udfff]")
_ODD_IN_PATH = re.compile("[\x00-\x1f\x7f\\\\\ud800-\udfff]")
_SHA256 = re.compile(r"[0-9a-f]{64}")
_CRC32 = re.compile(r"[0-9A-Fa-f]{8}")
_UUID = re.compile(r"[0-9a-fA-F]{8}(?:-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}")
_NUMBERED = {letter: re.compile(rf"{letter}[1-9][0-9]{{0,8}}") for letter in "rdwetx"}


# --- what a value may be ---


def is_text(value: str) -> bool:
    r"""Whether a text is whole characters, and not longer than any needs to be.

    Example:
        >>> is_text("tide gauge"), is_text("tide \ud800")
        (True, False)
    """
    return len(value) <= TEXT_LIMIT and (value.isascii() or not _HALF.search(value))


def is_path(value: str) -> bool:
    """Whether a path stays within the carrier's object.

    Example:
        >>> is_path("reads/r1/image.bin"), is_path("../u4.bin")
        (True, False)
    """
    parts = value.split("/")
    return len(value) <= PATH_LIMIT and not _ODD_IN_PATH.search(value) and not {"", ".", ".."} & {*parts}


def _is_sha256(value: str) -> bool:
    return _SHA256.fullmatch(value) is not None


def _is_crc32(value: str) -> bool:
    return _CRC32.fullmatch(value) is not None


def _is_uuid(value: str) -> bool:
    return _UUID.fullmatch(value) is not None


def _is_number(value: int) -> bool:
    return 0 <= value <= NUMBER_LIMIT


def _is_address(value: int) -> bool:
    return 0 <= value < ADDRESS_LIMIT


def _is_date(value: str) -> bool:
    try:
        return check_date(value) == value
    except UsageError:
        return False


def _is_kind(value: str) -> bool:
    return value in KINDS


def _is_numbered(letters: str, value: str) -> bool:
    return any(_NUMBERED[letter].fullmatch(value) for letter in letters)


def _is_image(value: str) -> bool:
    return value == "agreed" or _is_numbered("rd", value)


def _is_tried(value: str) -> bool:
    return value == "original" or _is_numbered("w", value)


def _is_withdrawn(value: str) -> bool:
    file = value.startswith(("photos/", "replacements/"))   # a picture, a read-back
    return is_path(value) and (file or _is_numbered("rwetx", value.partition("/")[0]))


def _is_carrier_ids(value: Iterable[str]) -> bool:
    return all(map(is_carrier_id, value))


def _is_texts(value: Any) -> bool:
    return all(isinstance(one, str) and is_text(one) for pair in value.items() for one in pair)


def _is_read_ids(value: Iterable[str]) -> bool:
    ids = tuple(value)
    return len({*ids}) == len(ids) and all(_is_numbered("r", one) for one in ids)


def _is_plain(value: Any) -> bool:
    """Whether everything in decoded JSON is text, a bounded number, or nothing."""
    pending = [value]
    while pending:
        one = pending.pop()
        if isinstance(one, dict):
            pending += [*one, *one.values()]
        elif isinstance(one, list | tuple):
            pending += one
        elif not (is_text(one) if isinstance(one, str) else _is_bounded(one)):
            return False
    return True


def _is_bounded(value: Any) -> bool:
    return not isinstance(value, int) or -NUMBER_LIMIT <= value <= NUMBER_LIMIT


@dataclasses.dataclass(frozen=True)
class _Rule:
    """What a value must be.

    Attributes:
        fits: Whether it is.
        says: The key of the words that say what it must be.
    """

    fits: Callable[[Any], bool]
    says: str


_TEXT = _Rule(is_text, "archive-damaged/fit-text")
_PATH = _Rule(is_path, "archive-damaged/fit-path")
_DIGEST = _Rule(_is_sha256, "archive-damaged/fit-sha256")
_NUMBER = _Rule(_is_number, "archive-damaged/fit-number")
_ADDRESS = _Rule(_is_address, "archive-damaged/fit-address")
_TIME = _Rule(is_time, "archive-damaged/fit-time")
_CARRIER = _Rule(is_carrier_id, "archive-damaged/fit-carrier-id")
_READS = _Rule(_is_read_ids, "archive-damaged/fit-read-ids")
_IMAGE = _Rule(_is_image, "archive-damaged/fit-image-id")
_CARRIERS = _Rule(_is_carrier_ids, "archive-damaged/fit-carrier-ids")
_TEXTS = _Rule(_is_texts, "archive-damaged/fit-texts")
_PLAIN = _Rule(_is_plain, "archive-damaged/fit-plain")


def _numbered(letter: str) -> _Rule:
    return _Rule(functools.partial(_is_numbered, letter), "archive-damaged/fit-numbered")


_BY_NAME: dict[str, _Rule] = {
    "sha256": _DIGEST, "read_back_sha256": _DIGEST, "written_sha256": _DIGEST, "previous": _DIGEST,
    "crc32": _Rule(_is_crc32, "archive-damaged/fit-crc32"), "uuid": _Rule(_is_uuid, "archive-damaged/fit-uuid"),
    "first_address": _ADDRESS, "added": _TIME, "created": _TIME, "modified": _TIME, "time": _TIME,
    "date": _Rule(_is_date, "archive-damaged/fit-date"),
    "original": _PATH, "image_path": _PATH, "path": _PATH, "written": _PATH,
}  # fmt: skip

_BY_CLASS: dict[tuple[str, str], _Rule] = {
    ("Carrier", "id"): _CARRIER, ("Machine", "id"): _CARRIER,
    ("CarrierRecord", "id"): _CARRIER, ("MachineRecord", "id"): _CARRIER,
    ("Carrier", "kind"): _Rule(_is_kind, "archive-damaged/fit-kind"),
    ("CarrierRecord", "kind"): _Rule(_is_kind, "archive-damaged/fit-kind"),
    ("Read", "id"): _numbered("r"), ("Derivation", "id"): _numbered("d"), ("Replacement", "id"): _numbered("w"),
    ("Event", "id"): _Rule(_is_uuid, "archive-damaged/fit-uuid"),
    ("StatedReason", "id"): _numbered("e"), ("MachineTrial", "id"): _numbered("t"),
    ("Deaccession", "id"): _numbered("x"), ("Erased", "of"): _CARRIER,
    ("MachineTrial", "what"): _Rule(_is_tried, "archive-damaged/fit-tried"),
    ("MachineTrial", "together"): _CARRIERS, ("Withdrawal", "what"): _Rule(_is_withdrawn, "archive-damaged/fit-what"),
    ("Agreed", "image"): _PATH, ("Agreed", "reads"): _READS, ("Agreed", "voters"): _READS,
    ("Replacement", "image"): _IMAGE,
    ("DerivationSource", "carrier"): _CARRIER, ("DerivationSource", "what"): _IMAGE,
    ("Span", "start"): _ADDRESS,   # a doubt may well be about an address beyond the limit
}  # fmt: skip

#: By the type of a field, where its name has no rule.
_BY_TYPE: dict[str, _Rule] = {"str": _TEXT, "int": _NUMBER}


# --- what the values of one record must be together ---


def _image_fits(image: Any) -> Phrase | None:
    end = total = 0
    for segment in image.segments:
        if segment.start < end or segment.length < 1:
            return Phrase("archive-damaged/fit-segments-order")
        end = segment.start + segment.length
        total += segment.length
    if total != image.size_bytes:
        return Phrase("archive-damaged/fit-segments-size", total=total, stated=image.size_bytes)
    if image.segments and image.segments[0].start != image.first_address:
        return Phrase("archive-damaged/fit-first-address")
    return None


def _below(top: str, *paths: str | None) -> Phrase | None:
    odd = next((path for path in paths if path is not None and not path.startswith(top)), None)
    return None if odd is None else Phrase("archive-damaged/fit-elsewhere", path=odd, top=top)


def _unique(name: str, values: Iterable[str]) -> Phrase | None:
    seen: set[str] = set()
    for one in values:
        if one in seen:
            return Phrase("archive-damaged/fit-twice", name=name, value=one)
        seen.add(one)
    return None


def _reference_fits(one: Any) -> Phrase | None:
    algorithm = BY_LENGTH.get(len(one.digest))
    if one.algorithm not in BY_LENGTH.values():   # of a program that knows more: kept, and weighed as nothing
        algorithm = one.algorithm
    if algorithm == one.algorithm and re.fullmatch(r"[0-9A-Fa-f]+", one.digest):
        return None
    return Phrase("archive-damaged/fit-reference", algorithm=one.algorithm)


def _replacement_fits(one: Any) -> Phrase | None:
    return _below(f"replacements/{one.id}/", one.written, *(back.path for back in one.read_backs))


_TOGETHER: dict[str, Callable[[Any], Phrase | None]] = {
    "ReadImage": _image_fits,
    "Read": lambda one: _below(f"reads/{one.id}/", one.original, one.image_path),
    "Photo": lambda one: _below("photos/", one.path),
    "Derivation": lambda one: _below("derived/", one.path),
    "Replacement": _replacement_fits,
    "Agreed": lambda one: _below(places.AGREED_IMAGE, one.image),
    "Reference": _reference_fits,
}


# --- the check ---


@functools.cache
def _rules(cls: Any) -> tuple[tuple[str, _Rule, bool], ...]:
    """Give the fields that have a rule, and whether each holds a list of such values."""
    found = []
    if not cls.__module__.startswith(RECORDS):
        return ()
    for field in dataclasses.fields(cls):
        kind = str(field.type).removesuffix(" | None")
        rule = _BY_CLASS.get((cls.__name__, field.name)) or _BY_NAME.get(field.name)
        if rule is None and "dict[" in kind:
            rule = _TEXTS if kind == "dict[str, str]" else _PLAIN
        several = rule is None and kind == "tuple[str, ...]"
        rule = rule or _BY_TYPE.get("str" if several else kind)
        if rule is not None:
            found.append((field.name, rule, several))
    return tuple(found)


def fits(record: Any) -> bool:
    """Whether the values of one record fit; those of the records inside it were looked at when these were made.

    Args:
        record: A frozen dataclass that stands in `RECORDS`; others have no rules and always fit.
    """
    cls: Any = type(record)
    for name, rule, several in _rules(cls):
        value = getattr(record, name)
        if value is not None and not (all(map(rule.fits, value)) if several else rule.fits(value)):
            return False
    together = _TOGETHER.get(cls.__name__)
    return together is None or together(record) is None


def misfit(record: Any) -> Phrase | None:
    """Say which value of a record does not fit, and what would; None where all do.

    Example:
        >>> from imagekeeper.addresses import Span
        >>> str(misfit(Span(-1, 16)))
        'start is -1, and no address between 0 and 4 GiB'
    """
    cls: Any = type(record)
    for name, rule, several in _rules(cls):
        value = getattr(record, name)
        for one in value if several else (value,):
            if one is not None and not rule.fits(one):
                return Phrase(rule.says, name=name, value=shown(one))
    together = _TOGETHER.get(cls.__name__)
    return None if together is None else together(record)


def misfit_among(records: Iterable[Any]) -> Phrase | None:
    """Say which id is given twice in a list of records; None where none is, and for records without ids."""
    return _unique("id", (one.id for one in records if hasattr(one, "id")))


def shown(value: Any) -> str:
    """Show a value on one line, cut where it is long."""
    text = ascii(value)
    return text if len(text) < 60 else text[:57] + "..."


# --- JSON of which every reader makes the same ---


def decoded(data: bytes) -> Any:
    """Decode JSON of which every reader makes the same: see the source above.

    Raises:
        ValueError: It is no JSON; or a member is there twice, a number is none or too large, or it is too deep.

    Example:
        >>> decoded(b'{"id": "r1"}')
        {'id': 'r1'}
        >>> decoded(b'{"id": 1, "id": 2}')
        Traceback (most recent call last):
        ValueError: the member 'id' is there twice
    """
    try:
        value = json.loads(
            data, object_pairs_hook=_members, parse_constant=_no_number, parse_int=_whole, parse_float=_fraction
        )
    except RecursionError:
        raise ValueError(f"it is more than {DEPTH_LIMIT} levels deep") from None
    if data.count(b"{") + data.count(b"[") > DEPTH_LIMIT:   # else it cannot be too deep
        _check_depth(value)
    return value


def _members(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"the member {shown(twice)} is there twice")
    return found


def _no_number(text: str) -> Any:
    raise ValueError(f"{text} is no number")


def _whole(text: str) -> int:
    if len(text) > 17 or not -NUMBER_LIMIT <= int(text) <= NUMBER_LIMIT:
        raise ValueError(f"{text[:40]} is more than a number can be")
    return int(text)


def _fraction(text: str) -> float:
    value = float(text)
    if not -1e300 < value < 1e300:
        raise ValueError(f"{text[:40]} is more than a number can be")
    return value


def _check_depth(value: Any) -> None:
    level = [value]   # the objects and lists that lie so deep
    for _ in range(DEPTH_LIMIT):
        level = [
            inner
            for one in level
            for inner in (one.values() if isinstance(one, dict) else one)
            if isinstance(inner, dict | list)
        ]
        if not level:
            return
    raise ValueError(f"it is more than {DEPTH_LIMIT} levels deep")
