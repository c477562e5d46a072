"""What remains of erased carriers: the stubs, and whether the log of commits and a stub bear each other out.

A line of the log alone takes no carrier out of the archive, for a line can be changed: it counts where the stub that it
names tells of the same inventory. Where the line is lost, the stub counts that tells of just the lines which are left.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import TYPE_CHECKING

from imagekeeper.archive.ocfl.ledger import Commits
from imagekeeper.errors import ImagekeeperError
from imagekeeper.provenance import places
from imagekeeper.provenance.fields import from_json, read_json
from imagekeeper.provenance.ids import MAX_LENGTH
from imagekeeper.provenance.testimony import Erased

if TYPE_CHECKING:
    from imagekeeper.archive.ocfl.folder import ArchiveFolder

_ENDING = "-erased"


def stub_ids(carrier_id: str) -> Iterator[str]:
    """Give the ids that a carrier's stub may have, the first free of which it gets.

    Example:
        >>> list(itertools.islice(stub_ids("tg85-u4"), 2))
        ['tg85-u4-erased', 'tg85-u4-erased-2']
    """
    first = carrier_id[: MAX_LENGTH - len(_ENDING) - 6] + _ENDING
    yield first
    for number in itertools.count(2):
        yield f"{first}-{number}"


def read_stub(archive: ArchiveFolder, stub_id: str) -> Erased | None:
    """Read what a stub says was erased; None where it is no stub, or cannot be read."""
    try:
        inventory = archive.inventory(stub_id)
        if places.ERASED not in inventory.state:
            return None
        data = archive.read_file(stub_id, places.ERASED, inventory)
        return from_json(Erased, read_json(data, places.ERASED), places.ERASED)
    except ImagekeeperError:
        return None   # the audit tells what is wrong with it


def stubs(archive: ArchiveFolder, carrier_id: str) -> Iterator[tuple[str, Erased]]:
    """Give the stubs that tell of a carrier, by their ids."""
    for stub_id in itertools.takewhile(archive.has, stub_ids(carrier_id)):
        found = read_stub(archive, stub_id)
        if found is not None and found.of == carrier_id:
            yield stub_id, found


def told(archive: ArchiveFolder, commits: Commits, carrier_id: str) -> tuple[str, Erased] | None:
    """Give the stub that bears out that a carrier was erased, with its id; None where nothing does.

    Args:
        archive: The archive.
        commits: What its log of commits says.
        carrier_id: The carrier.
    """
    noted = commits.erasure(carrier_id)
    for stub_id, found in stubs(archive, carrier_id):
        if noted is not None and noted.stub == stub_id and found.inventory_sha512.encode() in noted.line:
            return stub_id, found
        if found.log_sha512 == commits.digest(carrier_id) and (noted is not None or not archive.has(carrier_id)):
            return stub_id, found
    return None
