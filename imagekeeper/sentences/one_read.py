"""What one image of a disk tells of its own reading."""

from imagekeeper.sentences.disk_reads import SAYS as OF_READS
from imagekeeper.sentences.says import Says


def _next(code: str) -> str:
    """What to do is what is to be done where two reads tell it."""
    return OF_READS[code].next


SAYS: dict[str, Says] = {
    "misread/system": Says(why="put right, its file system and files fit together"),
    "misread/alone": Says(why="nothing but what comes twice speaks for it, and a disk may hold the same twice"),
    "misread/instead": Says(why="; else perhaps {causes:list or}"),
    # --- sides ---
    "sides-swapped/one-read": Says(
        why="side 0 and side 1 are exchanged on all cylinders: {because}{instead}", next=_next("sides-swapped")
    ),
    "sides-swapped/called": Says(why="the sides are exchanged"),
    "side-twice/one-read": Says(
        why="{sides} is side {held} once more on all cylinders: {because}{instead}", next=_next("side-twice")
    ),
    "side-twice/alike": Says(
        why="side 0 and side 1 are alike on all cylinders: {because}{instead}", next=_next("side-twice")
    ),
    "side-twice/called": Says(why="one side was read twice"),
    "sides-order/one-read": Says(
        why="the tracks of the two sides do not come by turns but {arranged}: {because}{instead}",
        next="no sector is lost: put the tracks in the order by turns, and look again",
    ),
    "sides-order/called": Says(why="the sides come in another order"),
    "side-missing/one-read": Says(
        why="one side only was read; {sides} is missing: {because}{instead}", next=_next("side-missing")
    ),
    "side-missing/called": Says(why="one side is missing"),
    # --- steps ---
    "cylinder-twice/one-read": Says(
        why=(
            "from cylinder {first} on all stands {times:plural cylinder} too far on: "
            "{times:plural step was/steps were} missed behind cylinder {before}: {because}{instead}"
        ),
        next=_next("cylinder-twice"),
    ),
    "cylinder-twice/called": Says(why="a step was missed"),
    "cylinder-skipped/one-read": Says(
        why=(
            "from cylinder {first} on {times:plural cylinder is/cylinders are} missing, and all behind stands too "
            "early: {because}{instead}"
        ),
        next=_next("cylinder-skipped"),
    ),
    "cylinder-skipped/called": Says(why="a cylinder was stepped over"),
    "single-stepped/one-read": Says(why="every cylinder comes twice: {because}{instead}", next=_next("single-stepped")),
    "single-stepped/called": Says(why="every cylinder was read twice"),
    "double-stepped/one-read": Says(
        why="every other cylinder is missing: {because}{instead}", next=_next("double-stepped")
    ),
    "double-stepped/called": Says(why="every other cylinder is missing"),
    "track-lost/one-read": Says(
        why=(
            "the track of cylinder {cylinder}, side {side} was left out, and all behind stands one track too early: "
            "{because}{instead}"
        ),
        next=(
            "read the disk again with a program that keeps the place of a track that it cannot read; clean head and "
            "disk, or try another drive, for that track"
        ),
    ),
    "track-lost/called": Says(why="a track was left out"),
    "track-lost/filled": Says(
        why="nothing but {fill} stands on {places}, in the middle of {files:plural file}, and ends with the tracks",
        next=(
            "a reader puts fill for what it cannot read: read these tracks again, after cleaning head and disk or in "
            "another drive"
        ),
    ),
    "last-cylinders-missing/one-read": Says(
        why="behind cylinder {reached} comes nothing but that cylinder again: {because}{instead}",
        next=_next("last-cylinders-missing"),
    ),
    "last-cylinders-missing/called": Says(why="the last cylinders are missing"),
    "last-cylinders-missing/files-beyond": Says(
        why=(
            "{files:plural file goes/files go} on beyond the image: it ends with {there:plural cylinder}, and "
            "{cylinders} at least are missing"
        ),
        next=_next("last-cylinders-missing"),
    ),
    # --- the order of sectors ---
    "first-sector-wrong/one-read": Says(
        why="on all tracks the sectors stand by one {way}: {because}{instead}", next=_next("first-sector-wrong")
    ),
    "first-sector-wrong/called": Says(why="the first sector number was wrong"),
    "sectors-rotated/one-read": Says(
        why="the tracks are turned, {how}: {because}{instead}", next=_next("sectors-rotated")
    ),
    "sectors-rotated/called": Says(why="the tracks are turned"),
    "sectors-interleaved/one-read": Says(
        why="on all tracks the sectors stand in another order than by number: {how}: {because}{instead}",
        next="no sector is lost: put the sectors of each track in order, and look again",
    ),
    "sectors-interleaved/called": Says(why="the sectors stand in another order"),
    # --- planning ---
    "misread": Says(
        what="this image is no good read of its disk, and was not written",
        why="{why}",
        next="{next}. An image that is put right, or read anew, can be planned",
    ),
}
