"""The commands `carrier ...`: one carrier's life.

Each command loads what it needs when it is called, so that a list of 100,000 carriers need not wait for it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from imagekeeper.cli import _asking, _session, _shell
from imagekeeper.cli._carrier_images import derive_command, extract_command
from imagekeeper.cli._carrier_replace import replace
from imagekeeper.cli._carrier_testimony import correct, deaccession, erase, explain, tried, withdraw
from imagekeeper.cli._remarks import note_command, photo_command
from imagekeeper.jobs.images.loading import Options
from imagekeeper.present.text.carriers import (
    added_text,
    agreement_text,
    carrier_list_text,
    carrier_text,
    kept_text,
    todo_text,
)
from imagekeeper.provenance.agreed import GRADE_NAMES
from imagekeeper.provenance.kinds import KINDS

if TYPE_CHECKING:
    from imagekeeper.comparison.majority import By


def _described(command: _shell.Command) -> _shell.Command:
    """Add the options that describe a carrier."""
    for option in reversed((
        click.option("--part", metavar="PART", help="The type as marked, such as 27128."),
        click.option("--machine", metavar="NAME", help="The machine it belongs to, by its name or its id."),
        click.option("--board", metavar="NAME", help="The board it sits on."),
        click.option("--position", metavar="NAME", help="The designator beside its socket, the drive, the shelf."),
        click.option("--label", metavar="TEXT", help="What is written on it."),
        click.option("--markings", metavar="TEXT", help="What its maker printed on it."),
        click.option("--date-code", metavar="TEXT", help="The date code among the markings, such as 8512."),
        click.option("--package", metavar="TEXT", help="Its package, such as 'DIP 28, ceramic, with window'."),
        click.option("--condition", metavar="TEXT", help="What can be seen of its state."),
    )):  # fmt: skip
        command = option(command)
    return command


@click.group()
def carrier() -> None:
    """Keep what is known of one chip or disk.

    An ID is a short name that can be a folder's name, such as tg85-u4.
    """


@carrier.command(
    epilog="Example: imagekeeper carrier add tg85-u4 --kind eprom --part 27128 --machine 'Quillmere TG-85' "
    "--board main --position U4 --label 'TG85 2.1 EVEN'"
)
@click.argument("carrier_id", metavar="ID")
@click.option("--kind", type=click.Choice(list(KINDS)), required=True, metavar="KIND", help=", ".join(KINDS) + ".")
@_described
@click.option("--note", metavar="TEXT", help="Anything else that is known.")
@_asking.really_option
@_session.operator_option
@_session.archive_option
@_shell.json_option
def add(
    carrier_id: str, kind: str, really: bool, operator: str | None, archive_path: str | None, as_json: bool,
    **texts: Any,
) -> int:  # fmt: skip
    """Begin the record of a chip or disk under ID."""
    from imagekeeper.jobs.carriers import keeping  # slow to load, and a list does without

    record = keeping.add_carrier(
        _session.archive(archive_path), carrier_id, kind, _session.session(operator),
        decide=_asking.decider(really), **texts,
    )  # fmt: skip
    return _shell.show(record, added_text, as_json)


@carrier.command(epilog="Example: imagekeeper carrier edit tg85-u4 --position U5 --condition 'one bent pin'")
@click.argument("carrier_id", metavar="ID")
@click.option("--kind", type=click.Choice(list(KINDS)), metavar="KIND", help="What it is.")
@_described
@click.option("--note", metavar="TEXT", help="Anything else that is known; `carrier note` adds a remark instead.")
@_asking.really_option
@_session.operator_option
@_session.archive_option
@_shell.json_option
def edit(
    carrier_id: str, really: bool, operator: str | None, archive_path: str | None, as_json: bool, **texts: str | None
) -> int:
    """Correct what is said of a carrier; an empty TEXT takes it away.

    What was said before stays in the record's history.
    """
    from imagekeeper.jobs.carriers import describing  # slow to load, and a list does without

    given = {name: text for name, text in texts.items() if text is not None}
    record = describing.edit_carrier(
        _session.archive(archive_path), carrier_id, given, _session.session(operator), decide=_asking.decider(really)
    )
    return _shell.show(record, carrier_text, as_json)


carrier.add_command(
    note_command("carrier", "Example: imagekeeper carrier note tg85-u4 'window covered with black tape'")
)
carrier.add_command(
    photo_command("carrier", "Example: imagekeeper carrier photo tg85-u4 u4-top.jpg --caption 'before cleaning'")
)


@carrier.command(
    epilog="Example: imagekeeper carrier read tg85-u4 u4-first.bin --reader 'bench reader' --vcc 5.0 --date 2026-03-02"
)
@click.argument("carrier_id", metavar="ID")
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@click.option("--reader", metavar="NAME", help="The reader that was used.")
@click.option("--date", metavar="DATE", help="When it was read: 2026-03-02, a time as in RFC 3339, or only 2026-03.")
@click.option("--vcc", metavar="VOLTS", help="The supply voltage, such as 5.0.")
@click.option("--temperature", metavar="CELSIUS", help="The temperature, such as 21.5.")
@click.option("--specimen", metavar="NAME", help="Which of several equal chips or disks was read.")
@_session.between_options
@click.option("--retries", metavar="COUNT", help="How often the drive tried a sector again at most.")
@click.option(
    "--bad-sectors", "lists", multiple=True, metavar="LIST",
    help="What the reader says it did not read well, as CSV: cylinder,head,sector,state, or start,length,state in "
    "bytes. Once for each FILE in order; - for one without a list.",
)  # fmt: skip
@click.option(
    "--geometry", metavar="GEOMETRY|FORMAT", help="Of the disk, to place the sectors of the list; without it the "
    "content tells.",
)  # fmt: skip
@click.option("--note", "notes", multiple=True, metavar="TEXT", help="A remark; may be repeated.")
@_asking.really_option
@_session.operator_option
@_session.archive_option
@_shell.reading_options
@_shell.json_option
def read(
    carrier_id: str, files: tuple[str, ...], reader: str | None, date: str | None, vcc: str | None,
    temperature: str | None, specimen: str | None, retries: str | None, lists: tuple[str, ...], geometry: str | None,
    notes: tuple[str, ...], really: bool, operator: str | None, archive_path: str | None, options: Options,
    as_json: bool, **between: Any,
) -> int:  # fmt: skip
    """Keep one or more reads of the carrier: each FILE untouched, and the image it stands for beside it.

    What is not given is recorded as unknown. Reads that differ in reader, person, supply voltage or specimen prove
    more than repeated ones, but only where both are known. So a name that is only a slip away from a known one is asked
    about, and what cannot be so is refused; --really records it all the same, and shows it.

    Reads of a disk prove more where they come from another drive, and where each comes with the list of what its reader
    could not read: what no list calls well read stands open, even if all reads are equal there.
    """
    from imagekeeper.jobs.carriers import keeping  # slow to load, and a list does without

    record = keeping.add_reads(
        _session.archive(archive_path), carrier_id, files, options,
        keeping.Conditions(
            reader=reader, operator=operator, date=date, vcc=vcc, specimen=specimen, notes=notes,
            temperature=temperature, retries=retries, **between,
        ), _session.session(operator), lists=lists, geometry=geometry, decide=_asking.decider(really),
        progress=_shell.bar,
    )  # fmt: skip
    return _shell.show(record, lambda r: kept_text(r, len(files)), as_json)


@carrier.command(epilog="Example: imagekeeper carrier agree tg85-u4 --reference CBF43926='printed on the label'")
@click.argument("carrier_id", metavar="ID")
@click.option(
    "--reference", "references", multiple=True, metavar="DIGEST[=SOURCE]",
    help="A CRC-32, SHA-1 or SHA-256 known from elsewhere, with where it comes from; may be repeated.",
)  # fmt: skip
@click.option(
    "--by-vote", type=click.Choice(["byte", "bit"]), is_flag=False, flag_value="byte",
    help="Accept the majority of three or more reads, of whole bytes (also when neither is named) or of bits.",
)  # fmt: skip
@_session.operator_option
@_session.archive_option
@_shell.json_option
def agree(
    carrier_id: str, references: tuple[str, ...], by_vote: By | None, operator: str | None,
    archive_path: str | None, as_json: bool,
) -> int:  # fmt: skip
    """Compare all reads of the carrier, record the image they agree on, and grade the evidence.

    The exit code is 1 when the reads differ: then the image is disputed, and nothing is chosen for you. With --by-vote
    you accept the majority; where an address has none, nothing is recorded.
    """
    from imagekeeper.jobs.carriers import agreeing  # slow to load, and a list does without

    known = {digest: source or None for digest, _, source in (text.partition("=") for text in references)}
    result = agreeing.agree(
        _session.archive(archive_path), carrier_id, _session.session(operator), references=known,
        by_vote=by_vote, progress=_shell.bar,
    )  # fmt: skip
    return _shell.show(result, agreement_text, as_json)


@carrier.command(epilog="Example: imagekeeper carrier show tg85-u4")
@click.argument("carrier_id", metavar="ID")
@_session.archive_option
@_shell.json_option
def show(carrier_id: str, archive_path: str | None, as_json: bool) -> int:
    """Show everything that is known of the carrier."""
    from imagekeeper.jobs.carriers.showing import show_carrier  # slow to load, and a list does without

    return _shell.show(show_carrier(_session.archive(archive_path), carrier_id), carrier_text, as_json)


@carrier.command("list", epilog="Example: imagekeeper carrier list --machine tg-85 --grade disputed")
@click.option("--machine", metavar="NAME", help="Only carriers of this machine; part of its name is enough.")
@click.option("--kind", type=click.Choice(list(KINDS)), metavar="KIND", help="Only carriers of this kind.")
@click.option(
    "--grade", type=click.Choice(GRADE_NAMES), metavar="GRADE",
    help="Only carriers of this grade: " + ", ".join(GRADE_NAMES) + ".",
)
@click.option(
    "--sort", type=click.Choice(["id", "machine", "added"]), default="id", show_default=True,
    help="By id; by machine, board and position; or the newest first.",
)  # fmt: skip
@click.option("--limit", type=click.IntRange(1, 1_000_000), metavar="N", help="At most so many.")
@click.option("--todo", is_flag=True, help="What to do next instead, the most urgent first, with the reasons.")
@click.option("--all", "all_", is_flag=True, help="Also those that were taken out of the collection.")
@_session.archive_option
@_shell.json_option
def list_(
    machine: str | None, kind: str | None, grade: str | None, sort: str, limit: int | None, todo: bool, all_: bool,
    archive_path: str | None, as_json: bool,
) -> int:  # fmt: skip
    """List the carriers with their reads and grades.

    Those that were taken out of the collection are left out, and counted at the end. There is nothing to do for them,
    so --todo never shows them.
    """
    from imagekeeper.jobs.archive import checking  # slow to load, and other commands do without

    if todo:
        from imagekeeper.jobs.carriers import next_reads, urging  # slow to load: only for the list of what to do

        archive = _session.archive(archive_path)
        found = checking.list_carriers(
            archive, machine=machine, kind=kind, grade=grade, progress=_shell.bar
        )
        urgent = urging.todo(found.carriers, limit, taken_out=found.taken_out, set_aside=found.set_aside)
        return _shell.show(next_reads.with_next_reads(archive, urgent), todo_text, as_json)
    result = checking.list_carriers(
        _session.archive(archive_path), machine=machine, kind=kind, grade=grade, sort=sort, limit=limit,
        all_=all_, progress=_shell.bar,
    )  # fmt: skip
    return _shell.show(result, carrier_list_text, as_json)


carrier.add_command(extract_command)
carrier.add_command(derive_command)
carrier.add_command(replace)
carrier.add_command(explain)
carrier.add_command(tried)
carrier.add_command(correct)
carrier.add_command(withdraw)
carrier.add_command(deaccession)
carrier.add_command(erase)
