"""Plan a new chip for a socket: the file for the programmer, and the sheet for the bench as a page.

    $ python burn_sheet.py u4-first.bin 27C256 27128
"""

import sys
from pathlib import Path

import imagekeeper

file, chip, socket = sys.argv[1:]
plan = imagekeeper.plan_chip(file, "u4-burn.hex", chip, socket=socket)
Path("u4-sheet.html").write_text(imagekeeper.html(plan), "utf-8")
print(f"{plan.output} for a {plan.chip}: sum {plan.after.sum16}, CRC-32 {plan.after.crc32}")
for caution in (plan.sheet.danger, *plan.sheet.cautions):
    if caution:
        print(f"  caution: {caution}")
for number, step in enumerate(plan.sheet.steps, 1):
    print(f"  {number}. {step}")
