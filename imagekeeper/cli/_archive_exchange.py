"""The commands `archive export`, `archive import` and `archive merge`: between archives and with the world."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from imagekeeper.archive.exchange.bag import Form
from imagekeeper.cli import _session, _shell
from imagekeeper.jobs.archive import exchanging, exporting
from imagekeeper.present.text import text_of
from imagekeeper.present.text.exchange import exported_text, imported_text

if TYPE_CHECKING:
    from imagekeeper.archive.ocfl.inventory import Inventory
    from imagekeeper.archive.store import ArchiveStore
    from imagekeeper.provenance.machines import MachineRecord
    from imagekeeper.provenance.records import CarrierRecord


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
    return _shell.show(result, exported_text, as_json)


def _shown(archive: ArchiveStore, record: CarrierRecord | MachineRecord, inventory: Inventory) -> None:
    """Show a record that is to be taken in as `carrier show` and `machine show` will."""
    text_of(record)


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
        _session.archive(archive_path), bag, _session.session(operator), dry_run=dry_run, shown=_shown,
        progress=_shell.bar,
    )  # fmt: skip
    return _shell.show(result, imported_text, as_json)


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
        _session.archive(archive_path), other, _session.session(operator), dry_run=dry_run, shown=_shown,
        progress=_shell.bar,
    )  # fmt: skip
    return _shell.show(result, imported_text, as_json)
