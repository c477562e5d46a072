"""Sheets of labels as a page that prints at its true size."""

from __future__ import annotations

from imagekeeper.jobs.pages.label_sheets import LabelSheets
from imagekeeper.present.html.pages import render


def render_sheets(page: LabelSheets) -> str:
    """Write the sheets as a page that prints at its true size."""
    wide, high = page.paper
    # a hair less than the page: a sheet that rounding makes too high would be followed by an empty one
    sheet = f"@media print {{ .sheet {{ height: {high - 0.5:g}mm; overflow: hidden; }} }}"
    return render(page, f"\n@page {{ size: {wide:g}mm {high:g}mm; margin: 0; }}\n{sheet}\n")
