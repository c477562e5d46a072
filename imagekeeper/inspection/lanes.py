"""Whether the image looks like half of a 16-bit pair: every second byte of something."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from imagekeeper.findings import Finding
from imagekeeper.inspection.content import Content
from imagekeeper.inspection.naming import PinNames
from imagekeeper.inspection.results import Text
from imagekeeper.sentences.say import Phrase

#: The letter pairs that are commonest inside English words; from memory. They make up about half of all pairs there,
#: and a fifth of the pairs that the same letters form by chance.
_PAIR_LIST = """
th he in er an re on at en nd ti es or te of ed is it al ar st to nt ng se ha as ou io le ve co me de hi ri ro ic ne ea
ra ce li ch ll be ma si om ur ec
"""
_PAIRS = frozenset(_PAIR_LIST.split())
_LANGUAGE, _MIXED = 0.45, 0.30

#: Letter pairs that it takes for a statement.
ENOUGH = 40

#: The vectors of a 68000 fill the first 1024 bytes of a pair, 512 of each chip; the first 64 vectors, 128 of each.
_VECTORS = 128


def lane(content: Content, texts: tuple[Text, ...], bench: PinNames) -> Iterator[Finding]:
    """Say so where the bytes look like one lane of a pair.

    The vectors of a 68000 are 32-bit numbers that differ in their low halves only (source: Motorola, M68000 User's
    Manual, table 6-2), so that every second byte of a lane is the same there. Text in a lane has the letters of a
    language, but not its pairs of letters. Both are signs, no proofs.
    """
    reasons: list[Phrase] = []
    chance = 1.0
    words = " ".join(t.text.lower() for t in texts if t.form == "ascii")
    pairs = [a + b for a, b in pairwise(words) if a.isalpha() and b.isalpha()]
    if len(pairs) >= ENOUGH and not content.smooth and _like_language(words):
        share = sum(pair in _PAIRS for pair in pairs) / len(pairs)
        if share < _MIXED:
            chance *= 0.35
            reasons.append(Phrase("lane-of/letters", share=share, pairs=len(pairs), usual=_LANGUAGE))
    vectors = _vectors(content)
    if vectors:
        chance *= 0.5
        reasons.append(vectors)
    if not reasons:
        return
    yield bench.finding("lane-of", "note", 1 - chance, reasons="; ".join(map(str, reasons)), detail={"of": 2})


def _like_language(words: str) -> bool:
    letters = [c for c in words if c.isalpha()]
    vowels = sum(c in "aeiou" for c in letters) / len(letters)
    commonest = max(letters.count(c) for c in set(letters)) / len(letters)
    return 0.28 <= vowels <= 0.48 and len(set(letters)) >= 12 and commonest <= 0.2


def _vectors(content: Content) -> Phrase | None:
    head = content.data[:_VECTORS]
    if content.start or content.size < 4 * _VECTORS:
        return None
    high, low = head[0::2], head[1::2]
    common = int(np.argmax(np.bincount(high, minlength=256)))
    same = int(np.count_nonzero(high == common))
    if same < 0.9 * len(high) or common > 0x0F:   # a ROM of that machine lies low in its 16 MiB, or at the top
        return None
    commonest = int(np.bincount(low[2:]).max())
    odd_lane = bool(np.all(low % 2 == 0))
    few = len(np.unique(low[2:])) <= 8
    if (not odd_lane and not few) or np.all(head == common) or (few and common == int(np.argmax(np.bincount(low)))):
        return None
    return Phrase(
        "lane-of/low-bytes" if odd_lane and not few else "lane-of/middle-bytes",
        pairs=len(high), same=same, common=common, times=commonest,
    )  # fmt: skip
