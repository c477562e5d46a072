"""Keep the bench file of an archive: what a person has at hand for reading and writing disks and chips."""

from __future__ import annotations

from typing import TYPE_CHECKING

from imagekeeper import files
from imagekeeper.drives import bench
from imagekeeper.drives.bench import Bench
from imagekeeper.errors import InputError, UsageError, Where

if TYPE_CHECKING:
    from imagekeeper.archive.store import ArchiveStore

#: Beside the archive's mark: it is the keeper's own file, to be edited by hand.
FILE = "bench.toml"


def bench_of(archive: ArchiveStore) -> Bench | None:
    """Read the archive's bench file, or None where there is none.

    Raises:
        InputError: `bench-form`; `too-large`; it cannot be read.
    """
    text = _text(archive)
    if text is None:
        return None
    try:
        return bench.parse(text)
    except InputError as problem:
        raise problem.at(file=files.display_name(archive.path / FILE)) from problem


def add_to_bench(archive: ArchiveStore, kind: str, **members: str | int | tuple[int, ...] | None) -> Bench:
    """Add a drive, a reader, a programmer or disks; what stands in the file stays as it is.

    Args:
        archive: The archive.
        kind: drive, medium, reader or programmer.
        members: What its table holds.

    Raises:
        InputError: `bench-form`: the file is not in its form.
        UsageError: `usage` where that cannot stand beside what is there; `cannot-write`; `archive-busy`.
    """
    with archive.lock():
        held = _text(archive)
        bench_of(archive)   # what is wrong in the file already is no fault of what is added
        text = (bench.head() if held is None else held.rstrip("\n") + "\n") + bench.entry(kind, **members)
        try:
            result, data = bench.parse(text), text.encode()
        except (InputError, UnicodeEncodeError) as problem:
            why = problem.why if isinstance(problem, InputError) else "the name or note is no text"
            raise UsageError("usage/bench", trouble=why) from problem
        files.write_whole(archive.path / FILE, [data], force=held is not None)
    return result


def _text(archive: ArchiveStore) -> str | None:
    path = archive.path / FILE
    if not path.exists():
        return None
    name = files.display_name(path)
    with files.opened(path) as (file, _):
        data = files.read_limited(file, bench.LIMIT, name)
    try:
        return data.decode()
    except UnicodeDecodeError as problem:
        raise InputError("bench-form/not-utf8", trouble=str(problem), where=Where(file=name)) from problem
