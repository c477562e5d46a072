"""Signs that bytes are in order: words and calls, held against those of the same bytes put in another order."""

from __future__ import annotations

from dataclasses import dataclass

from imagekeeper.inspection.calls import Calls, calls
from imagekeeper.inspection.content import Bytes, Content
from imagekeeper.inspection.words import Words, words
from imagekeeper.sentences.say import Phrase

#: Signs are looked for in so many bytes, which have addresses of 16 bits. [byte]
WINDOW = 0x10000
#: Less than this is no content to judge. [byte]
LEAST_CONTENT = 512

#: A sign is wide when it gains so much. [bit]
WIDE = 50.0
#: Such a share of the calls of a program leads to where a subroutine begins, at least.
LED = 0.5
#: Both signs together have to gain so much. [bit]
GAIN = 50.0
#: So many words are shown.
SHOWN = 5


@dataclass(frozen=True)
class Order:
    """What bytes in one order show.

    Attributes:
        words: The words in them.
        calls: Where their calls lead.
    """

    words: Words
    calls: Calls

    @classmethod
    def of(cls, data: Bytes, anywhere: bool = False) -> Order:
        """Look at bytes in the order of their addresses, which may begin anywhere in a program if that is said."""
        return cls(words(data), calls(data, anywhere))

    @property
    def bits(self) -> float:
        """Both signs together. [bit]"""
        return self.words.bits + self.calls.bits

    def better(self, known: Order, times: float = 2.0) -> list[Phrase]:
        """Say by which signs this order is better than another, by a wide margin; nothing where one is worse.

        Args:
            known: The other order.
            times: How many times the other's words say as much, at least, where words alone speak for this one.
        """
        if self.gain(known) < GAIN or self.words.bits < known.words.bits or self.calls.bits < known.calls.bits:
            return []
        led = self.calls.hits >= LED * self.calls.targets and _wide(self.calls.bits, known.calls.bits, 2.0)
        says = []
        if self.words.varied and _wide(self.words.bits, known.words.bits, 1.0 if led else times):
            says.append(Phrase(
                "data-lines-exchanged/words", words=list(self.words.found[:SHOWN]), count=len(self.words.found),
                before=len(known.words.found),
            ))  # fmt: skip
        if led:
            says.append(Phrase(
                "data-lines-exchanged/calls", processor=self.calls.of, hits=self.calls.hits, targets=self.calls.targets,
            ))  # fmt: skip
        return says

    def gain(self, known: Order) -> float:
        """How much more this order says than another. [bit]"""
        return self.bits - known.bits


def _wide(now: float, before: float, times: float) -> bool:
    return now - before >= WIDE and now >= times * before


def window(content: Content) -> int:
    """Choose the 64 KiB of an image that hold least fill: the offset of their first byte. [byte]"""
    if content.size <= WINDOW:
        return 0
    fill = [0] * -(-content.size // WINDOW)
    for run in content.runs:
        at = run.at
        while at < run.at + run.length:
            upto = min((at // WINDOW + 1) * WINDOW, run.at + run.length)
            fill[at // WINDOW] += upto - at
            at = upto
    whole = content.size // WINDOW
    return min(range(whole), key=fill.__getitem__) * WINDOW
