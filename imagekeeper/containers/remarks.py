"""What is to be said of how a text was taken: the parity that it carried, and addresses that came several times."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from imagekeeper.containers.model import Image
from imagekeeper.containers.parity import Parity
from imagekeeper.errors import Where
from imagekeeper.findings import Finding


def parity_values(parity: Parity) -> dict[str, Any]:
    """Give what the sentences about a parity need."""
    return {"kind": parity.kind, "characters": parity.characters, "broken": parity.broken}


def remarks(image: Image, name: str = "") -> Iterator[Finding]:
    r"""Say how the text was taken that an image came from, where there is something to say.

    Args:
        image: The image.
        name: The file's name.

    Example:
        >>> from imagekeeper import containers
        >>> text = bytes(c | (c.bit_count() % 2) << 7 for c in b":0300300002337A1E\r\n:00000001FF\r\n")
        >>> [(found.code, found.detail["kind"]) for found in remarks(containers.read(text))]
        [('parity-stripped', 'even')]
    """
    where = Where(file=name) if name else Where()
    if image.parity is not None:
        values = parity_values(image.parity)
        if image.parity.broken:
            yield Finding.of("parity-stripped/broken", "warning", 1.0, where, detail=values)
        else:
            yield Finding.of("parity-stripped", "note", 1.0, where, detail=values)
    if image.repeats is not None:
        one = image.repeats
        yield Finding.of(
            "addresses-repeated", "warning" if one.differing else "note", 1.0, where,
            detail={"choice": one.choice, "again": one.again, "differing": one.differing, "first": one.first},
        )  # fmt: skip
