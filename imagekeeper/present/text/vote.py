"""The majority of several reads."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from imagekeeper.comparison.majority import Majority
from imagekeeper.present.text import parts
from imagekeeper.present.text.compared_disk import disk_lines
from imagekeeper.present.text.comparison import remaining
from imagekeeper.present.text.paper import page, painted
from imagekeeper.units import address_digits, plural, size_text

#: With more reads than this their votes are counted, not listed one by one.
MAX_COLUMNS = 12


def majority_text(result: Majority, shown: int = 16) -> str:
    """Show a vote: what came of it, who was outvoted, and so many of the disputed addresses."""
    return page(majority_lines(result, shown))


def majority_lines(result: Majority, shown: int) -> list[str]:
    """Give the lines of a vote, for a text of which they are a part."""
    lines = [*_head(result), "", *_voters(result)]
    if result.output is not None:
        lines += ["", *_written(result)]
    elif result.container is not None:
        lines += ["", *_not_written(result)]
    if result.signs:
        lines += ["", "  the voted image shows by itself:"]
        lines += [line for one in result.signs for line in parts.finding(one)]
    if result.findings:
        lines += ["", *(line for found in result.findings for line in parts.finding(found))]
    if result.disk is not None:
        lines += ["", *disk_lines(result.disk)]
    elif result.list:
        lines += ["", *_disputed(result, shown)]
    if result.remaining is not None:
        lines += ["", *remaining(result.remaining)]
    return lines


def _head(result: Majority) -> list[str]:
    lines = [_outcome(result)]
    if result.signs:
        fault = any(one.severity == "fault" for one in result.signs)
        what = "the sign of a fault" if fault else "what must be looked into"
        lines.insert(0, painted(f"The voted image shows {what}", "bad") + ", which no vote mends.")
    if result.unlike:
        unlike = painted("The reads do not hold the same addresses", "bad")
        lines.insert(0, f"{unlike}: only what all of them hold was voted on.")
    return lines


def _outcome(result: Majority) -> str:
    disputed = result.disputed
    voted = result.unanimous + disputed.addresses
    how = "" if result.by == "byte" else ", bit by bit"
    if not disputed.addresses:
        return painted("All reads agree", "good") + f" at {plural(voted, 'address', 'addresses')}."
    if result.fill_outvotes:
        head = painted("Fill would outvote content", "bad")
        return f"{head}; {disputed.addresses} of {voted} were disputed{how}."
    if not disputed.ties:
        if result.disk is not None:
            head = painted("Not every sector has a majority" if result.mixed else "Every sector has a majority",
                           "bad" if result.mixed else "good")  # fmt: skip
            return f"{head}: {result.disk.sectors - result.disk.agree} of {result.disk.sectors} were disputed{how}."
        head = painted("Every address has a majority", "good")
        return f"{head}: {disputed.addresses} of {voted} were disputed{how}."
    head = painted(f"No majority at {plural(disputed.ties, 'address', 'addresses')}", "bad")
    return f"{head}; {disputed.addresses} of {voted} were disputed{how}."


def _voters(result: Majority) -> list[str]:
    weighed = any(read.vcc is not None for read in result.reads)
    rows = [["", "read", "bytes", "container", "SHA-256", *(["volt", "weight"] if weighed else []), "outvoted at"]]
    for number, read in enumerate(result.reads, 1):
        weight = ["-" if read.vcc is None else f"{read.vcc:g}", str(read.weight)] if weighed else []
        rows.append(
            [
                str(number), read.name, str(read.size_bytes), parts.container(read.container, read.wrapped_in),
                read.sha256[:16] + "…", *weight, str(read.outvoted),
            ]
        )  # fmt: skip
    return parts.table(rows, right=[0, 2, *range(5, len(rows[0]))])


def _written(result: Majority) -> list[str]:
    lines = [
        f"  written  {result.output}: {result.container}, {size_text(result.size_bytes)}",
        f"  SHA-256  {result.sha256} (of the image)",
    ]
    if result.disputed.ties:
        where = {"gap": "gaps", "first": "the first read's value"}.get(result.ties, f"filled with {result.ties}")
        lines.append(f"  ties     {plural(result.disputed.ties, 'address', 'addresses')}: {where}")
    return lines


def _not_written(result: Majority) -> list[str]:
    if result.fill_outvotes:
        return parts.wrapped("  nothing was written: ", "fill would outvote content, which would be lost")
    why = "no address has a majority" if not result.size_bytes else "it would have too many gaps"
    if result.container == "raw" and result.size_bytes:
        why = "a raw file cannot show gaps"
    return parts.wrapped(
        "  nothing was written: ",
        f"{why}; give an output that can hold gaps, such as OUT.hex, or decide with --ties first or --ties FF",
    )


def _disputed(result: Majority, shown: int) -> list[str]:
    digits = address_digits(result.list[-1].address + 1)
    single = len(result.reads) <= MAX_COLUMNS
    heads = [str(number) for number in range(1, len(result.reads) + 1)] if single else ["votes"]
    rows = [["address", *heads, "voted"]]
    for disputed in result.list[:shown]:
        votes = disputed.values if single else [_counted(disputed.values)]
        tie = "none" if disputed.tied_bits == "FF" else f"none in bits {disputed.tied_bits}"
        rows.append([f"{disputed.address:0{digits}X}", *votes, disputed.voted or tie])
    lines = parts.table(rows) if shown else []
    rest = result.disputed.addresses - min(shown, len(result.list))
    if rest:
        lines.append(f"  and {plural(rest, 'more disputed address', 'more disputed addresses')}")
    return lines


def _counted(values: Sequence[str]) -> str:
    """Say how many reads give each value, the most frequent first.

    Example:
        >>> _counted(["41", "C1", "41"])
        '2 × 41, 1 × C1'
    """
    return ", ".join(f"{count} × {value}" for value, count in Counter(values).most_common())
