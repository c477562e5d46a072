"""Work out a disk image, list its files, and save one of them.

    $ python look_into_disk.py office.img STATION.TXT
"""

import sys
from pathlib import Path

import imagekeeper

file, wanted = sys.argv[1:]
best = imagekeeper.solve(file).candidates[0]
print(f"{file} is {best.geometry}, {best.encoding}, most likely {best.format}")
with imagekeeper.open_disk(file) as disk:
    print(disk.says)
    for entry in disk.entries:
        print(f"  {entry.path}  {entry.size_bytes}  {entry.modified}")
    Path(wanted).write_bytes(disk.read(wanted))
print(f"saved: {wanted}, {Path(wanted).stat().st_size} bytes")
