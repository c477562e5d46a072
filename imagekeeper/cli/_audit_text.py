"""Results of audits, copies and repairs of the archive, as plain text for people."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from imagekeeper.cli._shell import paint
from imagekeeper.cli._text import wrapped
from imagekeeper.units import plural, size_text

if TYPE_CHECKING:
    from imagekeeper.archive.audits.audit_report import Audit, Discrepancy
    from imagekeeper.archive.exchange.repair import Repaired
    from imagekeeper.archive.exchange.replica import Replica


def audit(result: Audit) -> str:
    """Show an audit: the verdict first."""
    carriers = plural(result.carriers, "carrier")
    if result.scope != "all":
        carriers = f"{result.carriers} of {plural(result.carriers_held, 'carrier')}"
    checked = f"{carriers}, {plural(result.files, 'file')}, {size_text(result.bytes)}"
    good = "All is as it should be" if result.scope == "all" else "All that was checked is as it should be"
    if result.ok:
        return "\n".join([paint(good, fg="green", bold=True) + f": {checked} read and checked.", *_about(result)])
    lines = [paint("Not all is as it should be", fg="red", bold=True) + f": {checked} read and checked."]
    lines += _about(result)
    for title, found in (("damaged", result.damaged), ("missing", result.missing), ("unexpected", result.unexpected)):
        lines += discrepancies(title, found)
    if not (result.damaged or result.missing or result.unexpected):
        lines.append("  next: look at the record of that image; its files are as they were kept")
    elif result.damaged or result.missing:
        lines.append("  next: imagekeeper archive repair --from DIR restores it from a replica, DIR")
    else:
        lines.append("  next: imagekeeper archive repair --quarantine-unexpected moves it aside; nothing is deleted")
    return "\n".join(lines)


def _about(result: Audit) -> list[str]:
    lines = []
    if result.resumed:
        lines.append(f"  It went on with the audit of {result.resumed}, which had been stopped.")
    if result.changed:
        lines += wrapped("  ", "Changed since, and checked again: " + ", ".join(result.changed))
    if result.rebuilt is not None:
        lines.append(f"  {plural(result.rebuilt.made, 'derived or voted image')} made again, as kept.")
        for one in result.rebuilt.wrong:
            lines += wrapped("  wrong: ", f"{one.carrier} {one.what}: {one.why}")
    if result.scope != "all":
        lines.append(
            f"  Every carrier was checked since {result.every_since}." if result.every_since
            else "  Some carriers were never checked yet."
        )  # fmt: skip
    return lines


def discrepancies(title: str, found: Iterable[Discrepancy]) -> list[str]:
    """Show what is wrong, each with what was expected."""
    lines = []
    for one in found:
        lines += wrapped(f"  {title}: ", f"{one.path}: {one.why}")
        if one.expected or one.found:
            lines.append(f"    expected {_short(one.expected)}, found {_short(one.found)}")
    return lines


def _short(value: str | None) -> str:
    if value is None:
        return "nothing"
    return value[:16] + "…" if len(value) > 40 else value


def replica(result: Replica) -> str:
    """Show what bringing a copy up to date did."""
    words, colour = ("The copy is up to date", "green") if result.ok else ("The copy is not complete", "red")
    done = paint(words, fg=colour, bold=True)
    lines = [f"{done}: {result.path}, {plural(result.carriers, 'carrier')}."]
    if result.versions:
        lines.append(
            f"  copied now: {plural(len(result.added), 'new carrier')}, newer versions of "
            f"{plural(len(result.extended), 'carrier')}, {size_text(result.bytes)}"
        )
    if result.beside:
        lines += wrapped("  your own files beside the carriers: ", ", ".join(result.beside))
    lines += discrepancies("not copied", result.not_copied)
    if result.ok:
        lines.append(f"  next: imagekeeper archive audit --archive {result.path} reads the copy again")
    else:
        lines.append(f"  next: imagekeeper archive repair --from {result.path}, then copy again")
        lines.append(f"        and for the copy: imagekeeper archive repair --archive {result.path} --from the archive")
    return "\n".join(lines)


def repaired(result: Repaired) -> str:
    """Show what a repair did, and what is left."""
    done = bool(result.interrupted or result.restored or result.set_aside)
    if result.ok:
        words = "All is as it should be now" if done else "Nothing was to be repaired: all is as it should be"
        lines = [paint(words, fg="green", bold=True) + "."]
    else:
        lines = [paint("Not all could be put right", fg="red", bold=True) + "."]
    lines += [line for one in result.interrupted for line in wrapped("  interrupted: ", f"{one.path}: {one.what}")]
    for file in result.restored:
        lines += wrapped("  restored: ", f"{file.path}, from the {file.origin}" + _kept(file.quarantine))
    lines += [line for one in result.set_aside for line in wrapped("  set aside: ", one.path + _kept(one.quarantine))]
    if result.events:
        lines += wrapped("  told in the history of: ", ", ".join(result.events))
    lines += [line for one in result.refused for line in wrapped("  refused: ", f"{one.carrier}: {one.why}")]
    lines += discrepancies("damaged", result.damaged) + discrepancies("missing", result.missing)
    lines += discrepancies("unexpected", result.unexpected)
    if result.damaged or result.missing:
        lines.append("  next: repeat it with --from and another copy of the archive")
    elif result.unexpected:
        lines.append("  next: --quarantine-unexpected moves aside what is unexpected; nothing is deleted")
    return "\n".join(lines)


def _kept(quarantine: str | None) -> str:
    return "" if quarantine is None else f"; what was there lies in {quarantine}"
