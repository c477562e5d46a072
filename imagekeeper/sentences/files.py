"""Files: what is given, what is written, and the streams beside them."""

from imagekeeper.sentences.says import Says

SAYS: dict[str, Says] = {
    # --- usage ---
    "usage/output-without-name": Says(
        what="the output has no name",
        why="an empty name was given",
        next="name a file",
    ),
    "usage/stdin-not-here": Says(
        what="standard input cannot be used here",
        why="- stands for standard input",
        next="give a file",
    ),
    "usage/stdin-once": Says(
        what="standard input can be read only once",
        why="- was given {count} times",
        next="save it to a file first",
    ),
    "usage/two-outputs": Says(
        what="two outputs have one name",
        why="both would be {name}",
        next="give each a name of its own",
    ),
    "usage/output-to-stdout": Says(
        what="the output must be a file",
        why="- was given",
        next="name a file",
    ),
    # --- exists ---
    "exists/output": Says(
        what="there is already something at the output's place",
        why="{name} exists",
        next="give another name, or say that it is to be replaced",
    ),
    "exists/is-an-input": Says(
        what="the output is one of the inputs",
        why="{name} would be lost",
        next="give another name: a read is evidence, and is never replaced",
    ),
    "exists/folder": Says(
        what="the output is a folder",
        why="{name} is a folder, which is never replaced",
        next="give the name of a file",
    ),
    "exists/device": Says(
        what="the output is a pipe or device",
        why="{name} is a pipe or device, which is never replaced",
        next="give the name of a file",
    ),
    "exists/invented": Says(
        what="an invented file would take the place of another",
        why="{name} is there already",
        next="name a new or an empty folder; nothing was written",
    ),
    # --- cannot-write ---
    "cannot-write/output": Says(
        what="the output cannot be written",
        why="{trouble}",
        next="check that the folder exists, the permissions and the free space; nothing was left half written",
    ),
    "cannot-write/reads-back-otherwise": Says(
        what="the output does not read back as it was written",
        why="its SHA-256 should be {expected} and is {found}",
        next="do not trust the medium it lies on: write it elsewhere",
    ),
    # --- directory ---
    "directory": Says(
        what="a folder was given where a file is needed",
        why="{name} is a folder",
        next="give the file inside it",
    ),
    # --- cannot-read ---
    "cannot-read/shorter": Says(
        what="the file became shorter while it was read",
        why="it held {size:size} when it was opened, and ends at {end} now",
        next="wait until whatever writes it has finished, then try again",
    ),
    "cannot-read/file": Says(
        what="the file cannot be read",
        why="{trouble}",
        next="check the permissions and the medium it lies on",
    ),
    # --- not-a-file ---
    "not-a-file": Says(
        what="a pipe, socket or device was given where a file is needed",
        why="{name} has no size, so it can be neither measured nor read twice",
        next="save it to a file first, or give - and pipe it to standard input",
    ),
    # --- too-large ---
    "too-large/whole": Says(
        what="the input is too large to be taken whole",
        why="it is larger than {limit:size}",
        next="save it to a file: raw files of any size are read piece by piece",
    ),
    # --- not-found ---
    "not-found/file": Says(
        what="there is no such file",
        why="nothing is called {name}",
        next="check the spelling and the folder",
    ),
    "not-found/bad-name": Says(
        what="there is no such file",
        why="{trouble}",
        next="check the name",
    ),
}
