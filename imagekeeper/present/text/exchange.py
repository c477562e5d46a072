"""Carriers handed on to another archive, and taken in from one."""

from __future__ import annotations

from imagekeeper.jobs.archive import exchanging, exporting
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page
from imagekeeper.units import plural, size_text


def exported_text(result: exporting.Export) -> str:
    """Show what was handed on, and where it lies."""
    kinds = {"folder": "a folder", "zip": "a zip file", "tar": "a tar file"}
    machines = f" and {plural(len(result.machines), 'record')} of machines" if result.machines else ""
    lines = [
        f"{result.path}: a bag as {kinds[result.form]}, {plural(len(result.carriers), 'carrier')}{machines}, "
        f"{plural(result.files, 'file')}, {size_text(result.bytes)}"
    ]
    if not result.noted:
        lines.append("  note: the archive cannot be written to, so its log does not tell of this")
    lines += parts.set_aside(result.set_aside)
    if result.tables:
        lines += parts.wrapped("  own rows go along: ", ", ".join(result.tables))
    lines.append(f"  next: imagekeeper archive import {result.path} --dry-run, in another archive, checks all of it")
    return page(lines)


#: More carriers than these are only counted.
_SHOWN = 40


def imported_text(result: exchanging.Import) -> str:
    """Show what was taken in, or would be, and what is open now."""
    title = result.title or "an archive without a title"
    head = f"{result.source}: from {title}"
    checked = f", every file checked by {' and '.join(result.checked_by)}" if result.checked_by else ""
    lines = [head + checked]
    changed = [one for one in result.taken if one.what != "unchanged"]
    for one in changed[:_SHOWN]:
        lines.append(f"  {one.here}: {_became(one, result.dry_run)}")
        for text in one.said:
            lines += parts.wrapped("    ", text)
    if len(changed) > _SHOWN:
        lines.append(f"  and {len(changed) - _SHOWN} more; --json names them all")
    same = len(result.taken) - len(changed)
    if same:
        lines.append(f"  {plural(same, 'record')} with nothing new")
    if not result.taken and not result.set_aside:
        lines.append("  there is no carrier in it")
    for unfit in result.set_aside[:_SHOWN]:
        lines += parts.wrapped("  ", f"{unfit.id} is set aside, and was not taken in: {unfit.why}")
    if len(result.set_aside) > _SHOWN:
        lines.append(f"  and {len(result.set_aside) - _SHOWN} more are set aside; --json names them all")
    if result.passed_over:
        lines += parts.wrapped("  not taken in, for it belongs to no carrier: ", ", ".join(result.passed_over))
    lines += [
        f"  next: imagekeeper carrier agree {one.here}, when you know why the reads differ"
        for one in changed[:_SHOWN]
        if one.disputed
    ]
    if result.own_rows:
        told = f"{plural(result.own_rows, 'row')} of its own tables: until accepted, one by one, they decide nothing"
        lines += parts.wrapped("  came along: ", told)
        lines.append("  next: imagekeeper table list, which shows them with their marks")
    if result.dry_run:
        lines.append("Nothing was changed.")
    return page(lines)


def _became(one: exchanging.TakenIn, dry_run: bool) -> str:
    there = f" (there {one.id})" if one.id != one.here else ""
    reads = f", {plural(one.reads, 'read')}" if one.reads else ""
    what = {
        "added": f"new here{there}, with its history of {plural(one.versions, 'version')}{reads}",
        "extended": f"{plural(one.versions, 'newer version')}{there}{reads}",
        "merged": f"both archives had moved on{there}; what is new there is merged",
    }[one.what]
    return f"would be: {what}" if dry_run else what
