"""The grade of the evidence for a carrier's image: what it is, on what it rests, what would raise it.

The rules, from weak to strong:

- `none`: no read.
- `disputed`: the reads differ, and no vote has been accepted.
- `single`: one read gives the image.
- `repeated`: two or more equal reads, with nothing known to differ between them.
- `independent`: equal reads that differ in reader, operator, supply voltage or specimen.
- `corroborated`: independent, and a second kind of evidence agrees: the image's own checksum, a reference
  digest, or the same image from another specimen (where the reads also differ in something besides it).

Only conditions that are known on both sides count as different. A read that is evidently the same file again
counts once. A read with doubts (its container speaks against some of its bytes) may repeat another read, but
never makes it independent: two faults of one kind can look alike. A voted image rests on the reads that give
exactly it; one that no read gives whole is `single`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import combinations

from imagekeeper.provenance.agreed import Agreed, Grade
from imagekeeper.provenance.places import AGREED_IMAGE
from imagekeeper.provenance.reads import Read
from imagekeeper.provenance.references import NAMES, Reference

#: The conditions that make reads independent, with their names in sentences.
CONDITIONS = {"reader": "reader", "operator": "operator", "vcc": "supply voltage", "specimen": "specimen"}

#: From weak to strong.
GRADES: dict[Grade, str] = {
    "none": "There is no read.",
    "disputed": "The reads differ and no vote has been accepted.",
    "single": "One read gives the image.",
    "repeated": "Two or more equal reads, with nothing known to differ between them.",
    "independent": "Equal reads that differ in reader, operator, supply voltage or specimen.",
    "corroborated": "Independent, and a second kind of evidence agrees.",
}

_MORE = "read it with another reader, supply voltage or person, and record that with the read"
_CONFIRM = (
    "supply a SHA-256 or SHA-1 from a source of its own, find the image's own checksum,"
    " or read another specimen"
)


@dataclass(frozen=True)
class Vote:
    """A majority image that a person has accepted.

    Attributes:
        sha256: Of the voted image.
        because: How it was formed and who accepted it, as a sentence's beginning.
    """

    sha256: str
    because: str


def grade(
    reads: Sequence[Read],
    accepted_vote: Vote | None = None,
    references: Sequence[Reference] = (),
    own_checks: Sequence[str] = (),
) -> Agreed:
    """Grade the evidence that the reads of a carrier give.

    Args:
        reads: All reads of the carrier.
        accepted_vote: The vote that settles a dispute, if there is one.
        references: Digests from outside, each already checked to be that of the image.
        own_checks: Checksums inside the image that agree, each as a short name ("16-bit sum at FFFE").

    Example:
        >>> grade([]).grade
        'none'
    """
    counted, notes = counted_reads(reads)
    if not counted:
        return Agreed(
            sha256=None, grade="none", because="There is no read that holds any bytes.", raise_by="read the carrier",
            reads=(), image=None,
        )  # fmt: skip
    groups = _by_image(counted)
    if accepted_vote is None and len(groups) > 1:
        return _disputed(groups, notes)
    if accepted_vote is None:
        sha256, support = counted[0].image.sha256, counted
    else:
        sha256 = accepted_vote.sha256
        support = [read for read in counted if read.image.sha256 == sha256]
        dissent = [read.id for read in counted if read not in support]
        notes.append(accepted_vote.because + (f"; {_reads(dissent)} otherwise." if dissent else "."))
    level, because, raise_by = _support_grade(support, notes)
    evidence = _second_evidence(support, references, own_checks)
    if level == "independent" and evidence:
        level, raise_by = "corroborated", None
    elif evidence and raise_by:
        raise_by = f"{_MORE}; the second kind of evidence is there already"
    if len(references) == len(evidence) > 0 and all(r.algorithm == "crc32" for r in references):
        notes.append("A CRC-32 has only 32 bits: good against accidents, weaker than a SHA-1 or SHA-256.")
        raise_by = raise_by or "supply a SHA-256 or SHA-1 from the same source, which is stronger"
    text = " ".join([because, *evidence, *notes])
    return Agreed(
        sha256=sha256, grade=level, because=text, raise_by=raise_by, reads=tuple(read.id for read in support),
        image=AGREED_IMAGE, references=tuple(references),
    )  # fmt: skip


def counted_reads(reads: Sequence[Read]) -> tuple[list[Read], list[str]]:
    """Leave out reads without a byte, and count a file that was added twice only once.

    The sign of the same file is the same name, time of change and digest. Where neither file has a time of change, the
    two pass for one unless a condition that is known on both sides differs.

    Returns:
        The reads that count, and a sentence for each that is a copy.
    """
    kept: list[Read] = []
    notes: list[str] = []
    for read in reads:
        if not read.image.size_bytes:
            continue
        copy = next((k for k in kept if _same_file(k, read)), None)
        if copy is None:
            kept.append(read)
        else:
            notes.append(
                f"{read.id} is the same file as {copy.id} (same name, time of change and SHA-256)"
                " and does not count."
            )
    return kept, notes


def _same_file(a: Read, b: Read) -> bool:
    if (a.file, a.file_base64, a.modified, a.sha256) != (b.file, b.file_base64, b.modified, b.sha256):
        return False
    return a.modified is not None or not differing_conditions(a, b)


def _by_image(reads: Sequence[Read]) -> list[list[Read]]:
    """Group reads that hold the same bytes in the same arrangement; a shift of the whole does not matter."""
    groups: dict[object, list[Read]] = {}
    for read in reads:
        image = read.image
        shape = tuple((s.start - image.first_address, s.length) for s in image.segments)
        groups.setdefault((image.sha256, shape), []).append(read)
    return list(groups.values())


def differing_conditions(a: Read, b: Read) -> tuple[str, ...]:
    """Name the conditions that are known for both reads and differ.

    Returns:
        Keys of `CONDITIONS`.
    """
    return tuple(
        name
        for name in CONDITIONS
        if (x := _comparable(name, getattr(a, name))) is not None
        and (y := _comparable(name, getattr(b, name))) is not None
        and x != y
    )


def _comparable(name: str, value: str | None) -> object:
    """Bring spellings of one thing together: 5, 5.0 and 5.00 volts; capitals and blanks in names."""
    if value is None or not value.strip():
        return None
    return Decimal(value) if name == "vcc" else " ".join(value.split()).casefold()


def _support_grade(support: Sequence[Read], notes: list[str]) -> tuple[Grade, str, str | None]:
    doubted = [read for read in support if read.image.doubts]
    if doubted:
        notes.append(
            f"{_reads([r.id for r in doubted], 'holds', 'hold')} bytes that the file itself speaks against;"
            " such a read does not count as independent."
        )
    if not support:
        return "single", "No single read gives exactly this image.", "read it again until two reads agree"
    if len(support) == 1:
        because = f"One read, {support[0].id}, gives this image."
        return "single", because, f"read it again; better still, {_MORE}"
    listing = ", ".join(read.id for read in support)
    clean = [read for read in support if not read.image.doubts]
    differ = _all_differences(clean)
    if differ:
        named = " and ".join(CONDITIONS[name] for name in differ)
        return "independent", f"{len(support)} equal reads ({listing}) differ in {named}.", _CONFIRM
    unknown = [CONDITIONS[n] for n in CONDITIONS if any(getattr(r, n) is None for r in clean)]
    why = f" ({', '.join(unknown)} not recorded for all)" if unknown else ""
    because = f"{len(support)} equal reads ({listing}), with no known difference in conditions{why}."
    return "repeated", because, _MORE


def _all_differences(reads: Sequence[Read]) -> list[str]:
    found = {name for a, b in combinations(_distinct(reads), 2) for name in differing_conditions(a, b)}
    return [name for name in CONDITIONS if name in found]


def _distinct(reads: Sequence[Read]) -> list[Read]:
    """Keep one read of each set of conditions, so that pairs of thousands of reads need not be formed."""
    by_conditions = {tuple(_comparable(n, getattr(r, n)) for n in CONDITIONS): r for r in reads}
    return list(by_conditions.values())


def _second_evidence(
    support: Sequence[Read], references: Sequence[Reference], own_checks: Sequence[str]
) -> list[str]:
    evidence = []
    for reference in references:
        source = f" from {reference.source}" if reference.source else ""
        evidence.append(f"The reference {NAMES[reference.algorithm]}{source} agrees.")
    evidence += [f"The image's own check agrees: {check}." for check in own_checks]
    differ = _all_differences([read for read in support if not read.image.doubts])
    if "specimen" in differ and len(differ) > 1:
        evidence.append("Another specimen gives the same image.")
    return evidence


def _disputed(groups: Sequence[Sequence[Read]], notes: list[str]) -> Agreed:
    parts = []
    for group in groups:
        first = group[0].image
        parts.append(f"{_reads([r.id for r in group])} {first.sha256[:12]}… ({first.size_bytes} bytes)")
    if len({group[0].image.sha256 for group in groups}) < len(groups):
        notes.append("Reads with the same bytes have them at different addresses.")
    return Agreed(
        sha256=None, grade="disputed", because=" ".join([f"The reads differ: {'; '.join(parts)}.", *notes]),
        raise_by="compare the reads to see where and why they differ, read again, or accept a vote of three or more",
        reads=(), image=None,
    )  # fmt: skip


def _reads(ids: Sequence[str], one: str = "gives", many: str = "give") -> str:
    names = ids[0] if len(ids) == 1 else f"{', '.join(ids[:-1])} and {ids[-1]}"
    return f"{names} {one if len(ids) == 1 else many}"
