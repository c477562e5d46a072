"""Why reads differ, or seem to."""

from imagekeeper.sentences.says import Says

SAYS: dict[str, Says] = {
    # --- data-line-stuck ---
    "data-line-stuck/reads": Says(
        why=(
            "{line} reads {value} {at} {size} addresses of {read}, where {other} has both values ({changed:plural "
            "address/addresses} changed)"
        ),
        next=(
            "look for an open, shorted or dirty contact at {pins:list}, reseat the chip and read again; a line stuck "
            "in the reader shows in every chip"
        ),
    ),
    "data-line-stuck/at-all": Says(why="at all"),
    "data-line-stuck/but": Says(why="at all but {exceptions} of the"),
    # --- data-line-unstable ---
    "data-line-unstable": Says(
        why=(
            "{taken} of {of_bits:plural differing bit} are on {line}, {way}, at {taken} of the {eligible:plural "
            "address/addresses} where it could be"
        ),
        next="clean {pins:list} and its socket contact, reseat the chip, and read again more slowly",
    ),
    # --- data-lines-exchanged ---
    "data-lines-exchanged": Says(
        why="{read} is {other} with data lines exchanged: {rows:list}{doubt}",
        next=(
            "compare the adapter's or the board's wiring with the data sheet, line by line, and correct the read that "
            "went through the wrong one"
        ),
    ),
    "data-lines-exchanged/carries": Says(why="{line} carries {carried}"),
    "data-lines-exchanged/alike": Says(why="; these carry the same data and cannot be told apart: {groups}"),
    # --- data-lines-shorted ---
    "data-lines-shorted/reads": Says(
        why="{lines:list and} are equal at all{but} addresses of {read}, each the {kind} of what they are in {other}",
        next="look for a solder bridge or bent pin between {pins:list and}, then read again",
    ),
    "data-lines-shorted/but": Says(why=" but {count}"),
    # --- address-line-stuck ---
    "address-line-stuck/reads": Says(
        why=(
            "{read} holds the same bytes where {line} is 0 and where it is 1: those that {other} has where it is "
            "{value} ({changed:plural address/addresses} changed)"
        ),
        next="look for an open, shorted or bent {pins:list}, check that the right device size is set, and read again",
    ),
    # --- address-line-unstable ---
    "address-line-unstable": Says(
        why=(
            "at {addresses} of {of_addresses:plural differing address/differing addresses} the byte is the one that "
            "belongs where {line} is the other way ({way})"
        ),
        next="clean {pins:list} and its socket contact, read more slowly, and read again",
    ),
    "address-line-unstable/both": Says(
        why=(
            "at {addresses} of {of_addresses:plural differing address/differing addresses} each read holds one of the "
            "two bytes that stand where {line} is 0 and where it is 1: the line is loose in both reads"
        ),
        next="clean {pins:list} and its socket contact, read more slowly, and trust neither of these reads",
    ),
    # --- address-lines-shorted ---
    "address-lines-shorted/reads": Says(
        why=(
            "{read} holds, where {lines:list and} differ, the bytes that {other} has where both are their {kind} "
            "({changed:plural address/addresses} changed)"
        ),
        next="look for a solder bridge or bent pin between {pins:list and}, then read again",
    ),
    # --- address-lines-exchanged ---
    "address-lines-exchanged": Says(
        why="{read} is {other} with address lines exchanged: {rows:list}{doubt}",
        next=(
            "compare the adapter's or the board's wiring with the data sheet, line by line, and correct the read that "
            "went through the wrong one"
        ),
    ),
    "address-lines-exchanged/several": Says(
        why="; the content fits {count} arrangements of address lines, of which this moves fewest",
    ),
    # --- mirrored ---
    "mirrored/reads": Says(
        why="{read} is {other} {times} times over",
        next="the chip holds {size_bytes:size}: set that size and read again, or keep the shorter read",
    ),
    "mirrored/beside": Says(
        why="{read} holds the same {size_bytes:size} {times} times over; {other} has as much once",
        next="the chip holds {size_bytes:size}: set that size and read again, or keep the shorter read",
    ),
    # --- shifted ---
    "shifted": Says(
        why="in {read}, against {other}: {places:list}{more}; with that, {agreeing} of {size:plural byte} agree",
        next="transfer again with handshake or at a lower speed; the read that lost or gained bytes is not to be used",
    ),
    "shifted/lost": Says(why="{count:plural byte} lost at {at:0{digits}X}"),
    "shifted/gained": Says(why="{count:plural byte} gained at {at:0{digits}X}"),
    "shifted/more-places": Says(why=" and {count} more places"),
    # --- truncated ---
    "truncated/reads": Says(
        why="{read} is the beginning of {other}: {missing:size} are missing, from {span}",
        next="set the chip's true size on the reader, or transfer the file again, and read again",
    ),
    "truncated/from-there": Says(
        why="{read} holds only {fill} from {at:04X} on ({span}), where {other} has data",
        next="set the chip's true size on the reader, or transfer the file again, and read again",
    ),
    "truncated/beside": Says(
        why="{read} ends early: {missing:size} of {other} are missing, from {span}",
        next="set the chip's true size on the reader, or transfer the file again, and read again",
    ),
    # --- charge-loss ---
    "charge-loss": Says(
        why=(
            "{up} of {flips:plural differing bit} read 0 in {other} and 1 in {read}, spread over {lines_hit:plural "
            "data line}{at_volts}"
        ),
        next=(
            "cells are near the threshold: read again at a lower supply voltage within the data sheet, cool, several "
            "times, and trust the 0 where reads differ; make a replacement soon"
        ),
    ),
    "charge-loss/volts-fit": Says(why="; it was read at {lossy:g} V against {other:g} V, as charge loss shows"),
    "charge-loss/volts-against": Says(
        why=(
            "; it was read at {lossy:g} V against {other:g} V, where charge loss would show less: this speaks against "
            "it"
        ),
    ),
    "charge-loss/by-volts": Says(
        why=(
            "{cells} of {of_cells:plural differing cell} read 0 at the lower supply voltages and 1 at the higher ones "
            "({at_volts:list}), each changing once"
        ),
        next=(
            "trust the read at the lowest supply voltage within the data sheet, read again there several times, cool, "
            "and make a replacement soon"
        ),
    ),
    # --- weak-cells ---
    "charge-loss/flickering": Says(
        why=(
            "the same cells differ again and again: {cells} of them, {in_several} seen as 0 and as 1 in more than one "
            "of {reads} reads; a cell that loses its charge does so before it stays 1"
        ),
        next=(
            "read again several times at the lowest supply voltage within the data sheet, cool: there such cells give "
            "0; and make a replacement soon"
        ),
    ),
    "weak-cells/flickering": Says(
        why=(
            "the same cells differ again and again: {cells} of them, {in_several} seen as 0 and as 1 in more than one "
            "of {reads} reads"
        ),
        next=(
            "read several times, cool and warm; cells that give both values stay in doubt until another chip or a "
            "check sum decides"
        ),
    ),
    "weak-cells": Says(
        why=(
            "{cells} of {of_cells:plural differing cell} change once as the supply voltage rises ({at_volts:list}) and "
            "not back: {rising} from 0 to 1, {falling} from 1 to 0"
        ),
        next=(
            "read several times at each of the voltages, cool and warm; cells that give both values stay in doubt "
            "until another chip or a check sum decides"
        ),
    ),
    # --- not-selected-at-times ---
    "not-selected-at-times": Says(
        why=(
            "at {addresses} of {of_addresses:plural differing address/differing addresses} the whole byte of {read} is "
            "{value}, where {other} has data"
        ),
        next=(
            "clean the select and output enable pins and the supply pins, and read again more slowly; the bytes that "
            "are {value} in one read only are not the chip's"
        ),
    ),
    # --- contact-lost ---
    "contact-lost": Says(
        why="{read} holds one value ({values:list}) in {spans:list}, where {other} has data; around it the two agree",
        next="clean the pins and the socket, look for a loose chip or cable, and read again without touching them",
    ),
    "contact-lost/line": Says(
        why="{line} of {read} stays {level} in {spans:list}, where {other} has both values; around it the two agree",
        next="clean {pins:list} and its socket contact, reseat the chip, and read again without touching it",
    ),
    "contact-lost/line-at-random": Says(
        why=(
            "{line} of {read} is right but in {span}, where {flips:plural bit of it is/bits of it are} not what "
            "{other} has"
        ),
        next="clean {pins:list} and its socket contact, reseat the chip, and read again without touching it",
    ),
    "contact-lost/noise": Says(
        why=(
            "{read} holds bytes in {spans:list} that are like nothing else in it, as where nothing drives the bus; "
            "around it the two agree"
        ),
        next="clean the pins and the socket, look for a loose chip or cable, and read again without touching them",
    ),
    "contact-lost/address-line": Says(
        why=(
            "in {spans:list} {read} holds what belongs where {line} is {value}, as if {line} stayed there; around it "
            "the two agree"
        ),
        next="clean {pins:list} and its socket contact, reseat the chip, and read again without touching it",
    ),
    # --- half-missing ---
    "half-missing": Says(
        why="the {which} half of {read} ({spans:list}) is all {value}, where {other} has data",
        next="check {pins:list} and the size that is set on the reader, and read again",
    ),
    "half-missing/alone": Says(
        why="{read} is the {which} half of {other}",
        next="set the chip's true size on the reader, and check its highest address line; the longer read is the whole",
    ),
    # --- block-missing ---
    "block-missing": Says(
        why="{spans:list} of {read} is all {value}, a whole part of {parts}, where {other} has data",
        next="check {pins:list} and the lines above it, and the size that is set on the reader; then read again",
    ),
    "block-missing/alone": Says(
        why="{read} is part {which} of {parts} of {other}",
        next=(
            "set the chip's true size on the reader, and check its highest address lines; the longer read is the "
            "whole"
        ),
    ),
    # --- contention ---
    "contention": Says(
        why=(
            "{bits} of {of_bits:plural differing bit} are pulled {level} in {read}, several in a byte, at "
            "{addresses:plural address/addresses}"
        ),
        next=(
            "see that nothing else drives the bus: take the chip out of the board, check its select lines, and read "
            "again; a line that pulls against an output can harm both"
        ),
    ),
    # --- slow-outputs ---
    "slow-outputs": Says(
        why=(
            "{bits} of {of_bits:plural wrong bit} in {read}{on} are at the {open_to:plural place} where the byte "
            "before "
            "has the other value ({way})"
        ),
        next="read again with a longer access time, or at a higher supply within the data sheet; {other} is the better",
    ),
    # --- previous-byte-repeated ---
    "previous-byte-repeated": Says(
        why=(
            "at {addresses} of {of_addresses:plural differing address/differing addresses} {read} holds the byte of "
            "the "
            "address before"
        ),
        next="the reader looks before the outputs are valid: read again with a longer access time",
    ),
    # --- line-endings-changed ---
    "line-endings-changed/cr-added": Says(
        why="{read} has a CR before {changes} of the {of} LF of {other}: a line took the bytes for text",
        next=(
            "transfer again as plain bytes, without any change of line ends; the read that was changed is not to "
            "be used"
        ),
    ),
    "line-endings-changed/lf-added": Says(
        why="{read} has a LF after {changes} of the {of} CR of {other}: a line took the bytes for text",
        next=(
            "transfer again as plain bytes, without any change of line ends; the read that was changed is not to "
            "be used"
        ),
    ),
    "line-endings-changed/cr-taken": Says(
        why="{read} lacks {changes} of the {of} CR of {other}: a line took the bytes for text",
        next=(
            "transfer again as plain bytes, without any change of line ends; the read that was changed is not to "
            "be used"
        ),
    ),
    "line-endings-changed/lf-taken": Says(
        why="{read} lacks {changes} of the {of} LF of {other}: a line took the bytes for text",
        next=(
            "transfer again as plain bytes, without any change of line ends; the read that was changed is not to "
            "be used"
        ),
    ),
    "line-endings-changed/broken": Says(
        why="{read} is {other} with CR LF put in at {changes:plural place}: a line was broken as text is",
        next=(
            "transfer again as plain bytes, without any change of line ends; the read that was changed is not to "
            "be used"
        ),
    ),
    # --- parity-in-bit-7 ---
    "parity-in-bit-7": Says(
        why="bit 7 of {read} is the {kind} parity of the other seven ({changed:plural byte} changed against {other})",
        next="transfer again with eight data bits and no parity, or as a text container; {other} is whole",
    ),
    # --- floating-bus ---
    "floating-bus/reads": Says(
        why=(
            "{follow} of {size:plural byte} of {read} are the {address_byte} byte of their address{turned}: no "
            "chip drove the bus"
        ),
        next="check that the chip is seated, powered and selected, and that the right type is set; then read again",
    ),
    # --- flow-control-lost ---
    "flow-control-lost": Says(
        why="{read} lacks {changes} of the {of} bytes 11 and 13 of {other}: the line kept them for its handshake",
        next=(
            "transfer again with handshake by lines, or as a text container; the read that lost bytes is not to "
            "be used"
        ),
    ),
    # --- follows-reader ---
    "follows-reader": Says(
        why="{cause} in every read of {reader}, and in none of {others:list and}",
        next="look at {reader}, its adapter and its socket before the chip, and read a known chip with it",
    ),
    # --- cannot-tell ---
    "cannot-tell": Says(
        why="the reads cannot tell which: {causes:list or}",
        next="{does}",
    ),
    # --- random-noise ---
    "random-noise": Says(
        why=(
            "{flips:plural differing bit} at {addresses:plural address/addresses}, {up} from 0 to 1 and {down} from 1 "
            "to 0, spread over {lines_hit:plural data line}, in no pattern that fits better"
        ),
        next="reseat the chip, check the supply and the cable, read more slowly, and take three reads or more",
    ),
    # --- inverted ---
    "inverted": Says(
        why="{bits} of {total} bits are opposite",
        next=(
            "one of the two went through an inverting buffer or was taken from a part whose blank state is 0: find out "
            "which is true, and invert the other"
        ),
    ),
    # --- bytes-exchanged ---
    "bytes-exchanged": Says(
        why="{read} is {other} with {what} exchanged ({changed:plural address/addresses} changed)",
        next=(
            "the byte order of one of the two is set differently, or two chips of a pair changed places: find out "
            "which order the machine uses, and reorder the other"
        ),
    ),
    "bytes-exchanged/pairs": Says(why="the two bytes of each pair"),
    "bytes-exchanged/pairs-of-pairs": Says(why="the two pairs of each four bytes"),
    "bytes-exchanged/four-backwards": Says(why="the four bytes of each group of four, backwards"),
    "bytes-exchanged/eight-backwards": Says(why="the eight bytes of each group of eight, backwards"),
    "bytes-exchanged/halves": Says(why="the two halves of each {size:size}"),
    # --- bits-reversed ---
    "bits-reversed": Says(
        why="{read} is {other} with data lines exchanged: {rows:list}{doubt}",
        next=(
            "compare the adapter's or the board's wiring with the data sheet, line by line, and correct the read that "
            "went through the wrong one"
        ),
    ),
    # --- lane-of ---
    "lane-of/second": Says(
        why="{read} is every second byte of {other}, from byte {lane} on",
        next="one is a chip of a set, the other the bytes of all of them: compare each chip with its lane",
    ),
    "lane-of/fourth": Says(
        why="{read} is every fourth byte of {other}, from byte {lane} on",
        next="one is a chip of a set, the other the bytes of all of them: compare each chip with its lane",
    ),
    # --- content-differs ---
    "content-differs": Says(
        why=(
            "{addresses:plural address/addresses} differ in {count:plural stretch/stretches} ({spans}{more}), in no "
            "single way that is known here"
        ),
        next=(
            "check the labels: these may be different chips or revisions, memory that changed between the reads, or "
            "several faults at once"
        ),
    ),
    "content-differs/moved": Says(
        why=(
            "{read} is {other} with pieces put in or left out, as another version has: {places:list}{more}; with that, "
            "{agreeing} of {size:plural byte} agree"
        ),
        next="check the labels and dates of both chips; where both are of one chip, transfer again with handshake",
    ),
    "content-differs/more-stretches": Says(why=" and {count} more stretches"),
    # --- blank ---
    "blank/read": Says(
        why="every byte of {read} is {value}",
        next="check that the chip was seated, powered and selected, and that the right type is set; then read again",
    ),
    # --- not-selected ---
    "not-selected/read": Says(
        why="every byte of {read} is {value}",
        next="check that the chip was seated, powered and selected, and that the right type is set; then read again",
    ),
    # --- ends-in-fill ---
    "ends-in-fill/reads": Says(
        why="{read} is {other} and {more:size} more that are all {fill}",
        next="the chip may hold {size_bytes:size}, or be larger and not full: look up its type, and set its size",
    ),
    "ends-in-fill/beside": Says(
        why="{read} holds {more:size} more than {other}, and they are all {fill}",
        next="the chip may hold {size_bytes:size}, or be larger and not full: look up its type, and set its size",
    ),
    # --- not-diagnosed ---
    "not-diagnosed/large": Says(
        why="the reads hold {smallest:size} and more; causes are looked for up to {limit:size}",
        next="cut out the part that differs, and compare that",
    ),
    "not-diagnosed/window": Says(
        why="the reads are large: causes were looked for from {span}, where most differences lie",
        next="if other parts differ in other ways, cut them out and compare them",
    ),
    "not-diagnosed/more-images": Says(
        why="{left} more of the {images} different images were not looked at",
        next="reads that differ every time have a cause in common: compare two or three of them",
    ),
    # --- sizes-differ ---
    "sizes-differ": Says(
        why="{held}",
        next="set the reader to the chip's true size and read again; the counts are of the common part",
    ),
    "sizes-differ/disk": Says(
        why="{held}",
        next="look how many cylinders and sides each read was told to take; the counts of bytes are of the common part",
    ),
    "sizes-differ/holds": Says(why="{name} holds {size:size}"),
    "sizes-differ/beyond": Says(why="{name} holds {size:size}, of which {extra} not in all others"),
    # --- addresses-moved ---
    "addresses-moved/unstated": Says(
        why="{name} states no addresses; its first byte, at {first:04X}, was laid at {laid:04X}",
        next="if that is not where it belongs, convert it first and give its base address",
    ),
    "addresses-moved/apart": Says(
        why=(
            "{name} has no address in common with the first read; its first byte, at {first:04X}, was laid at "
            "{laid:04X}"
        ),
        next="if that is not where it belongs, convert it first and give its base address",
    ),
    # --- doubtful-bytes ---
    "doubtful-bytes/read": Says(
        why="{name} was imported with {doubts:plural doubt} over {bytes:size}: {first_doubt}",
        next="transfer this read again: where a doubtful byte agrees, it may do so by chance",
    ),
    # --- no-majority ---
    "no-majority": Says(
        why="at {addresses:plural address/addresses} no value has more than half of the {reads} votes{many}",
        next="read the carrier again, and vote over all reads{also}",
    ),
    "no-majority/many-gaps": Says(why="; they would leave more than {limit} gaps"),
    "no-majority/by-bits": Says(why="; a vote by bits settles addresses where no whole byte has a majority"),
    "no-majority/odd-number": Says(why="; with an odd number of reads no bit can be tied, unless reads are weighed"),
    # --- fill-outvotes ---
    "fill-outvotes": Says(
        why=(
            "in {blocks:plural block} of {size} bytes reads hold one byte or text over and over, and those with "
            "content are no majority: a reader that got nothing leaves fill too"
        ),
        next=(
            "read the carrier again, and vote over reads that hold the content; where it is truly blank, leave out the "
            "read that holds something else"
        ),
    ),
    # --- gaps-differ ---
    "gaps-differ": Says(
        why="{held}",
        next="set the reader to the chip's true size and read again; the counts are of the common part",
    ),
}
