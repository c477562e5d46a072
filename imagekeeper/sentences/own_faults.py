"""Checks of our own work that failed: faults of the program, which no file and no person is to blame for."""

from imagekeeper.sentences.says import Says

_REPORT_IT = "this is a fault of the program, not of your files: please report it, with the command and its input"

SAYS: dict[str, Says] = {
    "internal/no-carrier": Says(
        what="a record cannot be shown",
        why="it was put together without its carrier",
        next=_REPORT_IT,
    ),
    "internal/encoding": Says(
        what="the image was not encoded right, and was not written",
        why="{trouble}",
        next=_REPORT_IT,
    ),
    "internal/decoded-otherwise": Says(why="written as {kind} and decoded again, its bytes or addresses are others"),
    "internal/not-decoded": Says(why="written as {kind}, it cannot be decoded again: {trouble}"),
    "internal/segments": Says(
        what="an image was put together wrongly",
        why="its segment at {start:X} holds nothing, or does not lie behind the one before",
        next=_REPORT_IT,
    ),
    "internal/chance": Says(
        what="a chance cannot be worked out",
        why="{events} of {trials} at a confidence of {level}",
        next=_REPORT_IT,
    ),
    "internal/two-carriers": Says(
        what="a change of one carrier would be part of a change of another",
        why="the one is {id}, the other {other}",
        next=_REPORT_IT,
    ),
    "internal/finding": Says(
        what="a finding is none that can be",
        why="{key}, with a confidence of {chance}",
        next=_REPORT_IT,
    ),
    "internal/event": Says(
        what="an event has no known type, and was not recorded",
        why="it is {type!r}",
        next=_REPORT_IT,
    ),
    "internal/path": Says(
        what="a file cannot be kept under that path",
        why="{trouble}",
        next=_REPORT_IT,
    ),
    "internal/inventory": Says(
        what="the inventory was not written right, and nothing was changed",
        why="{trouble}",
        next=_REPORT_IT,
    ),
    "internal/record": Says(
        what="a record could not be read again, and was not written",
        why="{trouble}",
        next=_REPORT_IT,
    ),
    "internal/says-otherwise": Says(why="read again, it says something else"),
    "internal/name-of-page": Says(
        what="a page has a name that no report gives, and was not written",
        why="{name!r} could lie outside the folder",
        next=_REPORT_IT,
    ),
}
