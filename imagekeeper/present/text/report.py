"""Pages about an archive that were written."""

from __future__ import annotations

from imagekeeper.jobs.pages.reporting import Report
from imagekeeper.present.text.paper import page, painted
from imagekeeper.units import plural


def report_text(result: Report) -> str:
    """Show where the pages are, and what is damaged."""
    count = {what: sum(page.what == what for page in result.pages) for what in ("carrier", "machine")}
    photos = f", with {plural(len(result.photos), 'picture')}," if result.photos else ""
    lines = [
        f"Pages about {plural(count['carrier'], 'carrier')} and {plural(count['machine'], 'machine')}{photos} "
        f"are in {result.folder}.",
        f"  open: {result.folder}/index.html",
    ]
    if result.damaged:
        head = painted("damaged in the archive", "bad")
        lines.append(f"  {head}: {', '.join(result.damaged)}")
        lines.append("  next: imagekeeper archive audit names every file; restore them from another copy")
    return page(lines)
