"""Photographs for pages: small enough to lie inside them.

With the library Pillow (`pip install 'imagekeeper[photos]'`) a small picture is made of a large one. It weighs more
than the rest of this program together, so it is not asked of everybody: without it, a picture of at most 300 KB lies on
the page as it is, and a larger one beside it.
"""

from __future__ import annotations

import base64
import io
import warnings

from imagekeeper.provenance.pictures import media_type

#: What every browser shows.
SHOWABLE = ("image/jpeg", "image/png", "image/gif", "image/webp")

#: The ending that a copy gets: by what it is, whatever its name says.
ENDINGS = {
    "image/jpeg": ".jpg", "image/png": ".png", "image/gif": ".gif", "image/webp": ".webp", "image/tiff": ".tif",
    "image/heif": ".heif", "image/heic": ".heic", "image/avif": ".avif",
}  # fmt: skip

#: A picture that is put on a page as it is, is not larger. [byte]
EMBEDDED_BYTES = 300 * 1000

#: The longer side of a small picture, enough for the print of a page. [pixel]
SIDE = 960

#: No photograph of a chip has more; a decoder that unpacks more may be under attack. [pixel]
PIXELS = 120_000_000


def data_uri(data: bytes) -> str | None:
    """Give a picture as it can lie on a page, or None where it cannot.

    Example:
        >>> data_uri(b"no picture") is None
        True
    """
    kind = media_type(data)
    if kind is None:
        return None
    small = _smaller(data) if len(data) > EMBEDDED_BYTES or kind not in SHOWABLE else None
    if small is not None:
        return _uri("image/jpeg", small)
    if kind in SHOWABLE and len(data) <= EMBEDDED_BYTES:
        return _uri(kind, data)
    return None


def _uri(kind: str, data: bytes) -> str:
    return f"data:{kind};base64,{base64.b64encode(data).decode()}"


def _smaller(data: bytes) -> bytes | None:
    """Make a small JPEG file, the right way up, without what the camera wrote into it (such as the place)."""
    try:
        from PIL import Image, ImageOps  # an extra that may be missing
    except ImportError:
        return None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")   # what it warns of is refused below
            with Image.open(io.BytesIO(data)) as opened:
                if opened.width * opened.height > PIXELS:
                    return None
                opened.draft("RGB", (SIDE, SIDE))
                upright = ImageOps.exif_transpose(opened).convert("RGB")
        upright.thumbnail((SIDE, SIDE))
        out = io.BytesIO()
        upright.save(out, "JPEG", quality=82, optimize=True)
    except Exception:   # a decoder meets a damaged picture: it has many ways to say so
        return None
    return out.getvalue()
