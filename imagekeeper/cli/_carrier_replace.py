"""The command carrier replace."""

from __future__ import annotations

from typing import Any

import click

from imagekeeper.cli import _asking, _session, _shell
from imagekeeper.jobs.images.loading import Options
from imagekeeper.present.text.replacement import replacement_text


@click.command(
    epilog="Example: imagekeeper carrier replace tg85-u4 back1.bin back2.bin --written u4.hex --part 27C128 --vcc 5.0"
)
@click.argument("carrier_id", metavar="ID")
@click.argument("files", nargs=-1, metavar="[READ-BACK]...")
@click.option("--written", metavar="FILE", help="The file that went into the new chip or onto the new disk.")
@click.option("--add-to", metavar="REPLACEMENT", help="Add read-backs to one that is recorded, such as w1.")
@click.option("--part", metavar="PART", help="What it was made of, such as 27C128.")
@click.option(
    "--image", "what", default="agreed", show_default=True, metavar="IMAGE", help="Of which image: agreed, r1, d1."
)
@click.option("--reader", metavar="NAME", help="The reader that read it back.")
@click.option("--vcc", metavar="VOLTS", help="The supply voltage of the read-back, such as 4.75.")
@click.option("--date", metavar="DATE", help="When: 2026-03-02, a time as in RFC 3339, or only 2026-03.")
@_session.between_options
@click.option("--markings", metavar="TEXT", help="What is printed on the new chip.")
@click.option("--date-code", metavar="TEXT", help="The date code among that, such as 9145.")
@click.option("--blank", metavar="FILE", help="What was read from the new chip before it was written: all blank.")
@click.option("--look-again", metavar="DATE", help="When to read it again, such as 2036.")
@click.option("--note", metavar="TEXT", help="A remark.")
@_asking.really_option
@_session.operator_option
@_session.archive_option
@_shell.reading_options
@_shell.json_option
def replace(
    carrier_id: str, files: tuple[str, ...], written: str | None, add_to: str | None, part: str | None, what: str,
    reader: str | None, vcc: str | None, date: str | None, note: str | None, really: bool, operator: str | None,
    archive_path: str | None, options: Options, as_json: bool, markings: str | None, date_code: str | None,
    blank: str | None, look_again: str | None, **between: Any,
) -> int:  # fmt: skip
    """Record a new chip or disk that was made from the carrier's image, and prove it by what is read back.

    It is proved when at least two read-backs are what was written, show all of the chip, and differ in reader or supply
    voltage (a disk: in the drive), and reader, person and time are stated for each. The file that was written is no
    read-back, whatever it is called. The exit code is 1 when one differs, or when the chip
    cannot hold what was written or read back. What cannot be so, or looks like a slip of a known name, is asked about
    or refused, as with `carrier read`.
    """
    if (written is None) == (add_to is None):
        raise click.UsageError("give --written for a new replacement, or --add-to for more read-backs of one")
    from imagekeeper.jobs.carriers.conditions import Conditions  # slow to load, and other commands do without
    from imagekeeper.jobs.carriers.replacing import MadeOf, add_read_backs, add_replacement

    conditions = Conditions(reader=reader, operator=operator, date=date, vcc=vcc, **between)
    archive, session = _session.archive(archive_path), _session.session(operator)
    if written is not None:
        result = add_replacement(
            archive, carrier_id, part, written, files, options, conditions, session, what=what, note=note,
            made_of=MadeOf(markings=markings, date_code=date_code, blank=blank, look_again=look_again),
            decide=_asking.decider(really),
        )
    else:
        if any(text is not None for text in (part, note, markings, date_code, blank, look_again)):
            raise click.UsageError(
                "--part, --note and what is said of the chip belong to a new replacement, not to --add-to"
            )
        result = add_read_backs(
            archive, carrier_id, add_to or "", files, options, conditions, session, decide=_asking.decider(really)
        )
    return _shell.show(result, replacement_text, as_json)
