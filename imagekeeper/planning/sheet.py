"""The bench sheet: one page to lie beside the device, for a chip or for a disk."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from imagekeeper.tables import Source

#: What every sheet ends with.
DEFER = (
    "The maker's data sheet or manual decides. Leave work on mains, picture tubes and other high voltages to somebody "
    "qualified, under the rules of the place."
)


@dataclass(frozen=True)
class Fact:
    """One line of a sheet.

    Attributes:
        name: What it is.
        value: Its value, with its unit.
        memory: Whether it is from memory, so that it must be checked before anything depends on it.
    """

    name: str
    value: str
    memory: bool = False


@dataclass(frozen=True)
class SheetPart:
    """Some facts that belong together.

    Attributes:
        title: What they are about.
        facts: One by one.
    """

    title: str
    facts: tuple[Fact, ...]


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """What a person needs at the device, on one page.

    Attributes:
        title: What is to be made.
        parts: Facts in groups: the medium, the settings, the file, what to see afterwards.
        steps: What to do, in order, each to be ticked.
        cautions: What can hurt, or spoil the result; the weightiest first.
        sources: The documents that it rests on, in short.
        danger: What can destroy the part or hurt at once, or null, one danger on a line; it stands above everything
            else.
        defer: Who decides in the end.
    """

    title: str
    parts: tuple[SheetPart, ...]
    steps: tuple[str, ...]
    cautions: tuple[str, ...]
    sources: tuple[str, ...]
    danger: str | None = None
    defer: str = DEFER

    @property
    def dangers(self) -> tuple[str, ...]:
        r"""The dangers, one by one.

        Example:
            >>> Sheet(title="", parts=(), steps=(), cautions=(), sources=(), danger="25 V.\n12 V.").dangers
            ('25 V.', '12 V.')
        """
        return tuple(self.danger.split("\n")) if self.danger else ()

    @property
    def from_memory(self) -> tuple[str, ...]:
        """The names of the facts that are from memory.

        Example:
            >>> Sheet(
            ...     title="a disk", parts=(SheetPart("medium", (Fact("coercivity", "300 Oe", True),)),), steps=(),
            ...     cautions=(), sources=(),
            ... ).from_memory
            ('coercivity',)
        """
        return tuple(fact.name for part in self.parts for fact in part.facts if fact.memory)


def only_byte(pieces: Iterable[bytes | memoryview]) -> int | None:
    r"""Give the one value that every byte of an image has, or None where there are several, or no bytes.

    Example:
        >>> only_byte([b"\xff\xff", b"\xff"]), only_byte([b"\xff", b"\x00"]), only_byte([])
        (255, None, None)
    """
    found: set[int] = set()
    for piece in pieces:
        found.update(bytes(piece))
        if len(found) > 1:
            return None
    return next(iter(found), None)


def in_short(source: Source) -> str:
    """Cite a document in few words: a sheet has one page.

    Example:
        >>> from imagekeeper.tables import sources
        >>> in_short(sources()["kb-q79538"])
        'Microsoft Q79538'
    """
    return f"{source.author} {source.number}" if source.number else f"{source.author} ({source.kind})"
