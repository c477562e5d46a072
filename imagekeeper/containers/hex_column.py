"""The text column of a listing: the same bytes as characters, which proves the hexadecimal column."""

from __future__ import annotations

from imagekeeper.containers.lines import Fault

#: What stands for a character that the machine cannot print.
_STAND_INS = frozenset(". ?_~·")

#: What a text column may be put between.
_FENCES = {"|": "|", ">": "<", "[": "]", "*": "*", "'": "'", '"': '"', "<": ">"}

_DOTTED = bytes(b if 0x20 <= b <= 0x7E else ord(".") for b in range(256))


def contradicts(byte: int, char: str) -> bool:
    """Whether a character cannot stand for a byte.

    Only printable bytes are judged. A machine without lower case may print a stand-in or the capital for it, and
    a blank may be marked; characters beyond ASCII may be a national variant. Common practice, no source.

    Example:
        >>> contradicts(0x41, "B"), contradicts(0x41, "A"), contradicts(0x61, "A"), contradicts(0xC1, "A")
        (True, False, False, False)
        >>> contradicts(0x41, "."), contradicts(0x61, ".")
        (True, False)
    """
    if not 0x20 <= byte <= 0x7E or ord(char) > 0x7E or char == chr(byte):
        return False
    if char in _STAND_INS:
        return 0x20 < byte < 0x60
    return byte == 0x20 or char.upper() != chr(byte).upper()


def bare(text: str, count: int) -> str:
    """Take a text column out of its fence, if it has one that leaves a character for each byte.

    Example:
        >>> bare("|AB|", 2), bare(">AB<  ", 2), bare("AB", 2), bare("| AB", 2), bare("|A", 2)
        ('AB', 'AB', 'AB', 'AB', '|A')
    """
    stripped = text.rstrip()
    if stripped and stripped[0] in _FENCES:
        if len(stripped) == count + 2 and stripped[-1] == _FENCES[stripped[0]]:
            return stripped[1:-1]
        if text[0] == "|" and len(stripped) > count:   # an open bar; the column may be in blanks
            inner = stripped[1:]
            return inner[1:] if inner.startswith(" ") and len(inner) > count else inner
    return text if len(text) <= count else stripped


def agrees(data: bytes, text: str) -> bool:
    """Whether a text is the text column of these bytes: a character for each, and none contradicts.

    Example:
        >>> agrees(b"AB", "AB"), agrees(b"AB", "|AB|"), agrees(b"AB", "ABC"), agrees(b"AB", "AC"), agrees(b"", "")
        (True, True, False, False, False)
    """
    chars = bare(text, len(data))
    if not data or len(chars) != len(data):
        return False
    return not any(map(contradicts, data, chars))


def column_fault(data: bytes, text: str, group_bytes: int, fenced: bool) -> Fault | None:
    r"""Compare the bytes of a line with its text column.

    A column that is longer than the line has bytes cannot be laid beside them and is not judged, unless a fence
    shows its ends; a shorter one may have lost blanks at its end and is judged as far as it goes.

    Args:
        data: The bytes.
        text: The column as it stands.
        group_bytes: How many bytes each group holds. [byte]
        fenced: Whether the listing's text columns have a fence.

    Example:
        >>> column_fault(b"AB", "|AC|", 1, True).why
        "byte 2 of the line is 42, 'B', its text column has 'C'"
        >>> column_fault(bytes([0x41, 1]), "|A.|", 1, True), column_fault(b"AB", "A", 1, False)
        (None, None)
    """
    chars = bare(text, len(data))
    if len(chars) == len(data) and chars.isascii() and chars.encode() == data.translate(_DOTTED):
        return None
    if len(chars) > len(data) or (fenced and len(chars) < len(data)):
        if not fenced or not text.strip():
            return None
        inside = text.strip()[1:]
        count = len(inside) - (inside[-1:] in _FENCES.values())
        return Fault("column-mismatch/length", at="", characters=count, bytes=len(data))
    for i, (byte, char) in enumerate(zip(data, chars, strict=False)):
        if contradicts(byte, char):
            turned = group_bytes > 1 and agrees(_turned(data, group_bytes), text)
            return Fault(
                "column-mismatch/low-byte-first" if turned else "column-mismatch",
                at="", number=i + 1, byte=byte, letter=chr(byte), found=char,
            )  # fmt: skip
    return None


def _turned(data: bytes, group_bytes: int) -> bytes:
    """Reverse the bytes of each group.

    Example:
        >>> _turned(b"BADC", 2)
        b'ABCD'
    """
    return b"".join(data[i : i + group_bytes][::-1] for i in range(0, len(data), group_bytes))
