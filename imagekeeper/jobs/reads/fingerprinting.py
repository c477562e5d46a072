"""Take the fingerprints of files."""

from __future__ import annotations

from collections.abc import Sequence

from imagekeeper import fingerprints
from imagekeeper.fingerprints import Fingerprint
from imagekeeper.jobs.images.loading import Given, Options, loaded
from imagekeeper.progress import Progress, silent


def fingerprint_file(
    path: Given, options: Options, *, more: Sequence[str] = (), progress: Progress = silent
) -> Fingerprint:
    """Take one file's fingerprint.

    Raises:
        ImagekeeperError: The file cannot be read or understood, or `more` names an unknown figure.
    """
    with loaded(path, options) as file, progress(f"Reading {file.name}", file.image.size_bytes) as advance:
        return fingerprints.take(
            file.image, file.name, more=more, name_base64=file.name_base64, advance=advance
        )
