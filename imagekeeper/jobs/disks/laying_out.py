"""Lay a track out, and draw it."""

from __future__ import annotations

import os
from typing import Any

from imagekeeper import files
from imagekeeper.floppy.layout import TrackLayout, lay_out


def layout_of(encoding: str, *, picture: str | None = None, force: bool = False, **numbers: Any) -> TrackLayout:
    """Lay a track out, and draw it where a file is named.

    Args:
        encoding: fm, mfm or perpendicular.
        picture: Where to write an SVG picture of the track, or None.
        force: Replace the picture if it is there.
        numbers: As `imagekeeper.floppy.layout.lay_out` takes them.

    Raises:
        ImagekeeperError: A number cannot be laid out, or the picture cannot be written.

    Example:
        >>> layout_of("mfm", sectors=9, gap3=80).spare
        218
    """
    if picture is not None and not force and os.path.lexists(picture):
        raise files.taken(files.display_name(picture))
    result = lay_out(encoding, **numbers)
    if picture is not None:
        from imagekeeper.present.svg import track_map

        files.write_whole(picture, [track_map.draw(result).encode()], force=force)
    return result
