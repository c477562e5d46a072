"""Reads decoded again: the reader's own file, as the kind of container that the record names."""

from __future__ import annotations

import base64
import binascii
import re
from collections.abc import Iterator
from typing import get_args

from imagekeeper import budget, containers, digests
from imagekeeper.addresses import Span
from imagekeeper.archive.audits.reproof import Conclusion, ReproofOutcome
from imagekeeper.containers.manner import Repeated
from imagekeeper.containers.model import Image
from imagekeeper.errors import ImagekeeperError
from imagekeeper.jobs.archive.history import LARGEST, History
from imagekeeper.jobs.session import SOFTWARE
from imagekeeper.jsonable import one_line
from imagekeeper.provenance import places
from imagekeeper.provenance.reads import Read
from imagekeeper.units import size_text

#: A zip file with more members is none of ours.
_MEMBERS = 64


def reads_again(history: History) -> Iterator[Conclusion]:
    """Decode the file of every read again, and hold the record of its image against what comes out."""
    files = history.at(history.head)
    for name in places.read_ids(list(files.state)):
        read = files.read(name)
        if read is not None:
            yield from _read_again(history, read)


def _read_again(history: History, read: Read) -> Iterator[Conclusion]:
    path = places.read_record(read.id)
    state = history.state(history.head)
    original, decoded = state.get(read.original), state.get(read.image_path)
    if original is None or decoded is None:
        why = "its file or its image is not there"
        yield history.conclude(path, f"{read.id}: the image", "contradicted", why)
        return
    yield from _paths(history, read, path)
    yield history.held(
        path, f"{read.id}: the size of the file", history.size(original), read.size_bytes, "the file has another size"
    )
    size = history.size(decoded)
    if max(size, history.size(original)) > LARGEST:
        why = f"files larger than {size_text(LARGEST)} are not decoded again"
        yield history.conclude(path, f"{read.id}: the image", "not-derivable", why)
        return
    image = history.file(decoded)
    crc = digests.Crc32()
    crc.update(image)
    for what, expected, found in (
        ("CRC-32", crc.hexdigest().upper(), read.image.crc32),
        ("SHA-256", digests.sha256_hex(image), read.image.sha256),
        ("size", len(image), read.image.size_bytes),
        ("first address", read.image.segments[0].start if read.image.segments else 0, read.image.first_address),
    ):
        why = f"its image has another {what}"
        yield history.held(path, f"{read.id}: the {what} of the image", expected, found, why)
    yield _decoded(history, read, history.file(original), image)


def _unescaped(name: str) -> str:
    """Give a name with the characters that its escapes stand for."""
    return re.sub(r"\\x([0-9a-f]{2})|\\u([0-9a-f]{4})", lambda m: chr(int(m[1] or m[2], 16)), name)


def _paths(history: History, read: Read, path: str) -> Iterator[Conclusion]:
    place = places.read_image(read.id)
    yield history.held(path, f"{read.id}: where its image lies", place, read.image_path, "it lies elsewhere")
    if read.file_base64 is None:
        place = places.read_original(read.id, read.file)
        meant = places.read_original(read.id, _unescaped(read.file))
        if meant == read.original:   # characters that drive a terminal stand as escapes in the name, not in the place
            place = meant
        why = "its name gives another place"
        yield history.held(path, f"{read.id}: where its file lies", place, read.original, why)
    else:
        yield history.held(
            path, f"{read.id}: the bytes of the file's name", read.file, _exact(read.file_base64),
            "they are not those of its name",
        )  # fmt: skip


def _exact(base64_text: str) -> str | None:
    """Give the printable form of a file name that is kept in Base64."""
    try:
        return one_line(base64.b64decode(base64_text, validate=True).decode("utf-8", "surrogateescape"))
    except binascii.Error:
        return None


def _decoded(history: History, read: Read, original: bytes, kept: bytes) -> Conclusion:
    path, what = places.read_record(read.id), f"{read.id}: the image, decoded from {read.file} again"
    if read.container not in containers.NAMES:
        return history.conclude(path, what, "not-derivable", f"no container is known as {read.container[:40]}")
    otherwise: ReproofOutcome = "contradicted" if read.software == SOFTWARE else "stale"
    problem: ImagekeeperError | None = None
    nearest: Image | None = None
    for image in _attempts(read, original):
        if isinstance(image, ImagekeeperError):
            problem = problem or image
            continue
        for found in (image, *_filled(image, read, kept)):
            if _shape(found) == _recorded(read) and found.tobytes() == kept:
                return history.conclude(path, what, "proved")
            nearest = nearest or found
    if nearest is None:
        why = f"its file cannot be decoded as {_named(read)}" + (f": {problem.why}" if problem else "")
        return history.conclude(path, what, otherwise, why)
    expected, found_there = _shape(nearest), _recorded(read)
    name = next((n for n in expected if expected[n] != found_there[n]), "bytes")
    return history.conclude(
        path, what, otherwise, f"decoded again, its {name} are not those that are recorded",
        expected=expected.get(name), found=found_there.get(name),
    )  # fmt: skip


def _named(read: Read) -> str:
    return read.container + (f" in {read.wrapped_in}" if read.wrapped_in else "")


def _shape(image: Image) -> dict[str, object]:
    return {
        "container": image.container, "wrapper": image.wrapped_in,
        "segments": tuple(Span(one.start, len(one.data)) for one in image.segments), "doubts": tuple(image.doubts),
        "parity": image.parity and image.parity.kind, "repeated": image.repeats and image.repeats.choice,
    }  # fmt: skip


def _recorded(read: Read) -> dict[str, object]:
    return {
        "container": read.container, "wrapper": read.wrapped_in, "segments": read.image.segments,
        "doubts": read.image.doubts, "parity": read.parity, "repeated": read.repeated,
    }  # fmt: skip


def _attempts(read: Read, original: bytes) -> Iterator[Image | ImagekeeperError]:
    """Decode the file as it is found, and where that is not as recorded, as the record says; each member of a zip."""
    for member in _members(read, original):
        for kind in (read.container if read.wrapped_in is None else None, None, read.container):
            try:
                with budget.spending(budget.Budget(budget.MOST_UNPACKED)):   # what was taken in once is not refused now
                    image = containers.read(
                        original, kind=kind, member=member, keep_doubtful=True, repeated=_chosen(read)
                    )
                yield image
            except ImagekeeperError as problem:
                yield problem


def _chosen(read: Read) -> Repeated:
    """Which value was chosen where an address came several times; what is no such choice is none."""
    return next((one for one in get_args(Repeated) if one == read.repeated), "refuse")


def _members(read: Read, original: bytes) -> list[str | None]:
    if not (read.wrapped_in or "").startswith("zip"):
        return [None]
    import io  # only for zip files, which are slow to load
    import zipfile

    try:
        with zipfile.ZipFile(io.BytesIO(original)) as archive:
            names = [one.filename for one in archive.infolist() if not one.is_dir()]
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        return [None]
    return [None] if len(names) == 1 else list(names[:_MEMBERS])


def _filled(image: Image, read: Read, kept: bytes) -> Iterator[Image]:
    """Close gaps as they were closed when the read was kept: with the byte that the image has there."""
    if not image.gaps or len(read.image.segments) != 1 or image.span_bytes != len(kept):
        return
    at = image.gaps[0].start - image.first_address
    try:
        yield containers.fill(image, kept[at])
    except ImagekeeperError:
        return
