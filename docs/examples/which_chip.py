"""Tell which types of chip an image fills, and what can take the place of one of them.

    $ python which_chip.py u4-first.bin 27128
"""

import sys

import imagekeeper

file, part = sys.argv[1:]
image = imagekeeper.read(file)
fitting = imagekeeper.list_chips(size_bytes=image.size_bytes).chips
print(f"{image.size_bytes} bytes fill:", ", ".join(chip.id for chip in fitting if chip.carrier == "eprom"))

chip = imagekeeper.find_chip(part)
print(f"a {chip.id} has {chip.pins} pins, D0 at pin {chip.pin_of('D0')}")
for fit in imagekeeper.substitute(chip.id).fits:
    if fit.verdict in ("drops-in", "image-placed") and fit.whole and not fit.dangers:
        print(f"  {fit.part}: {fit.verdict}, {fit.technology}")
