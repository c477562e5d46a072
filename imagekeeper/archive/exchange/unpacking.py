"""Bringing what somebody sent to a folder where it can be looked at: a folder, zip, tar or tar.gz, none of it trusted.

Nothing is written outside the scratch folder, links and devices are refused instead of followed, and what is written
is counted while it is written, whatever the file says of its sizes.
"""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import stat
import tempfile
import unicodedata
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, BinaryIO

from imagekeeper.archive.ocfl.inventory_check import path_problem
from imagekeeper.archive.ocfl.reading import entries
from imagekeeper.errors import ImagekeeperError, InputError
from imagekeeper.files import display_name, opened, unreadable, unwritable
from imagekeeper.jsonable import one_line
from imagekeeper.legible import shortened
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import size_text

if TYPE_CHECKING:
    import tarfile
    import zipfile
    from collections.abc import Iterable

#: More files are refused.
COUNT_LIMIT = 1_000_000

#: So much may be unpacked from any file. [byte]
ALWAYS_ALLOWED = 256 << 20

#: And more only where it is at most this many times the size of the packed file. Disks that are mostly empty can be
#: packed about a thousand times smaller (the limit of deflate), but a whole bag, with its digests, never is.
RATIO_LIMIT = 100

#: Files are written, and a tar is read, in pieces no larger than this. [byte]
PIECE = 1 << 20

#: What any path may be, and how deep. [characters] [folders]
PATH_LIMIT, DEPTH_LIMIT = 1024, 40


@contextlib.contextmanager
def unpacked(path: str) -> Iterator[Path]:
    """Give the folder of a bag: the one named, or what a zip, tar or tar.gz holds, in a scratch folder that then goes.

    The scratch folder lies where the system keeps temporary files (TMPDIR names another place).

    Raises:
        NotFoundError: `not-found`.
        InputError: `bag-unsafe`, `too-large`, `wrapper-damaged`, `bag-damaged`; the file cannot be read.
        UsageError: `cannot-write` where there is no room for it.
    """
    name = display_name(path)
    if os.path.isdir(path):
        with _told(name):
            _check_folder(Path(path))
            yield Path(path)
        return
    scratch = Path(tempfile.mkdtemp(prefix="imagekeeper-"))
    try:
        with _told(name), opened(path) as (file, about):
            _unpack(file, about.st_size, scratch)
            yield _only_folder(scratch / "bag")
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


@contextlib.contextmanager
def _told(name: str) -> Iterator[None]:
    try:
        yield
    except ImagekeeperError as problem:
        raise problem.at(file=name) from problem


def unsafe(why: Phrase | str) -> InputError:
    """Refuse what could do harm."""
    return InputError("bag-unsafe/does-harm", trouble=why)


def _broken(why: Phrase) -> InputError:
    return InputError("wrapper-damaged/packed-bag", trouble=why)


class SafePaths:
    """The paths seen so far: each safe on any system, and none that another system would take for another.

    Example:
        >>> names = SafePaths()
        >>> names.add("bag/U4.bin"); names.add("bag/u4.bin")
        Traceback (most recent call last):
        imagekeeper.errors.InputError: the bag is refused: it holds ... 'bag/u4.bin' and 'bag/U4.bin' differ only ...
    """

    def __init__(self) -> None:
        self._exact: dict[str, str] = {}
        self._files: set[str] = set()
        self._count = 0

    def add(self, path: str, *, folder: bool = False) -> None:
        """Accept one more path.

        Raises:
            InputError: `bag-unsafe`, `too-large`.
        """
        self._count += 1
        if self._count > COUNT_LIMIT:
            raise InputError("too-large/bag-of-many-files", limit=COUNT_LIMIT)
        if problem := _name_problem(path):
            raise unsafe(problem)
        parts = path.split("/")
        for depth in range(1, len(parts) + 1):
            exact = "/".join(parts[:depth])
            folded = unicodedata.normalize("NFKC", exact).casefold()
            known = self._exact.setdefault(folded, exact)
            if known != exact:
                raise unsafe(
                    Phrase("bag-unsafe/differ-by-case", path=one_line(exact), other=one_line(known))
                )
            last = depth == len(parts)
            if exact in self._files and not (last and folder):
                raise unsafe(Phrase("bag-unsafe/twice", path=one_line(exact)))
            if last and not folder:
                if self._is_folder(exact):
                    raise unsafe(Phrase("bag-unsafe/file-and-folder", path=one_line(exact)))
                self._files.add(exact)
            else:
                self._exact.setdefault(folded + "/", exact)

    def _is_folder(self, exact: str) -> bool:
        return unicodedata.normalize("NFKC", exact).casefold() + "/" in self._exact


