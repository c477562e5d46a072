"""Listings of bytes in hexadecimal, as machines print them."""

from imagekeeper.sentences.says import Says

LIST_AGAIN = (
    "have the machine print these addresses again and put the lines in their place; if the listing is all there "
    "is, keep it with its doubts: the doubtful addresses are recorded"
)

SAYS: dict[str, Says] = {
    # --- too-large-to-fill ---
    "too-large-to-fill/repeated": Says(
        what="repeated lines stand for an absurd number of bytes",
        why="line {line} stands for {size:size}; the limit is {limit:size} in all",
        next=LIST_AGAIN,
    ),
    # --- not-this-kind ---
    "not-this-kind/no-listing": Says(
        what="the text is no hexadecimal listing",
        why="no line of it consists of groups of hexadecimal digits, with or without an address before them",
        next="look at the file, and name the kind of container that it is",
    ),
    # --- record-form ---
    "record-form/no-address": Says(
        what="a line of the listing has no address",
        why="it reads {found} where an address is expected first",
        next=LIST_AGAIN,
    ),
    # --- record-digits ---
    "record-digits/group": Says(
        what="a line of the listing has a group that is none",
        why="{at}after {held:plural byte} comes {found} where {digits} hexadecimal digits are expected",
        next=LIST_AGAIN,
    ),
    "record-digits/no-group": Says(
        what="a line of the listing has a group that is none",
        why="{found} has no {digits} hexadecimal digits where the first are expected",
        next=LIST_AGAIN,
    ),
    # --- record-length ---
    "record-length/address-alone": Says(
        what="a line of the listing is cut short",
        why=(
            "line {bare} has the address {start:0{digits}X} and no bytes, and line {line} continues at "
            "{at:0{digits}X}: {missing} missing"
        ),
        next=LIST_AGAIN,
    ),
    "record-length/line-of-listing": Says(
        what="a line of the listing is cut short",
        why=(
            "line {short} has {held:plural byte} where {wanted} are expected, and line {line} continues at "
            "{at:0{digits}X}: {missing} missing"
        ),
        next=LIST_AGAIN,
    ),
    "record-length/short-line": Says(
        what="a line of the listing is cut short",
        why="line {line} has {held:plural byte} where {wanted} are expected, and another line follows",
        next=LIST_AGAIN,
    ),
    "record-length/beyond-end": Says(
        what="the listing holds more bytes than its end address says",
        why=(
            "line {line} ends the listing at {at:0{digits}X}, but the groups before it reach {reached:0{digits}X}: the "
            "last one is filled up"
        ),
        next=LIST_AGAIN,
    ),
    "record-length/too-long": Says(
        what="a line of the listing is too long",
        why="{at}it goes on with {found} after {held:plural byte}, as many as the other lines have",
        next=LIST_AGAIN,
    ),
    # --- conflict ---
    "conflict/in-listing": Says(
        what="an address is given twice with different values",
        why="line {line} gives {value:02X} at {at:0{digits}X} where line {earlier} gave {kept:02X}",
        next=(
            "look which of the two lines belongs there and remove the other; kept with its doubts, the listing gives "
            "the line that came first, and the addresses are recorded"
        ),
    ),
    # --- line-lost ---
    "line-lost": Says(
        what="lines of the listing are missing",
        why=(
            "line {line} continues at {at:0{digits}X} where {expected:0{digits}X} was expected: {missing:plural byte} "
            "missing, {span}"
        ),
        next=LIST_AGAIN,
    ),
    "line-lost/order": Says(
        what="lines of the listing are out of order",
        why="line {line} goes back to {at:0{digits}X} where {expected:0{digits}X} was expected",
        next=LIST_AGAIN,
    ),
    "line-lost/uneven": Says(
        what="repeated lines cannot be written out",
        why=(
            "line {line} stands for {span}, {missing:plural byte}, which the line before it, with {held:plural byte}, "
            "does not fill evenly"
        ),
        next=LIST_AGAIN,
    ),
    "line-lost/unending": Says(
        what="repeated lines cannot be written out",
        why="after {after:0{digits}X}, line {line} says that lines repeat, and no address says up to where",
        next=LIST_AGAIN,
    ),
    # --- line-repeated ---
    "line-repeated": Says(
        what="an address in the listing comes again",
        why="line {line} gives {span} again, with the same bytes as line {earlier}",
        next=(
            "look which of the two lines belongs there and remove the other; kept with its doubts, the listing gives "
            "the line that came first, and the addresses are recorded"
        ),
    ),
    # --- column-mismatch ---
    "column-mismatch": Says(
        what="the text column disagrees with the hexadecimal column",
        why="{at}byte {number} of the line is {byte:02X}, {letter!r}, its text column has {found!r}",
        next=LIST_AGAIN,
    ),
    "column-mismatch/length": Says(
        what="the text column disagrees with the hexadecimal column",
        why="{at}it has {characters} characters for {bytes} bytes",
        next=LIST_AGAIN,
    ),
    "column-mismatch/low-byte-first": Says(
        what="the text column disagrees with the hexadecimal column",
        why=(
            "{at}byte {number} of the line is {byte:02X}, {letter!r}, its text column has {found!r}; all agrees once "
            "each group is read low byte first: exchange the bytes afterwards"
        ),
        next=LIST_AGAIN,
    ),
    "column-mismatch/at": Says(why="at {address:0{digits}X} "),
}
