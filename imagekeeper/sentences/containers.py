"""Containers: wrappers and records that an image is read from or written to."""

from imagekeeper.sentences.says import Says

FETCH_AGAIN = (
    "fetch the file from the reader again; if it is all there is, keep it with its doubts: the doubtful addresses "
    "are recorded"
)

SAYS: dict[str, Says] = {
    # --- usage ---
    "usage/size-of-records": Says(
        what="records of {size} bytes cannot be written",
        why="the container allows 1 to {most}",
        next="give a size that it allows",
    ),
    "usage/no-zip-file": Says(
        what="there is no zip file to take a member from",
        why="a member was named, and the file is no zip file",
        next="name no member",
    ),
    # --- not-writable-kind ---
    "not-writable-kind": Says(
        what="{kind} cannot be written",
        why="the kinds that can are {kinds:list}",
        next="give one of these kinds to write",
    ),
    # --- gaps ---
    "gaps/raw-file": Says(
        what="the image has gaps, which a raw file cannot show",
        why="{gaps:plural gap}, the first of {length:size} at {at:04X}",
        next="fill them: with FF, or any other byte you give",
    ),
    # --- too-large-to-fill ---
    "too-large-to-fill/image": Says(
        what="filling the gaps would make an absurdly large image",
        why="from {first:08X} to {last:08X} are {span:size}, of which {given:size} are given",
        next="convert to a container that keeps gaps, such as intel-hex, or look for a wrong address record",
    ),
    # --- address-out-of-range ---
    "address-out-of-range/beyond-32-bits": Says(
        what="the image goes beyond 32-bit addresses",
        why="its last address is {last:X}",
        next="write it as raw",
    ),
    "address-out-of-range/container": Says(
        what="an address does not fit the container",
        why="the image reaches {highest:X}, the container only {last:X}",
        next="move the image to lower addresses, or choose another container",
    ),
    # --- unknown-name ---
    "unknown-name/container": Says(
        what="there is no container kind {kind!r}",
        why="the kinds are {kinds:list}",
        next="give one of these, or leave it out to have it found",
    ),
    # --- empty ---
    "empty/file": Says(
        what="the file is empty",
        why="it holds 0 bytes",
        next="read the chip or disk again; nothing can be said about nothing",
    ),
    "empty/wrapped": Says(
        what="the {wrapper} file holds an empty file",
        why="it holds 0 bytes",
        next="read the chip or disk again; nothing can be said about nothing",
    ),
    # --- too-large ---
    "too-large/text": Says(
        what="the file is too large to be text or a wrapper of an image",
        why="it holds {size:size}; the limit is {limit:size}",
        next="taken as raw, its bytes are the image, whatever the size",
    ),
    "too-large/unpacked": Says(
        what="the wrapper unpacks to too much",
        why="{size:size} hold more than {limit:size}",
        next="unpack it with another program and give the file that comes out: raw files may have any size",
    ),
    "too-large/unpacked-text": Says(
        what="the wrapper unpacks to too much text",
        why="{size:size} hold {asked:size} of text; the limit for a file of this size is {limit:size}",
        next="unpack it with another program, look at what comes out, and give that",
    ),
    "too-large/unpacked-to-write": Says(
        what="the wrapper unpacks to too much to be written as text",
        why="{size:size} hold an image of {asked:size}; the limit for a file of this size is {limit:size}",
        next="unpack it with another program and give the file that comes out, or write it as raw",
    ),
    "too-large/unpacked-to-show": Says(
        what="the wrapper unpacks to too much to be shown as text",
        why="{size:size} hold an image of which {asked:size} would be shown; the limit for a file of this size is "
        "{limit:size}",
        next="ask for a part, or unpack it with another program and give the file that comes out",
    ),
    # --- too-much-work ---
    "too-much-work/time": Says(
        what="the file takes too much time",
        why="after {seconds} seconds of work its {size:size} are not done; files of this size seldom need half of it",
        next="nothing was given out; if the file is what it should be and the machine is slow, allow more time",
    ),
    "too-much-work/division": Says(
        what="how the disk is divided takes too much searching",
        why="after {steps} steps there is no end: it is full of what could be directories",
        next="say what is known of the disk's division, such as its geometry and the size of its blocks",
    ),
    # --- wrapper-damaged ---
    "wrapper-damaged/gzip": Says(
        what="the gzip file is damaged or cut short",
        why="{trouble}",
        next=(
            "copy it again; kept with its doubts, the {unpacked:size} that could be unpacked are taken; if these "
            "really are the image's own bytes, they can be taken as they are, as raw"
        ),
    ),
    "wrapper-damaged/encrypted": Says(
        what="the zip member is encrypted",
        why="its header asks for a password",
        next="unpack it with another program and give the file that comes out",
    ),
    "wrapper-damaged/zip": Says(
        what="the zip file is damaged, cut short, or packed by an unknown method",
        why="{trouble}",
        next="copy it again; if these really are the image's own bytes, they can be taken as they are, as raw",
    ),
    "wrapper-damaged/after-end": Says(why="{size:plural byte} after the end are no further gzip member"),
    "wrapper-damaged/contradicts": Says(why="the compressed data contradict themselves ({says})"),
    "wrapper-damaged/ends-early": Says(why="the file ends after {size:size}, before its data do"),
    "wrapper-damaged/other-method": Says(
        what="the zip member is packed by a method that is not unpacked here",
        why="it is packed by {method}; only stored and deflated members can be unpacked within a limit",
        next="unpack it with another program and give the file that comes out",
    ),
    # --- wrapper-nesting ---
    "wrapper-nesting": Says(
        what="the file is wrapped too often",
        why="{wrappers:list in} and no end yet",
        next="unpack it with another program, or take its bytes as they are, as raw",
    ),
    # --- member-choice ---
    "member-choice/several": Says(
        what="the zip file holds several files",
        why="it holds {members}",
        next="name one of them",
    ),
    "member-choice/same-name": Says(
        what="several members have that name",
        why="{count} are called {member:line}",
        next="unpack the zip file with another program and give the file that you mean",
    ),
    # --- member-missing ---
    "member-missing/none": Says(
        what="the zip file holds no file",
        why="it has no members, or only folders",
        next="look whether it was made completely",
    ),
    "member-missing/no-such": Says(
        what="the zip file has no member {member:line}",
        why="it holds {members}",
        next="name one of these",
    ),
    # --- not-this-kind ---
    "not-this-kind/no-data": Says(
        what="the file holds no data",
        why="no line of it gives bytes as {container} does",
        next="look at the file, and name the kind of container that it is",
    ),
    "not-this-kind/or-another": Says(why="; or name another kind, or take the file's bytes as they are, as raw"),
    # --- record-form ---
    "record-form": Says(
        what="a line is not a record",
        why="it reads {found} where {expected} is expected",
        next=FETCH_AGAIN,
    ),
    "record-form/not-listed": Says(why="{doubts:plural more doubt} not listed"),
    "record-form/moves": Says(why="where these bytes belong hangs on a faulty line: {trouble}"),
    "record-form/missing": Says(why="bytes of a faulty line may be missing here: {trouble}"),
    "record-form/colon": Says(why="':' and a record"),
    "record-form/letter-s": Says(why="'S', a digit and a record"),
    "record-form/semicolon": Says(why="';' and a record"),
    "record-form/slash": Says(why="'/' and a record"),
    "record-form/percent": Says(why="'%' and a record"),
    "record-form/address": Says(why="an address behind '@'"),
    "record-form/address-first": Says(why="an address behind '@', before any bytes,"),
    # --- record-digits ---
    "record-digits/odd": Says(
        what="a record holds an odd number of digits",
        why="there are {digits} of them: one is missing",
        next=FETCH_AGAIN,
    ),
    "record-digits/no-digit": Says(
        what="a record holds a character that is no hexadecimal digit",
        why="character {column} of the line is {found}",
        next=FETCH_AGAIN,
    ),
    "record-digits/no-byte": Says(
        what="a byte is not written as two digits",
        why="{found} stands at character {column} of the line",
        next=FETCH_AGAIN,
    ),
    # --- record-length ---
    "record-length": Says(
        what="a record's count disagrees with its line",
        why="the count asks for {stated}, the line holds {held}{cut}",
        next=FETCH_AGAIN,
    ),
    "record-length/may-be-cut": Says(why=": it may be cut"),
    "record-length/cut-short": Says(
        what="a record is cut short",
        why="the line holds {held}, a record has {least} at least",
        next=FETCH_AGAIN,
    ),
    # --- record-sum ---
    "record-sum": Says(
        what="a record's check value is wrong",
        why="{place} {stated} but its bytes call for {computed}",
        next=FETCH_AGAIN,
    ),
    "record-sum/line-ends-in": Says(why="the line ends in"),
    "record-sum/stated-sum": Says(why="the stated sum is"),
    "record-sum/first-check": Says(why="the first check value is"),
    "record-sum/check-value": Says(why="the check value is"),
    # --- record-type ---
    "record-type/of-six": Says(
        what="a record's type is unknown or does not fit",
        why="type {type:02X} is found, types 00 to 05 exist",
        next=FETCH_AGAIN,
    ),
    "record-type/count": Says(
        what="a record's type is unknown or does not fit",
        why="a record of type {type:02X} has {wanted} bytes, this one {count}",
        next=FETCH_AGAIN,
    ),
    "record-type/reserved": Says(
        what="a record's type is unknown or does not fit",
        why="S{type} is reserved",
        next=FETCH_AGAIN,
    ),
    "record-type/address-only": Says(
        what="a record's type is unknown or does not fit",
        why="S{type} holds an address only, this one {held:plural byte}",
        next=FETCH_AGAIN,
    ),
    "record-type/address-size": Says(
        what="a record's type is unknown or does not fit",
        why="S{type} has an address of {address_bytes} bytes, its count is {count}",
        next=FETCH_AGAIN,
    ),
    "record-type/late-header": Says(
        what="a record's type is unknown or does not fit",
        why="S0 belongs before the data, this one comes after",
        next=FETCH_AGAIN,
    ),
    "record-type/single": Says(
        what="a record's type is unknown or does not fit",
        why="a single S{odd} stands between records S{around}",
        next=FETCH_AGAIN,
    ),
    "record-type/beside": Says(
        what="a record's type is unknown or does not fit",
        why="a single S{odd} stands beside records S{beside}, has their count, and does not continue their addresses",
        next=FETCH_AGAIN,
    ),
    "record-type/pairing": Says(
        what="a record's type is unknown or does not fit",
        why="S{data} pairs with S{pair}, but other data records and an end record S{end} are found",
        next=FETCH_AGAIN,
    ),
    "record-type/of-three": Says(
        what="a record's type is unknown or does not fit",
        why="type {type} is found, types 3, 6 and 8 exist",
        next=FETCH_AGAIN,
    ),
    # --- record-parity ---
    "record-parity": Says(
        what="characters of a line were damaged on the way",
        why="{broken:plural character} of the line break the {parity} parity that the others carry",
        next=FETCH_AGAIN,
    ),
    # --- parity-stripped ---
    "parity-stripped": Says(
        why="the text carries {kind} parity in bit 7, and none of its {characters:plural character} break it",
        next="bit 7 was taken away; set the port to seven data bits and this parity when you fetch more",
    ),
    "parity-stripped/broken": Says(
        why="the text carries {kind} parity in bit 7, and {broken} of its {characters:plural character} break it",
        next="fetch it again: the line that it came by damages characters, and what their records give is doubtful",
    ),
    "parity-stripped/why": Says(
        why="with bit 7 taken away: {characters:plural character} carry {kind} parity, of which {broken} break it",
    ),
    # --- addresses-repeated ---
    "addresses-repeated": Says(
        why=(
            "{again:plural byte} came for addresses that had one already, from {first:04X} on; {differing} of them "
            "were another value, and the {choice} was taken, as chosen"
        ),
        next="compare with the image that the other choice gives, and settle which is right",
    ),
    # --- record-count ---
    "record-count": Says(
        what="the stated count of records is not met",
        why="the file states {stated:plural data record}, {found} came before",
        next=FETCH_AGAIN,
    ),
    # --- no-end ---
    "no-end": Says(
        what="the end record is missing",
        why="the file stops after line {line} without {wanted}",
        next=FETCH_AGAIN,
    ),
    "no-end/broken-off": Says(
        what="the transmission was broken off",
        why="the sender broke off with the words {words}",
        next=FETCH_AGAIN,
    ),
    "no-end/mark": Says(
        what="the end mark is missing",
        why="the file stops after line {line} without {wanted}",
        next=FETCH_AGAIN,
    ),
    # --- after-end ---
    "after-end": Says(
        what="there is more after the end record",
        why="the end record came before this line",
        next=FETCH_AGAIN,
    ),
    # --- overlap ---
    "overlap": Says(
        what="an address is given twice",
        why="line {line} gives {span} again, with the same values as line {earlier}",
        next=(
            "each address should come once: look whether two files were joined; kept with its doubts, the file gives "
            "the value that came first, and the addresses are recorded"
        ),
    ),
    # --- conflict ---
    "conflict": Says(
        what="an address is given twice with different values",
        why=(
            "line {line} gives {value:02X} at {at:0{digits}X} where line {earlier} gave {kept:02X}; {differing:plural "
            "address/addresses} in {span} differ"
        ),
        next=(
            "each address should come once: look whether two files were joined; kept with its doubts, the file gives "
            "the value that came first, and the addresses are recorded"
        ),
    ),
    # --- address-limit ---
    "address-limit": Says(
        what="an address lies beyond 4 GiB",
        why="the line asks for {length:plural byte} at {at:X}, past FFFFFFFF",
        next=(
            "check the address records before this line; kept with its doubts, the file is imported without these bytes"
        ),
    ),
    "address-limit/start": Says(
        what="the start address lies beyond 4 GiB",
        why="it is {at:X}",
        next=FETCH_AGAIN,
    ),
    "address-limit/digits": Says(
        what="an address lies beyond 4 GiB",
        why="the address has {digits:plural digit}, at most 8 are possible",
        next=FETCH_AGAIN,
    ),
}
