"""The commands `archive export`, `archive import` and `archive merge`: between archives and with the world."""

from __future__ import annotations

import click

from imagekeeper.archive.exchange.bag import Form
from imagekeeper.cli import _session, _shell, _text
from imagekeeper.jobs.archive import exchanging, exporting
from imagekeeper.units import plural, size_text


@click.command(epilog="Example: imagekeeper archive export -o tg85.zip --machine 'Quillmere TG-85'")
@click.argument("ids", nargs=-1, metavar="[ID...]")
@click.option("-o", "--output", required=True, metavar="TARGET", help="The folder or file to make.")
@click.option("--machine", metavar="NAME", help="A machine, by name or id: its record and all its carriers.")
@click.option(
    "--to", type=click.Choice(["folder", "zip", "tar"]),
    help="What to make; without it the ending of TARGET decides, and a folder is made where it says nothing.",
)  # fmt: skip
@_session.operator_option
@_session.archive_option
@_shell.json_option
def export(
    ids: tuple[str, ...], output: str, machine: str | None, to: Form | None, operator: str | None,
    archive_path: str | None, as_json: bool,
) -> int:  # fmt: skip
    """Write carriers with their whole history to a bag, to be handed on or put away.

    Without ID and --machine all of the archive. A bag (RFC 8493, BagIt 1.0) holds the files and their digests; many
    institutions accept it, and `imagekeeper archive import` takes it in. What is damaged is not exported.
    """
    result = exporting.export(
        _session.archive(archive_path), output, _session.session(operator), ids=ids, machine=machine, to=to,
        progress=_shell.bar,
    )  # fmt: skip
    return _shell.show(result, _exported, as_json)


def _exported(result: exporting.Export) -> str:
    kinds = {"folder": "a folder", "zip": "a zip file", "tar": "a tar file"}
    machines = f" and {plural(len(result.machines), 'record')} of machines" if result.machines else ""
    lines = [
        f"{result.path}: a bag as {kinds[result.form]}, {plural(len(result.carriers), 'carrier')}{machines}, "
        f"{plural(result.files, 'file')}, {size_text(result.bytes)}"
    ]
    if not result.noted:
        lines.append("  note: the archive cannot be written to, so its log does not tell of this")
    lines.append(f"  next: imagekeeper archive import {result.path} --dry-run, in another archive, checks all of it")
    return "\n".join(lines)


_dry_run = click.option("--dry-run", is_flag=True, help="Check everything and say what would happen; change nothing.")


@click.command("import", epilog="Example: imagekeeper archive import tg85.zip --dry-run")
@click.argument("bag", metavar="BAG")
@_dry_run
@_session.operator_option
@_session.archive_option
@_shell.json_option
def import_(bag: str, dry_run: bool, operator: str | None, archive_path: str | None, as_json: bool) -> int:
    """Take in the carriers of a bag that archive export made: a folder, zip, tar or tar.gz.

    All of it is checked before anything is taken in. A carrier that is here already gets what is new in it: where both
    archives moved on, the reads and remarks of both are kept, and an image that they settled differently is open again.
    """
    result = exchanging.import_bag(
        _session.archive(archive_path), bag, _session.session(operator), dry_run=dry_run, progress=_shell.bar
    )
    return _shell.show(result, _imported, as_json)


@click.command(epilog="Example: imagekeeper archive merge /media/stick/harbour --dry-run")
@click.argument("other", metavar="OTHER")
@_dry_run
@_session.operator_option
@_session.archive_option
@_shell.json_option
def merge(other: str, dry_run: bool, operator: str | None, archive_path: str | None, as_json: bool) -> int:
    """Take in the carriers of OTHER, another archive's folder, as archive import does with a bag.

    OTHER is only read.
    """
    result = exchanging.merge_archive(
        _session.archive(archive_path), other, _session.session(operator), dry_run=dry_run, progress=_shell.bar
    )
    return _shell.show(result, _imported, as_json)


#: More carriers than these are only counted.
_SHOWN = 40


def _imported(result: exchanging.Import) -> str:
    title = result.title or "an archive without a title"
    head = f"{result.source}: from {title}"
    checked = f", every file checked by {' and '.join(result.checked_by)}" if result.checked_by else ""
    lines = [head + checked]
    changed = [one for one in result.taken if one.what != "unchanged"]
    for one in changed[:_SHOWN]:
        lines.append(f"  {one.here}: {_became(one, result.dry_run)}")
        for text in one.said:
            lines += _text.wrapped("    ", text)
    if len(changed) > _SHOWN:
        lines.append(f"  and {len(changed) - _SHOWN} more; --json names them all")
    same = len(result.taken) - len(changed)
    if same:
        lines.append(f"  {plural(same, 'record')} with nothing new")
    if not result.taken:
        lines.append("  there is no carrier in it")
    if result.passed_over:
        lines += _text.wrapped("  not taken in, for it belongs to no carrier: ", ", ".join(result.passed_over))
    lines += [
        f"  next: imagekeeper carrier agree {one.here}, when you know why the reads differ"
        for one in changed[:_SHOWN]
        if one.disputed
    ]
    if result.dry_run:
        lines.append("Nothing was changed.")
    return "\n".join(lines)


def _became(one: exchanging.TakenIn, dry_run: bool) -> str:
    there = f" (there {one.id})" if one.id != one.here else ""
    reads = f", {plural(one.reads, 'read')}" if one.reads else ""
    what = {
        "added": f"new here{there}, with its history of {plural(one.versions, 'version')}{reads}",
        "extended": f"{plural(one.versions, 'newer version')}{there}{reads}",
        "merged": f"both archives had moved on{there}; what is new there is merged",
    }[one.what]
    return f"would be: {what}" if dry_run else what
