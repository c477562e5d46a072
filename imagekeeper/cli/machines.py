"""The commands `machine ...`: the computers and instruments that carriers belong to."""

from __future__ import annotations

from typing import Any

import click

from imagekeeper.cli import _asking, _session, _shell
from imagekeeper.cli._remarks import note_command, photo_command
from imagekeeper.jobs.carriers import describing
from imagekeeper.present.text.machines import machine_list_text, machine_text


def _described(command: _shell.Command) -> _shell.Command:
    """Add the options that describe a machine."""
    for option in reversed((
        click.option("--maker", metavar="NAME", help="Who made it."),
        click.option("--model", metavar="NAME", help="Its model."),
        click.option("--serial", metavar="NUMBER", help="Its serial number."),
        click.option("--owner", metavar="NAME", help="Whose it is."),
        click.option("--note", metavar="TEXT", help="Anything else that is known."),
    )):  # fmt: skip
        command = option(command)
    return command


@click.group()
def machine() -> None:
    """Keep what is known of a computer or instrument, and see its carriers.

    Carriers belong to the machine that they name, by its name or by its ID.
    """


@machine.command(epilog="Example: imagekeeper machine add tg85 --name 'Quillmere TG-85' --serial 0117")
@click.argument("machine_id", metavar="ID")
@click.option("--name", required=True, metavar="TEXT", help="What it is called.")
@_described
@_asking.really_option
@_session.operator_option
@_session.archive_option
@_shell.json_option
def add(
    machine_id: str, name: str, really: bool, operator: str | None, archive_path: str | None, as_json: bool,
    **texts: Any,
) -> int:  # fmt: skip
    """Begin the record of a machine under ID.

    A name that another machine has, or that is only a slip away from it, is asked about.
    """
    record = describing.add_machine(
        _session.archive(archive_path), machine_id, name, _session.session(operator),
        decide=_asking.decider(really), **texts,
    )  # fmt: skip
    return _shell.show(record, machine_text, as_json)


@machine.command(epilog="Example: imagekeeper machine edit tg85 --owner 'harbour office'")
@click.argument("machine_id", metavar="ID")
@click.option("--name", metavar="TEXT", help="What it is called.")
@_described
@_asking.really_option
@_session.operator_option
@_session.archive_option
@_shell.json_option
def edit(
    machine_id: str, really: bool, operator: str | None, archive_path: str | None, as_json: bool, **texts: str | None
) -> int:
    """Correct what is said of a machine; an empty TEXT takes it away.

    What was said before stays in the record's history.
    """
    given = {name: text for name, text in texts.items() if text is not None}
    record = describing.edit_machine(
        _session.archive(archive_path), machine_id, given, _session.session(operator), decide=_asking.decider(really)
    )
    return _shell.show(record, machine_text, as_json)


@machine.command(epilog="Example: imagekeeper machine show tg85")
@click.argument("machine_id", metavar="ID")
@click.option("--all", "all_", is_flag=True, help="Also its carriers that were taken out of the collection.")
@_session.archive_option
@_shell.json_option
def show(machine_id: str, all_: bool, archive_path: str | None, as_json: bool) -> int:
    """Show everything that is known of the machine."""
    record = describing.show_machine(_session.archive(archive_path), machine_id, all_=all_)
    return _shell.show(record, machine_text, as_json)


@machine.command("list", epilog="Example: imagekeeper machine list")
@click.option("--all", "all_", is_flag=True, help="Also those that were taken out of the collection.")
@_session.archive_option
@_shell.json_option
def list_(all_: bool, archive_path: str | None, as_json: bool) -> int:
    """List the machines, and what carriers name without there being a record of it."""
    return _shell.show(
        describing.list_machines(_session.archive(archive_path), all_=all_), machine_list_text, as_json
    )


@machine.command(epilog="Example: imagekeeper machine deaccession tg85 --reason 'given to the harbour museum'")
@click.argument("machine_id", metavar="ID")
@click.option("--reason", required=True, metavar="TEXT", help="Why; kept, and shown wherever the machine is.")
@_session.operator_option
@_session.archive_option
@_shell.json_option
def deaccession(machine_id: str, reason: str, operator: str | None, archive_path: str | None, as_json: bool) -> int:
    """Take a machine out of the collection: it was given away, sold, lost or thrown out.

    Its record stays, and so do its carriers: take those out one by one that went with it. `machine withdraw ID x1`
    takes it in again.
    """
    from imagekeeper.jobs.carriers import deaccessioning  # slow to load, and a list does without

    record = deaccessioning.deaccession_machine(
        _session.archive(archive_path), machine_id, reason, _session.session(operator)
    )
    return _shell.show(record, machine_text, as_json)


@machine.command(epilog="Example: imagekeeper machine withdraw tg85 x1 --reason 'the museum gave it back'")
@click.argument("machine_id", metavar="ID")
@click.argument("what", metavar="ITEM")
@click.option("--reason", required=True, metavar="TEXT", help="Why; kept with what is taken back.")
@_session.operator_option
@_session.archive_option
@_shell.json_option
def withdraw(
    machine_id: str, what: str, reason: str, operator: str | None, archive_path: str | None, as_json: bool
) -> int:
    """Take back that a machine was taken out of the collection (x1): it is in the collection again."""
    from imagekeeper.jobs.carriers import deaccessioning  # slow to load, and a list does without

    record = deaccessioning.withdraw_of_machine(
        _session.archive(archive_path), machine_id, what, reason, _session.session(operator)
    )
    return _shell.show(record, machine_text, as_json)


machine.add_command(note_command("machine", "Example: imagekeeper machine note tg85 'mains filter replaced'"))
machine.add_command(photo_command(
    "machine", "Example: imagekeeper machine photo tg85 main-board.jpg --caption 'main board, from above'"
))  # fmt: skip
