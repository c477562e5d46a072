"""Write an image to a file of any container, and prove what was written."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Sequence
from contextlib import suppress
from typing import Literal

from imagekeeper import budget, containers, files
from imagekeeper.containers.model import Image
from imagekeeper.digests import sha256_hex
from imagekeeper.errors import ImagekeeperError, InternalError, UsageError, Where
from imagekeeper.jobs.images.loading import STDIN, Given
from imagekeeper.sentences.say import Phrase

#: What decided on the kind: --to, the ending of the file's name, or neither.
ChosenBy = Literal["option", "ending", "default"]

#: What file name endings usually stand for. Common practice, no source.
ENDINGS: dict[str, str] = {
    ".bin": "raw", ".rom": "raw", ".img": "raw", ".dat": "raw", ".raw": "raw",
    ".hex": "intel-hex", ".ihx": "intel-hex", ".ihex": "intel-hex",
    ".s19": "s-record", ".s28": "s-record", ".s37": "s-record", ".srec": "s-record", ".mot": "s-record",
    ".tek": "tektronix-extended",
}  # fmt: skip


def chosen_kind(output: str, to: str | None) -> tuple[str, ChosenBy]:
    """Find the kind to write: the one named, or the one that the ending stands for, or raw.

    Example:
        >>> chosen_kind("u4.hex", None), chosen_kind("u4.hex", "raw"), chosen_kind("u4", None)
        (('intel-hex', 'ending'), ('raw', 'option'), ('raw', 'default'))
    """
    if to is not None:
        return to, "option"
    ending = os.path.splitext(output)[1].lower()
    if ending in ENDINGS:
        return ENDINGS[ending], "ending"
    return "raw", "default"


def check_output(output: str, *, force: bool, inputs: Sequence[Given] = (), beside: str | None = None) -> None:
    """Refuse, before any work is done, an output that cannot be written, or that is one of the inputs.

    Args:
        output: The file to write.
        force: Replace it if it is there; never an input.
        inputs: The files that are read.
        beside: Another file that the same command writes, or None.

    Raises:
        UsageError: `usage` for standard output, and for one name for two outputs; `exists`.
    """
    for path in inputs:
        with suppress(OSError, ValueError):
            if isinstance(path, str) and path != STDIN and os.path.samefile(path, output):
                raise UsageError("exists/is-an-input", name=files.display_name(output))
    if beside is not None and os.path.realpath(beside) == os.path.realpath(output):
        raise UsageError("usage/two-outputs", name=files.display_name(output))
    if output == STDIN:
        raise UsageError("usage/output-to-stdout")
    if not force and os.path.lexists(output):
        raise files.taken(files.display_name(output))


def write_image(image: Image, output: str, kind: str, sha256: str, *, force: bool) -> int:
    """Write an image whole or not at all; decode what is about to be written, and read back what was.

    Args:
        image: The image.
        output: The file.
        kind: A name from `containers.WRITABLE_NAMES`.
        sha256: Of the image's bytes.
        force: Replace the output if it is there.

    Returns:
        The size of the file. [byte]

    Raises:
        UsageError: `gaps` where raw cannot hold them; the kind cannot hold the image; `exists`; `cannot-write`, also
            where the output does not read back as it was written: then it is taken away again.
        InternalError: `internal`: what was encoded does not decode to the image.
    """
    blocks: Iterable[bytes]
    if kind == "raw":
        containers.raw_blocks_need(image)
        blocks, expected = (piece for _, piece in image.pieces()), sha256
    else:
        budget.current().write_text(image.size_bytes)
        text = containers.encode(image, kind)
        _prove(text, kind, image)
        blocks, expected = [text], sha256_hex(text)
    size = files.write_whole(output, blocks, force=force)
    _reread(output, expected)
    return size


def _prove(text: bytes, kind: str, image: Image) -> None:
    """Decode what is about to be written, and compare."""
    why = Phrase("internal/decoded-otherwise", kind=kind)
    try:
        with budget.spending(budget.Budget(len(text))):   # our own work is proved, whatever the input has spent
            again = containers.read(text, kind=kind)
        same = [(a, p) for a, p in again.pieces()] == [(a, p) for a, p in image.pieces()]
    except ImagekeeperError as problem:
        same, why = False, Phrase("internal/not-decoded", kind=kind, trouble=str(problem))
    if not same:
        raise InternalError("internal/encoding", trouble=why)


def _reread(output: str, expected: str) -> None:
    """Read what was written back from the disk."""
    digest = hashlib.sha256()
    with files.opened(output) as (file, _):
        while block := file.read(1 << 20):
            digest.update(block)
    if digest.hexdigest() != expected:
        with suppress(OSError):
            os.unlink(output)   # nobody shall take it for the image
        raise UsageError(
            "cannot-write/reads-back-otherwise", expected=expected, found=digest.hexdigest(),
            where=Where(file=files.display_name(output)),
        )  # fmt: skip
