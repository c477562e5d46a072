"""Read a whole archive again, name what is not as it was, and exit non-zero if anything is.

    $ imagekeeper archive init harbour --title "Harbour office"
    $ imagekeeper carrier add tg85-u4 --kind eprom --archive harbour
    $ python verify_archive.py harbour
"""

import sys

import imagekeeper

try:
    result = imagekeeper.Archive(sys.argv[1]).audit()
except imagekeeper.ImagekeeperError as problem:
    print(f"{problem.what}: {problem.why}\nnext: {problem.hint}", file=sys.stderr)
    sys.exit(problem.exit_code)
for one in (*result.damaged, *result.missing, *result.unexpected):
    print(f"{one.path}: {one.why}")
print(f"carriers: {result.carriers}, files: {result.files}, {'all well' if result.ok else 'not well'}")
sys.exit(result.exit_code)
