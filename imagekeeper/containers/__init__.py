"""Containers: how a file stands for bytes at addresses, and which kind a file is."""

from __future__ import annotations

from dataclasses import replace

from imagekeeper.addresses import Doubt, Span
from imagekeeper.containers import raw, wrapped
from imagekeeper.containers.model import Data, Image, Segment
from imagekeeper.errors import ImagekeeperError, InputError, UsageError, Where
from imagekeeper.ranked import Candidate, rank
from imagekeeper.units import ADDRESS_LIMIT, MIB, plural, size_text

__all__ = [
    "NAMES", "WRITABLE_NAMES", "Data", "Doubt", "Image", "Segment", "Span",
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

#: A text is taken whole; it needs two to four characters a byte, so this is ample. [byte]
TEXT_LIMIT = 512 * MIB

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
    plain = raw.recognise(sample)
    if plain.score == 1:   # no text holds so many bytes that occur in no text
        return (plain,)
    from imagekeeper.containers.kinds import TEXT_KINDS  # slow to load, and raw images do without

    found = [candidate for kind in TEXT_KINDS if (candidate := kind.recognise(sample))]
    return rank([*found, plain])


def read(
    data: Data, *, kind: str | None = None, member: str | None = None, keep_doubtful: bool = False
) -> Image:
    r"""Decode a file: unwrap it, find its kind or take the one given, and give the image.

    Args:
        data: The file's bytes, in memory or on disk; raw data on disk stay there.
        kind: A name from `NAMES` to force it; `raw` also forbids unwrapping.
        member: Which member of a zip file.
        keep_doubtful: Import what the file itself speaks against, recorded as doubts.

    Raises:
        InputError: The file cannot be understood; the code says how.
        NotFoundError: `member-missing`.
        UsageError: `unknown-name` for an unknown kind, `usage` for a member of what is no zip file.

    Example:
        >>> read(b":0300300002337A1E\n:00000001FF\n").container
        'intel-hex'
    """
    if kind is not None and kind not in NAMES:
        raise UsageError(
            "unknown-name", f"there is no container kind {kind!r}", why=f"the kinds are {', '.join(NAMES)}",
            hint="give one of these, or leave it out to have it found",
        )  # fmt: skip
    _refuse_empty(data, "the file is empty")
    wrappers: list[str] = []
    doubts: tuple[Doubt, ...] = ()
    while kind != raw.NAME and (wrapper := wrapped.wrapper_of(data[:4])):
        if len(wrappers) == wrapped.MAX_DEPTH:
            raise InputError(
                "wrapper-nesting", "the file is wrapped too often", why=f"{' in '.join(wrappers)} and no end yet",
                hint="unpack it with another program, or --from raw takes its bytes as they are",
            )  # fmt: skip
        inner = wrapped.unwrap(_whole(data), wrapper, member=member, keep_doubtful=keep_doubtful)
        _refuse_empty(inner.data, f"the {wrapper} file holds an empty file", inner.member)
        wrappers.append(wrapper)
        data, doubts = inner.data, doubts + inner.doubts
        member = None if wrapper == "zip" else member
    if member is not None:
        raise UsageError(
            "usage", "there is no zip file to take a member from",
            why="--member names one, and the file is no zip file", hint="leave out --member",
        )  # fmt: skip
    try:
        image = _decode(data, kind, keep_doubtful)
    except ImagekeeperError as problem:
        if kind is None and not isinstance(problem, UsageError):
            problem.hint += "; --from names another kind, and --from raw takes the file's bytes as they are"
        raise
    return replace(
        image, wrapped_in="+".join(wrappers) or None, doubts=(*doubts, *image.doubts)
    )


def _decode(data: Data, kind: str | None, keep_doubtful: bool) -> Image:
    kind = kind or detect(data[:SAMPLE_BYTES])[0].answer
    if kind == raw.NAME:
        return raw.read(data)
    from imagekeeper.containers.kinds import BY_NAME  # slow to load, and raw images do without

    return BY_NAME[kind].read(_whole(data), keep_doubtful)


def _whole(data: Data) -> bytes:
    if len(data) > TEXT_LIMIT:
        raise InputError(
            "too-large", "the file is too large to be text or a wrapper of an image",
            why=f"it holds {size_text(len(data))}; the limit is {size_text(TEXT_LIMIT)}",
            hint="--from raw takes its bytes as they are, whatever the size",
        )  # fmt: skip
    return data if isinstance(data, bytes) else data[:]


def _refuse_empty(data: Data, what: str, member: str | None = None) -> None:
    if len(data) == 0:
        raise InputError(
            "empty", what, why="it holds 0 bytes",
            hint="read the chip or disk again; nothing can be said about nothing", where=Where(member=member),
        )  # fmt: skip


def fill(image: Image, value: int) -> Image:
    """Close the gaps with one byte value, within a limit.

    Raises:
        UsageError: `too-large-to-fill` where that would make an absurd size.
    """
    if image.gaps and image.span_bytes > FILL_LIMIT:
        raise UsageError(
            "too-large-to-fill", "filling the gaps would make an absurdly large image",
            why=f"from {image.first_address:08X} to {image.end_address - 1:08X} are {size_text(image.span_bytes)}, "
            f"of which {size_text(image.size_bytes)} are given",
            hint="convert to a container that keeps gaps, such as intel-hex, or look for a wrong address record",
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
        raise UsageError(
            "not-writable-kind", f"{kind} cannot be written",
            why=f"the kinds that can are {', '.join(WRITABLE_NAMES)}", hint="give one of these to --to",
        )  # fmt: skip
    if image.end_address > ADDRESS_LIMIT:
        raise UsageError(
            "address-out-of-range", "the image goes beyond 32-bit addresses",
            why=f"its last address is {image.end_address - 1:X}", hint="write it as raw",
        )  # fmt: skip
    return found.write(image)


def raw_blocks_need(image: Image) -> None:
    """Refuse to write an image with gaps as raw, where gaps cannot be told from data.

    Raises:
        UsageError: `gaps`.
    """
    if image.gaps:
        first = image.gaps[0]
        raise UsageError(
            "gaps", "the image has gaps, which a raw file cannot show",
            why=f"{plural(len(image.gaps), 'gap')}, the first of {size_text(first.length)} at {first.start:04X}",
            hint="--fill FF closes them with FF (or any other byte you give)",
        )  # fmt: skip
