"""Compare reads in one pass: do they agree, where do they differ, and what are their digests."""

from __future__ import annotations

import hashlib
import itertools
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import ClassVar, Literal

from imagekeeper.addresses import joined
from imagekeeper.comparison.alignment import Alignment, align, in_words, missing_from
from imagekeeper.comparison.confidence import Remaining, remaining
from imagekeeper.comparison.difference import DifferenceMap, Differences, no_differences
from imagekeeper.comparison.next_read import NextRead, next_read
from imagekeeper.containers.model import Image
from imagekeeper.digests import Stream, feed
from imagekeeper.errors import UsageError, Where
from imagekeeper.findings import Finding
from imagekeeper.provenance.compared_disk import ComparedDisk
from imagekeeper.provenance.reads import check_volts
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import address_digits

#: (address, the bytes of every read there)
Block = tuple[int, tuple[bytes, ...]]


@dataclass(frozen=True, kw_only=True)
class ComparedRead:
    """One of the reads compared.

    Attributes:
        name: The file's name as given, made printable.
        container: The kind of file.
        wrapped_in: What lay around it, or null.
        size_bytes: How many bytes it holds. [byte]
        first_address: The lowest address, as laid for the comparison. [byte]
        sha256: SHA-256 of its bytes, lower case.
        name_base64: The exact bytes of the file name where text cannot carry them, else null.
        same_file_as: The number of an earlier read that is this very file, counted from 1, or null.
        signs: What this read alone shows of a fault: faults and warnings of its inspection, worst first. All of them
            where the chip is known; else, of equal reads only, what is quickly seen: a line that never changes, two
            that are always equal, one value only, bytes that repeat the address.
    """

    name: str
    container: str
    wrapped_in: str | None
    size_bytes: int
    first_address: int
    sha256: str
    name_base64: str | None = None
    same_file_as: int | None = None
    signs: tuple[Finding, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """What a comparison of reads found.

    Attributes:
        agree: Whether all reads hold the same bytes at the same addresses.
        size_bytes: The size of the reads, or of the smallest where they differ. [byte]
        reads: The reads, in the order given.
        groups: Numbers of the reads, counted from 1, that are equal to each other; the largest group first.
        differences: Where and how they differ; with two reads, the direction is from the first to the second.
        findings: What else was noticed, most important first.
        map: How the differing bits lie over the addresses, where that was asked for, else null.
        remaining: The chance that random faults left a wrong byte in the agreed image, or in the majority of three
            or more reads; null where two reads differ, and where one file was given twice.
        verdict: `agree`; `share-a-fault` where they are equal and show the sign of a fault, which is in all of them;
            `one-file` where all are one file, which proves nothing; `differ`.
        next_read: The read that would tell the causes still possible apart best, and what each outcome would mean; null
            where the reads are equal, or nothing is known of why they differ.
        disk: Where the reads agree by cylinder, side and sector, where they are of a disk, else null.
    """

    SCHEMA: ClassVar[Literal["comparison/1"]] = "comparison/1"

    agree: bool
    size_bytes: int
    reads: tuple[ComparedRead, ...]
    groups: tuple[tuple[int, ...], ...]
    differences: Differences
    findings: tuple[Finding, ...]
    map: DifferenceMap | None = None
    remaining: Remaining | None = None
    verdict: Literal["agree", "share-a-fault", "one-file", "differ"] = "differ"
    next_read: NextRead | None = None
    disk: ComparedDisk | None = None

    @property
    def exit_code(self) -> int:
        """0 when independent reads agree and no sign of a fault is seen in them, else 1."""
        return 0 if self.verdict == "agree" else 1

    def looked_at(
        self, same: Sequence[int | None], signs: Sequence[tuple[Finding, ...]], found: Sequence[Finding] = ()
    ) -> Comparison:
        """Give the same result with what is known of each read beyond its bytes.

        Args:
            same: For each read the number of an earlier one that is the same file, or None.
            signs: For each read what it alone shows of a fault.
            found: Findings to put before the others.
        """
        reads = tuple(
            replace(read, same_file_as=earlier, signs=mine)
            for read, earlier, mine in zip(self.reads, same, signs, strict=True)
        )
        shared = [one.code for one in signs[0] if all(one.code in {o.code for o in other} for other in signs[1:])]
        verdict, left = self.verdict, self.remaining
        if self.agree and sum(earlier is None for earlier in same) == 1:
            verdict = "one-file"
        elif self.agree and shared:
            verdict = "share-a-fault"
        if any(earlier is not None for earlier in same):
            left = None   # a file that was given twice is no independent read
        elif left is not None and shared and left.against is None:
            left = replace(left, against=shared[0])   # what is in every read is no chance
        return replace(self, reads=reads, verdict=verdict, remaining=left, findings=(*found, *self.findings))


def compare(
    images: Sequence[Image],
    names: Sequence[str],
    *,
    exact_names: Sequence[str | None] | None = None,
    map_columns: int = 0,
    volts: Sequence[float | None] | None = None,
    pins: Mapping[str, str] | None = None,
    technology: str | None = None,
    readers: Sequence[str | None] = (),
    copies: Collection[int] = (),
    resting: Sequence[Finding] = (),
    of_chip: bool = True,
    advance: Callable[[int], None] = lambda done: None,
) -> Comparison:
    """Compare two or more reads, in bounded memory.

    Args:
        images: The reads.
        names: Their files' names, for the result.
        exact_names: Base64 of names that text cannot carry, or None for each.
        volts: The supply voltage of each read, or None where it is not known. [volt]
        pins: For each line, such as D3, what to call its pin in hints.
        readers: What took each read, or None where it is not known.
        copies: Numbers, counted from 0, of files that were given before: they say nothing of why reads differ.
        resting: What is to be said of the rows that the chip's pins and its technology were taken from.
        technology: How the memory is made, where that is known: a mask ROM cannot lose charge.
        of_chip: Whether to look for causes as of a memory chip.
        map_columns: Into how many columns of addresses to count the differing bits; 0 for no map.
        advance: Told the bytes done since the last call, of all reads together.

    Raises:
        UsageError: `usage` for fewer than two reads, and for a voltage of no chip.

    Example:
        >>> result = compare([Image.from_bytes(b"AB"), Image.from_bytes(b"AC")], ["r1.bin", "r2.bin"])
        >>> result.agree, result.differences.bytes, result.differences.one_to_zero, result.exit_code
        (False, 1, 0, 1)
    """
    if len(images) < 2:
        raise UsageError("usage/one-read", reads=len(images))
    for value in volts or ():
        if value is not None:
            check_volts(value)
    alignment = align(images, names)
    digests, differences, drawn = _walk(alignment, map_columns, advance)
    causes: tuple[Finding, ...] = ()
    if of_chip and (differences.bytes or not alignment.congruent):
        from imagekeeper.comparison.causes import Taken, find_causes  # numpy, only where there is something to explain

        taken = Taken(
            names=names, volts=volts or [None] * len(images), pins=pins or {}, technology=technology, readers=readers,
            copies=copies,
        )  # fmt: skip
        causes = find_causes(alignment, digests, taken)
    findings = [*causes, *shape_findings(alignment, names), *doubt_findings(images, names), *alignment.findings]
    reads = tuple(
        ComparedRead(
            name=name, container=image.container, wrapped_in=image.wrapped_in, size_bytes=image.size_bytes,
            first_address=image.first_address, sha256=digest, name_base64=exact,
        )
        for name, image, digest, exact in zip(
            names, alignment.images, digests, exact_names or [None] * len(images), strict=True
        )
    )
    agree = alignment.congruent and differences.bytes == 0
    left = None
    if agree or len(images) > 2:
        left = remaining(len(images), differences.compared_bytes, differences.bytes, against=pattern_in(causes))
    return Comparison(
        agree=agree,
        size_bytes=min(image.size_bytes for image in images),
        reads=reads,
        groups=_groups(reads),
        differences=differences,
        findings=(*findings, *resting),
        map=drawn,
        remaining=left,
        verdict="agree" if agree else "differ",
        next_read=next_read([(one.code, one.confidence) for one in causes]),
    )


def pattern_in(causes: Sequence[Finding]) -> str | None:
    """Name the likeliest cause where it is no random one: what repeats itself cannot be reckoned with as chance."""
    code = causes[0].code if causes else None
    return None if code in ("random-noise", "weak-cells", "not-diagnosed") else code


def _groups(reads: Sequence[ComparedRead]) -> tuple[tuple[int, ...], ...]:
    groups: dict[tuple[int, str], list[int]] = {}
    for number, read in enumerate(reads, 1):
        groups.setdefault((read.first_address, read.sha256), []).append(number)
    return tuple(sorted((tuple(g) for g in groups.values()), key=lambda g: (-len(g), g[0])))


class _Lane:
    """Feeds one read's bytes of every block to its digest."""

    def __init__(self, digest: hashlib._Hash, lane: int) -> None:
        self._digest = digest
        self._lane = lane

    def update(self, block: Block, /) -> None:
        self._digest.update(block[1][self._lane])


def _walk(
    alignment: Alignment, map_columns: int, advance: Callable[[int], None]
) -> tuple[list[str], Differences, DifferenceMap | None]:
    """Go through all reads once: as one stream while they are equal, as several from the first difference on."""
    images = alignment.images
    end = max(image.end_address for image in images)
    compared = sum(span.length for span in alignment.common)
    blocks = alignment.blocks()
    shared = hashlib.sha256()
    parting: list[Block] = []

    def equal_blocks() -> Iterator[Block]:
        for block in blocks:
            if any(read != block[1][0] for read in block[1][1:]):
                parting.append(block)
                return
            yield block
            advance(sum(map(len, block[1])))

    def all_blocks() -> Iterator[Block]:
        for block in itertools.chain(parting, blocks):
            yield block
            advance(sum(map(len, block[1])))

    feed(equal_blocks(), [_Lane(shared, 0)])
    if not parting and alignment.congruent and not map_columns:
        return [shared.hexdigest()] * len(images), no_differences(compared, end), None
    from imagekeeper.comparison.counting import DifferenceCounter, MapCounter  # numpy, only where there is work for it

    counter = DifferenceCounter(end)
    start = min(image.first_address for image in images)
    mapped = MapCounter(start, end, map_columns) if map_columns else None
    counters: list[Stream[Block]] = [counter, mapped] if mapped else [counter]
    digests = [shared.copy() for _ in images]
    lanes: list[Stream[Block]] = [_Lane(digest, i) for i, digest in enumerate(digests)]
    feed(all_blocks(), [*counters, *lanes] if alignment.congruent else counters)
    if not alignment.congruent:   # the common part is not the whole: each read is digested for itself
        digests = [hashlib.sha256() for _ in images]
        for image, digest in zip(images, digests, strict=True):
            feed((piece for _, piece in image.pieces()), [digest])
    drawn = mapped.result() if mapped else None
    return [digest.hexdigest() for digest in digests], counter.result(compared), drawn


def shape_findings(alignment: Alignment, names: Sequence[str]) -> Iterator[Finding]:
    """Say in what sizes and gaps reads differ."""
    if alignment.congruent:
        return
    images = alignment.images
    digits = address_digits(max(image.end_address for image in images))
    sizes = [image.size_bytes for image in images]
    alone = [missing_from(image, alignment.common) for image in images]
    held = [
        Phrase("sizes-differ/beyond", name=name, size=size, extra=in_words(extra, digits)) if extra
        else Phrase("sizes-differ/holds", name=name, size=size)
        for name, size, extra in zip(names, sizes, alone, strict=True)
    ]  # fmt: skip
    yield Finding.of(
        "sizes-differ" if len(set(sizes)) > 1 else "gaps-differ", "fault", 1.0, held="; ".join(map(str, held)),
        detail={"sizes": sizes, "only_in": [[{"start": s.start, "length": s.length} for s in a[:100]] for a in alone]},
    )  # fmt: skip


def doubt_findings(images: Sequence[Image], names: Sequence[str]) -> Iterator[Finding]:
    """Say which reads hold bytes that their container speaks against."""
    for image, name in zip(images, names, strict=True):
        if image.doubts:
            doubtful = sum(span.length for span in joined(image.doubts))
            yield Finding.of(
                "doubtful-bytes/read", "warning", 1.0, Where(file=name), name=name, first_doubt=image.doubts[0].why,
                detail={"doubts": len(image.doubts), "bytes": doubtful},
            )  # fmt: skip
