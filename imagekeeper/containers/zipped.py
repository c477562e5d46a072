"""zip around an image: one member, unpacked in memory by the standard library."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib

from imagekeeper import budget
from imagekeeper.errors import InputError, NotFoundError, Where
from imagekeeper.jsonable import one_line
from imagekeeper.units import MIB

#: Methods that are unpacked: stored and deflate. Others let a few bytes become gigabytes in one step, before any limit
#: is looked at. Source of the numbers: PKWARE, APPNOTE.TXT 6.3.10, section 4.4.5.
_METHODS = (0, 8)
_OTHER_METHODS = {9: "deflate64", 12: "bzip2", 14: "LZMA", 93: "Zstandard", 95: "XZ", 98: "PPMd"}

#: Whatever the library may raise for a file that is not as it should be.
_ZIP_FAULTS = (
    zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, NotImplementedError,
    struct.error, ValueError, OverflowError, KeyError, IndexError,
)  # fmt: skip


def unzip(data: bytes, member: str | None) -> tuple[bytes, str, str]:
    """Unpack one member of a zip file, by name; nothing is ever written under a member's name.

    Returns:
        Its bytes, the word `zip`, and its name made printable.

    Raises:
        InputError: `wrapper-damaged`, `too-large`, `too-much-work`, `member-choice`.
        NotFoundError: `member-missing`.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            chosen = _choose(archive, member)
            shown = one_line(chosen.filename)
            if chosen.flag_bits & 1:
                raise InputError("wrapper-damaged/encrypted", where=Where(member=shown))
            if chosen.compress_type not in _METHODS:
                name = _OTHER_METHODS.get(chosen.compress_type, f"method {chosen.compress_type}")
                raise InputError("wrapper-damaged/other-method", method=name, where=Where(member=shown))
            pieces, allowed = [], budget.current()
            with archive.open(chosen) as file:
                while piece := file.read(MIB):
                    pieces.append(piece)
                    allowed.unpack(len(piece))
            return b"".join(pieces), "zip", shown
    except _ZIP_FAULTS as problem:
        raise InputError(
            "wrapper-damaged/zip", trouble=one_line(str(problem)) or type(problem).__name__
        ) from problem  # fmt: skip


def _choose(archive: zipfile.ZipFile, member: str | None) -> zipfile.ZipInfo:
    files = [info for info in archive.infolist() if not info.is_dir()]
    names = [one_line(info.filename) for info in files]
    listed = ", ".join(names[:10]) + (f" and {len(names) - 10} more" if len(names) > 10 else "")
    if not files:
        raise NotFoundError("member-missing/none")
    if member is None:
        if len(files) == 1:
            return files[0]
        raise InputError("member-choice/several", members=listed)
    matches = [info for info, name in zip(files, names, strict=True) if member in (name, info.filename)]
    if not matches:
        raise NotFoundError("member-missing/no-such", member=member, members=listed)
    if len(matches) > 1:
        raise InputError("member-choice/same-name", count=len(matches), member=member)
    return matches[0]
