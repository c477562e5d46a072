"""Whether reads agree, and where they differ."""

from __future__ import annotations

import math

from imagekeeper.comparison.comparison import Comparison
from imagekeeper.comparison.confidence import Remaining
from imagekeeper.comparison.next_read import NextRead
from imagekeeper.present.text import parts
from imagekeeper.present.text.compared_disk import disk_lines
from imagekeeper.present.text.paper import Tone, page, painted
from imagekeeper.units import address_digits, plural, range_text, size_text


def comparison_text(result: Comparison, ranges: int = 16, picture: str | None = None) -> str:
    """Show a comparison: the verdict first, then the evidence.

    Args:
        result: The comparison.
        ranges: So many differing ranges are listed.
        picture: The file that a map of the differences was written to, or None.
    """
    return page([*comparison_lines(result, ranges), *(["", f"picture: {picture}"] if picture is not None else [])])


def comparison_lines(result: Comparison, ranges: int) -> list[str]:
    """Give the lines of a comparison, for a text of which they are a part."""
    count = len(result.reads)
    differences = result.differences
    digits = address_digits(max(read.first_address + read.size_bytes for read in result.reads))
    tone: Tone
    verdict, rest, tone = f"The {count} reads differ", "", "bad"
    if result.agree:
        verdict, rest, tone = _agreed(result)
    elif differences.bytes == 0:
        verdict = f"The {count} reads differ in what they cover"
        rest = f", not in the {size_text(differences.compared_bytes)} they have in common."
    elif result.disk is not None:
        apart = result.disk.sectors - result.disk.agree
        rest = f" in {apart} of {plural(result.disk.sectors, 'sector')} of the disk."
    else:
        rest = (
            f" at {differences.bytes} of {plural(differences.compared_bytes, 'address', 'addresses')}, "
            f"in {plural(differences.bits, 'bit')}: {differences.zero_to_one} from 0 to 1, "
            f"{differences.one_to_zero} from 1 to 0 "
            f"(from the first read to {'the second' if count == 2 else 'any other'})."
        )
    lines = parts.wrapped("", verdict + rest)
    lines[0] = lines[0].replace(verdict, painted(verdict, tone), 1)
    lines += ["", *_reads(result), *_signs(result)]
    if result.findings:
        lines += ["", *(line for found in result.findings for line in parts.finding(found))]
    if result.next_read is not None:
        lines += ["", *next_read(result.next_read)]
    if result.disk is not None:
        lines += ["", *disk_lines(result.disk)]
    elif differences.bytes:
        lines += ["", *_ranges(result, ranges, digits), "", *_lines(result)]
    if result.remaining is not None:
        lines += ["", *remaining(result.remaining)]
    return lines


def next_read(step: NextRead) -> list[str]:
    """Say what to read next, and what each outcome would mean."""
    lines = parts.wrapped("  next read  ", step.does)
    for outcome in step.outcomes:
        lines += parts.wrapped("             ", outcome.says)
    return lines


def _agreed(result: Comparison) -> tuple[str, str, Tone]:
    """Say that reads are equal, and no more than that proves."""
    count = sum(read.same_file_as is None for read in result.reads)
    same = f"the same {size_text(result.size_bytes)} at the same addresses"
    if result.verdict == "one-file":
        times = "twice" if len(result.reads) == 2 else f"{len(result.reads)} times"
        return f"One file, given {times}, proves nothing", ": it always agrees with itself.", "bad"
    again = "" if count == len(result.reads) else f" {_COPIES}"
    if result.verdict == "agree":
        return f"The {count} reads agree", f": {same}.{again}", "good"
    fault = any(one.severity == "fault" for one in result.reads[0].signs)
    what = "the sign of a fault" if fault else "what must be looked into"
    verdict = f"The {count} reads agree, and share {what}"
    return verdict, f": {same}, and what is wrong in one is wrong in all.{again}", "bad"


_COPIES = "A file that was given again counts once."


def _signs(result: Comparison) -> list[str]:
    """Show what each read alone shows, once for reads of which the same is to be said."""
    alike: dict[tuple[str, ...], list[int]] = {}
    for number, read in enumerate(result.reads, 1):
        if read.signs:
            alike.setdefault(tuple(one.why for one in read.signs), []).append(number)
    lines: list[str] = []
    for numbers in alike.values():
        whose = f"{'read' if len(numbers) == 1 else 'each of the reads'} {', '.join(map(str, numbers))}"
        lines += ["", f"  {'each read' if len(numbers) == len(result.reads) else whose} shows by itself:"]
        lines += [line for one in result.reads[numbers[0] - 1].signs for line in parts.finding(one)]
    return lines


def remaining(left: Remaining) -> list[str]:
    """Say what random faults may have left, in one short line."""
    if left.against is not None:
        why_not = f"no estimate: {left.against} is no random fault; find the cause, and read again"
        return parts.wrapped("  random faults: ", why_not)
    return parts.wrapped(
        "  random faults: ", f"leave a wrong byte {_odds(left.chance)}; what repeats itself is not counted"
    )


def _odds(chance: float) -> str:
    """Say a chance as odds that can be imagined.

    Example:
        >>> _odds(1.7e-5), _odds(0.3), _odds(1e-30)
        ('at most once in 58,000', 'with a chance of up to 30 %', 'less than once in 1,000,000,000,000')
    """
    if chance >= 0.1:
        return f"with a chance of up to {math.ceil(chance * 100)} %"
    if chance < 1e-12:
        return "less than once in 1,000,000,000,000"
    times = 1 / chance
    step = 10 ** max(math.floor(math.log10(times)) - 1, 0)
    return f"at most once in {math.floor(times / step) * step:,}"


def _reads(result: Comparison) -> list[str]:
    group_of = {number: i for i, group in enumerate(result.groups) for number in group}
    rows = [["", "read", "bytes", "container", "SHA-256", "equal to"]]
    for number, read in enumerate(result.reads, 1):
        others = [str(n) for n in result.groups[group_of[number]] if n != number]
        rows.append(
            [
                str(number), read.name, str(read.size_bytes), parts.container(read.container, read.wrapped_in),
                read.sha256[:16] + "…", ", ".join(others) or "none",
            ]
        )  # fmt: skip
    return parts.table(rows, right=[0, 2])


def _ranges(result: Comparison, count: int, digits: int) -> list[str]:
    differences = result.differences
    shown = differences.ranges[:count]
    rows = [["differing addresses", "bytes", "0 to 1", "1 to 0"]]
    rows += [
        [range_text(r.start, r.length, digits), str(r.length), str(r.zero_to_one), str(r.one_to_zero)] for r in shown
    ]
    lines = parts.table(rows, right=[1, 2, 3]) if shown else []
    if differences.ranges_total > len(shown):
        rest = differences.ranges_total - len(shown)
        lines.append(f"  and {plural(rest, 'more range')}" if shown else f"  {plural(rest, 'differing range')}")
    return lines


def _lines(result: Comparison) -> list[str]:
    """Counts by data line on the left, by address line on the right."""
    left = [["data line", "0 to 1", "1 to 0"]]
    left += [[d.line, str(d.zero_to_one), str(d.one_to_zero)] for d in result.differences.data_lines]
    right = [["address line", "where 0", "where 1"]]
    right += [[a.line, str(a.low), str(a.high)] for a in result.differences.address_lines]
    height = max(len(left), len(right))
    left += [["", "", ""]] * (height - len(left))
    right += [["", "", ""]] * (height - len(right))
    return parts.table([[*a, "  ", *b] for a, b in zip(left, right, strict=True)], right=[1, 2, 5, 6])
