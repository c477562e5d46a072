"""Results of audits, copies and repairs of the archive, as plain text for people."""

from __future__ import annotations

from collections.abc import Iterable

from imagekeeper.archive.audit_report import Audit, Discrepancy
from imagekeeper.cli._shell import paint
from imagekeeper.cli._text import wrapped
from imagekeeper.units import plural, size_text


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
    if result.damaged or result.missing:
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
