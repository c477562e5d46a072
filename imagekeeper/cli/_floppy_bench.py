"""The commands floppy bench add and floppy bench list."""

from __future__ import annotations

import click

from imagekeeper.cli import _asking, _session, _shell
from imagekeeper.drives.bench import KINDS, Bench
from imagekeeper.jobs.bench import equipping
from imagekeeper.jobs.images.loading import Options
from imagekeeper.present.text.bench import bench_text, qualification_text
from imagekeeper.tables.drives import drive_rows, medium_rows


@click.group()
def bench() -> None:
    """Keep a list of the drives, readers, programmers and disks that you have.

    It is the file bench.toml in the archive, which you may also edit by hand. `floppy drives` answers for these first.
    """


@bench.command(
    epilog="Example: imagekeeper floppy bench add drive B --class 5.25-96tpi-hd-dual --speed 300 --speed 360"
)
@click.argument("kind", type=click.Choice(KINDS))
@click.argument("name", required=False)
@click.option("--class", "class_", metavar="CLASS", help="Of a drive or of disks; without it the classes are listed.")
@click.option(
    "--speed", "speeds", type=click.IntRange(100, 3600), multiple=True, metavar="RPM",
    help="A speed that it has; may be repeated.",
)  # fmt: skip
@click.option("--count", type=click.IntRange(0, 999_999), metavar="NUMBER", help="How many disks.")
@click.option("--note", metavar="TEXT", help="A remark.")
@_asking.really_option
@_session.archive_option
@_shell.json_option
def add(
    kind: str, name: str | None, class_: str | None, speeds: tuple[int, ...], count: int | None, note: str | None,
    really: bool, archive_path: str | None, as_json: bool,
) -> int:  # fmt: skip
    """Add a drive, a reader or a programmer by its NAME, or disks (medium) by their class."""
    known: dict[str, list[str]] = {"drive": list(drive_rows()), "medium": list(medium_rows())}
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
    if speeds and kind != "drive":
        raise click.UsageError(f"--speed goes with a drive, not with a {kind}")
    if count is not None and kind != "medium":
        raise click.UsageError(f"--count goes with a medium, not with a {kind}")
    result = equipping.add_to_bench(
        _session.archive(archive_path), kind, decide=_asking.decider(really),
        **{"name": name, "class": class_, "speeds": speeds, "count": count, "note": note},
    )  # fmt: skip
    return _shell.show(result, bench_text, as_json)


@bench.command(epilog="Example: imagekeeper floppy bench remove reader 'old reader' --reason 'its socket is worn'")
@click.argument("kind", type=click.Choice(KINDS))
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


@bench.command("list", epilog="Example: imagekeeper floppy bench list")
@_session.archive_option
@_shell.json_option
def list_(archive_path: str | None, as_json: bool) -> int:
    """List what is at hand."""
    return _shell.show(equipping.bench_of(_session.archive(archive_path)) or Bench(), bench_text, as_json)
