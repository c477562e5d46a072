"""The grade of the evidence for a carrier's image: on what it rests, what speaks against it, what to do next.

The grades, from weak to strong:

- `none`: no read.
- `disputed`: the reads differ, and no vote has been accepted.
- `single`: one read gives the image.
- `voted`: no read gives the image whole; at each address most of the reads do, and somebody accepted that.
- `repeated`: two or more equal reads, which share what could be wrong with all of them.
- `independent`: equal reads that differ in what could be wrong: `conditions` counts that.
- `corroborated`: independent, and a second kind of evidence agrees: the image's own checksum, a reference digest, the
  sum on the label, the machine's own test, or the same image from another specimen (where the reads also differ in
  something besides it).

While a contradiction is open, a grade is never more than `repeated`. A read that is evidently the same file again
counts once. A read with doubts (its container speaks against some of its bytes) may repeat another read, but never
makes it independent: two faults of one kind can look alike. A voted image rests on the reads that give exactly it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from imagekeeper.evidence.conditions import Independence, independence
from imagekeeper.evidence.contradictions import contradictions, examined
from imagekeeper.evidence.rules import evidence_rules
from imagekeeper.evidence.second import SecondEvidence, agreeing, second_evidence
from imagekeeper.evidence.steps import next_step
from imagekeeper.evidence.support import by_image, counted_reads, joined, named
from imagekeeper.provenance.agreed import Grade
from imagekeeper.provenance.reads import Read
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.standing import Contradiction, Standing
from imagekeeper.provenance.testimony import Examination

#: From weak to strong.
GRADES: dict[Grade, str] = {
    "none": "There is no read.",
    "disputed": "The reads differ and no vote has been accepted.",
    "single": "One read gives the image.",
    "voted": "No read gives the image whole; at each address most of them do.",
    "repeated": "Two or more equal reads that share what could be wrong, or something speaks against them.",
    "independent": "Equal reads that differ in what could be wrong with them, and nothing open speaks against them.",
    "corroborated": "Independent, and a second kind of evidence agrees.",
}

_RAISED_BY_EVIDENCE = ("independent", "corroborated")


@dataclass(frozen=True)
class _Supported:
    """What the reads support, before anything else is weighed."""

    sha256: str | None
    reads: Sequence[Read]
    notes: list[str]


def standing(record: CarrierRecord, damage: Sequence[str] = ()) -> Standing:
    """Weigh everything that is known of a carrier.

    Args:
        record: The carrier, as it is kept.
        damage: Its files that are not what was kept, as far as somebody looked.

    Returns:
        The same for the same record: nothing else is asked, and nothing is remembered.
    """
    counted, notes = counted_reads(record.reads)
    supported = _supported(record, counted, notes)
    sha256, seen = supported.sha256, examined(record, supported.sha256)
    figures = _figures(supported, seen)
    against = contradictions(record, sha256, counted, figures)
    clean = [read for read in supported.reads if not read.image.doubts]
    found = independence(clean, record.kind)
    references = agreeing(record, sha256, figures) if sha256 else ()
    more = tuple(second_evidence(record, sha256, figures, references, seen, found)) if sha256 else ()
    grade, because = _graded(record, supported, counted, found, more, against)
    return Standing(
        sha256=sha256, grade=grade, because=because, reads=tuple(read.id for read in supported.reads),
        differ=found.differ, shared=found.shared if len(supported.reads) > 1 else (),
        evidence=tuple(one.says for one in more), contradictions=against, damage=tuple(damage),
        settled=record.agreed is not None, recorded=record.agreed.grade if record.agreed else None, figures=figures,
        references=references, next=next_step(record, grade, found, against, damage, more), rules=evidence_rules(),
    )  # fmt: skip


def _supported(record: CarrierRecord, counted: Sequence[Read], notes: list[str]) -> _Supported:
    agreed, groups = record.agreed, by_image(counted)
    if agreed is not None and agreed.voted_by is not None and agreed.sha256 is not None and counted:
        support = [read for read in counted if read.image.sha256 == agreed.sha256]
        dissent = [read.id for read in counted if read not in support]
        voters = agreed.voters or tuple(read.id for read in counted)
        said = agreed.vote or f"A vote by {agreed.voted_by}s of {', '.join(voters)} was accepted"
        return _Supported(
            agreed.sha256, support, [*notes, said + (f"; {named(dissent)} otherwise." if dissent else ".")]
        )
    if len(groups) == 1:
        return _Supported(counted[0].image.sha256, counted, notes)
    return _Supported(None, (), notes)


def _figures(supported: _Supported, seen: Examination | None) -> dict[str, str]:
    figures = dict(seen.figures) if seen is not None else {}
    if supported.reads:
        figures.setdefault("crc32", supported.reads[0].image.crc32)
    return figures


def _graded(
    record: CarrierRecord, supported: _Supported, counted: Sequence[Read], found: Independence,
    more: Sequence[SecondEvidence], against: Sequence[Contradiction],
) -> tuple[Grade, str]:  # fmt: skip
    notes = supported.notes
    if not counted:
        return "none", "There is no read that holds any bytes."
    if supported.sha256 is None:
        return "disputed", _disputed(counted, notes)
    grade, because = _by_reads(supported.reads, found, notes)
    if grade == "independent" and more:
        grade = "corroborated"
    held = [one for one in against if one.explained is None]
    if held and grade in _RAISED_BY_EVIDENCE:
        grade = "repeated"
    if held:
        codes = ", ".join(dict.fromkeys(one.code for one in held))
        notes.append(f"No more than that while this is open: {codes}.")
    explained = dict.fromkeys(one.code for one in against if one.explained is not None)
    if explained:
        notes.append(f"Explained, with the reason kept: {', '.join(explained)}.")
    if more and all(not one.strong for one in more):
        notes.append("A sum or CRC-32 has 32 bits at most: good against accidents, weaker than a SHA-1 or SHA-256.")
    return grade, " ".join([because, *(one.says for one in more), *notes])


def _by_reads(reads: Sequence[Read], found: Independence, notes: list[str]) -> tuple[Grade, str]:
    doubted = [read.id for read in reads if read.image.doubts]
    if doubted:
        notes.append(
            f"{named(doubted, 'holds', 'hold')} bytes that the file itself speaks against;"
            " such a read does not count as independent."
        )
    if not reads:
        return "voted", "No single read gives exactly this image; at each address most of the reads do."
    if len(reads) == 1:
        return "single", f"One read, {reads[0].id}, gives this image."
    listing = ", ".join(read.id for read in reads)
    begin = f"{len(reads)} equal reads ({listing})"
    shared = f" They share {joined(found.shared)}." if found.shared else ""
    trusted = " The reader had been shown to work." if found.qualified else ""
    if found.enough:
        differ = f" differ in {joined(found.differ)}." if found.differ else " are independent."
        return "independent", begin + differ + shared + trusted
    unknown = f" ({', '.join(found.unknown)} not recorded for all)" if found.unknown else ""
    if found.differ:
        why = f" differ only in {joined(found.differ)}{unknown}, which leaves what all of them share."
    else:
        why = f", with no known difference in conditions{unknown}."
    return "repeated", begin + why + shared + trusted


def _disputed(counted: Sequence[Read], notes: list[str]) -> str:
    groups, parts = by_image(counted), []
    for group in groups:
        first = group[0].image
        parts.append(f"{named([r.id for r in group])} {first.sha256[:12]}… ({first.size_bytes} bytes)")
    if len({group[0].image.sha256 for group in groups}) < len(groups):
        notes.append("Reads with the same bytes have them at different addresses.")
    return " ".join([f"The reads differ: {'; '.join(parts)}.", *notes])
