"""The command selfcheck."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import click

from imagekeeper.cli import _shell, _text
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.reads.selfchecking import selfcheck_file
from imagekeeper.selfchecks.results import Check, SelfCheck
from imagekeeper.units import address_digits, parse_address, plural, range_text, size_text


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
    return _shell.show(result, text, as_json)


def text(result: SelfCheck) -> str:
    """Show what holds: the conclusion first, then each check with its chance."""
    digits = address_digits(result.start + max(result.size_bytes, result.length_bytes))
    heads = {
        "strong": _shell.paint("The image checks itself", fg="green", bold=True),
        "weak": _shell.paint("Nothing that proves the image", bold=True),
        "none": _shell.paint("No built-in check found", bold=True),
    }
    if result.exit_code:
        heads[result.conclusion] = _shell.paint("The image breaks its own check", fg="red", bold=True)
    rows = [["searched", f"{range_text(result.start, result.length_bytes, digits)}, {size_text(result.length_bytes)}"]]
    if result.copies > 1:
        rows.append(["copies", f"the image holds these bytes {result.copies} times over; one copy was searched"])
    if result.header is not None:
        rows.append(["header", _header(result)])
    lines = [result.name, f"{heads[result.conclusion]}. {result.says}", "", *_text.table(rows)]
    for one in result.holds[: _text.SHOWN]:
        lines += ["", *_check(one)]
    if len(result.holds) > _text.SHOWN:
        lines += ["", f"  and {len(result.holds) - _text.SHOWN} more; --json lists all"]
    if result.findings:
        lines += ["", *(line for found in result.findings for line in _text.finding(found))]
    return "\n".join(lines)


def _header(result: SelfCheck) -> str:
    header = result.header
    assert header is not None
    text = f"55 AA, extension ROM of {size_text(header.length_bytes)}"
    if header.sum8 is None:
        return f"{text}: beyond the end of the image" if header.length_bytes else f"{text}: no length is stated"
    if header.sum_ok is None:
        return f"{text}, of a kind that has no sum"
    if not header.sum_ok:
        text = f"{text}, not balanced: its last byte would have to be {header.balance}"
    return f"{text}, sum {header.sum8}"


def _check(one: Check) -> Iterator[str]:
    yield f"  {'strong' if one.strong else 'weak'}: {one.title}"
    yield f"    over {one.where}: {one.computed}"
    yield f"    {one.says}"
    yield f"    a random fault in these bytes escapes it once in {2**one.bits}"
    yield f"    source: {one.source}"
    if one.also:
        yield f"    {plural(len(one.also), 'other test')} {'holds' if len(one.also) == 1 else 'hold'} along with it"
