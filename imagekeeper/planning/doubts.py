"""What is written for good is written from certain bytes only."""

from __future__ import annotations

from imagekeeper.addresses import joined
from imagekeeper.containers.model import Image
from imagekeeper.errors import InputError, Where
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import address_digits, range_text


def refuse_doubts(image: Image, name: str) -> None:
    """Refuse an image of which a byte is doubtful, or the file as a whole: it must not go into a chip or onto a disk.

    Args:
        image: The image.
        name: The file that it came from.

    Raises:
        InputError: `doubtful`, with the line and the addresses of the first doubt that has some.

    Example:
        >>> refuse_doubts(Image.from_bytes(b"TIDE"), "u4.bin")
    """
    if not image.doubts:
        return
    first = next((one for one in image.doubts if one.length), image.doubts[0])
    places = [f"line {first.line}"] if first.line is not None else []
    if first.length:
        places.append(range_text(first.start, first.length, address_digits(image.end_address)))
    raise InputError(
        "doubtful", doubts=len(image.doubts), size=sum(span.length for span in joined(image.doubts)), first=first.why,
        places=places or [str(Phrase("doubtful/whole"))], where=Where(file=name, line=first.line),
    )  # fmt: skip
