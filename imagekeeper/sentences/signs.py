"""What one image shows of the chip that it was read from."""

from imagekeeper.sentences.says import Says

SAYS: dict[str, Says] = {
    # --- data-line-stuck ---
    "data-line-stuck": Says(
        why="{line} reads {value} at all {size} addresses; {because}",
        next=(
            "look for an open, shorted or dirty contact at {pins:list}, reseat the chip and read again; read another "
            "chip in the same reader to see whether it shows there too"
        ),
    ),
    "data-line-stuck/four-bits": Says(
        why="D4 to D7 read {value} at all {size} addresses: four bits a word, as a four-bit PROM has",
        next="nothing to do where the chip is four bits wide; name the chip to have its lines judged",
    ),
    "data-line-stuck/fill": Says(why="the fill is {fill:02X}, which is {whole} but for this line"),
    "data-line-stuck/few-bytes": Says(
        why="there are only {variety} different bytes, too few to tell a fault from the content",
    ),
    "data-line-stuck/text": Says(why="the content is text, which leaves it at 0"),
    "data-line-stuck/no-text": Says(
        why="there are {variety} different bytes, most of them characters of text, and no text does that",
    ),
    "data-line-stuck/figures": Says(why="the text has only {variety} different characters, as lists of figures have"),
    "data-line-stuck/text-at-0": Says(
        why="the content would be text with it at 0; some machines keep text in this way",
    ),
    "data-line-stuck/dots": Says(
        why="there are {variety} different bytes; only a pattern of dots with an empty column does that",
    ),
    "data-line-stuck/between": Says(why="there are {variety} different bytes, and lines on both sides of it change"),
    "data-line-stuck/between-few": Says(
        why="lines on both sides of it change, but there are {variety} different bytes only",
    ),
    "data-line-stuck/border": Says(
        why="the content looks like patterns of dots or records that leave a border line free",
    ),
    "data-line-stuck/jumps": Says(why="the content is a curve that jumps by 128 in {places} places"),
    "data-line-stuck/steps-of-2": Says(why="the content is a curve of {variety} steps, and all of them are of 2"),
    "data-line-stuck/neighbours": Says(why="the content is a table of neighbouring values, which may need fewer lines"),
    "data-line-stuck/much-text": Says(why="much of the content is text, which leaves it at 0"),
    "data-line-stuck/code": Says(
        why="there are {variety} different bytes in no order, as machine code has, and machine code uses every line",
    ),
    "data-line-stuck/table-or-code": Says(
        why="there are {variety} different bytes; a table of small numbers may leave it free, machine code does not",
    ),
    "data-line-stuck/table": Says(
        why="there are {variety} different bytes; a table of small numbers may leave it free",
    ),
    "data-line-stuck/reads-so": Says(why="{line} reads {value}"),
    "data-line-stuck/harmless": Says(
        why="{read:list} at all {size} addresses; {because}",
        next="where other chips of the set use {pins:list or}, reseat this one, clean the pin and read again",
    ),
    # --- data-lines-shorted ---
    "data-lines-shorted": Says(
        why="{line_pair:list and} are equal at all {size} addresses and take both values; {because}",
        next="look for a solder bridge or bent pin between {pins:list and}, then read again",
    ),
    "data-lines-shorted/small-letters": Says(why="the content is small letters only, which leave them so"),
    "data-lines-shorted/signed": Says(
        why="there are {variety} different bytes; small numbers with a sign leave the upper lines equal",
    ),
    "data-lines-shorted/listing": Says(
        why="the text has only {variety} different characters, as hexadecimal listings have",
    ),
    "data-lines-shorted/dots": Says(
        why="there are {variety} different bytes; only a pattern of dots or a record does that",
    ),
    "data-lines-shorted/irregular": Says(
        why="there are {variety} different bytes, and nothing else about them is so regular",
    ),
    "data-lines-shorted/few-bytes": Says(why="there are {variety} different bytes only"),
    "data-lines-shorted/halves": Says(
        why=(
            "both halves of every byte are equal: data of four bits, each held twice, as widened dots or a doubled "
            "four-bit PROM have"
        ),
        next="nothing to do where the chip holds such data; otherwise compare with another read",
    ),
    "data-lines-shorted/doubled": Says(
        why=(
            "bits come in equal pairs: data of four bits, each held twice, as widened dots or a doubled four-bit PROM "
            "have"
        ),
        next="nothing to do where the chip holds such data; otherwise compare with another read",
    ),
    # --- address-line-stuck ---
    "address-line-stuck/image": Says(
        why=(
            "the bytes are the same where {line} is 0 and where it is 1: {informative:plural byte} other than fill, "
            "each found again {distance_bytes:size} on"
        ),
        next=(
            "look for an open, shorted or bent {pins:list}, then read again; half of the content is missing from this "
            "read"
        ),
    ),
    # --- address-lines-shorted ---
    "address-lines-shorted": Says(
        why=(
            "where one of {line_pair:list and} is 1 and the other 0, the bytes are those of where both are {seen}, "
            "whichever of the two it is: {informative:plural byte} other than fill; {kind}"
        ),
        next=(
            "look for a solder bridge or bent pin between {pins:list and}, then read again; half of the content is "
            "missing from this read"
        ),
    ),
    "address-lines-shorted/and": Says(why="so both lines carry the AND of the two"),
    "address-lines-shorted/or": Says(why="so both lines carry the OR of the two"),
    # --- lines and lanes, told from one image ---
    "data-lines-exchanged/image": Says(
        why=(
            "put in order, the bytes make sense, and as they stand they do not: {rows:list}{upside}; {signs:list}"
            "{doubt}"
        ),
        next=(
            "hold the adapter's wiring against the data sheet at {pins:list}, and read again; where the machine's own "
            "board crosses these lines, the image is right as it is: note that with the carrier"
        ),
    ),
    "bits-reversed/image": Says(
        why=(
            "put in order, the bytes make sense, and as they stand they do not: D0 comes out on D7, and so on "
            "backwards{upside}; {signs:list}{doubt}"
        ),
        next=(
            "hold the adapter's wiring against the data sheet at {pins:list}, and read again; where the machine's own "
            "board crosses these lines, the image is right as it is: note that with the carrier"
        ),
    ),
    "inverted/image": Says(
        why="with every bit the other way, the bytes make sense, and as they stand they do not: {signs:list}{doubt}",
        next=(
            "look for an inverting buffer in the reader or adapter, and read again; where the machine's own board has "
            "one behind this chip, the image is right as it is: note that with the carrier"
        ),
    ),
    "address-lines-exchanged/image": Says(
        why="put in order, the bytes make sense, and as they stand they do not: {rows:list}; {signs:list}{doubt}{part}",
        next=(
            "hold the adapter's wiring against the data sheet at {pins:list}, and read again; where the machine's own "
            "board crosses these lines, the image is right as it is: note that with the carrier"
        ),
    ),
    "bytes-exchanged/image": Says(
        why="with {what} exchanged, the bytes make sense, and as they stand they do not: {signs:list}{doubt}",
        next=(
            "find out which order of bytes the machine uses, and how this file was made: of a chip of 16 bits, or of "
            "two chips; note it with the carrier, or reorder the file"
        ),
    ),
    "lane-of/joined": Says(
        why=(
            "the image is {lanes} lanes one after the other: with their bytes taken by turns it makes sense; "
            "{signs:list}{doubt}"
        ),
        next=(
            "find out how this file was made: where it holds the chips of a set one after the other, split it into "
            "them and keep each as it was read"
        ),
    ),
    "data-lines-exchanged/line": Says(why="{line} comes out on {on}"),
    "data-lines-exchanged/inverted": Says(why=", and every bit is the other way"),
    "data-lines-exchanged/words": Says(why="{count} words appear, such as {words:list}, where there were {before}"),
    "data-lines-exchanged/calls": Says(
        why="{hits} of {targets} addresses that calls of a {processor} lead to follow the end of a subroutine",
    ),
    "data-lines-exchanged/bytes": Says(
        why="the bytes are as frequent as in programs and texts ({likelier:.2f} bits each likelier than as they stand)",
    ),
    "data-lines-exchanged/others": Says(
        why="; at least {count:plural other order} will do as well, so that this one is not certain",
    ),
    "address-lines-exchanged/part": Says(why="; the order found may not be the whole of it"),
    # --- mirrored ---
    "mirrored": Says(
        why="the image is its first {size_bytes:size} {times} times over, so {named} changed nothing",
        next=(
            "the chip or its content is {size_bytes:size}: set that size and read again; where the marking says it is "
            "larger, look for a bad contact at {named}"
        ),
    ),
    "mirrored/pattern": Says(
        why="{size_bytes:plural byte} over and over fill all {whole:size}: a pattern, not the content of a chip",
        next="check that the chip is seated, powered and selected, and read again",
    ),
    "mirrored/smaller-chip": Says(
        why="the image is its first {size_bytes:size} {times} times over, so {named} changed nothing",
        next="a {chip} holds {size_bytes:size}: set that size and read again, or keep the first copy",
    ),
    "mirrored/contact": Says(
        why="the image is its first {size_bytes:size} {times} times over, so {named} changed nothing",
        next=(
            "either the program fills half of a {chip} or less and was written {times} times over, or {suspect}{above} "
            "had no contact: clean the pin, and read again"
        ),
    ),
    "mirrored/contacts": Says(
        why="the image is its first {size_bytes:size} {times} times over, so {named} changed nothing",
        next="clean the address pins and read again",
    ),
    "mirrored/lines": Says(why="{first} to {last}"),
    "mirrored/upper-lines": Says(why="the upper address lines"),
    "mirrored/lines-above": Says(why=" and the lines above it"),
    # --- truncated ---
    "truncated": Says(
        why=(
            "the content stops at {at:0{digits}X}, just where {line} turns from 0 to 1, and {fill} fills the rest "
            "({span}, {length:size})"
        ),
        next=(
            "the program may be of that size; or the rest was not read: check the device size, and {pins:list} where "
            "the chip selects its upper part by it"
        ),
    ),
    # --- lane-of ---
    "lane-of": Says(
        why="this may be every second byte of a 16-bit pair: {reasons}",
        next=(
            "look for the other chip of the pair beside this one, and join the two before looking for texts, sums and "
            "programs"
        ),
    ),
    "lane-of/letters": Says(
        why=(
            "the letters in its texts are those of a language, but only {share:.0%} of their {pairs} pairs are common "
            "ones ({usual:.0%} or more would be)"
        ),
    ),
    "lane-of/low-bytes": Says(
        why=(
            "of the first {pairs} pairs of bytes {same} begin with {common:02X}, and the others could be the low bytes "
            "of a 68000's vectors (one value {times} times)"
        ),
    ),
    "lane-of/middle-bytes": Says(
        why=(
            "of the first {pairs} pairs of bytes {same} begin with {common:02X}, and the others could be the middle "
            "bytes of a 68000's vectors (one value {times} times)"
        ),
    ),
    # --- blank ---
    "blank": Says(
        why="every one of {size} bytes is {value}: an erased EPROM, or a bus that nothing drives",
        next=(
            "check that the chip is seated the right way round, powered and selected, and that the right type is set, "
            "and read again; with a resistor that pulls a data line down, an erased chip still gives FF and an absent "
            "one does not"
        ),
    ),
    "blank/disk": Says(
        why="every one of {size} bytes is {value}: a disk that was never written to, or a reader that got nothing",
        next=(
            "look for a list of bad sectors that the reader gave; read again with another reader program or drive, and "
            "listen whether the heads move"
        ),
    ),
    "blank/as-chip": Says(
        why="every one of {size} bytes is {value}, which is what a blank {chip} gives",
        next=(
            "the chip is erased, or did not answer: check that the chip is seated the right way round, powered and "
            "selected, and that the right type is set, and read again; a second read at another supply voltage shows "
            "whether it has faded{latched}"
        ),
    ),
    # --- not-selected ---
    "not-selected": Says(
        why="every one of {size} bytes is {value}: no program is so{blank}",
        next=(
            "check that the chip is seated the right way round, powered and selected, and that the right type is set, "
            "and read again{perhaps}{stuck}{latched}"
        ),
    ),
    "not-selected/blank": Says(why=", and a blank {chip} would give {value}"),
    "not-selected/latched-always": Says(
        why=(
            "; a {chip} takes its address in as /CE falls and keeps it: where /CE is held low all the while, it gives "
            "{value} from its first address at every other; read it with /CE raised before each address, and the bytes "
            "will differ"
        ),
    ),
    "not-selected/latched-some": Says(
        why=(
            "; some makers' {chip} take the address in as /CE falls and keep it: where /CE is held low all the while, "
            "they give {value} from the first address at every other; read it with /CE raised before each address, and "
            "see whether the bytes then differ"
        ),
    ),
    "not-selected/some-proms": Says(why="; some PROMs give 00 when they are blank: say which chip it is"),
    "not-selected/selects": Says(
        why="; the select inputs of a {chip} may be active high or low as its maker was told: try the others",
    ),
    "not-selected/stuck": Says(why="; a blank chip would look so if {pin} were stuck at 0"),
    # --- floating-bus ---
    "floating-bus": Says(
        why="{follows} of {of_bytes} bytes are the {what}: a bus that no chip drives keeps what was last on it",
        next=(
            "check that the chip is seated the right way round, powered and selected, and that the right type is set, "
            "and read again"
        ),
    ),
    "floating-bus/low": Says(why="low byte of its address"),
    "floating-bus/low-complement": Says(why="complement of the low byte of its address"),
    "floating-bus/high": Says(why="high byte of its address"),
    "floating-bus/high-complement": Says(why="complement of the high byte of its address"),
    "floating-bus/or-table": Says(
        why="{follows} of {of_bytes} bytes are the {what}: a bus that no chip drives keeps what was last on it",
        next=(
            "check that the chip is seated the right way round, powered and selected, and that the right type is set, "
            "and read again; a table for translation may look the same"
        ),
    ),
    # --- ends-in-fill ---
    "ends-in-fill": Says(
        why=(
            "from {at:0{digits}X} on all bytes are {fill} ({span}, {length:size}): the content is smaller than the "
            "image{smaller}"
        ),
        next="nothing to do where the program ends there; where it should be larger, read again with the right size",
    ),
    "ends-in-fill/smaller-chip": Says(why="; a chip of {size:size} would hold it"),
    # --- chip-size-differs ---
    "chip-size-differs": Says(
        why="the image holds {size_bytes:size}, and a {chip} {chip_bytes:size}",
        next="look at the marking again, set the right type on the reader, and read again",
    ),
    # --- not-diagnosed ---
    "not-diagnosed/too-large": Says(
        why="the image holds {size:size}, and {limit:size} are the most",
        next="inspect its parts one by one",
    ),
    "not-diagnosed/empty": Says(why="the image holds {size:size}", next="read the chip again"),
}
