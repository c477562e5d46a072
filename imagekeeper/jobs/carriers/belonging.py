"""Which machine a name means: names of machines that are one thing under two spellings, or two under one."""

from __future__ import annotations

from collections.abc import Iterator

from imagekeeper.archive.index.sqlite.base import Index, MachineRow
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.errors import UsageError
from imagekeeper.provenance.facts import Decide, OddFact, odd_name, settle
from imagekeeper.provenance.slips import mistakes, nearest, plain
from imagekeeper.sentences.say import Phrase


class MachineNames:
    """The machines of an archive, and the names that its carriers give, looked up once.

    Args:
        archive: The archive.
    """

    def __init__(self, archive: ArchiveStore) -> None:
        self._archive = archive
        self._machines: tuple[MachineRow, ...] | None = None
        self._named: list[str] = []

    def note(self, name: str) -> None:
        """Take in a name that a carrier is about to give."""
        self._look()
        self._named.append(name)

    def odd_of_carrier(self, name: str) -> Iterator[OddFact]:
        """Tell of a name that a carrier gives, and that may be a slip of a machine that is known.

        One that is known just so is meant; so is the id of a machine, whatever its capitals.
        """
        machines = self._look()
        ids = [one.id for one in machines]
        known = [*(one.name for one in machines if one.name), *ids, *self._named]
        if name not in known and name.strip().casefold() not in (one.casefold() for one in ids):
            yield from odd_name("machine", name, known)

    def twin(self, name: str, own: str | None) -> MachineRow | None:
        """Find another machine that has a name, or one that differs too little from it."""
        others = [one for one in self._look() if one.id != own and one.name]
        near = [one for one in others if one.name == name or nearest(name, [one.name or ""])]
        return min(near, key=lambda one: (one.name != name, mistakes(plain(name), plain(one.name or ""), 2) or 0),
                   default=None)  # fmt: skip

    def odd_of_machine(self, name: str) -> Iterator[OddFact]:
        """Tell of a name for a machine that may be a slip of what carriers call theirs."""
        recorded = {(one.name or one.id).strip().casefold() for one in self._look()}
        free = [one for one in self._named if one.strip().casefold() not in recorded]
        if name.strip().casefold() not in (one.strip().casefold() for one in free):
            yield from odd_name("name", name, free, "machine")

    def _look(self) -> tuple[MachineRow, ...]:
        if self._machines is None:
            with Index(self._archive) as index:
                self._machines = index.machines()
                self._named = list(index.machine_names())
        return self._machines


def settled_name(
    archive: ArchiveStore, name: str, decide: Decide, own: str | None = None
) -> tuple[str, tuple[str, ...]]:
    """Have it decided what a machine is called.

    Args:
        archive: The archive.
        name: What it is to be called.
        decide: Decides where another machine is called so, or nearly.
        own: The id of the machine itself, where it has a record already.

    Returns:
        The name, and what was insisted upon.

    Raises:
        UsageError: `odd-facts` for a name that is taken or too near, and not insisted upon; `carrier-exists` where it
            is the same machine.
    """
    names = MachineNames(archive)
    twin = names.twin(name, own)
    if twin is None:
        settled = settle(list(names.odd_of_machine(name)), decide)
        return settled.names.get("name", name), settled.insisted
    if twin.name == name:
        says = Phrase("odd-facts/machine-of-name", id=twin.id, name=name)
    else:
        says = Phrase("odd-facts/machine", id=twin.id, near=twin.name, name=name)
    settled = settle([OddFact("name", says, twin.name)], decide)
    if settled.names:
        raise UsageError("carrier-exists/same-machine", id=twin.id, name=twin.name)
    return name, settled.insisted
