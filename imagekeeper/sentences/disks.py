"""Disks: formats, geometries, drives, sectors and tracks."""

from imagekeeper.sentences.says import Says

SAYS: dict[str, Says] = {
    # --- usage ---
    "usage/no-such-disk": Says(
        what="there is no such disk",
        why="its tracks, heads, data rate and rotation must be above 0",
        next="give the disk as it is, or name its format",
    ),
    "usage/nothing-to-merge": Says(
        what="there is nothing to merge",
        why="{reads:plural read was/reads were} given",
        next="give two or more reads of the disk",
    ),
    "usage/sizes-of-merge": Says(
        what="the reads have different sizes",
        why="the first has {first:size}, another {other:size}",
        next="bring them to one geometry first",
    ),
    "usage/layout": Says(
        what="the {thing} cannot be laid out",
        why="{trouble}",
        next="correct that number",
    ),
    "usage/track": Says(
        what="the track cannot be written",
        why="{trouble}",
        next="lay the track out for these sectors",
    ),
    "usage/facts-clash": Says(
        what="{first} and {second} exclude each other",
        why="no format of the table, and no track that a drive could hold, has both",
        next="leave one of them out and see what the other allows",
    ),
    "usage/no-floppy-disk": Says(
        what="no floppy disk has {fact}",
        why="{limits}",
        next="correct that number, or leave it out",
    ),
    "usage/nothing-to-solve": Says(
        what="there is nothing to solve from",
        why="neither a file, nor a size, nor any other fact was given",
        next="give a file, its size, or what you know, such as 9 sectors of 512 bytes",
    ),
    "usage/bench": Says(
        what="this cannot go on the bench",
        why="{trouble}",
        next="look at what is on the bench already; nothing was written",
    ),
    "usage/no-machine-drive": Says(
        what="the drive of the machine has no name",
        why="a trial says which two drives it was between",
        next="say it in your own words, such as drive A of the TG-85",
    ),
    "usage/one-of-two-reads": Says(
        what="one of the two files is missing",
        why="what was read can only be held against what was written",
        next="give both, or say which cylinders failed",
    ),
    "usage/nothing-seen": Says(
        what="nothing is said of how the disk was read",
        why="neither cylinders nor files were given, and silence is no proof",
        next="say that all cylinders were read, or which failed, or give the two files",
    ),
    "usage/all-and-not-all": Says(
        what="all cylinders cannot be read at once and not be",
        why="both was said",
        next="leave one of them out",
    ),
    "usage/cylinders": Says(
        what="this is no list of cylinders of that disk",
        why="{text:quoted 40} is none; they are numbered from 0 to {last}",
        next="such as 3, 37-39, or 37x3 for three more tries",
    ),
    "usage/not-the-disk": Says(
        what="the file is not of such a disk",
        why="it has {size:size}, and {disk} has {disk_size:size}",
        next="give the file that was written whole, or the format that it was written in",
    ),
    "usage/no-floppy-size": Says(
        what="an image of this size is of no floppy disk",
        why="it has {size} bytes",
        next="leave the order of sides alone",
    ),
    "usage/sides-without-geometry": Says(
        what="the order of sides cannot be changed without the geometry",
        why="no geometry of two sides has exactly the size of the image",
        next="give its geometry, such as 40x2x9x512",
    ),
    "usage/interleave-without-geometry": Says(
        what="the sectors cannot be put in order without the geometry",
        why="only the sectors of a hard disk are put in order, and the disk does not show how many a track has",
        next="give its geometry, such as 615x4x17x512",
    ),
    "usage/no-interleave": Says(
        what="there is no such interleave",
        why="{step} is not from 1 to {sectors} less one, the sectors of a track",
        next="give how many places on the next number stands, such as 3",
    ),
    "usage/map-without-geometry": Says(
        what="there is no map without a geometry",
        why="the disk does not show it",
        next="give its geometry, such as 80x2x9x512",
    ),
    "usage/merge-of-strangers": Says(
        what="the reads cannot be merged",
        why="they differ in more than {limit} places",
        next="compare them first: they are hardly reads of one disk, or of one geometry",
    ),
    "usage/lists-of-merge": Says(
        what="the lists of bad sectors do not fit the reads",
        why="{lists:plural list} for {paths:plural read}",
        next="give one for every read in order, and - for a read without one",
    ),
    "usage/merge-without-geometry": Says(
        what="the sectors cannot be told apart",
        why="the first read does not show the geometry of the disk",
        next="give its geometry, such as 80x2x9x512",
    ),
    "usage/no-such-number": Says(
        what="there is no such {thing}",
        why="{value} is not between {least} and {most}",
        next="correct that number",
    ),
    "usage/format-of-stdin": Says(
        what="the format must be named",
        why="standard input is read once, and cannot be looked at first",
        next="name it, or give a file",
    ),
    "usage/sectors-beyond-track": Says(
        what="{sectors} sectors of {size} bytes do not fit {track}",
        why=(
            "with marks and IDs ({overhead} bytes each) they need {wanted} bytes even without gaps: {over} bytes too "
            "many for the {track_bytes} of {best}"
        ),
        next="correct the sectors (at most {most} fit), their size, or how the track is recorded",
    ),
    "usage/track-of": Says(why="a track of {facts:list and}"),
    "usage/any-track": Says(why="any floppy's track"),
    "usage/shape-below-size": Says(
        what="{shape} and {size} exclude each other",
        why="{shape} is {whole:size}, {by} bytes less",
        next="leave one of them out and see what the other allows",
    ),
    "usage/shape-above-size": Says(
        what="{shape} and {size} exclude each other",
        why="{shape} is {whole:size}, {by} bytes more",
        next="leave one of them out and see what the other allows",
    ),
    "usage/limits-of-count": Says(why="floppy disks have {least} to {most}"),
    "usage/limits-of-size": Says(why="sizes are {sizes:list}"),
    "usage/that-encoding": Says(why="encoding {name!r}"),
    "usage/limits-of-encoding": Says(why="encodings are {names:list}"),
    "usage/limits-of-rate": Says(why="rates are 125 to 1000 kbit/s"),
    "usage/limits-of-rotation": Says(why="drives turn at 300 or 360 rev/min"),
    "usage/limits-of-inch": Says(why="disks are 8, 5.25, 3.5 or 3 inch"),
    "usage/limits-of-holes": Says(why="beside the index hole there are {holes:list or} sector holes"),
    "usage/that-image-size": Says(why="a size of {size} bytes"),
    "usage/limits-of-image-size": Says(why="an image has at least one byte"),
    "usage/layout-of-few": Says(why="{value} is not one of {known:list}"),
    "usage/layout-between": Says(why="{value} is not between {least:g} and {most:g}"),
    "usage/track-too-short": Says(why="its layout needs {over} bytes more than the track has"),
    "usage/track-sectors": Says(why="there are {sectors} sectors for a layout of {wanted}"),
    "usage/track-id": Says(why="the ID {id} is not four bytes"),
    "usage/track-data": Says(why="sector {sector} holds {size} bytes, the layout {wanted}"),
    "usage/track-mark": Says(why="sector {sector} begins with a mark that {recording} does not have"),
    # --- unknown-name ---
    "unknown-name/bench": Says(
        what="the bench holds no such thing",
        why="{kind!r} is not one of {known:list}",
        next="name one of these",
    ),
    "unknown-name/disk": Says(
        what="there is no such disk",
        why="{name!r} is not one of {known:list}",
        next="take one of these",
    ),
    "unknown-name/recording": Says(
        what="there is no such way to record a track",
        why="{name!r} is not one of them",
        next="name one of {known:list}",
    ),
    # --- does-not-fit ---
    "does-not-fit/bad-sectors": Says(
        what="the list of bad sectors does not fit the disk",
        why="it names {place}, and the geometry is {geometry}",
        next="look whether the list belongs to this disk, or give the disk's geometry",
    ),
    "does-not-fit/not-read-too-much": Says(
        what="too much of the disk was not read",
        why="the list names more than {limit} stretches apart from each other",
        next="clean and read the disk again: of such a read nothing can be relied on; it can be kept without its list",
    ),
    "does-not-fit/bad-sectors-unplaced": Says(
        what="the bad sectors cannot be placed",
        why="the geometry of the disk is not known",
        next="give its geometry, such as 615x4x17x512",
    ),
    "does-not-fit/larger-than-disk": Says(
        what="the image is larger than the disk",
        why="it has {size:size}, and {disk} holds {disk_size:size}",
        next="solve the image's geometry to see what it is; fitting it to the disk's leaves out an end of fill",
    ),
    # --- empty ---
    "empty/disk": Says(
        what="the image holds no bytes",
        why="its size is 0",
        next="read the disk again, or fetch the file",
    ),
    "unknown-name/on-bench": Says(
        what="there is no {kind} {name:quoted 60} on the bench",
        why="there are: {known:list}",
        next="give one of these, or look at the bench",
    ),
    # --- bench-form ---
    "bench-form": Says(
        what="the bench file cannot be understood",
        why="{trouble}",
        next="correct bench.toml in the archive's folder",
    ),
    "bench-form/not-utf8": Says(
        what="the bench file cannot be understood",
        why="it is not UTF-8: {trouble}",
        next="save it as UTF-8",
    ),
    "bench-form/no-toml": Says(why="it is not TOML: {trouble}"),
    "bench-form/kind": Says(why="{kind:quoted 40} is not one of {known:list}"),
    "bench-form/name-twice": Says(why="{name!r} is there twice: give each thing a name of its own"),
    "bench-form/table-each": Says(why="write each {kind} as a table of its own: [[{kind}]]"),
    "bench-form/member": Says(why="{entry}: {member:quoted 40} is not one of {known:list}"),
    "bench-form/note": Says(why="{entry}: its {member} is no text"),
    "bench-form/missing": Says(why="{entry}: its {member} is missing or no text"),
    "bench-form/class": Says(why="{entry}: its class {name:quoted 40} is not one of {known:list}"),
    "bench-form/speeds": Says(why="{entry}: its speeds are no list of revolutions per minute, such as [300, 360]"),
    "bench-form/count": Says(why="{entry}: its count is no number of disks"),
    "bench-form/not-of-class": Says(why="{entry}: its {member} must be of {known:list}, as {name} may have them"),
    "bench-form/fm": Says(why="{entry}: its fm is neither true nor false"),
    "bench-form/fm-of-class": Says(
        why="{entry}: its fm cannot be so, for all of class {name} are alike in that: see which class it is of",
    ),
    "bench-form/wrote": Says(why="{entry}: its wrote is not one of {known:list}"),
    "bench-form/day": Says(why="{entry}: {day:quoted 40} is no day such as 2026-03-02"),
    "bench-form/cylinders": Says(why="{entry}: its cylinders are no number from 1 to {most}"),
    "bench-form/failed": Says(why="{entry}: its failed is no list of cylinders from 0 to {last}"),
    "bench-form/retried": Says(
        why="{entry}: its retried is no list of pairs, a cylinder from 0 to {last} and how often it was tried again",
    ),
    # --- table-form ---
    "table-form/head-of-sectors": Says(
        what="the list of bad sectors cannot be understood",
        why="its first line is {head:quoted 60}",
        next="begin it with cylinder,head,sector,state, or for stretches in bytes with start,length,state",
    ),
    "table-form/many-sectors": Says(
        what="the list of bad sectors cannot be understood",
        why="it has more than {limit} sectors",
        next="look whether it is a list",
    ),
    "table-form/no-csv": Says(
        what="the list of bad sectors cannot be understood",
        why="{trouble}",
        next="save it as plain CSV",
    ),
    "table-form/no-place": Says(
        what="the list of bad sectors cannot be understood",
        why="{row:quoted 60} does not begin with three numbers",
        next="such as 39,1,9,bad",
    ),
    "table-form/no-stretch": Says(
        what="the list of bad sectors cannot be understood",
        why="{row:quoted 60} does not begin with a start and a length above 0, in bytes",
        next="such as 8704,1024,missing",
    ),
    "table-form/no-state": Says(
        what="the list of bad sectors cannot be understood",
        why="there is no state {state:quoted 30}",
        next="give one of {known:list}",
    ),
    # --- drive-unknown ---
    "drive-unknown": Says(
        what="there is no such drive",
        why="{drive:quoted 60} is neither on the bench nor a class of drives",
        next="{at_hand}the classes are: {classes:list}",
    ),
    "drive-cannot/never": Says(
        what="drive {drive:quoted 60} and this disk never met",
        why="{disk}: {because}",
        next="see whether the drive or the format is meant",
    ),
    "drive-unknown/on-bench": Says(why="on the bench are: {drives:list}; "),
    # --- drive-cannot ---
    "drive-cannot": Says(
        what="drive {drive} cannot write this disk",
        why="{disk}: {because}",
        next="{could}; match the drives to the disk to see more",
    ),
    "drive-cannot/other-recording": Says(
        what="there is no sheet for this disk",
        why=(
            "{format} ({title}) is no disk that a controller for soft-sectored FM or MFM writes with all tracks alike; "
            "{disk}"
        ),
        next=(
            "write it with the controller of its machine, or with an instrument that writes flux changes; if it is "
            "another disk of the same size, name that format"
        ),
    ),
    "drive-cannot/sectoring": Says(why="the disk to take for it has {holes} sector holes"),
    "drive-cannot/soft": Says(why="its tracks are another controller's"),
    "drive-cannot/misfit": Says(why="it does not fit"),
    "drive-cannot/others": Says(why="these could: {drives:list}"),
    "drive-cannot/no-other": Says(why="no drive of the table could"),
    # --- format-unknown ---
    "format-unknown": Says(
        what="there is no such disk format in the table",
        why="{name} is not one of its names",
        next="look through the list of formats, or solve the geometry of the disk's image",
    ),
    "format-unknown/several": Says(
        what="the name may mean several formats",
        why="{name} can be any of: {formats:list}",
        next="name one of them, such as {first}",
    ),
    "format-unknown/other-recording": Says(
        what="that disk is of another recording",
        why="{name} is no disk that a controller for soft-sectored FM or MFM writes with all tracks alike",
        next="see in the list of formats how it is recorded, and use the controller of its machine",
    ),
    "format-unknown/of-file": Says(
        what="the file is of no format of the table",
        why="{found}",
        next="solve its geometry to see what it may be; then name the format that is nearest",
    ),
    "format-unknown/uncertain": Says(
        what="it is not certain what disk this is",
        why="{found}",
        next="name it; solving the file's geometry shows what it may be{same}",
    ),
    "format-unknown/of-this-size": Says(why="; of this size are: {same:list}"),
    "format-unknown/size-of-disk": Says(
        what="the file does not show which of some disks it is of: their size or speed differs",
        why="it can be any of: {formats:list}",
        next="name one of them",
    ),
    "format-unknown/no-file-either": Says(why=", and there is no such file"),
    "format-unknown/near-others": Says(
        what="there is no such disk format in the table",
        why="{name} is not one of its names",
        next="near it are: {near:list}; or look through the list of formats, or solve the geometry of the disk's image",
    ),
    "format-unknown/size-alone": Says(
        what="it is not certain what disk this is",
        why="only the size of the image speaks for {format}: what is on the disk speaks {speaks}",
        next="look at the label and the machine, and name the format; of this size are: {same:list}{tells}",
    ),
    "format-unknown/tells": Says(why=". {tells}"),
    "format-unknown/for-several": Says(why="no more for one format of this size than for another"),
    "format-unknown/for-none": Says(why="for no format"),
}
