"""Images from files of any container, and back."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Unpack

from imagekeeper import containers
from imagekeeper.containers.manner import Repeated
from imagekeeper.containers.model import Image
from imagekeeper.door.sources import Place, Source, given, in_memory, named, opened, options
from imagekeeper.door.steps import Steps, spelled_out, wanted_of
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.reads.converting import Conversion, convert_file
from imagekeeper.transforms.step import within


def read(
    source: Source, *, container: str | None = None, member: str | None = None, keep_doubtful: bool = False,
    repeated: Repeated = "refuse",
    fill: int | None = None,
) -> Image:  # fmt: skip
    r"""Read a file of any container into memory.

    The container is found by what the file holds: raw bytes, Intel HEX, S-records, a listing, any of them in gzip or
    zip. For images too large for memory there is `open_image`.

    Args:
        source: A path, the bytes of a file, or an image.
        container: The kind to take it as, instead of finding it.
        member: Which file of a zip file.
        keep_doubtful: Take what the file itself speaks against, and keep the doubts in `Image.doubts`.
        repeated: Which value counts where a file gives an address several: `first`, `last`, or `refuse`.
        fill: The byte that closes gaps, 0 to 255; without it gaps stay gaps.

    Raises:
        NotFoundError: There is no such file, or no such member.
        InputError: The file cannot be understood; the error says at which line and why.
        UsageError: `unknown-name` for a container that there is none of.

    Example:
        >>> import imagekeeper
        >>> image = imagekeeper.read(b":0401000054494445D5\n:00000001FF\n")
        >>> image.container, image.first_address, image.tobytes()
        ('intel-hex', 256, b'TIDE')
    """
    how = options(source, container=container, member=member, keep_doubtful=keep_doubtful, repeated=repeated, fill=fill)
    with opened(source, how) as image:
        return in_memory(image)


@contextmanager
def open_image(
    source: Source, *, container: str | None = None, member: str | None = None, keep_doubtful: bool = False,
    repeated: Repeated = "refuse",
    fill: int | None = None,
) -> Iterator[Image]:  # fmt: skip
    r"""Open a file of any container as an image; raw bytes stay in the file until they are looked at.

    The image is good while the `with` block lasts. It can be given to every function that takes a source.

    Args:
        source: A path, the bytes of a file, or an image.
        container: The kind to take it as, instead of finding it.
        member: Which file of a zip file.
        keep_doubtful: Take what the file itself speaks against, and keep the doubts in `Image.doubts`.
        repeated: Which value counts where a file gives an address several: `first`, `last`, or `refuse`.
        fill: The byte that closes gaps, 0 to 255; without it gaps stay gaps.

    Raises:
        NotFoundError: There is no such file, or no such member.
        InputError: The file cannot be understood.

    Example:
        >>> import imagekeeper
        >>> with imagekeeper.open_image(b"TIDE GAUGE" * 100) as image:
        ...     for address, piece in image.pieces(size=600):
        ...         print(f"{address:04X}: {len(piece)} bytes")
        0000: 600 bytes
        0258: 400 bytes
    """
    how = options(source, container=container, member=member, keep_doubtful=keep_doubtful, repeated=repeated, fill=fill)
    with opened(source, how) as image:
        yield image


def encode(source: Source, to: str, *, base: int | None = None) -> bytes:
    r"""Give the bytes of a file of a container, without writing one.

    Args:
        source: A path, the bytes of a file, or an image.
        to: The kind: `raw`, `intel-hex`, `s-record`, ...
        base: Where the first byte shall lie, or None to keep its address. [byte]

    Raises:
        UsageError: `not-writable-kind`; `gaps` where raw bytes cannot hold them; `address-out-of-range`.

    Example:
        >>> import imagekeeper
        >>> print(imagekeeper.encode(b"TIDE", "intel-hex", base=0x100).decode().strip())
        :0401000054494445D5
        :00000001FF
    """
    with opened(source, Options()) as image:
        if base is not None:
            within("the base address", base, 0, (1 << 32) - 1)
        moved = image if base is None else image.moved(base)
        if to == "raw":
            containers.raw_blocks_need(moved)
            return moved.tobytes()
        return containers.encode(moved, to)


@spelled_out
def convert(
    source: Source,
    output: Place,
    *,
    to: str | None = None,
    base: int | None = None,
    force: bool = False,
    container: str | None = None,
    member: str | None = None,
    keep_doubtful: bool = False, repeated: Repeated = "refuse",
    fill: int | None = None,
    **steps: Unpack[Steps],
) -> Conversion:
    r"""Write an image to a file of any container, its bytes changed if wanted, and read back what was written.

    The steps are done in the order in which they stand here. Each is in the result, with its way back where there is
    one.

    Args:
        source: A path, the bytes of a file, or an image.
        output: The file to write, whole or not at all.
        to: The kind to write; without it the ending of the output decides, and raw where that says nothing.
        base: Where the first byte shall lie, or None to keep its address. [byte]
        force: Replace the output if it is there; an input never is.
        container: The kind to take the source as, instead of finding it.
        member: Which file of a zip file.
        keep_doubtful: Take what the file itself speaks against.
        repeated: Which value counts where a file gives an address several: `first`, `last`, or `refuse`.
        fill: The byte that closes gaps, and pads.
        steps: What is to be done to the bytes.

    Raises:
        ImagekeeperError: The source cannot be understood, what is wanted does not fit it, the kind cannot hold the
            image, or the output not be written.

    Example:
        >>> import imagekeeper, tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     result = imagekeeper.convert(b"TDE\xffIGUE", f"{folder}/even.hex", lane=(0, 2))
        >>> result.container, result.size_bytes, result.steps[0].name
        ('intel-hex', 4, 'split-lane')
    """
    how = options(source, container=container, member=member, keep_doubtful=keep_doubtful, repeated=repeated, fill=fill)
    if base is not None:
        within("the base address", base, 0, (1 << 32) - 1)
    return convert_file(
        given(source), named(output), how, wanted=wanted_of(steps), to=to, base=base, force=force
    )
