"""The causes of the differences between any number of aligned reads."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from imagekeeper.comparison import diagnosis
from imagekeeper.comparison.alignment import Alignment
from imagekeeper.comparison.pair import Bytes
from imagekeeper.containers.model import Image
from imagekeeper.findings import Finding

#: So many differing images are held against the one that most reads give; more would say nothing new.
MAX_OTHERS = 8


def find_causes(
    alignment: Alignment,
    names: Sequence[str],
    digests: Sequence[str],
    *,
    volts: Sequence[float | None],
    pins: Mapping[str, str],
) -> tuple[Finding, ...]:
    """Explain why reads differ: each different image is held against the one that most reads give.

    Args:
        alignment: The reads.
        names: What to call them.
        digests: Their digests: equal ones are looked at once.
        volts: Their supply voltages, where known. [volt]
        pins: For each line what to call its pin in hints.

    Returns:
        Findings, the most likely first; the same cause in several reads is one finding.
    """
    chosen = _different(alignment, digests)
    images = alignment.images
    smallest = min(image.size_bytes for image in images)
    if smallest > diagnosis.SIZE_LIMIT:
        return (
            Finding.of("not-diagnosed/large", "note", 1.0, smallest=smallest, detail={"limit": diagnosis.SIZE_LIMIT}),
        )  # fmt: skip
    found: list[Finding] = []
    reference = chosen[0]
    for other in chosen[1 : MAX_OTHERS + 1]:
        a, b = sorted((reference, other))   # the direction is from the earlier read to the later
        first, second, start, gapless = _bytes_of(alignment, a, b)
        found += diagnosis.diagnose(
            first, second, (names[a], names[b]), start=start, gapless=gapless, volts=(volts[a], volts[b]), pins=pins
        )
    findings = list(_merged(found))
    if len(chosen) > MAX_OTHERS + 1:
        left = len(chosen) - MAX_OTHERS - 1
        findings.append(
            Finding.of(
                "not-diagnosed/more-images", "note", 1.0, left=left,
                detail={"images": len(chosen), "looked_at": MAX_OTHERS + 1},
            )
        )  # fmt: skip
    return tuple(findings)


def _different(alignment: Alignment, digests: Sequence[str]) -> list[int]:
    """Give one read of each different image, the one that most reads give first."""
    groups: dict[object, list[int]] = {}
    for number, (image, digest) in enumerate(zip(alignment.images, digests, strict=True)):
        shape = tuple((s.start, len(s.data)) for s in image.segments)
        groups.setdefault((digest, shape), []).append(number)
    ordered = sorted(groups.values(), key=lambda group: (-len(group), group[0]))
    return [group[0] for group in ordered]


def _bytes_of(alignment: Alignment, a: int, b: int) -> tuple[Bytes, Bytes, int, bool]:
    """Give two reads' bytes, the address of the first, and whether they are at consecutive addresses."""
    one, two = alignment.images[a], alignment.images[b]
    if len(one.segments) == len(two.segments) == 1 and one.first_address == two.first_address:
        return _array(one), _array(two), one.first_address, True
    pieces = [(block[a], block[b]) for _, block in alignment.blocks()]
    first, second = (np.frombuffer(b"".join(side), np.uint8) for side in zip(*pieces, strict=True)) if pieces else (
        np.empty(0, np.uint8), np.empty(0, np.uint8),
    )  # fmt: skip
    start = alignment.common[0].start if alignment.common else 0
    return first, second, start, len(alignment.common) == 1


def _array(image: Image) -> Bytes:
    return np.frombuffer(image.tobytes(), np.uint8)


def _merged(found: Sequence[Finding]) -> Iterator[Finding]:
    """Give each cause once, most likely first; the other reads that show it are named in its detail."""
    kept: dict[object, Finding] = {}
    for finding in sorted(found, key=lambda f: -f.confidence):
        what = finding.detail.get("line") or finding.detail.get("lines") or finding.detail.get("wiring")
        key = (finding.code, str(what))
        if key in kept:
            kept[key].detail.setdefault("also_in", []).append(finding.why)
        else:
            kept[key] = finding
    yield from kept.values()
