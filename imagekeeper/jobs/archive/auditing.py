"""Audit an archive, and where it is asked for derive again what its records conclude, or its derived images only."""

from __future__ import annotations

from dataclasses import replace

from imagekeeper.archive.audits.audit import Choice, audit
from imagekeeper.archive.audits.audit_report import Audit
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.jobs.tables.folders import FOLDER
from imagekeeper.progress import Progress, silent


def audit_archive(
    archive: ArchiveStore,
    now: str,
    *,
    choice: Choice | None = None,
    jobs: int | None = None,
    rebuild_derived: bool = False,
    reprove: bool = False,
    progress: Progress = silent,
) -> Audit:
    """Read everything again, or what was chosen, and tell what is damaged, missing or unexpected.

    Args:
        archive: The archive.
        now: The time, RFC 3339.
        choice: What is to be checked; all of it without.
        jobs: How many files are digested at a time; None for one a processor.
        rebuild_derived: Also make every derived and voted image again, and hold it against the one that is kept.
        reprove: Also derive again what the records conclude, from the files that were read.
        progress: Told how far it is.

    Raises:
        UsageError: `archive-busy` while another program writes; damage is never raised, it is in the result.
        NotFoundError: `carrier-missing` for a carrier that was named and never was there.
    """
    choice = choice or Choice()
    result = audit(archive, progress, now=now, choice=choice, jobs=jobs)
    if result.scope == "all" and (archive.path / FOLDER).is_dir():
        from imagekeeper.jobs.tables import auditing as own  # the tables, which most archives' audits do without

        changed = own.changed_files(archive.path)
        result = replace(
            result, damaged=(*result.damaged, *changed), own_rows=own.faults_of(archive.path),
            ok=result.ok and not changed,
        )  # fmt: skip
    if rebuild_derived:
        from imagekeeper.jobs.archive import rebuilding  # the steps are slow to load, and most audits do without

        rebuilt = rebuilding.rebuild_derived(archive, choice.carriers or None, progress=progress)
        result = replace(result, rebuilt=rebuilt, ok=result.ok and rebuilt.ok)
    if reprove:
        from imagekeeper.jobs.archive import reproving  # so is all that looks at images

        # what is damaged proves nothing, and is named as damaged
        unsound = {one.carrier for one in (*result.damaged, *result.missing)}
        sound = [one for one in result.checked if one not in unsound]
        reproof = reproving.reprove(archive, sound, now=now, progress=progress)
        result = replace(result, reproof=reproof, ok=result.ok and reproof.ok)
    return result
