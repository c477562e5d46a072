"""Writing a bag: a folder, zip or tar whose every file is accounted for by digests, for handing on.

Source:
    RFC 8493 (The BagIt File Packaging Format, version 1.0): section 2 for the files of a bag, 2.2.2 for the reserved
    labels of bag-info.txt, 4 for the single folder inside a zip or tar, 2.1.3 for characters in paths.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import shutil
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, TYPE_CHECKING, Literal, Protocol, cast

from imagekeeper.archive.ocfl.reading import file_blocks
from imagekeeper.archive.ocfl.troubles import damaged
from imagekeeper.errors import UsageError, Where
from imagekeeper.files import display_name, flush, sync_folder, unwritable
from imagekeeper.legible import escaped
from imagekeeper.progress import Advance
from imagekeeper.provenance import places
from imagekeeper.sentences.say import Phrase

if TYPE_CHECKING:
    import tarfile
    import zipfile

#: How a bag can lie on disk.
Form = Literal["folder", "zip", "tar"]
FORMS: tuple[Form, ...] = ("folder", "zip", "tar")

DECLARATION = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
ALGORITHMS = ("sha256", "sha512")


@dataclass(frozen=True)
class PayloadFile:
    """One file of the payload.

    Attributes:
        path: Below `data/`, with `/` between its elements.
        source: Its bytes, or the file that holds them.
        sha512: What its SHA-512 must be, or None where that is not known.
    """

    path: str
    source: bytes | Path
    sha512: str | None = None


@dataclass(frozen=True)
class BagFigures:
    """What was written.

    Attributes:
        files: How many files the payload has.
        bytes: How many bytes they hold. [byte]
    """

    files: int
    bytes: int


def chosen_form(target: str, to: Form | None) -> Form:
    """Find the form to write: the one named, or the one that the ending of the name stands for, or a folder.

    Example:
        >>> chosen_form("tg85.zip", None), chosen_form("tg85", None), chosen_form("tg85.zip", "tar")
        ('zip', 'folder', 'tar')
    """
    endings: dict[str, Form] = {".zip": "zip", ".tar": "tar"}
    return to or endings.get(os.path.splitext(target)[1].lower(), "folder")


def write_bag(
    target: str, form: Form, parts: Sequence[PayloadFile], info: Iterable[tuple[str, str]], *, now: int,
    advance: Advance,
) -> BagFigures:  # fmt: skip
    """Write a bag beside its place, flush it, and move it there: whole, or not at all; nothing is overwritten.

    The same parts, labels and time give the same bytes: files come in order of their names, and what a zip or tar
    could say of owners and permissions is fixed. Nothing is compressed, because the result of compressing depends on
    the library's version, and because one bad byte then harms one file only.

    Args:
        target: The folder or file to make.
        form: Which of them.
        parts: The payload.
        info: Labels and values of bag-info.txt; Payload-Oxum is added.
        now: The time for the files in a zip or tar, since 1970. [second]
        advance: Told the bytes written.

    Raises:
        UsageError: `exists`; `cannot-write`; `usage` for a target without a name.
        ArchiveError: `archive-damaged` for a part whose digest is not what it must be.
    """
    name = display_name(target)
    place = Path(target).absolute()
    if not target or target == "-" or not place.name:   # - is standard output elsewhere, never a file's name
        raise UsageError("usage/bag-without-name", target=target)
    if os.path.lexists(place):
        raise _taken(name)
    import tempfile  # slow to load, and most commands write nothing

    try:
        beside = Path(tempfile.mkdtemp(prefix=".imagekeeper-", dir=place.parent))
    except OSError as problem:
        raise unwritable(name, problem) from problem
    try:
        base = places.safe_name(place.name.removesuffix(f".{form}"))
        built = beside / base
        with _SINKS[form](built, base, now) as sink:
            figures = _fill(sink, parts, info, advance)
        _into_place(built, place)
        sync_folder(place.parent)
    except OSError as problem:
        raise unwritable(name, problem) from problem
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return figures


def _taken(name: str) -> UsageError:
    return UsageError("exists/bag", name=name, where=Where(file=name))


def _into_place(built: Path, place: Path) -> None:
    if built.is_dir():
        if os.path.lexists(place):   # somebody took the place meanwhile
            raise _taken(display_name(place))
        os.rename(built, place)
        return
    try:
        os.link(built, place)   # unlike a rename, this fails when somebody took the place meanwhile
    except FileExistsError as problem:
        raise _taken(display_name(place)) from problem
    except OSError:   # a file system without hard links
        if os.path.lexists(place):
            raise _taken(display_name(place)) from None
        os.rename(built, place)


def _fill(
    sink: _Sink, parts: Sequence[PayloadFile], info: Iterable[tuple[str, str]], advance: Advance
) -> BagFigures:
    manifests: dict[str, list[str]] = {name: [] for name in ALGORITHMS}
    total = 0
    sink.add("bagit.txt", (DECLARATION,), len(DECLARATION))
    tags = {"bagit.txt": DECLARATION}
    for part in sorted(parts, key=lambda one: one.path):
        total += _add(sink, part, manifests, advance)
    lines = [*info, ("Payload-Oxum", f"{total}.{len(parts)}")]
    tags["bag-info.txt"] = "".join(f"{label}: {_value(value)}\n" for label, value in lines).encode()
    for name, entries in manifests.items():
        tags[f"manifest-{name}.txt"] = "".join(entries).encode()
    about = {
        f"tagmanifest-{name}.txt": "".join(
            f"{hashlib.new(name, data).hexdigest()}  {tag}\n" for tag, data in sorted(tags.items())
        ).encode()
        for name in ALGORITHMS
    }
    del tags["bagit.txt"]   # it is there already
    for tag, data in {**tags, **about}.items():
        sink.add(tag, (data,), len(data))
    return BagFigures(len(parts), total)


def _add(sink: _Sink, part: PayloadFile, manifests: dict[str, list[str]], advance: Advance) -> int:
    digests = {name: hashlib.new(name) for name in ALGORITHMS}
    source = part.source
    size = len(source) if isinstance(source, bytes) else os.lstat(source).st_size
    passed = 0

    def digested() -> Iterator[bytes]:
        nonlocal passed
        for block in (source,) if isinstance(source, bytes) else file_blocks(source):
            for digest in digests.values():
                digest.update(block)
            passed += len(block)
            advance(len(block))
            yield block

    sink.add(f"data/{part.path}", digested(), size)
    if passed != size or part.sha512 not in (None, digests["sha512"].hexdigest()):
        raise damaged(part.path, Phrase("archive-damaged/changed-meanwhile"))
    for name, digest in digests.items():
        manifests[name].append(f"{digest.hexdigest()}  {encoded(f'data/{part.path}')}\n")
    return size


def encoded(path: str) -> str:
    r"""Write a path as manifests hold it.

    Source:
        RFC 8493, section 2.1.3.

    Example:
        >>> encoded("data/50%\n.bin")
        'data/50%25%0A.bin'
    """
    return path.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _value(text: str) -> str:
    """Keep a value on its line, and what would be unseen in it visible: people read this file first."""
    return escaped(" ".join(text.split()))


class _Sink(Protocol):
    def add(self, path: str, blocks: Iterable[bytes], size: int) -> None: ...


@contextlib.contextmanager
def _folder(built: Path, base: str, now: int) -> Iterator[_Sink]:
    built.mkdir()
    yield _Folder(built)
    for above, _, _ in os.walk(built, topdown=False):
        sync_folder(above)


class _Folder:
    def __init__(self, top: Path) -> None:
        self._top = top

    def add(self, path: str, blocks: Iterable[bytes], size: int) -> None:
        place = self._top / path
        place.parent.mkdir(parents=True, exist_ok=True)
        with open(place, "xb") as file:
            for block in blocks:
                file.write(block)
            flush(file)


@contextlib.contextmanager
def _zip(built: Path, base: str, now: int) -> Iterator[_Sink]:
    import zipfile  # only for what is packed so

    with open(built, "xb") as file:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as target:
            yield _Zip(target, base, now)
        flush(file)


class _Zip:
    def __init__(self, target: zipfile.ZipFile, base: str, now: int) -> None:
        self._target = target
        self._base = base
        # no earlier or later time can be written down: PKWARE, APPNOTE.TXT 6.3.10, section 4.4.6
        self._time = time.gmtime(min(max(now, 315532800), 4354819198))[:6]

    def add(self, path: str, blocks: Iterable[bytes], size: int) -> None:
        from zipfile import ZipInfo  # only for what is packed so

        about = ZipInfo(f"{self._base}/{path}", self._time)
        about.create_system = 3   # the same bytes on every system
        about.external_attr = 0o100644 << 16
        about.file_size = size
        with self._target.open(about, "w", force_zip64=size > 1 << 30) as member:
            for block in blocks:
                member.write(block)


@contextlib.contextmanager
def _tar(built: Path, base: str, now: int) -> Iterator[_Sink]:
    import tarfile  # only for what is packed so

    with open(built, "xb") as file:
        with tarfile.open(fileobj=file, mode="w", format=tarfile.PAX_FORMAT) as target:
            yield _Tar(target, base, now)
        flush(file)


class _Tar:
    def __init__(self, target: tarfile.TarFile, base: str, now: int) -> None:
        self._target = target
        self._base = base
        self._time = now

    def add(self, path: str, blocks: Iterable[bytes], size: int) -> None:
        from tarfile import TarInfo  # only for what is packed so

        about = TarInfo(f"{self._base}/{path}")
        about.size, about.mtime, about.mode = size, self._time, 0o644
        self._target.addfile(about, cast("IO[bytes]", _Blocks(iter(blocks))))


class _Blocks(io.RawIOBase):
    """Pieces, read as a file is."""

    def __init__(self, blocks: Iterator[bytes]) -> None:
        self._blocks = blocks
        self._rest = b""

    def read(self, size: int = -1) -> bytes:
        pieces, have = [self._rest], len(self._rest)
        while size < 0 or have < size:
            block = next(self._blocks, b"")
            if not block:
                break
            pieces.append(block)
            have += len(block)
        data = b"".join(pieces)
        self._rest = data[size:] if size >= 0 else b""
        return data[:size] if size >= 0 else data


_SINKS: dict[Form, Callable[[Path, str, int], contextlib.AbstractContextManager[_Sink]]] = {
    "folder": _folder, "zip": _zip, "tar": _tar,
}  # fmt: skip
