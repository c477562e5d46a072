"""Which kind of picture a file is, by how it begins."""

from __future__ import annotations

#: What pictures begin with, and the media type that it means.
#: Sources: W3C, Portable Network Graphics; ITU-T T.81 with JFIF; Adobe, TIFF revision 6.0; RFC 9649 for WebP;
#: W3C, GIF89a; ISO/IEC 23008-12 for HEIF.
_SIGNATURES: tuple[tuple[int, bytes, str], ...] = (
    (0, b"\x89PNG\r\n\x1a\n", "image/png"),
    (0, b"\xff\xd8\xff", "image/jpeg"),
    (0, b"GIF87a", "image/gif"),
    (0, b"GIF89a", "image/gif"),
    (0, b"II*\0", "image/tiff"),
    (0, b"MM\0*", "image/tiff"),
    (8, b"WEBP", "image/webp"),
    (4, b"ftypheic", "image/heic"),
    (4, b"ftypmif1", "image/heif"),
    (4, b"ftypavif", "image/avif"),
)


def media_type(data: bytes) -> str | None:
    r"""Recognise a picture.

    Args:
        data: The file, or its first 16 bytes.

    Example:
        >>> media_type(b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"), media_type(b"TG85 STATION DISK")
        ('image/png', None)
    """
    return next((kind for at, mark, kind in _SIGNATURES if data[at : at + len(mark)] == mark), None)
