"""Convert a file from one container to another, and prove what was written."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from imagekeeper import files, fingerprint
from imagekeeper.containers.model import Image
from imagekeeper.errors import UsageError
from imagekeeper.fingerprint import Fingerprint
from imagekeeper.progress import Progress, silent
from imagekeeper.units import ADDRESS_LIMIT, size_text
from imagekeeper.workflows.loading import Options, loaded
from imagekeeper.workflows.writing import ChosenBy, check_output, chosen_kind, write_image


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
    chosen_by: ChosenBy
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
    kind, chosen_by = chosen_kind(output, to)
    check_output(output, force=force, inputs=[path])
    with loaded(path, options) as file:
        image = file.image
        if base is not None:
            image = _at_base(image, base)
        with progress(f"Converting {file.name}", image.size_bytes) as advance:
            source = fingerprint.take(image, file.name, name_base64=file.name_base64, advance=advance)
        size = write_image(image, output, kind, source.sha256, force=force)
    stated = None if kind == "raw" else image.first_address
    return Conversion(source, files.display_name(output), kind, chosen_by, size, stated)


def _at_base(image: Image, base: int) -> Image:
    if base + image.span_bytes > ADDRESS_LIMIT:
        raise UsageError(
            "address-out-of-range", "the image does not fit below 4 GiB at that base",
            why=f"{size_text(image.span_bytes)} from {base:X} go past FFFFFFFF", hint="give a lower --base",
        )  # fmt: skip
    return image.moved(base)
