"""Whether an own row makes sense beside the tables: what it names is there, and its figures can be."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterator

from imagekeeper.chips.proofs import contradictions_of
from imagekeeper.drives.disk import ENCODINGS
from imagekeeper.errors import ImagekeeperError
from imagekeeper.floppy.formats import describe
from imagekeeper.own import OwnRow, remembered
from imagekeeper.provenance.kinds import KINDS
from imagekeeper.sentences.say import Phrase
from imagekeeper.tables.chips import TECHNOLOGIES, ambiguous, chip_rows, methods, pinout_rows
from imagekeeper.tables.drives import drive_rows, medium_rows
from imagekeeper.tables.floppy import format_rows, standard_rows

#: Chips of more words, bits or pins than these are none of the period. [word, bit, pin]
WORDS, BITS, PINS = 1 << 26, 64, 64

#: The sizes of disks, and the most that any disk or drive has. [inch, cylinder, sector, byte, bit/s, rev/min]
INCHES, CYLINDERS, SECTORS, SECTOR, RATE, ROTATION = (8, 5.25, 3.5, 3), 255, 255, 16384, 4_000_000, (100, 3600)


def senseless(own: OwnRow) -> Phrase | None:
    """Tell what is wrong with an own row that is in force, beside all others; None where nothing is."""
    return next(_CHECKS[own.kind](own), None)


def _pinout(own: OwnRow) -> Iterator[Phrase]:
    row = pinout_rows()[own.key[0]]
    if not (row.pins == len(row.signals) and row.pins % 2 == 0 and 4 <= row.pins <= PINS):
        yield _wrong(f"a package has an even number of pins, up to {PINS}, and a signal for each of them")
    if not all(pin and all(len(one) <= 12 for one in pin) for pin in row.signals):
        yield _wrong("every pin has a signal, of at most 12 characters")
        return
    for chip in chip_rows().values():
        if chip.pinout == row.id:
            yield from _proved(chip.id)


def _chip(own: OwnRow) -> Iterator[Phrase]:
    row = chip_rows()[own.key[0]]
    named: tuple[tuple[str, str, Container[str]], ...] = (
        ("technology", row.technology, TECHNOLOGIES), ("carrier", row.carrier, KINDS),
        ("pinout", row.pinout, pinout_rows()), *(("methods", one, methods()) for one in row.methods),
    )  # fmt: skip
    for member, name, known in named:
        if name not in known:
            yield Phrase("own-rows/unknown", member=member, name=name)
    if row.technology not in TECHNOLOGIES or row.pinout not in pinout_rows():
        return
    if not 1 <= row.words <= WORDS or not 1 <= row.bits <= BITS:
        yield _wrong("it has no words or bits, or absurdly many")
        return
    if "Vcc" not in row.supplies_v:
        yield _wrong("supplies_v has no Vcc")
    yield from _proved(row.id)
    for name in sorted({name.upper() for name in (row.id, *row.aliases)}):
        for other in _chips_by_name().get(name, ()):
            if other != row.id:
                yield Phrase("own-rows/other-chip", name=name, other=other)


@remembered()
def _proved(part: str) -> tuple[Phrase, ...]:
    """Put a chip through the proofs that ours go through."""
    return tuple(_wrong(found.why) for found in contradictions_of(part))


@remembered()
def _chips_by_name() -> dict[str, tuple[str, ...]]:
    """Every number that stands for chips, in capitals, with the ids of these."""
    found = dict(ambiguous())
    for row in chip_rows().values():
        for name in {name.upper() for name in (row.id, *row.aliases)}:
            found[name] = (*found.get(name, ()), row.id)
    return found


def _maker(own: OwnRow) -> Iterator[Phrase]:
    for name in own.members.get("methods", ()):
        if name not in methods():
            yield Phrase("own-rows/unknown", member="methods", name=name)
            return
    yield from _of_chip(own)


def _of_chip(own: OwnRow) -> Iterator[Phrase]:
    part = own.members["chip"]
    if part in chip_rows():
        yield from _proved(part)
    else:
        yield Phrase("own-rows/unknown", member="chip", name=part)


def _medium(own: OwnRow) -> Iterator[Phrase]:
    row = medium_rows()[own.key[0]]
    if row.disk_inch not in INCHES or not row.coercivity_oe or not all(1 <= one <= 5000 for one in row.coercivity_oe):
        yield _wrong("disk_inch is 8, 5.25, 3.5 or 3, and coercivity_oe has at least one figure")


def _drive(own: OwnRow) -> Iterator[Phrase]:
    row = drive_rows()[own.key[0]]
    for mode in row.modes:
        if mode.medium not in medium_rows():
            yield Phrase("own-rows/unknown", member="modes.medium", name=mode.medium)
            return
    if not row.modes or row.modes[0].optional or len({mode.id for mode in row.modes}) != len(row.modes):
        yield _wrong("it has at least one mode, the first not optional, and no two of one rotation and data rate")
    if not all(0 < mode.data_rate <= RATE and ROTATION[0] <= mode.rotation <= ROTATION[1] for mode in row.modes):
        yield _wrong("a mode has a data_rate or rotation that no drive has")
    if row.disk_inch not in INCHES or any(medium_rows()[one.medium].disk_inch != row.disk_inch for one in row.modes):
        yield _wrong("disk_inch is 8, 5.25, 3.5 or 3, and that of the disks of each mode")
    if row.heads not in (1, 2) or not 1 <= row.cylinders <= CYLINDERS or row.interface not in (34, 50):
        yield _wrong(f"it has 1 or 2 heads, 1 to {CYLINDERS} cylinders, and an interface of 34 or 50 lines")
    if not 0.05 <= row.pitch_mm <= 2 or not 10 <= row.tracks_per_inch <= 500 or not row.step_ms:
        yield _wrong("pitch_mm or tracks_per_inch is none that a drive has, or step_ms has no figure")
    radii = row.track_00_mm
    if len(radii) not in (0, row.heads) or any(one <= row.cylinders * row.pitch_mm for one in radii):
        yield _wrong("track_00_mm has a radius for each head, and the innermost track a radius above 0, or it is empty")


def _format(own: OwnRow) -> Iterator[Phrase]:
    row = format_rows()[own.key[0]]
    named: tuple[tuple[str, str, Container[str]], ...] = (
        ("medium", row.medium, medium_rows()), ("encoding", row.encoding, ENCODINGS),
        *([("standard", row.standard, standard_rows())] if row.standard is not None else []),
    )  # fmt: skip
    for member, name, known in named:
        if name not in known:
            yield Phrase("own-rows/unknown", member=member, name=name)
            return
    if row.disk_inch not in INCHES or medium_rows()[row.medium].disk_inch != row.disk_inch:
        yield _wrong("disk_inch is 8, 5.25, 3.5 or 3, and that of its medium")
    first = row.first_track
    sizes = [(row.sectors, row.sector_bytes, row.data_rate)]
    sizes += [(first.sectors, first.sector_bytes, first.data_rate)] if first is not None else []
    for sectors, size, rate in sizes:
        if not (1 <= sectors <= SECTORS and size in (128 << n for n in range(8)) and 0 < rate <= RATE):
            yield _wrong("sectors, sector_bytes (128 times a power of two) or data_rate is none that a disk has")
            return
    if first is not None and first.encoding not in ("fm", "mfm"):
        yield Phrase("own-rows/unknown", member="first_track.encoding", name=first.encoding)
    if row.heads not in (1, 2) or not 1 <= row.cylinders <= CYLINDERS:
        yield _wrong(f"it has 1 or 2 heads, and 1 to {CYLINDERS} cylinders")
    if not ROTATION[0] <= row.rotation <= ROTATION[1] or not 10 <= row.tracks_per_inch <= 500:
        yield _wrong("rotation or tracks_per_inch is none that a drive has")
        return
    fat = row.fat
    if fat is not None and not (
        1 <= fat.cluster_sectors <= 128 and 1 <= fat.fats <= 4 and 1 <= fat.reserved_sectors <= 64
        and 1 <= fat.fat_sectors <= 256 and 1 <= fat.root_entries <= 4096 and fat.media <= 0xFF
    ):  # fmt: skip
        yield _wrong("fat holds what no file system of a disk has")
        return
    try:
        told = describe(row)
    except (ImagekeeperError, ArithmeticError, ValueError) as problem:
        yield Phrase("own-rows/no-answer", trouble=str(problem)[:200])
        return
    if told.gap3_max is None or (told.clusters is not None and told.clusters < 1):
        yield _wrong("its sectors do not fit the track, or its file system not the disk")


def _wrong(trouble: str) -> Phrase:
    return Phrase("own-rows/sense", trouble=trouble)


_CHECKS: dict[str, Callable[[OwnRow], Iterator[Phrase]]] = {
    "pinout": _pinout, "chip": _chip, "maker": _maker, "signature": _of_chip, "medium": _medium, "drive": _drive,
    "format": _format,
}  # fmt: skip
