"""Containers: how a file stands for bytes at addresses, and which kind a file is."""

from __future__ import annotations

from dataclasses import replace

from imagekeeper import budget
from imagekeeper.addresses import Doubt, Span
from imagekeeper.containers import raw, wrapped
from imagekeeper.containers.manner import Manner, Repeated
from imagekeeper.containers.model import Data, Image, Segment
from imagekeeper.containers.parity import broken_lines, find_parity, stripped
from imagekeeper.containers.remarks import parity_values
from imagekeeper.errors import ImagekeeperError, InputError, UsageError, Where
from imagekeeper.ranked import Candidate, Evidence, rank
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import ADDRESS_LIMIT, MIB

__all__ = [
    "NAMES", "WRITABLE_NAMES", "Data", "Doubt", "Image", "Repeated", "Segment", "Span",
    "detect", "encode", "fill", "raw_blocks_need", "read",
]  # fmt: skip

#: Every kind that can be read; `kinds` has what each is. Here so that a command can name them without loading them.
NAMES = (
    raw.NAME, "intel-hex", "s-record", "tektronix-hex", "tektronix-extended", "mos-tape", "ti-txt", "ascii-hex",
    "hex-text",
)  # fmt: skip

#: Every kind that can be written.
WRITABLE_NAMES = (raw.NAME, "intel-hex", "s-record", "tektronix-extended", "ti-txt")

#: Kinds are recognised by this much of a file's beginning. [byte]
SAMPLE_BYTES = 64 * 1024

#: The largest image that filling its gaps may make. [byte]
FILL_LIMIT = 256 * MIB


def detect(sample: bytes) -> tuple[Candidate[str], ...]:
    r"""Rank the kinds that a file may be, by its beginning, with the evidence for each.

    Args:
        sample: The first `SAMPLE_BYTES` of the file, or all of it.

    Returns:
        At least one candidate, best first: raw is always among them.

    Example:
        >>> [c.answer for c in detect(b":0300300002337A1E\n:00000001FF\n")]
        ['intel-hex', 'raw']
    """
    plain, parity = raw.recognise(sample), find_parity(sample)
    if parity is None and plain.score == 1:   # no text holds so many bytes that occur in no text
        return (plain,)
    from imagekeeper.containers.kinds import TEXT_KINDS  # slow to load, and raw images do without

    text = sample if parity is None else stripped(sample)
    found = [candidate for kind in TEXT_KINDS if (candidate := kind.recognise(text))]
    if parity is not None and found:   # what occurs in no text was the parity
        evidence = Evidence(str(Phrase("parity-stripped/why", **parity_values(parity))), 0.0)
        found = [replace(one, evidence=(*one.evidence, evidence)) for one in found]
        plain = raw.recognise(text)
    return rank([*found, plain])


def read(
    data: Data, *, kind: str | None = None, member: str | None = None, keep_doubtful: bool = False,
    repeated: Repeated = "refuse",
) -> Image:
    r"""Decode a file: unwrap it, find its kind or take the one given, and give the image.

    Args:
        data: The file's bytes, in memory or on disk; raw data on disk stay there.
        kind: A name from `NAMES` to force it; `raw` also forbids unwrapping.
        member: Which member of a zip file.
        keep_doubtful: Import what the file itself speaks against, recorded as doubts.
        repeated: Which value counts where the file gives an address several: `first` or `last`; `refuse` leaves it
            to `keep_doubtful`, which keeps the first, as doubtful.

    Raises:
        InputError: The file cannot be understood; the code says how.
        NotFoundError: `member-missing`.
        UsageError: `unknown-name` for an unknown kind, `usage` for a member of what is no zip file.

    Example:
        >>> read(b":0300300002337A1E\n:00000001FF\n").container
        'intel-hex'
    """
    if kind is not None and kind not in NAMES:
        raise UsageError("unknown-name/container", kind=kind, kinds=NAMES)
    if len(data) == 0:
        raise InputError("empty/file")
    with budget.ensured(len(data)):
        return _read(data, kind, member, keep_doubtful, repeated)


