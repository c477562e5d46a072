"""The entries with which a directory of 8-bit machines would begin at a place, and how well a division fits them.

Rules: an entry names as many blocks as its records need; every block belongs to one file; files begin behind the blocks
of the directory. Source: Digital Research, CP/M 2.2 Interface Guide and Alteration Guide, from memory. The weights are
ours; tests/benchmarks/directory_volumes.py measures how often they are right.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import islice

from imagekeeper.containers.model import Data
from imagekeeper.filesystems.directory_entries import DELETED, Slot, kind_of, sound
from imagekeeper.filesystems.directory_parameters import ENTRY, RECORD, DiskParameters
from imagekeeper.ranked import Evidence
from imagekeeper.units import plural

#: Entries of a record of 128 bytes.
PER_RECORD = RECORD // ENTRY

#: No directory is looked for beyond so many entries.
MOST_ENTRIES = 2048

#: So many records of a directory may be damaged, where others in use follow: a sector of 1024 bytes that was not read.
_DAMAGED = 8


_NO_DIRECTORY, _FREE, _IN_USE = range(3)
_ALL_FREE = bytes([DELETED] * PER_RECORD)


def clean(record: bytes) -> bool:
    r"""Whether all entries of a record are what a directory can hold.

    Example:
        >>> clean(b"\xe5" * 128), clean(bytes(128))
        (True, False)
    """
    for at in range(0, RECORD, ENTRY):
        raw = record[at : at + ENTRY]
        kind = kind_of(raw)
        if len(raw) < ENTRY or kind == "unknown" or (kind == "file" and not sound(raw)):
            return False
        if kind == "label" and not sound(b"\0" + raw[1:12] + bytes(20)):
            return False
        if kind == "stamps" and at != RECORD - ENTRY:
            return False
    return True


def in_use(record: bytes) -> int:
    """Count the well-formed entries of files of a record."""
    return sum(sound(record[at : at + ENTRY]) for at in range(0, RECORD, ENTRY))


class Records:
    r"""The records of an image, each looked at once however many places and orders are tried.

    Args:
        data: The image.

    Example:
        >>> entry = b"\0TIDE    DAT" + bytes([0, 0, 0, 9, 2, 3]) + bytes(14)
        >>> image = Records((entry + b"\xe5" * 96) + b"\xe5" * 128 + b"tide" * 32)
        >>> image.fits(0), image.fits(256), image.run([128])
        (True, False, ())
        >>> image.run([0, 128, 256])[0][:5], len(image.run([128, 0, 256]))
        (b'\x00TIDE', 8)
    """

    def __init__(self, data: Data) -> None:
        self._data = data
        self._states: dict[int, int] = {}

    def fits(self, at: int) -> bool:
        """Whether the record there can be one of a directory."""
        return self._state(at) != _NO_DIRECTORY

    def run(self, places: Iterable[int], *, unused: bool = False) -> tuple[bytes, ...]:
        """Take the entries of records as long as they are those of a directory; a few damaged ones may be between.

        Args:
            places: Where the records lie, in order. [byte]
            unused: Give them also where none of them is in use.
        """
        there: list[int] = []
        damaged: list[int] = []
        used = unused
        for at in islice(places, MOST_ENTRIES // PER_RECORD):
            state = self._state(at)
            if state == _NO_DIRECTORY:
                damaged.append(at)
                if len(damaged) > _DAMAGED or not there:
                    break
            elif not damaged:
                there.append(at)
                used = used or state == _IN_USE
            elif state == _IN_USE:
                there += [*damaged, at]
                damaged = []
            else:
                damaged.append(at)
        if not used:
            return ()
        return tuple(
            record[at : at + ENTRY] for place in there for record in (self._data[place : place + RECORD],)
            for at in range(0, RECORD, ENTRY)
        )  # fmt: skip

    def _state(self, at: int) -> int:
        found = self._states.get(at)
        if found is None:
            record = self._data[at : at + RECORD]
            found = _NO_DIRECTORY if not clean(record) else _FREE if record[::ENTRY] == _ALL_FREE else _IN_USE
            self._states[at] = found
        return found


def last_used(entries: Sequence[bytes]) -> int:
    """Count the entries up to the last one in use."""
    return max((index + 1 for index, raw in enumerate(entries) if raw[0] != DELETED), default=0)


@lru_cache(4)
def lowest_block(entries: tuple[bytes, ...], number_bytes: int) -> int | None:
    """Give the lowest block that the files of a directory name, or named before they were deleted."""
    return min(
        (number
         for raw in entries if raw[0] < 16 or (raw[0] == DELETED and kind_of(raw) == "deleted")
         for at in range(16, 32, number_bytes) if (number := int.from_bytes(raw[at : at + number_bytes], "little"))),
        default=None,
    )  # fmt: skip


def weigh(entries: Sequence[bytes], parameters: DiskParameters) -> Iterator[Evidence]:
    r"""Weigh how well a division fits the entries of a directory.

    Example:
        >>> entry = b"\0TIDE    DAT" + bytes([0, 0, 0, 9, 2, 3]) + bytes(14)   # 9 records in blocks 2 and 3
        >>> kib, two_kib = DiskParameters(
        ...     records_per_track=26, block_bytes=1024, blocks=243, directory_entries=64, reserved_tracks=2,
        ...     extent_mask=0,
        ... ), DiskParameters(
        ...     records_per_track=26, block_bytes=2048, blocks=121, directory_entries=64, reserved_tracks=2,
        ...     extent_mask=1,
        ... )
        >>> [sum(one.weight for one in weigh([entry], size)) > 0 for size in (kib, two_kib)]
        [True, False]
    """
    agree = wrong = 0
    named: list[int] = []
    parts: dict[tuple[int, bytes], list[tuple[int, int]]] = {}
    most = 128 if parameters.record_counts == "last-extent" else parameters.entry_records
    block, size, in_use_at_most = parameters.block_bytes, parameters.number_bytes, parameters.entry_blocks
    for index, raw in enumerate(entries[: parameters.directory_entries]):
        if raw[0] >= 32:
            continue
        slot = Slot(index, 0, raw)
        records, numbers = slot.records(parameters), slot.numbers(parameters)
        if not raw[15] and not any(numbers):
            continue
        needed = -(-records * RECORD // block)
        has = -(-len(raw[16:].rstrip(b"\0")) // size)
        if raw[15] <= most and needed == has <= in_use_at_most:
            agree += 1
        else:
            wrong += 1
        named += numbers
        parts.setdefault((raw[0], slot.letters), []).append((slot.number(parameters), records))
    if agree:
        yield Evidence(f"{plural(agree, 'entry names', 'entries name')} just the blocks that the records need",
                       min(0.6 * agree, 4.0))  # fmt: skip
    if wrong:
        yield Evidence(f"{plural(wrong, 'entry names', 'entries name')} more or fewer blocks than the records need",
                       max(-1.0 * wrong, -8.0))  # fmt: skip
    users = Counter(filter(None, named))
    beyond = sum(count for number, count in users.items() if number >= parameters.blocks)
    shared = sum(users.values()) - len(users)
    if shared:
        yield Evidence(f"{plural(shared, 'block')} would belong to two files", max(-0.7 * shared, -6.0))
    elif len(users) > 3:
        yield Evidence(f"each of the {len(users)} blocks in use belongs to one file", 1.0)
    if beyond:
        yield Evidence(f"{plural(beyond, 'block')} would lie beyond the disk", max(-0.7 * beyond, -6.0))
    yield from _first_block(users, parameters)
    yield from _parts(parts, parameters)


def _first_block(users: Counter[int], parameters: DiskParameters) -> Iterator[Evidence]:
    if not users:
        return
    first, directory = min(users), parameters.directory_blocks
    if first in (directory, parameters.kept_blocks):
        yield Evidence(f"files begin with block {first}, the first behind the directory", 1.0)
    elif first > directory:
        yield Evidence(f"the first block of a file is {first}, though {directory} would be free",
                       max(-0.3 * (first - directory), -1.0))  # fmt: skip
    else:
        yield Evidence(f"block {first} of a file would lie in the directory", -3.0)


def _parts(parts: dict[tuple[int, bytes], list[tuple[int, int]]], parameters: DiskParameters) -> Iterator[Evidence]:
    twice = missing = short = whole = 0
    for found in parts.values():
        numbers = sorted(set(found))
        distinct = {number for number, _ in found}
        last = numbers[-1][0]
        twice += len(found) - len(distinct)
        missing += last + 1 - len(distinct)
        short += sum(records < parameters.entry_records for number, records in numbers if number < last)
        whole += len(distinct) > 1
    for count, says, weight in (
        (twice, "would be there twice", -1.0), (missing, "would be missing", -0.5),
        (short, "would not be full, though others follow", -0.7),
    ):  # fmt: skip
        if count:
            yield Evidence(f"{plural(count, 'part')} of files {says}", max(weight * count, -4.0))
    if whole and not twice + missing + short:
        yield Evidence(f"{plural(whole, 'file')} of several parts have each part once, and full", 1.0)
