"""What one maker's sheet says of its chip: makers of one number differ in pulses, voltages and limits."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

from imagekeeper.chips.differences import differing
from imagekeeper.chips.model import Chip, MakerFigures
from imagekeeper.chips.timing import methods_of
from imagekeeper.errors import NotFoundError
from imagekeeper.sentences.say import Phrase
from imagekeeper.tables import Cited, sources
from imagekeeper.tables.chips import ChipRow, chip_rows
from imagekeeper.tables.makers import MakerRow, maker_named, maker_rows, maker_words
from imagekeeper.tables.volts import NO_VOLTS, Volts, volts_text

#: What a maker's row and the row of the chip both have.
_SHARED = ("vpp_v", "vpp_max_v", "vcc_programming_v", "methods")

#: What a maker's row holds in another shape than its figures.
_OTHERWISE = {"vpp_v", "vcc_programming_v", "methods", "sources"}


def figures_of(part: str) -> tuple[MakerFigures, ...]:
    """Give what is known of each maker's chip, in the order of the table.

    Example:
        >>> print(said(figures_of("2732A")[1]).partition(" (")[0])
        Vpp 21 V, never above 22 V; Vcc meanwhile 5 V, never above 7 V; one pulse of 10 ms a byte; 0.1 uF from pin 20 to ground.
    """  # noqa: E501  # an example stands on one line
    plain = {one.name for one in fields(MakerFigures)} & {one.name for one in fields(MakerRow)} - _OTHERWISE
    return tuple(
        MakerFigures(
            **{name: getattr(row, name) for name in plain}, methods=methods_of(chip_rows()[part], row.methods),
            sources=tuple(cited.id for cited in row.sources),
            vpp_v=row.vpp_v.figures, vpp_kind=row.vpp_v.kind_or_none, vcc_programming_v=row.vcc_programming_v.figures,
            vcc_programming_kind=row.vcc_programming_v.kind_or_none,
        )
        for row in maker_rows().get(part, ())
    )  # fmt: skip


def said(one: MakerFigures) -> str:
    """Say one maker's figures in a line, with the sheet that gives them; what was not seen is left out."""
    parts = []
    if one.vpp_v or one.vpp_max_v:
        parts.append(_supply("Vpp", one.vpp, one.vpp_max_v))
    if one.vcc_programming_v or one.vcc_max_v:
        parts.append(_supply("Vcc meanwhile", one.vcc_programming, one.vcc_max_v))
    if one.a9_max_v:
        parts.append(f"A9 never above {one.a9_max_v:g} V")
    parts += [method.title for method in one.methods]
    text = "; ".join(parts + ([one.note.rstrip(".")] if one.note else []))
    return f"{text}. ({'; '.join(str(sources()[name]) for name in one.sources)})"


def missing(chip: Chip) -> str | None:
    """Say what is not known of how a chip is written, of its maker's where that was named; None where all is.

    Example:
        >>> from imagekeeper.chips import find
        >>> missing(find("W27C512"))
        "Vcc meanwhile, method: the chip's own data sheet decides; what was seen does not say"
        >>> [missing(find(part)) for part in ("2716", "28C64", "2332", "6264")]
        [None, None, None, None]
    """
    if chip.voltage_unknown or chip.carrier in ("mask-rom", "ram", "clock-ram"):
        return None
    high = (("Vpp", chip.vpp_v), ("Vcc meanwhile", chip.vcc_programming_v))
    given = (*(high if chip.pin_of("Vpp") or chip.vpp_v else ()), ("method", chip.methods or chip.programming))
    names = [name for name, values in given if not values]
    if not names:
        return None
    whose, seen = ("that maker's", "what was seen of it") if chip.maker else ("the chip's own", "what was seen")
    return f"{', '.join(names)}: {whose} data sheet decides; {seen} does not say"


def _supply(name: str, volts: Volts, most: float | None) -> str:
    words = [volts.text("method")] if volts else []
    words += [f"never above {volts_text(most)}"] if most else []
    return f"{name} {', '.join(words)}"


def of_maker(row: ChipRow, maker: str) -> ChipRow:
    """Put one maker's figures into the row of a chip, in the place of those of all makers.

    What was not seen in its sheet is that of all makers, but for what makers are known to differ in: that is left out.

    Raises:
        NotFoundError: `maker-unknown`: the table has no sheet of that maker's chip.
    """
    name = maker_named(maker)
    known = maker_rows().get(row.id, ())
    found = next((one for one in known if one.maker == name), None)
    if found is None:
        raise _unknown(row, maker, name, known)
    given = {one: getattr(found, one) for one in _SHARED if getattr(found, one)}
    if found.vpp_max_v is not None:
        given["vpp_max_v"] = (found.vpp_max_v,)
    open_ones: dict[str, Any] = {
        one: NO_VOLTS for one in ("vpp_v", "vcc_programming_v") if getattr(row, one).kind == "any"
    }
    if "methods" in differing(known):
        open_ones["methods"] = ()
    hidden = {one: value for one, value in open_ones.items() if one not in given}
    given |= hidden
    cited = tuple(Cited(one.id, tuple(field for field in one.gives if field in given)) for one in found.sources)
    kept = tuple(Cited(one.id, tuple(field for field in one.gives if field not in given)) for one in row.sources)
    return replace(
        row, **given, sources=(*cited, *(one for one in kept if one.gives)),
        unsourced=tuple(one for one in row.unsourced if one not in given),
        disputed=tuple(one for one in row.disputed if one.field not in hidden),
    )  # fmt: skip


def electric_twins(row: ChipRow) -> tuple[ChipRow, ...]:
    """Find the chips of the same pins and size that are erased electrically; none for a chip that is one itself."""
    if row.technology == "electric-eprom":
        return ()
    return tuple(one for one in chip_rows().values() if one.technology == "electric-eprom"
                 and (one.pinout, one.words) == (row.pinout, row.words))  # fmt: skip


def twin_named(row: ChipRow, text: str) -> ChipRow | None:
    """Find the twin whose maker is named in a marking: `Winbond 27C512` is a W27C512.

    Example:
        >>> twin_named(chip_rows()["27C512"], "27C512 Winbond").id
        'W27C512'
    """
    words = text.upper().replace("-", " ").split()
    for twin in electric_twins(row):
        if any(known in words for one in maker_rows().get(twin.id, ()) for known in maker_words(one.maker)):
            return twin
    return None


def _unknown(row: ChipRow, maker: str, name: str | None, known: tuple[MakerRow, ...]) -> NotFoundError:
    shown = repr(maker[:40])
    figures = maker_rows()
    twin = next((one for one in electric_twins(row) if name in {its.maker for its in figures.get(one.id, ())}), None)
    if twin is not None:
        return NotFoundError("maker-unknown/twin", maker=name, twin=twin.id, chip=row.id)
    makers = [one.maker for one in known]
    return NotFoundError(
        "maker-unknown", chip=row.id, maker=shown,
        known=Phrase("maker-unknown/known", makers=makers) if makers else Phrase("maker-unknown/not-apart"),
        without=Phrase("maker-unknown/no-voltage") if row.ask_maker else Phrase("maker-unknown/generic"),
    )  # fmt: skip
