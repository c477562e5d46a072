"""What gzip and zip have in common: the limit on what comes out, and what to say when it is passed."""

from __future__ import annotations

from imagekeeper.errors import InputError
from imagekeeper.units import MIB

#: What may come out of a wrapper. A 256 MiB image is 128 times the largest chip in these machines. [byte]
UNPACK_LIMIT = 256 * MIB


def too_large(limit: int) -> InputError:
    """Say that more came out of a wrapper than may."""
    return InputError("too-large/unpacked", limit=limit)
