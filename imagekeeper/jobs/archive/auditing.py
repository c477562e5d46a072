"""Audit an archive, and where it is asked for make its derived images again."""

from __future__ import annotations

from dataclasses import replace

from imagekeeper.archive.audits.audit import Choice, audit
from imagekeeper.archive.audits.audit_report import Audit
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.progress import Progress, silent


def audit_archive(
    archive: ArchiveStore,
    now: str,
    *,
    choice: Choice | None = None,
    jobs: int | None = None,
    rebuild_derived: bool = False,
    progress: Progress = silent,
) -> Audit:
    """Read everything again, or what was chosen, and tell what is damaged, missing or unexpected.

    Args:
        archive: The archive.
        now: The time, RFC 3339.
        choice: What is to be checked; all of it without.
        jobs: How many files are digested at a time; None for one a processor.
        rebuild_derived: Also make every derived and voted image again, and hold it against the one that is kept.
        progress: Told how far it is.

    Raises:
        UsageError: `archive-busy` while another program writes; damage is never raised, it is in the result.
        NotFoundError: `carrier-missing` for a carrier that was named and never was there.
    """
    choice = choice or Choice()
    result = audit(archive, progress, now=now, choice=choice, jobs=jobs)
    if not rebuild_derived:
        return result
    from imagekeeper.jobs.archive import rebuilding  # the steps are slow to load, and most audits do without

    rebuilt = rebuilding.rebuild_derived(archive, choice.carriers or None, progress=progress)
    return replace(result, rebuilt=rebuilt, ok=result.ok and rebuilt.ok)