def _name_problem(path: str) -> Phrase | str | None:
    shown = shortened(one_line(path), 120)
    if len(path) > PATH_LIMIT or path.count("/") > DEPTH_LIMIT:
        return Phrase("bag-unsafe/long-path", path=shown)
    if problem := path_problem(path):
        return one_line(problem)
    for part in path.split("/"):
        if re.search(r'[:*?"<>|\x7f]', part) or part[-1] in " .":
            return Phrase("bag-unsafe/odd-name", path=shown)
    return None


def _check_folder(top: Path) -> None:
    names = SafePaths()
    pending = [""]
    while pending:
        above = pending.pop()
        try:
            listing = entries(top / above)
        except OSError as problem:
            raise unreadable(display_name(top / above), problem) from problem
        for name, kind in listing.items():
            path = above + name
            if kind == "other":
                raise unsafe(Phrase("bag-unsafe/no-plain-file", path=one_line(path)))
            names.add(path, folder=kind == "folder")
            if kind == "folder":
                pending.append(f"{path}/")


def _only_folder(top: Path) -> Path:
    """Give the one folder that a packed bag has at its top (RFC 8493, section 4), or the top itself."""
    listing = entries(top)
    if len(listing) == 1 and "bagit.txt" not in listing:
        name, kind = next(iter(listing.items()))
        if kind == "folder":
            return top / name
    return top


class _Room:
    """Counts what is unpacked, so that a small file cannot fill the disk."""

    def __init__(self, packed: int, scratch: Path) -> None:
        self._limit = max(ALWAYS_ALLOWED, packed * RATIO_LIMIT)
        self._scratch = scratch
        self._taken = 0

    def want(self, size: int) -> None:
        """Refuse a size that is stated."""
        self._check(self._taken + size)
        free = shutil.disk_usage(self._scratch).free
        if size > free:
            problem = OSError(None, f"{size_text(size)} are needed and {size_text(free)} are free")
            raise unwritable(display_name(self._scratch), problem)

    def take(self, size: int) -> None:
        """Count what was written."""
        self._taken += size
        self._check(self._taken)

    def _check(self, size: int) -> None:
        if size > self._limit:
            raise InputError("too-large/bag-unpacks", limit=self._limit)


def _unpack(file: BinaryIO, size: int, scratch: Path) -> None:
    room = _Room(size, scratch)
    start = file.read(512)
    file.seek(0)
    target = scratch / "bag"
    target.mkdir()
    if start[:4] in (b"PK\x03\x04", b"PK\x05\x06"):
        _unzip(file, size, target, room)
    elif start[:2] == b"\x1f\x8b":
        with open(scratch / "tar", "w+b") as plain:
            _gunzip(file, plain, room)
            unpacked_size = plain.tell()
            plain.seek(0)
            _untar(plain, target, _Room(unpacked_size, scratch))
    elif start[257:262] == b"ustar":
        _untar(file, target, room)
    else:
        raise InputError("bag-damaged/no-bag")


def _write(blocks: Iterable[bytes], target: Path, room: _Room) -> int:
    written = 0
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with open(target, "xb") as file:
            for block in blocks:
                room.take(len(block))
                written += len(block)
                file.write(block)
    except OSError as problem:
        raise unwritable(display_name(target), problem) from problem
    return written


def _pieces(file: IO[bytes]) -> Iterator[bytes]:
    while piece := file.read(PIECE):
        yield piece


def _gunzip(file: BinaryIO, plain: BinaryIO, room: _Room) -> None:
    import gzip  # only for what is packed so

    try:
        with gzip.GzipFile(fileobj=file) as packed:
            for piece in _pieces(packed):   # type: ignore[arg-type]
                room.take(len(piece))
                plain.write(piece)
    except (EOFError, zlib.error, gzip.BadGzipFile) as problem:
        raise _broken(Phrase("wrapper-damaged/gzip-says", trouble=str(problem))) from problem


