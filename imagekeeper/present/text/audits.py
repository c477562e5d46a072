"""Audits, copies and repairs of an archive."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page, painted
from imagekeeper.units import plural, size_text

if TYPE_CHECKING:
    from imagekeeper.archive.audits.audit_report import Audit, Discrepancy
    from imagekeeper.archive.audits.reproof import Conclusion, Reproof
    from imagekeeper.archive.exchange.repair_report import Repaired, Restored, SecondHistory
    from imagekeeper.archive.exchange.replica import Replica


def audit_text(result: Audit) -> str:
    """Show an audit: the verdict first."""
    carriers = plural(result.carriers, "carrier")
    if result.scope != "all":
        carriers = f"{result.carriers} of {plural(result.carriers_held, 'carrier')}"
    checked = f"{carriers}, {plural(result.files, 'file')}, {size_text(result.bytes)}"
    good = "All is as it should be" if result.scope == "all" else "All that was checked is as it should be"
    if result.ok:
        return page([painted(good, "good") + f": {checked} read and checked.", *_about(result), *_own(result),
                     *_beyond(result)])
    lines = [painted("Not all is as it should be", "bad") + f": {checked} read and checked."]
    lines += [*_about(result), *_own(result)]
    for title, found in (("damaged", result.damaged), ("missing", result.missing), ("unexpected", result.unexpected)):
        lines += _discrepancies(title, found)
    if not (result.damaged or result.missing or result.unexpected):
        lines.append("  next: look at that record with carrier show, and at a copy of the archive: the files that were")
        lines.append("        read are as they were kept, and what a record says of them is not")
    elif result.damaged or result.missing:
        lines.append("  next: imagekeeper archive repair --from DIR restores it from a replica, DIR")
    else:
        lines.append("  next: imagekeeper archive repair --quarantine-unexpected moves it aside; nothing is deleted")
    return page(lines)


def _own(result: Audit) -> list[str]:
    """Say what is wrong with own rows: nobody damaged them, and they count for nothing."""
    lines = [line for one in result.own_rows for line in parts.wrapped("  own row: ", f"{one.where}: {one.why}")]
    return [*lines, "  next: imagekeeper table list tells what to do about each"] if lines else []


def _beyond(result: Audit) -> list[str]:
    """Say what an audit leaves out."""
    if result.reproof is not None:
        return []
    return ["  Bytes and records only: archive audit --reprove derives what they conclude."]


def _reproved(reproof: Reproof) -> list[str]:
    """Show what came of deriving conclusions again: what is wrong in full, what is only old or unknown in short."""
    lines = [f"  {plural(reproof.proved, 'conclusion')} proved again from the files that were read."]
    lines += _contradicted(reproof.contradicted)
    for one in reproof.stale:
        lines += parts.wrapped("  stale: ", f"{_place(one)}: {one.what}: {one.why}")
    if reproof.stale:
        lines.append("  to do: carrier agree settles anew what is stale; it is no damage")
    reasons: dict[str, int] = {}
    for one in reproof.not_derivable:
        reasons[one.why or ""] = reasons.get(one.why or "", 0) + 1
    for why, count in reasons.items():
        lines += parts.wrapped("  not derivable: ", f"{plural(count, 'conclusion')}: {why}")
    return lines


def _contradicted(found: Iterable[Conclusion]) -> list[str]:
    lines = []
    for one in found:
        lines += parts.wrapped("  contradicted: ", f"{_place(one)}: {one.what}: {one.why}")
        if one.expected is not None or one.found is not None:
            lines.append(f"    expected {_short(one.expected)}, found {_short(one.found)}")
    return lines


def _place(one: Conclusion) -> str:
    return f"{one.carrier} {one.path}".strip()


def _about(result: Audit) -> list[str]:
    lines = []
    if result.resumed:
        lines.append(f"  It went on with the audit of {result.resumed}, which had been stopped.")
    if result.changed:
        lines += parts.wrapped("  ", "Changed since, and checked again: " + ", ".join(result.changed))
    if result.rebuilt is not None:
        lines.append(f"  {plural(result.rebuilt.made, 'derived or voted image')} made again, as kept.")
        for one in result.rebuilt.wrong:
            lines += parts.wrapped("  wrong: ", f"{one.carrier} {one.what}: {one.why}")
    if result.reproof is not None:
        lines += _reproved(result.reproof)
    if result.scope != "all":
        lines.append(
            f"  Every carrier was checked since {result.every_since}." if result.every_since
            else "  Some carriers were never checked yet."
        )  # fmt: skip
    if not result.noted:
        lines.append("  note: the archive cannot be written to, so its log does not tell of this")
    return lines


def _discrepancies(title: str, found: Iterable[Discrepancy]) -> list[str]:
    """Show what is wrong, each with what was expected."""
    lines = []
    for one in found:
        lines += parts.wrapped(f"  {title}: ", f"{one.path}: {one.why}")
        if one.expected or one.found:
            lines.append(f"    expected {_short(one.expected)}, found {_short(one.found)}")
    return lines


def _short(value: str | None) -> str:
    if value is None:
        return "nothing"
    return value[:16] + "…" if len(value) > 40 else value


def replica_text(result: Replica) -> str:
    """Show what bringing a copy up to date did."""
    done = painted("The copy is up to date", "good") if result.ok else painted("The copy is not complete", "bad")
    lines = [f"{done}: {result.path}, {plural(result.carriers, 'carrier')}."]
    if result.versions:
        lines.append(
            f"  copied now: {plural(len(result.added), 'new carrier')}, newer versions of "
            f"{plural(len(result.extended), 'carrier')}, {size_text(result.bytes)}"
        )
    if result.beside:
        lines += parts.wrapped("  your own files beside the carriers: ", ", ".join(result.beside))
    lines += _discrepancies("not copied", result.not_copied)
    for carrier in result.erased:
        lines.append(f"  erased in the archive, still in the copy: {carrier}")
    if result.erased:
        lines += parts.wrapped("  ", "nothing is taken from a copy: to be rid of it there, make the copy anew")
    if result.ok:
        lines.append(f"  next: imagekeeper archive audit --archive {result.path} reads the copy again")
    else:
        lines.append(f"  next: imagekeeper archive repair --from {result.path}, then copy again")
        lines.append(f"        and for the copy: imagekeeper archive repair --archive {result.path} --from the archive")
    return page(lines)


def repaired_text(result: Repaired) -> str:
    """Show what a repair did, and what is left."""
    done = bool(result.interrupted or result.restored or result.set_aside)
    if result.ok:
        words = "All is as it should be now" if done else "Nothing was to be repaired: all is as it should be"
        lines = [painted(words, "good") + "."]
    else:
        lines = [painted("Not all could be put right", "bad") + "."]
    for found in result.interrupted:
        lines += parts.wrapped("  interrupted: ", f"{found.path}: {found.what}")
    for file in result.restored:
        lines += parts.wrapped("  restored: ", f"{file.path}, from {_origin(file)}" + _kept(file.quarantine))
    for one in result.set_aside:
        lines += parts.wrapped("  set aside: ", one.path + _kept(one.quarantine))
    if result.events:
        lines += parts.wrapped("  told in the history of: ", ", ".join(result.events))
    elif result.of_copy and result.restored:
        lines += parts.wrapped("  ", "told in log/repairs.jsonl: this is a copy, and holds just what the archive holds")
    for refused in result.refused:
        lines += parts.wrapped("  refused: ", f"{refused.carrier}: {refused.why}")
    if result.log_incomplete:
        lines += parts.wrapped(
            "  ", "Lines of the log of commits were damaged or missing: taken was only what the rest of it, or the log "
            "of the copy, notes.",
        )  # fmt: skip
    for second in result.second:
        lines += _second(second)
    lines += _discrepancies("damaged", result.damaged) + _discrepancies("missing", result.missing)
    lines += _contradicted(result.contradicted)
    lines += _discrepancies("unexpected", result.unexpected)
    for second in result.second:
        if second.archive is not None:
            lines.append(f"  next: imagekeeper archive merge {second.archive}, in the archive's folder,")
            lines.append(f"        takes the second history of {second.carrier} in")
    if result.damaged or result.missing:
        lines.append("  next: repeat it with --from and another copy of the archive")
    elif any(one.here for one in result.refused):
        lines.append("  next: repeat it with --from and a copy that holds the noted history")
    elif result.unexpected:
        lines.append("  next: --quarantine-unexpected moves aside what is unexpected; nothing is deleted")
    return page(lines)


def _origin(file: Restored) -> str:
    return f"the {file.origin}" if file.stray is None else f"{file.stray}, which is the same"


def _second(one: SecondHistory) -> list[str]:
    """Show a second history of a carrier."""
    single = one.head <= one.version
    versions = f"another version {one.version}" if single else f"other versions {one.version} to {one.head}"
    where = f"it lies in {one.archive} now, as an archive of its own" if one.archive else f"left as it lay: {one.why}"
    return parts.wrapped("  second history: ", f"{one.carrier}: {one.found} tells of {versions}; {where}")


def _kept(quarantine: str | None) -> str:
    return "" if quarantine is None else f"; what was there lies in {quarantine}"
