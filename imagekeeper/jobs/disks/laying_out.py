"""Lay a track out."""

from __future__ import annotations

import os
from typing import Any

from imagekeeper import files
from imagekeeper.floppy.layout import TrackLayout, lay_out


def layout_of(encoding: str, *, picture_to: str | None = None, force: bool = False, **numbers: Any) -> TrackLayout:
    """Lay a track out.

    Args:
        encoding: fm, mfm or perpendicular.
        picture_to: Where a picture of the track will be written, or None: where that cannot be, nothing is done.
        force: Whether that picture may replace what is there.
        numbers: As `imagekeeper.floppy.layout.lay_out` takes them.

    Raises:
        ImagekeeperError: A number cannot be laid out, or a picture cannot be written there.

    Example:
        >>> layout_of("mfm", sectors=9, gap3=80).spare
        218
    """
    if picture_to is not None and not force and os.path.lexists(picture_to):
        raise files.taken(files.display_name(picture_to))
    return lay_out(encoding, **numbers)
