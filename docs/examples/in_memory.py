"""Bytes alone, as in a notebook: nothing is read from a file or written to one.

    $ python in_memory.py
"""

import imagekeeper

program = bytes(range(256)) * 8
worn = bytearray(program)
worn[0x123] |= 0x10   # a cell that lost its charge

result = imagekeeper.compare(program, bytes(worn))
print(result.agree, [f"{one.start:04X}" for one in result.differences.ranges])

voted = imagekeeper.vote_image(program, program, worn)
print(voted.tobytes() == program)
print(imagekeeper.encode(voted, "s-record")[:40].decode())
print(imagekeeper.fingerprint(voted).crc32)
