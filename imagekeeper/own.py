"""A person's own rows of the tables: what they are, and how they are in force around a piece of work.

Whoever starts a piece of work supplies them; the tables ask here. The supply is asked when a table is first needed, so
that work which needs no table costs nothing, and is never stopped by a fault in a person's file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from functools import lru_cache, wraps
from typing import Any, Literal, ParamSpec, TypeVar

from imagekeeper.errors import Where

P = ParamSpec("P")
T = TypeVar("T")

#: The kinds of rows that a person may write, with the members that name one; each builds on those before it.
KEYS: dict[str, tuple[str, ...]] = {
    "pinout": ("id",), "chip": ("id",), "maker": ("chip", "maker"), "signature": ("chip", "maker", "code"),
    "medium": ("id",), "drive": ("id",), "format": ("id",),
}  # fmt: skip

#: Whose a row is: written beside the archive, in the person's own folder, or elsewhere and accepted here; elsewhere, it
#: is only checked.
Origin = Literal["archive", "person", "accepted", "elsewhere"]


@dataclass(frozen=True)
class Measured:
    """Who measured a value of an own row.

    Attributes:
        gives: The members that it gives; of a pinout, the pins.
        by: Who.
        on: When: a day, a month or a year.
        how: How, in words.
    """

    gives: tuple[str, ...]
    by: str
    on: str
    how: str


@dataclass(frozen=True, kw_only=True)
class OwnRow:
    """One row that a person wrote.

    Attributes:
        kind: One of `KEYS`.
        members: Its members as they stand in the file, grounds included.
        file: The file, made printable.
        line: The line that it begins at, or None where that cannot be told.
        origin: Whose it is.
        documents: The documents that it cites and the file describes, by id.
        told: Of an accepted row: from which archive it came, and who accepted it when.
    """

    kind: str
    members: Mapping[str, Any]
    file: str
    line: int | None = None
    origin: Origin = "archive"
    documents: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    told: str = ""

    @property
    def key(self) -> tuple[str, ...]:
        """The values that name it among its kind.

        Example:
            >>> OwnRow(kind="maker", members={"chip": "QX27", "maker": "Quillmere"}, file="a.toml").key
            ('QX27', 'Quillmere')
        """
        return tuple(str(self.members.get(name)) for name in KEYS[self.kind])

    @property
    def name(self) -> str:
        """Its kind and key in words.

        Example:
            >>> OwnRow(kind="chip", members={"id": "QX27"}, file="a.toml").name
            'chip QX27'
        """
        return f"{self.kind} {', '.join(self.key)}"

    @property
    def where(self) -> Where:
        """Where it stands."""
        return Where(file=self.file, line=self.line)

    @property
    def measured(self) -> tuple[Measured, ...]:
        """What was measured, by whom, when and how."""
        return tuple(
            Measured(tuple(one.get("gives", ())), one["by"], str(one["on"]), one["how"])
            for one in self.members.get("measured", ())
        )


@dataclass(frozen=True, eq=False)
class OwnRows:
    """The own rows that are in force together, the weaker first.

    Attributes:
        rows: The rows; of two of one key, the later wins.
        memory: What was worked out from the tables under them; it goes with them.
    """

    rows: Sequence[OwnRow] = ()
    memory: dict[Any, Any] = field(default_factory=dict, repr=False)

    def of(self, kind: str) -> tuple[OwnRow, ...]:
        """Give the rows of one kind."""
        found: tuple[OwnRow, ...] = self.memory.setdefault(
            ("of", kind), tuple(one for one in self.rows if one.kind == kind)
        )
        return found


NONE = OwnRows()

_supply: ContextVar[Callable[[], OwnRows]] = ContextVar("own rows", default=lambda: NONE)


def in_force() -> OwnRows:
    """Give the own rows that are in force here; none unless somebody supplied them.

    Example:
        >>> in_force().rows
        ()
    """
    return _supply.get()()


@contextmanager
def supplied(supply: Callable[[], OwnRows]) -> Iterator[None]:
    """Put own rows in force around a piece of work.

    Args:
        supply: Gives them, the same ones every time; it is first asked when a table is needed.

    Example:
        >>> mine = OwnRows((OwnRow(kind="chip", members={"id": "QX27"}, file="a.toml"),))
        >>> with supplied(lambda: mine):
        ...     in_force().rows[0].name
        'chip QX27'
    """
    before = _supply.set(supply)
    try:
        yield
    finally:
        _supply.reset(before)


def standing(rows: Sequence[OwnRow]) -> AbstractContextManager[None]:
    """Put these own rows, and no others, in force around a piece of work.

    Example:
        >>> with standing([OwnRow(kind="chip", members={"id": "QX27"}, file="a.toml")]):
        ...     in_force().rows[0].name
        'chip QX27'
    """
    own = OwnRows(rows)
    return supplied(lambda: own)


def remembered(size: int | None = None) -> Callable[[Callable[P, T]], Callable[P, T]]:
    """Work something out once for each set of own rows: what `functools.cache` is for that which hangs on the tables.

    Args:
        size: How many answers are kept at most, or None for all.
    """

    def around(function: Callable[P, T]) -> Callable[P, T]:
        plain = lru_cache(size)(function)

        @wraps(function)
        def asked(*args: P.args, **kwargs: P.kwargs) -> T:
            own = in_force()
            if not own.rows:
                return plain(*args, **kwargs)   # type: ignore[arg-type]  # whoever remembers gives what can be a key
            if asked not in own.memory:
                own.memory[asked] = lru_cache(size)(function)
            result: T = own.memory[asked](*args, **kwargs)
            return result

        return asked

    return around
