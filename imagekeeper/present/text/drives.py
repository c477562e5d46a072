"""Which drive writes and reads a disk, and how it is set."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from imagekeeper.drives import Caution, DriveMatch, Settings, Solution, Substitute, Verdict
from imagekeeper.present.text import parts
from imagekeeper.present.text.formats import RECORDED
from imagekeeper.present.text.paper import page
from imagekeeper.tables.controllers import controller_rows

#: The short text shows as many cautions as fit on a screen of so many lines, within limits. [line]
SCREEN = 24
FEWEST, MOST = 2, 5

#: It shows so many ways to write the disk with what is on the bench.
_WAYS = 3

#: Cables of which the short text says nothing.
_COMMON = ("34-twisted", "34-straight")


ANSWERS = {"yes": "yes", "with-care": "with care", "no": "no"}


def drive_request_text(result: DriveMatch) -> str:
    """Show what to ask for: what the bench lacks, or drive and disk where no bench is known."""
    return page((result.request or "Nothing is wanting: your bench has the drive and the disk.").split("\n"))


def drives_text(result: DriveMatch) -> str:
    """Show the answer on one screen."""
    lines = [*_head(result), *_ways(result, _WAYS), "", *_overview(result), ""]
    others = ["", "Looks the same to its machine's controller, but takes other disks:"] if result.substitutes else []
    others += parts.table([_other(one) for one in result.substitutes]) if result.substitutes else []
    room = SCREEN - len(lines) - len(others) - 1
    for one in list(_foremost(result.drives))[:min(max(room, FEWEST), MOST)]:
        lines += parts.wrapped("  caution: ", one.text)
    lines += parts.own(result.own)
    more = "  --full: reasons, all settings and cautions, how to adapt such a drive, sources"
    return page([*lines, *others, more])


def drives_in_full_text(result: DriveMatch) -> str:
    """Show everything."""
    lines = [*_head(result), *_ways(result, None), "", *_overview(result)]
    for one in result.drives:
        if one.settings is not None:
            lines += ["", *_verdict(one)]
    for other in result.substitutes:
        lines += ["", *_substitute(other)]
    wires = next((one.wires for one in result.substitutes if one.wires), ())
    if wires:
        lines += ["", "adapter: line of the 50, line of the 34"]
        lines += parts.table([[str(wire.fifty), str(wire.thirty_four), wire.signal] for wire in wires], right=[0, 1])
        for wire in wires:
            for says in wire.disputed:
                lines += parts.wrapped(f"  disputed: line {wire.fifty}: ", says)
    lines += parts.own(result.own)
    lines += ["", "cautions"]
    ways = [] if result.bench is None else [one.answer for one in result.bench.solutions]
    for caution in _once([*result.drives, *result.substitutes, *ways]):
        text, because = ("(From memory.) " if part in caution.unsourced else "" for part in ("text", "because"))
        lines += _hung(f"{caution.rule}: {text}{caution.text} Why: {because}{caution.because}")
    lines += ["", "sources"]
    for source in result.sources:
        lines += _hung(str(source))
    return page(lines)


def _hung(words: str) -> list[str]:
    first, *rest = parts.wrapped("    ", words)
    return [first[2:], *rest]


def _head(result: DriveMatch) -> list[str]:
    lines = [] if result.bench is None else parts.wrapped("", result.bench.says)
    lines += parts.wrapped("" if result.bench is None else "  of all drives: ", result.says)
    lines += parts.wrapped("  ", result.disk)
    if result.assumes is not None:
        lines += parts.wrapped("  taken for granted: ", result.assumes)
    if result.other_formats:
        lines += parts.wrapped("  ", f"The file may as well be of: {', '.join(result.other_formats)}")
    return lines


def _ways(result: DriveMatch, most: int | None) -> list[str]:
    """The ways to write the disk with what is on the bench, the best first; those that begin with one's own things."""
    found = [] if result.bench is None else result.bench.solutions
    if not found or not any(one.answer.controller or one.answer.cable or one.answer.shown for one in found):
        return []   # the sentences have said all
    rows = [["way", "write", "drive", "controller", "cable", "to get"]]
    for number, one in enumerate(found[:most], 1):
        way = one.answer
        missing = {each.kind: each for each in way.missing}
        rows.append([
            str(number), ANSWERS[way.can_write], way.drive or f"({way.drive_class})",
            way.controller or ("(to get)" if "controller" in missing else "any"),
            way.cable or (f"({way.cable_class})" if way.cable_class else "-"), ", ".join(missing) or "nothing",
        ])  # fmt: skip
    lines = ["", *parts.table(rows)]
    if most is None:
        for number, one in enumerate(found, 1):
            for reason in one.evidence:
                lines += parts.wrapped(f"  {number} {'for' if reason.weight > 0 else 'against'}: ", reason.says)
            row = controller_rows().get(one.answer.controller_class or "")
            if row is not None:
                note = f" {row.note}" if row.note else ""
                lines += parts.wrapped(f"  {number} controller: ", f"{row.title}; on line 2: {row.line_2}.{note}")
            for each in one.answer.missing:
                some = f" ({', '.join(each.classes)})" if each.classes else ""
                lines += parts.wrapped(f"  {number} to get: ", f"a {each.kind}: {each.says}{some}")
    best = found[0].answer
    if best.harm is not None and (most is None or best.cable_class not in _COMMON):
        lines += parts.wrapped("  before it is connected: ", best.harm)
    for caution in list(_once([best]))[: None if most is None else 1]:
        lines += parts.wrapped("  before it is connected: ", caution.text)
    return lines


