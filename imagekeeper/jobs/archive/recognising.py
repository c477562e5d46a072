"""Tell whether the archive holds an image already: the same, in another form, in parts, or nearly."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import replace

from imagekeeper.archive.index import forms
from imagekeeper.archive.index import images as known_images
from imagekeeper.archive.index.images import Holding
from imagekeeper.archive.index.reading import read_content
from imagekeeper.archive.index.sqlite.base import Index
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.containers.model import Image
from imagekeeper.jobs.archive.differing import difference
from imagekeeper.jobs.archive.searching import KnownImage, Relation, Search
from imagekeeper.jobs.images.loading import Given, Options, loaded
from imagekeeper.progress import Progress, silent
from imagekeeper.sentences.say import Phrase
from imagekeeper.units import plural, size_text

#: An image that shares less with another is not near it.
NEAR = 0.1

#: So many holders of one image are looked at.
_HOLDERS = 1000

_SCORES: dict[Relation, float] = {"same": 1.0, "same-content": 0.9, "part-of": 0.8, "made-of": 0.8, "near": 0.7}


def search_image(
    archive: ArchiveStore, path: Given, options: Options, *, limit: int = 20, progress: Progress = silent
) -> Search:
    """Tell whether the archive holds an image already: the same, in another form, in parts, or nearly.

    Only where the same image is not there are the others looked for. The first time this reads every image of the
    archive once.

    Args:
        archive: The archive.
        path: The file.
        options: How to take it.
        limit: How many answers at most.
        progress: Told how many images were read.

    Raises:
        ImagekeeperError: The file cannot be read or understood.
    """
    with loaded(path, options) as file, Index(archive, progress=progress) as index:
        known = _Known(index, file.image)
        images = sorted(known.find(progress, limit), key=lambda one: -one.score)
    hint = None if images else known.hint
    return Search(
        terms=(), file=file.name, hits=(), images=tuple(images[:limit]), more=len(images) > limit, unread=known.unread,
        hint=hint,
    )  # fmt: skip


class _Known:
    def __init__(self, index: Index, image: Image) -> None:
        self.index = index
        self.image = image
        self.unread = 0
        self.hint = str(Phrase("step/keep-image"))
        self.data = b""

    def find(self, progress: Progress, limit: int) -> Iterator[KnownImage]:
        digest = hashlib.sha256()
        for _, piece in self.image.pieces():
            digest.update(piece)
        number = known_images.same(self.index, digest.hexdigest())
        if number is not None:
            for one, held_as in self.holders(number):
                yield _known("same", self.same(one), one, held_as)
            return
        if self.image.size_bytes > forms.LIMIT:
            self.hint = f"beyond {size_text(forms.LIMIT)} only the very same image is looked for"
            return
        self.data = self.image.tobytes()
        if len(self.data) < forms.LEAST or self.data.count(self.data[0]) == len(self.data):
            self.hint = "the image is blank or very short: there is nothing to know it by"
            return
        self.unread = known_images.work_out(self.index, progress)
        yield from self.others(limit)

    def others(self, limit: int) -> Iterator[KnownImage]:
        told: set[int] = set()
        for number in known_images.same_core(self.index, self.data):
            told.add(number)
            for one, held_as in self.holders(number):
                yield _known("same-content", self.same_content(one), one, held_as)
        for number, what in known_images.wholes(self.index, self.data):
            told.add(number)
            for one, held_as in self.holders(number):
                yield _known("part-of", f"this is {what} of the archive's image", one, held_as)
        for number, what in known_images.pieces(self.index, self.data):
            told.add(number)
            for one, held_as in self.holders(number):
                yield _known("made-of", f"{what} of this is the archive's image", one, held_as)
        for number in known_images.near(self.index, self.data, limit + len(told)):
            if number not in told:
                yield from self.near(number)

    def holders(self, number: int) -> Iterator[tuple[Holding, tuple[str, ...]]]:
        """Give each carrier that holds an image, with as what it does."""
        carriers: dict[str, list[Holding]] = {}
        for one in known_images.holdings(self.index, number, _HOLDERS):
            carriers.setdefault(one.carrier, []).append(one)
        for held in carriers.values():
            first = min(held, key=lambda one: one.what != "image")
            yield first, tuple(one.name or one.what for one in sorted(held, key=lambda one: one.what == "agreed"))

    def same(self, one: Holding) -> str:
        how = []
        if one.container is not None and one.container != self.image.container:
            how.append(f"from another kind of file ({one.container})")
        if one.first_address is not None and one.first_address != self.image.first_address:
            how.append(f"at another address ({one.first_address:04X})")
        return "the same image" + (", " + " and ".join(how) if how else "")

    def content(self, one: Holding) -> bytes | None:
        if one.path is None:
            return None
        data = read_content(self.index.archive, one.carrier, one.path, forms.LIMIT)
        return None if data is None or len(data) > forms.LIMIT else data

    def same_content(self, one: Holding) -> str:
        other = self.content(one)
        if other is None:
            return "the same content, once padding and repetition are taken away"
        return f"the same content: here {_form(self.data)}, in the archive {_form(other)}"

    def near(self, number: int) -> Iterator[KnownImage]:
        from imagekeeper.archive.index import sketches  # numpy, only where a near image is looked at

        holders = list(self.holders(number))
        other = next((data for one, _ in holders if (data := self.content(one)) is not None), None)
        if other is None:
            return
        size = max(len(self.data), len(other))
        here, there = sketches.runs(self.data, size), sketches.runs(other, size)
        shared, back = sketches.shared(here, there), sketches.shared(there, here)
        if max(shared, back) < NEAR:
            return
        found = difference(self.data, other)
        says = f"{_percent(shared)} of this stands in the archive's image, and {_percent(back)} of that in this"
        if shared > 0.5 and back > 0.5:
            says += f"; {found.says}"
        for one, held_as in holders:
            yield replace(
                _known("near", says, one, held_as), score=round(_SCORES["near"] * max(shared, back), 3),
                shared=round(shared, 4), shared_back=round(back, 4), differing_bytes=found.bytes,
                texts=found.texts if shared > 0.5 or back > 0.5 else (),
            )  # fmt: skip


def _known(relation: Relation, says: str, one: Holding, held_as: tuple[str, ...]) -> KnownImage:
    return KnownImage(
        relation=relation, says=says, score=_SCORES[relation], carrier=one.carrier, held_as=held_as,
        container=one.container, first_address=one.first_address, size_bytes=one.size_bytes, sha256=one.sha256,
        part=one.part, machine=one.machine, board=one.board, position=one.position, grade=one.grade,
        open=one.open, taken_out=one.taken_out,
    )  # fmt: skip


def _form(data: bytes) -> str:
    """Say how an image holds its core.

    Example:
        >>> _form(b"TIDE" * 2), _form(b"TIDE" + bytes(12)), _form(b"TIDE")
        ('2 times over', 'with 12 bytes of fill', 'bare')
    """
    core = forms.core(data)
    how = [f"{core.copies} times over"] if core.copies > 1 else []
    fill = core.before + core.behind
    how += [f"with {plural(fill, 'byte')} of fill"] if fill else []
    return " and ".join(how) or "bare"


def _percent(part: float) -> str:
    """Write a part in percent; all and nothing only where it is so.

    Example:
        >>> _percent(1.0), _percent(0.9996), _percent(0.5), _percent(0.0001)
        ('100 %', '99.9 %', '50 %', '0.1 %')
    """
    percent = part * 100
    if percent in (0, 100):
        return f"{percent:.0f} %"
    near_an_end = percent < 1 or percent > 99
    shown = min(max(percent, 0.1), 99.9)
    return f"{shown:.1f} %" if near_an_end else f"{percent:.0f} %"
