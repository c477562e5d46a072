"""gzip and zip around any other container, unpacked in memory within a limit."""

from __future__ import annotations

import zlib
from dataclasses import dataclass

from imagekeeper.addresses import Doubt
from imagekeeper.containers.unpacking import UNPACK_LIMIT, too_large
from imagekeeper.errors import InputError
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import MIB

#: How many wrappers may lie in each other.
MAX_DEPTH = 4

GZIP_MAGIC = b"\x1f\x8b\x08"   # RFC 1952, section 2.3.1: ID1, ID2, and the only compression method in use
ZIP_MAGICS = (b"PK\x03\x04", b"PK\x05\x06")   # a first member; an archive without members

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
    data: bytes, wrapper: str, *, member: str | None = None, keep_doubtful: bool = False, limit: int = UNPACK_LIMIT
) -> Unwrapped:
    """Unpack one wrapper.

    Args:
        data: The whole file.
        wrapper: `gzip` or `zip`.
        member: Which member of a zip; not needed when it has just one.
        keep_doubtful: Take what could be unpacked of a damaged gzip file.
        limit: What may come out. [byte]

    Raises:
        InputError: `wrapper-damaged`, `too-large`, `member-choice`.
        NotFoundError: `member-missing`.
    """
    if wrapper == "gzip":
        return _gunzip(data, keep_doubtful, limit)
    from imagekeeper.containers.zipped import unzip  # the library takes a while to load

    return Unwrapped(*unzip(data, member, limit))


def _gunzip(data: bytes, keep_doubtful: bool, limit: int) -> Unwrapped:
    """Unpack all members of a gzip file. Source: RFC 1952; section 2.2: members follow one another."""
    out = bytearray()
    rest: bytes = data
    trouble: Phrase | None = None
    proven = False   # what came out has the CRC that the file states
    while rest and trouble is None:
        rest, trouble = _inflate(rest, out, limit)
        rest = rest.lstrip(b"\0")   # tapes and block devices pad with zeros
        if rest and trouble is None and not rest.startswith(GZIP_MAGIC):
            trouble, proven = Phrase("wrapper-damaged/after-end", size=len(rest)), True
    if trouble is None:
        return Unwrapped(bytes(out), "gzip")
    if not keep_doubtful or not out:
        raise InputError("wrapper-damaged/gzip", trouble=trouble, unpacked=len(out))
    doubt = Doubt(start=0, length=0 if proven else len(out), code="wrapper-damaged", why=str(trouble))
    return Unwrapped(bytes(out), "gzip", doubts=(doubt,))


def _inflate(data: bytes, out: bytearray, limit: int) -> tuple[bytes, Phrase | None]:
    """Unpack one member into `out`; return what follows it, and what went wrong, with all before that kept."""
    engine = zlib.decompressobj(wbits=31)   # 31: gzip header and trailer, checked
    at, step = 0, 1 << 16
    while at < len(data):
        piece = data[at : at + step]
        before = engine.copy() if step > 1 else engine
        kept = len(out)
        try:
            out += engine.decompress(piece, MIB)
            while engine.unconsumed_tail:
                out += engine.decompress(engine.unconsumed_tail, MIB)
                if len(out) > limit:
                    raise too_large(limit)
        except zlib.error as problem:
            if step > 1:   # find the very byte, so that nothing before it is lost
                del out[kept:]
                engine, step = before, 1
                continue
            return b"", Phrase("wrapper-damaged/contradicts", says=str(problem))
        at += len(piece)
        if len(out) > limit:
            raise too_large(limit)
        if engine.eof:
            return engine.unused_data + data[at:], None
    return b"", Phrase("wrapper-damaged/ends-early", size=len(data))
