"""The archive: its folder, its audits, its copies and bags."""

from imagekeeper.sentences.says import Says

SAYS: dict[str, Says] = {
    # --- usage ---
    "usage/one-choice-of-audit": Says(
        what="carriers, a share and a stopped audit do not go together",
        why="each says by itself what is to be checked",
        next="give one of them; to go on with a stopped audit checks what it was to check",
    ),
    "usage/no-percentage": Says(
        what="the share is not a percentage",
        why="{share:g} is not more than 0 and at most 100",
        next="a share of 10 checks the tenth that was checked longest ago",
    ),
    "usage/bag-without-name": Says(
        what="the bag has no name",
        why="{target!r} was given",
        next="name a new folder or file",
    ),
    "usage/copy-of-another": Says(
        what="that is no copy of this archive",
        why="it is {theirs}, and this archive is {ours}",
        next="give a folder that was made as a copy of this archive",
    ),
    "usage/copy-inside": Says(
        what="the copy cannot lie there",
        why="{name} is the archive, lies in it, or holds it",
        next="give a folder on another disk: a copy on the same one is lost with it",
    ),
    "usage/merge-with-itself": Says(
        what="an archive cannot be merged with itself",
        why="{name} is this archive",
        next="name the folder of another archive",
    ),
    "usage/repair-from-itself": Says(
        what="an archive cannot be repaired from itself",
        why="{name} is this archive",
        next="give a copy that was made of this archive; without one its own files are used as far as they reach",
    ),
    "usage/too-many-words": Says(
        what="that is too much to search for",
        why="there are more than {limit} characters",
        next="give a few words; to look for an image, give its file",
    ),
    "usage/nothing-to-search": Says(
        what="nothing was given to search for",
        why="there is neither a word nor anything else that chooses",
        next="give a word such as a label, a designator or the beginning of a digest; or a size or grade",
    ),
    "usage/among-carriers": Says(
        what="nothing is written among the carriers of the archive",
        why="{name} lies there",
        next="name a place outside the archive's folder carriers",
    ),
    # --- exists ---
    "exists/demonstration": Says(
        what="the folder is there already",
        why="{name} exists",
        next="name a new folder: the demonstration writes over nothing",
    ),
    "exists/bag": Says(
        what="there is already something at the output's place",
        why="{name} exists",
        next="give another name; a bag that was handed on is never overwritten",
    ),
    # --- unknown-name ---
    "unknown-name/layout": Says(
        what="there is no such layout",
        why="{number!r} is not in the list",
        next="use 0002 (folders named as the carriers), or 0003 for tens of thousands of carriers",
    ),
    # --- too-large ---
    "too-large/bag-of-many-files": Says(
        what="the bag holds too many files",
        why="there are more than {limit}",
        next="ask the sender to divide it",
    ),
    "too-large/bag-unpacks": Says(
        what="the packed bag would unpack to an absurd size",
        why="it would be larger than {limit:size}, which no bag of this packed size is",
        next="if you trust it, unpack it with another program and give the folder",
    ),
    # --- wrapper-damaged ---
    "wrapper-damaged/packed-bag": Says(
        what="the packed bag cannot be read",
        why="{trouble}",
        next="fetch it again, or unpack it with another program and give the folder",
    ),
    "wrapper-damaged/gzip-says": Says(why="gzip: {trouble}"),
    "wrapper-damaged/size-of-member": Says(why="{name:line} holds {written} bytes, and {stated} are stated"),
    "wrapper-damaged/zip-says": Says(why="zip: {trouble}"),
    "wrapper-damaged/encrypted-bag": Says(
        what="the packed bag is encrypted",
        why="{name} is encrypted, and can only be read with its password",
        next="unpack it with another program and give the folder",
    ),
    "wrapper-damaged/bag-of-other-method": Says(
        what="the packed bag is packed by a method that is not unpacked here",
        why="{name} is packed by method {method}; only 0 (stored) and 8 (deflate) are unpacked",
        next="unpack it with another program and give the folder",
    ),
    "wrapper-damaged/no-data-in-member": Says(why="{name:line} holds no data"),
    "wrapper-damaged/cut-member": Says(why="{name:line} is cut short"),
    "wrapper-damaged/tar-says": Says(why="tar: {trouble}"),
    # --- archive-missing ---
    "archive-missing/no-marker": Says(
        what="there is no archive",
        why="{name} holds no {marker}",
        next="name the archive's folder, or make a new archive",
    ),
    "archive-missing/no-copy": Says(
        what="there is no copy of the archive there",
        why="{name} holds no {marker}",
        next="give the folder of a copy that was made from this archive",
    ),
    "archive-missing/none-around": Says(
        what="there is no archive here",
        why="neither {start} nor a folder above it is one",
        next="name the archive's folder, or make a new archive",
    ),
    # --- archive-exists ---
    "archive-exists/another-archive": Says(
        what="the place for the copy is taken by another archive",
        why="{path} is {theirs}, and this archive is {ours}",
        next="give a new folder, or one that was made as a copy of this archive",
    ),
    "archive-exists/already": Says(
        what="the place for the archive is taken",
        why="{name} is an archive already",
        next="give a new folder or an empty one",
    ),
    "archive-exists/not-empty": Says(
        what="the place for the archive is taken",
        why="{name} is not an empty folder",
        next="give a new folder or an empty one",
    ),
    # --- archive-damaged ---
    "archive-damaged": Says(
        what="the archive is damaged",
        why="{name}: {trouble}",
        next="audit the archive to see all damage, and restore the file from a copy of the archive",
    ),
    "archive-damaged/other-archive": Says(
        what="the other archive is damaged, and nothing was taken from it",
        why="{trouble:line 400}",
        next="audit that archive, and restore the file from a copy",
    ),
    "archive-damaged/not-handed-on": Says(
        what="what is damaged is not handed on",
        why="{path}: {trouble}",
        next="audit the archive to see all damage, and restore the file from a copy; or name other carriers",
    ),
    "archive-damaged/record": Says(
        what="a record cannot be read",
        why="{trouble}",
        next="audit the archive to see what else is affected, and restore the file from a copy of the archive",
    ),
    "archive-damaged/changed-meanwhile": Says(
        why="it changed while it was copied: its SHA-512 is not the one in the inventory",
    ),
    "archive-damaged/digest": Says(why="its SHA-512 is not the one in the inventory"),
    "archive-damaged/not-the-beginning": Says(why="it is not the beginning of the newest inventory"),
    "archive-damaged/digest-file": Says(why="it or its digest file cannot be read; {trouble}"),
    "archive-damaged/digest-beside": Says(why="its SHA-512 is not the one in the file beside it"),
    "archive-damaged/copied-otherwise": Says(why="what was copied is not what was read before"),
    "archive-damaged/inventory": Says(why="{rule}: {trouble}"),
    "archive-damaged/inventory-of-another": Says(why="it is that of {id:quoted 80}"),
    "archive-damaged/format": Says(why="its format, version or layout is none that this program knows"),
    "archive-damaged/same-uuid": Says(why="{id} and {other} have the same UUID"),
    "archive-damaged/of": Says(why="{name}: {trouble}"),
    "archive-damaged/names-missing": Says(why="a record names {path:line 200}, which is not there"),
    "archive-damaged/contradicted": Says(
        what="what a record concludes does not follow from the files that were read",
        why="{id}: {path}: {trouble:line 400}",
        next="look at that record, and at another copy of the archive; what was read is kept as it was",
    ),
    "archive-damaged/and-more": Says(why="; and {count:plural more conclusion}"),
    "archive-damaged/event-line": Says(why="line {line} of its events: {trouble}"),
    "archive-damaged/not-read-back": Says(why="{name}: its record, written out, is another when it is read back"),
    "archive-damaged/brings-fault": Says(
        why="{name}: its record brings out a fault of this program ({trouble}), and every later command would meet it",
    ),
    "archive-damaged/ours-unreadable": Says(
        why="what is here under this id cannot be read, so that the two cannot be told apart: {trouble}",
    ),
    "archive-damaged/not-held": Says(why="{name}: the index could not hold its record: {trouble}"),
    # --- cannot-write ---
    "cannot-write/stopped": Says(why="; done whole before: {done:list}; not done: {at} and {left} after it"),
    "cannot-write/stopped-at-first": Says(why="; none was done: it was at the first, {at}, and {left} come after it"),
    "cannot-write/left-behind": Says(
        what="{id} is erased, and its files could not be taken away yet",
        why="{trouble}",
        next="see what holds them; the next program that writes to the archive takes them away",
    ),
    # --- archive-busy ---
    "archive-busy": Says(
        what="another program is writing to the archive",
        why="its lock was not free within {seconds:g} seconds",
        next="wait until the other program is done, then try again",
    ),
    "archive-busy/changed": Says(
        what="another program changed the carrier meanwhile",
        why="{id}: {trouble}",
        next="try it again",
    ),
    "archive-busy/other-version": Says(why="version {before} was read, and version {now} is there now"),
    "archive-busy/other-inventory": Says(why="its inventory is another than at the start"),
    # --- archive-newer ---
    "archive-newer": Says(
        what="the archive was made by a later version of this program",
        why="its structure is version {version}, and this program knows version {known}",
        next="install a newer version of imagekeeper",
    ),
    # --- replica-moved-on ---
    "replica-moved-on": Says(
        what="the copy holds what the archive never had, and was left as it is",
        why="carriers of {name} have a history of their own: {carriers}",
        next="merge {name} into the archive; then copy the archive to a new folder",
    ),
    # --- carrier-exists ---
    "carrier-exists": Says(
        what="there is already a carrier or machine with this id",
        why="the id is {id}",
        next="choose another id, or add to what is there",
    ),
    "carrier-exists/erased": Says(
        what="this id is not free",
        why="the carrier {id} was erased, and {stub} tells of it",
        next="choose another id",
    ),
    "carrier-exists/erased-here": Says(
        what="{id} is not taken in",
        why="it was erased here, as {stub} tells; the other archive still has it",
        next="nothing needs to be done; what is wanted of it after all can be added as a new carrier",
    ),
    "carrier-exists/same-machine": Says(
        what="the machine has a record already",
        why="it is {id}, called {name:quoted 80}",
        next="correct that record, or add remarks to it; nothing was changed",
    ),
    "carrier-exists/meanwhile": Says(
        what="there is already a carrier or machine with this id",
        why="the id is {id}",
        next="repeat it: another program may have added it meanwhile",
    ),
    # --- carrier-missing ---
    "carrier-missing/erased": Says(
        what="there is no such carrier any more",
        why="{id} was erased; {stub} tells when and why",
        next="look at {stub}",
    ),
    "carrier-missing": Says(
        what="there is no such carrier",
        why="the archive holds no {id!r}",
        next="look through the list of carriers, or add a new one",
    ),
    "carrier-missing/is-a-machine": Says(
        what="that is a machine, not a carrier",
        why="{id} is the record of a machine",
        next="look {id} up among the machines",
    ),
    "carrier-missing/report-of-machine": Says(
        what="that is a machine, not a carrier",
        why="{id} is the record of a machine",
        next="ask for the machine {id}: that reports on it and its carriers",
    ),
    # --- machine-missing ---
    "machine-missing/no-record": Says(
        what="there is no such machine",
        why="the archive holds no machine {id:line 80}",
        next="look through the list of machines, or begin a record of it",
    ),
    "machine-missing/named-nowhere": Says(
        what="there is no such machine",
        why="neither a record nor a carrier names {name!r}",
        next="look through the list of machines, and the names that the carriers give",
    ),
    "machine-missing/report": Says(
        what="there is no such machine",
        why="no carrier names {name!r}, and no record of a machine does",
        next="look through the list of machines",
    ),
    # --- bag-damaged ---
    "bag-damaged/not-valid": Says(
        what="the bag is not complete and valid",
        why="{trouble}",
        next="nothing was taken in; fetch it again, or ask the sender for a new one",
    ),
    "bag-damaged/is-an-archive": Says(
        what="that is an archive, not a bag",
        why="it holds {marker} and no bagit.txt",
        next="merge the archive instead: that takes in its carriers",
    ),
    "bag-damaged/no-bag": Says(
        what="the file is no bag",
        why="it is neither a zip nor a tar, packed by gzip or not",
        next="give a bag as an archive is exported: a folder, zip or tar",
    ),
    "bag-damaged/without-archive": Says(
        what="the bag holds no archive that could be taken in",
        why="it may be a sound bag, but it is not the export of an archive: data/archive.json is not there",
        next="take its files out, and add each to a carrier",
    ),
    "bag-damaged/archive-unclear": Says(
        what="the bag holds no archive that could be taken in",
        why="it may be a sound bag, but it is not the export of an archive: data/archive.json cannot be understood",
        next="take its files out, and add each to a carrier",
    ),
    "bag-damaged/algorithm": Says(why="{name:line} is of an algorithm that is not known here"),
    "bag-damaged/no-manifest": Says(why="there is no payload manifest of SHA-256 or SHA-512"),
    "bag-damaged/not-listed": Says(why="{path:line} is not listed in manifest-{algorithm}.txt"),
    "bag-damaged/lists-another": Says(why="a tag manifest lists {path:line}, another one"),
    "bag-damaged/no-declaration": Says(why="there is no bagit.txt, so this is no bag"),
    "bag-damaged/declaration": Says(why="bagit.txt does not declare BagIt 1.0 (or 0.97) and tag files in UTF-8"),
    "bag-damaged/large-tag-file": Says(why="{path:line} is larger than any of its kind needs to be"),
    "bag-damaged/manifest-line": Says(why="line {line} is not a digest and a path"),
    "bag-damaged/not-there": Says(why="{path:line 200}, which {manifest} lists, is not there"),
    "bag-damaged/listed-twice": Says(why="{path:line 200} is listed twice in {manifest}"),
    "bag-damaged/long-line": Says(why="a line of {name} is longer than {limit} bytes"),
    "bag-damaged/not-utf8": Says(why="{name} is not in UTF-8"),
    "bag-damaged/label": Says(why="line {line} of bag-info.txt is no label with its value"),
    "bag-damaged/oxum": Says(why="Payload-Oxum states {stated:line 60}, and {found} is there"),
    "bag-damaged/digest": Says(why="{path:line 200}: its {algorithm} is not the one in the manifest"),
    "bag-damaged/large-marker": Says(why="its archive.json is larger than any"),
    "bag-damaged/no-storage-root": Says(why="its carriers do not lie in an OCFL storage root as they should"),
    "bag-damaged/no-carrier": Says(why="{folder:line 200} is the folder of no carrier"),
    "bag-damaged/machine-and-carrier": Says(why="{id} is a machine in one archive and a carrier in the other"),
    # --- bag-unsafe ---
    "bag-unsafe/fetches": Says(
        what="the bag is not whole: it asks that files be fetched from elsewhere",
        why="it has a fetch.txt; this program never fetches anything",
        next="ask the sender for a bag that holds all of its files",
    ),
    "bag-unsafe/does-harm": Says(
        what="the bag is refused: it holds what no bag needs and what could do harm",
        why="{trouble}",
        next="nothing was taken in; ask the sender for a bag of plain files",
    ),
    "bag-unsafe/no-plain-file": Says(why="{path!r} is a link, pipe or device"),
    "bag-unsafe/became-another": Says(why="{path!r} became something else while it was read"),
    "bag-unsafe/differ-by-case": Says(why="{path!r} and {other!r} differ only by case or by the form of a letter"),
    "bag-unsafe/twice": Says(why="{path!r} is there twice, or as a file and as a folder"),
    "bag-unsafe/file-and-folder": Says(why="{path!r} is there as a file and as a folder"),
    "bag-unsafe/share-bytes": Says(why="its {members:plural member} share bytes, as no honest zip's do"),
    "bag-unsafe/other-form": Says(why="{name!r} stands there in another form: {other!r}"),
    "bag-unsafe/tar-header": Says(why="a header of the tar asks for {size} bytes, which no name needs"),
    "bag-unsafe/kind-in-tar": Says(why="{path!r} is {kind}"),
    "bag-unsafe/long-path": Says(why="the path {path!r} is longer or deeper than any of a bag"),
    "bag-unsafe/odd-name": Says(why="{path!r} is a name that not every system can store"),
    # --- not-found ---
    "not-found/file-of-carrier": Says(
        what="the carrier has no such file",
        why="{id} holds no {path:line}",
        next="look through the list of what is kept of the carrier",
    ),
    "not-found/source": Says(
        what="what it was made from is not there",
        why="{id} holds no image {digest}…",
        next="audit the archive: that tells whether something is missing",
    ),
}
