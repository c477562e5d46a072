"""The majority of three or more reads, and the account of how it came about.

Only addresses that every read holds are voted on. An address without a majority stays disputed: it is never settled
silently. How votes are counted is in `ballots`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence

from imagekeeper.comparison.alignment import Alignment, align
from imagekeeper.comparison.ballots import Rule, weights_by_voltage
from imagekeeper.comparison.causes import Taken, find_causes
from imagekeeper.comparison.comparison import doubt_findings, pattern_in, shape_findings
from imagekeeper.comparison.confidence import remaining
from imagekeeper.comparison.majority import By, Disputed, Majority, Ties, Voter
from imagekeeper.comparison.tally import BLOCK, MAX_GAPS, Tally, piece_bytes, voted_image
from imagekeeper.containers.model import Image
from imagekeeper.digests import feed
from imagekeeper.errors import UsageError, Where
from imagekeeper.findings import Finding
from imagekeeper.provenance.reads import check_volts
from imagekeeper.sentences.say import Phrase


def vote(
    images: Sequence[Image],
    names: Sequence[str],
    *,
    exact_names: Sequence[str | None] | None = None,
    by: By = "byte",
    ties: Ties | None = None,
    volts: Sequence[float | None] | None = None,
    free: Callable[[int, int], bool] = lambda start, length: False,
    of_chip: bool = True,
    advance: Callable[[int], None] = lambda done: None,
) -> tuple[Majority, Image]:
    """Vote over three or more reads, in bounded memory.

    Args:
        images: The reads.
        names: Their files' names, for the result.
        exact_names: Base64 of names that text cannot carry, or None for each.
        by: Whether to vote on whole bytes or on single bits.
        ties: What becomes of addresses without a majority; without it they stay gaps.
        volts: The supply voltage of each read, or None where it is not known, to weigh votes by bits with; without it
            all weigh the same. [volt]
        free: Tells of a stretch, its address and length, whether nothing is kept there: fill may then outvote what
            another read holds.
        of_chip: Whether to look for causes as of a memory chip.
        advance: Told the bytes done since the last call, of all reads together.

    Returns:
        The account, and the image, whose bytes are voted on when they are asked for. The image holds nothing where it
        would have more than `MAX_GAPS` gaps, or no address has a majority.

    Raises:
        UsageError: `usage` for fewer than three reads, reads without a common address, voltages that are not one a
            read, or voltages with a vote by bytes.

    Example:
        >>> reads = [Image.from_bytes(b"TIDE"), Image.from_bytes(b"TIDE"), Image.from_bytes(b"TYDE")]
        >>> account, image = vote(reads, ["r1.bin", "r2.bin", "r3.bin"])
        >>> image.tobytes(), [read.outvoted for read in account.reads], account.exit_code
        (b'TIDE', [0, 0, 1], 0)
    """
    ties = ties or Ties()
    _check(len(images), by, volts)
    alignment = align(images, names)
    if not alignment.common:
        raise UsageError("usage/no-address-in-common")
    rule = Rule(by, None if volts is None else weights_by_voltage(volts))
    tally = Tally(len(images), rule, ties, free)
    digests = _walk(alignment, tally, advance)
    causes: tuple[Finding, ...] = ()
    if tally.addresses and of_chip:
        taken = Taken(names=names, volts=volts or [None] * len(images), pins={})
        causes = find_causes(alignment, digests, taken)
    common = sum(span.length for span in alignment.common)
    left = None
    if rule.weights is None:
        left = remaining(len(images), common, tally.addresses, against=pattern_in(causes))
    image = voted_image(alignment, rule, ties, tally)
    account = Majority(
        output=None, container=None, by=by, ties=str(ties),
        reads=tuple(
            Voter(
                name=name, container=read.container, wrapped_in=read.wrapped_in, size_bytes=read.size_bytes,
                sha256=digests[i], vcc=None if volts is None else volts[i],
                weight=1 if rule.weights is None else rule.weights[i], outvoted=tally.outvoted[i],
                name_base64=None if exact_names is None else exact_names[i],
            )
            for i, (name, read) in enumerate(zip(names, images, strict=True))
        ),
        first_address=image.first_address, size_bytes=tally.size_bytes, sha256=tally.digest.hexdigest(),
        unanimous=common - tally.addresses, disputed=Disputed(tally.addresses, tally.bits, tally.ties),
        list=tuple(sorted((*tally.with_majority, *tally.without), key=lambda d: d.address)), remaining=left,
        findings=(
            *_tie_findings(tally, by, len(images)), *_fill_findings(tally), *causes, *shape_findings(alignment, names),
            *doubt_findings(images, names), *alignment.findings,
        ),
    )  # fmt: skip
    return account, image


def _check(reads: int, by: By, volts: Sequence[float | None] | None) -> None:
    if reads < 3:
        raise UsageError("usage/vote-of-one" if reads == 1 else "usage/vote-of-two", reads=reads)
    if volts is not None and len(volts) != reads:
        raise UsageError("usage/voltages-of-vote", volts=len(volts), reads=reads)
    for value in volts or ():
        if value is not None:
            check_volts(value)
    if volts is not None and by == "byte":
        raise UsageError("usage/bytes-by-voltage")


def _walk(alignment: Alignment, tally: Tally, advance: Callable[[int], None]) -> list[str]:
    """Go through all reads once; reads that hold more than the common part are digested for themselves."""
    images = alignment.images
    digests = [hashlib.sha256() for _ in images]
    for start, reads in alignment.blocks(piece_bytes(len(images))):
        tally.update((start, reads))
        if alignment.congruent:
            for digest, read in zip(digests, reads, strict=True):
                digest.update(read)
        advance(sum(map(len, reads)))
    if not alignment.congruent:
        for image, digest in zip(images, digests, strict=True):
            feed((piece for _, piece in image.pieces()), [digest])
    return [digest.hexdigest() for digest in digests]


def _tie_findings(tally: Tally, by: By, reads: int) -> Iterator[Finding]:
    if not tally.ties:
        return
    also: Phrase | str = ""
    if by == "byte":
        also = Phrase("no-majority/by-bits")
    elif not reads % 2:
        also = Phrase("no-majority/odd-number")
    yield Finding.of(
        "no-majority", "fault", 1.0, Where(address=tally.without[0].address), reads=reads, also=also,
        many=Phrase("no-majority/many-gaps", limit=MAX_GAPS) if tally.too_many_runs else "",
        detail={"addresses": tally.ties},
    )  # fmt: skip


def _fill_findings(tally: Tally) -> Iterator[Finding]:
    if tally.first_filled is None:
        return
    yield Finding.of(
        "fill-outvotes", "fault", 1.0, Where(address=tally.first_filled), size=BLOCK, detail={"blocks": tally.filled}
    )
