"""What a file that nothing accounts for probably is, told from its name.

Source:
    Common practice, no source: the ways in which programs that keep folders in step, editors and desktops name
    the files they leave behind.
"""

from __future__ import annotations

import re

_PATTERNS: tuple[tuple[str, str], ...] = (
    (
        r"\([^)]*conflict[^)]*\)|[._ -](?:sync-)?conflict(?:ed)?(?:[-._ ]?copy)?[-._ ]|[-._ ]conflict(?:ed)?$",
        "a second copy made by a program that keeps folders in step, when two computers changed the same file",
    ),
    (
        r"\.(?:partial|part|filepart|download|incomplete|opdownload)$|^\.?#?partial[-._ ]|^\.[^/]+\.[A-Za-z0-9]{6}$",
        "a file whose transfer has not ended, or was cut off",
    ),
    (r"^~\$|^\.~lock\.|\.lock$|\.lck$", "the mark of a program that has a file open"),
    (r"\.(?:tmp|temp)$|^(?:tmp|temp)[-._]|^\.?~[^$]*|^\.(?:sync|tmp)[-._]", "a temporary file"),
    (r"~$|\.(?:bak|old|orig|swp|swo|save)$|^#.*#$", "an editor's own copy of a file"),
    (
        r"^(?:\.DS_Store|\._.+|Thumbs\.db|ehthumbs\.db|desktop\.ini|\.directory|\.localized|Icon\r?)$",
        "what a desktop notes about a folder",
    ),
    (r"^(?:Copy of .+|.+ - Copy(?: ?\(\d+\))?(?:\.[^.]*)?|.+ \(\d+\)(?:\.[^.]*)?|.+ copy(?: \d+)?(?:\.[^.]*)?)$",
     "a second copy, made by hand or by a program that found the name taken"),
)

_KNOWN = tuple((re.compile(pattern, re.IGNORECASE), words) for pattern, words in _PATTERNS)


def likely(name: str) -> str | None:
    """Say what a stray file or folder probably is, or None where its name tells nothing.

    Example:
        >>> likely("inventory (conflicted copy 2026-03-02).json")
        'a second copy made by a program that keeps folders in step, when two computers changed the same file'
        >>> likely("image.bin.partial"), likely("Thumbs.db"), likely("image.bin")
        ('a file whose transfer has not ended, or was cut off', 'what a desktop notes about a folder', None)
    """
    return next((words for pattern, words in _KNOWN if pattern.search(name[:1000])), None)


def explained(why: str, name: str) -> str:
    """Add what a stray probably is to why it is reported.

    Example:
        >>> explained("nothing accounts for it", "image.bin.tmp")
        'nothing accounts for it; by its name it is probably a temporary file'
    """
    words = likely(name)
    return why if words is None else f"{why}; by its name it is probably {words}"
