"""One rule for the next step: what would raise what is known of a carrier, at what another pass over it costs.

Every pass wears a disk or tape, and one that sheds may not survive the next: then evidence that costs no pass comes
first, and a pass is made once, cleaned and whole. A chip may be read as often as one likes.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from imagekeeper.evidence.conditions import CONDITIONS, Independence
from imagekeeper.evidence.second import SecondEvidence
from imagekeeper.provenance.agreed import Grade
from imagekeeper.provenance.kinds import DISKS
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.standing import Contradiction, NextStep
from imagekeeper.sentences.say import Phrase

#: What a person writes of a medium that the next pass may take with it. Common practice, no source.
_SHEDS = re.compile(r"shed|flak|mou?ld|sticky|stick|peel|scratch|scrap|dust of oxide|loose oxide", re.IGNORECASE)

#: Carriers that every pass wears.
WORN = (*DISKS, "tape")


def sheds(record: CarrierRecord) -> bool:
    """Whether another pass may cost the medium what it still holds: a worn kind, and its condition says so."""
    said = " ".join(
        text for text in (record.condition, record.note, *(note.text for note in record.notes)) if text
    )
    return record.kind in WORN and _SHEDS.search(said) is not None


def next_step(
    record: CarrierRecord, grade: Grade, found: Independence, against: Sequence[Contradiction], damage: Sequence[str],
    more: Sequence[SecondEvidence],
) -> NextStep:  # fmt: skip
    """Say what to do next: damage before all else, then what speaks against the image, then what is missing."""
    held = [one for one in against if one.explained is None]
    if damage:
        return _step("step/restore", f"{len(damage)} of its files are not what was kept")
    fragile = sheds(record)
    if not record.reads:
        return _step("step/read-once-clean" if fragile else "step/read", "there is no read", passes=1)
    if grade == "disputed":
        if fragile:
            return _step("step/compare-first", "the reads differ, and another pass may cost what is left")
        return _step("step/read-disputed", "the reads differ", passes=1, id=record.id)
    if held:
        first = held[0]
        return NextStep(does=first.settle, because=f"{first.code}: {first.why}")
    if record.agreed is None and grade != "single":   # it costs nothing, and one read settles little
        return _step("step/settle", "its reads were never settled", id=record.id)
    if grade in ("single", "voted", "repeated"):
        if fragile:
            about = "step/second-evidence" if not more else "step/clean-and-read-once"
            return _step(about, "another pass may cost what is left", passes=0 if not more else 1)
        disk = record.kind in DISKS
        if grade == "single":
            return _step("step/read-again-disk" if disk else "step/read-again", "a single read", passes=1)
        because = "no read gives it whole" if grade == "voted" else _because(found)
        return _step("step/read-otherwise-disk" if disk else "step/read-otherwise", because, passes=1)
    if grade == "independent":
        return _step("step/second-evidence", "the reads are independent, and nothing else speaks for the image")
    if more and not any(one.strong for one in more):
        return _step("step/stronger-digest", "a sum or CRC-32 has 32 bits at most")
    return NextStep(does="", because="corroborated")


def _step(about: str, because: str, *, passes: int = 0, **values: str) -> NextStep:
    return NextStep(does=str(Phrase(about, **values)), because=because, passes=passes)


def _because(found: Independence) -> str:
    if found.shared:
        return f"all reads share {', '.join(found.shared)}"
    needed = [title for title, points in CONDITIONS.values() if points > 1 and title in found.unknown]
    return f"{' and '.join(needed)} not recorded for all reads" if needed else "the reads do not differ enough"
