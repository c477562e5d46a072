"""What the command line says by its own names: the same keys as in `sentences`, in words of commands and options."""

from imagekeeper.sentences.says import Says

FETCH_AGAIN = (
    "fetch the file from the reader again; if it is all there is, --keep-doubtful imports it and records the "
    "doubtful addresses"
)

LIST_AGAIN = (
    "have the machine print these addresses again and put the lines in their place; if the listing is all there "
    "is, --keep-doubtful imports it and records the doubtful addresses"
)

NEXT: dict[str, Says] = {
    # --- files ---
    "exists/output": Says(next="give another name, or --force to replace it"),
    "exists/is-an-input": Says(next="give another name: a read is evidence, and --force does not reach it"),
    # --- containers ---
    "usage/no-zip-file": Says(
        why="--member names one, and the file is no zip file",
        next="leave out --member",
    ),
    "not-writable-kind": Says(next="give one of these to --to"),
    "gaps/raw-file": Says(next="--fill FF closes them with FF (or any other byte you give)"),
    "too-large/text": Says(next="--from raw takes its bytes as they are, whatever the size"),
    "too-large/unpacked-to-write": Says(
        next="unpack it with another program and give the file that comes out, or write it --to raw",
    ),
    "too-large/unpacked-to-show": Says(
        next="--start and --length show a part; or unpack it with another program and give the file that comes out",
    ),
    "too-much-work/time": Says(
        next=(
            "nothing was given out; if the file is what it should be and the machine is slow, "
            "IMAGEKEEPER_PATIENCE=10 in the environment allows ten times the time"
        ),
    ),
    "too-much-work/division": Says(
        next="say what is known: --geometry, and --parameter-block such as block=2048,directory=128,reserved=2",
    ),
    "wrapper-damaged/gzip": Says(
        next=(
            "copy it again; --keep-doubtful takes the {unpacked:size} that could be unpacked; if these really are the "
            "image's own bytes, --from raw takes them as they are"
        ),
    ),
    "wrapper-damaged/zip": Says(
        next="copy it again; if these really are the image's own bytes, --from raw takes them as they are",
    ),
    "wrapper-nesting": Says(next="unpack it with another program, or --from raw takes its bytes as they are"),
    "member-choice/several": Says(next="name one with --member"),
    "member-missing/no-such": Says(next="name one of these with --member"),
    "not-this-kind/no-data": Says(next="look at the file; --from names another kind of container"),
    "not-this-kind/or-another": Says(
        why="; --from names another kind, and --from raw takes the file's bytes as they are",
    ),
    "record-form": Says(next=FETCH_AGAIN),
    "record-digits/odd": Says(next=FETCH_AGAIN),
    "record-digits/no-digit": Says(next=FETCH_AGAIN),
    "record-digits/no-byte": Says(next=FETCH_AGAIN),
    "record-length": Says(next=FETCH_AGAIN),
    "record-length/cut-short": Says(next=FETCH_AGAIN),
    "record-sum": Says(next=FETCH_AGAIN),
    "record-type/of-six": Says(next=FETCH_AGAIN),
    "record-type/count": Says(next=FETCH_AGAIN),
    "record-type/reserved": Says(next=FETCH_AGAIN),
    "record-type/address-only": Says(next=FETCH_AGAIN),
    "record-type/address-size": Says(next=FETCH_AGAIN),
    "record-type/late-header": Says(next=FETCH_AGAIN),
    "record-type/single": Says(next=FETCH_AGAIN),
    "record-type/pairing": Says(next=FETCH_AGAIN),
    "record-type/of-three": Says(next=FETCH_AGAIN),
    "record-parity": Says(next=FETCH_AGAIN),
    "record-count": Says(next=FETCH_AGAIN),
    "no-end": Says(next=FETCH_AGAIN),
    "no-end/broken-off": Says(next=FETCH_AGAIN),
    "no-end/mark": Says(next=FETCH_AGAIN),
    "after-end": Says(next=FETCH_AGAIN),
    "overlap": Says(
        next=(
            "each address should come once: look whether two files were joined; --repeated first or last chooses which "
            "value counts, --keep-doubtful keeps the first as doubtful"
        ),
    ),
    "conflict": Says(
        next=(
            "each address should come once: look whether two files were joined; --repeated first or last chooses which "
            "value counts, --keep-doubtful keeps the first as doubtful"
        ),
    ),
    "address-limit": Says(next="check the address records before this line; --keep-doubtful leaves these bytes out"),
    "address-limit/start": Says(next=FETCH_AGAIN),
    "address-limit/digits": Says(next=FETCH_AGAIN),
    # --- listings ---
    "too-large-to-fill/repeated": Says(next=LIST_AGAIN),
    "not-this-kind/no-listing": Says(next="look at the file; --from names another kind of container"),
    "record-form/no-address": Says(next=LIST_AGAIN),
    "record-digits/group": Says(next=LIST_AGAIN),
    "record-digits/no-group": Says(next=LIST_AGAIN),
    "record-length/address-alone": Says(next=LIST_AGAIN),
    "record-length/line-of-listing": Says(next=LIST_AGAIN),
    "record-length/short-line": Says(next=LIST_AGAIN),
    "record-length/beyond-end": Says(next=LIST_AGAIN),
    "record-length/too-long": Says(next=LIST_AGAIN),
    "conflict/in-listing": Says(
        next=(
            "look which of the two lines belongs there; --repeated first or last chooses which counts, --keep-doubtful "
            "keeps the first as doubtful"
        ),
    ),
    "line-lost": Says(next=LIST_AGAIN),
    "line-lost/order": Says(next=LIST_AGAIN),
    "line-lost/uneven": Says(next=LIST_AGAIN),
    "line-lost/unending": Says(next=LIST_AGAIN),
    "line-repeated": Says(
        next=(
            "look which of the two lines belongs there; --repeated first or last chooses which counts, --keep-doubtful "
            "keeps the first as doubtful"
        ),
    ),
    "column-mismatch": Says(next=LIST_AGAIN),
    "column-mismatch/length": Says(next=LIST_AGAIN),
    "column-mismatch/low-byte-first": Says(next=LIST_AGAIN),
    # --- images ---
    "usage/called-lane": Says(why="--lane"),
    "usage/called-lane-width": Says(why="--lane-width"),
    "usage/called-join": Says(why="--join"),
    "usage/called-trim": Says(why="--trim"),
    "usage/called-trim-to": Says(why="--trim-to"),
    "usage/called-pad-to": Says(why="--pad-to"),
    "usage/called-pad-at": Says(why="--pad-at"),
    "usage/called-repeat-to": Says(why="--repeat-to"),
    "usage/called-cut-data": Says(why="--cut-data"),
    "usage/called-geometry": Says(why="--geometry"),
    "usage/called-fit-geometry": Says(why="--fit-geometry"),
    "usage/called-sides-from": Says(why="--sides-from"),
    "usage/called-sides-to": Says(why="--sides-to"),
    "usage/called-interleave-from": Says(why="--interleave-from"),
    "usage/called-interleave-to": Says(why="--interleave-to"),
    "usage/called-skew-from": Says(why="--skew-from"),
    "usage/called-skew-to": Says(why="--skew-to"),
    "usage/called-fill": Says(why="--fill"),
    "usage/count-to-join": Says(
        why="a bus has 2 or 4 lanes, and IN is the first",
        next="give --join once, or three times",
    ),
    "usage/sides-as-they-are": Says(what="--sides-from and --sides-to clash"),
    "gaps/disk": Says(next="close them with --fill and the byte that formatting left, such as --fill E5"),
    "gaps/window": Says(next="`imagekeeper fingerprint` tells where its bytes are"),
    "gaps/joined": Says(next="convert that file first, with --fill FF or --window, and join the result"),
    "gaps/transformed": Says(
        next="--fill FF closes them with FF (or any other byte you give); --window takes a part without gaps",
    ),
    "address-out-of-range/base": Says(next="give a lower --base"),
    "does-not-fit/window-outside": Says(next="give an address and a size within; --pad-to makes a file larger"),
    "does-not-fit/words": Says(next="look for what is missing or too much: --window takes a part"),
    "does-not-fit/lanes": Says(next="look for what is missing or too much: --window takes a part"),
    "does-not-fit/larger-than-padded": Says(next="give a larger size, or --trim or --window what is too much"),
    "does-not-fit/whole-copies": Says(
        next="give a multiple of the image's size, or pad it first: --pad-to comes before --repeat-to",
    ),
    "does-not-fit/power-of-two": Says(
        next="--trim-to {used} trims it to just that, --pad-to {wanted} pads it to the power of two",
    ),
    "does-not-fit/smaller-than-trimmed": Says(next="--pad-to pads it to a size"),
    "does-not-fit/more-than-geometry": Says(
        next="look for the geometry with `imagekeeper floppy solve`, or cut or pad the image to it with --fit-geometry",
    ),
    "does-not-fit/less-than-geometry": Says(
        next="look for the geometry with `imagekeeper floppy solve`, or cut or pad the image to it with --fit-geometry",
    ),
    "does-not-fit/longer-lane": Says(
        next="chips side by side are of one size: --window, --trim or --pad-to first, each for itself",
    ),
    "does-not-fit/shorter-lane": Says(
        next="chips side by side are of one size: --window, --trim or --pad-to first, each for itself",
    ),
    "would-lose/beyond-geometry": Says(next="look at them first; --cut-data cuts them away all the same"),
    "would-lose/all-fill": Says(next="--trim-to SIZE trims a blank image to a size of your choice"),
    "would-lose/trimmed": Says(next="trim to {used} bytes or more; --window takes a part whatever the rest holds"),
    "too-large/transformed": Says(next="--window takes a part of it"),
    # --- reads ---
    "usage/no-address-in-common": Says(
        next="look at the addresses with fingerprint, and convert with --base what lies wrongly",
    ),
    "usage/voltages-of-vote": Says(
        next="give one for every read in order, and - where it is not known, such as --vcc 5.0,-,4.5",
    ),
    "usage/one-voltage-a-read": Says(next="give - for a read whose voltage is not known, such as --vcc 5.0,-,4.5"),
    "gaps/sums": Says(next="say what the gaps hold, such as --fill FF for an erased EPROM"),
    # --- signs ---
    "data-line-stuck/four-bits": Says(
        next="nothing to do where the chip is four bits wide; give the chip with --chip to have its lines judged",
    ),
    "not-selected/some-proms": Says(why="; some PROMs give 00 when they are blank: say which with --chip"),
    # --- chips ---
    "usage/offset-without-fill": Says(what="--offset needs --fill", next="give --fill {fill}"),
    "does-not-fit/at-offset": Says(next="give a lower --offset"),
    "does-not-fit/not-of-socket": Says(
        next=(
            "give the whole image of the original chip, and leave --repeat-to and --pad-to away, for --socket places "
            "it by itself; or leave --socket away, and place it with --offset"
        ),
    ),
    "usage/nothing-writes": Says(next="give --writes or --never-writes only for chips that a board can write to"),
    "usage/ram-not-written": Says(next="leave --never-writes away, or name the chip that the socket was made for"),
    "does-not-fit/one-of-two": Says(next="plan twice, with --lane 0/2 and with --lane 1/2"),
    "does-not-fit/not-read-back": Says(next="leave --offset away: --socket places the image"),
    "does-not-fit/mask-rom": Says(next="imagekeeper chip substitute {chip} names chips that can stand in for it"),
    "does-not-fit/forgets": Says(
        next="`imagekeeper chip substitute {chip}` shows what fits its socket: plan what keeps its contents{instead}",
    ),
    "does-not-fit/larger-than-chip": Says(
        next="take a larger chip, or a part of the image with --window, or one chip's share of a bus with --lane",
    ),
    "does-not-fit/smaller-than-chip": Says(
        next=(
            "--repeat-to {chip_size} fills the chip with copies, which suits unused address lines at any level; "
            "--pad-to {chip_size} with --fill {fill} leaves the rest blank; or --offset"
        ),
    ),
    "does-not-fit/socket": Says(next="imagekeeper chip substitute {socket} names chips that do"),
    "does-not-fit/stand-in": Says(next="`imagekeeper chip substitute {original}` shows what can"),
    "chip-unknown": Says(
        next="`imagekeeper chip list` shows them all; `imagekeeper chip unknown` tells what it could be by its pins"
    ),
    "chip-unknown/several": Says(
        next="compare the board with what `imagekeeper chip show {first}` says, and name one of them",
    ),
    "chip-unknown/near-others": Says(
        next=(
            "near it are: {near:list}; `imagekeeper chip list` shows them all, and `imagekeeper chip unknown` tells "
            "what it could be by its pins"
        )
    ),
    "must-erase": Says(
        next="erase it, read it again, and see that it is blank; or leave --present away to plan for an erased chip",
    ),
    # --- disks ---
    "usage/sizes-of-merge": Says(next="bring them to one geometry first with `imagekeeper convert --fit-geometry`"),
    "usage/nothing-to-solve": Says(
        next="give a file, or --size-bytes, or what you know, such as --sectors 9 --sector-bytes 512",
    ),
    "usage/bench": Says(next="`imagekeeper floppy bench list` shows what is there; nothing was written"),
    "usage/one-of-two-reads": Says(next="give --known and --read, or --failed with the cylinders that failed"),
    "usage/nothing-seen": Says(next="give --all-read, or --failed and --retried, or --known and --read"),
    "usage/all-and-not-all": Says(next="leave --all-read away, or --failed and --retried"),
    "usage/no-floppy-size": Says(next="leave --sides-from away"),
    "usage/sides-without-geometry": Says(next="give it with --geometry, such as 40x2x9x512"),
    "usage/map-without-geometry": Says(next="give it with --geometry, such as 80x2x9x512"),
    "usage/merge-without-geometry": Says(next="give it with --geometry, such as 80x2x9x512"),
    "usage/format-of-stdin": Says(next="name it with --format, or give a file"),
    "does-not-fit/bad-sectors": Says(
        next="look whether the list belongs to this disk, or give its geometry with --geometry",
    ),
    "does-not-fit/bad-sectors-unplaced": Says(next="give it with --geometry, such as 615x4x17x512"),
    "does-not-fit/larger-than-disk": Says(
        next="imagekeeper floppy solve tells what the image is; convert --fit-geometry leaves out an end of fill",
    ),
    "bench-form": Says(
        next="correct bench.toml in the archive's folder; `imagekeeper floppy bench add --help` shows what it may hold",
    ),
    "drive-cannot": Says(next="{could}; imagekeeper floppy drives {format}tells more"),
    "format-unknown": Says(
        next="`imagekeeper floppy list` shows them all, and `imagekeeper floppy solve` works one out",
    ),
    "format-unknown/several": Says(next="name one of them; `imagekeeper floppy show {first}` tells more"),
    "format-unknown/other-recording": Says(
        next="`imagekeeper floppy show` tells how it is recorded; use the controller of its machine",
    ),
    "drive-cannot/other-recording": Says(
        next=(
            "write it with the controller of its machine, or with an instrument that writes flux changes; if it is "
            "another disk of the same size, name that one with --format"
        ),
    ),
    "format-unknown/of-file": Says(
        next="`imagekeeper floppy solve` on the file shows what it may be; then name the format that is nearest",
    ),
    "carrier-exists/meanwhile": Says(next="repeat the command: another program may have added it meanwhile"),
    "format-unknown/uncertain": Says(
        next="name it with --format; imagekeeper floppy solve shows what it may be{same}"
    ),
    "format-unknown/size-of-disk": Says(next="name one of them with --format"),
    "format-unknown/near-others": Says(
        next=(
            "near it are: {near:list}; `imagekeeper floppy list` shows them all, and `imagekeeper floppy solve` works "
            "one out"
        ),
    ),
    "format-unknown/size-alone": Says(
        next=(
            "look at the label and the machine, and name the format with --format; of this size are: "
            "{same:list}{tells}"
        ),
    ),
    # --- systems ---
    "not-found/no-file-system": Says(next="look at it with `imagekeeper files list`"),
    "not-found/on-disk": Says(next="list the names with `imagekeeper files list`"),
    "not-found/partition": Says(next="list the disk without --partition"),
    "not-found/no-partitions": Says(next="list the disk without --partition"),
    # --- volumes ---
    "sides-order/one-read": Says(next="no sector is lost: look into it with --sides-from {order}"),
    "directory-damaged/too-many": Says(next="the directories are damaged; look at their sectors with hexdump"),
    "directory-damaged/left-out": Says(next="two directories cannot hold the same; look at their sectors with hexdump"),
    "directory-damaged/no-cluster": Says(next="look at its record with hexdump"),
    "directory-damaged/behind": Says(next="look at them with hexdump; old content of the cluster may show there"),
    "name-damaged/label": Says(next="look at it with hexdump"),
    "found-not-told/more-volumes": Says(
        next="look at the sectors between them with hexdump: they may be files that hold images of disks",
    ),
    "sectors-interleaved/in-one-image": Says(next="look into it with --interleave {interleave}"),
    "unread-perhaps": Says(next="read them again; with the reader's list, --bad-sectors marks the files"),
    "unread-perhaps/tracks": Says(next="read them again; with the reader's list, --bad-sectors marks the files"),
    "directory-damaged/too-many-of-all": Says(next="look into it alone with --partition"),
    "partition-damaged/circle": Says(
        next="what was found up to there is listed; look at the sectors of the chain with hexdump",
    ),
    "partition-damaged/many-partitions": Says(
        next="what was found up to there is listed; look at the sectors of the chain with hexdump",
    ),
    # --- archive ---
    "usage/one-choice-of-audit": Says(
        what="carriers, --rolling and --resume do not go together",
        next="give one of them; --resume checks what the stopped audit was to check",
    ),
    "usage/no-percentage": Says(next="--rolling 10 checks the tenth that was checked longest ago"),
    "usage/copy-of-another": Says(next="give a folder that archive replicate made from this archive"),
    "usage/repair-from-itself": Says(
        next="give a copy that archive replicate made; without --from its own files are used as far as they reach",
    ),
    "usage/too-many-words": Says(next="give a few words; to look for an image, give its file with --file"),
    "usage/nothing-to-search": Says(
        why="there is neither a word nor an option that chooses",
        next="give a word such as a label, a designator or the beginning of a digest; or --size or --grade",
    ),
    "archive-missing/no-marker": Says(next="give the archive's folder with --archive, or make one with archive init"),
    "archive-missing/no-copy": Says(
        next="give --from the folder of a copy that archive replicate made, or leave --from out to repair without one",
    ),
    "archive-missing/none-around": Says(next="give the archive's folder with --archive, or make one with archive init"),
    "archive-exists/another-archive": Says(
        next="give a new folder, or one that archive replicate made from this archive",
    ),
    "archive-damaged": Says(
        next="run archive audit to see all damage, and restore the file from a copy of the archive",
    ),
    "archive-damaged/other-archive": Says(next="run archive audit there, and restore the file from a copy"),
    "archive-damaged/not-handed-on": Says(
        next="run archive audit to see all damage, and restore the file from a copy; or name other carriers",
    ),
    "archive-damaged/record": Says(
        next="run the audit to see what else is affected, and restore the file from a copy of the archive",
    ),
    "archive-busy/changed": Says(next="repeat the command"),
    "replica-moved-on": Says(
        next="imagekeeper archive merge {name} takes it into the archive; then copy the archive to a new folder",
    ),
    "carrier-missing": Says(next="carrier list shows all ids; carrier add makes a new one"),
    "carrier-missing/is-a-machine": Says(next="use machine show {id}"),
    "carrier-missing/report-of-machine": Says(next="--machine {id} reports on it and its carriers"),
    "machine-missing/no-record": Says(next="machine list shows what there is, and machine add begins a record"),
    "machine-missing/named-nowhere": Says(
        next="machine list shows all machines, carrier list the names that carriers give",
    ),
    "machine-missing/report": Says(next="imagekeeper machine list shows all machines"),
    "bag-damaged/is-an-archive": Says(next="imagekeeper archive merge takes in the carriers of an archive's folder"),
    "bag-damaged/no-bag": Says(next="give a bag as archive export writes it: a folder, zip or tar"),
    "bag-damaged/without-archive": Says(
        why="it may be a sound bag, but it is not one that archive export made: data/archive.json is not there",
        next="take its files out, and add them with carrier add and carrier read",
    ),
    "bag-damaged/archive-unclear": Says(
        why="it may be a sound bag, but it is not one that archive export made: data/archive.json cannot be understood",
        next="take its files out, and add them with carrier add and carrier read",
    ),
    "not-found/file-of-carrier": Says(next="carrier show lists what there is"),
    "not-found/source": Says(next="imagekeeper archive audit tells whether something is missing"),
    # --- carriers ---
    "usage/reference-settles-nothing": Says(
        next="find out why first: imagekeeper carrier agree without --reference shows where they differ",
    ),
    "usage/vote-of-few": Says(next="read it again, then: imagekeeper carrier read {id} FILE"),
    "usage/vote-over-addresses": Says(
        next="find out which size is right, and read again; imagekeeper carrier agree shows where they differ",
    ),
    "usage/nothing-to-do": Says(
        next="give a step, such as --lane 0/2; imagekeeper carrier extract takes the image out as it is",
    ),
    "odd-facts": Says(next="correct it, or leave out what is not known; --really keeps it as it is, and shows it so"),
    "odd-facts/names": Says(
        next="use the older spelling if it is the same; if it is another, --really keeps it as it is, and shows it so",
    ),
    "usage/machine-without-name": Says(next="give --name TEXT"),
    "usage/label-larger": Says(next="give a smaller --size, or another --paper"),
    "usage/label-taken-out": Says(
        next="leave it out, or take it in again: imagekeeper carrier withdraw {id} {what} --reason TEXT"
    ),
    "usage/taken-out-already": Says(
        next="nothing needs to be done; carrier withdraw, or machine withdraw, with {what} takes it in again"
    ),
    "carrier-missing/erased": Says(next="imagekeeper carrier show {stub}"),
    "usage/erase-held": Says(
        next="mostly it is enough to take it out, and loses nothing: imagekeeper carrier deaccession {id} --reason TEXT"
    ),
    "usage/erase-word": Says(next="carrier erase {id} without --confirm shows what would go, and gives the word"),
    "exists/report": Says(
        next="name a new folder, or --force to replace that report; other files in it stay as they are",
    ),
    "table-form/is-a-machine": Says(why="{id} is the record of a machine; correct it by machine edit"),
    "no-reads": Says(next="read the chip or disk, then: imagekeeper carrier read {id} FILE"),
    "not-found/replacement": Says(next="imagekeeper carrier replace with --written begins one"),
    "not-found/contradiction-explained": Says(
        next="imagekeeper carrier withdraw {id} {explanation} --reason TEXT takes it back; then explain it anew",
    ),
    "not-found/nothing-open": Says(next="imagekeeper carrier show {id} tells how it stands"),
    "not-found/no-reads-left": Says(next="read the chip or disk, then: imagekeeper carrier read {id} FILE"),
    "not-found/reads-differ": Says(next="imagekeeper carrier agree {id} shows where; --by-vote accepts a majority"),
    "not-found/not-agreed": Says(next="imagekeeper carrier agree {id} settles it"),
    "not-of-image": Says(
        next="give the file that plan chip or plan disk wrote, and say with --image of which image it is",
    ),
    "agreed-outdated/agree": Says(next="settle it again: imagekeeper carrier agree {id}"),
    "agreed-outdated/differ": Says(next="settle it again: imagekeeper carrier agree {id}"),
    # --- steps ---
    "step/in-the-way": Says(why="{place} is in the way; run archive audit"),
    "step/settle-geometry": Says(
        why=(
            "This does not settle it against {rivals:list and}: look at the label and the drive, or read one track and "
            "count its sectors; then say what you know, such as --heads."
        ),
    ),
    "step/which-drive": Says(why="See which drive can write it: imagekeeper floppy drives"),
    "step/settle-again": Says(why="settle it again: carrier agree"),
    "step/keep-image": Says(why="nothing like it is kept: carrier add and carrier read keep it"),
    "step/fewer-choices": Says(why="leave out an option, to see whether it is what excludes everything"),
    "step/other-words": Says(
        why="try the beginning of a word, another word of the label, or carrier list; machine list names the machines",
    ),
    "step/settle-first": Says(why="no image is agreed yet; settle it first: imagekeeper carrier agree {id}"),
    "step/take-image-out": Says(why="imagekeeper carrier extract {id} --image {image} -o FILE, then {then}"),
    "step/check-files": Says(why="imagekeeper files check {file}"),
    "step/list-files": Says(why="imagekeeper files list {file}"),
    "step/solve-geometry": Says(why="imagekeeper floppy solve {file}"),
    "step/look-at-floppy": Says(
        why="look at the disk with `imagekeeper floppy solve` and at its first sectors with hexdump",
    ),
    "step/look-at-disk": Says(why="look at its first sectors with hexdump"),
    "step/more-of-what-is-wrong": Says(why="`imagekeeper files check` says more of what is wrong"),
    "step/take-files-out": Says(why="take files out with `imagekeeper files extract IMAGE -o FOLDER`"),
    "step/too-much-for-a-page": Says(
        why="{said} are too much for a page: imagekeeper carrier agree shows where they differ",
    ),
    "step/prove-chip": Says(why="Prove both files: imagekeeper compare; their CRC-32 must be {crc32}."),
    "step/prove-disk": Says(
        why="Prove both files: imagekeeper compare says whether they are equal to the one that was written.",
    ),
    "step/read-disputed": Says(why="see where they differ: imagekeeper carrier agree {id}; then read it again"),
    "step/settle": Says(why="settle its image: imagekeeper carrier agree {id}"),
    "step/audit": Says(why="run imagekeeper archive audit"),
    "step/bench-head": Says(
        why=(
            "The bench: what is at hand for reading and writing. `imagekeeper floppy bench add` writes at the end of "
            "this file;"
        ),
    ),
    "step/name-maker": Says(
        why="NONE without the maker: {because}. Name the maker that stands on the chip with --maker.",
    ),
    "step/find-maker": Says(
        why=(
            "Find out who made it, and plan again with --maker. Where the table has no sheet of that maker's chip, the "
            "maker's own decides. Without the one or the other, program nothing."
        ),
    ),
}
