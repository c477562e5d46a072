"""Whether a folder is a complete and valid bag: every payload file accounted for, every digest right.

Source:
    RFC 8493 (BagIt 1.0), sections 2 and 3. Stricter than it in three points: nothing is ever fetched, so a bag with
    fetch.txt is not taken; what is encoded otherwise than in UTF-8 is not; and bags of version 0.97 are held to the
    rules of 1.0.
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from imagekeeper.archive.exchange.bag import DECLARATION
from imagekeeper.archive.exchange.unpacking import unsafe
from imagekeeper.archive.ocfl.founding import MARKER
from imagekeeper.archive.ocfl.reading import NotRegularError, entries, file_blocks
from imagekeeper.errors import InputError, Where
from imagekeeper.files import reason
from imagekeeper.jsonable import one_line
from imagekeeper.progress import Progress, silent

#: Digests that manifests may hold. Source: RFC 8493, section 2.4; MD5 and SHA-1 only for what older bags have.
KNOWN = {"md5": 32, "sha1": 40, "sha224": 56, "sha256": 64, "sha384": 96, "sha512": 128}

#: One of these must be among them: the others no longer prove anything against intent.
STRONG = {"sha256", "sha384", "sha512"}

#: No line of a manifest, and no bag-info.txt, is longer. [byte]
LINE_LIMIT, INFO_LIMIT = 8192, 1 << 20

_MANIFEST = re.compile(r"(tag)?manifest-([a-z0-9]+)\.txt")


@dataclass(frozen=True, kw_only=True)
class ValidBag:
    """A bag that is complete and valid.

    Attributes:
        path: Its folder.
        files: How many payload files it has.
        bytes: How many bytes they hold. [byte]
        algorithms: The digests that its payload was checked by.
        info: Labels and values of bag-info.txt.
    """

    path: Path
    files: int
    bytes: int
    algorithms: tuple[str, ...]
    info: tuple[tuple[str, str], ...]


def check_bag(folder: Path, progress: Progress = silent) -> ValidBag:
    """Check a bag completely.

    Args:
        folder: Its folder.
        progress: Told the bytes read.

    Raises:
        InputError: `bag-damaged`, `bag-unsafe`.
    """
    try:
        return _Bag(folder).check(progress)
    except OSError as problem:
        raise bad(reason(problem)) from problem


def bad(why: str, file: str | None = None) -> InputError:
    """Say that a bag is not what it should be."""
    return InputError(
        "bag-damaged", "the bag is not complete and valid", why=why,
        hint="nothing was taken in; fetch it again, or ask the sender for a new one",
        where=None if file is None else Where(member=one_line(file)),
    )  # fmt: skip


class _Bag:
    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.tags: dict[str, int] = {}
        self.payload: dict[str, int] = {}

    def check(self, progress: Progress) -> ValidBag:
        self.declaration()
        self.list_files()
        manifests = {name: match for name in self.tags if (match := _MANIFEST.fullmatch(name))}
        payload: dict[str, dict[str, str]] = {}
        tags: dict[str, dict[str, str]] = {}
        for name, match in sorted(manifests.items()):
            if match[2] not in KNOWN:
                raise bad(f"{one_line(name)} is of an algorithm that is not known here", name)
            held = self.manifest(name, KNOWN[match[2]], self.tags if match[1] else self.payload)
            (tags if match[1] else payload)[match[2]] = held
        if not STRONG & payload.keys():
            raise bad("there is no payload manifest of SHA-256 or SHA-512")
        for algorithm, held in payload.items():
            for path in sorted(self.payload.keys() - held.keys()):
                raise bad(f"{one_line(path)} is not listed in manifest-{algorithm}.txt", path)
        for held in tags.values():
            for path in held:
                if (found := _MANIFEST.fullmatch(path)) and found[1]:
                    raise bad(f"a tag manifest lists {one_line(path)}, another one", path)
        info = self.info()
        self.oxum(info)
        with progress("Checking the bag", sum(self.payload.values())) as advance:
            for files, manifest in ((self.tags, tags), (self.payload, payload)):
                for path in sorted(files):
                    wanted = {name: held[path] for name, held in manifest.items() if path in held}
                    advance(self.digests(path, wanted))
        return ValidBag(
            path=self.folder, files=len(self.payload), bytes=sum(self.payload.values()),
            algorithms=tuple(sorted(payload)), info=tuple(info),
        )  # fmt: skip

    def declaration(self) -> None:
        path = self.folder / "bagit.txt"
        try:
            text = b"".join(self.small(path, 4096))
        except (FileNotFoundError, NotADirectoryError):
            if (self.folder / MARKER).is_file():
                raise InputError(
                    "bag-damaged", "that is an archive, not a bag", why=f"it holds {MARKER} and no bagit.txt",
                    hint="imagekeeper archive merge takes in the carriers of an archive's folder",
                ) from None   # fmt: skip
            raise bad("there is no bagit.txt, so this is no bag") from None
        form = re.sub(rb"1\.0|0\.97", b"1.0", text.replace(b"\r\n", b"\n").rstrip(b"\n") + b"\n", count=1)
        if form != DECLARATION:
            raise bad("bagit.txt does not declare BagIt 1.0 (or 0.97) and tag files in UTF-8", "bagit.txt")

    def small(self, path: Path, limit: int) -> Iterator[bytes]:
        size = 0
        for block in file_blocks(path):
            size += len(block)
            if size > limit:
                raise bad(f"{one_line(path.name)} is larger than any of its kind needs to be", path.name)
            yield block

    def list_files(self) -> None:
        pending = [""]
        while pending:
            above = pending.pop()
            for name, kind in entries(self.folder / above).items():
                path = above + name
                if kind == "folder":
                    pending.append(f"{path}/")
                elif kind == "other":
                    raise unsafe(f"{one_line(path)!r} is a link, pipe or device")
                else:
                    files = self.payload if path.startswith("data/") else self.tags
                    files[path] = os.lstat(self.folder / path).st_size
        if "fetch.txt" in self.tags:
            raise InputError(
                "bag-unsafe", "the bag is not whole: it asks that files be fetched from elsewhere",
                why="it has a fetch.txt; this program never fetches anything",
                hint="ask the sender for a bag that holds all of its files",
            )  # fmt: skip

    def manifest(self, name: str, digits: int, files: dict[str, int]) -> dict[str, str]:
        """Read a manifest line by line; one with more lines than there are files ends early."""
        held: dict[str, str] = {}
        for number, line in enumerate(self.lines(name), 1):
            match = re.fullmatch(rf"([0-9A-Fa-f]{{{digits}}})[ \t]+\*?(\S.*)", line)
            if not match:
                raise bad(f"line {number} is not a digest and a path", name)
            path = _decoded(match[2], files)
            if path not in files:
                raise bad(f"{one_line(path)[:200]}, which {name} lists, is not there", path)
            if path in held:
                raise bad(f"{one_line(path)[:200]} is listed twice in {name}", path)
            held[path] = match[1].lower()
        return held

    def lines(self, name: str) -> Iterator[str]:
        rest = b""
        for block in file_blocks(self.folder / name):
            *whole, rest = (rest + block).split(b"\n")
            if len(rest) > LINE_LIMIT:
                raise bad(f"a line of {name} is longer than {LINE_LIMIT} bytes", name)
            for line in whole:
                yield self.text(line, name)
        if rest:
            yield self.text(rest, name)

    def text(self, line: bytes, name: str) -> str:
        try:
            return line.rstrip(b"\r").decode()
        except UnicodeDecodeError as problem:
            raise bad(f"{name} is not in UTF-8", name) from problem

    def info(self) -> list[tuple[str, str]]:
        if "bag-info.txt" not in self.tags:
            return []
        found: list[tuple[str, str]] = []
        text = self.text(b"".join(self.small(self.folder / "bag-info.txt", INFO_LIMIT)), "bag-info.txt")
        for number, line in enumerate(text.replace("\r\n", "\n").split("\n"), 1):
            if not line.strip():
                continue
            if line[0] in " \t" and found:   # a folded value goes on
                found[-1] = (found[-1][0], f"{found[-1][1]} {line.strip()}")
                continue
            label, colon, value = line.partition(":")
            if not colon or not label.strip():
                raise bad(f"line {number} of bag-info.txt is no label with its value", "bag-info.txt")
            found.append((label.strip(), value.strip()))
        return found

    def oxum(self, info: list[tuple[str, str]]) -> None:
        right = f"{sum(self.payload.values())}.{len(self.payload)}"
        for label, value in info:
            if label.casefold() == "payload-oxum" and value != right:
                raise bad(f"Payload-Oxum states {one_line(value)[:60]}, and {right} is there", "bag-info.txt")

    def digests(self, path: str, wanted: dict[str, str]) -> int:
        digests = {name: hashlib.new(name, usedforsecurity=False) for name in wanted}
        size = 0
        try:
            for block in file_blocks(self.folder / path) if wanted else ():
                size += len(block)
                for digest in digests.values():
                    digest.update(block)
        except NotRegularError as problem:
            raise unsafe(f"{one_line(path)!r} became something else while it was read") from problem
        for name, right in wanted.items():
            if digests[name].hexdigest() != right:
                raise bad(f"{one_line(path)[:200]}: its {name} is not the one in the manifest", path)
        return size


def _decoded(path: str, files: dict[str, int]) -> str:
    """Read a path of a manifest; some writers leave a percent sign as it is (common practice, no source)."""
    path = path.removeprefix("./")
    plain = path.replace("%0D", "\r").replace("%0d", "\r").replace("%0A", "\n").replace("%0a", "\n").replace("%25", "%")
    return plain if plain in files or path not in files else path
