"""What a chip could be whose number the table does not have: dangers first."""

from __future__ import annotations

from collections.abc import Iterator

from imagekeeper.chips.unmarked import MEASURED, UnknownChip
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page
from imagekeeper.tables.chips import TECHNOLOGIES

#: So many chips are named in a line without --all.
MOST = 5


def unknown_chip_text(result: UnknownChip, *, everything: bool = False) -> str:
    """Show the dangers, the candidates, their pins, and what to do."""
    lines = parts.wrapped("", result.says)
    if result.measured:
        called: dict[str, str] = dict(MEASURED.items())
        found = ", ".join(f"pin {pin} to {called.get(what, what)}" for pin, what in result.measured.items())
        lines += parts.wrapped("  as measured: ", found)
    lines += [""]
    for danger in result.dangers:
        lines += parts.wrapped("  danger: ", danger)
    if result.candidates:
        lines += ["", "It could be:", *_candidates(result), *parts.own(result.own)]
    if result.ruled_out:
        lines += ["", "It is not:"]
        for part, why in list(result.ruled_out.items())[: None if everything else MOST]:
            lines += parts.wrapped(f"  {part}: ", why)
        lines += _rest(len(result.ruled_out), everything)
    lines += _pins(result, everything)
    lines += ["", "In this order:"]
    for number, step in enumerate(result.steps, 1):
        lines += parts.wrapped(f"  {number:>2}. ", step)
    lines += [""]
    told = "Pins of the table are often from memory, and it does not have every chip: the chip's own sheet decides."
    return page([*lines, *parts.wrapped("  ", told)])


def _candidates(result: UnknownChip) -> list[str]:
    rows = [["share", "chip", "technology", "words", "bits", "supplies"]]
    for one in result.candidates:
        volts = ", ".join(f"{volts:+g} V" for volts in sorted(set(one.supplies_v.values()), reverse=True))
        rows.append([f"{one.score:.0%}", one.part, TECHNOLOGIES[one.technology], str(one.words), str(one.bits), volts])
    return parts.table(rows, right=[0, 3, 4])


def _pins(result: UnknownChip, everything: bool) -> Iterator[str]:
    if len(result.candidates) > 1 and result.agreed:
        yield ""
        agreed = ", ".join(f"{one.number} {one.meanings[0].what}" for one in result.agreed)
        yield from parts.wrapped("  all agree on: ", agreed)
    for one in result.differing:
        if one is result.differing[0]:
            yield from ("", "They differ on:")
        for n, meaning in enumerate(one.meanings):
            names = ", ".join(meaning.parts[: None if everything else MOST])
            more = "" if everything or len(meaning.parts) <= MOST else f" and {len(meaning.parts) - MOST} more"
            yield from parts.wrapped(f"  {f'pin {one.number}' if n == 0 else '':<8}{meaning.what}: ", names + more)


def _rest(count: int, everything: bool) -> list[str]:
    return [] if everything or count <= MOST else [f"  and {count - MOST} more (--all)"]
