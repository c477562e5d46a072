"""Write a bench sheet to a file."""

from __future__ import annotations

from imagekeeper import files
from imagekeeper.planning.sheet import Sheet


def write_sheet(sheet: Sheet, path: str, *, text: str, force: bool = False) -> None:
    """Write a sheet: as a page where the file's name ends in .html, else as plain text.

    Args:
        sheet: The sheet.
        path: The file.
        text: The sheet as plain text.
        force: Replace the file if it is there.

    Raises:
        UsageError: `exists`, `cannot-write`.
    """
    if path.lower().endswith((".html", ".htm")):
        from imagekeeper.present.html.sheet_page import render_sheet

        text = render_sheet(sheet)
    else:
        text += "\n"
    files.write_whole(path, [text.encode()], force=force)
