"""The command selfcheck."""

from __future__ import annotations

from typing import Any

import click

from imagekeeper.cli import _shell
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.reads.selfchecking import selfcheck_file
from imagekeeper.present.text.selfcheck import selfcheck_text
from imagekeeper.units import parse_address


class _Range(click.ParamType[tuple[int, int]]):
    """A range as typed, both ends included: `0000-1FFF`."""

    name = "range"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[int, int]:
        if isinstance(value, tuple):
            return value
        first, dash, last = value.partition("-")
        try:
            start, end = parse_address(first), parse_address(last) + 1
        except ValueError:
            self.fail(f"{value!r} is not a range such as 0000-1FFF", param, ctx)
        if not dash or end <= start:
            self.fail(f"{value!r} ends before it starts", param, ctx)
        return start, end


@click.command(epilog="Example: imagekeeper selfcheck u12.bin --stored-at 1FFE --range 0000-1FFD")
@click.argument("file", metavar="FILE")
@click.option(
    "--stored-at", type=_shell.ADDRESS, metavar="ADDRESS", help="Where a check value is expected, in hexadecimal."
)
@click.option(
    "--range", "scope", type=_Range(), metavar="START-END", help="Search these addresses only, both ends included."
)
@_shell.reading_options
@_shell.json_option
def selfcheck(
    file: str, stored_at: int | None, scope: tuple[int, int] | None, options: Options, as_json: bool
) -> int:
    """Find the checks that are built into a ROM's image, and whether they hold.

    Many programs add up their own ROM when the machine starts. The search tries the usual sums, exclusive ors and
    CRCs where they are usually kept, and counts every test: what a few hundred tests bring about by chance is not
    sold as proof. The exit code is 1 when a header in the image claims a sum that its bytes do not give.
    """
    result = selfcheck_file(file, options, scope=scope, stored_at=stored_at)
    return _shell.show(result, selfcheck_text, as_json)
