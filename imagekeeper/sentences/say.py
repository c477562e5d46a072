"""Look up what is said by key, and say it with the values of the case."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from typing import TYPE_CHECKING, Any, Literal

from imagekeeper.sentences import voice

if TYPE_CHECKING:
    from imagekeeper.sentences.says import Says

Part = Literal["what", "why", "next"]

#: The modules that hold the sentences, in the order in which to read them.
MODULES = (
    "files", "containers", "listings", "images", "reads", "causes", "disk_reads", "one_read", "experiments", "signs",
    "chips", "disks", "systems", "volumes", "archive", "carriers", "evidence", "steps", "own_faults", "proofs",
    "own_rows",
)


@dataclass(frozen=True)
class Phrase:
    """A part of a sentence that differs by the case: a value that is itself said by a key.

    Attributes:
        about: Its key among the phrases.
        values: What stands in it.
    """

    about: str
    values: Mapping[str, Any]

    def __init__(self, about: str, /, **values: Any) -> None:
        object.__setattr__(self, "about", about)
        object.__setattr__(self, "values", values)

    @property
    def code(self) -> str:
        """The code that its key begins with."""
        return self.about.partition("/")[0]

    def __str__(self) -> str:
        return said(self.about, "why", self.values)


#: Where the sentences of a code stand that is said with nearly every answer: the other modules need not be loaded.
_HOMES = {"step": "steps", "not-examined": "evidence", "trial-failed": "evidence", "part-unlike-marking": "evidence"}


@cache
def sentences() -> dict[str, Says]:
    """All sentences, by key."""
    found: dict[str, Says] = {}
    for name in MODULES:
        found |= import_module(f"imagekeeper.sentences.{name}").SAYS
    return found


@cache
def sentence(about: str) -> Says | None:
    """Find one sentence by its key."""
    home = _HOMES.get(about.partition("/")[0])
    if home is not None:
        found: Says | None = import_module(f"imagekeeper.sentences.{home}").SAYS.get(about)
        if found is not None:
            return found
    return sentences().get(about)


def said(about: str, part: Part, values: Mapping[str, Any]) -> str:
    """Say one part of a sentence; the words of whoever speaks come first.

    Nothing is ever raised: what has no sentence is said by its key.
    """
    from imagekeeper.sentences.template import fill  # as the sentences themselves: not before something is said

    own = voice.words(about)
    template = getattr(own, part) if own is not None else ""
    if not template:
        says = sentence(about)
        template = getattr(says, part) if says is not None else about
    return fill(template, values)


def needed(says: Says) -> frozenset[str]:
    """Name the values that a sentence needs."""
    from imagekeeper.sentences.template import placeholders  # for tests and the reference page alone

    return frozenset(name for text in (says.what, says.why, says.next) for name in placeholders(text))
