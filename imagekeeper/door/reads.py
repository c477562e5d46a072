"""Reads of chips and disks: compare them, vote over them, and see what one says of itself."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from imagekeeper.comparison.comparison import Comparison
from imagekeeper.comparison.majority import By, Majority, Ties
from imagekeeper.comparison.tally import BLOCK
from imagekeeper.comparison.voting import vote as vote_over
from imagekeeper.containers.manner import Repeated
from imagekeeper.containers.model import Image
from imagekeeper.door.sources import Place, Source, among, given, in_memory, named, options
from imagekeeper.errors import UsageError
from imagekeeper.fingerprints import Fingerprint
from imagekeeper.hexdumps import Hexdump, listed
from imagekeeper.inspection.results import Inspection
from imagekeeper.jobs.images.loading import all_loaded, refuse_same
from imagekeeper.jobs.reads.comparing import compare_files
from imagekeeper.jobs.reads.fingerprinting import fingerprint_file
from imagekeeper.jobs.reads.hexdumping import hexdump_rows
from imagekeeper.jobs.reads.inspecting import inspect_file
from imagekeeper.jobs.reads.selfchecking import selfcheck_file
from imagekeeper.jobs.reads.voting import unused, vote_files
from imagekeeper.selfchecks.results import SelfCheck
from imagekeeper.transforms.step import fill_byte, within


def compare(
    *reads: Source, chip: str | None = None, volts: Sequence[float | None] | None = None, mapped: bool = False,
    geometry: str | None = None, container: str | None = None, member: str | None = None,
    keep_doubtful: bool = False, repeated: Repeated = "refuse", fill: int | None = None,
) -> Comparison:  # fmt: skip
    r"""Tell whether two or more reads agree, where they differ, and what would explain it.

    Args:
        reads: Paths, bytes of files, or images, two or more.
        chip: The marking of the chip that was read: each read is inspected as one of it, and pins are named in hints.
        volts: The supply voltage of each read, or None where it is not known. [volt]
        geometry: Of the disk that was read, such as 40x2x9x512 or 720K; without it the content tells whether it is one.
        mapped: Count also how the differences lie, so that `svg` can draw them.
        container: The kind to take the files as, instead of finding it.
        member: Which file of a zip file.
        keep_doubtful: Take what a file itself speaks against.
        repeated: Which value counts where a file gives an address several: `first`, `last`, or `refuse`.
        fill: The byte that closes gaps.

    Raises:
        UsageError: `usage` for fewer than two reads, when there are not as many voltages as reads, or for a voltage
            of no chip; for a geometry together with a chip.
        NotFoundError: There is no such file; `chip-unknown`, `format-unknown`.
        InputError: A file cannot be understood.

    Example:
        >>> import imagekeeper
        >>> result = imagekeeper.compare(b"TIDE GAUGE", b"TIDE\x00GAUGE")
        >>> result.agree, result.differences.bytes, result.differences.ranges[0].start
        (False, 1, 4)
    """
    how = options(*reads, container=container, member=member, keep_doubtful=keep_doubtful, repeated=repeated, fill=fill)
    return compare_files([given(one) for one in reads], how, chip=chip, geometry=geometry, volts=volts, mapped=mapped)


def vote(
    *reads: Source, output: Place | None = None, to: str | None = None, force: bool = False, by: By = "byte",
    ties: Literal["gap", "first"] | int = "gap", volts: Sequence[float | None] | None = None,
    geometry: str | None = None, container: str | None = None, member: str | None = None, keep_doubtful: bool = False,
    repeated: Repeated = "refuse", fill: int | None = None,
) -> Majority:  # fmt: skip
    r"""Vote over three or more reads: count what is disputed, and write the majority if an output is named.

    Nothing is written where addresses without a majority could not be shown: then the result's output is None.

    Args:
        reads: Paths, bytes of files, or images, three or more.
        output: The file to write, whole or not at all; None to write nothing.
        to: The kind to write; without it the ending of the output decides, and raw where that says nothing.
        force: Replace the output if it is there; an input never is.
        by: Whether to vote on whole bytes or on single bits.
        ties: What becomes of an address without a majority: it stays a `gap`, it is taken from the `first` read, or it
            becomes this byte.
        volts: The supply voltage of each read, or None where it is not known, to weigh votes with. [volt]
        geometry: Of the disk that was read, such as 40x2x9x512 or 720K; without it the content tells whether it is one.
        container: The kind to take the files as, instead of finding it.
        member: Which file of a zip file.
        keep_doubtful: Take what a file itself speaks against.
        repeated: Which value counts where a file gives an address several: `first`, `last`, or `refuse`.
        fill: The byte that closes gaps.

    Raises:
        UsageError: `usage` for fewer than three reads, or one file given twice, or a geometry together with
            voltages; the output cannot be written.
        InputError: A file cannot be understood.

    Example:
        >>> import imagekeeper
        >>> result = imagekeeper.vote(b"TIDE", b"TIDE", b"TIFE")
        >>> result.disputed.addresses, result.list[0].values, result.list[0].voted
        (1, ('44', '44', '46'), '44')
    """
    among("by", by, By)
    how = options(*reads, container=container, member=member, keep_doubtful=keep_doubtful, repeated=repeated, fill=fill)
    return vote_files(
        [given(one) for one in reads], None if output is None else named(output), how, by=by, ties=_ties(ties),
        volts=volts, geometry=geometry, to=to, force=force,
    )  # fmt: skip


def vote_image(
    *reads: Source, by: By = "byte", ties: Literal["gap", "first"] | int = "gap",
    volts: Sequence[float | None] | None = None, container: str | None = None, member: str | None = None,
    keep_doubtful: bool = False, repeated: Repeated = "refuse", fill: int | None = None,
) -> Image:  # fmt: skip
    r"""Give the majority of three or more reads as an image in memory; `vote` tells how it came about.

    Args:
        reads: Paths, bytes of files, or images, three or more.
        by: Whether to vote on whole bytes or on single bits.
        ties: What becomes of an address without a majority: it stays a `gap`, it is taken from the `first` read, or it
            becomes this byte.
        volts: The supply voltage of each read, or None where it is not known, to weigh votes with. [volt]
        container: The kind to take the files as, instead of finding it.
        member: Which file of a zip file.
        keep_doubtful: Take what a file itself speaks against.
        repeated: Which value counts where a file gives an address several: `first`, `last`, or `refuse`.
        fill: The byte that closes gaps.

    Raises:
        UsageError: `usage` for fewer than three reads, one file given twice, or fill that would outvote content.
        InputError: A file cannot be understood.

    Example:
        >>> import imagekeeper
        >>> imagekeeper.vote_image(b"TIDE", b"TIDE", b"TIFE").tobytes()
        b'TIDE'
        >>> imagekeeper.vote_image(b"TIDE", b"TILE", b"TIFE").gaps
        (Span(start=2, length=1),)
    """
    among("by", by, By)
    how = options(*reads, container=container, member=member, keep_doubtful=keep_doubtful, repeated=repeated, fill=fill)
    with all_loaded([given(one) for one in reads], how) as files:
        refuse_same(files)
        images, names = [one.image for one in files], [one.name for one in files]
        account, image = vote_over(images, names, by=by, ties=_ties(ties), volts=volts, free=unused(images))
        for lost in (one for one in account.findings if one.code == "fill-outvotes"):
            raise UsageError("usage/vote-for-fill", blocks=lost.detail["blocks"], size=BLOCK, at=lost.where.address)
        return in_memory(image)


def _ties(ties: Literal["gap", "first"] | int) -> Ties:
    if isinstance(ties, int):
        fill_byte(ties)
        return Ties("fill", ties)
    if ties not in ("gap", "first"):
        raise TypeError(f"ties is 'gap', 'first' or a byte, not {ties!r}")
    return Ties(ties)


def inspect(
    source: Source, *, chip: str | None = None, container: str | None = None, member: str | None = None,
    keep_doubtful: bool = False, repeated: Repeated = "refuse", fill: int | None = None,
) -> Inspection:  # fmt: skip
    r"""Tell what one image says of itself: faults that repeat themselves, content, hints on its processor.

    Args:
        source: A path, the bytes of a file, or an image.
        chip: The marking of the chip that it was read from.
        container: The kind to take the source as, instead of finding it.
        member: Which file of a zip file.
        keep_doubtful: Take what the file itself speaks against.
        repeated: Which value counts where a file gives an address several: `first`, `last`, or `refuse`.
        fill: The byte that closes gaps.

    Raises:
        NotFoundError: There is no such file; `chip-unknown`.
        InputError: The file cannot be understood.

    Example:
        >>> import imagekeeper
        >>> result = imagekeeper.inspect(b"\xff" * 2048, chip="2716")
        >>> [finding.code for finding in result.findings]
        ['blank']
    """
    how = options(source, container=container, member=member, keep_doubtful=keep_doubtful, repeated=repeated, fill=fill)
    return inspect_file(given(source), how, part=chip)


def selfcheck(
    source: Source, *, scope: tuple[int, int] | None = None, stored_at: int | None = None,
    container: str | None = None, member: str | None = None, keep_doubtful: bool = False, repeated: Repeated = "refuse",
    fill: int | None = None,
) -> SelfCheck:  # fmt: skip
    r"""Find the checks that are built into an image and hold, and say how far chance explains them.

    Args:
        source: A path, the bytes of a file, or an image.
        scope: First address, and first address after the range to search; None for the whole image. [byte]
        stored_at: Where a check value is expected, or None. [byte]
        container: The kind to take the source as, instead of finding it.
        member: Which file of a zip file.
        keep_doubtful: Take what the file itself speaks against.
        repeated: Which value counts where a file gives an address several: `first`, `last`, or `refuse`.
        fill: The byte that closes gaps.

    Raises:
        NotFoundError: There is no such file.
        InputError: The file cannot be understood, or has gaps.
        UsageError: An address lies outside the image.

    Example:
        >>> import imagekeeper
        >>> words = [i * i * 7 % 65536 for i in range(1023)]
        >>> words.append(-sum(words) % 65536)   # what makes the sum of all words zero
        >>> found = imagekeeper.selfcheck(b"".join(word.to_bytes(2) for word in words)).holds[0]
        >>> found.title, found.strong
        ('16-bit sum of words, high byte first, is zero', True)
    """
    how = options(source, container=container, member=member, keep_doubtful=keep_doubtful, repeated=repeated, fill=fill)
    return selfcheck_file(given(source), how, scope=scope, stored_at=stored_at)


def fingerprint(
    source: Source, *, more: Sequence[str] = (), container: str | None = None, member: str | None = None,
    keep_doubtful: bool = False, repeated: Repeated = "refuse", fill: int | None = None,
) -> Fingerprint:  # fmt: skip
    r"""Take the figures by which an image is known: size, sums, CRC-32, SHA-1, SHA-256.

    They are those of the image, whatever the container: an Intel HEX file and a raw file of one chip have the same.

    Args:
        source: A path, the bytes of a file, or an image.
        more: Further figures by name: a digest, a sum, or a CRC of the lists.
        container: The kind to take the source as, instead of finding it.
        member: Which file of a zip file.
        keep_doubtful: Take what the file itself speaks against.
        repeated: Which value counts where a file gives an address several: `first`, `last`, or `refuse`.
        fill: The byte that closes gaps.

    Raises:
        NotFoundError: There is no such file.
        InputError: The file cannot be understood.
        UsageError: `unknown-name` for a figure that there is none of.

    Example:
        >>> import imagekeeper
        >>> imagekeeper.fingerprint(b"123456789").crc32
        'CBF43926'
    """
    how = options(source, container=container, member=member, keep_doubtful=keep_doubtful, repeated=repeated, fill=fill)
    return fingerprint_file(given(source), how, more=more)


def hexdump(
    source: Source, *, against: Source | None = None, start: int | None = None, length: int | None = None,
    width: int = 16, container: str | None = None, member: str | None = None, keep_doubtful: bool = False,
    repeated: Repeated = "refuse",
    fill: int | None = None,
) -> Hexdump:  # fmt: skip
    r"""Give the bytes of an image as rows of hexadecimal digits, alone or against another image.

    Args:
        source: A path, the bytes of a file, or an image.
        against: Another, laid beside it.
        start: The first address, or None for the image's own. [byte]
        length: How many addresses, or None for all. [byte]
        width: How many a row, 1 to 64.
        container: The kind to take the files as, instead of finding it.
        member: Which file of a zip file.
        keep_doubtful: Take what a file itself speaks against.
        repeated: Which value counts where a file gives an address several: `first`, `last`, or `refuse`.
        fill: The byte that closes gaps.

    Raises:
        NotFoundError: There is no such file.
        InputError: A file cannot be understood.
        UsageError: `usage` for an address, a length or a width that cannot be.

    Example:
        >>> import imagekeeper
        >>> result = imagekeeper.hexdump(b"TIDE GAUGE", against=b"TIDE GANGE", width=4)
        >>> [(row.address, row.bytes, row.other) for row in result.rows][1:]
        [(4, '20 47 41 55', '20 47 41 4E'), (8, '47 45 -- --', None)]
        >>> result.differ
        True
    """
    within("the width", width, 1, 64)
    within("the first address", start or 0, 0, (1 << 32) - 1)
    within("the length", 1 if length is None else length, 1, 1 << 32)
    sources = (source,) if against is None else (source, against)
    how = options(
        *sources, container=container, member=member, keep_doubtful=keep_doubtful, repeated=repeated, fill=fill
    )
    other = None if against is None else given(against)
    with hexdump_rows(given(source), how, against=other, start=start, length=length, width=width) as dump:
        return listed(dump.rows(), against=against is not None, doubts=dump.doubts)