def _overview(result: DriveMatch) -> list[str]:
    """The drives that do something, and in few lines those that do not."""
    rows = [["drive", "write", "read", "kbit/s", "rev/min", "step", "disk to buy"]]
    for one in result.drives:
        if one.settings is not None:
            rows.append([one.drive, ANSWERS[one.can_write], ANSWERS[one.can_read], *_set(one.settings)])
    lines = parts.table(rows, right=[3, 4])
    reasons: dict[str, list[str]] = {}
    for one in result.drives:
        if one.settings is None:
            reasons.setdefault(_short(one), []).append(one.drive)
    unfit = "disks of another size"
    for reason, names in reasons.items():
        if reason != unfit:
            lines += parts.wrapped("  no: ", f"{', '.join(names)}: {reason}")
    return lines


def _set(settings: Settings) -> list[str]:
    oersted = " to ".join(map(str, settings.coercivity_oe))
    disk = f"{settings.media}, {oersted} Oe" if oersted else settings.media
    return [f"{settings.data_rate / 1000:g}", str(settings.rotation), settings.step, disk]


def _short(one: Verdict) -> str:
    """Why not, in a few words."""
    return "disks of another size" if "does not fit" in one.because[0] else one.because[0]


def _other(one: Substitute) -> list[str]:
    rate, rotation, _, disk = _set(one.settings)
    doubt = "if it has that mode" if any(caution.rule == "optional-mode" for caution in one.cautions) else ""
    return [one.drive, f"{rate} kbit/s", f"{rotation} rev/min", disk, doubt]


def _foremost(verdicts: Iterable[Verdict]) -> Iterator[Caution]:
    """Choose the cautions that matter: those of the drive that needs the most care, or else of the best drive."""
    some = [one for one in verdicts if one.can_write != "no"]
    care = [one for one in some if one.can_write == "with-care"]
    return _once(care[::-1] or some[:1])


def _once(some: Iterable[Verdict | Substitute | Solution]) -> Iterator[Caution]:
    shown: set[str] = set()
    for one in some:
        for caution in one.cautions:
            if caution.rule not in shown:
                shown.add(caution.rule)
                yield caution


def _settings(settings: Settings, label: str = "set") -> Iterator[str]:
    encoding = RECORDED[settings.encoding]
    yield from parts.wrapped(
        f"  {label}: ",
        f"{encoding} at {settings.data_rate / 1000:g} kbit/s, {settings.rotation} rev/min, {settings.step} steps; "
        f"density line: {settings.density}",
    )
    yield from parts.wrapped("  buy: ", settings.buy)
    yield from parts.wrapped("  blank: ", settings.blank)
    if settings.precompensation is not None:
        yield from parts.wrapped("  precompensation: ", settings.precompensation)


def _verdict(one: Verdict) -> Iterator[str]:
    yield f"{one.drive}: {one.title}: write {ANSWERS[one.can_write]}, read {ANSWERS[one.can_read]}"
    assert one.settings is not None
    yield from _settings(one.settings)
    for settings in one.alternatives:
        yield from list(_settings(settings, "or set"))[:1]
    for reason in one.because:
        yield from parts.wrapped("  because: ", reason)
    yield from parts.wrapped("  cautions: ", ", ".join(caution.rule for caution in one.cautions))


def _substitute(one: Substitute) -> Iterator[str]:
    yield f"{one.drive} in place of {one.instead_of}: {one.title}"
    yield from parts.wrapped("  the same: ", one.same)
    yield from _settings(one.settings)
    for text in one.adapt:
        yield from parts.wrapped("  adapt: ", text)
    for text in one.not_solved:
        yield from parts.wrapped("  not solved: ", text)
    yield from parts.wrapped("  cautions: ", ", ".join(caution.rule for caution in one.cautions))
