"""The commands `archive export`, `archive import` and `archive merge`: between archives and with the world."""

from __future__ import annotations

import click

from imagekeeper.cli import _session, _shell
from imagekeeper.units import plural, size_text
from imagekeeper.workflows import exporting


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
    ids: tuple[str, ...], output: str, machine: str | None, to: exporting.Form | None, operator: str | None,
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
