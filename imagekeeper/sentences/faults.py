"""What the program finds wrong with its own work."""

from imagekeeper.sentences.says import Says

REPORT_IT = (
    "this is a fault of the program, not of your files: please report it, with the command and its input"
)

SAYS: dict[str, Says] = {
    # --- internal ---
    "internal/path": Says(
        what="a file cannot be kept under that path",
        why="{trouble}",
        next=REPORT_IT,
    ),
    "internal/inventory": Says(
        what="the inventory was not written right, and nothing was changed",
        why="{trouble}",
        next=REPORT_IT,
    ),
    "internal/chance": Says(
        what="a chance cannot be worked out",
        why="{events} of {trials} at a confidence of {level}",
        next=REPORT_IT,
    ),
    "internal/segments": Says(
        what="an image was put together wrongly",
        why="its segment at {at:X} holds nothing, or does not lie behind the one before",
        next=REPORT_IT,
    ),
    "internal/encoded": Says(
        what="the image was not encoded right, and was not written",
        why="{trouble}",
        next=REPORT_IT,
    ),
    "internal/page": Says(
        what="a page has a name that no report gives, and was not written",
        why="{name:quoted 80} could lie outside the folder",
        next=REPORT_IT,
    ),
    "internal/event": Says(
        what="an event has no known type, and was not recorded",
        why="it is {type!r}",
        next=REPORT_IT,
    ),
    "internal/finding": Says(
        what="a finding is none that can be",
        why="{key}, with a confidence of {sure}",
        next=REPORT_IT,
    ),
    "internal/says-something-else": Says(why="read again, it says something else"),
    "internal/decodes-otherwise": Says(why="written as {kind} and decoded again, its bytes or addresses are others"),
    "internal/does-not-decode": Says(why="written as {kind}, it cannot be decoded again: {trouble}"),
}
