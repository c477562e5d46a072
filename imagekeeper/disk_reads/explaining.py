"""Which cause explains best why reads of a disk differ: the shortest description of all of them from one.

The measure is that of `comparison.coding`: a read that is taken as right must be told whole, every other one by the
rule that makes it from that, and by what the rule gets wrong. A disk that holds the same cylinder twice, or a broken
file system, takes long to tell: so the measure also says which read is wrong, where anything does.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from imagekeeper.comparison.certainty import SUREST, seen_by, shares
from imagekeeper.disk_reads.content import DiskContent
from imagekeeper.disk_reads.losses import PRIOR, SAME_DISK, Part, Rest
from imagekeeper.disk_reads.moves import Form, Move, moves, own_places
from imagekeeper.disk_reads.sectors import ABSENT, Contents, Numbers, SectorRead, padded
from imagekeeper.disk_reads.turns import turns
from imagekeeper.floppy.arrangement import Geometry

#: So many images are tried as the right one; more would say nothing new.
MOST_TRIED = 6

#: What every rule that moves sectors takes beside its own bits. [bit]
_MOVING = 5.0

#: What each sector takes that an image lacks and that is yet taken as right. [bit]
_LACKING = 2.0

#: What is less likely than this is not said.
UNLIKELY = 0.05

#: A read is called wrong only where it is at least so sure.
SURE = 0.95

#: What both reads have together is taken as right where it is likelier than that one of them is.
_LIKELIER = 0.5

#: Codes of which no read is wrong: the reads are right, and the disks are not the same.
NO_READ_IS_WRONG = ("other-version", "other-disk")

#: Codes of what comes again when a disk is read again.
_STAYING = ("sectors-filled", "track-lost", "head-dead", "last-cylinders-missing")

#: Codes where what the sectors hold tells which read is wrong only from so many bits on, and the order of them nothing.
_AS_GOOD, _DEAD_ZONE = ("weak-sectors", "sectors-differ"), 64.0


@dataclass(frozen=True, kw_only=True)
class DiskAccount:
    """One way to make a read from another.

    Attributes:
        move: From where its sectors come.
        parts: What is wrong with them besides, most sectors first.
        bits: What it takes to say all that.
    """

    move: Move
    parts: tuple[Part, ...]
    bits: float

    def of_reads(self, count: int) -> float:
        """Bits to say it of so many reads: what cannot be read stays so, all else would have come again by chance."""
        stays = sum(part.bits for part in self.parts if part.code in _STAYING)
        return self.bits + (count - 1) * (self.bits - stays)

    @property
    def code(self) -> str:
        """The code of what explains most of it."""
        return self.codes[0]

    @cached_property
    def codes(self) -> tuple[str, ...]:
        """All codes, the one that concerns most sectors first."""
        events = sorted(self.move.events, key=lambda event: -event.weight)
        return (*dict.fromkeys(event.code for event in events), *dict.fromkeys(part.code for part in self.parts))


@dataclass(frozen=True, kw_only=True)
class Explained:
    """Why one image differs from another.

    Attributes:
        account: The way to make the one from the other.
        confidence: From 0 to 1.
        right: The image that it starts from.
        wrong: The image that it makes.
        told: Whether it is sure which of the two is wrong.
    """

    account: DiskAccount
    confidence: float
    right: SectorRead
    wrong: SectorRead
    told: bool


class Explaining:
    """The question why images of one disk differ.

    Args:
        images: The different images, the one that most reads gave first.
        contents: What they hold.
        geometry: How the disk is divided.
    """

    def __init__(self, images: Sequence[SectorRead], contents: Contents, geometry: Geometry) -> None:
        self.images, self.contents, self.geometry = list(images), contents, geometry
        self.form = Form(geometry.cylinders, geometry.heads, images[0].numbers.shape[1])
        self._on: dict[int, DiskContent] = {}

    def on(self, image: SectorRead) -> DiskContent:
        """Give what is on a disk as an image has it."""
        return self._on.setdefault(id(image), DiskContent(image.data, self.geometry))

    def explained(self) -> tuple[Explained, ...]:
        """Give what explains the differences: for each image that is not taken as right, the likeliest first."""
        if len(self.images) == 2 and len(self.images[0].reads) == len(self.images[1].reads):
            return self._of_whole(*self.images) or tuple(self._of_two(*self.images))
        voted = self._voted()
        tried = [*self.images[:MOST_TRIED], *([voted] if voted is not None else [])]
        found: list[tuple[float, SectorRead, list[tuple[SectorRead, list[DiskAccount]]]]] = []
        for right in tried:
            of_each = [(image, self.accounts(right, image)) for image in self.images if image is not right]
            bits = self._alone(right) + sum(of_this[0].of_reads(len(image.reads)) for image, of_this in of_each)
            found.append((bits, right, of_each))
        bits, right, of_each = min(found, key=lambda one: one[0])
        belief = shares([one[0] for one in found])[[one[0] for one in found].index(bits)]
        result = []
        for image, accounts in of_each:
            for account, share in self._likely(accounts):
                few = len(image.reads) * 2 <= sum(len(one.reads) for one in self.images)
                told = belief >= SURE and few and account.code not in NO_READ_IS_WRONG
                result.append(Explained(
                    account=account, confidence=_confidence(share, account), right=right, wrong=image, told=told
                ))  # fmt: skip
        return tuple(sorted(result, key=lambda one: -one.confidence))

    def _of_whole(self, one: SectorRead, other: SectorRead) -> tuple[Explained, ...]:
        """Explain two images each of which has fill where the other has content: what both have together is right.

        They are not two states of one disk: whichever came first, writing put fill in place of content.
        """
        first, second = (padded(image.numbers, max(one.tracks, other.tracks)) for image in (one, other))
        there, fills = (first != ABSENT) & (second != ABSENT), self.contents.is_fill
        lost, kept = there & fills[first] & ~fills[second], there & ~fills[first] & fills[second]
        if not (lost.any() and kept.any()):
            return ()
        whole = replace(one, numbers=np.where(lost, second, first), reads=(), name="", data=b"")
        of_each = [self.accounts(whole, image)[0] for image in (one, other)]
        bits = self._alone(whole) + sum(account.bits for account in of_each)
        rivals = [
            self._alone(right) + next(
                (one.bits for one in self.accounts(right, wrong) if one.code != "other-version"), math.inf
            )
            for right, wrong in ((one, other), (other, one))
        ]
        belief = shares([bits, *rivals])[0]
        if belief < _LIKELIER or any(account.code not in _STAYING for account in of_each):
            return ()
        return tuple(
            Explained(
                account=account, confidence=_confidence(belief, account), right=replace(whole, name=right.name),
                wrong=wrong, told=True,
            )
            for account, right, wrong in zip(of_each, (other, one), (one, other), strict=True)
        )  # fmt: skip

    def _of_two(self, one: SectorRead, other: SectorRead) -> Iterator[Explained]:
        """Explain two images of which none has more reads: each is tried as the right one."""
        ways = [(right, wrong, account) for right, wrong in ((one, other), (other, one))
                for account in self.accounts(right, wrong)]
        alone = {id(image): self._alone(image) for image in (one, other)}
        plain = [account.bits + alone[id(right)] for right, _, account in ways]
        likeliest = ways[int(np.argmin(plain))][2].code
        if likeliest in _AS_GOOD and abs(alone[id(one)] - alone[id(other)]) < _DEAD_ZONE:
            alone = dict.fromkeys(alone, 0.0)
        if likeliest not in NO_READ_IS_WRONG:
            for image in (one, other):
                on = self.on(image)
                alone[id(image)] -= on.system_bits + (on.order_bits if likeliest not in _AS_GOOD else 0.0)
        lengths = [account.bits + alone[id(right)] for right, _, account in ways]
        belief = shares(lengths)
        by_code: dict[str, float] = {}
        by_way: dict[tuple[str, int], float] = {}
        best: dict[str, int] = {}
        for at, ((right, _, account), share) in enumerate(zip(ways, belief, strict=True)):
            by_code[account.code] = by_code.get(account.code, 0.0) + share
            by_way[account.code, id(right)] = by_way.get((account.code, id(right)), 0.0) + share
            if account.code not in best or lengths[at] < lengths[best[account.code]]:
                best[account.code] = at
        for place, (code, share) in enumerate(sorted(by_code.items(), key=lambda one: -one[1])):
            if share < UNLIKELY and place:
                continue
            right, wrong, account = ways[best[code]]
            told = by_way[code, id(right)] >= SURE * share and code not in NO_READ_IS_WRONG
            yield Explained(
                account=account, confidence=_confidence(share, account), right=right, wrong=wrong, told=told
            )

    def _alone(self, image: SectorRead) -> float:
        """Bits to tell an image by itself, as a disk; one that lacks sectors is unlikely to be all of one."""
        lacking = max(self.form.tracks - image.tracks, 0) * self.form.sectors
        return float(self.contents.bits[image.numbers].sum()) + _LACKING * lacking

    @staticmethod
    def _likely(accounts: Sequence[DiskAccount]) -> Iterator[tuple[DiskAccount, float]]:
        belief = shares([one.bits for one in accounts])
        by_code: dict[str, tuple[DiskAccount, float]] = {}
        for account, share in zip(accounts, belief, strict=True):
            first, sum_of = by_code.get(account.code, (account, 0.0))
            by_code[account.code] = first, sum_of + share
        likely = sorted(by_code.values(), key=lambda one: -one[1])
        yield from (one for at, one in enumerate(likely) if not at or one[1] >= UNLIKELY)

    def _voted(self) -> SectorRead | None:
        """Take in every sector what more than half of the reads hold; None where that is one of the images."""
        count = max(self.form.tracks, *(image.tracks for image in self.images))
        whole = [padded(image.numbers, count) for image in self.images]
        weights = [len(image.reads) for image in self.images]
        if len(whole) < 3 or weights[0] * 2 > sum(weights):
            return None
        result = whole[0].copy()
        for number in whole:
            votes = sum(weight * (number == other) for weight, other in zip(weights, whole, strict=True))
            result = np.where(np.asarray(votes) * 2 > sum(weights), number, result)
        if any(np.array_equal(result, one) for one in whole):
            return None
        return replace(self.images[0], numbers=result, reads=(), name="", data=b"")

    def accounts(self, right: SectorRead, wrong: SectorRead) -> list[DiskAccount]:
        """Give the ways to make one image from another, the shortest first."""
        count = max(self.form.tracks, right.tracks, wrong.tracks)
        first, second = padded(right.numbers, count)[: self.form.tracks], padded(wrong.numbers, count)
        found = list(self._ways(own_places(self.form, count), first, second, (right, wrong)))
        for move in (*moves(first, second, self.form, self.contents), *turns(first, second, self.form, self.contents)):
            found += self._ways(move, first, second, None)
        return sorted(found, key=lambda one: one.bits)

    def _ways(
        self, move: Move, first: Numbers, second: Numbers, images: tuple[SectorRead, SectorRead] | None
    ) -> Iterator[DiskAccount]:
        """Give the ways to say what a rule leaves.

        Args:
            move: The rule.
            first: What the image holds that it starts from.
            second: What the other holds.
            images: Both, where sectors may also differ for another reason than a fault, else None.
        """
        foretold = move.foretold(first)
        if any(event.code == "side-missing" for event in move.events):   # it ends where the side does
            if np.any(second[self.form.cylinders :] != ABSENT):
                return
        elif len(second) > self.form.tracks and images is not None:
            foretold[self.form.tracks :] = ABSENT
        rest = Rest(form=self.form, contents=self.contents, truth=first, foretold=foretold, held=second)
        if images is None and not rest.fits:
            return
        base = rest.unforetold_bits + move.bits + (_MOVING if move.events else 0.0)
        parts = list(rest.parts())
        beyond = (foretold == ABSENT) & (second != ABSENT)
        if not move.events and beyond.any():
            parts.append(Part(code="sectors-differ", where=beyond, bits=PRIOR["sectors-differ"]))
        parts.sort(key=lambda part: -part.count)
        if parts or move.events:
            yield DiskAccount(move=move, parts=tuple(parts), bits=base + sum(part.bits for part in parts))
        decay = rest.decay()
        if decay is not None and decay.count:
            yield DiskAccount(move=move, parts=(decay,), bits=base + decay.bits)
        if images is None:
            return
        version, other = rest.version(), rest.other_disk()
        if other is not None:
            yield DiskAccount(move=move, parts=(other,), bits=base + other.bits)
        if version is None:
            return
        bits, entered = base + version.bits, False
        if np.any(rest.near | rest.other):   # something besides fill came in place of content
            places = [(track, sector) for track, sector in np.argwhere(version.where).tolist()]
            told, entered = self.on(images[0]).version_bits(self.on(images[1]), places)
            bits -= told
        if entered:   # the directories name the sectors
            bits -= version.values["naming"]
        if entered or rest.same_share >= SAME_DISK:
            yield DiskAccount(move=move, parts=(version,), bits=bits)


def _confidence(share: float, account: DiskAccount) -> float:
    """Give the confidence of an account that so much of the belief falls to."""
    seen = sum(part.count for part in account.parts) + sum(event.weight for event in account.move.events)
    return round(min(share * seen_by(seen), SUREST), 3)
