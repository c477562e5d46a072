"""The folder of a report: what lies in it is known, and nothing else is touched."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import Self

from imagekeeper import files
from imagekeeper.archive.ocfl.reading import file_bytes, is_folder
from imagekeeper.digests import sha256_hex
from imagekeeper.errors import InternalError, UsageError, Where

#: Lies in every report, and lists the files that the report wrote.
MARK = "report.json"
_SCHEMA = "report-files/1"

_SAFE = re.compile(r"(?:(?:carriers|machines|photos)/)?[A-Za-z0-9_][A-Za-z0-9._-]{0,200}")


class ReportFolder:
    """A folder that is new or empty, or that an earlier report wrote.

    Use it in a `with` statement: the list of files is written before the first of them, and again after the last, also
    when the work is interrupted, so that the report can be made again.

    Args:
        path: The folder.
        force: Replace an earlier report.

    Raises:
        UsageError: `exists` for a folder that holds anything else; `cannot-write`.
    """

    def __init__(self, path: str, *, force: bool) -> None:
        self.path = Path(path)
        self.name = files.display_name(path)
        self.written: dict[str, str] = {}
        self._before = self._listed(force)

    def _listed(self, force: bool) -> set[str]:
        """Tell what an earlier report wrote; nothing for a folder that is new or empty."""
        try:
            names = os.listdir(self.path)
        except FileNotFoundError:
            return set()
        except NotADirectoryError:
            raise files.taken(self.name) from None
        except OSError as problem:
            raise files.unwritable(self.name, problem) from problem
        if not names:
            return set()
        listed = _parsed(self.path / MARK)
        if listed is None:
            raise UsageError("exists/no-report", name=self.name, mark=MARK, where=Where(file=self.name))
        if not force:
            raise UsageError("exists/report", name=self.name, mark=MARK, where=Where(file=self.name))
        return listed

    def __enter__(self) -> Self:
        """Make the folder and its mark."""
        try:
            self.path.mkdir(parents=True, exist_ok=True)
        except OSError as problem:
            raise files.unwritable(self.name, problem) from problem
        self._write_mark(self._before)
        return self

    def __exit__(self, kind: type[BaseException] | None, *problem: object) -> None:
        """List what was written; when all went well, remove what only the earlier report had."""
        if kind is None:
            self._remove(self._before - set(self.written))
            self._before = set()
        self._write_mark(self._before | set(self.written))

    def write(self, name: str, data: bytes) -> None:
        """Write one file, whole or not at all.

        Raises:
            UsageError: `exists` where something lies in its place that no report wrote; `cannot-write`.
            InternalError: `internal` for a name that could lead out of the folder.
        """
        if not _SAFE.fullmatch(name):
            raise InternalError("internal/page", name=name)
        target = self.path / name
        if target.parent != self.path and not is_folder(target.parent):
            try:
                target.parent.mkdir()
            except OSError as problem:   # also where a link or file has the folder's name
                raise files.unwritable(files.display_name(target.parent), problem) from problem
        files.write_whole(target, [data], force=name in self._before or name in self.written)
        self.written[name] = sha256_hex(data)

    def _remove(self, names: Iterable[str]) -> None:
        for name in names:
            if is_folder((self.path / name).parent):
                with suppress(OSError):
                    os.unlink(self.path / name)
        for folder in ("carriers", "machines", "photos"):
            with suppress(OSError):
                os.rmdir(self.path / folder)   # only where nothing is left in it

    def _write_mark(self, names: Iterable[str]) -> None:
        listed = [{"path": name, "sha256": self.written.get(name)} for name in sorted(names)]
        text = json.dumps({"schema": _SCHEMA, "files": listed}, indent=1) + "\n"
        files.write_whole(self.path / MARK, [text.encode()], force=True)


def _parsed(path: Path) -> set[str] | None:
    """Read the list of an earlier report; None where there is none. Names that no report gives are left out."""
    with suppress(OSError, ValueError, RecursionError):
        document = json.loads(file_bytes(path))
        if isinstance(document, dict) and document.get("schema") == _SCHEMA and isinstance(document["files"], list):
            names = (entry.get("path") for entry in document["files"] if isinstance(entry, dict))
            return {name for name in names if isinstance(name, str) and _SAFE.fullmatch(name) and name != MARK}
    return None
