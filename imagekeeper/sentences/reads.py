"""Reads: what cannot be compared, voted over, checked or looked at, and what the sums within one show."""

from imagekeeper.sentences.says import Says

SAYS: dict[str, Says] = {
    # --- usage ---
    "usage/one-read": Says(
        what="a comparison needs at least two reads",
        why="{reads:plural read was/reads were} given",
        next="read the chip again into another file, and give both",
    ),
    "usage/no-address-in-common": Says(
        what="the reads have no address in common",
        why="every address is missing from at least one of them",
        next="look at their addresses, and move what lies wrongly to its true base address",
    ),
    "usage/voltages-of-vote": Says(
        what="the supply voltages do not fit the reads",
        why="{volts:plural voltage} for {reads:plural read}",
        next="give one for every read in order, and leave open what is not known",
    ),
    "usage/bytes-by-voltage": Says(
        what="a vote by bytes cannot be weighed by supply voltage",
        why="cells lose their charge bit by bit, not byte by byte",
        next="vote by bits, or leave the voltages out",
    ),
    "usage/same-file": Says(
        what="the same file was given twice",
        why="{one} and {other} are one file",
        next="read the chip again into another file: a file always agrees with itself",
    ),
    "usage/one-voltage-a-read": Says(
        what="there must be one supply voltage a read",
        why="{volts:plural voltage} for {reads:plural read}",
        next="leave the voltage of a read open where it is not known",
    ),
    "usage/vote-of-one": Says(
        what="a vote needs at least three reads",
        why="there is {reads}",
        next="read the chip again into another file; two reads that differ have no majority",
    ),
    "usage/vote-of-two": Says(
        what="a vote needs at least three reads",
        why="there are {reads}",
        next="read the chip again into another file; two reads that differ have no majority",
    ),
    "usage/vote-for-fill": Says(
        what="the vote would lose content",
        why=(
            "in {blocks:plural block} of {size} bytes, the first at {at:04X}, reads hold nothing but fill, and those "
            "with content are no majority"
        ),
        next="read again, and vote over reads that hold the content",
    ),
    # --- gaps ---
    "gaps/sums": Says(
        what="sums over an image with gaps depend on what lies in the gaps",
        why="{gaps:plural gap}, the first at {first:04X}",
        next="say what the gaps hold, such as FF for an erased EPROM",
    ),
    # --- address-out-of-range ---
    "address-out-of-range/check-value": Says(
        what="the check value's address lies outside the image",
        why="{at:0{digits}X} is not in {image}",
        next="give an address within the image",
    ),
    "address-out-of-range/range-to-check": Says(
        what="the range to check does not lie within the image",
        why="{first:0{digits}X} to {last:0{digits}X} is not in {image}",
        next="give the first and the last address, such as 0000-1FFF",
    ),
    # --- unknown-name ---
    "unknown-name/figure": Says(
        what="there is no figure called {name!r}",
        why="the names are {known:list}",
        next="give one of these",
    ),
    # --- empty ---
    "empty/nothing-to-check": Says(
        what="there is nothing to check",
        why="the image holds no bytes",
        next="give a file that holds some",
    ),
    # --- too-large ---
    "too-large/for-a-rom": Says(
        what="the image is too large to be a ROM's",
        why="it holds {size:size}, and no more than {limit:size} are searched",
        next="cut out the part that one chip held, and check that",
    ),
    # --- same-file ---
    "same-file": Says(
        why="{one} and {seen} are one and the same file",
        next="read again into another file; a file always agrees with itself",
    ),
    # --- doubtful-bytes ---
    "doubtful-bytes/inspected": Says(
        why="the file speaks against {bytes:size} of it ({doubts:plural doubt}): {first_doubt}",
        next="fetch it from the reader again: what the bytes show rests on some that may be wrong",
    ),
    "doubtful-bytes/checked": Says(
        why="{doubts:plural doubt} about the bytes that were checked, the first: {first_doubt}",
        next="settle the doubtful bytes against another read before a check is relied on",
    ),
    # --- header-sum-wrong ---
    "header-sum-wrong": Says(
        why=(
            "the header 55 AA asks for an 8-bit sum of 00 over {span}, and the bytes give {sum8}; a last byte of "
            "{balance} would balance it"
        ),
        next="read the chip again and compare: do not change the last byte to make the sum fit",
    ),
    "header-sum-wrong/expansion": Says(
        why=(
            "the expansion header $PnP at {start:0{digits}X} asks for an 8-bit sum of 00 over {length_bytes:size}, and "
            "the bytes give {sum8}"
        ),
        next="read the chip again and compare",
    ),
    "header-sum-wrong/cut-expansion": Says(
        why=(
            "the expansion header $PnP at {start:0{digits}X} asks for an 8-bit sum of 00 over {length_bytes:size}, and "
            "it does not fit into the ROM"
        ),
        next="read the chip again and compare",
    ),
    # --- header-beyond-image ---
    "header-beyond-image": Says(
        why="the header 55 AA states {length_bytes:size}, and the image holds {size_bytes:size}",
        next="read the chip again with the right size; where the ROM is spread over several chips, join them first",
    ),
}
