"""The commands floppy bench: add, remove, list, qualify and interchange."""

from __future__ import annotations

import click

from imagekeeper.cli import _asking, _session, _shell
from imagekeeper.drives.bench import THINGS, Bench, Wrote
from imagekeeper.jobs.bench import equipping
from imagekeeper.jobs.bench.interchanging import Observed, note_interchange
from imagekeeper.jobs.images.loading import Options
from imagekeeper.present.text.bench import bench_text, interchange_text, qualification_text
from imagekeeper.tables.controllers import CONNECTORS, cable_rows, controller_rows
from imagekeeper.tables.drives import drive_rows, medium_rows


@click.group()
def bench() -> None:
    """Keep a list of the drives, controllers, cables, readers, programmers and disks that you have.

    It is the file bench.toml in the archive, which you may also edit by hand. `floppy drives` answers for these first.
    """


@bench.command(
    epilog="Example: imagekeeper floppy bench add drive B --class 5.25-96tpi-hd-dual --speed 300 --speed 360"
)
@click.argument("kind", type=click.Choice(THINGS))
@click.argument("name", required=False)
@click.option(
    "--class", "class_", metavar="CLASS",
    help="Of a drive, a controller, a cable (see `floppy controllers`) or disks; without it the classes are listed.",
)
@click.option(
    "--speed", "speeds", type=click.IntRange(100, 3600), multiple=True, metavar="RPM",
    help="A speed that a drive has; may be repeated.",
)  # fmt: skip
@click.option(
    "--rate", "rates", type=click.IntRange(1, 2000), multiple=True, metavar="KBIT",
    help="A data rate in MFM that a controller was seen to have; may be repeated. Without it: those of its class.",
)
@click.option("--fm/--no-fm", "fm", default=None, help="Whether a controller was seen to write FM.")
@click.option("--connector", type=click.Choice(tuple(CONNECTORS)), help="What the board of a controller has.")
@click.option(
    "--plug", "plugs", type=click.Choice(tuple(CONNECTORS)), multiple=True,
    help="What a cable has at the drive; may be repeated. Without it: those of its class.",
)
@click.option("--count", type=click.IntRange(0, 999_999), metavar="NUMBER", help="How many disks.")
@click.option("--note", metavar="TEXT", help="A remark.")
@_asking.really_option
@_session.archive_option
@_shell.json_option
def add(
    kind: str, name: str | None, class_: str | None, speeds: tuple[int, ...], rates: tuple[int, ...], fm: bool | None,
    connector: str | None, plugs: tuple[str, ...], count: int | None, note: str | None, really: bool,
    archive_path: str | None, as_json: bool,
) -> int:  # fmt: skip
    """Add a drive, a controller, a cable, a reader or a programmer by its NAME, or disks (medium) by their class."""
    known: dict[str, list[str]] = {
        "drive": list(drive_rows()), "controller": list(controller_rows()), "cable": list(cable_rows()),
        "medium": list(medium_rows()),
    }  # fmt: skip
    classes = known.get(kind, [])
    if classes and class_ not in classes:
        given = "it is missing" if class_ is None else f"{class_!r} is not one of them"
        raise click.UsageError(f"name the class of the {kind} with --class: {given} ({', '.join(classes)})")
    if class_ is not None and not classes:
        raise click.UsageError(f"a {kind} has no class")
    if kind == "medium" and name is not None:
        raise click.UsageError("disks go by their class alone: leave the name away")
    if kind != "medium" and not name:
        raise click.UsageError(f"name the {kind} as you call it")
    members = {
        "speeds": (speeds, "--speed", "drive"), "rates": (rates, "--rate", "controller"),
        "fm": (fm, "--fm", "controller"), "connector": (connector, "--connector", "controller"),
        "plugs": (plugs, "--plug", "cable"), "count": (count, "--count", "medium"),
    }  # fmt: skip
    for value, option, goes_with in members.values():
        if value not in (None, ()) and kind != goes_with:
            raise click.UsageError(f"{option} goes with a {goes_with}, not with a {kind}")
    result = equipping.add_to_bench(
        _session.archive(archive_path), kind, decide=_asking.decider(really),
        **{"name": name, "class": class_, **{member: value for member, (value, _, _) in members.items()}, "note": note},
    )  # fmt: skip
    return _shell.show(result, bench_text, as_json)