def _unzip(file: BinaryIO, size: int, target: Path, room: _Room) -> None:
    import zipfile  # only for what is packed so

    names = SafePaths()
    try:
        with zipfile.ZipFile(file) as packed:
            members = packed.infolist()
            if len(members) > COUNT_LIMIT or sum(one.compress_size for one in members) > size:
                raise unsafe(Phrase("bag-unsafe/share-bytes", members=len(members)))
            room.want(sum(one.file_size for one in members))
            for one in members:
                _check_member(one)
                names.add(one.filename.rstrip("/") if one.is_dir() else one.filename, folder=one.is_dir())
                if one.is_dir():
                    continue
                with packed.open(one) as member:
                    written = _write(_pieces(member), target / one.filename, room)
                if written != one.file_size:
                    trouble = Phrase(
                        "wrapper-damaged/size-of-member", name=one.filename, written=written, stated=one.file_size
                    )
                    raise _broken(trouble)
    except (
        zipfile.BadZipFile, zipfile.LargeZipFile, NotImplementedError, RuntimeError, EOFError, zlib.error, ValueError,
        UnicodeError,
    ) as problem:  # fmt: skip
        raise _broken(Phrase("wrapper-damaged/zip-says", trouble=str(problem))) from problem


def _check_member(one: zipfile.ZipInfo) -> None:
    name = shortened(one_line(one.filename), 120)
    if one.orig_filename != one.filename:   # a NUL, or another system's separator
        raise unsafe(Phrase("bag-unsafe/other-form", name=name, other=shortened(one_line(one.orig_filename), 120)))
    if one.flag_bits & 0x2041:   # encrypted, strongly encrypted, header masked: APPNOTE.TXT 6.3.10, section 4.4.4
        raise InputError("wrapper-damaged/encrypted-bag", name=name)
    if one.compress_type not in (0, 8):
        raise InputError("wrapper-damaged/bag-of-other-method", name=name, method=one.compress_type)
    kind = stat.S_IFMT(one.external_attr >> 16) if one.create_system == 3 else 0
    if kind not in (0, stat.S_IFREG, stat.S_IFDIR) or (kind == stat.S_IFDIR) > one.is_dir():
        raise unsafe(Phrase("bag-unsafe/no-plain-file", path=name))


class _Measured:
    """A tar as a file that refuses to be read in one piece where a header asks for an absurd one."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self.tell, self.seek = file.tell, file.seek

    def read(self, size: int = -1) -> bytes:
        if not 0 <= size <= PIECE:
            raise unsafe(Phrase("bag-unsafe/tar-header", size=size))
        return self._file.read(size)


def _untar(file: BinaryIO, target: Path, room: _Room) -> None:
    import tarfile  # only for what is packed so

    names = SafePaths()
    measured: Any = _Measured(file)
    try:
        with tarfile.open(fileobj=measured, mode="r:") as packed:
            while (one := packed.next()) is not None:
                vars(packed)["members"].clear()   # else it would remember them all
                path = one.name.removeprefix("./").rstrip("/")
                if one.isdir() and path in ("", "."):
                    continue
                if not (one.isreg() or one.isdir()) or one.issparse():
                    shown = shortened(one_line(one.name), 120)
                    raise unsafe(Phrase("bag-unsafe/kind-in-tar", path=shown, kind=_tar_kind(one)))
                names.add(one.name.removeprefix("./") if one.isreg() else path, folder=one.isdir())
                if one.isdir():
                    continue
                room.want(one.size)
                member = packed.extractfile(one)
                if member is None:
                    raise _broken(Phrase("wrapper-damaged/no-data-in-member", name=one.name[:120]))
                if _write(_pieces(member), target / path, room) != one.size:
                    raise _broken(Phrase("wrapper-damaged/cut-member", name=one.name[:120]))
    except (tarfile.TarError, EOFError, ValueError, UnicodeError) as problem:
        raise _broken(Phrase("wrapper-damaged/tar-says", trouble=str(problem))) from problem


def _tar_kind(one: tarfile.TarInfo) -> str:
    if one.issym() or one.islnk():
        return "a link"
    return "a file with holes" if one.issparse() else "a pipe, device or something unknown"
