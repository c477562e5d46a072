"""What else speaks for an image, beside the reads that give it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from imagekeeper.evidence.conditions import Independence
from imagekeeper.evidence.label_sums import label_sums
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.references import NAMES, Reference
from imagekeeper.provenance.testimony import Examination


@dataclass(frozen=True)
class SecondEvidence:
    """One more thing that speaks for an image.

    Attributes:
        says: In a sentence.
        strong: Whether more than 32 bits of chance speak for it.
    """

    says: str
    strong: bool


def second_evidence(
    record: CarrierRecord, sha256: str, figures: dict[str, str], references: tuple[Reference, ...],
    seen: Examination | None, found: Independence,
) -> Iterator[SecondEvidence]:  # fmt: skip
    """Gather what else speaks for an image: references, its own checks, the label, other specimens, trials."""
    for reference in references:
        source = f" from {reference.source}" if reference.source else ""
        yield SecondEvidence(
            f"The reference {NAMES.get(reference.algorithm, reference.algorithm)}{source} agrees.",
            reference.algorithm != "crc32",
        )
    for check in (seen.checks or ()) if seen else ():
        yield SecondEvidence(f"The image's own check agrees: {check}.", strong=True)
    for one in label_sums(record.label or "", figures):
        if one.is_a is not None:
            yield SecondEvidence(f"The label's {one.digits} is its {one.is_a}.", strong=False)
    # another person takes no fault away (`conditions`), so is no difference beside that of the specimen
    if "specimen" in found.differ and set(found.differ) - {"specimen", "person"}:
        yield SecondEvidence("Another specimen gives the same image.", strong=True)
    for trial in record.trials:
        if trial.outcome == "passed" and trial.sha256 == sha256:
            with_what = f" together with {', '.join(trial.together)}" if trial.together else ""
            yield SecondEvidence(f"The machine tested it{with_what} and found it good ({trial.id}).", strong=True)


def agreeing(record: CarrierRecord, sha256: str, figures: dict[str, str]) -> tuple[Reference, ...]:
    """Name the references that are known to be those of the image."""
    known = figures | {"sha256": sha256}
    return tuple(
        one
        for one in (record.agreed.references if record.agreed else ())
        if known.get(one.algorithm, "").lower() == one.digest.lower()
    )
