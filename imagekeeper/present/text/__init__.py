"""Results as plain text for people: lines for a terminal, a printer or a log.

Each module shows what it is named after; `text_of` finds the text of any result.
"""

from __future__ import annotations

import importlib
from typing import Any

from imagekeeper.present.text.paper import PLAIN, Paper, set_on

#: The text of each result, by the name of its class; a module is loaded when a result asks for it. A hexdump has none:
#: `hexdump.HexdumpText` gives its lines as the rows come.
TEXTS: dict[str, str] = {
    "Agreement": "carriers.agreement_text", "Audit": "audits.audit_text", "Bench": "bench.bench_text",
    "ConnectionList": "controllers.connection_list_text",
    "CarrierList": "carriers.carrier_list_text", "CarrierRecord": "carriers.carrier_text", "Chip": "chips.chip_text",
    "ChipList": "chips.chip_list_text", "ChipPlan": "sheet.plan_text", "Comparison": "comparison.comparison_text",
    "Conversion": "conversion.conversion_text", "Corroboration": "tables.corroborated_text",
    "Demonstration": "demonstration.demonstration_text", "Derived": "images.derived_text",
    "Erasure": "erasure.erasure_text",
    "DiskMerge": "disks.disk_merge_text", "DiskPlan": "sheet.plan_text", "DriveMatch": "drives.drives_text",
    "Export": "exchange.exported_text", "Extraction": "images.extraction_text", "FileCheck": "disks.file_check_text",
    "FileExtraction": "disks.file_extraction_text", "FileList": "disks.file_list_text",
    "FilledIn": "tables.filled_in_text", "Fingerprint": "fingerprint.fingerprint_text",
    "Fingerprints": "fingerprint.fingerprints_text", "Format": "formats.format_text",
    "FormatList": "formats.format_list_text", "Founded": "archive.founded_text",
    "GeometrySolution": "geometry.geometry_text", "Import": "exchange.imported_text",
    "Inspection": "inspection.inspection_text", "InterchangeNoted": "bench.interchange_text",
    "Labels": "labels.labels_text",
    "MachineList": "machines.machine_list_text", "MachineRecord": "machines.machine_text",
    "Majority": "vote.majority_text", "OtherFormat": "other_formats.other_format_text",
    "OwnRowList": "own_rows.own_rows_text", "RowDecided": "own_rows.decided_row_text",
    "RowTemplate": "own_rows.template_text",
    "Qualification": "bench.qualification_text",
    "Reindexed": "archive.reindexed_text", "Repaired": "audits.repaired_text",
    "Replaced": "replacement.replacement_text", "Replica": "audits.replica_text", "Report": "report.report_text",
    "Search": "search.search_text", "SectorMap": "damage.sector_map_text", "SelfCheck": "selfcheck.selfcheck_text",
    "Sheet": "sheet.sheet_text", "Substitution": "substitution.substitutes_text", "Table": "tables.tabulated_text",
    "Todo": "carriers.todo_text", "TrackLayout": "track.track_text", "UnknownChip": "unmarked.unknown_chip_text",
}  # fmt: skip


def text_of(result: Any, paper: Paper = PLAIN) -> str:
    """Show a result as the command that gives it does.

    Args:
        result: A result of a job.
        paper: How wide it is set, and how words stand out.

    Raises:
        TypeError: There is no text of such a result.

    Example:
        >>> from imagekeeper.floppy.layout import lay_out
        >>> print(text_of(lay_out("mfm", sectors=9, gap3=80)).splitlines()[0])
        9 x 512 bytes with a gap 3 of 80 fit: 218 bytes are left at the exact speed, 125 on a fast drive.
    """
    name = type(result).__name__
    if name not in TEXTS:
        raise TypeError(f"there is no text of {name}")
    module, _, function = TEXTS[name].partition(".")
    with set_on(paper):
        shown = getattr(importlib.import_module(f"{__name__}.{module}"), function)(result)
    assert isinstance(shown, str)
    return shown
