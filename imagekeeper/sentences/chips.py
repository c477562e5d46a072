"""Chips: markings, sockets, and what a chip can hold."""

from imagekeeper.sentences.says import Says

SAYS: dict[str, Says] = {
    # --- usage ---
    "usage/offset-without-fill": Says(
        what="a place in the chip needs a byte to fill the rest",
        why="what is left of the chip must be filled with something",
        next="fill with {fill}",
    ),
    "usage/lamp": Says(
        what="the lamp cannot be as it is said to be",
        why="{trouble}",
        next="see the plate of the lamp",
    ),
    "usage/pin-at-level": Says(
        what="a board cannot hold this pin at a level",
        why="pin {pin} of the {chip} {trouble}",
        next="name only pins that are unconnected, held at a level anyway, or selects",
    ),
    "usage/nothing-writes": Says(
        what="no board can write to a {chip} in its socket",
        why="it has no pin for that",
        next="say whether the board writes only of chips that it could write to",
    ),
    "usage/ram-not-written": Says(
        what="a board that never writes to a {chip} has no use for it",
        why="it is a RAM, and holds nothing that nobody wrote",
        next="leave away that it is not written, or name the chip that the socket was really made for",
    ),
    # --- does-not-fit ---
    "does-not-fit/at-offset": Says(
        what="the image does not fit the chip at that offset",
        why="it would end at {end:X}, and the chip ends at {size:X}",
        next="place it lower",
    ),
    "does-not-fit/in-such-a-chip": Says(
        what="the file does not hold what is in such a chip",
        why="it has {size:size}, and a {chip} holds {chip_size:size}",
        next="read the whole chip again, as this type",
    ),
    "does-not-fit/not-of-socket": Says(
        what="the image is not that of a {socket}",
        why="it has {size:size}, and a {socket} holds {socket_size:size}",
        next="give the whole image of the original chip, or name no socket and say where in the chip it belongs",
    ),
    "does-not-fit/one-of-two": Says(
        what="two {chip} share the socket of a {socket}, and this is the image of both",
        why="one holds the even bytes, the other the odd ones: {size:size} each",
        next="plan each chip with its own share of the bus",
    ),
    "does-not-fit/not-read-back": Says(
        what="the machine would not read this image from a {chip} in the socket of a {socket}",
        why="on the simulated bus another byte came back, first for word {at:04X}",
        next="let the pins of the socket place the image, and give no place of your own",
    ),
    "does-not-fit/mask-rom": Says(
        what="a {chip} cannot be written",
        why="a mask ROM gets its contents when it is made",
        next="look which chips can stand in for the {chip}",
    ),
    "does-not-fit/blank-unknown": Says(
        what="which state of a {chip} is blank is not known",
        why="fuse PROMs begin at 00 or at FF, by maker and family, and no data sheet of this family was seen",
        next="look it up in the data sheet of the chip's own maker, and hold what was read against that",
    ),
    "does-not-fit/forgets": Says(
        what="a {chip} cannot be programmed and then moved to its socket",
        why="it is a RAM without a battery of its own: without its supply it holds nothing",
        next="look which chips fit the socket of a {chip}, and plan one that keeps its contents{instead}",
    ),
    "does-not-fit/forgets-instead": Says(
        why=": {parts:list}; compare all pins with the data sheets, and see whether the machine writes there",
    ),
    "does-not-fit/larger-than-chip": Says(
        what="the image is larger than a {chip}",
        why="it has {size:size}, and the chip holds {chip_size:size}",
        next="take a larger chip, or a part of the image, or one chip's share of a bus",
    ),
    "does-not-fit/smaller-than-chip": Says(
        what="the image is smaller than a {chip}, and nobody said how to place it",
        why="it has {size:size}, and the chip holds {chip_size:size}",
        next=(
            "repeat it to {chip_size} bytes: copies suit unused address lines at any level; or pad it to {chip_size} "
            "bytes with {fill}, which leaves the rest blank; or say where it begins"
        ),
    ),
    "does-not-fit/four-bits": Says(
        what="a {chip} holds four bits a word",
        why="the upper half of some bytes is neither 0 nor F",
        next="give the file of this chip alone, with the unused half 0 in every byte",
    ),
    "does-not-fit/socket": Says(
        what="a {part} does not serve in the socket of a {socket}",
        why="{trouble}",
        next="look which chips serve in the socket of a {socket}",
    ),
    "does-not-fit/stand-in": Says(
        what="a {other} cannot stand in for a {original}",
        why="{trouble}",
        next="look what can stand in for the {original}",
    ),
    "does-not-fit/no-repetition": Says(
        what="the image does not fit the chip",
        why="the chip holds {held} words of the original's {words}, and the rest is no repetition of them",
        next="take a chip that holds all of it",
    ),
    "usage/pin-beyond": Says(
        what="the chip has no such pin",
        why="pin {pin} was measured, and it has {pins} pins",
        next="count again, from pin 1 at the notch, against the clock, seen from above",
    ),
    # --- chip-unknown ---
    "chip-unknown": Says(
        what="there is no such chip in the table",
        why="{marking} is not one of its part numbers",
        next="look through the list of all chips",
    ),
    "chip-unknown/several": Says(
        what="the marking may mean several chips",
        why="{marking} can be any of: {parts:list}; their pinouts or voltages differ",
        next="compare the board with what is known of the {first}, and name one of them",
    ),
    "chip-unknown/near-others": Says(
        what="there is no such chip in the table",
        why="{marking} is not one of its part numbers",
        next="near it are: {near:list}; or look through the list of all chips",
    ),
    "chip-unknown/electrically-erased": Says(
        what="there is no such chip in the table",
        why=(
            "{marking}: this maker's chips with a W are erased electrically, with 14 V, and are none of the EPROMs of "
            "like number; this one is not in the table"
        ),
        next="its own data sheet decides; never erase it under a lamp, nor take another type's setting for it",
    ),
    "chip-unknown/stranger": Says(
        what="there is no such chip in the table",
        why="{marking} is {because} (from memory)",
        next="its own data sheet decides; set no reader to another type for it: what is read so is not what it holds",
    ),
    # --- maker-unknown ---
    "maker-unknown": Says(
        what="that maker's sheet of a {chip} is not in the table",
        why="{maker}: {known}",
        next=(
            "find that maker's data sheet, which decides, and write a row of your own from it; or leave the maker "
            "away: {without} then"
        ),
    ),
    "maker-unknown/twin": Says(
        what="{maker}'s chip of this kind is another one",
        why="the {twin} has the pins of a {chip}, but is erased electrically, and takes other voltages",
        next="name the {twin}",
    ),
    "maker-unknown/known": Says(why="known are: {makers:list}"),
    "maker-unknown/not-apart": Says(why="the table does not tell the makers of this chip apart"),
    "maker-unknown/no-voltage": Says(why="no programming voltage is given"),
    "maker-unknown/generic": Says(why="the figures are those of the generic type"),
    # --- doubtful ---
    "doubtful": Says(
        what="the image is doubtful, which must be decided first: nothing was written",
        why="{doubts:plural doubt} over {size:size}, the first about {places:list}: {first}",
        next=(
            "fetch the file from the reader again, or read the chip or disk again; compare, and settle the image; then "
            "plan with that"
        ),
    ),
    "doubtful/whole": Says(why="the file as a whole"),
    # --- must-erase ---
    "must-erase": Says(
        what="this {chip} cannot be programmed as it is",
        why="{bits} bits would have to go back to the blank state{first}",
        next="erase it, read it again, and see that it is blank; or plan for an erased chip",
    ),
    "must-erase/never": Says(
        what="this {chip} cannot be programmed as it is",
        why="{bits} bits would have to go back to the blank state{first}",
        next="a written bit can never be taken back: take a new chip",
    ),
    "must-erase/first": Says(why=", the first at {at:04X}"),
}
