"""What is wrong with a file system: with its tables, its directories and its files."""

from imagekeeper.sentences.says import Says

#: How many more there are of what is told one by one.
MORE = Says(
    why="{more} more of the kind were found",
    next="mend, or copy again, what is named first",
)

#: How many more there are of what a directory shows.
MANY = Says(
    why="there are {more} more of this kind",
    next="so many speak for a wrong parameter block: look at the other candidates",
)

SAYS: dict[str, Says] = {
    # --- volume-cut-short ---
    "volume-cut-short/blocks": Says(
        why=(
            "{blocks:plural block} are {wanted:size}, and the image has {there} behind the reserved tracks; "
            "{files:plural file} lie beyond its end"
        ),
        next="read the disk again, or look for another number of blocks",
    ),
    "volume-cut-short/missing": Says(
        why="the volume states {size:plural byte}, and {missing_bytes} of them are not there",
        next="read the disk again to its end, or look whether the image belongs to a smaller format",
    ),
    "volume-cut-short/more": MORE,
    "volume-cut-short/many": MANY,
    # --- volume-header ---
    "volume-header/sector": Says(why="a sector of {sector} bytes: it should be a power of two from 128 to 4096"),
    "volume-header/cluster": Says(why="a cluster of {cluster} sectors: it should be a power of two from 1 to 128"),
    "volume-header/no-reserved": Says(why="no reserved sector, although this one is"),
    "volume-header/tables": Says(why="{fats} FATs: there should be 2, at least 1"),
    "volume-header/no-root": Says(why="a root directory without entries"),
    "volume-header/no-sectors": Says(why="a disk of 0 sectors"),
    "volume-header/totals": Says(why="two totals that differ: {small} and {large} sectors"),
    "volume-header/media": Says(why="a media byte of {media:02X}: it should be F0, or F8 to FF"),
    "volume-header/no-table": Says(why="a FAT of 0 sectors"),
    "volume-header/sectors-a-track": Says(why="{sectors} sectors a track: it should be 1 to 255, as IDs can count"),
    "volume-header/heads": Says(why="{heads} heads: a floppy disk has 1 or 2"),
    "volume-header/beyond-end": Says(why="FATs and root directory end at sector {used}, the disk has {total}"),
    "volume-header/small-table": Says(why="a FAT for {held} clusters, where the disk has {clusters}"),
    "volume-header/no-whole-cylinders": Says(why="{total} sectors are no whole cylinders of {heads} x {sectors}"),
    "volume-header/kind": Says(
        why="the boot sector calls itself {stated}, and {clusters:plural cluster} make it FAT{bits}",
        next="where the files make no sense, the number of sectors or their share of a cluster is damaged",
    ),
    "volume-header/room": Says(
        why="the FAT has room for {last:plural cluster}, and the volume states {clusters}",
        next="the boot sector is damaged, or the volume was enlarged; clusters without an entry are not read",
    ),
    "volume-header/field": Says(
        why="the boot sector states {trouble}",
        next="the volume was read as far as the rest allows; compare with another read",
    ),
    "volume-header/copy": Says(
        why="the copy of the boot sector, in sector {sector} of the volume, is another than the first",
        next="the first one was used; compare the two in hexadecimal, or read the disk again",
    ),
    "volume-header/no-info": Says(
        why="sector {sector} of the volume should count its free clusters, and has not the marks of such a sector",
        next="nothing is lost: the clusters were counted; the sector was read or written wrongly",
    ),
    "volume-header/free": Says(
        why="the volume says that {stated:plural cluster is/clusters are} free, and {counted} are",
        next="a volume that was not closed properly leaves this; the figure is only a help to the system",
    ),
    "volume-header/not-closed": Says(
        why="a flag in the boot sector says that the volume was not closed properly",
        next="expect lost clusters and sizes that disagree",
    ),
    "volume-header/labels": Says(
        why="the label in the boot sector is {in_block}, in the root directory {in_root}",
        next="systems show the one in the root directory",
    ),
    "volume-header/more": MORE,
    # --- tables-differ ---
    "tables-differ": Says(
        why="{entries:plural entry/entries} of FAT 1 and FAT {other} differ, from cluster {first} on; {judged}",
        next="read the disk again: one of the copies was read or written wrongly",
    ),
    "tables-differ/equal": Says(
        why="both explain the files equally well ({contradictions:plural contradiction}): the first is used",
    ),
    "tables-differ/one-remains": Says(
        why=(
            "copy {copy} is likelier right and is used: with it {better:plural contradiction} remains, with the other "
            "{worse}"
        ),
    ),
    "tables-differ/likelier": Says(
        why=(
            "copy {copy} is likelier right and is used: with it {better:plural contradiction} remain, with the other "
            "{worse}"
        ),
    ),
    "tables-differ/more": MORE,
    # --- table-start ---
    "table-start/first": Says(
        why="the first entry of the FAT is {found}, and should be {wanted}",
        next="compare the FAT with its copy; the files are read all the same",
    ),
    "table-start/second": Says(
        why="the second entry of the FAT is {found}, which is no end mark",
        next="compare the FAT with its copy; the files are read all the same",
    ),
    "table-start/flags": Says(
        why="the second entry of the FAT says {flags:list and}",
        next="expect lost clusters and sizes that disagree",
    ),
    "table-start/not-closed": Says(why="that the volume was not closed properly"),
    "table-start/drive-errors": Says(why="that the drive had errors"),
    "table-start/more": MORE,
    # --- space-lost ---
    "space-lost": Says(
        why="{clusters:plural cluster} in {runs:plural chain}: marked used, and no file uses them",
        next="they hold {size:size}: files that were never closed, or whose records are lost",
    ),
    "space-lost/more": MORE,
    # --- space-shared ---
    "space-shared/files": Says(
        why="{first} and {second} share {clusters:plural cluster}, from {first_cluster} on",
        next="at most one of them is right: compare what they hold with what they should",
    ),
    "space-shared/block": Says(
        why="block {block} belongs to {names:list}{rest}",
        next=(
            "only one of them has its own bytes there: look at each; where many are shared, the parameter block is "
            "wrong"
        ),
    ),
    "space-shared/rest": Says(why=" and {count} more"),
    "space-shared/more": MORE,
    "space-shared/many": MANY,
    # --- chain-broken ---
    "chain-broken": Says(
        why="{path}: its chain {does} ({leads_to}){after}",
        next="read the disk again and compare the reads; what the chain gives up to there is kept",
    ),
    "chain-broken/after": Says(why=" after {clusters:plural cluster}"),
    "chain-broken/end": Says(why="ends as it should"),
    "chain-broken/free": Says(why="leads to a cluster that is marked free"),
    "chain-broken/bad": Says(why="leads to a cluster that is marked bad"),
    "chain-broken/outside": Says(why="leads to a cluster that the volume does not have"),
    "chain-broken/loop": Says(why="leads back into itself"),
    "chain-broken/more": MORE,
    # --- size-disagrees ---
    "size-disagrees/part": Says(
        why="part {part} of {name} counts {records} of {entry_records} records, though more parts follow",
        next="some programs write files with gaps; otherwise a part is damaged",
    ),
    "size-disagrees/blocks": Says(
        why="{name} counts {records:plural record}, which need {needed:plural block}, and {but}",
        next="a program that was stopped leaves this; where many files have it, the parameter block is wrong",
    ),
    "size-disagrees/hole": Says(
        why="{name} counts {records:plural record}, and {blocks:plural block} of them lies nowhere: the number is 0",
        next="some programs write files with gaps, which are given as 00; otherwise the entry is damaged",
    ),
    "size-disagrees/more-named": Says(why="names {more} more"),
    "size-disagrees/last-nowhere": Says(why="the last of them has no place"),
    "size-disagrees/less": Says(
        why="{path}: its size of {size_bytes:plural byte} needs {needed:plural cluster}, and its chain has {clusters}",
        next="its end is missing: read the disk again",
    ),
    "size-disagrees/more-clusters": Says(
        why="{path}: its size of {size_bytes:plural byte} needs {needed:plural cluster}, and its chain has {clusters}",
        next="the file is given as long as its size says; more may lie in the clusters behind",
    ),
    "size-disagrees/more": MORE,
    "size-disagrees/many": MANY,
    # --- outside-volume ---
    "outside-volume/block": Says(
        why="{name} names block {block}, and the last block is {last}",
        next="the entry is damaged, or the disk has more blocks than was assumed",
    ),
    "outside-volume/partition": Says(
        why="partition {partition} ends at byte {end}, and the image has {size}",
        next="the image may be cut short, or the table damaged; read the disk again",
    ),
    "outside-volume/chain": Says(
        why="{path}: its chain {does} ({leads_to}){after}",
        next="read the disk again and compare the reads; what the chain gives up to there is kept",
    ),
    "outside-volume/more": MORE,
    "outside-volume/many": MANY,
    # --- too-scattered ---
    "too-scattered/files": Says(
        why="the files lie in more than {limit} pieces: those of the last ones are left out",
        next="no system leaves so many: the file allocation table is damaged; compare its copies",
    ),
    "too-scattered/space": Says(
        why="free space lies in more than {limit} pieces: the rest is counted, and not listed",
        next="look whether the copies of the file allocation table differ",
    ),
    "too-scattered/more": MORE,
    # --- directory-damaged ---
    "directory-damaged/too-many": Says(
        why="there are more than {entries} entries: the rest is left out",
        next="the directories are damaged; look at their sectors in hexadecimal",
    ),
    "directory-damaged/too-many-of-all": Says(
        why="the volumes before this one hold {entries} entries and more: this one is left out",
        next="look into its partition alone",
    ),
    "directory-damaged/left-out": Says(
        why="{path}: its content is left out: {because}",
        next="two directories cannot hold the same; look at their sectors in hexadecimal",
    ),
    "directory-damaged/no-cluster": Says(
        why="{path}: a directory without a cluster",
        next="look at its record in hexadecimal",
    ),
    "directory-damaged/behind-end": Says(
        why="{path}: it stands behind the end of its directory, and is listed",
        next="an entry before it was damaged; no system will show this one",
    ),
    "directory-damaged/size": Says(
        why="{path}: a directory that states a size ({size})",
        next="directories state 0; the rest of the record may be damaged too",
    ),
    "directory-damaged/root": Says(why="the root directory"),
    "directory-damaged/dot": Says(why="it does not begin with the record {name}"),
    "directory-damaged/dots": Says(why="it does not have as second the record {name}"),
    "directory-damaged/dot-kind": Says(why="its record {name} is no directory"),
    "directory-damaged/dot-cluster": Says(why="its record {name} leads to cluster {found} and should to {wanted}"),
    "directory-damaged/dot-size": Says(why="its record {name} states a size"),
    "directory-damaged/beginning": Says(
        why="{path}: {trouble}",
        next="it may be no directory, or one whose beginning was overwritten",
    ),
    "directory-damaged/behind": Says(
        why="{path}: {records:plural record} behind its end that are not empty, and no files",
        next="look at them in hexadecimal; old content of the cluster may show there",
    ),
    "directory-damaged/deep": Says(why="it lies more than {limit} directories deep"),
    "directory-damaged/first-shared": Says(why="its first cluster was read as that of another directory already"),
    "directory-damaged/part-shared": Says(why="a part of it was read as that of another directory already"),
    "directory-damaged/more": MORE,
    # --- entry-damaged ---
    "entry-damaged": Says(
        why="{name} states {stated:list}",
        next="compare the entry with another read of the disk; the rest of the directory can be used",
    ),
    "entry-damaged/labels": Says(
        why="there is more than one label of the volume",
        next="the first is used",
    ),
    "entry-damaged/label": Says(
        why="the label {label} states clusters or a size, as a file does",
        next="it may be a file whose attributes are damaged: its clusters show as lost",
    ),
    "entry-damaged/mark": Says(
        why="entry {entry} begins with {mark:02X}, which is no user area and no mark",
        next="compare the entry with another read of the disk; the rest of the directory can be used",
    ),
    "entry-damaged/stamps": Says(
        why="entry {entry} holds time stamps, whose place is each fourth entry",
        next="compare the entry with another read of the disk; the rest of the directory can be used",
    ),
    "entry-damaged/extent": Says(why="the extent {high:02X}{low:02X}, beyond 1F and 3F"),
    "entry-damaged/records": Says(why="{records} records, more than an extent has"),
    "entry-damaged/attributes": Says(
        why="{path}: its attributes, {attributes:02X} and {flags:02X}, have bits that mean nothing",
        next="the record may be damaged; some systems keep things of their own there",
    ),
    "entry-damaged/more": MORE,
    "entry-damaged/many": MANY,
    # --- extent-missing ---
    "extent-missing": Says(
        why="{name} has {parts:plural part}, the last is number {last}: {missing} are missing",
        next="some programs write files with gaps; otherwise look among the deleted entries",
    ),
    "extent-missing/many": MANY,
    # --- extent-twice ---
    "extent-twice": Says(
        why="the directory has part {part} of {name} in user area {user} again",
        next="both are given as files of the same name: compare them, and keep both",
    ),
    "extent-twice/many": MANY,
    # --- extent-order ---
    "extent-order": Says(
        why="the parts of {name} stand in entries {entries}",
        next="nothing needs to be done: free entries were used again",
    ),
    "extent-order/entries": Says(why="{numbers:list}{more}"),
    "extent-order/many": MANY,
    "extent-order/and-more": Says(why=" and more"),
    # --- name-damaged ---
    "name-damaged": Says(
        why="{path}: its name {trouble}",
        next="the exact bytes are in the listing as JSON; look whether more of the record is damaged",
    ),
    "name-damaged/entry": Says(
        why="entry {entry} is named {letters}: some of it is no letter of a name",
        next="some programs write small letters and blanks on purpose; otherwise correct the copy",
    ),
    "name-damaged/label": Says(
        why="the label of the volume holds bytes that no label can have",
        next="look at it in hexadecimal",
    ),
    "name-damaged/long": Says(
        why="{path}: a long name before {before} cannot be used: {trouble}",
        next="the short name is used instead",
    ),
    "name-damaged/end": Says(why="the end of the directory"),
    "name-damaged/controls": Says(why="holds control characters"),
    "name-damaged/forbidden": Says(why="holds characters that names cannot have"),
    "name-damaged/spaces": Says(why="has spaces inside"),
    "name-damaged/foreign": Says(why="is mostly beyond ASCII: damage, or another language"),
    "name-damaged/of-no-file": Says(why="it belongs to no file"),
    "name-damaged/numbers": Says(why="its parts are not numbered as they should be"),
    "name-damaged/other-sum": Says(why="its check sum is that of another name"),
    "name-damaged/states-cluster": Says(why="its parts state a first cluster or a type, which they should not"),
    "name-damaged/more": MORE,
    "name-damaged/many": MANY,
    # --- name-twice ---
    "name-twice": Says(
        why="{path}: its directory has this name twice",
        next="systems find only the first; extracting gives both, the second under another name",
    ),
    "name-twice/more": MORE,
    # --- found-not-told ---
    "found-not-told/no-table": Says(
        why="the first sector holds no partition table; {volumes:plural volume was/volumes were} found without one",
        next="read the first track again; what was found can be listed and taken out meanwhile",
    ),
    "found-not-told/volume": Says(
        why=(
            "partition {partition}, {title}, was found by its boot sector at byte {byte}; no table tells of it. For it "
            "speak: {because:list}"
        ),
        next="hold what it lists against what you know of the disk before you rely on it",
    ),
    "found-not-told/table": Says(
        why=(
            "partition {partition}, {title}, at byte {byte}: only a table that nothing leads to tells of it, and "
            "nothing there is recognised. For it speak: {because:list}"
        ),
        next="read the sectors at its beginning again",
    ),
    "found-not-told/more-volumes": Says(
        why="more was found than the {offered} that are offered",
        next="look at the sectors between them in hexadecimal: they may be files that hold images of disks",
    ),
    "found-not-told/more": MORE,
    # --- sectors-shifted ---
    "sectors-shifted/later": Says(
        why="the volume at byte {byte} lies {count:plural sector} later than it should: so many too many are before it",
        next="read the disk again: the reader gave something twice, or put in what the disk does not have",
    ),
    "sectors-shifted/earlier": Says(
        why=(
            "the volume at byte {byte} lies {count:plural sector} earlier than it should: so many are missing before it"
        ),
        next="read the disk again: the reader left out what it could not read, instead of filling its place",
    ),
    "sectors-shifted/within": Says(
        why=(
            "between byte {first} and byte {last} {count:plural sector is/sectors are} {too}: what lies before is in "
            "its place ({before:plural mark}), and what lies behind is not ({behind:plural mark})"
        ),
        next="read these tracks again; files behind them are read from the wrong sectors until then",
    ),
    "sectors-shifted/size": Says(
        why=(
            "the image has {size} bytes, which are no whole tracks of {track:plural sector}: {count:plural sector is/"
            "sectors are} {too}, and nothing in it shows where"
        ),
        next="read the disk again; files behind that place would be wrong",
    ),
    "sectors-shifted/too-many": Says(why="too many"),
    "sectors-shifted/missing": Says(why="missing"),
    "sectors-shifted/more": MORE,
    # --- sectors-interleaved ---
    "sectors-interleaved/in-one-image": Says(
        why=(
            "the FATs do not stand where they should; taken with an interleave of {interleave} on tracks of "
            "{sectors:plural sector} they do, and {equal:plural sector} of both copies are equal"
        ),
        next="look into it with that interleave, or have the reader put the sectors in order",
    ),
    "sectors-interleaved/more": MORE,
    # --- head-silent ---
    "head-silent": Says(
        why=(
            "head {head} of {geometry} gave nothing but {fill} in {cylinders:plural cylinder}, in {between} of which "
            "the heads beside it gave content"
        ),
        next=(
            "look at the cable and the lines that select a head, then read again; files that touch its tracks are "
            "wrong until then"
        ),
    ),
    "head-silent/more": MORE,
    # --- unread-perhaps ---
    "unread-perhaps": Says(
        why="{sectors:plural sector} of {paths:list} hold nothing but {fill}, {place}: perhaps they were not read",
        next="look at the list of the reader, and read them again; give it the list to have the files marked",
    ),
    "unread-perhaps/tracks": Says(
        why=(
            "{sectors:plural sector} of {paths:list} hold nothing but {fill}, {place}, which is whole tracks: perhaps "
            "they were not read"
        ),
        next="look at the list of the reader, and read them again; give it the list to have the files marked",
    ),
    "unread-perhaps/at-byte": Says(why="from byte {byte} on"),
    "unread-perhaps/at-place": Says(why="from {first} to {last}"),
    "unread-perhaps/more-stretches": Says(
        why="more stretches are filled than the {limit} that are named",
        next="read the disk again; with so many, nothing on it should be relied on",
    ),
    "unread-perhaps/file": Says(
        why="{path}: {bytes:plural byte} in whole sectors of nothing but {fill} over and over, first at {place}",
        next=(
            "formatting leaves that, and a reader that got nothing: read these sectors again; where the file was never "
            "written there, it is right"
        ),
    ),
    "unread-perhaps/more": MORE,
    # --- partition-damaged ---
    "partition-damaged/overlap": Says(
        why="partitions {first} and {second} overlap",
        next="at most one of them is right: see which holds a file system that makes sense",
    ),
    "partition-damaged/circle": Says(
        why="the chain of logical partitions leads back into itself",
        next="what was found up to there is listed; look at the sectors of the chain in hexadecimal",
    ),
    "partition-damaged/beyond": Says(
        why="the chain of logical partitions leads to sector {sector}, which the image does not have",
        next="partitions behind it are not found; read the disk again",
    ),
    "partition-damaged/no-table": Says(
        why="the chain of logical partitions leads to sector {sector}, which has no table",
        next="what lies behind it is known only as far as it was found by itself; read the disk again",
    ),
    "partition-damaged/more": MORE,
    "partition-damaged/many-partitions": Says(
        why="there are more than {limit:plural logical partition}",
        next="what was found up to there is listed; look at the sectors of the chain in hexadecimal",
    ),
    # --- bad-sector-in-file ---
    "bad-sector-in-file": Says(
        why="{path}: {sectors:plural bad sector}, {places:list}",
        next="read these sectors again, or take the file from another copy",
    ),
    "bad-sector-in-file/at-byte": Says(why="at byte {at} ({state})"),
    "bad-sector-in-file/at-place": Says(why="{place} ({state})"),
    "bad-sector-in-file/and-more": Says(why="{place} and more"),
    "bad-sector-in-file/more": MORE,
    # --- division-undecided ---
    "division-undecided": Says(
        why="taken was a {title}; a {runner_up} gives other files, and its evidence is behind by {behind} only",
        next=(
            "look at a text file of each; say what is known of the disk: from its manual, or from the system's program"
        ),
    ),
    "division-undecided/unusual": Says(
        why="the best explanation is a {title}, and that is unusual: {unusual:list}",
        next="look at a text file; say what is known of the disk: from its manual, or from the system's program",
    ),
    # --- bad-sector-in-system ---
    "bad-sector-in-system": Says(
        why="{area}: {sectors:plural bad sector}, {places:list}",
        next="what is listed may be wrong: read these sectors again, or use the copy of the FAT",
    ),
    "bad-sector-in-system/more": MORE,
}
