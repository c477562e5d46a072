"""Labels that were written."""

from __future__ import annotations

from imagekeeper.jobs.pages.labelling import Labels
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page
from imagekeeper.units import plural


def labels_text(result: Labels) -> str:
    """Show the labels that were written, and what had no room on them."""
    lines = [
        f"{plural(len(result.labels), 'label')} on {plural(result.sheets, 'sheet')} of {result.paper} "
        f"in {result.output}: print it at 100 %."
    ]
    for one in result.labels:
        code = "" if one.qr else ", without QR code: it has no room"
        lines.append(f"  {one.id}: {one.width_mm:g} x {one.height_mm:g} mm{code}")
        if one.sum16 is None:
            lines.append(f"    no agreed image, so no sums: imagekeeper carrier show {one.id} tells the next step")
        if one.left_out:
            lines.append(f"    no room for: {', '.join(' '.join(text.split())[:40] for text in one.left_out)}")
    return page([*lines, *parts.set_aside(result.set_aside)])
