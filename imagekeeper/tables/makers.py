"""The rows of makers.toml: what one maker's sheet says of its own chip, where makers of one number differ."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from imagekeeper.own import in_force, remembered
from imagekeeper.tables import Cited, bases, load, rows
from imagekeeper.tables.volts import NO_VOLTS, Volts, volts_of


@dataclass(frozen=True, kw_only=True)
class MakerRow:
    """One maker's figures of a chip; what is missing was not seen in its sheet.

    Attributes:
        chip: The id of the chip.
        maker: Who made it.
        vpp_v: The programming voltage. [V]
        vpp_max_v: Its absolute maximum, or None. [V]
        a9_max_v: The absolute maximum of pin A9, or None. [V]
        vcc_programming_v: The supply while programming. [V]
        vcc_max_v: The absolute maximum of the supply, or None. [V]
        methods: Rows of programming.toml.
        note: What else must be known, or None.
        sources: The documents that give all this.
    """

    chip: str
    maker: str
    sources: tuple[Cited, ...]
    vpp_v: Volts = NO_VOLTS
    vpp_max_v: float | None = None
    a9_max_v: float | None = None
    vcc_programming_v: Volts = NO_VOLTS
    vcc_max_v: float | None = None
    methods: tuple[str, ...] = ()
    note: str | None = None


@remembered()
def maker_rows() -> dict[str, tuple[MakerRow, ...]]:
    """The makers' figures, by the id of the chip; chips whose makers are not told apart are left out.

    Example:
        >>> [(one.maker, one.methods) for one in maker_rows()["2732A"]]
        [('SGS-Thomson', ('fixed-50ms',)), ('Texas Instruments', ('fixed-10ms',))]
    """
    found: dict[str, tuple[MakerRow, ...]] = {}
    for row in rows("maker", "makers"):
        plain: dict[str, Any] = {
            name: tuple(value) if isinstance(value, list) else value for name, value in row.items()
        }
        volts = {name: volts_of(row.get(name)) for name in ("vpp_v", "vcc_programming_v")}
        one = MakerRow(**plain | volts | {"sources": bases(row)["sources"]})
        found[one.chip] = (*found.get(one.chip, ()), one)
    return found


def maker_named(text: str) -> str | None:
    """Give a maker of the table its usual name, or None when it is none; capitals and hyphens do not matter.

    Example:
        >>> maker_named("ti"), maker_named("SGS Thomson"), maker_named("somebody")
        ('Texas Instruments', 'SGS-Thomson', None)
    """
    return _names().get(_plain(text))


def maker_words(maker: str) -> tuple[str, ...]:
    """Give the names that a maker goes by, in capitals, letters only.

    Example:
        >>> maker_words("SST")
        ('SST', 'SILICONSTORAGETECHNOLOGY')
    """
    return tuple(known for known, name in _names().items() if name == maker)


@remembered()
def _names() -> dict[str, str]:
    ours = {_plain(one): name for name, others in load("makers")["names"].items() for one in (name, *others)}
    named = (one.members["maker"] for kind in ("maker", "signature") for one in in_force().of(kind))
    return {_plain(name): name for name in named} | ours


def _plain(text: str) -> str:
    return re.sub(r"[^A-Z]", "", text.upper())
