"""Write the fingerprints of all files in a tree as CSV; say on the error stream what cannot be read.

    $ python list_fingerprints.py .
"""

import csv
import sys
from pathlib import Path

import imagekeeper

table = csv.writer(sys.stdout, lineterminator="\n")
table.writerow(["file", "container", "bytes", "crc32", "sha1"])
for file in sorted(Path(sys.argv[1]).rglob("u*")):
    try:
        one = imagekeeper.fingerprint(file)
    except imagekeeper.ImagekeeperError as problem:
        print(f"{problem.where}: {problem.what}; {problem.why}", file=sys.stderr)
        continue
    table.writerow([one.name, one.container, one.size_bytes, one.crc32, one.sha1])
