"""What the image of a plan rests on: said on the sheet, for whoever stands at the programmer or the drive."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from imagekeeper.findings import Finding
from imagekeeper.planning.sheet import Fact, Sheet, SheetPart
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.sentences.say import Phrase


@dataclass(frozen=True, kw_only=True)
class Grounds:
    """What an image rests on.

    Attributes:
        carrier: The carrier that it was taken from, or null for a file of which nothing is kept.
        what: `agreed`, or the id of a read or derived image, or null.
        grade: How its evidence stands, or null where that is not known.
        open: The codes of what speaks against it.
        explained: The codes of what did, and was explained.
        says: All that in words.
    """

    carrier: str | None = None
    what: str | None = None
    grade: str | None = None
    open: tuple[str, ...] = ()
    explained: tuple[str, ...] = ()
    says: str = ""


#: Of a file from which nothing is kept.
UNKNOWN = Grounds()


def grounds_of(record: CarrierRecord, what: str) -> Grounds:
    """Tell what an image of a carrier rests on."""
    found = record.standing
    if found is None or what != "agreed":
        return Grounds(carrier=record.id, what=what, says=str(Phrase("step/image-one-image", id=record.id, what=what)))
    held = tuple(dict.fromkeys(one.code for one in found.open))
    said = tuple(dict.fromkeys(one.code for one in found.explained))
    says = [f"{record.id}: {found.grade}. {found.because}"]
    return Grounds(
        carrier=record.id, what=what, grade=found.grade, open=held, explained=said, says=" ".join(says)
    )


def with_grounds(sheet: Sheet, grounds: Grounds, shown: Sequence[Finding] = ()) -> Sheet:
    """Say on a sheet what the image rests on; what speaks against it stands first among the cautions.

    Args:
        sheet: The sheet.
        grounds: What the image rests on.
        shown: What it shows by itself.
    """
    cautions = []
    if grounds.open:
        cautions.append(str(Phrase("step/image-open", id=grounds.carrier, codes=grounds.open)))
    elif grounds.grade in ("disputed", "single", "voted"):
        cautions.append(str(Phrase("step/image-weak", id=grounds.carrier, grade=grounds.grade)))
    faults = [one.why for one in shown if one.severity == "fault"]
    if faults and not grounds.open and not grounds.explained:
        cautions.append(str(Phrase("step/image-fault", why=faults[0])))
    if grounds.carrier is None:
        facts = [Fact("evidence", str(Phrase("step/image-unknown")))]
    else:
        facts = [Fact("carrier", f"{grounds.carrier}, {grounds.what}")]
        facts += [Fact("grade", grounds.grade)] if grounds.grade else []
        facts += [Fact("open", ", ".join(grounds.open))] if grounds.open else []
        facts += [Fact("explained", ", ".join(grounds.explained))] if grounds.explained else []
    part = SheetPart("What the image rests on", tuple(facts))
    return replace(sheet, parts=(*sheet.parts, part), cautions=(*cautions, *sheet.cautions))
