"""The commands `archive ...`: the archive as a whole."""

from __future__ import annotations

import click

from imagekeeper.archive.audits.audit import Choice
from imagekeeper.cli import _archive_exchange, _archive_tables, _session, _shell
from imagekeeper.jobs.archive import checking
from imagekeeper.jobs.archive.auditing import audit_archive
from imagekeeper.present.text.archive import founded_text, reindexed_text
from imagekeeper.present.text.audits import audit_text, repaired_text, replica_text


@click.group()
def archive() -> None:
    """Make, check, copy, repair and hand on the archive."""


@archive.command(epilog="Example: imagekeeper archive init harbour --title 'Harbour office instruments'")
@click.argument("folder", metavar="DIR")
@click.option("--title", default="", metavar="TEXT", help="What you call the collection.")
@click.option(
    "--large", is_flag=True,
    help="For ten thousand carriers and more: spread their folders by a digest of the id. "
    "Otherwise each carrier's folder lies open under its id.",
)  # fmt: skip
@_shell.json_option
def init(folder: str, title: str, large: bool, as_json: bool) -> int:
    """Make an archive in DIR, which must be new or empty.

    It is a folder tree that follows the Oxford Common File Layout 1.1: it can be read without this program, copied,
    and backed up as plain files.
    """
    result = checking.found_archive(folder, title, "0003" if large else "0002", _session.session())
    return _shell.show(result, founded_text, as_json)


@archive.command(epilog="Example: imagekeeper archive audit --rolling 10")
@click.argument("ids", nargs=-1, metavar="[ID]...")
@click.option(
    "--rolling", type=float, metavar="PERCENT",
    help="Check this share of the carriers, those that were checked longest ago.",
)  # fmt: skip
@click.option("--resume", is_flag=True, help="Go on with an audit that was stopped.")
@click.option("--jobs", type=click.IntRange(1, 256), metavar="N", help="Files at a time; without it one a processor.")
@click.option(
    "--rebuild-derived", is_flag=True,
    help="Also make every derived and voted image again, and hold it against the one that is kept.",
)  # fmt: skip
@click.option(
    "--reprove", is_flag=True,
    help="Also derive again, from the files that were read, what the records conclude: no digest shows a forged one.",
)  # fmt: skip
@_session.archive_option
@_shell.json_option
def audit(
    ids: tuple[str, ...], rolling: float | None, resume: bool, jobs: int | None, rebuild_derived: bool, reprove: bool,
    archive_path: str | None, as_json: bool,
) -> int:  # fmt: skip
    """Read everything again, or the carriers named, and name what is damaged, missing or unexpected.

    A ladder of three rungs. Bytes: every file has the digests that are recorded for it. Records: each is well-formed
    and fits the files that it speaks of, and the chain of events holds. Both are checked always. Conclusions, with
    --reprove: what records conclude follows from the files that were read. Each file is decoded, each image looked at,
    each grade weighed, each derived image made again, and records are held against the events that tell of them; then
    each conclusion is proved, stale (newer rules say otherwise), contradicted (damage), or not derivable.

    Exit code 0 when all is well, 1 when there is only something unexpected, 4 when something is damaged, missing or
    contradicted.
    """
    result = audit_archive(
        _session.archive(archive_path), _session.now(), choice=Choice(ids, rolling, resume), jobs=jobs,
        rebuild_derived=rebuild_derived, reprove=reprove, progress=_shell.bar,
    )  # fmt: skip
    return _shell.show(result, audit_text, as_json)


@archive.command(epilog="Example: imagekeeper archive replicate /media/stick/harbour")
@click.argument("folder", metavar="DIR")
@_session.archive_option
@_shell.json_option
def replicate(folder: str, archive_path: str | None, as_json: bool) -> int:
    """Make a copy of the archive in DIR, or bring one up to date.

    Every file is held against its digest on the way: what is damaged is not copied, and told. The copy is a whole
    archive at every moment, also when this is stopped. A copy that went its own way is left as it is.
    What was erased here and is still in the copy stays there, and is named; the exit code is then 1.
    """
    # slow to load, and other commands do without
    from imagekeeper.archive.exchange.replica import replicate as replicate_archive

    result = replicate_archive(_session.archive(archive_path), folder, _shell.bar, now=_session.now())
    return _shell.show(result, replica_text, as_json)


@archive.command(epilog="Example: imagekeeper archive repair --from /media/stick/harbour")
@click.option("--from", "replica", metavar="DIR", help="A copy of the archive, made by archive replicate.")
@click.option("--quarantine-unexpected", is_flag=True, help="Move what nothing accounts for to quarantine.")
@click.option("--jobs", type=click.IntRange(1, 256), metavar="N", help="Files at a time; without it one a processor.")
@_session.operator_option
@_session.archive_option
@_shell.json_option
def repair(
    replica: str | None, quarantine_unexpected: bool, jobs: int | None, operator: str | None,
    archive_path: str | None, as_json: bool,
) -> int:  # fmt: skip
    """Finish what was interrupted, and restore what is damaged or missing.

    What the archive's own files bear out is put right from them, all else from the copy or from a file that lies
    elsewhere in the archive, where it has the right digest. Versions come back only where a log of commits notes
    them. What was damaged goes to the folder quarantine; nothing is deleted. Each carrier's history tells of it.
    """
    from imagekeeper.jobs.archive.repairing import repair_folder  # slow to load, and other commands do without

    result = repair_folder(
        _session.archive_folder(archive_path), _session.session(operator), replica_path=replica,
        quarantine_unexpected=quarantine_unexpected, jobs=jobs, progress=_shell.bar,
    )  # fmt: skip
    return _shell.show(result, repaired_text, as_json)


@archive.command(epilog="Example: imagekeeper archive reindex")
@_session.archive_option
@_shell.json_option
def reindex(archive_path: str | None, as_json: bool) -> int:
    """Put right what an interrupted program left, and rebuild the index from the folders.

    The index is only a cache outside the archive; nothing is lost with it.
    """
    result = checking.reindex(_session.archive(archive_path), progress=_shell.bar)
    return _shell.show(result, reindexed_text, as_json)


archive.add_command(_archive_exchange.export)
archive.add_command(_archive_exchange.import_)
archive.add_command(_archive_exchange.merge)
archive.add_command(_archive_tables.table)
archive.add_command(_archive_tables.fill_in)
archive.add_command(_archive_tables.references)
