"""What speaks against an image, beside what the image shows by itself: and what would settle it."""

from imagekeeper.sentences.says import Says

SAYS: dict[str, Says] = {
    "chip-size-differs/kept": Says(
        why="{reads} {size_bytes:size}; a {part} holds {chip_bytes:size}",
        next=(
            "look at the marking: correct the part of the record if another chip was read; else choose the right chip "
            "at the reader, read again, and take the wrong read back"
        ),
    ),
    "part-unlike-marking": Says(
        why=(
            "the record names a {part}, of {size:size}; the marking {marking} is that of a {marked}, of "
            "{marked_size:size}"
        ),
        next="read the marking on the chip again, then correct the part or the marking in the record",
    ),
    "part-unlike-package": Says(
        why="the package has {package_pins:plural pin}; a {part} has {chip_pins}",
        next="count the pins of the chip, then correct the part or the package in the record",
    ),
    "label-sum-differs": Says(
        why="the label gives {sums:list and}; the image has the 16-bit sum {sum16} and the CRC-32 {crc32}",
        next=(
            "read the label again; a label can be older than the program under it, or its sum be taken over more or "
            "less than the chip: find out which, and say so"
        ),
    ),
    "reference-differs": Says(
        why="the reference {name}{source} is {digest}; that of the image is {own}",
        next="find out whether the reference is of this version of the image at all; then say what it is of",
    ),
    "trial-failed": Says(
        why="the machine did not work with {item}{together}{note}",
        next=(
            "try the set again with one other chip at a time; a fault elsewhere in the machine looks the same: when it "
            "is found, record the trial anew, or say why it does not speak against this image"
        ),
    ),
    "reader-misreads": Says(
        why="{bytes} of {of_bytes} bytes of the known chip were read otherwise than they are",
        next="compare the two files: that names the line; mend the reader before anything else is read with it",
    ),
    "known-chip-weak": Says(
        why="the known chip proves little: {trouble}",
        next="take a chip that is full of program code, and of the largest size that the reader takes",
    ),
    "empty-socket-answers": Says(
        why="the read of the empty socket holds data ({bytes:plural byte})",
        next="see that no chip is in the socket, and that the reader does not give its last buffer again; read it anew",
    ),
    "sectors-not-read": Says(
        why=(
            "{reads} by which {size:size} of this image were not read, the first at {first}; no list of another read "
            "calls them well read"
        ),
        next=(
            "read the disk again, in another drive if there is one, and keep its list too; or say why nothing is "
            "lost"
        ),
    ),
    "sectors-not-read/byte": Says(why="byte {byte}"),
    "not-examined": Says(
        why="the image was never looked at by itself: two reads of one fault agree, too",
        next="settle the agreed image again: it is looked at then",
    ),
}
