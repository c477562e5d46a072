"""What is wrong with sectors that come from the right place: not read, weak, on a lost track or side, near one end."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from imagekeeper.comparison.coding import choice_bits, subset_bits
from imagekeeper.disk_reads.decay import even, tendency
from imagekeeper.disk_reads.moves import Form
from imagekeeper.disk_reads.sectors import ABSENT, FILL_BITS, Contents, Numbers

Mask = NDArray[np.bool_]

#: How much less likely each cause is than the likeliest, before anything is seen: our judgement. [bit]
PRIOR = {
    "head-dead": 3.0, "last-cylinders-missing": 3.0, "track-lost": 4.0, "sectors-filled": 4.0, "weak-sectors": 4.0,
    "radial-decay": 6.0, "track-of-neighbour": 6.0, "sectors-differ": 16.0, "other-version": 14.0, "other-disk": 14.0,
}  # fmt: skip

#: Fewer bad sectors show no tendency towards one end.
_FEWEST_OF_DECAY = 8

#: A rule is none where it puts no more than this share of the content that was read in its place.
_RIGHT = 0.3

#: Bits to say with what a reader fills sectors.
_WHICH_FILL = 8.0

#: What a sector of content takes more where a reader has no reason to have any. [bit]
_UNEXPECTED = 2.0

#: By so much shorter it must be to say where they are by a tendency than without one. [bit]
_TENDING = 8.0

#: One of these is another disk where less of what is written than this is the same.
SAME_DISK = 0.4


@dataclass(frozen=True, kw_only=True)
class Part:
    """Sectors with which one thing is wrong.

    Attributes:
        code: Of its finding.
        where: Which sectors of the read.
        bits: What it takes to name them, and what they hold.
        values: What else its sentences need.
    """

    code: str
    where: Mask
    bits: float
    values: dict[str, Any] = field(default_factory=dict)

    @property
    def count(self) -> int:
        """How many sectors there are."""
        return int(np.count_nonzero(self.where))


@dataclass(frozen=True, kw_only=True)
class Rest:
    """What a rule leaves of a read.

    Attributes:
        form: How many tracks and sectors the disk has.
        contents: The contents of all sectors.
        truth: Those of the read that the rule starts from, with all tracks.
        foretold: What the rule says of the other.
        held: What the other holds.
    """

    form: Form
    contents: Contents
    truth: Numbers
    foretold: Numbers
    held: Numbers

    @cached_property
    def known(self) -> Mask:
        """Where the rule says something, and it is wrong."""
        found: Mask = (self.foretold != self.held) & (self.foretold != ABSENT)
        return found

    @cached_property
    def lost(self) -> Mask:
        """Where the read has fill, or nothing."""
        found: Mask = self.known & self.contents.is_fill[self.held]
        return found

    @cached_property
    def _held_otherwise(self) -> tuple[NDArray[np.float64], Mask]:
        """What it takes to say what stands in the others, and where that is what should, with some of it wrong."""
        price, near = np.zeros(self.held.shape), np.zeros_like(self.known)
        for track, sector in np.argwhere(self.known & ~self.lost).tolist():
            pair = int(self.foretold[track, sector]), int(self.held[track, sector])
            price[track, sector], near[track, sector] = self.contents.between(*pair)
        return price, near

    @property
    def price(self) -> NDArray[np.float64]:
        """What it takes to say what stands in sectors that are neither right nor lost. [bit]"""
        return self._held_otherwise[0]

    @property
    def near(self) -> Mask:
        """Where the read has what it should, with some of it wrong."""
        return self._held_otherwise[1]

    @cached_property
    def other(self) -> Mask:
        """Where the read has other content."""
        return self.known & ~self.lost & ~self.near

    @cached_property
    def fresh(self) -> Mask:
        """Where the read has content that should be fill, which no bad read makes."""
        found: Mask = self.other & self.contents.is_fill[self.foretold]
        return found

    @property
    def unforetold_bits(self) -> float:
        """Bits of what the read holds where the rule says nothing: fill, the cylinder before once more, or content."""
        beyond = (self.foretold == ABSENT) & (self.held != ABSENT)
        if not beyond.any():
            return 0.0
        before = np.full_like(self.held, ABSENT)
        before[self.form.heads :] = self.held[: -self.form.heads]
        content = beyond & (before != self.held) & ~self.contents.is_fill[self.held]
        bits = self.contents.bits[self.held[content]].sum() + _UNEXPECTED * np.count_nonzero(content)
        return float(bits) + _WHICH_FILL + FILL_BITS * np.count_nonzero(beyond & ~content)

    @property
    def open(self) -> Mask:
        """Where a sector that was not read would show."""
        found: Mask = (self.foretold != ABSENT) & ~self.contents.is_fill[self.foretold] | self.lost
        return found

    def parts(self) -> tuple[Part, ...]:
        """Say what is wrong, each kind of it for itself."""
        copied = tuple(self._copied())
        taken = np.zeros_like(self.known)
        for one in copied:
            taken |= one.where
        found = [*copied, *self._lost(self.lost & ~taken)]
        near, other = self.near & ~taken, self.other & ~taken
        if near.any():
            bits = self._isolated(near, self.foretold != ABSENT) + float(self.price[near].sum())
            found.append(Part(code="weak-sectors", where=near, bits=bits + PRIOR["weak-sectors"]))
        if other.any():
            bits = self._isolated(other, self.foretold != ABSENT) + self._content(other)
            bits += _UNEXPECTED * np.count_nonzero(other)
            found.append(Part(code="sectors-differ", where=other, bits=bits + PRIOR["sectors-differ"]))
        return tuple(found)

    def decay(self) -> Part | None:
        """Take all that is wrong as growing towards one end of the disk; None where it does not."""
        best: Part | None = None
        if self.fresh.any():
            return None
        wrong = self.lost | self.near | self.other
        side_of = np.arange(len(self.held)) % self.form.heads
        for side in (None, *(range(self.form.heads) if self.form.heads == 2 else ())):
            mine = np.ones_like(wrong) if side is None else np.broadcast_to((side_of == side)[:, None], wrong.shape)
            if np.any(wrong & ~mine) or np.count_nonzero(wrong) < _FEWEST_OF_DECAY:
                continue
            here = (self.open | wrong) & mine
            cylinder = np.arange(len(self.held)) // self.form.heads
            bad, total = (
                np.bincount(cylinder, weights=mask.sum(axis=1)).astype(np.float64)
                for mask in (wrong & mine, here)
            )
            bits, slope, middle = tendency(bad, total)
            if bits > even(bad.sum(), total.sum()) - _TENDING:
                continue
            bits += self._content(wrong) + choice_bits(int(np.count_nonzero(here))) + (side is not None)
            bits += PRIOR["radial-decay"]
            if best is None or bits < best.bits:
                best = Part(
                    code="radial-decay", where=wrong, bits=bits,
                    values={"end": "radial-decay/inner" if slope > 0 else "radial-decay/outer", "middle": middle},
                )  # fmt: skip
        return best

    def version(self) -> Part | None:
        """Take all that is wrong as what was written since."""
        if not self.known.any():
            return None
        naming = self._isolated(self.known, self.foretold != ABSENT)
        bits = naming + self._content(self.known) + PRIOR["other-version"]
        return Part(code="other-version", where=self.known, bits=bits, values={"naming": naming})

    def other_disk(self) -> Part | None:
        """Take all that the read holds as of another disk; None where much is the same."""
        if not self.known.any() or self.same_share >= SAME_DISK:
            return None
        bits = min(
            float(self.contents.bits[self.held[self.held != ABSENT]].sum()),
            self._isolated(self.known, self.foretold != ABSENT) + self._content(self.known),
        )
        return Part(
            code="other-disk", where=self.known, bits=bits + PRIOR["other-disk"], values={"same": self.same_share}
        )

    @property
    def fits(self) -> bool:
        """Whether a good part of the content is where the rule says."""
        fills = self.contents.is_fill
        told = (self.foretold != ABSENT) & ~(fills[self.foretold] & fills[self.held])
        right = told & (self.foretold == self.held)
        return bool(np.count_nonzero(right) > _RIGHT * np.count_nonzero(told & ~self.lost))

    @property
    def same_share(self) -> float:
        """How much of what both hold as content is the same."""
        fills = self.contents.is_fill
        written = ~fills[self.foretold] & ~fills[self.held]
        count = int(np.count_nonzero(written))
        return 1.0 if not count else float(np.count_nonzero(written & ~self.known)) / count

    def _isolated(self, where: Mask, among: Mask) -> float:
        return subset_bits(int(np.count_nonzero(among | where)), int(np.count_nonzero(where)))

    def _content(self, where: Mask) -> float:
        """Bits of what stands there."""
        lost = where & self.lost
        return float(self.price[where & ~lost].sum()) + self._fills(lost)

    def _fills(self, where: Mask) -> float:
        """Bits to say with what sectors are filled: each fill once, and which is where."""
        counts: Counter[int] = Counter(self.held[where].tolist())
        total = sum(counts.values())
        which: float = sum(-count * math.log2(count / total) for count in counts.values())
        return which + _WHICH_FILL * sum(one != ABSENT for one in counts)

    def _copied(self) -> Iterator[Part]:
        """Find tracks that hold what another track near them has: the step, or the choice of the side, came late."""
        heads = self.form.heads
        tracks = np.flatnonzero((self.known & ~self.lost).sum(axis=1) >= 1)
        for track in tracks.tolist():
            there = self.held[track] != ABSENT
            telling = there & ~self.contents.is_fill[self.held[track]]
            if np.any((self.held[track] == self.foretold[track]) & telling) or not telling.any():
                continue
            near = [track + off * heads for off in (-1, 1, -2, 2)] + ([track ^ 1] if heads == 2 else [])
            for number in near:
                inside = 0 <= number < self.form.tracks
                if inside and np.array_equal(self.held[track][there], self.truth[number][there]):
                    where = np.zeros_like(self.known)
                    where[track] = self.known[track]
                    bits = choice_bits(len(self.held)) + choice_bits(len(near)) + PRIOR["track-of-neighbour"]
                    yield Part(
                        code="track-of-neighbour", where=where, bits=bits,
                        values={"from_cylinder": number // heads, "from_side": number % heads},
                    )  # fmt: skip
                    break

    def _lost(self, where: Mask) -> list[Part]:
        """Name the sectors that were not read as shortly as can be: a side, the end, tracks, or one by one."""
        if not where.any():
            return []
        options: list[list[Part]] = []
        for region in (None, self._side(where), self._end(where, within=False), self._end(where, within=True)):
            if region is None:
                options.append(self._singly(where))
            elif region.count:
                options.append([region, *self._singly(where & ~region.where)])
        return min(options, key=lambda parts: sum(one.bits for one in parts))

    def _singly(self, where: Mask) -> list[Part]:
        if not where.any():
            return []
        alone = self._named("sectors-filled", where, self._isolated(where, self.open))
        state = _rows(where, self.open)
        whole = where & (state == 1)[:, None]
        if not whole.any():
            return [alone]
        tracks = [self._named("track-lost", whole, subset_bits(len(where), int((state == 1).sum())))]
        if np.any(where & ~whole):
            rest = where & ~whole
            tracks.append(self._named("sectors-filled", rest, self._isolated(rest, self.open)))
        return min([alone], tracks, key=lambda parts: sum(one.bits for one in parts))

    def _named(self, code: str, where: Mask, naming: float, **values: Any) -> Part:
        return Part(code=code, where=where, bits=naming + self._fills(where) + PRIOR[code], values=values)

    def _side(self, where: Mask) -> Part | None:
        """The longest stretch of cylinders on which one side is gone."""
        if self.form.heads < 2:
            return None
        best: Part | None = None
        for side in range(self.form.heads):
            state = _rows(where[side :: self.form.heads], self.open[side :: self.form.heads])
            counts = where[side :: self.form.heads].sum(axis=1)
            begin, end = _longest(state, counts)
            if counts[begin:end].sum() == 0 or np.count_nonzero(state[begin:end] == 1) < 3:
                continue
            mine = np.zeros_like(where)
            mine[side + begin * self.form.heads : side + (end - 1) * self.form.heads + 1 : self.form.heads] = True
            mine &= where
            bits = choice_bits(self.form.heads) + 2 * choice_bits(self.form.cylinders)
            one = self._named("head-dead", mine, bits)
            if best is None or one.count > best.count:
                best = one
        return best

    def _end(self, where: Mask, *, within: bool) -> Part | None:
        """All from a cylinder on, or from a sector within one: where a file breaks off."""
        heads, sectors = self.form.heads, self.form.sectors
        left = np.flatnonzero((self.open & ~where).ravel())
        begin = int(left[-1]) + 1 if len(left) else 0
        choices = self.form.tracks * sectors
        if not within:
            begin = -(-begin // (heads * sectors)) * heads * sectors
            choices = self.form.cylinders
        mine = where & (np.arange(where.size).reshape(where.shape) >= begin)
        if not mine.any():
            return None
        reached = int(np.flatnonzero(mine.any(axis=1))[0]) // heads
        instead = "last-cylinders-missing/absent" if (self.held[mine] == ABSENT).all() else (
            "last-cylinders-missing/filled"
        )
        return self._named(
            "last-cylinders-missing", mine, choice_bits(choices) + 1, instead=instead, reached=reached - 1
        )


def _rows(where: Mask, among: Mask) -> NDArray[np.int64]:
    """Tell of each track: 1 where all that could be lost is, 0 where nothing could, -1 where something is left."""
    hit, could = where.any(axis=1), (among & ~where).any(axis=1)
    return np.where(could, -1, np.where(hit, 1, 0))


def _longest(state: NDArray[np.int64], counts: NDArray[np.int64]) -> tuple[int, int]:
    """Find the stretch without a -1 that counts most.

    Example:
        >>> _longest(np.array([1, -1, 0, 1, 1, -1]), np.array([9, 2, 0, 5, 5, 0]))
        (2, 5)
    """
    best, begin, most = (0, 0), 0, 0
    for at in range(len(state) + 1):
        if at == len(state) or state[at] == -1:
            if int(counts[begin:at].sum()) > most:
                best, most = (begin, at), int(counts[begin:at].sum())
            begin = at + 1
    return best
