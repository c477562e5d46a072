"""What the files beside the storage root should say: the mark, the README and the log of commits."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path
from typing import TYPE_CHECKING

from imagekeeper.archive.exchange.proofs import Link, Witness
from imagekeeper.archive.ocfl import founding, ledger
from imagekeeper.archive.ocfl.erasures import told
from imagekeeper.archive.ocfl.founding import FORMAT, FORMAT_VERSION, MARKER, README, Marker
from imagekeeper.archive.ocfl.inventory import INVENTORY, SIDECAR, sidecar_digest
from imagekeeper.archive.ocfl.inventory_check import parse_inventory
from imagekeeper.archive.ocfl.layout import LAYOUT_FILE, LAYOUTS
from imagekeeper.archive.ocfl.reading import bytes_if_any, entries, size_if_any
from imagekeeper.errors import ImagekeeperError
from imagekeeper.provenance.fields import write_json

if TYPE_CHECKING:
    from imagekeeper.archive.store import ArchiveStore

#: A larger file is no README of ours. [byte]
README_LIMIT = 1 << 16


def right_marker(folder: Path, replica: ArchiveStore | None) -> bytes | None:
    """Give the mark that the README bears out, or that bears itself out, or else the replica's; None for none."""
    text, own = bytes_if_any(folder / README) or b"", bytes_if_any(folder / MARKER) or b""
    made = _from_readme(text, folder)
    if made is not None:
        return made
    marker = _parsed(own)
    if marker is not None and marker.readme_sha512 in (_digest(text), _digest(marker.readme())):
        return write_json(marker)
    if replica is not None and (replica.marker.uuid.encode() in text + own or _same_history(folder, replica)):
        return bytes_if_any(replica.path / MARKER)
    return None


def _same_history(folder: Path, replica: ArchiveStore) -> bool:
    """Whether two logs of commits note one and the same commit."""
    ours, theirs = (bytes_if_any(log / ledger.COMMITS) or b"" for log in (folder / "log", replica.log))
    return bool({line for line in ours.split(b"\n") if line} & {*theirs.split(b"\n")})


def _from_readme(text: bytes, folder: Path) -> bytes | None:
    """Make the mark from a README of this version, which says all of it."""
    found = [re.search(rb"(?m)^" + label + rb": +(.*)$", text) for label in (b"Title", b"Identity", b"Created")]
    try:
        declared = json.loads(bytes_if_any(folder / "carriers" / LAYOUT_FILE) or b"")["extension"]
        title, uuid, created = (match[1].decode() if match else "" for match in found)
    except (ValueError, RecursionError, LookupError, TypeError):
        return None
    for layout in LAYOUTS.values():
        marker = Marker(
            format=FORMAT, version=FORMAT_VERSION, uuid=uuid, title=title, created=created, layout=layout.number,
            readme_sha512=_digest(text),
        )  # fmt: skip
        if layout.extension == declared and marker.readme() == text:
            return write_json(marker)
    return None


def _parsed(data: bytes) -> Marker | None:
    try:
        return founding.parse_marker(data)
    except ImagekeeperError:
        return None


def right_readme(archive: ArchiveStore, replica: ArchiveStore | None) -> bytes | None:
    """Give the README whose digest the mark states; of an older mark, which states none, what this version writes."""
    texts = [bytes_if_any(archive.path / README), archive.marker.readme()]
    texts += [] if replica is None else [bytes_if_any(replica.path / README)]
    texts += [bytes_if_any(path) for path in _small_files(archive.path)]   # it may lie beside under another name
    wanted = archive.marker.readme_sha512
    for text in texts:
        if text is not None and _digest(text) == wanted:
            return text
    return texts[1] if wanted is None else None


def _small_files(folder: Path) -> list[Path]:
    """List the files directly in a folder that are no larger than any README."""
    names = [name for name, kind in entries(folder).items() if kind == "file"]
    return [folder / name for name in names if size_if_any(folder / name) <= README_LIMIT]


def right_log(archive: ArchiveStore, replica: ArchiveStore | None, *, complete: bool) -> bytes:
    """Write the log of commits anew, from the inventories and from what is sound in it and in the replica's.

    Where a line notes another version than the one that is here, and is no damaged line about this one, it stays, and
    none is written about this one: the log is the witness, and is never made to fit. A line that notes what the
    archive does not hold is kept, for it tells of a loss; unless its digest is that of an inventory which is here,
    under another id or number: then it is the line that is wrong. What the replica notes of such a loss counts only
    where the archive's own log notes nothing of it, and only where that is not complete: else a copy could change what
    was noted. A second copy of the log, which lies beside it, counts in the same way. That a carrier was erased is
    noted as its stub tells of it.
    """
    log = ledger.read_commits(archive)
    witness = Witness(log)
    links: dict[tuple[str, int], Link] = {}
    expected: dict[bytes, tuple[str, int]] = {}
    unsure: set[tuple[str, int]] = set()
    for carrier in archive.ids():
        try:
            inventory = archive.inventory(carrier)
        except ImagekeeperError:
            unsure |= {(carrier, noted.version) for noted in log.notes.get(carrier, ())}
            continue
        for number, version in enumerate(inventory.versions, 1):
            place = archive.object_path(carrier) / f"v{number}"
            data, beside = bytes_if_any(place / INVENTORY), bytes_if_any(place / SIDECAR)
            if data is None or sidecar_digest(beside or b"") != _digest(data):
                unsure.add((carrier, number))
            elif parse_inventory(data).inventory == inventory.at(number):
                links[carrier, number] = Link(number, version.created, _digest(data))
    digests = {link.digest for link in links.values()}
    for (carrier, number), link in links.items():
        if witness.says(carrier, link, digests) == "another":
            unsure.add((carrier, number))
        else:
            expected[ledger.commit_line(carrier, number, link.created, link.digest)] = (carrier, number)
    told_of = {carrier: found for carrier in log.notes if (found := told(archive, log, carrier)) is not None}
    erasures = {carrier: ledger.erasure_line(erased, stub_id) for carrier, (stub_id, erased) in told_of.items()}
    kept: list[bytes] = []
    done: set[bytes] = set()
    known = set(expected.values())
    ours: set[tuple[str, int]] = set()
    theirs = [] if replica is None else [ledger.read_commits(replica)]
    for read in (log, *(() if complete else (*ledger.commits_elsewhere(archive), *theirs))):
        notes = [(carrier, noted) for carrier, found in read.notes.items() for noted in found]
        for carrier, noted in sorted(notes, key=lambda one: one[1].number):
            line, name = noted.line, (carrier, noted.version)
            if noted.stub is not None and erasures.get(carrier, line) != line:
                continue   # the stub, which has a digest, tells otherwise
            unnoted = read is log or name not in ours
            elsewhere = name not in unsure and json.loads(line).get("inventory_sha512") in digests
            lost = name not in known and unnoted and not elsewhere
            if line not in done and (line in expected or lost or noted.stub is not None):
                done.add(line)
                kept.append(line)
        ours |= {(carrier, noted.version) for carrier, noted in notes}
    kept += [line for line in (*expected, *erasures.values()) if line not in done]
    return b"".join(line + b"\n" for line in kept)


def _digest(data: bytes) -> str:
    return hashlib.sha512(data).hexdigest()
