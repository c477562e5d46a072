"""Show the bytes of a file's image."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from imagekeeper.hexdump import Row, rows
from imagekeeper.workflows.loading import Options, all_loaded


@contextmanager
def hexdump_rows(
    path: str,
    options: Options,
    *,
    against: str | None = None,
    start: int | None = None,
    length: int | None = None,
    width: int = 16,
) -> Iterator[tuple[Callable[[], Iterator[Row]], int]]:
    """Open a file, and another to mark differences to, for a hexdump.

    Yields:
        What starts the rows, and the first address after both images.

    Raises:
        ImagekeeperError: A file cannot be read or understood.
    """
    with all_loaded([path] if against is None else [path, against], options) as read:
        image = read[0].image
        other = None
        if against is not None:
            other = read[1].image
            if other.addressed != image.addressed:   # one states no addresses: it is laid where the other begins
                if image.addressed:
                    other = other.moved(image.first_address)
                else:
                    image = image.moved(other.first_address)
        end = max(image.end_address, other.end_address if other else 0)
        yield lambda: rows(image, start=start, length=length, width=width, against=other), end
