"""Search an image for the conventions that hold on it, and say how far chance explains them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal

from imagekeeper.addresses import Span, joined
from imagekeeper.containers.model import Image
from imagekeeper.errors import InputError, UsageError, Where
from imagekeeper.findings import Finding
from imagekeeper.ranked import Candidate, Evidence, rank
from imagekeeper.selfchecks import header as headers
from imagekeeper.selfchecks.balances import balance_trials
from imagekeeper.selfchecks.blocks import block_trials
from imagekeeper.selfchecks.chance import NOTHING, STRONG, confidence, corrected
from imagekeeper.selfchecks.figures import Figures
from imagekeeper.selfchecks.fill import find_fill
from imagekeeper.selfchecks.grouping import grouped
from imagekeeper.selfchecks.page_tables import table_trials
from imagekeeper.selfchecks.places import cuts
from imagekeeper.selfchecks.results import Check, SelfCheck
from imagekeeper.selfchecks.stored import stored_trials
from imagekeeper.selfchecks.trials import Trial
from imagekeeper.units import MIB, address_digits, plural, range_text

#: Larger images are no ROM of the period, and are not searched. [byte]
LIMIT_BYTES = 64 * MIB

#: Fewer bytes than this besides the commonest one, the fill left out, are too little to judge a sum by. [byte]
CONTENT_BYTES = 32


def check(image: Image, *, scope: tuple[int, int] | None = None, stored_at: int | None = None) -> SelfCheck:
    r"""Find the built-in checks that hold.

    Args:
        image: The image, without gaps.
        scope: First address and first address after the range to search, or None for the whole image. [byte]
        stored_at: Where the user expects a check value, or None. [byte]

    Raises:
        InputError: `empty`, `too-large`.
        UsageError: `gaps`; `address-out-of-range` for a range or an address outside the image.

    Example:
        >>> rom = bytes.fromhex("55AA01CB") + bytes(507) + b"\x35"
        >>> result = check(Image.from_bytes(rom))
        >>> result.conclusion, result.holds[0].title
        ('strong', '8-bit sum of the extension ROM is zero')
    """
    _refuse(image, scope, stored_at)
    data, first = image.tobytes(), image.first_address
    start, end = scope or (first, image.end_address)
    searched = data[start - first : end - first]
    copies = 1
    if scope is None and stored_at is None:
        copies = count_copies(searched)
        searched = searched[: len(searched) // copies]
    header = headers.read_header(data, first)
    trials = list(headers.trials(data, header)) if scope is None else []
    fill = find_fill(searched)
    if _content_bytes(searched if fill is None else searched[: fill.start]) >= CONTENT_BYTES:
        asked = None if stored_at is None else stored_at - start
        offset = start - first
        figures = Figures(searched, cuts(len(searched), asked, fill))
        trials += balance_trials(figures, fill)
        trials += stored_trials(figures, asked, fill, lambda at, width: data[offset + at : offset + at + width])
        trials += block_trials(searched)
        trials += table_trials(searched)
    holds = tuple(_checks(trials, start, address_digits(image.end_address)))
    expected = _short(sum(trial.odds.alone for trial in trials))
    conclusion: Literal["strong", "weak", "none"] = "weak" if holds else "none"
    content = _content(searched, start)
    if any(_proves(one, content) for one in holds):
        conclusion = "strong"
    return SelfCheck(
        name="",
        size_bytes=len(data),
        start=start,
        length_bytes=len(searched),
        copies=copies,
        conclusion=conclusion,
        says=_says(conclusion, holds, len(trials), expected),
        tests_tried=len(trials),
        expected_by_chance=expected,
        holds=holds,
        header=header,
        findings=(*headers.contradictions(header, len(data)), *_doubts(image)),
    )


def own_checks(image: Image) -> tuple[str, ...]:
    """Name the strong checks of an image that cover at least half of its content, for the grade of the evidence.

    Sums over many blocks do not count here: they are strong against chance, but regular data can bring them about.

    An image that cannot be searched (gaps, doubts, more than 64 MiB) and one that breaks what its header claims have
    none.

    Example:
        >>> own_checks(Image.from_bytes(bytes(4096)))
        ()
    """
    if image.gaps or image.doubts or not 0 < image.size_bytes <= LIMIT_BYTES:
        return ()
    result = check(image)
    if result.exit_code:
        return ()
    digits = address_digits(image.end_address)
    content = _content(image.tobytes()[: result.length_bytes], result.start)
    return tuple(
        one.title + (f", at {one.stored_at:0{digits}X}" if one.stored_at is not None else "")
        for one in result.holds
        if _proves(one, content) and not one.by_blocks
    )


def count_copies(data: bytes) -> int:
    """Count how many times over the bytes are the same, in powers of two.

    Example:
        >>> count_copies(bytes(range(256)) * 4), count_copies(bytes(range(256)) * 3)
        (4, 1)
    """
    copies = 1
    while (half := len(data) // 2) >= 64 and len(data) % 2 == 0 and data[:half] == data[half:]:
        data, copies = data[:half], copies * 2
    return copies


def _refuse(image: Image, scope: tuple[int, int] | None, stored_at: int | None) -> None:
    if image.size_bytes == 0:
        raise InputError("empty/nothing-to-check")
    if image.size_bytes > LIMIT_BYTES:
        raise InputError("too-large/for-a-rom", size=image.size_bytes, limit=LIMIT_BYTES)
    if image.gaps:
        raise UsageError("gaps/sums", gaps=len(image.gaps), first=image.gaps[0].start)
    digits = address_digits(image.end_address)
    held = range_text(image.first_address, image.size_bytes, digits)
    if stored_at is not None and not image.first_address <= stored_at < image.end_address:
        raise UsageError("address-out-of-range/check-value", digits=digits, at=stored_at, image=held)
    if scope is not None and not image.first_address <= scope[0] < scope[1] <= image.end_address:
        raise UsageError(
            "address-out-of-range/range-to-check", digits=digits, first=scope[0], last=scope[1] - 1, image=held,
        )  # fmt: skip


def _checks(trials: list[Trial], start: int, digits: int) -> Iterator[Check]:
    tried = [(trial.tier, trial.odds) for trial in trials]
    candidates = []

    def chance_of(trial: Trial) -> float:
        return corrected(trial.odds.alone, trial.tier, tried)

    for group in (one.told_by(chance_of) for one in grouped([trial for trial in trials if trial.holds])):
        trial = group.main
        alone = trial.odds.alone
        chance = chance_of(trial)
        says = _reason(trial, chance, len(trials))
        one = Check(
            id=trial.id,
            title=trial.title,
            where=_where(trial, start, digits),
            start=start + trial.over[0][0],
            covers_bytes=sum(b - a for a, b in trial.over) + trial.stored_bytes,
            stored_at=None if trial.at is None else start + trial.at,
            stored=trial.stored,
            computed=trial.computed,
            bits=trial.bits,
            chance_alone=_short(alone),
            chance=_short(chance),
            confidence=round(confidence(chance), 6),
            strong=chance < STRONG,
            says=says,
            source=trial.source,
            also=tuple(f"{other.title} ({_where(other, start, digits)})" for other in group.implied),
            by_blocks=trial.place == "blocks",
            over=joined([Span(start + a, b - a) for a, b in trial.over]),
        )
        candidates.append(Candidate(one, 1 - chance, (Evidence(says, one.confidence),)))
    return (candidate.answer for candidate in rank(candidates))


def _where(trial: Trial, start: int, digits: int) -> str:
    parts = [range_text(start + a, b - a, digits) for a, b in trial.over]
    text = " and ".join(parts) if len(parts) <= 3 else f"{', '.join(parts[:3])} and {len(parts) - 3} more"
    if trial.at is None:
        return text
    order = {"little": ", low byte first", "big": ", high byte first", None: ""}[trial.order]
    return f"{text}; stored at {start + trial.at:0{digits}X}{order}"


def _reason(trial: Trial, chance: float, tried: int) -> str:
    alone = trial.odds.alone
    text = f"bytes that know nothing of it fit {_often(alone)}"
    if chance >= NOTHING:
        return f"{text}; among {plural(tried, 'test')} that proves nothing"
    text = f"{text}; with all {plural(tried, 'test')} counted {_often(chance)}"
    return text if chance < STRONG else f"{text}: not enough to rely on"


def _often(chance: float) -> str:
    """Say a small chance in words.

    Example:
        >>> _often(2.0**-8), _often(2.0**-40)
        ('once in 256', 'once in 1.1e+12')
    """
    times = 1 / chance if chance else float("inf")
    return f"once in {times:.0f}" if times < 1e6 else f"once in {times:.2g}"


def _says(conclusion: str, holds: Sequence[Check], tried: int, expected: float) -> str:
    if not tried:
        return "There is too little content to judge a sum by: nearly all bytes are the same."
    few = f"{expected:.2g}" if expected >= 0.001 else "fewer than 0.001"
    counted = f"{plural(tried, 'test')} tried, of which chance alone lets {few} hold"
    if conclusion == "strong":
        strong = sum(one.strong for one in holds)
        return f"{counted}: {plural(strong, 'check')} cannot be explained by it."
    if conclusion == "none":
        return f"{counted}: none holds. Many ROMs have no check that can be found without their program."
    if any(one.strong for one in holds):
        return f"{counted}: what holds for certain covers only a small part of the image."
    return f"{counted}: what holds may well be chance."


def _proves(one: Check, content: Sequence[Span]) -> bool:
    """Whether a check is strong and covers at least half of the content."""
    covered = sum(
        max(min(a.end, b.end) - max(a.start, b.start), 0) for a in one.over for b in content
    ) + one.covers_bytes - sum(part.length for part in one.over)   # what is stored is covered too
    return one.strong and 2 * covered >= sum(part.length for part in content)


def _content(data: bytes, start: int) -> tuple[Span, ...]:
    """Where the content lies: without the runs of one byte at either end, and without the fill."""
    left = len(data) - len(data.lstrip(data[:1]))
    right = len(data.rstrip(data[-1:]))
    if left >= right:
        return (Span(start, len(data)),)
    fill = find_fill(data)
    parts = ((left, right),) if fill is None else ((left, min(fill.start, right)), (max(fill.end, left), right))
    return tuple(Span(start + a, b - a) for a, b in parts if a < b)


def _content_bytes(data: bytes) -> int:
    import numpy as np  # slow to load: only where there is work for it

    counts = np.zeros(256, np.int64)
    for at in range(0, len(data), MIB):   # a count of bytes takes eight times their memory
        counts += np.bincount(np.frombuffer(data[at : at + MIB], np.uint8), minlength=256)
    return len(data) - int(counts.max())


def _doubts(image: Image) -> Iterator[Finding]:
    if image.doubts:
        doubt = image.doubts[0]
        yield Finding.of(
            "doubtful-bytes/checked", "warning", 1.0,
            Where(address=doubt.start if doubt.length else None, line=doubt.line), first_doubt=doubt.why,
            detail={"doubts": len(image.doubts)},
        )  # fmt: skip


def _short(value: float) -> float:
    """Keep three digits, so that documents do not differ in what means nothing."""
    return float(f"{value:.3g}")
