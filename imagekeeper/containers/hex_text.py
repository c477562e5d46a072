r"""Hexadecimal text as a monitor, a debugger or a terminal's log prints it: container `hex-text`.

No document defines it. What is read: lines of 2, 4, 8 or 16 digits a group, or of bytes run together, with or
without an address before them and a text column behind them; whatever else a log holds lies between. The layout is
learnt from the lines as a whole (`hex_layout`), then each line is read under it (`hex_reading`), and the addresses
prove that no line is missing, repeated or cut (`hex_listing`).

The bytes of a group are taken as they stand: its leftmost pair of digits is the lowest address. A program that
prints the words of a machine with the low byte first (`od -t x2`, `hexdump` and `xxd -e` on such a machine) gives
each word's bytes the wrong way round; read the listing as it is and exchange the bytes of each word afterwards.
"""

from __future__ import annotations

from imagekeeper import budget
from imagekeeper.containers.hex_lines import clean, lines_of, sample_lines
from imagekeeper.containers.hex_listing import NAME, Listing
from imagekeeper.containers.hex_reading import LineReader
from imagekeeper.containers.hex_survey import learn
from imagekeeper.containers.lines import SAMPLE_BYTES
from imagekeeper.containers.manner import PLAIN, Manner
from imagekeeper.containers.model import Image
from imagekeeper.errors import InputError
from imagekeeper.ranked import Candidate

#: So many lines are read between two looks at the clock.
_LINES_A_LOOK = 4096


def recognise(sample: bytes) -> Candidate[str] | None:
    r"""Score the beginning of a file; at most 0.9, since record formats prove more about themselves.

    Example:
        >>> found = recognise(b"0000: 21 00 40 C9\n0004: 3E 01 D3 00\n")
        >>> round(found.score, 2), found.evidence[0].says
        (0.77, '2 of 2 lines hold groups of hexadecimal digits')
        >>> recognise(b"add the dead face to the facade\n1985 1986 1987\n") is None
        True
    """
    sample = sample[:SAMPLE_BYTES]
    text = clean(sample)
    lines = list(enumerate(lines_of(text)))
    if len(lines) > 3 and not text.endswith("\n"):
        lines.pop()   # the sample may end within it
    if any(line.startswith("@") for _, line in lines):
        return None   # addresses on lines of their own: another format
    survey = learn(lines)
    if survey is None or 4 * survey.characters < len(sample):
        return None
    layout = survey.layout
    share = survey.fitting / survey.lines
    if layout.addressing == "none":
        regular = survey.full / survey.fitting
        enough = survey.fitting * layout.line_bytes >= (8 if layout.group_digits <= 16 else 64)
        both = survey.digits & set("ABCDEF") and survey.digits & set("0123456789")
        if share < 0.6 or (regular < 0.6 and survey.fitting > 2) or not (enough and both):
            return None   # prose and decimal figures are no listing
        score = 0.7 * share * regular
    else:
        continued = survey.continued / survey.steps if survey.steps else 0.5
        if share < 0.2 or (survey.steps and continued < 0.3) or layout.line_bytes < 2:
            return None
        score = 0.9 * (0.5 + 0.5 * share) * (0.5 + 0.5 * continued)
    if survey.fitting < 4:
        score *= 0.7 + 0.08 * survey.fitting
    return Candidate(NAME, score, survey.evidence)


def read(text: bytes, keep_doubtful: bool = False, manner: Manner = PLAIN) -> Image:
    r"""Decode a listing.

    Raises:
        InputError: `not-this-kind` where no line is one of a listing. Unless doubtful input is kept: `line-lost`,
            `line-repeated`, `conflict` or `overlap` by the addresses; `record-length`, `record-digits`,
            `record-form` or `column-mismatch` by a line itself; `address-limit`; `too-large-to-fill` where repeated
            lines stand for more than `hex_listing.MAX_REPEATED_BYTES`.

    Example:
        >>> image = read(b"*0100.0107\n\n0100- 21 00 40 C9\n0104- 3E 01 D3 00\n")
        >>> image.first_address, image.tobytes().hex(), image.addressed
        (256, '210040c93e01d300', True)
        >>> read(b"21 00 40 C9\n3E 01\n").addressed
        False
    """
    cleaned = clean(text)
    survey = learn(sample_lines(cleaned))
    if survey is None:
        raise InputError("not-this-kind/no-listing")
    listing = Listing(survey.layout, keep_doubtful, manner)
    reader = LineReader(survey.layout)
    allowed = budget.current()
    for number, line in enumerate(lines_of(cleaned), 1):
        if not number % _LINES_A_LOOK:
            allowed.tick()
        listing.take(number, reader.read(line))
    return listing.finish()
