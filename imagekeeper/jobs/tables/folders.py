"""Which folders can hold own rows, asked whenever a table is first needed: so it loads nothing."""

from __future__ import annotations

import os

#: The folder of own rows in an archive; in it, that of rows from elsewhere, and what was decided about these.
FOLDER, RECEIVED, DECISIONS = "tables", "received", "decisions.jsonl"

#: The folder of a person's own rows, where it is not the usual one.
VARIABLE = "IMAGEKEEPER_TABLES"

#: The mark of an archive, as `imagekeeper.archive.ocfl.founding.MARKER`.
_MARKER = "archive.json"


def person_folder() -> str:
    """Give the folder of a person's own rows, which need not be there.

    Source:
        XDG Base Directory Specification 0.8: `$XDG_CONFIG_HOME`, which must be absolute to count, else `~/.config`.
    """
    named = os.environ.get(VARIABLE, "")
    if named:
        return named
    configured = os.environ.get("XDG_CONFIG_HOME", "")
    base = configured if os.path.isabs(configured) else os.path.join(os.path.expanduser("~"), ".config")
    return os.path.join(base, "imagekeeper", FOLDER)


def archive_around(start: str = ".") -> str | None:
    """Give the nearest folder, from this one upwards, that is an archive; None where there is none."""
    try:
        folder = os.path.abspath(start)
    except OSError:   # the folder that we are in is gone
        return None
    while True:
        if os.path.isfile(os.path.join(folder, _MARKER)) and os.path.isdir(os.path.join(folder, "carriers")):
            return folder
        above = os.path.dirname(folder)
        if above == folder:
            return None
        folder = above


def may_hold_any(archive: str | None) -> bool:
    """Whether there is any folder of own rows to look into."""
    return (
        bool(os.environ.get(VARIABLE)) or os.path.isdir(person_folder())
        or (archive is not None and os.path.isdir(os.path.join(archive, FOLDER)))
    )
