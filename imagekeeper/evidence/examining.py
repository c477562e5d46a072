"""Look at one image by itself, and give what is kept of that: a fault that repeats itself shows in no comparison."""

from __future__ import annotations

from collections.abc import Sequence

from imagekeeper import fingerprints
from imagekeeper.containers.model import Image
from imagekeeper.errors import InputError, UsageError
from imagekeeper.evidence.label_sums import FIGURES
from imagekeeper.evidence.parts import known_chip
from imagekeeper.evidence.rules import examination_rules
from imagekeeper.findings import Finding
from imagekeeper.fingerprints import Fingerprint
from imagekeeper.provenance.kinds import CHIPS
from imagekeeper.provenance.testimony import Examination, Sign

#: Figures beyond those of every fingerprint, which labels of chips may bear.
_MORE = tuple(
    name for name in {**FIGURES[4], **FIGURES[8]} if name not in ("sum16", "sum32", "crc32")
)


def examine(
    image: Image, kind: str, part: str | None, *, taken: Fingerprint | None = None, checks: bool = False,
    shown: Sequence[Finding] | None = None,
) -> Examination:  # fmt: skip
    r"""Look at one image by itself.

    Args:
        image: The image.
        kind: The kind of its carrier: only what comes from a chip's pins is looked at for the faults of pins.
        part: Its type as the record names it, or None.
        taken: The image's fingerprint, where it was taken already.
        checks: Whether to search for checksums inside it too, which takes longer.
        shown: What it shows by itself, where that was looked at already (`shown_alone`).

    Example:
        >>> seen = examine(Image.from_bytes(b"\xff" * 2048), "eprom", "2716")
        >>> seen.part, [(sign.code, sign.severity) for sign in seen.signs], seen.figures["sum16"]
        ('2716', [('blank', 'warning')], 'F800')
    """
    chip_like = kind in CHIPS
    more = _MORE if chip_like else ()
    if taken is None or any(name not in taken.more for name in more):
        taken = fingerprints.take(image, more=more)
    found = list(shown_alone(image, kind, part) if shown is None else shown)
    held: tuple[str, ...] | None = None
    if chip_like and checks:
        held, wrong = _own_checks(image)
        found += wrong
    figures = {
        "sum8": taken.sum8, "sum16": taken.sum16, "sum32": taken.sum32, "crc32": taken.crc32, "sha1": taken.sha1,
        **{name: value for name, value in taken.more.items() if value},
    }  # fmt: skip
    signs = tuple(
        Sign(
            code=one.code, severity=one.severity, confidence=one.confidence, why=one.why, hint=one.hint,
            detail=one.detail,
        )
        for one in found
    )  # fmt: skip
    return Examination(
        sha256=taken.sha256, part=part, rules=examination_rules(), figures=figures, signs=signs, checks=held
    )


def shown_alone(image: Image, kind: str, part: str | None) -> tuple[Finding, ...]:
    """Give what an image shows of the faults of pins, notes left out; of what comes from no pins, nothing."""
    if kind not in CHIPS:
        return ()
    from imagekeeper.inspection.inspection import inspect_image  # numpy, only where a chip is looked at

    return tuple(one for one in inspect_image(image, known_chip(part)).findings if one.severity != "note")


def _own_checks(image: Image) -> tuple[tuple[str, ...], list[Finding]]:
    from imagekeeper.selfchecks.search import check, own_checks  # slow to load, and a read is kept without

    try:
        found = check(image).findings
    except (InputError, UsageError):   # gaps, or too large: there is nothing to be said
        return (), []
    return own_checks(image), [one for one in found if one.severity != "note"]


def merged(known: Sequence[Examination], new: Sequence[Examination]) -> tuple[Examination, ...]:
    """Put new examinations in the place of older ones of the same images."""
    fresh = {one.sha256: one for one in new}
    kept = [fresh.pop(one.sha256, one) for one in known]
    return (*kept, *fresh.values())
