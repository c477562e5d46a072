"""Results as plain text for people: lines for a terminal, a printer or a log.

Each module shows what it is named after; `text_of` finds the text of any result that is a JSON document too.
"""

from __future__ import annotations

import importlib
from typing import Any

from imagekeeper.present.text.paper import PLAIN, Paper, set_on

#: The text of each document, by the name of its schema; a module is loaded when a result asks for it. A hexdump has
#: none: `hexdump.HexdumpText` gives its lines as the rows come.
TEXTS: dict[str, str] = {
    "agreement": "carriers.agreement_text", "archive": "archive.founded_text", "audit": "audits.audit_text",
    "bench": "bench.bench_text", "carrier": "carriers.carrier_text", "carrier-list": "carriers.carrier_list_text",
    "chip": "chips.chip_text", "chip-list": "chips.chip_list_text", "chip-plan": "sheet.plan_text",
    "comparison": "comparison.comparison_text", "conversion": "conversion.conversion_text",
    "corroboration": "tables.corroborated_text", "demo": "demonstration.demonstration_text",
    "derivation": "images.derived_text", "disk-merge": "disks.disk_merge_text", "disk-plan": "sheet.plan_text",
    "drive-match": "drives.drives_text", "export": "exchange.exported_text", "extraction": "images.extraction_text",
    "file-check": "disks.file_check_text", "file-extraction": "disks.file_extraction_text",
    "file-list": "disks.file_list_text", "fill-in": "tables.filled_in_text",
    "fingerprint": "fingerprint.fingerprints_text", "format": "formats.format_text",
    "format-list": "formats.format_list_text", "geometry": "geometry.geometry_text",
    "import": "exchange.imported_text", "inspection": "inspection.inspection_text", "labels": "labels.labels_text",
    "machine": "machines.machine_text", "machine-list": "machines.machine_list_text",
    "reindex": "archive.reindexed_text",
    "repair": "audits.repaired_text", "replacement": "replacement.replacement_text", "replica": "audits.replica_text",
    "report": "report.report_text", "search": "search.search_text", "sector-map": "disks.sector_map_text",
    "selfcheck": "selfcheck.selfcheck_text", "substitution": "substitution.substitutes_text",
    "table": "tables.tabulated_text", "todo": "carriers.todo_text", "track-layout": "track.track_text",
    "vote": "vote.majority_text",
}  # fmt: skip


def text_of(result: Any, paper: Paper = PLAIN) -> str:
    """Show a result as the command that gives it does.

    Args:
        result: A result with a `SCHEMA`.
        paper: How wide it is set, and how words stand out.

    Raises:
        TypeError: There is no text of such a result.

    Example:
        >>> from imagekeeper.floppy.layout import lay_out
        >>> print(text_of(lay_out("mfm", sectors=9, gap3=80)).splitlines()[0])
        9 x 512 bytes with a gap 3 of 80 fit: 218 bytes are left at the exact speed, 125 on a fast drive.
    """
    name, _, _ = getattr(result, "SCHEMA", "").partition("/")
    if name not in TEXTS:
        raise TypeError(f"there is no text of {type(result).__name__}")
    module, _, function = TEXTS[name].partition(".")
    with set_on(paper):
        shown = getattr(importlib.import_module(f"{__name__}.{module}"), function)(result)
    assert isinstance(shown, str)
    return shown
