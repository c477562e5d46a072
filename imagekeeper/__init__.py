"""Read, prove and keep the memory chips and floppy disks of old computers and instruments.

What stands in `__all__` is the public door: `import imagekeeper` is enough, and each name is loaded when it is first
used, so that nothing is paid for that is not needed. All else in the package may change at any time.
"""

from imagekeeper.version import __version__

TYPE_CHECKING = False   # type checkers know the name; `typing` itself would be half of the start of the command
if TYPE_CHECKING:   # what they and editors see; at run time `__getattr__` gives the same
    from imagekeeper.containers.model import Image
    from imagekeeper.door.archives import Archive
    from imagekeeper.door.chips import find_chip, list_chips, narrow_chip, plan_chip, substitute
    from imagekeeper.door.disk_files import open_disk
    from imagekeeper.door.disks import find_format, list_formats, match_drives, plan_disk, solve
    from imagekeeper.door.images import convert, encode, open_image, read
    from imagekeeper.door.reads import compare, fingerprint, hexdump, inspect, selfcheck, vote, vote_image
    from imagekeeper.door.showing import html, svg, text, to_json
    from imagekeeper.door.tables import check_rows, own_rows
    from imagekeeper.errors import (
        ArchiveError,
        ContradictionError,
        ImagekeeperError,
        InputError,
        NotFoundError,
        UsageError,
    )

#: Where each name of the door is defined.
_DOOR = {
    "containers.model": ("Image",),
    "door.archives": ("Archive",),
    "door.chips": ("find_chip", "list_chips", "narrow_chip", "plan_chip", "substitute"),
    "door.disk_files": ("open_disk",),
    "door.disks": ("find_format", "list_formats", "match_drives", "plan_disk", "solve"),
    "door.images": ("convert", "encode", "open_image", "read"),
    "door.reads": ("compare", "fingerprint", "hexdump", "inspect", "selfcheck", "vote", "vote_image"),
    "door.showing": ("html", "svg", "text", "to_json"),
    "door.tables": ("check_rows", "own_rows"),
    "errors": (
        "ArchiveError", "ContradictionError", "ImagekeeperError", "InputError", "NotFoundError", "UsageError",
    ),
}  # fmt: skip

__all__ = [
    "Archive",
    "ArchiveError",
    "ContradictionError",
    "Image",
    "ImagekeeperError",
    "InputError",
    "NotFoundError",
    "UsageError",
    "__version__",
    "check_rows",
    "compare",
    "convert",
    "encode",
    "find_chip",
    "find_format",
    "fingerprint",
    "hexdump",
    "html",
    "inspect",
    "list_chips",
    "list_formats",
    "match_drives",
    "narrow_chip",
    "open_disk",
    "open_image",
    "own_rows",
    "plan_chip",
    "plan_disk",
    "read",
    "selfcheck",
    "solve",
    "substitute",
    "svg",
    "text",
    "to_json",
    "vote",
    "vote_image",
]


def __getattr__(name: str) -> object:
    """Load a name of the door when it is first used (PEP 562)."""
    for module, names in _DOOR.items():
        if name in names:
            from importlib import import_module  # nothing of the door is loaded before somebody asks for it

            found = getattr(import_module(f"imagekeeper.{module}"), name)
            globals()[name] = found
            return found
    raise AttributeError(f"module 'imagekeeper' has no attribute {name!r}")


def __dir__() -> list[str]:
    """Name what the door gives."""
    return sorted(__all__)
