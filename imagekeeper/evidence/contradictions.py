"""Everything that speaks against a carrier's image, or against what is said of the carrier: and what would settle it.

A contradiction stays open until what is wrong is corrected, or until somebody explains it with a reason. An explanation
is tied to what the contradiction rested on: where that changes, or where a later read gives another image, it is open
again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import reduce
from typing import Any

from imagekeeper.addresses import Span, common, joined
from imagekeeper.digests import sha256_hex
from imagekeeper.evidence import parts
from imagekeeper.evidence.label_sums import label_sums
from imagekeeper.evidence.support import named
from imagekeeper.findings import Finding
from imagekeeper.jsonable import canonical
from imagekeeper.provenance.kinds import CHIPS
from imagekeeper.provenance.reads import Read
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.references import NAMES
from imagekeeper.provenance.standing import Contradiction
from imagekeeper.provenance.testimony import Examination, Sign, StatedReason
from imagekeeper.sentences.say import Phrase

#: Larger images are not examined, and nothing is missed by it: no chip of the period is so large. [byte]
EXAMINED_BYTES = 64 << 20

#: States of a sector that a reader did not get; what took many tries it did get.
_NOT_GOT = ("bad", "missing")

#: So many stretches are told one by one.
_STRETCHES = 64

_GRAVEST_FIRST = {"fault": 0, "warning": 1}


def contradictions(
    record: CarrierRecord, sha256: str | None, reads: Sequence[Read], figures: dict[str, str]
) -> tuple[Contradiction, ...]:
    """Gather what speaks against the image of a carrier, the gravest first.

    Args:
        record: The carrier.
        sha256: Of the image that its reads support, or None where they support none.
        reads: Those that count.
        figures: Digests and sums of the image, by name.
    """
    found = [
        *_signs(record, sha256, reads), *_sizes(record, sha256, reads), *_marking(record), *_package(record),
        *_label(record, sha256, figures), *_references(record, sha256, figures), *_trials(record, sha256),
        *_unexamined(record, sha256, reads), *_after_the_vote(record, sha256, reads),
        *_not_read(record, sha256, reads),
    ]  # fmt: skip
    explained = [_explained(record, one) for one in found]
    return tuple(sorted(explained, key=lambda c: (c.explained is not None, _GRAVEST_FIRST[c.severity], c.code)))


def examined(record: CarrierRecord, sha256: str | None) -> Examination | None:
    """Find what an image showed when it was last looked at."""
    return next((one for one in reversed(record.examinations) if one.sha256 == sha256), None)


def _signs(record: CarrierRecord, sha256: str | None, reads: Sequence[Read]) -> Iterator[Contradiction]:
    """What single images show by themselves: the supported one, or all while they differ."""
    giving: dict[str, list[Read]] = {}
    for read in reads:
        giving.setdefault(read.image.sha256, []).append(read)
    for image in [sha256] if sha256 is not None else giving:
        seen = examined(record, image)
        codes: dict[str, list[Sign]] = {}
        for sign in seen.signs if seen else ():
            if sign.severity != "note" and sign.code != "chip-size-differs":   # the size is held against today's part
                codes.setdefault(sign.code, []).append(sign)
        for code, signs in codes.items():
            yield _contradiction(
                code, min((s.severity for s in signs), key=_GRAVEST_FIRST.__getitem__),
                tuple(read.id for read in giving.get(image, ())) or ("agreed",),
                "; ".join(sign.why for sign in signs[:4]), signs[0].hint,
                {"image": image, "signs": [_plain(sign.detail) for sign in signs]},
            )  # fmt: skip


def _plain(detail: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in detail.items() if name != "pins"}   # pins follow from the part


def _sizes(record: CarrierRecord, sha256: str | None, reads: Sequence[Read]) -> Iterator[Contradiction]:
    if record.kind not in CHIPS or record.part is None:
        return
    sizes = {read.image.size_bytes for read in reads if sha256 is None or read.image.sha256 == sha256}
    if not sizes:
        return
    seen = examined(record, sha256)
    told = any(sign.code == "chip-size-differs" for sign in seen.signs) if seen else None
    if seen and seen.part == record.part and not told and len(sizes) == 1:
        return   # held against this part when it was looked at: the tables need not be loaded
    chip = parts.known_chip(record.part)
    for size in sorted(sizes) if chip is not None else ():
        if chip is not None and size != chip.file_bytes:
            ids = tuple(read.id for read in reads if read.image.size_bytes == size)
            yield _found(
                "chip-size-differs/kept", "warning", ids, {"size_bytes": size, "chip_bytes": chip.file_bytes},
                reads=named(ids, "is", "are"), part=record.part,
            )  # fmt: skip


def _marking(record: CarrierRecord) -> Iterator[Contradiction]:
    if record.markings is None or record.part is None or record.part.casefold() in record.markings.casefold():
        return
    chip = parts.known_chip(record.part)
    if chip is None:
        return
    marked = list(parts.marked_chips(record.markings, record.date_code))
    if marked and not any(parts.alike(chip, other) for _, other in marked):
        text, other = marked[0]
        yield _found(
            "part-unlike-marking", "warning", ("part", "markings"),
            {"part": record.part, "marking": text, "chip": chip.id, "marked": other.id},
            size=chip.file_bytes, marked_size=other.file_bytes,
        )  # fmt: skip


def _package(record: CarrierRecord) -> Iterator[Contradiction]:
    pins = parts.package_pins(record.package) if record.package and record.part else None
    chip = parts.known_chip(record.part) if pins is not None else None
    if chip is not None and pins != chip.pins:
        yield _found(
            "part-unlike-package", "warning", ("part", "package"),
            {"part": record.part, "package_pins": pins, "chip_pins": chip.pins},
        )  # fmt: skip


def _label(record: CarrierRecord, sha256: str | None, figures: dict[str, str]) -> Iterator[Contradiction]:
    if not record.label or sha256 is None:
        return
    sums = [one for one in label_sums(record.label, figures) if one.tagged]
    # a label may bear the sum of an older version beside today's: one that fits is enough
    if sums and all(one.is_a is None for one in sums):
        yield _found(
            "label-sum-differs", "warning", ("label",), {"image": sha256, "label": [one.digits for one in sums]},
            sums=[one.digits for one in sums], sum16=figures.get("sum16", "?"), crc32=figures.get("crc32", "?"),
        )  # fmt: skip


def _references(record: CarrierRecord, sha256: str | None, figures: dict[str, str]) -> Iterator[Contradiction]:
    known = figures | ({"sha256": sha256} if sha256 else {})
    for reference in record.agreed.references if record.agreed and sha256 else ():
        own = known.get(reference.algorithm)
        if own is not None and own.lower() != reference.digest.lower():
            yield _found(
                "reference-differs", "warning", ("reference",),
                {"image": sha256, "algorithm": reference.algorithm, "digest": reference.digest},
                name=NAMES.get(reference.algorithm, reference.algorithm), own=own,
                source=f" from {reference.source}" if reference.source else "",
            )  # fmt: skip


def _trials(record: CarrierRecord, sha256: str | None) -> Iterator[Contradiction]:
    last: dict[str, int] = {}
    for at, trial in enumerate(record.trials):
        last[trial.what] = at   # what was mended since is told by the later trial
    for at in last.values():
        trial = record.trials[at]
        if trial.outcome == "failed" and trial.sha256 == sha256:
            yield _found(
                "trial-failed", "warning", (trial.id,), {"image": sha256, "trial": trial.id, "what": trial.what},
                item="the original" if trial.what == "original" else trial.what,
                together=f" together with {', '.join(trial.together)}" if trial.together else "",
                note=f" ({trial.note})" if trial.note else "",
            )  # fmt: skip


def _unexamined(record: CarrierRecord, sha256: str | None, reads: Sequence[Read]) -> Iterator[Contradiction]:
    if record.kind not in CHIPS:
        return
    for image in [sha256] if sha256 is not None else []:
        size = next((read.image.size_bytes for read in reads if read.image.sha256 == image), 0)
        if examined(record, image) is None and size <= EXAMINED_BYTES:
            ids = tuple(read.id for read in reads if read.image.sha256 == image)
            yield _found("not-examined", "warning", ids or ("agreed",), {"image": image})


def _not_read(record: CarrierRecord, sha256: str | None, reads: Sequence[Read]) -> Iterator[Contradiction]:
    """What the reader of every read that gives the image says it did not get: reads without a list say nothing."""
    told = [read for read in reads if read.image.sha256 == sha256 and read.listed]
    if not told:
        return
    missed = [[Span(one.start, one.length) for one in read.not_read if one.state in _NOT_GOT] for read in told]
    left = reduce(common, missed[1:], joined(missed[0]))
    if not left:
        return
    first = next(
        one for read in told for one in read.not_read if one.start <= left[0].start < one.start + one.length
    )  # fmt: skip
    ids = tuple(read.id for read in told)
    yield _found(
        "sectors-not-read", "warning", ids,
        {
            "image": sha256, "bytes": sum(one.length for one in left),
            "stretches": [[one.start, one.length] for one in left[:_STRETCHES]],
        },
        reads=named(ids, "came with a list", "came with lists"), size=sum(one.length for one in left),
        first=first.place or Phrase("sectors-not-read/byte", byte=left[0].start),
    )  # fmt: skip


def _after_the_vote(record: CarrierRecord, sha256: str | None, reads: Sequence[Read]) -> Iterator[Contradiction]:
    """Reads that had no vote, and give another image than the one that was voted."""
    agreed = record.agreed
    if agreed is None or agreed.voted_by is None or not agreed.voters:
        return
    late = tuple(read.id for read in reads if read.id not in agreed.voters and read.image.sha256 != sha256)
    if late:
        yield _found("agreed-outdated/differ", "warning", late, {"image": sha256, "reads": list(late)}, id=record.id)


def _found(
    about: str, severity: Any, where: tuple[str, ...], detail: dict[str, Any], **values: Any
) -> Contradiction:
    finding = Finding.of(about, severity, 0.99, detail=detail, **values)
    return _contradiction(finding.code, severity, where, finding.why, finding.hint, detail)


def _contradiction(
    code: str, severity: Any, where: tuple[str, ...], why: str, settle: str, detail: dict[str, Any]
) -> Contradiction:
    basis = sha256_hex(canonical({"code": code, "detail": detail}))[:16]
    return Contradiction(
        code=code, severity=severity, where=where, why=why, settle=settle or str(Phrase("step/read-again")),
        basis=basis, detail=detail,
    )  # fmt: skip


def _explained(record: CarrierRecord, one: Contradiction) -> Contradiction:
    said = [e for e in record.explanations if e.code == one.code]
    holds = next((e for e in reversed(said) if e.basis == one.basis and not _overtaken(record, e, one)), None)
    return replace(one, explained=holds, before=said[-1] if said and holds is None else None)


def _overtaken(record: CarrierRecord, explanation: StatedReason, one: Contradiction) -> bool:
    """Whether a read that came later gives another image than the one that was explained."""
    image = one.detail.get("image")
    return image is not None and any(
        read.added > explanation.added and read.image.sha256 != image for read in record.reads
    )
