"""What an audit asks of own rows: that each can be used, and that files from elsewhere are as they came."""

from __future__ import annotations

from pathlib import Path

from imagekeeper.archive.audits.audit_report import Discrepancy
from imagekeeper.digests import sha256_hex
from imagekeeper.files import display_name
from imagekeeper.findings import Finding
from imagekeeper.jobs.tables.folders import person_folder
from imagekeeper.jobs.tables.listing import list_own_rows
from imagekeeper.jobs.tables.places import received_files


def faults_of(archive: Path) -> tuple[Finding, ...]:
    """Give what is wrong with the own rows of an archive; those of the person's own folder are none of its."""
    person = display_name(Path(person_folder()))
    found = ((one, one.where.file or "") for one in list_own_rows(archive).faults)
    return tuple(one for one, file in found if file != person and not file.startswith(f"{person}/"))


def changed_files(archive: Path) -> tuple[Discrepancy, ...]:
    """Find files from elsewhere that are no longer as they came: each bears the beginning of its digest in its name."""
    files, _ = received_files(archive)
    return tuple(
        Discrepancy(
            carrier=None, path=file.name, why="its SHA-256 does not begin as its name says",
            expected=stated, found=sha256_hex(file.data)[:8],
        )
        for file in files
        for stated in (file.path.stem.rpartition("-")[2],)
        if sha256_hex(file.data)[:8] != stated
    )  # fmt: skip
