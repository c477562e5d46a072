"""The checks that are built into a ROM."""

from __future__ import annotations

from collections.abc import Iterator

from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page, painted
from imagekeeper.selfchecks.results import Check, SelfCheck
from imagekeeper.units import address_digits, plural, range_text, size_text


def selfcheck_text(result: SelfCheck) -> str:
    """Show what holds: the conclusion first, then each check with its chance."""
    digits = address_digits(result.start + max(result.size_bytes, result.length_bytes))
    heads = {
        "strong": painted("The image checks itself", "good"),
        "weak": painted("Nothing that proves the image", "strong"),
        "none": painted("No built-in check found", "strong"),
    }
    if result.exit_code:
        heads[result.conclusion] = painted("The image breaks its own check", "bad")
    rows = [["searched", f"{range_text(result.start, result.length_bytes, digits)}, {size_text(result.length_bytes)}"]]
    if result.copies > 1:
        rows.append(["copies", f"the image holds these bytes {result.copies} times over; one copy was searched"])
    if result.header is not None:
        rows.append(["header", _header(result)])
    lines = [result.name, f"{heads[result.conclusion]}. {result.says}", "", *parts.table(rows)]
    for one in result.holds[: parts.SHOWN]:
        lines += ["", *_check(one)]
    if len(result.holds) > parts.SHOWN:
        lines += ["", f"  and {len(result.holds) - parts.SHOWN} more; --json lists all"]
    if result.findings:
        lines += ["", *(line for found in result.findings for line in parts.finding(found))]
    return page(lines)


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
