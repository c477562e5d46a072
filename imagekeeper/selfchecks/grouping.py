"""What holds only because something else does is told once, under the stronger one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from imagekeeper.selfchecks.chance import SHARES
from imagekeeper.selfchecks.places import IN_THE_FILL
from imagekeeper.selfchecks.trials import Trial

#: A figure that balances whenever another does: 8-bit sums and exclusive ors follow from those of both lanes, sums
#: with end-around carry from those of words (65535 is a multiple of 255) and from the first of Fletcher's sums.
FOLLOWS = {
    "lanes-zero": ("sum8-zero",),
    "xor16-zero": ("xor8-zero",),
    "carried-words-ones": ("carried8-ones",),
    "fletcher16-zero": ("carried8-ones",),
    "fletcher16-256-zero": ("sum8-zero",),
}


#: Readings are about as rare where one is so many times as likely by chance as the other: it was tried in more ways.
ABOUT = 4


@dataclass
class Group:
    """A trial that holds, with those that hold because of it."""

    main: Trial
    implied: list[Trial] = field(default_factory=list)

    def told_by(self, chance: Callable[[Trial], float]) -> Group:
        """Give the group under that reading of its one stored value that chance explains least, all trials counted.

        Asked are the readings that are about as rare: of them what takes no byte of the fill for a value goes first.
        """
        if self.main.at is None:
            return self
        readings = [
            one for one in (self.main, *self.implied)
            if one.at is not None and one.odds.alone <= self.main.odds.alone * ABOUT
        ]  # fmt: skip
        best = min(readings, key=lambda one: (one.place == IN_THE_FILL, chance(one)))
        return Group(best, [one for one in (self.main, *self.implied) if one is not best])


def grouped(hits: Sequence[Trial]) -> list[Group]:
    """Put every hit under the rarest hit that implies it.

    Args:
        hits: The trials that hold.
    """
    groups: list[Group] = []
    both_words = {trial.id for trial in hits if trial.place == "left out 0"} >= {"words-le-zero", "words-be-zero"}
    for hit in sorted(hits, key=_order):
        for group in groups:
            follows = both_words and group.main.id == "words-le-zero" and hit.id in ("lanes-zero", "sum8-zero")
            if (follows and hit.place == group.main.place) or implies(group.main, hit):
                group.implied.append(hit)
                break
        else:
            groups.append(Group(hit))
    return groups


def _order(trial: Trial) -> tuple[float, bool, int, int]:
    """Sort by rarity; of readings of one rarity what takes no byte of the fill for a value, and then the more usual."""
    return trial.odds.alone, trial.place == IN_THE_FILL, -SHARES[trial.tier], trial.block or 0


def implies(a: Trial, b: Trial) -> bool:
    """Whether `b` holds only because `a` does.

    Example:
        >>> from imagekeeper.selfchecks.chance import Odds
        >>> lanes = Trial(
        ...     id="lanes-zero", title="", source="", tier="possible", odds=Odds(2.0**-16), holds=True, bits=16,
        ...     over=((0, 64),),
        ... )
        >>> whole = Trial(
        ...     id="sum8-zero", title="", source="", tier="possible", odds=Odds(2.0**-8), holds=True, bits=8,
        ...     over=((0, 64),),
        ... )
        >>> implies(lanes, whole), implies(whole, lanes)
        (True, False)
    """
    if a.at is not None and b.at is not None:
        # one stored value is one witness, read in whatever order or width
        return a.at <= b.at < a.at + a.stored_bytes or b.at <= a.at < b.at + b.stored_bytes
    if b.at is not None:
        # a stored zero beside bytes whose sum is zero
        return a.id == f"{b.id}-zero" and int(b.stored, 16) == 0
    if a.at is not None:
        return False
    if a.block is not None:
        # sums of blocks make those of larger blocks, of the whole, and of a whole cut short at a block's side
        return b.id == a.id and a.odds.fit == a.odds.blocks and (b.block is None or b.block > a.block)
    if b.block is not None:
        return False
    if a.id.startswith("extension-"):
        return b.id == "sum8-zero" or (b.id.startswith("extension-") and b.place == a.place)
    if b.place == a.place and b.over == a.over:
        return b.id in FOLLOWS.get(a.id, ())
    # the same figure with a blank end left out or not
    return b.id == a.id or b.id in FOLLOWS.get(a.id, ())
