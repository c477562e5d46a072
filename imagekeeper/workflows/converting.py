"""Convert a file from one container to another, and prove what was written."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import ClassVar, Literal

from imagekeeper import containers, files, fingerprint
from imagekeeper.containers.model import Image
from imagekeeper.digests import sha256_hex
from imagekeeper.errors import UsageError, Where
from imagekeeper.fingerprint import Fingerprint
from imagekeeper.progress import Progress, silent
from imagekeeper.units import ADDRESS_LIMIT, size_text
from imagekeeper.workflows.loading import STDIN, Options, loaded

#: What file name endings usually stand for. Common practice, no source.
ENDINGS: dict[str, str] = {
    ".bin": "raw", ".rom": "raw", ".img": "raw", ".dat": "raw", ".raw": "raw",
    ".hex": "intel-hex", ".ihx": "intel-hex", ".ihex": "intel-hex",
    ".s19": "s-record", ".s28": "s-record", ".s37": "s-record", ".srec": "s-record", ".mot": "s-record",
    ".tek": "tektronix-extended",
}  # fmt: skip


@dataclass(frozen=True)
class Conversion:
    """What was converted into what.

    Attributes:
        source: The image as it was read, with its container and doubts.
        output: Name of the file written, made printable.
        container: The kind of file written.
        chosen_by: `option` where --to named the kind, `ending` where the file name did, `default` otherwise.
        file_bytes: Size of the file written. [byte]
        base: Address of the first byte in the file written, or null where the kind states none. [byte]
    """

    SCHEMA: ClassVar[Literal["conversion/1"]] = "conversion/1"

    source: Fingerprint
    output: str
    container: str
    chosen_by: Literal["option", "ending", "default"]
    file_bytes: int
    base: int | None


def convert_file(
    path: str,
    output: str,
    options: Options,
    *,
    to: str | None = None,
    base: int | None = None,
    force: bool = False,
    progress: Progress = silent,
) -> Conversion:
    """Convert one file.

    Args:
        path: The file to read.
        output: The file to write, whole or not at all.
        options: How to take the input; its `fill` closes gaps.
        to: The kind to write, or None to go by the output's ending, and raw for want of one.
        base: Where the first byte shall lie, or None to keep its address.
        force: Replace the output if it is there.
        progress: Told how far it is.

    Raises:
        ImagekeeperError: The input cannot be understood, the kind cannot hold the image, or the output not be written.
    """
    kind, chosen_by = _kind(output, to)
    if output == STDIN:
        raise UsageError(
            "usage", "the output must be a file", why="- was given", hint="name a file behind -o",
        )  # fmt: skip
    if not force and os.path.lexists(output):
        raise files.taken(files.display_name(output))
    with loaded(path, options) as file:
        image = file.image
        if base is not None:
            image = _at_base(image, base)
        with progress(f"Converting {file.name}", image.size_bytes) as advance:
            source = fingerprint.take(image, file.name, name_base64=file.name_base64, advance=advance)
        blocks: Iterable[bytes]
        if kind == "raw":
            containers.raw_blocks_need(image)
            blocks = _pieces(image)
        else:
            text = containers.encode(image, kind)
            _prove(text, kind, image)
            blocks = [text]
        size = files.write_whole(output, blocks, force=force)
    _reread(output, source.sha256 if kind == "raw" else sha256_hex(text))
    stated = None if kind == "raw" else image.first_address
    return Conversion(source, files.display_name(output), kind, chosen_by, size, stated)


def _kind(output: str, to: str | None) -> tuple[str, Literal["option", "ending", "default"]]:
    if to is not None:
        return to, "option"
    ending = os.path.splitext(output)[1].lower()
    if ending in ENDINGS:
        return ENDINGS[ending], "ending"
    return "raw", "default"


def _at_base(image: Image, base: int) -> Image:
    if base + image.span_bytes > ADDRESS_LIMIT:
        raise UsageError(
            "address-out-of-range", "the image does not fit below 4 GiB at that base",
            why=f"{size_text(image.span_bytes)} from {base:X} go past FFFFFFFF", hint="give a lower --base",
        )  # fmt: skip
    return image.moved(base)


def _reread(output: str, expected: str) -> None:
    """Read what was written back from the disk."""
    digest = hashlib.sha256()
    with files.opened(output) as (file, _):
        while block := file.read(1 << 20):
            digest.update(block)
    if digest.hexdigest() != expected:
        raise UsageError(
            "cannot-write", "the output does not read back as it was written",
            why=f"its SHA-256 should be {expected} and is {digest.hexdigest()}",
            hint="do not trust the medium it lies on: write it elsewhere", where=Where(file=files.display_name(output)),
        )  # fmt: skip


def _pieces(image: Image) -> Iterator[bytes]:
    for _, piece in image.pieces():
        yield piece


def _prove(text: bytes, kind: str, image: Image) -> None:
    """Decode what is about to be written, and compare."""
    again = containers.read(text, kind=kind)
    same = [(a, p) for a, p in again.pieces()] == [(a, p) for a, p in image.pieces()]
    assert same, f"what {kind} wrote does not read back"