@bench.command(epilog="Example: imagekeeper floppy bench remove reader 'old reader' --reason 'its socket is worn'")
@click.argument("kind", type=click.Choice(THINGS))
@click.argument("name", metavar="NAME")
@click.option("--reason", required=True, metavar="TEXT", help="Why; kept in the file beside what stood there.")
@_session.operator_option
@_session.archive_option
@_shell.json_option
def remove(
    kind: str, name: str, reason: str, operator: str | None, archive_path: str | None, as_json: bool
) -> int:
    """Take something off the bench by its NAME, disks by their class; its lines stay in the file as comments."""
    result = equipping.take_from_bench(
        _session.archive(archive_path), kind, name, reason, _session.session(operator)
    )
    return _shell.show(result, bench_text, as_json)


@bench.command(
    epilog="Example: imagekeeper floppy bench qualify 'bench reader' --known monitor.bin --read again.bin "
    "--empty socket.bin"
)
@click.argument("name", metavar="READER")
@click.option("--known", required=True, metavar="FILE", help="What a chip is known to hold: program code, best.")
@click.option("--read", required=True, metavar="FILE", help="What the reader gave for this chip, just now.")
@click.option("--empty", required=True, metavar="FILE", help="What the reader gave for its empty socket.")
@_session.operator_option
@_session.archive_option
@_shell.reading_options
@_shell.json_option
def qualify(
    name: str, known: str, read: str, empty: str, operator: str | None, archive_path: str | None, options: Options,
    as_json: bool,
) -> int:  # fmt: skip
    """See whether a reader works, and note it on the bench: it then counts for each read made with it.

    Two reads on one reader share its faults; a reader that was just shown to work has fewer to share. The exit code is
    1 where it is not shown to work; then nothing is noted.
    """
    result = equipping.qualify_reader(
        _session.archive(archive_path), name, known, read, empty, options, _session.session(operator)
    )
    return _shell.show(result, qualification_text, as_json)


@bench.command(
    epilog="Example: imagekeeper floppy bench interchange B --with 'drive A of the TG-85' --wrote here --format 360K "
    "--failed 38-39"
)
@click.argument("drive", metavar="DRIVE")
@click.option(
    "--with", "machine_drive", required=True, metavar="TEXT", help="The drive of the machine, in your own words."
)
@click.option(
    "--wrote", required=True, type=click.Choice(("here", "there")),
    help="Which of the two wrote the disk: DRIVE, or that of the machine. The other one read it.",
)  # fmt: skip
@click.option("--format", "name", required=True, metavar="FORMAT", help="The format of the disk.")
@click.option("--all-read", is_flag=True, help="Every cylinder was read at the first try.")
@click.option("--failed", metavar="CYLINDERS", help="Those that were not read, such as 38-39,41.")
@click.option("--retried", metavar="CYLINDERS", help="Those that took more tries: 37, or 37x3 for three more.")
@click.option("--known", metavar="FILE", help="What was written to the disk.")
@click.option("--read", metavar="FILE", help="What the other drive read of it: the cylinders are compared.")
@click.option("--cylinders", type=int, metavar="NUMBER", help="How many were tried; without it all of the format.")
@click.option("--date", metavar="DATE", help="When; without it today.")
@click.option("--note", metavar="TEXT", help="A remark.")
@_asking.really_option
@_session.operator_option
@_session.archive_option
@_shell.reading_options
@_shell.json_option
def interchange(
    drive: str, machine_drive: str, wrote: Wrote, name: str, all_read: bool, failed: str | None, retried: str | None,
    known: str | None, read: str | None, cylinders: int | None, date: str | None, note: str | None, really: bool,
    operator: str | None, archive_path: str | None, options: Options, as_json: bool,
) -> int:  # fmt: skip
    """Note whether the machine's own drive read what DRIVE wrote, or the other way: no instrument is needed for it.

    Write a disk in one of the two and read it in the other, then the other way round. `floppy drives` then says what
    that showed, and how long ago. The exit code is 1 where cylinders failed.
    """
    seen = Observed(
        known=known, read=read, failed=failed, retried=retried, cylinders=cylinders, all_read=all_read, date=date,
        note=note,
    )  # fmt: skip
    result = note_interchange(
        _session.archive(archive_path), drive, machine_drive, wrote, name, seen, options, _session.session(operator),
        decide=_asking.decider(really),
    )  # fmt: skip
    return _shell.show(result, interchange_text, as_json)


@bench.command("list", epilog="Example: imagekeeper floppy bench list")
@_session.archive_option
@_shell.json_option
def list_(archive_path: str | None, as_json: bool) -> int:
    """List what is at hand."""
    return _shell.show(equipping.bench_of(_session.archive(archive_path)) or Bench(), bench_text, as_json)
