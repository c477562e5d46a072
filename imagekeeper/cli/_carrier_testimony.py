"""The commands carrier explain, tried, correct, withdraw, deaccession and erase: what people know of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

import click

from imagekeeper.cli import _asking, _session, _shell
from imagekeeper.present.text.carriers import carrier_text

if TYPE_CHECKING:
    from imagekeeper.provenance.testimony import TrialOutcome


@click.command(
    epilog="Example: imagekeeper carrier explain tg85-u12 data-line-stuck --reason 'D7 is not used: 7-bit characters'"
)
@click.argument("carrier_id", metavar="ID")
@click.argument("code", metavar="CODE")
@click.option("--reason", required=True, metavar="TEXT", help="Why it is none; kept, and shown beside the grade.")
@_session.operator_option
@_session.archive_option
@_shell.json_option
def explain(
    carrier_id: str, code: str, reason: str, operator: str | None, archive_path: str | None, as_json: bool
) -> int:
    """Explain why something that speaks against the carrier's image is no contradiction.

    CODE is as carrier show gives it. The explanation stays beside the grade wherever that is shown, and holds until
    there is new evidence.
    """
    from imagekeeper.jobs.carriers import testifying  # slow to load, and a list does without

    record = testifying.explain(
        _session.archive(archive_path), carrier_id, code, reason, _session.session(operator)
    )
    return _shell.show(record, carrier_text, as_json)


@click.command(epilog="Example: imagekeeper carrier tried tg85-u4 --outcome passed --with tg85-u12")
@click.argument("carrier_id", metavar="ID")
@click.option(
    "--outcome", type=click.Choice(["started", "passed", "failed"]), required=True,
    help="The machine started; it tested the image itself and found it good; or it did not work.",
)  # fmt: skip
@click.option(
    "--what", default="original", show_default=True, metavar="ITEM",
    help="What was in the socket or drive: original, or a replacement such as w1.",
)  # fmt: skip
@click.option("--with", "together", multiple=True, metavar="ID", help="Another carrier of the set; may be repeated.")
@click.option("--machine", metavar="NAME", help="The machine; that of the record without it.")
@click.option("--date", metavar="DATE", help="When: 2026-03-02, a time as in RFC 3339, or only 2026-03.")
@click.option("--note", metavar="TEXT", help="A remark, such as the message on the screen.")
@_asking.really_option
@_session.operator_option
@_session.archive_option
@_shell.json_option
def tried(
    carrier_id: str, outcome: str, what: str, together: tuple[str, ...], machine: str | None, date: str | None,
    note: str | None, really: bool, operator: str | None, archive_path: str | None, as_json: bool,
) -> int:  # fmt: skip
    """Record how the carrier's image did in the machine.

    Mains and charged capacitors are in reach of whoever works in an open machine: the rules of the place decide who
    may. A machine that fails with an image speaks against it until another trial, or an explanation, says why.
    """
    from imagekeeper.jobs.carriers import testifying  # slow to load, and a list does without

    record = testifying.add_trial(
        _session.archive(archive_path), carrier_id, cast("TrialOutcome", outcome), _session.session(operator),
        what=what, together=together, machine=machine, date=date, note=note,
        decide=_asking.decider(really),
    )  # fmt: skip
    return _shell.show(record, carrier_text, as_json)


@click.command(
    epilog="Example: imagekeeper carrier correct tg85-u4 r2 --vcc 4.75 --reason 'read from the wrong line of the log'"
)
@click.argument("carrier_id", metavar="ID")
@click.argument("read_id", metavar="READ")
@click.option("--reader", metavar="NAME", help="The reader that was used.")
@click.option("--by", "operator_text", metavar="NAME", help="Who read.")
@click.option("--date", metavar="DATE", help="When it was read.")
@click.option("--vcc", metavar="VOLTS", help="The supply voltage.")
@click.option("--temperature", metavar="CELSIUS", help="The temperature.")
@click.option("--specimen", metavar="NAME", help="Which of several equal chips or disks was read.")
@click.option("--adapter", metavar="NAME", help="What stood between the chip and the reader's own socket.")
@click.option("--cable", metavar="NAME", help="The cable.")
@click.option("--drive", metavar="NAME", help="The drive that a disk was read in.")
@click.option("--controller", metavar="NAME", help="What drove that drive.")
@click.option("--retries", metavar="COUNT", help="How often it tried a sector again at most.")
@click.option("--reason", required=True, metavar="TEXT", help="Why; kept with the old value.")
@_asking.really_option
@_session.operator_option
@_session.archive_option
@_shell.json_option
def correct(
    carrier_id: str, read_id: str, reason: str, operator_text: str | None, really: bool, operator: str | None,
    archive_path: str | None, as_json: bool, **texts: str | None,
) -> int:  # fmt: skip
    """Correct what was said of a READ such as r2; an empty text takes a value away.

    The old value stays in the record's history, and what rested on it is weighed again.
    """
    from imagekeeper.jobs.carriers import correcting  # slow to load, and a list does without

    given = {name: text for name, text in {**texts, "operator": operator_text}.items() if text is not None}
    record = correcting.correct_read(
        _session.archive(archive_path), carrier_id, read_id, given, reason, _session.session(operator),
        decide=_asking.decider(really),
    )  # fmt: skip
    return _shell.show(record, carrier_text, as_json)


@click.command(
    epilog="Example: imagekeeper carrier withdraw tg85-u4 r3 --reason 'this was the chip from U5'"
)
@click.argument("carrier_id", metavar="ID")
@click.argument("what", metavar="ITEM")
@click.option("--reason", required=True, metavar="TEXT", help="Why; kept with what is taken back.")
@_session.operator_option
@_session.archive_option
@_shell.json_option
def withdraw(
    carrier_id: str, what: str, reason: str, operator: str | None, archive_path: str | None, as_json: bool
) -> int:
    """Take back a read (r2), an explanation (e1), a trial (t1), a read-back (w1/2) or a picture (photo-1).

    The file and its record stay; it is no evidence any more, and what rested on it is weighed again. With a deaccession
    (x1) the carrier is in the collection again.
    """
    from imagekeeper.jobs.carriers import correcting  # slow to load, and a list does without

    record = correcting.withdraw(
        _session.archive(archive_path), carrier_id, what, reason, _session.session(operator)
    )
    return _shell.show(record, carrier_text, as_json)


@click.command(
    epilog="Example: imagekeeper carrier deaccession tg85-u4 --reason 'given to the harbour museum'"
)
@click.argument("carrier_id", metavar="ID")
@click.option("--reason", required=True, metavar="TEXT", help="Why; kept, and shown wherever the carrier is.")
@_session.operator_option
@_session.archive_option
@_shell.json_option
def deaccession(carrier_id: str, reason: str, operator: str | None, archive_path: str | None, as_json: bool) -> int:
    """Take a carrier out of the collection: it was given away, sold, lost or thrown out.

    Its record and all its files stay: lists leave it out and say so, pages list it apart, and no label is made for it.
    `carrier withdraw ID x1` takes it in again.
    """
    from imagekeeper.jobs.carriers import deaccessioning  # slow to load, and a list does without

    record = deaccessioning.deaccession_carrier(
        _session.archive(archive_path), carrier_id, reason, _session.session(operator)
    )
    return _shell.show(record, carrier_text, as_json)


@click.command(epilog="Example: imagekeeper carrier erase tg85-u4 --reason 'its owner wants nothing of it kept'")
@click.argument("carrier_id", metavar="ID")
@click.option("--reason", required=True, metavar="TEXT", help="Why; kept, and shown wherever the stub is.")
@click.option("--confirm", metavar="WORD", help="The word that the first call gave: then it is erased.")
@_session.operator_option
@_session.archive_option
@_shell.json_option
def erase(
    carrier_id: str, reason: str, confirm: str | None, operator: str | None, archive_path: str | None, as_json: bool
) -> int:
    """Erase a carrier that was taken out of the collection: all its files go, and nothing brings them back.

    The first call changes nothing: it shows what would go, and a word that confirms it. The exit code is then 1. What
    stays is a stub, such as tg85-u4-erased, with the reason and the digests of the files.
    """
    from imagekeeper.jobs.carriers import erasing  # slow to load, and a list does without
    from imagekeeper.present.text.erasure import erasure_text  # as its job is

    result = erasing.erase_carrier(
        _session.archive(archive_path), carrier_id, reason, _session.session(operator), confirm=confirm
    )
    return _shell.show(result, erasure_text, as_json)
