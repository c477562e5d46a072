"""Walk an archive, and report every carrier whose image does not rest on independent reads.

    $ imagekeeper archive init harbour --title "Harbour office"
    $ imagekeeper carrier add tg85-u5 --kind eprom --archive harbour
    $ imagekeeper carrier read tg85-u5 u5-first.bin u5-second.bin --archive harbour
    $ imagekeeper carrier agree tg85-u5 --archive harbour
    $ imagekeeper carrier add tg85-u30 --kind ram --archive harbour
    $ python not_independent.py harbour
"""

import sys

import imagekeeper

archive = imagekeeper.Archive(sys.argv[1])
weak = 0
for carrier in archive.carriers():
    grade = carrier.agreed.grade if carrier.agreed else "not settled"
    if grade in ("independent", "corroborated"):
        continue
    weak += 1
    print(f"{carrier.id}: {grade}, {len(carrier.reads)} reads, last event: {carrier.events[-1].type}")
sys.exit(1 if weak else 0)