def _read(data: Data, kind: str | None, member: str | None, keep_doubtful: bool, repeated: Repeated) -> Image:
    wrappers: list[str] = []
    doubts: tuple[Doubt, ...] = ()
    while kind != raw.NAME and (wrapper := wrapped.wrapper_of(data[:4])):
        if len(wrappers) == wrapped.MAX_DEPTH:
            raise InputError("wrapper-nesting", wrappers=wrappers)
        inner = wrapped.unwrap(_whole(data), wrapper, member=member, keep_doubtful=keep_doubtful)
        if len(inner.data) == 0:
            raise InputError("empty/wrapped", wrapper=wrapper, where=Where(member=inner.member))
        wrappers.append(wrapper)
        data, doubts = inner.data, doubts + inner.doubts
        member = None if wrapper == "zip" else member
    if member is not None:
        raise UsageError("usage/no-zip-file")
    try:
        image = _decode(data, kind, keep_doubtful, repeated)
    except ImagekeeperError as problem:
        if kind is None and not isinstance(problem, UsageError):
            problem.adding(next=Phrase("not-this-kind/or-another"))
        raise
    doubts = tuple(   # of a doubtful text each byte of the image is
        replace(one, start=image.first_address, length=image.span_bytes) if one.length else one for one in doubts
    )
    return replace(
        image, wrapped_in="+".join(wrappers) or None, doubts=(*doubts, *image.doubts)
    )


def _decode(data: Data, kind: str | None, keep_doubtful: bool, repeated: Repeated) -> Image:
    kind = kind or detect(data[:SAMPLE_BYTES])[0].answer
    if kind == raw.NAME:
        return raw.read(data)
    from imagekeeper.containers.kinds import BY_NAME  # slow to load, and raw images do without

    budget.current().take_text(len(data))
    text = _whole(data)
    parity = find_parity(text)
    if parity is None:
        return BY_NAME[kind].read(text, keep_doubtful, Manner(repeated))
    manner = Manner(repeated, parity.kind, broken_lines(text, parity.kind) if parity.broken else {})
    return replace(BY_NAME[kind].read(stripped(text), keep_doubtful, manner), parity=parity)


def _whole(data: Data) -> bytes:
    if len(data) > budget.MOST_TEXT:
        raise InputError("too-large/text", size=len(data), limit=budget.MOST_TEXT)
    return data if isinstance(data, bytes) else data[:]


def fill(image: Image, value: int) -> Image:
    """Close the gaps with one byte value, within a limit.

    Raises:
        UsageError: `too-large-to-fill` where that would make an absurd size.
    """
    if image.gaps and image.span_bytes > FILL_LIMIT:
        raise UsageError(
            "too-large-to-fill/image", first=image.first_address, last=image.end_address - 1, span=image.span_bytes,
            given=image.size_bytes,
        )  # fmt: skip
    return image.filled(value)


def encode(image: Image, kind: str) -> bytes:
    """Write an image in a text container.

    Args:
        image: What to write; raw images need no encoding and are not written by this.
        kind: A name from `WRITABLE_NAMES` other than `raw`.

    Raises:
        UsageError: `not-writable-kind`, or `address-out-of-range` where the kind cannot hold the addresses.
    """
    from imagekeeper.containers.kinds import BY_NAME  # slow to load, and raw images do without

    found = BY_NAME.get(kind)
    if found is None or found.write is None:
        raise UsageError("not-writable-kind", kind=kind, kinds=WRITABLE_NAMES)
    if image.end_address > ADDRESS_LIMIT:
        raise UsageError("address-out-of-range/beyond-32-bits", last=image.end_address - 1)
    return found.write(image)


def raw_blocks_need(image: Image) -> None:
    """Refuse to write an image with gaps as raw, where gaps cannot be told from data.

    Raises:
        UsageError: `gaps`.
    """
    if image.gaps:
        first = image.gaps[0]
        raise UsageError("gaps/raw-file", gaps=len(image.gaps), length=first.length, at=first.start)
