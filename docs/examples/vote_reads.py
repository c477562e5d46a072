"""Vote over three reads, write the majority as Intel HEX, and list what was disputed.

    $ python vote_reads.py u5.hex u5-first.bin u5-second.bin u5-third.bin
"""

import sys

import imagekeeper

output, *reads = sys.argv[1:]
result = imagekeeper.vote(*reads, output=output, to="intel-hex")
print(f"{result.disputed.addresses} of {result.size_bytes} bytes were disputed, {result.disputed.ties} stay so")
for one in result.list[:3]:
    print(f"  {one.address:04X}: {' '.join(one.values)}, so {one.voted}")
print(f"written: {result.output}" if result.output else "nothing was written")
sys.exit(result.exit_code)
