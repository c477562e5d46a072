"""A person's own rows of the tables: put in force, listed, checked."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import Context, copy_context
from pathlib import Path
from typing import Any, TypeVar

from imagekeeper.archive.store import ArchiveStore
from imagekeeper.door.sources import Place, named
from imagekeeper.jobs.tables.holding import own_rows_of
from imagekeeper.jobs.tables.listing import OwnRowList, check_own_rows, list_own_rows

C = TypeVar("C", bound=type)


@contextmanager
def own_rows(archive: Place | None = None) -> Iterator[OwnRowList]:
    """Let answers rest on a person's own rows, too, as the command line does; without this they rest on ours alone.

    Args:
        archive: The archive whose own rows count beside those of the person's own folder, or None.

    Returns:
        A context, which gives the rows and what of them cannot be used.

    Raises:
        NotFoundError: `archive-missing`.
        ArchiveError: `archive-newer`, `archive-damaged`.

    Example:
        >>> import imagekeeper, pathlib, tempfile
        >>> scratch = tempfile.TemporaryDirectory()
        >>> folder = pathlib.Path(scratch.name) / "harbour"
        >>> _ = imagekeeper.Archive.create(folder, title="Harbour office")
        >>> (folder / "tables").mkdir()
        >>> _ = (folder / "tables" / "mine.toml").write_text('''
        ... [[chip]]
        ... id = "2732"
        ... access_ns = [350]
        ... measured = [{ gives = ["access_ns"], by = "Ann", on = "2026-03-02", how = "scope" }]
        ... ''')
        >>> with imagekeeper.own_rows(folder) as held:
        ...     chip = imagekeeper.find_chip("2732")
        >>> [row.name for row in held.rows if row.origin == "archive"], chip.access_ns, chip.own[0].code
        (['chip 2732'], (350,), 'own-row')
        >>> imagekeeper.find_chip("2732").own
        ()
        >>> scratch.cleanup()
    """
    path = None if archive is None else ArchiveStore.open(named(archive)).path
    found = list_own_rows(path)
    with own_rows_of(path):
        yield found


def check_rows(*paths: Place, archive: Place | None = None) -> OwnRowList:
    r"""Check files of own rows, wherever they lie: each row that can be used, and what is wrong with others.

    Args:
        paths: The files.
        archive: The archive whose own rows count as well, or None.

    Raises:
        NotFoundError: `not-found`; `archive-missing`.
        InputError: A file cannot be read.

    Example:
        >>> import imagekeeper, pathlib, tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     file = pathlib.Path(folder) / "mine.toml"
        ...     _ = file.write_text("[[chip]]\nid = 2732")
        ...     found = imagekeeper.check_rows(file)
        >>> found.faults[0].why, found.faults[0].where.line
        ('chip: id is 2732, and must be a text', 1)
    """
    path = None if archive is None else ArchiveStore.open(named(archive)).path
    return check_own_rows([named(one) for one in paths], path)


def with_own_rows(cls: C) -> C:
    """Put the own rows of an archive in force around every public method of its class."""
    for name, method in list(vars(cls).items()):
        if inspect.isfunction(method) and not name.startswith("_"):
            setattr(cls, name, _around(method))
    return cls


def _around(method: Callable[..., Any]) -> Callable[..., Any]:
    @functools.wraps(method)
    def asked(self: Any, *args: Any, **kwargs: Any) -> Any:
        path: Path = self.path
        with own_rows_of(path):
            result, context = method(self, *args, **kwargs), copy_context()
        return _each(result, context) if isinstance(result, Iterator) else result

    return asked


def _each(made: Iterator[Any], context: Context) -> Iterator[Any]:
    """Walk with the rows in force while each is made, and not while the caller works with it."""
    end = object()
    while (one := context.run(next, made, end)) is not end:
        yield one
