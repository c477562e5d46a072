"""The command report: pages about the archive."""

from __future__ import annotations

import click

from imagekeeper.cli import _session, _shell
from imagekeeper.jobs.pages import reporting
from imagekeeper.jobs.pages.reporting import Report
from imagekeeper.present.html.pages import render
from imagekeeper.units import plural


@click.command(epilog="Example: imagekeeper report -o pages")
@click.argument("ids", nargs=-1, metavar="[ID]...")
@click.option("-o", "--output", required=True, metavar="DIR", help="The folder for the pages, new or empty.")
@click.option("--machine", metavar="NAME", help="Only carriers of this machine; part of its name is enough.")
@click.option(
    "--force", is_flag=True,
    help="Replace an earlier report in DIR: only the files that it lists in its report.json.",
)  # fmt: skip
@_session.archive_option
@_shell.json_option
def report(
    ids: tuple[str, ...], output: str, machine: str | None, force: bool, archive_path: str | None, as_json: bool
) -> int:
    """Write pages about the carriers with these IDs, or about all of them, into DIR.

    There is an index with what is most at risk, a page for each machine and a page for each carrier. Each page is one
    file that opens in any browser without a network, and prints. Every file of the archive is read on the way; what is
    damaged is said on its page, and the exit code is then 4.
    """
    result = reporting.write_report(
        _session.archive(archive_path), output, _session.session(), ids=ids, machine=machine, force=force,
        render=render, progress=_shell.bar,
    )  # fmt: skip
    return _shell.show(result, _text, as_json)


def _text(result: Report) -> str:
    count = {what: sum(page.what == what for page in result.pages) for what in ("carrier", "machine")}
    photos = f", with {plural(len(result.photos), 'picture')}," if result.photos else ""
    lines = [
        f"Pages about {plural(count['carrier'], 'carrier')} and {plural(count['machine'], 'machine')}{photos} "
        f"are in {result.folder}.",
        f"  open: {result.folder}/index.html",
    ]
    if result.damaged:
        head = _shell.paint("damaged in the archive", fg="red", bold=True)
        lines.append(f"  {head}: {', '.join(result.damaged)}")
        lines.append("  next: imagekeeper archive audit names every file; restore them from another copy")
    return "\n".join(lines)
