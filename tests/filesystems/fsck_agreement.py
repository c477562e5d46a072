"""What fsck.fat of dosfstools reports of a damaged volume, and what of ours must stand beside it."""

from __future__ import annotations

import random
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

from .fat_volumes import Directory, File, Shape, Writer, shape_for

#: What a line of fsck.fat says, and the codes of which one must then be among ours.
MESSAGES = (
    (r"FATs differ|Both FATs|FATs appear", {"tables-differ"}),
    (r"Contains a (free|bad) cluster", {"chain-broken", "outside-volume"}),
    (r"Start cluster beyond limit|Bad start cluster|out of range", {"outside-volume", "chain-broken", "space-lost"}),
    (r"Circular cluster chain", {"chain-broken"}),
    (r"share clusters", {"space-shared", "chain-broken"}),
    (r"File size is", {"size-disagrees", "chain-broken", "outside-volume"}),
    (r"Start does point to", {"outside-volume", "directory-damaged", "space-shared", "chain-broken"}),
    (r"Directory has non-zero size", {"directory-damaged"}),
    (r"Bad short file name", {"name-damaged", "entry-damaged"}),
    (r"Duplicate directory entry", {"name-twice"}),
    (r"Reclaimed", {"space-lost"}),
    (r"Expected a valid|Invalid '\.|Is a dot", {"directory-damaged"}),
    (r"large number of bad entries", {"name-damaged", "directory-damaged"}),
    (r"long file name", {"name-damaged"}),
    (r"[Ll]abel", {"volume-header", "name-damaged", "entry-damaged"}),
    (r"Dirty bit", {"volume-header", "table-start"}),
)

SHAPES = (
    Shape(), Shape(cluster_sectors=1, fat_sectors=9, root_entries=224, total=2880, media=0xF0, track=18),
    shape_for(5000, cluster_sectors=1, root_entries=512, reserved=4), shape_for(900, cluster_sectors=4),
)  # fmt: skip


def sample(chance: random.Random) -> tuple[Shape, bytes]:
    """A sound volume with some files and directories."""
    shape = chance.choice(SHAPES)
    writer = Writer(shape, chance.randrange(1000) if chance.random() < 0.5 else None)

    def inside(depth: int) -> Iterator[File | Directory]:
        for number in range(chance.randrange(1, 9)):
            if depth < 3 and chance.random() < 0.25:
                yield Directory(b"D%d%d" % (depth, number) + b" " * 8, list(inside(depth + 1)))
            else:
                size = chance.choice([0, 1, 100, 512, 1024, 3000, 9000])
                yield File(b"F%03d    " % number + chance.choice([b"LOG", b"TXT", b"   "]), chance.randbytes(size))

    return shape, writer.write(list(inside(0)))


def damaged(chance: random.Random, shape: Shape, image: bytes) -> bytes:
    """Change some bytes, mostly where the file system keeps its own."""
    data = bytearray(image)
    table, length = shape.reserved * shape.sector, shape.fat_sectors * shape.sector
    for _ in range(chance.randrange(1, 6)):
        first, last = chance.choice(
            [
                (table, table + length), (shape.root_start, shape.root_start + 640), (table, shape.data_start),
                (shape.data_start, shape.data_start + min(60, shape.clusters) * shape.cluster_sectors * shape.sector),
            ]
        )  # fmt: skip
        at = chance.randrange(first, last)
        data[at] = chance.choice([0, 0xFF, chance.randrange(256), data[at] ^ 1 << chance.randrange(8)])
        if chance.random() < 0.1:
            many = min(chance.randrange(1, 512), len(data) - at)
            data[at : at + many] = chance.choice([bytes(many), b"\xf6" * many, chance.randbytes(many)])
    if chance.random() < 0.6:   # both copies alike, so that what is wrong in them is looked at
        data[table + length : table + 2 * length] = data[table : table + length]
    return bytes(data)


def fsck(program: str, image: Path, copy: int) -> list[str]:
    """The lines of fsck.fat that report something, with the copy of the FAT that it shall go by; 0 leaves it to it."""
    done = subprocess.run(
        [program, "-n", "-F", str(copy), str(image)], capture_output=True, check=False, env={"LC_ALL": "C"}
    )
    text = (done.stdout + done.stderr).decode("latin-1")
    return [line for line in text.splitlines() if any(re.search(pattern, line) for pattern, _ in MESSAGES)]
