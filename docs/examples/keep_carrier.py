"""Begin an archive, keep two reads of a chip in it, settle its image, and say what would make the evidence better.

    $ python keep_carrier.py harbour u4-first.bin u4-second.hex
"""

import sys

import imagekeeper

folder, *reads = sys.argv[1:]
archive = imagekeeper.Archive.create(folder, title="Harbour office", operator="Ann")
archive.add_carrier("tg85-u4", "eprom", part="27128", machine="Quillmere TG-85", position="U4")
for number, read in enumerate(reads, 1):
    archive.add_reads("tg85-u4", read, reader=f"reader {number}")
result = archive.agree("tg85-u4")
print(f"{result.id} is {result.agreed.grade}")
print(result.agreed.because)
print(f"next: {result.agreed.raise_by}")
