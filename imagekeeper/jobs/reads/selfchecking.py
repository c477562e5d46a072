"""Check a file's image against itself."""

from __future__ import annotations

from dataclasses import replace

from imagekeeper.containers.remarks import remarks
from imagekeeper.errors import ImagekeeperError
from imagekeeper.jobs.images.loading import Given, Options, loaded
from imagekeeper.selfchecks import search
from imagekeeper.selfchecks.results import SelfCheck


def selfcheck_file(
    path: Given, options: Options, *, scope: tuple[int, int] | None = None, stored_at: int | None = None
) -> SelfCheck:
    """Find the built-in checks that hold for what a file holds.

    Args:
        path: The file.
        options: How to take it.
        scope: First address and first address after the range to search, or None for the whole image. [byte]
        stored_at: Where the user expects a check value, or None. [byte]

    Raises:
        ImagekeeperError: The file cannot be read or understood, has gaps, or an address lies outside it.
    """
    with loaded(path, options) as file:
        try:
            result = search.check(file.image, scope=scope, stored_at=stored_at)
            result = replace(result, findings=(*remarks(file.image), *result.findings))
        except ImagekeeperError as problem:
            raise problem.at(file=file.name) from None
        return result.named(file.name, file.name_base64)
