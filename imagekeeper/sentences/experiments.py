"""What another read is taken for: the experiment, what may be seen, and what that would mean."""

from imagekeeper.sentences.says import Says

SAYS: dict[str, Says] = {
    # --- experiment ---
    "experiment/again": Says(why="read once more, with nothing changed"),
    "experiment/slower": Says(why="read once more, with a longer access time on the reader"),
    "experiment/cleaned": Says(why="clean the pins and the socket, reseat the chip, and read once more"),
    "experiment/lower-volts": Says(why="read once more at 4.75 V, or the lowest supply that the data sheet allows"),
    "experiment/size": Says(
        why="set the reader to the type printed on the chip, with its true size, and read once more"
    ),
    "experiment/transfer": Says(
        why="transfer once more as plain bytes, with handshake by lines and not by characters, or more slowly"
    ),
    "experiment/other-reader": Says(why="read once more on another reader, or through another adapter"),
    "experiment/specimen": Says(why="read another chip with the same label"),
    "experiment/means": Says(why="{seen}: {causes:list or}"),
    "experiment/means-none": Says(why="{seen}: something else than was thought of"),
    "experiment/gone-seen": Says(why="if it agrees with the better read"),
    "experiment/fewer-seen": Says(why="if fewer bits differ"),
    "experiment/more-seen": Says(why="if more bits differ"),
    "experiment/same-seen": Says(why="if the same differences come again"),
    "experiment/elsewhere-seen": Says(why="if others differ, in other places"),
    # --- cause ---
    "cause/data-line-stuck": Says(why="a data line is stuck"),
    "cause/data-line-unstable": Says(why="a data line has a bad contact"),
    "cause/data-lines-exchanged": Says(why="data lines are exchanged"),
    "cause/data-lines-shorted": Says(why="two data lines are shorted"),
    "cause/address-line-stuck": Says(why="an address line is stuck"),
    "cause/address-line-unstable": Says(why="an address line has a bad contact"),
    "cause/address-lines-exchanged": Says(why="address lines are exchanged"),
    "cause/address-lines-shorted": Says(why="two address lines are shorted"),
    "cause/mirrored": Says(why="the size set is larger than the chip"),
    "cause/shifted": Says(why="bytes were lost on the way"),
    "cause/truncated": Says(why="the read was cut short"),
    "cause/charge-loss": Says(why="cells lost charge"),
    "cause/weak-cells": Says(why="cells are near the threshold"),
    "cause/random-noise": Says(why="noise"),
    "cause/inverted": Says(why="an inverting buffer"),
    "cause/bytes-exchanged": Says(why="the byte order is set otherwise"),
    "cause/bits-reversed": Says(why="the data lines are wired backwards"),
    "cause/lane-of": Says(why="one chip of a set was read"),
    "cause/content-differs": Says(why="these are different contents"),
    "cause/blank": Says(why="the chip is erased or silent"),
    "cause/not-selected": Says(why="the chip was not selected"),
    "cause/ends-in-fill": Says(why="the chip is smaller than was set"),
    "cause/not-selected-at-times": Says(why="the chip was not selected now and then"),
    "cause/slow-outputs": Says(why="the outputs are slower than the reader"),
    "cause/previous-byte-repeated": Says(why="the reader looks too early"),
    "cause/contention": Says(why="something else drives the bus"),
    "cause/half-missing": Says(why="one half was not read"),
    "cause/block-missing": Says(why="a part was not read"),
    "cause/contact-lost": Says(why="a contact was lost for a while"),
    "cause/line-endings-changed": Says(why="line ends were changed on the way"),
    "cause/parity-in-bit-7": Says(why="the line carries seven bits and a parity"),
    "cause/floating-bus": Says(why="no chip drove the bus"),
    "cause/flow-control-lost": Says(why="the transfer kept DC1 and DC3 for itself"),
}
