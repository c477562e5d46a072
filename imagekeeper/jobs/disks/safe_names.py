"""Names for files on this computer, made from names that a disk holds: safe everywhere, inside one folder."""

from __future__ import annotations

import re
import unicodedata

from imagekeeper.legible import UNSEEN

#: Names that some systems take for devices, whatever follows the dot. Source: Microsoft, "Naming Files, Paths, and
#: Namespaces".
_DEVICES = re.compile(r"(?:CON|CONIN\$|CONOUT\$|PRN|AUX|NUL|CLOCK\$|COM[0-9¹²³]|LPT[0-9¹²³])(?=\.|$)", re.IGNORECASE)

_FORBIDDEN = re.compile(r'[<>:"/\\|?*]')

#: No system refuses a name for being as long as this. [byte]
_LONGEST = 200


def safe_name(name: str) -> str:
    r"""Make one name safe: no path, no device, nothing that a terminal or another system trips over.

    Example:
        >>> safe_name("TIDE.LOG"), safe_name("..") , safe_name("a/b\x1b"), safe_name("NUL.TXT"), safe_name("?IDE.LOG")
        ('TIDE.LOG', '__', 'a_b_', 'NUL_.TXT', '_IDE.LOG')
        >>> safe_name("CONIN$"), safe_name("conout$.txt")
        ('CONIN$_', 'conout$_.txt')
    """
    text = unicodedata.normalize("NFC", _FORBIDDEN.sub("_", name))
    text = "".join(c if c.isprintable() and not UNSEEN.match(c) else "_" for c in text)
    kept = text.rstrip(". ")
    text = kept + "_" * (len(text) - len(kept))
    if text.startswith("-") or not text:
        text = "_" + text[1:]
    while len(text.encode()) > _LONGEST:
        text = text[: len(text) // 2]
    device = _DEVICES.match(text)
    return text[: device.end()] + "_" + text[device.end() :] if device else text


def another(name: str, number: int) -> str:
    """Give a name that is taken another form.

    Example:
        >>> another("TIDE.LOG", 2), another("README", 3)
        ('TIDE-2.LOG', 'README-3')
    """
    base, dot, ending = name.rpartition(".")
    return f"{base}-{number}.{ending}" if dot and base else f"{name}-{number}"
