"""gzip and zip around any other container, unpacked in memory within a limit."""

from __future__ import annotations

import zlib
from dataclasses import dataclass

from imagekeeper import budget
from imagekeeper.addresses import Doubt
from imagekeeper.errors import InputError
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import MIB

#: How many wrappers may lie in each other.
MAX_DEPTH = 4

GZIP_MAGIC = b"\x1f\x8b\x08"   # RFC 1952, section 2.3.1: ID1, ID2, and the only compression method in use
ZIP_MAGICS = (b"PK\x03\x04", b"PK\x05\x06")   # a first member; an archive without members

#: A gzip file is unpacked in pieces: a member may end within the first, and the library copies what follows it. [byte]
_FIRST, _PIECE = 1 << 8, 1 << 16


@dataclass(frozen=True)
class Unwrapped:
    """What lay inside.

    Attributes:
        data: The bytes.
        wrapper: `gzip` or `zip`.
        member: Name of the zip member, printable; None for gzip.
        doubts: What was wrong with the wrapper, when doubtful input is kept; with a length where the bytes that came
            out may be wrong: then all that is read from them is.
    """

    data: bytes
    wrapper: str
    member: str | None = None
    doubts: tuple[Doubt, ...] = ()


def wrapper_of(head: bytes) -> str | None:
    r"""Name the wrapper that a file's first bytes announce.

    Example:
        >>> wrapper_of(b"PK\x03\x04...."), wrapper_of(b":00000001FF")
        ('zip', None)
    """
    if head.startswith(GZIP_MAGIC):
        return "gzip"
    if head.startswith(ZIP_MAGICS):
        return "zip"
    return None


def unwrap(
    data: bytes, wrapper: str, *, member: str | None = None, keep_doubtful: bool = False
) -> Unwrapped:
    """Unpack one wrapper, within the budget in force.

    Args:
        data: The whole file.
        wrapper: `gzip` or `zip`.
        member: Which member of a zip; not needed when it has just one.
        keep_doubtful: Take what could be unpacked of a damaged gzip file.

    Raises:
        InputError: `wrapper-damaged`, `too-large`, `too-much-work`, `member-choice`.
        NotFoundError: `member-missing`.
    """
    if wrapper == "gzip":
        return _gunzip(data, keep_doubtful)
    from imagekeeper.containers.zipped import unzip  # the library takes a while to load

    return Unwrapped(*unzip(data, member))


def _gunzip(data: bytes, keep_doubtful: bool) -> Unwrapped:
    """Unpack all members of a gzip file. Source: RFC 1952; section 2.2: members follow one another."""
    out = bytearray()
    at = 0
    trouble: Phrase | None = None
    proven = False   # what came out has the CRC that the file states
    while at < len(data) and trouble is None:
        at, trouble = _inflate(data, at, out)
        at = _behind_padding(data, at)
        if at < len(data) and trouble is None and not data.startswith(GZIP_MAGIC, at):
            trouble, proven = Phrase("wrapper-damaged/after-end", size=len(data) - at), True
    if trouble is None:
        return Unwrapped(bytes(out), "gzip")
    if not keep_doubtful or not out:
        raise InputError("wrapper-damaged/gzip", trouble=trouble, unpacked=len(out))
    doubt = Doubt(start=0, length=0 if proven else len(out), code="wrapper-damaged", why=str(trouble))
    return Unwrapped(bytes(out), "gzip", doubts=(doubt,))


def _behind_padding(data: bytes, at: int) -> int:
    """Pass over the zeros with which tapes and block devices pad."""
    while at < len(data) and not data[at]:
        piece = data[at : at + _PIECE]
        at += len(piece) - len(piece.lstrip(b"\0"))
    return at


def _inflate(data: bytes, at: int, out: bytearray) -> tuple[int, Phrase | None]:
    """Unpack the member that begins at a place into `out`; return where it ends, and what went wrong.

    All that came before the trouble is kept. The file is given to the library in small pieces, since it copies what
    lies behind the end of a member.
    """
    allowed = budget.current()
    engine = zlib.decompressobj(wbits=31)   # 31: gzip header and trailer, checked
    start, step = at, _FIRST
    while at < len(data):
        piece = data[at : at + step]
        before = engine.copy() if step > 1 else engine
        kept = len(out)
        try:
            out += engine.decompress(piece, MIB)
            while engine.unconsumed_tail and len(out) - kept <= allowed.unpacked_left:
                out += engine.decompress(engine.unconsumed_tail, MIB)
        except zlib.error as problem:
            if step > 1:   # find the very byte, so that nothing before it is lost
                del out[kept:]
                engine, step = before, 1
                continue
            return len(data), Phrase("wrapper-damaged/contradicts", says=str(problem))
        allowed.unpack(len(out) - kept)
        at += len(piece)
        if engine.eof:
            return at - len(engine.unused_data), None
        step = min(4 * step, _PIECE) if step > 1 else 1
    return len(data), Phrase("wrapper-damaged/ends-early", size=len(data) - start)
