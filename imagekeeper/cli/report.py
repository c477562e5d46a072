"""The command report: pages about the archive."""

from __future__ import annotations

import click

from imagekeeper.cli import _session, _shell
from imagekeeper.jobs.pages import reporting
from imagekeeper.present.html.pages import render
from imagekeeper.present.text.report import report_text


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
    return _shell.show(result, report_text, as_json)
