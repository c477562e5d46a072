"""A person's own rows of the tables: what can be wrong with them, and what rests on them."""

from imagekeeper.sentences.says import Says

SAYS: dict[str, Says] = {
    # --- an answer rests on one ---
    "own-row": Says(
        why="this rests on your own {row} ({place}): {resting}",
        next="before anything depends on it, compare it with the data sheet, or with the thing itself",
    ),
    "own-row/corrects": Says(
        why=(
            "this rests on your own {row} ({place}), which corrects the table that comes with the program: "
            "{correcting}; {resting}"
        ),
        next="before anything depends on it, compare both values with the data sheet, or with the thing itself",
    ),
    "own-row/accepted": Says(
        why="this rests on the {row} of another archive ({place}; {told}): {resting}",
        next="before anything depends on it, compare it with the data sheet, or with the thing itself",
    ),
    "own-row/accepted-corrects": Says(
        why=(
            "this rests on the {row} of another archive ({place}; {told}), which corrects the table that comes with "
            "the program: {correcting}; {resting}"
        ),
        next="before anything depends on it, compare both values with the data sheet, or with the thing itself",
    ),
    "own-rows/added": Says(why="{member} is {value}, where the table has none"),
    "own-rows/changed": Says(why="{member} is {value} instead of {before}"),
    "own-rows/measured": Says(why="measured by {by} on {on}, {how} ({gives})"),
    "own-rows/documented": Says(why="by {document} ({gives})"),
    "own-rows/derived": Says(why="{gives} follows from {rule}"),
    "own-rows/memory": Says(why="from memory: {gives}"),
    # --- it cannot be used ---
    "own-row-wrong": Says(
        why="{row}: {trouble}",
        next="put it right in the file; until then the row counts for nothing, and all others do",
    ),
    "own-row-wrong/file": Says(
        why="{trouble}",
        next="put it right in the file; until then what cannot be read in it counts for nothing",
    ),
    "own-rows": Says(
        what="a row of another archive cannot be accepted",
        why="{row}: {trouble}",
        next="accept first what it builds on; where the row itself is wrong, ask whoever wrote it to put it right",
    ),
    "not-found/received-row": Says(
        what="no row from elsewhere has the mark {mark:quoted 40}",
        why="there are {known:list}",
        next="look at the list of own rows again: a mark has at least six digits",
    ),
    "usage/several-rows": Says(
        what="{mark:quoted 40} is the beginning of several marks",
        why="there are {rows:list}",
        next="give more digits",
    ),
    "exists/own-rows": Says(
        what="there is already something at the output's place",
        why="{name} exists, and rows that a person wrote are never replaced",
        next="give the name of a new file: all files of the folder count together",
    ),
    "own-rows/large": Says(why="it is larger than {limit:size}"),
    "own-rows/unread": Says(why="it cannot be read: {trouble}"),
    "own-rows/many-files": Says(why="there are more than {limit} files: only the first of them are read"),
    "own-rows/no-folder": Says(why="the folder that the environment names for own rows is not there"),
    "own-rows/not-utf8": Says(why="it is not UTF-8"),
    "own-rows/no-toml": Says(why="it is not TOML: {trouble}"),
    "own-rows/too-many-rows": Says(why="it has more than {limit} rows"),
    "own-rows/kind": Says(why="{kind:quoted 40} is no kind of row; those are {known:list}"),
    "own-rows/table-each": Says(why="each must be a table of its own: [[{kind}]]"),
    "own-rows/member": Says(why="{member} is no member of such a row; those are {known:list}"),
    "own-rows/missing": Says(why="{members:list and} is missing"),
    "own-rows/name": Says(why="{member} names the row: 1 to {limit} characters without blanks around them"),
    "own-rows/type": Says(why="{member} is {value}, and must be {wanted}"),
    "own-rows/list": Says(why="{member} must be a list, of at most {limit} entries"),
    "own-rows/table": Says(why="{member} must be a table of names and values"),
    "own-rows/tables": Says(why="{member} must be a list of tables, of at most {limit}"),
    "own-rows/volts": Says(
        why=(
            "{member} must be one figure, or {{ from = …, to = … }} with the lower first, {{ any = […] }} or "
            "{{ steps = […] }}"
        ),
    ),
    "own-rows/long": Says(why="{member} is longer than {limit} characters"),
    "own-rows/unseen": Says(why="{member} holds characters that are not seen, or a line feed: {value}"),
    "own-rows/range": Says(why="{member} is {value}, which no such thing has"),
    "own-rows/empty": Says(why="{member} says nothing"),
    "own-rows/date": Says(why="measured.on is {value}, and must be a day, a month or a year, such as 2026-03-02"),
    "own-rows/no-ground": Says(
        why="nothing says what {members:list and} rests on: name it in sources, derived, unsourced or measured",
    ),
    "own-rows/ground-twice": Says(
        why="{members:list and} stands in more than one of sources or measured, derived, and unsourced",
    ),
    "own-rows/ground-of-nothing": Says(why="grounds are given for {members:list and}, which the row does not have"),
    "own-rows/twice": Says(why="the file has it more than once, and nobody can tell which is meant"),
    "own-rows/in-two-files": Says(why="{other} has it too, and nobody can tell which is meant"),
    "own-rows/document": Says(
        why="the document {name:quoted 60} is described neither in this file, by [[source]], nor in our tables",
    ),
    "own-rows/unknown": Says(
        why="{member} {name:quoted 60} is in no table, and in no row of your own that can be used",
    ),
    "own-rows/other-chip": Says(why="{name:quoted 60} already stands for the {other}"),
    "own-rows/sense": Says(why="{trouble}"),
    "own-rows/no-answer": Says(why="no answer can be made with it: {trouble}"),
}
