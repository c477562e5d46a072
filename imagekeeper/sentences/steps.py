"""What to do next, after an answer that is no failure, and what is asked to be done on a sheet."""

from imagekeeper.sentences.says import Says

SAYS: dict[str, Says] = {
    # --- step ---
    "step/in-the-way": Says(why="{place} is in the way; audit the archive"),
    "step/settle-geometry": Says(
        why=(
            "This does not settle it against {rivals:list and}: look at the label and the drive, or read one track and "
            "count its sectors; then say what you know, such as the number of heads."
        ),
    ),
    "step/own-controller": Says(
        why=(
            "A controller that writes soft-sectored FM or MFM, all tracks alike, cannot make it: it takes the "
            "machine's own, or an instrument that records every flux change."
        ),
    ),
    "step/which-drive": Says(why="See which drive can write it."),
    "step/settle-again": Says(why="settle the agreed image again"),
    "step/keep-image": Says(why="nothing like it is kept: add a carrier for it, and this read to it"),
    "step/fewer-choices": Says(why="leave out one of the choices, to see whether it is what excludes everything"),
    "step/fewer-words": Says(why="leave out a word: all of them must be there"),
    "step/other-words": Says(
        why=(
            "try the beginning of a word or another word of the label, or look through the lists of carriers and "
            "machines"
        ),
    ),
    "step/settle-first": Says(why="no image is agreed yet; settle that of {id} first"),
    "step/take-image-out": Says(why="take the image {image} of {id} out to a file, then {then}"),
    "step/check-files": Says(why="check the files on {file}"),
    "step/list-files": Says(why="list the files on {file}"),
    "step/solve-geometry": Says(why="solve the geometry of {file}"),
    "step/look-at-floppy": Says(why="solve the geometry of the disk, and look at its first sectors in hexadecimal"),
    "step/look-at-disk": Says(why="look at its first sectors in hexadecimal"),
    "step/more-of-what-is-wrong": Says(why="check the files to see more of what is wrong"),
    "step/take-files-out": Says(why="take files out into a folder"),
    "step/too-much-for-a-page": Says(why="{said} are too much for a page: compare the reads to see where they differ"),
    "step/prove-chip": Says(why="Prove both files: compare them; their CRC-32 must be {crc32}."),
    "step/prove-disk": Says(why="Prove both files: compare them with the one that was written."),
    "step/read": Says(why="read it"),
    "step/read-disputed": Says(
        why="compare the reads of {id} to see where and why they differ; then read it again",
    ),
    "step/which-cause": Says(why="the reads differ, and this tells best why"),
    "step/compare-first": Says(
        why=(
            "compare the reads before anything else, and settle what can be settled without another pass; then clean "
            "it, and capture it once more with all turns"
        ),
    ),
    "step/read-once-clean": Says(
        why=(
            "stop before the next pass: clean it and the heads, then capture it once, with all turns, on a drive that "
            "fits"
        ),
    ),
    "step/clean-and-read-once": Says(
        why="clean it and the heads, then capture it once more in another drive, with all turns",
    ),
    "step/restore": Says(why="restore the damaged files from another copy of the archive"),
    "step/read-again": Says(why="read it again, on another reader or at another supply voltage, and record which"),
    "step/read-again-disk": Says(why="read it again, in another drive, and record which"),
    "step/settle": Says(why="settle the agreed image of {id}"),
    "step/read-otherwise": Says(
        why="read it on another reader, or at another supply voltage, and record that with the read",
    ),
    "step/read-otherwise-disk": Says(why="read it in another drive, and record that with the read"),
    "step/second-evidence": Says(
        why=(
            "look for a second kind of evidence: a SHA-256 or SHA-1 from a source of its own, the image's own "
            "checksum, another specimen, a test in the machine"
        ),
    ),
    "step/stronger-digest": Says(why="supply a SHA-256 or SHA-1 from the same source, which is stronger"),
    "step/image-one-image": Says(why="{id} {what}: one image of the carrier, not the one that was settled"),
    "step/image-open": Says(
        why=(
            "Something speaks against this image ({codes:list}): see {id} before a chip or disk is made of it. What is "
            "wrong in the image will be wrong in what is made."
        ),
    ),
    "step/image-weak": Says(
        why="The image of {id} is only {grade}: read it again before the original is out of reach.",
    ),
    "step/image-fault": Says(why="The image itself shows a fault: {why}. Look into it before anything is written."),
    "step/image-unknown": Says(why="not known: a file, of which nothing is kept"),
    "step/audit": Says(why="audit the archive"),
    "step/bench-head": Says(
        why="The bench: what is at hand for reading and writing. What is added is written at the end of this file;",
    ),
    "step/interchange-there": Says(why="now the other way: let the machine's drive write a disk, and read it here"),
    "step/interchange-here": Says(why="now the other way: write a disk here, and let the machine's drive read it"),
    "step/bench-by-hand": Says(why="correct it by hand as you like."),
    "step/name-maker": Says(why="NONE without the maker: {because}. Name the maker that stands on the chip."),
    "step/name-marking": Says(
        why="NONE without the exact marking: {because}. Until then nothing above 5 V goes to the chip."
    ),
    "step/find-maker": Says(
        why=(
            "Find out who made it, and plan again for that maker. Where the table has no sheet of that maker's chip, "
            "the maker's own decides. Without the one or the other, program nothing."
        ),
    ),
}
