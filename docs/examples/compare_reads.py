"""Compare every two reads of a chip in a folder, and say what makes them differ.

    $ python compare_reads.py . "u5-*"
"""

import sys
from itertools import combinations
from pathlib import Path

import imagekeeper

folder, pattern = sys.argv[1:]
for first, second in combinations(sorted(Path(folder).glob(pattern)), 2):
    result = imagekeeper.compare(first, second)
    verdict = "agree" if result.agree else f"differ in {result.differences.bytes} bytes"
    print(f"{first.name} and {second.name}: {verdict}")
    for finding in result.findings:
        print(f"  {finding.why}: {finding.hint}")
