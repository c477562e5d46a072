"""A listing as characters: free of what a terminal leaves in its log, cut into lines, lines cut into groups."""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator

#: A CR LF or lone CR. At most two CRs are taken together: some terminal logs hold CR CR LF.
_LINE_END = re.compile(rb"\r{1,2}\n|\r")

#: The cursor moved right: blanks, as far as the text goes. ECMA-48, 5th edition, June 1991, 8.3.20 (CUF).
_CURSOR_RIGHT = re.compile(rb"\x1b\[([0-9]{0,3})C")

#: Control sequences, control strings and escape sequences. ECMA-48, 5th edition, 5.4 and 5.6; ECMA-35 for the last.
_ESCAPES = re.compile(
    rb"\x1b\[[0-?]{0,64}[ -/]{0,8}[@-~]"
    rb"|\x1b[]P_^X][^\x07\x1b\r\n]{0,4096}(?:\x07|\x1b\\)"
    rb"|\x1b[ -/]{0,8}[0-~]"
)

#: Controls that move nothing on the page; NUL, XON (11), XOFF (13) and the end-of-file mark 1A among them.
_MUTE = bytes({*range(0x20), 0x7F} - {0x08, 0x09, 0x0A, 0x0B, 0x0C})
_CONTROLS = re.compile(rb"[\x00-\x09\x0b-\x1f\x7f]")
_PAPER = bytes.maketrans(b"\x0b\x0c", b"  ")

#: The time of day that terminal programs put before each line of a log.
_TIME = re.compile(
    r"^ ?\[?(?:[0-9]{4}-[0-9]{2}-[0-9]{2}[ T])?[0-9]{2}:[0-9]{2}:[0-9]{2}(?:[.,][0-9]{1,9})?\]? +", re.MULTILINE
)

#: What may lie between two groups: blanks, or a dash with or without blanks.
GROUP = re.compile(r"([ -]*+)([0-9A-Fa-f]++)(?![^ |-])")
_RUNS = {w: re.compile(rf"(?:[ -]*+[0-9A-Fa-f]{{{w}}}(?![^ |-]))*+") for w in (2, 4, 8, 16)}
_DIGITS = re.compile(r"[0-9A-Fa-f]+")

#: A line stands for its neighbour, repeated: an asterisk, or dots.
REPEAT = re.compile(r" *(?:\*|\.\.\.|…) *")


