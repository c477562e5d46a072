"""The command chip substitute."""

from __future__ import annotations

import re
from functools import partial
from typing import TYPE_CHECKING

import click

from imagekeeper.cli import _shell

if TYPE_CHECKING:
    from imagekeeper.substitution.lines import Level

LEVELS: dict[str, Level] = {"high": "high", "low": "low"}


def _tied(context: click.Context, parameter: click.Parameter, values: tuple[str, ...]) -> dict[int, Level]:
    found: dict[int, Level] = {}
    for text in values:
        match = re.fullmatch(r"([0-9]{1,2})=(high|low)", text)
        if match is None:
            raise click.BadParameter(f"{text!r} is not a pin and its level, such as 26=high")
        pin, level = int(match[1]), LEVELS[match[2]]
        if found.setdefault(pin, level) != level:
            raise click.BadParameter(f"pin {pin} cannot be both high and low")
    return found


@click.command(epilog="Example: imagekeeper chip substitute 2716 --access-ns 350")
@click.argument("socket", metavar="SOCKET-PART")
@click.argument("part", metavar="[PART]", required=False)
@click.option("--access-ns", type=click.IntRange(1, 100_000), metavar="N", help="How fast a chip must be.")
@click.option(
    "--tied", multiple=True, callback=_tied, metavar="PIN=LEVEL",
    help="A pin of the socket that the board holds high or low, such as 26=high. Repeat it for several.",
)
@click.option("--writes", is_flag=True, help="The board writes to the chip in this socket, as to an EEPROM.")
@click.option("--never-writes", is_flag=True, help="It never does. With neither said, the answer hangs on it.")
@click.option("--all", "everything", is_flag=True, help="Show every chip: also too small, too slow, dangerous.")
@_shell.json_option
def substitute(
    socket: str, part: str | None, access_ns: int | None, tied: dict[int, Level], writes: bool,
    never_writes: bool, everything: bool, as_json: bool,
) -> int:  # fmt: skip
    """Tell which chips can take the place of SOCKET-PART, best first, and what must be done for it.

    It is worked out pin by pin: what the socket gives, and what the other chip needs or would suffer there. With PART
    only that chip is judged, with every pin, the wiring of its adapter, and what to try on it with a meter. Each
    proposal is proved on a simulated bus; what that contradicts is refused.

    The exit code is 1 when nothing but the original's own type can do the work, or when PART cannot.
    """
    if writes and never_writes:
        raise click.UsageError("--writes and --never-writes cannot both be true")
    # the solver and the simulated bus are slow to load, and the other commands about chips do without
    from imagekeeper.present.text.substitution import substitute_text, substitutes_text
    from imagekeeper.substitution import substitutes

    said = writes if writes or never_writes else None
    result = substitutes(socket, part, access_ns=access_ns, tied=tied, writes=said)
    text = substitute_text if part is not None else partial(substitutes_text, everything=everything)
    return _shell.show(result, text, as_json)
