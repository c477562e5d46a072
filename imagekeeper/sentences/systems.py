"""File systems: how they are described by hand, and what is not found on a disk."""

from imagekeeper.sentences.says import Says

SAYS: dict[str, Says] = {
    # --- usage ---
    "usage/part-of-block": Says(
        what="that is no disk parameter block",
        why="{part:quoted 60} is none of its parts",
        next=(
            "give {parts:list} parted by commas, the 15 bytes of a block in hexadecimal, or a row of the table such as "
            "{row}"
        ),
    ),
    "usage/part-twice": Says(
        what="that is no disk parameter block",
        why="{name} is given twice",
        next="give it once",
    ),
    "usage/block-of-nothing": Says(
        what="that is no disk parameter block",
        why="the text says nothing",
        next="give for example block=1024,directory=64,reserved=2,skew=6",
    ),
    "usage/digits-of-block": Says(
        what="that is no disk parameter block",
        why="it has {digits} hexadecimal digits",
        next="a block has {block_bytes} bytes, which are {wanted} digits: give exactly these",
    ),
    "usage/shift-and-mask": Says(
        what="that is no disk parameter block",
        why="its block shift is {shift} and its block mask {mask}",
        next="look for the block at another place",
    ),
    "usage/no-number": Says(
        what="that is no disk parameter block",
        why="{name} would be {value:quoted 40}",
        next="give a number, as {name}=2",
    ),
    "usage/no-order": Says(
        what="that is no disk parameter block",
        why="{name} would be {value:quoted 40}",
        next="give sector numbers, as order=1/4/2/5/3",
    ),
    "usage/no-track": Says(
        what="that is no disk parameter block",
        why="{name} would be {value:quoted 40}",
        next="give sectors and their size, as track=26x128",
    ),
    "usage/no-word": Says(
        what="that is no disk parameter block",
        why="{name} would be {value:quoted 40}",
        next="give one of {known:list}",
    ),
    "usage/bytes-of-block": Says(
        what="that is no disk parameter block",
        why="a block would be {value}",
        next="it can be 1024, 2048, 4096, 8192 or 16384 bytes",
    ),
    "usage/records-of-track": Says(
        what="that is no disk parameter block",
        why="a track would be {value}",
        next="it can be 1 to 65535 records of 128 bytes",
    ),
    "usage/blocks-of-disk": Says(
        what="that is no disk parameter block",
        why="the disk would be {value}",
        next="it can be 1 to 65536 blocks, and no more than 256 of 1024 bytes",
    ),
    "usage/reserved-tracks": Says(
        what="that is no disk parameter block",
        why="the reserved tracks would be {value}",
        next="it can be 0 to 65535 tracks",
    ),
    "usage/entries-of-directory": Says(
        what="that is no disk parameter block",
        why="the directory would be {value}",
        next="it can be 1 to {most} entries, which are 16 blocks",
    ),
    "usage/extent-mask": Says(
        what="that is no disk parameter block",
        why="the extent mask would be {value}",
        next="it can be 0, 1, 3, 7 or 15, and no more than {most}",
    ),
    "usage/bytes-of-sector": Says(
        what="that is no disk parameter block",
        why="a sector would be {value}",
        next="it can be whole records, and a whole number of them on a track",
    ),
    "usage/mask-of-whole-entries": Says(
        what="that is no disk parameter block",
        why="the extent mask would be {value}, and entries would count all of their records",
        next="one byte counts no more than 256 records: the mask can be 0 or 1",
    ),
    "usage/skew-of-block": Says(
        what="that is no disk parameter block",
        why="the skew would be {value}",
        next="on {sectors} sectors it can be 1 to {most}",
    ),
    "usage/order-of-block": Says(
        what="that is no disk parameter block",
        why="the order of sectors would be {order}",
        next="give each of the numbers 1 to {sectors} once",
    ),
    "usage/directory-beyond-disk": Says(
        what="that is no disk parameter block",
        why="the directory would be larger than the disk",
        next="give fewer entries, or the true size of a block",
    ),
    "usage/sectors-unknown": Says(
        what="that is no disk parameter block",
        why="no format of the table has {size} bytes, so the sectors of a track are not known",
        next="say them too, as track=26x128",
    ),
    "usage/no-directory": Says(
        what="that is no disk parameter block",
        why="with what was said of it, no directory begins on this disk",
        next="say less, so that the rest is looked for; or say all of it: block, directory, reserved, skew, track",
    ),
    # --- exists ---
    "exists/no-folder": Says(
        what="the output is no folder",
        why="{name} is there and no folder",
        next="give the name of a folder",
    ),
    # --- unknown-name ---
    "unknown-name/code-page": Says(
        what="there is no code page {name!r} for names",
        why="no code of that name is known that holds ASCII unchanged",
        next="give one such as cp437, cp850, cp852, cp866, cp932 or latin-1",
    ),
    # --- not-found ---
    "not-found/no-file-system": Says(
        what="there are no files to take out",
        why="no file system is recognised on the disk",
        next="look at what is recognised on the disk",
    ),
    "not-found/on-disk": Says(
        what="nothing on the disk is called {name}",
        why="no file or directory fits that name",
        next="look through the list of names",
    ),
    "not-found/partition": Says(
        what="there is no partition {number}",
        why="the table has {have}",
        next="list the whole disk",
    ),
    "not-found/no-partitions": Says(
        what="there is no partition {number}",
        why="the disk has no partition table",
        next="look into the whole disk",
    ),
    "not-found/not-one-file": Says(
        what="{name:line} is not the name of one file",
        why="{files} files have it",
        next="give the path of one file, or its entry",
    ),
    "not-found/is-a-directory": Says(
        what="{name:line} is not the name of one file",
        why="it is a directory",
        next="give the path of one file, or its entry",
    ),
}