def clean(text: bytes) -> str:
    r"""Remove what a terminal or a transfer leaves in a listing; every line keeps its number.

    Control sequences, NULs, XON and XOFF vanish, a backspace lets the next character replace the one before it,
    tabs become two blanks, and all line ends become LF.

    Example:
        >>> clean(b"\xef\xbb\xbf0000:\t3E\x1b[0m 02\b1\r\n\x11\n0010: 40\r")
        '0000:  3E 01\n\n0010: 40\n'
    """
    for mark, encoding in (
        (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"), (codecs.BOM_UTF8, None),
    ):  # fmt: skip
        if text.startswith(mark):
            text = text[len(mark) :]
            if encoding:
                text = text.decode(encoding, "replace").encode("utf-8", "replace")
            break
    if _CONTROLS.search(text):
        if text.count(b"\n\r") > text.count(b"\r\n"):   # some monitors send LF CR
            text = text.replace(b"\n\r", b"\n")
        text = _LINE_END.sub(b"\n", text)
        if b"\x1b" in text:
            text = _CURSOR_RIGHT.sub(lambda m: b" " * int(m[1] or 1), text)
            text = _ESCAPES.sub(b"", text)
        text = text.translate(_PAPER, _MUTE)
        if b"\b" in text:
            text = b"\n".join(_overstruck(line) if b"\b" in line else line for line in text.split(b"\n"))
        text = text.replace(b"\t", b"  ")
    try:
        decoded = text.decode("utf-8")
    except UnicodeDecodeError:
        decoded = text.decode("latin-1")
    if not decoded.isascii():
        decoded = decoded.replace("\xa0", " ").replace("\u2013", "-")
    return _TIME.sub("", decoded)


def _overstruck(line: bytes) -> bytes:
    r"""Let the characters after a backspace take the place of those before it.

    Example:
        >>> _overstruck(b"30\b1 4\b \b")
        b'31  '
    """
    seen = bytearray()
    at = 0
    for char in line:
        if char == 8:
            at = max(at - 1, 0)
        else:
            seen[at : at + 1] = bytes([char])
            at += 1
    return bytes(seen)


def lines_of(text: str, start: int = 0, most: int | None = None) -> Iterator[str]:
    r"""Give the lines one after the other, without a list of them all.

    Args:
        text: Cleaned text.
        start: Where in the text to begin.
        most: At most so many lines; None for all.

    Example:
        >>> list(lines_of("one\n\ntwo")), list(lines_of("one\n")), list(lines_of("one\ntwo", most=1))
        (['one', '', 'two'], ['one'], ['one'])
    """
    while start < len(text) and most != 0:
        end = text.find("\n", start)
        if end < 0:
            end = len(text)
        yield text[start:end]
        start = end + 1
        if most is not None:
            most -= 1


def sample_lines(text: str, stretches: int = 64, length: int = 64) -> Iterator[tuple[int, str]]:
    r"""Give lines from everywhere in the text, in stretches; lines that follow each other have numbers that do.

    A text of moderate size is given whole.

    Example:
        >>> list(sample_lines("a\nb\nc"))
        [(0, 'a'), (1, 'b'), (2, 'c')]
        >>> [number for number, _ in sample_lines("0000 41\n" * 99_000, stretches=2, length=2)]
        [0, 1, 3, 4]
    """
    if len(text) <= 256 * 1024:
        yield from enumerate(lines_of(text))
        return
    number = past = 0
    for i in range(stretches):
        start = len(text) * i // stretches
        start = text.find("\n", start) + 1 if i else 0
        if start < past or (i and start == 0):
            continue   # a line longer than the distance between two stretches
        past = start
        for line in lines_of(text, start, length):
            yield number, line
            number += 1
            past += len(line) + 1
        number += 1


def group_run(line: str, at: int) -> tuple[int, str]:
    """Find the groups that stand at a place in a line, all as wide as the first.

    Returns:
        The width in digits, 0 where there is no group; and the stretch of the line, what lies before the first
        group included. A single group of another width than 2, 4, 8 or 16 digits counts as bytes run together.

    Example:
        >>> group_run("0000: 3E 01-D3 4", 5)
        (2, ' 3E 01-D3')
        >>> group_run("3E01D300C9", 0), group_run("D 0000", 0), group_run("text", 0)
        ((10, '3E01D300C9'), (0, ''), (0, ''))
    """
    first = GROUP.match(line, at)
    if first is None:
        return 0, ""
    width = len(first[2])
    if width in _RUNS:
        run = _RUNS[width].match(line, at)
        assert run is not None
        return width, run[0]
    if width >= 6 and width % 2 == 0:
        return width, first[0]
    return 0, ""


def same_width_run(line: str, at: int, width: int) -> str:
    """Find the groups of a known width that stand at a place in a line.

    Example:
        >>> same_width_run("3E 01 4142", 0, 2), same_width_run("3E01", 0, 2)
        ('3E 01', '')
    """
    if width in _RUNS:
        run = _RUNS[width].match(line, at)
        assert run is not None
        return run[0]
    first = GROUP.match(line, at)
    return first[0] if first and len(first[2]) == width else ""


def gaps_of(run: str) -> tuple[str, ...]:
    """Give what lies before each group of a run.

    Example:
        >>> gaps_of("  3E 01-D3")
        ('  ', ' ', '-')
    """
    return tuple(_DIGITS.split(run)[:-1])


def hex_bytes(run: str) -> bytes:
    r"""Turn groups into bytes as they stand: the leftmost pair of digits is the lowest address.

    Example:
        >>> hex_bytes(" 3E01 - D300")
        b'>\x01\xd3\x00'
    """
    return bytes.fromhex(run.replace("-", " "))
