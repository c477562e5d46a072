"""Tell which of my own drives writes a disk, and how to set it.

    $ imagekeeper archive init harbour --title "Harbour office"
    $ imagekeeper floppy bench add drive "grey box" --class 5.25-96tpi-hd-360 --archive harbour
    $ python which_drive.py "720K 5.25" harbour
"""

import sys

import imagekeeper

disk, archive = sys.argv[1:]   # an image, or the name of a format
match = imagekeeper.match_drives(disk, archive=archive)
print(match.says)
for own in match.bench.drives if match.bench else ():
    verdict = own.verdict
    print(f"{own.name}: reads it: {verdict.can_read}, writes it: {verdict.can_write}")
    if verdict.settings:
        print(f"  {verdict.settings.mode}, {verdict.settings.step} step")
    for caution in verdict.cautions:
        print(f"  caution: {caution.text}")
