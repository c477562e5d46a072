"""Events that vouch for record files: each change of a record is held by the event that tells of it.

The last event of a version names every record file that is written with it, followed by the file's SHA-256, both among
what came out. The next event carries the digest of this one, so that neither can be changed alone.

Source: none; the pair of a path and a digest is our own. Versions from before this was done have no such pairs.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from imagekeeper.digests import sha256_hex
from imagekeeper.provenance import places
from imagekeeper.provenance.events import Event, LinkedObject

_DIGEST = "sha256:"


def vouched(events: Sequence[Event], changes: Mapping[str, object]) -> list[Event]:
    """Let the last of new events vouch for the record files that are written with it.

    Args:
        events: The new events of one version, at least one.
        changes: What the version writes: bytes by logical path; whatever is no record is passed over.

    Example:
        >>> from imagekeeper.provenance.events import new_event
        >>> told = new_event(None, id="1", type="capture", time="2026-11-24T22:00:00Z", agents=[], detail="U4")
        >>> [one.identifier[:13] for one in vouched([told], {"carrier.json": b"{}"})[-1].objects]
        ['carrier.json', 'sha256:44136f']
    """
    named: list[LinkedObject] = []
    for path, data in sorted(changes.items()):
        if places.is_record(path) and isinstance(data, bytes):
            named += [LinkedObject(path, "outcome"), LinkedObject(_DIGEST + sha256_hex(data), "outcome")]
    return [*events[:-1], replace(events[-1], objects=(*events[-1].objects, *named))]


def vouchers(events: Iterable[Event]) -> dict[str, str]:
    """Give the SHA-256 of each record file that events vouch for, the last word on each.

    Example:
        >>> vouchers([])
        {}
    """
    found: dict[str, str] = {}
    for event in events:
        for one, beside in pairwise(event.objects):
            if places.is_record(one.identifier) and beside.identifier.startswith(_DIGEST):
                found[one.identifier] = beside.identifier.removeprefix(_DIGEST)
    return found


def without_vouchers(event: Event) -> tuple[LinkedObject, ...]:
    """Give what an event concerns, but for the record files that it vouches for."""
    told, objects = list[LinkedObject](), event.objects
    at = 0
    while at < len(objects):
        beside = objects[at + 1].identifier if at + 1 < len(objects) else ""
        if places.is_record(objects[at].identifier) and beside.startswith(_DIGEST):
            at += 2
        else:
            told.append(objects[at])
            at += 1
    return tuple(told)
