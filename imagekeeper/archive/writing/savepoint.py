"""What a carrier was before a change, kept until the change is whole, so that a change that fails leaves nothing done.

Before anything of a carrier is touched, a folder in staging gets copies of its root inventory and digest file, and
then a mark with the number of its newest version and the size of the log of commits. Taking the mark away, in one
step, is what makes the change count. Whatever fails before, or cuts the program off, the change is undone: at once by
the program that failed, or by the next one that takes the lock. Undoing takes no room on the disk: it shortens the
log, moves the two files back, and takes out the versions that came since.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from imagekeeper.archive.ocfl import ledger
from imagekeeper.archive.ocfl.inventory import INVENTORY, SIDECAR
from imagekeeper.archive.ocfl.layout import version_number
from imagekeeper.archive.ocfl.reading import bytes_if_any, entries, is_file, is_folder, size_if_any
from imagekeeper.errors import InternalError
from imagekeeper.jsonable import canonical
from imagekeeper.provenance.ids import is_carrier_id
from imagekeeper.sentences.say import Phrase

if TYPE_CHECKING:
    from imagekeeper.archive.ocfl.folder import ArchiveFolder

#: What the name of a savepoint's folder ends in; the carrier's id stands before.
ENDING = "-undo"

#: The file that says that the savepoint is complete, and the change not yet whole.
MARK = "before.json"


@contextlib.contextmanager
def whole(archive: ArchiveFolder, carrier_id: str, head: int, *, replacing: bool = False) -> Iterator[None]:
    """Undo all that was done to a carrier unless the block ends well; the lock is held by the caller.

    Blocks about one carrier may be nested: the outermost counts.

    Args:
        archive: The archive.
        carrier_id: The carrier.
        head: Its newest version, 0 where there is none.
        replacing: Whether the block moves what is there to `replaced` first, and then makes the carrier anew.

    Raises:
        OSError: The savepoint cannot be written, or the block raised it.
    """
    if archive.changing is not None:
        if archive.changing != carrier_id:
            raise InternalError("internal/two-carriers", id=archive.changing, other=carrier_id)
        yield
        return
    point = Savepoint(archive, carrier_id, head, _log_bytes(archive), replacing=replacing)
    point.set()
    archive.changing = carrier_id
    try:
        yield
        point.release()
    except BaseException:   # also an interrupt
        with contextlib.suppress(OSError):   # the next one to take the lock undoes it
            point.undo()
        raise
    finally:
        archive.changing = None


class Savepoint:
    """What a carrier was.

    Args:
        archive: The archive.
        carrier_id: The carrier.
        head: Its newest version, 0 for none.
        log_bytes: How long the log of commits was, None where there was none. [byte]
        strays: The numbers of later versions' folders that nothing accounts for; they are left alone.
        replacing: Whether there was a carrier nevertheless, which is moved to `replaced` before another is made.
    """

    def __init__(
        self, archive: ArchiveFolder, carrier_id: str, head: int, log_bytes: int | None, strays: Sequence[int] = (),
        *, replacing: bool = False,
    ) -> None:  # fmt: skip
        self.archive = archive
        self.disk = archive.disk
        self.carrier_id = carrier_id
        self.head = head
        self.log_bytes = log_bytes
        self.strays = strays
        self.replacing = replacing
        self.folder = archive.staging / f"{carrier_id}{ENDING}"
        self.target = archive.object_path(carrier_id)
        self.log = archive.log / ledger.COMMITS

    @classmethod
    def found(cls, archive: ArchiveFolder, name: str) -> Savepoint | None:
        """Read what lies in staging; None where it is no savepoint, or was not complete when the work was cut off."""
        carrier_id = name.removesuffix(ENDING)
        data = bytes_if_any(archive.staging / name / MARK)
        if not is_savepoint(name) or data is None:
            return None
        try:
            mark = json.loads(data)
            numbers = [mark["head"], mark["log_bytes"] or 0, *mark["strays"], int(mark["replacing"])]
        except (ValueError, RecursionError, TypeError, LookupError):
            return None
        if not all(type(number) is int and number >= 0 for number in numbers):
            return None
        replacing = mark["replacing"] is not False
        return cls(archive, carrier_id, mark["head"], mark["log_bytes"], mark["strays"], replacing=replacing)

    def set(self) -> None:
        """Write it.

        Raises:
            OSError: It cannot be written, or something lies where a new carrier shall.
        """
        if not self.head and not self.replacing and os.path.lexists(self.target):
            raise FileExistsError(None, str(Phrase("step/in-the-way", place=self.archive.name_of(self.target))))
        self.strays = self.later()
        self.disk.remove(self.folder)
        self.disk.make_folders(self.folder)
        for name in (INVENTORY, SIDECAR) if self.head else ():
            data = bytes_if_any(self.target / name)
            if data is not None:
                self.disk.write(self.folder / name, (data,))
        self.mark()

    def mark(self) -> None:
        """Say that it is complete, and the change not whole."""
        mark = {
            "head": self.head, "log_bytes": self.log_bytes, "strays": list(self.strays), "replacing": self.replacing,
        }  # fmt: skip
        self.disk.write(self.folder / MARK, (canonical(mark),))
        self.disk.sync(self.folder)
        self.disk.sync(self.archive.staging)

    def release(self) -> None:
        """Let the change count: it is whole.

        Raises:
            OSError: It does not count, and must be undone.
        """
        self.disk.remove(self.folder / MARK)
        try:
            self.disk.sync(self.folder)
        except OSError:
            try:
                self.mark()
            except OSError:
                return   # nothing can be written any more: what is in place stands
            raise
        with contextlib.suppress(OSError):   # the next one to take the lock clears it away
            self.disk.remove(self.folder)

    def stale(self) -> bool:
        """Whether the log of commits goes on with what another change wrote: then the savepoint is of another time."""
        start = self.log_bytes or 0
        if size_if_any(self.log) <= start or not is_file(self.log):
            return False
        return not all(
            carrier == self.carrier_id and version > self.head
            for carrier, version in ledger.noted_behind(self.archive, start)
        )

    def undo(self) -> None:
        """Bring back what was; whatever of it was done already is not done again.

        Raises:
            OSError: It cannot be brought back now.
        """
        self.shorten_log()
        for name in (INVENTORY, SIDECAR):
            if is_file(self.folder / name):
                self.disk.move(self.folder / name, self.target / name)
                self.disk.sync(self.target)
        if self.head:
            for number in self.later():
                if number not in self.strays:
                    self.disk.move(self.target / f"v{number}", self.folder / f"v{number}")
                    self.disk.sync(self.target)
        elif self.replacing:
            self.bring_back()
        else:
            self.take_out()
        self.disk.remove(self.folder)

    def shorten_log(self) -> None:
        """Take the lines of the change out of the log of commits."""
        if not is_file(self.log):
            return
        if self.log_bytes is None:
            self.disk.remove(self.log)
            self.disk.sync(self.log.parent)
        elif size_if_any(self.log) > self.log_bytes:
            self.disk.shorten(self.log, self.log_bytes)

    def take_out(self) -> None:
        """Take out a carrier that was not there before, with the folders made for it."""
        if is_folder(self.target):
            self.disk.move(self.target, self.folder / "object")
            self.disk.sync(self.target.parent)
        for folder in self.target.parents:
            if folder == self.archive.root:
                return
            if is_folder(folder):   # of several, only the upper ones may have been made
                if entries(folder):
                    return
                self.disk.remove_empty(folder)

    def bring_back(self) -> None:
        """Put what was replaced in its place again; as long as it lies there itself, there is nothing to do."""
        before = replaced(self.archive, self.carrier_id)
        if not os.path.lexists(before):
            return
        if is_folder(self.target):
            self.disk.move(self.target, self.folder / "object")
        self.disk.make_folders(self.target.parent)
        self.disk.move(before, self.target)
        self.disk.sync(self.target.parent)

    def later(self) -> list[int]:
        """Give the numbers of later versions whose folders are there."""
        if not self.head or not is_folder(self.target):
            return []
        numbers = map(version_number, entries(self.target))
        return sorted(number for number in numbers if number is not None and number > self.head)


def replaced(archive: ArchiveFolder, carrier_id: str) -> Path:
    """Give where in staging a carrier lies while another takes its place; recovery puts what it finds there aside."""
    return archive.staging / f"{carrier_id}-replaced"


def is_savepoint(name: str) -> bool:
    """Whether a folder in staging is named as a savepoint is."""
    return name.endswith(ENDING) and is_carrier_id(name.removesuffix(ENDING))


def _log_bytes(archive: ArchiveFolder) -> int | None:
    path: Path = archive.log / ledger.COMMITS
    return size_if_any(path) if is_file(path) else None
