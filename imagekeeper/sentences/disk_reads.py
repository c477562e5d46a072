"""Why reads of one disk differ, by cylinder, side and sector."""

from imagekeeper.sentences.says import Says

SAYS: dict[str, Says] = {
    # --- usage ---
    "usage/disk-or-chip": Says(
        what="reads are of a disk or of a memory device, not of both",
        why="a geometry was given, and a part or supply voltages as well",
        next="leave one of them out",
    ),
    "no-majority/sectors": Says(
        why=(
            "of {count:plural sector} no content has more than half of the votes, first of {first}: what came out was "
            "put together of bytes of several reads, and stands in none of them so"
        ),
        next="merge the reads sector by sector, with the lists of their readers; or read those tracks again",
    ),
    "not-diagnosed/disk": Says(
        why="the causes were not looked for: the disk has {sectors} sectors, and no more than {limit} are explained",
        next="look at the sectors that differ; of a hard disk, compare its partitions one by one",
    ),
    # --- which read is wrong ---
    "sectors-differ/told": Says(why="; {read} is the one that is wrong"),
    "sectors-differ/untold": Says(why="; nothing tells which of the two is wrong"),
    # --- sides and heads ---
    "sides-swapped": Says(
        why="on {cylinders} {read} has side 0 and side 1 of {other} exchanged{verdict}",
        next=(
            "look which side the boot sector or the directory belongs on, check the side select of the cable and the "
            "program's setting of sides, and read again"
        ),
    ),
    "side-twice": Says(
        why="on {cylinders} {read} has side {held} of {other} on {sides} as well{verdict}",
        next=(
            "side select had no effect: check that the cable carries it, that the drive has two heads and the program "
            "is set to two sides, and read again"
        ),
    ),
    "sides-order": Says(
        why="{read} has the tracks of {other} in another order of sides: {arranged}{verdict}",
        next="no sector is lost: put the sides of one of the two in the other's order, and compare again",
    ),
    "sides-order/side-after-side": Says(why="all of side 0, then all of side 1"),
    "sides-order/side-1-reversed": Says(why="all of side 0, then side 1 from its last cylinder back"),
    "sides-order/back": Says(why="{other} has {arranged}, and {read} has the sides by turns"),
    "side-missing": Says(
        why="{read} has one side of {other} only; {sides} is missing{verdict}",
        next="set the program to two sides, and take a drive with two heads",
    ),
    "head-dead": Says(
        why=(
            "on {cylinders} {read} has nothing on {sides} but {fill}, where {other} has {sectors:plural sector} of "
            "content{verdict}"
        ),
        next=(
            "clean the head of that side and read again; if nothing comes from it, read in another drive. A head that "
            "shed what it scraped off this disk will scrape the next: look at the disk first"
        ),
    ),
    # --- steps ---
    "cylinder-twice": Says(
        why=(
            "from cylinder {first} on {read} has what {other} has {times:plural cylinder} before: "
            "{times:plural step was/steps were} missed{verdict}"
        ),
        next=(
            "let the drive step more slowly, clean and, where its maker says so, lubricate the rails "
            "of its carriage, and read again from cylinder 0 on"
        ),
    ),
    "cylinder-skipped": Says(
        why=(
            "from cylinder {first} on {read} has what {other} has {times:plural cylinder} later: "
            "{times:plural cylinder was/cylinders were} stepped over{verdict}"
        ),
        next=(
            "the head moved further than it was told to: let the drive step more slowly, look whether it finds "
            "cylinder 0, and read again"
        ),
    ),
    "single-stepped": Says(
        why="{read} has every cylinder of {other} twice{verdict}",
        next=(
            "a 48 tpi disk was read in a 96 tpi drive step by step: set the program to two steps a cylinder, or read "
            "in a 48 tpi drive"
        ),
    ),
    "double-stepped": Says(
        why="{read} has every other cylinder of {other} only{verdict}",
        next="the drive made two steps a cylinder: set the program to one step a cylinder, and read again",
    ),
    "track-of-neighbour": Says(
        why="on {cylinders}, {sides}, {read} has what {other} has on cylinder {from_cylinder}{from_side}{verdict}",
        next=(
            "the head was not yet there when the track was read, or the other side was chosen: read these tracks "
            "again, with more time to settle"
        ),
    ),
    "track-of-neighbour/side": Says(why=", side {side}"),
    "last-cylinders-missing": Says(
        why="{read} has nothing of {cylinders}, {instead}{verdict}",
        next=(
            "look whether the program was told how many cylinders there are, and whether the drive reaches that far; "
            "read the last cylinders again, in another drive if need be"
        ),
    ),
    "last-cylinders-missing/absent": Says(why="for it ends before"),
    "last-cylinders-missing/filled": Says(why="only {fill}"),
    "last-cylinders-missing/repeated": Says(why="but cylinder {reached} again and again"),
    # --- the order of sectors ---
    "first-sector-wrong": Says(
        why=(
            "on all tracks {read} has the sectors of {other} by one {way}: the numbers asked for began with another "
            "than those of the disk{verdict}"
        ),
        next="let a drive list the sector numbers of a track, set the first one in the program, and read again",
    ),
    "first-sector-wrong/early": Says(why="too early, the first is missing"),
    "first-sector-wrong/late": Says(why="too late, the last is missing"),
    "sectors-rotated": Says(
        why="the tracks of {read} are those of {other} turned, {how}{verdict}",
        next=(
            "no sector is lost: have the program begin with the first sector by its number rather than with the first "
            "that passes, or turn the tracks back"
        ),
    ),
    "sectors-rotated/alike": Says(why="all by {by:plural sector}"),
    "sectors-rotated/skew": Says(why="each by {by:plural sector} more than the one before"),
    "sectors-rotated/each": Says(why="each by an amount of its own"),
    "sectors-interleaved": Says(
        why="on all tracks {read} has the sectors of {other} in another order: {how}{verdict}",
        next="no sector is lost: put the sectors of one of the two in the other's order, and compare again",
    ),
    "sectors-interleaved/step": Says(why="{order:list}, which is an interleave of {step}"),
    "sectors-interleaved/own": Says(why="{order:list}"),
    # --- single tracks and sectors ---
    "track-lost": Says(
        why="{read} has {fill} on {places} where {other} has content{verdict}",
        next=(
            "read these tracks again, several times and after cleaning head and disk; if nothing comes, try another "
            "drive, and look at the disk for a scratch"
        ),
    ),
    "sectors-filled": Says(
        why=(
            "{read} has nothing but {fill} in {sectors:plural sector} where {other} has content: {places}{verdict}"
        ),
        next=(
            "a reader puts fill for what it cannot read: it is no data. Read these sectors again, with more retries or "
            "in another drive, and keep the list of those that stay bad"
        ),
    ),
    "weak-sectors": Says(
        why="{read} and {other} differ in some bytes of {sectors:plural sector}: {places}{verdict}",
        next=(
            "read the disk again until each of these sectors comes twice alike with its check value right; clean the "
            "head, and try another drive"
        ),
    ),
    "radial-decay": Says(
        why=(
            "{sectors:plural sector} of {read} are not as in {other}, and they come closer together towards the "
            "{end}{verdict}"
        ),
        next=(
            "the drive's heads may stand beside the tracks there: read in another drive, best in the one that wrote "
            "the disk; if that helps, have the alignment of the first checked with a disk made for it"
        ),
    ),
    "radial-decay/inner": Says(why="last cylinders"),
    "radial-decay/outer": Says(why="first cylinders"),
    # --- other content ---
    "other-disk": Says(
        why="of what is written on {read} and {other}, {same:.0%} is the same: they are two different disks",
        next="look at the labels, and sort the reads by the disk that they come from",
    ),
    "other-version": Says(
        why=(
            "{read} and {other} are two states of one disk: {sectors:plural sector is/sectors are} not the same"
            "{changes}"
        ),
        next=(
            "something was written between the two, or they are two copies: keep both, and say which of them you mean; "
            "a vote would mix them"
        ),
    ),
    "other-version/files": Says(why="; files: {list}"),
    "other-version/added": Says(why="only in {read}, {names:list}"),
    "other-version/gone": Says(why="only in {other}, {names:list}"),
    "other-version/changed": Says(why="changed, {names:list}"),
    "sectors-differ": Says(
        why="{read} and {other} hold different content in {sectors:plural sector}: {places}{verdict}",
        next="read the disk once more: what two of three reads have is the likelier, a third value tells of a fault",
    ),
}
