"""What the commands of `plan` share: the sheet in a file."""

from __future__ import annotations

from imagekeeper.cli import _shell
from imagekeeper.planning.sheet import Sheet
from imagekeeper.present.text.sheet import sheet_text


def write_sheet(sheet: Sheet, path: str, *, force: bool) -> None:
    """Write a sheet to a file: as a page where its name ends in .html, else as plain text."""
    if path.lower().endswith((".html", ".htm")):
        from imagekeeper.present.html.sheet_page import render_sheet  # few sheets are pages

        text = render_sheet(sheet)
    else:
        text = sheet_text(sheet) + "\n"
    _shell.write_file(text, path, force=force)
