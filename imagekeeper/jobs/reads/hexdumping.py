"""Show the bytes of a file's image."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from imagekeeper import budget
from imagekeeper.addresses import Doubt
from imagekeeper.comparison.alignment import align
from imagekeeper.hexdumps import HexdumpRow, doubts_within, rows
from imagekeeper.jobs.images.loading import Given, Options, all_loaded


@dataclass(frozen=True)
class OpenHexdump:
    """A hexdump whose files are open.

    Attributes:
        rows: Starts the rows.
        end: The first address after both images. [byte]
        doubts: What the first file speaks against in that stretch, and as a whole.
    """

    rows: Callable[[], Iterator[HexdumpRow]]
    end: int
    doubts: tuple[Doubt, ...]


@contextmanager
def hexdump_rows(
    path: Given,
    options: Options,
    *,
    against: Given | None = None,
    start: int | None = None,
    length: int | None = None,
    width: int = 16,
) -> Iterator[OpenHexdump]:
    """Open a file, and another to mark differences to, for a hexdump.

    Raises:
        ImagekeeperError: A file cannot be read or understood.
    """
    with all_loaded([path] if against is None else [path, against], options) as read:
        images = align([file.image for file in read], [file.name for file in read]).images
        image, other = images[0], images[1] if against is not None else None
        most = max(one.size_bytes for one in images)
        budget.current().show_text(most if length is None else min(most, length))
        end = max(image.end_address, other.end_address if other else 0)
        yield OpenHexdump(
            lambda: rows(image, start=start, length=length, width=width, against=other), end,
            doubts_within(image, start, length),
        )  # fmt: skip
