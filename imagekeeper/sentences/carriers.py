"""Carriers and machines: what is kept of them, and what is made of it: images, tables, pages, labels."""

from imagekeeper.sentences.says import Says

SAYS: dict[str, Says] = {
    # --- usage ---
    "usage/reference-settles-nothing": Says(
        what="a reference cannot settle what the reads dispute",
        why="the reads of the carrier differ",
        next="find out why first: compare the reads without the reference, which shows where they differ",
    ),
    "usage/vote-of-few": Says(
        what="a vote needs at least three reads",
        why="{reads}",
        next="read it again, then add the file to {id}",
    ),
    "usage/vote-over-addresses": Says(
        what="a vote cannot settle which addresses belong to the image",
        why="the reads hold different ones: {ranges:list}",
        next="find out which size is right, and read again; a comparison shows where the reads differ",
    ),
    "usage/long-text": Says(
        what="a text is too long to be kept",
        why="{name} has {size} characters, and at most {limit} are kept",
        next="keep the long text as a file of its own, and say here where it lies",
    ),
    "usage/nothing-to-do": Says(
        what="there is nothing to be done to the image",
        why="{trouble}",
        next="give a step, such as one lane of a bus; an image can also be taken out as it is",
    ),
    "usage/empty-remark": Says(
        what="the remark is empty",
        why="it has no words",
        next="give the text of the remark",
    ),
    "usage/machine-without-name": Says(
        what="a machine needs a name",
        why="an empty one was given",
        next="give a name",
    ),
    "usage/nothing-to-change": Says(
        what="nothing was to be changed",
        why="nothing was given that is not there already",
        next="name what to correct, and give what is right",
    ),
    "usage/no-reason": Says(
        what="a reason is needed",
        why="the one given has no words",
        next="say why in a few words: they are kept, for whoever asks in ten years",
    ),
    "usage/nothing-to-add": Says(
        what="there is nothing to add",
        why="no file was given",
        next="give what was read back",
    ),
    "usage/label-size": Says(
        what="there is no such size of label",
        why="{text:quoted 40} was given",
        next="use {known:list}, or width and height in millimetres, such as 28x11 (6x4 at least)",
    ),
    "usage/label-larger": Says(
        what="the label is larger than the paper",
        why="{width:g} x {height:g} mm on {paper}",
        next="give a smaller label, or another paper",
    ),
    "usage/label-taken-out": Says(
        what="no label is made for {id}",
        why="it was taken out of the collection: {reason:line 200}",
        next="leave it out, or take it into the collection again first",
    ),
    "usage/taken-out-already": Says(
        what="{id} is not in the collection any more",
        why="it was taken out on {day} ({what}): {reason:line 200}",
        next="nothing needs to be done; to give another reason, take it in again first",
    ),
    "usage/erase-held": Says(
        what="{id} is not erased",
        why="it is in the collection, and only what was taken out of that can be erased",
        next="take it out of the collection first, with the reason; mostly that is enough, and nothing is lost by it",
    ),
    "usage/erase-stub": Says(
        what="{id} is not erased",
        why="it is what remains of {of}, and tells that this was erased",
        next="leave it: there is nothing else to it",
    ),
    "usage/erase-in-the-way": Says(
        what="{id} is not erased",
        why="the place of what remains of {other}, which was erased, is found by it",
        next="leave it out of the collection",
    ),
    "usage/erase-in-copy": Says(
        what="nothing is erased in a copy",
        why="this archive is a copy, and the next one made would bring it back",
        next="erase it in the archive; then make the copy anew, in a new folder",
    ),
    "usage/erase-word": Says(
        what="{id} is not erased",
        why="{given:quoted 40} is not the word that confirms it; the newest version is {version}",
        next="ask again without the word, and look at what would go",
    ),
    "usage/erased-another": Says(
        what="{id} is not erased",
        why="it was erased before, as {stub} tells, and what lies there now is something else",
        next="look at where that came from; an audit names it",
    ),
    "usage/erased-stays-out": Says(
        what="{id} cannot be taken into the collection",
        why="it is only what remains of {of}, which was erased",
        next="leave it as it is; what comes back can be added as a new carrier",
    ),
    "usage/folder-without-name": Says(
        what="the folder has no name",
        why="an empty name was given",
        next="name a folder",
    ),
    "usage/report-in-archive": Says(
        what="a report cannot lie inside the archive",
        why="{name} does",
        next="name a folder beside it",
    ),
    "usage/time": Says(
        what="a time is not written as RFC 3339 asks",
        why="{text:quoted 64} was given",
        next="write it like 2026-11-24T22:00:00Z or 2026-11-24T23:00:00+01:00",
    ),
    "usage/date": Says(
        what="a date cannot be understood",
        why="{text:quoted 64} was given",
        next="write 2026-11-24, 2026-11-24T22:00:00Z, or 1985-03 or 1985 where no more is known",
    ),
    "usage/retries": Says(
        what="a number of retries cannot be understood",
        why="{text:quoted 40} was given",
        next="write how often the drive tried a sector again at most, such as 20; 0 for never",
    ),
    "usage/voltage": Says(
        what="a supply voltage cannot be understood",
        why="{text:quoted 40} was given",
        next="write a decimal number of volts, such as 4.75",
    ),
    "usage/voltage-of-no-chip": Says(
        what="no memory chip is read at that supply voltage",
        why="{volts} V was given; it is above 0 V and up to {most} V",
        next="give what was set on the reader in volts, such as 4.75, or leave it out where it is not known",
    ),
    "usage/temperature": Says(
        what="a temperature cannot be understood",
        why="{text:quoted 40} was given",
        next="write a decimal number of degrees Celsius, such as 21.5",
    ),
    "usage/reference": Says(
        what="a reference digest cannot be recognised",
        why="{text:quoted 80} was given",
        next="give 8 hexadecimal digits for a CRC-32, 40 for a SHA-1 or 64 for a SHA-256",
    ),
    "usage/no-step": Says(why="no step was given"),
    "usage/no-step-no-gaps": Says(why="no step was given, and the image has no gaps to fill"),
    "usage/read-back-is-written": Says(
        what="a read-back is the very file that was written",
        why="{name} and what was written are one file, under one name or two: it was never in the chip or on the disk",
        next="read the new chip or disk into a file of its own, and give that",
    ),
    # --- odd-facts ---
    "odd-facts": Says(
        what="something that was given cannot be so",
        why="{facts:list and}",
        next="correct it, or leave out what is not known; if it is really so, insist on it: it is kept, and shown so",
    ),
    "odd-facts/names": Says(
        what="a name is only a slip away from one that is known",
        why="{facts:list and}",
        next="use the older spelling if it is the same; if it is another, insist on it, and it is kept and shown so",
    ),
    "odd-facts/voltage": Says(why="{volts} V is the supply of no memory chip: it is above 0 V and up to {most} V"),
    "odd-facts/voltage-of-part": Says(
        why="{volts} V is no supply of a {part}, which takes {least:g} to {most:g} V; a programming voltage is none",
    ),
    "odd-facts/temperature": Says(why="{celsius} °C is no temperature of a bench, which has {least} to {most} °C"),
    "odd-facts/date-too-early": Says(why="{date} lies before {year}, when there was nothing to read"),
    "odd-facts/date-ahead": Says(why="{date} is yet to come: it is {now}"),
    "odd-facts/before-chip": Says(
        why="a read of {date} lies before the chip was made, as its date code {code:quoted 40} says",
    ),
    "odd-facts/before-replacement": Says(why="a read-back of {date} lies before {replacement} was made, {made}"),
    "odd-facts/changed-ahead": Says(why="{name:line} was last changed at {time}, which is yet to come: it is {now}"),
    "odd-facts/code-ahead": Says(why="the date code {code:quoted 40} is yet to come: it is {now}"),
    "odd-facts/code-after-read": Says(
        why="the date code {code:quoted 40} lies after {read}, which was read in or on {date}",
    ),
    "odd-facts/name": Says(why="the {what} {name:quoted 80} is only a slip away from {near:quoted 80}"),
    "odd-facts/spelling": Says(
        why="the {what} {name:quoted 80} differs from {near:quoted 80} only in capitals, blanks or the form of letters",
    ),
    "odd-facts/machine": Says(why="{name:quoted 80} is only a slip away from {near:quoted 80}, the machine {id}"),
    "odd-facts/machine-of-name": Says(why="the machine {id} has the name {name:quoted 80} already"),
    # --- exists ---
    "exists/picture": Says(
        what="this very picture is kept already",
        why="its SHA-256 is {digest}",
        next="nothing needs to be done",
    ),
    "exists/no-report": Says(
        what="the folder holds something that is no report",
        why="{name} is not empty, and holds no {mark} of an earlier report",
        next="name a new folder: nothing is written among other files",
    ),
    "exists/report": Says(
        what="the folder holds an earlier report",
        why="{name} holds {mark}",
        next="name a new folder, or say that the report is to be replaced; other files in it stay as they are",
    ),
    # --- cannot-write ---
    "cannot-write/folder-name": Says(
        what="the folder's name cannot be used",
        why="{trouble}",
        next="give another name",
    ),
    # --- gaps ---
    "gaps/replacement": Says(
        what="the file has gaps, and a chip or disk has none",
        why="it has {pieces:plural piece}",
        next="give the file as it went to the programmer, with its gaps filled",
    ),
    # --- unknown-name ---
    "unknown-name/text": Says(
        what="there is no such text to change",
        why="{name!r} is not one of them",
        next="use {known:list}",
    ),
    "unknown-name/kind-of-carrier": Says(
        what="there is no such kind of carrier",
        why="{name!r} is not in the list",
        next="use one of: {known:list}",
    ),
    # --- does-not-fit ---
    "does-not-fit/replacement": Says(
        what="a {chip} cannot hold that",
        why="{name} has {size:size}, and the chip holds {chip_size:size}",
        next="see what stands on the chip, and which file went into it or came out of it",
    ),
    # --- cannot-read ---
    "cannot-read/changed": Says(
        what="the file changed while it was kept",
        why="its SHA-256 is not what it was a moment ago",
        next="wait until the reader's program has finished writing it, then add it again",
    ),
    # --- table-form ---
    "table-form": Says(
        what="the table cannot be taken as it is",
        why="line {line}: {trouble:line 400}",
        next="correct that line and give it again; nothing was changed",
    ),
    "table-form/more-lines": Says(why="; {lines} more lines cannot be taken"),
    "table-form/of-cell": Says(why="{why}; {next}"),
    "table-form/id-twice": Says(why="{id} stands in line {line} already"),
    "table-form/kind-unknown": Says(why="{kind!r} is no kind of carrier; use one of: {kinds:list}"),
    "table-form/kind-missing": Says(why="{id} is new, so its kind must be given: one of {kinds:list}"),
    "table-form/is-a-machine": Says(why="{id} is the record of a machine; correct it among the machines"),
    "table-form/other-uuid": Says(why="{id} is another carrier here, with the UUID {uuid}"),
    "table-form/kind-emptied": Says(why="a carrier always has a kind"),
    "table-form/digest": Says(why="{text:quoted 40} is not {digits} hexadecimal digits"),
    "table-form/no-digest": Says(why="it gives no digest"),
    "table-form/size": Says(why="{size:quoted 40} is not a number of bytes"),
    "table-form/not-utf8": Says(why="it is not in UTF-8; save the table as CSV UTF-8"),
    "table-form/no-header": Says(why="there is no row with the names of columns"),
    "table-form/column-twice": Says(why="this column is there twice"),
    "table-form/no-column": Says(why="there is no column {columns:list or}; the first row must name the columns"),
    "table-form/cells": Says(why="it has {cells} cells, and the first row names {columns} columns"),
    "table-form/no-text": Says(why="it holds a character that is no text"),
    "table-form/long-text": Says(why="it holds {characters} characters, and {limit} is the limit"),
    "table-form/in-column": Says(
        what="the table cannot be taken as it is",
        why="line {line}, column {column:line}: {trouble:line 400}",
        next="correct that line and give it again; nothing was changed",
    ),
    # --- archive-damaged ---
    "archive-damaged/kept-otherwise": Says(why="its SHA-256 is not the one that {read} was kept with"),
    "archive-damaged/stated-otherwise": Says(why="its SHA-256 is not the one that its record states"),
    "archive-damaged/record-size": Says(why="its size is not that of the record"),
    "archive-damaged/record-digest": Says(why="its SHA-256 is not the one of the record"),
    "archive-damaged/agreed-digest": Says(why="its SHA-256 is not that of the agreed image"),
    "archive-damaged/no-json": Says(why="it is not JSON: {trouble}"),
    "archive-damaged/none-of": Says(why="{path} is {value}, which is not one of {known:list}"),
    "archive-damaged/no-list": Says(why="{path} is not a list"),
    "archive-damaged/no-object": Says(why="{path} is not an object"),
    "archive-damaged/other-type": Says(why="{path} is {value}, where a value of type {type} belongs"),
    "archive-damaged/field-missing": Says(why="{path}.{field} is missing"),
    "archive-damaged/other-id": Says(why="it names another id: {id:line 80}"),
    "archive-damaged/misfit": Says(why="{path}: {trouble}"),
    "archive-damaged/fit-text": Says(why="{name} is {value}: it holds half of a character, or is too long"),
    "archive-damaged/fit-path": Says(why="{name} is {value}, which is no path within the carrier"),
    "archive-damaged/fit-elsewhere": Says(why="{path:line 200} does not lie where it belongs, in {top}"),
    "archive-damaged/fit-sha256": Says(why="{name} is {value}, which is no SHA-256 in lower case"),
    "archive-damaged/fit-crc32": Says(why="{name} is {value}, which is no CRC-32"),
    "archive-damaged/fit-uuid": Says(why="{name} is {value}, which is no UUID"),
    "archive-damaged/fit-number": Says(why="{name} is {value}, which is negative or absurdly large"),
    "archive-damaged/fit-address": Says(why="{name} is {value}, and no address between 0 and 4 GiB"),
    "archive-damaged/fit-time": Says(why="{name} is {value}, which is no time as in RFC 3339"),
    "archive-damaged/fit-date": Says(why="{name} is {value}, which is no time, day, month or year"),
    "archive-damaged/fit-carrier-id": Says(why="{name} is {value}, which is no id of a carrier"),
    "archive-damaged/fit-numbered": Says(why="{name} is {value}, which is no id of its kind"),
    "archive-damaged/fit-carrier-ids": Says(why="{name} is {value}, which are not ids of carriers"),
    "archive-damaged/fit-tried": Says(why="{name} is {value}, which is neither the original nor a replacement"),
    "archive-damaged/fit-what": Says(why="{name} is {value}, which names nothing that can be taken back"),
    "archive-damaged/fit-texts": Says(why="{name} holds something that is no text"),
    "archive-damaged/fit-read-ids": Says(why="{name} is {value}, which are not ids of different reads"),
    "archive-damaged/fit-image-id": Says(why="{name} is {value}, which names no image of a carrier"),
    "archive-damaged/fit-kind": Says(why="{name} is {value}, which is no kind of carrier"),
    "archive-damaged/fit-plain": Says(why="{name} holds half of a character, or a number that is absurdly large"),
    "archive-damaged/fit-segments-order": Says(why="its segments are not in ascending order, are empty, or overlap"),
    "archive-damaged/fit-segments-size": Says(why="its segments make up {total} bytes, and {stated} are stated"),
    "archive-damaged/fit-first-address": Says(why="its first address is not that of its first segment"),
    "archive-damaged/fit-reference": Says(why="a reference digest is no {algorithm:line 40}"),
    "archive-damaged/fit-twice": Says(why="the {name} {value:line 80} is there twice"),
    "archive-damaged/field-clash": Says(why="{path} contradicts itself: {trouble}"),
    # --- carrier-id ---
    "carrier-id": Says(
        what="the id cannot name a folder everywhere",
        why="{trouble}",
        next="use {better!r}, or another of lower-case letters, digits and - _ . between them",
    ),
    # --- picture-unknown ---
    "picture-unknown": Says(
        what="the file is no picture that can be kept as one",
        why="it does not begin as PNG, JPEG, GIF, TIFF, WebP, HEIF or AVIF files do",
        next="save the picture in one of these forms; JPEG and PNG can be shown everywhere",
    ),
    # --- no-reads ---
    "no-reads": Says(
        what="{id} has no read to compare",
        why="no file was added to it, or each was taken back",
        next="read the chip or disk, then add the file to {id}",
    ),
    "no-reads/voters": Says(
        what="the reads that were voted on are not there",
        why="{id} does not say which they were",
        next="settle the image again from the reads that there are",
    ),
    # --- not-found ---
    "not-found/replacement": Says(
        what="{id} has no such replacement",
        why="{replacement:quoted 40} is not there; there is {known}",
        next="begin it with the file that was written",
    ),
    "not-blank": Says(
        what="{name} is not the read of a blank chip",
        why="{bytes} of {size} bytes are not {value:02X}; a blank one gives {expected} of them",
        next="erase the chip, read it again before it is written, and give that file",
    ),
    "not-found/contradiction": Says(
        what="{id} has nothing open to explain under {code:quoted 60}",
        why="open are: {known:list}",
        next="give one of these codes, as they stand beside the grade",
    ),
    "not-found/contradiction-explained": Says(
        what="{code:quoted 60} of {id} is explained already",
        why="{explanation} says: {reason}",
        next="take {explanation} back first, to say it otherwise",
    ),
    "not-found/nothing-open": Says(
        what="{id} has nothing open to explain under {code:quoted 60}",
        why="nothing speaks against its image that is not explained",
        next="see how it stands: a code stands there as long as it is open",
    ),
    "not-found/nothing-to-try": Says(
        what="{id} has no image that could have been tried",
        why="its reads give none",
        next="read it, and settle which image it holds; then record how that did",
    ),
    "not-found/read": Says(
        what="{id} has no read {read:quoted 40}",
        why="it has: {known:list}",
        next="give one of these",
    ),
    "not-found/to-withdraw": Says(
        what="{id} has nothing called {what:quoted 60} that could be taken back",
        why="it has: {known:list}",
        next="give one of these",
    ),
    "not-found/picture-too-large": Says(
        what="the picture is too large",
        why="it is larger than {limit:size}",
        next="look at it in the archive",
    ),
    "not-found/image": Says(
        what="{id} has no such image",
        why="{name:quoted 40} is none of {known:list}",
        next="name one of these",
    ),
    "not-found/reads-differ": Says(
        what="{id} has no agreed image",
        why="its reads differ",
        next="settle the agreed image of {id}",
    ),
    "not-found/no-reads-left": Says(
        what="{id} has no agreed image",
        why="there is no read that could give one",
        next="read the chip or disk, then add the file to {id}",
    ),
    "not-found/not-agreed": Says(
        what="{id} has no agreed image",
        why="nobody settled it yet",
        next="settle the agreed image of {id}",
    ),
    # --- not-of-image ---
    "not-of-image": Says(
        what="what was written does not hold the image",
        why=(
            "{name} ({size:size}) is neither {id} {image} ({image_size:size}), nor copies of it, nor the image with "
            "one fill byte around it"
        ),
        next="give the file that was planned for the chip or disk, and say of which image it is",
    ),
    # --- reference-mismatch ---
    "reference-mismatch": Says(
        what="the reference digest is not that of the image",
        why="its {algorithm} is {found}; {supplied} was supplied{said}",
        next="check that the reference is for the same part, revision and byte range, or read it again",
    ),
    # --- derived-outdated ---
    "derived-outdated": Says(
        why="what {made:list and} came from is no evidence any more: {sources:list}",
        next="look at what became of that, and make what {id} has of it again, from the image as it stands",
    ),
    # --- agreed-outdated ---
    "agreed-outdated/agree": Says(
        why="{reads:list} came after the agreed image was settled, and agree with it",
        next="settle the agreed image of {id} again",
    ),
    "agreed-outdated/differ": Says(
        why="{reads:list} came after the agreed image was settled, and do not all agree with it",
        next="settle the agreed image of {id} again",
    ),
}
