"""Records changed one field at a time, with every digest above them signed again: who names that?

    python -m tests.tampering [--every N]      all fields, or every Nth; each that went unnoticed

The archive is that of the demonstration, with what it leaves out: a machine, remarks, a picture, a trial, a correction
and a withdrawal. One value in one record is changed to another of its kind, and whatever a thorough forger would make
anew is made anew: the file's digest in all inventories, their digests, and the log of commits. Then the audit
re-proves.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import io
import json
import os
import re
import shutil
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from imagekeeper.archive.audits.audit import Choice
from imagekeeper.archive.ocfl.inventory import INVENTORY, SIDECAR, sidecar_bytes
from imagekeeper.archive.ocfl.ledger import COMMITS, commit_line
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.jobs.archive.auditing import audit_archive
from imagekeeper.jobs.carriers import correcting, describing, testifying
from imagekeeper.jobs.session import now, this_session
from imagekeeper.jsonable import canonical
from imagekeeper.provenance import places
from imagekeeper.provenance.events import EVENT_TYPES, OUTCOMES
from imagekeeper.provenance.kinds import KINDS

PICTURE = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + bytes(40)

#: What nothing else in the archive repeats, and why that is so.
EXCUSED: dict[str, str] = {
    "id of the last event": "a UUID is drawn by chance; the next event's digest holds it, and there is none yet",
    "program of the last event": "so is the version of the program, where its records do not name it too",
    "words of the last event": "the reason of a correction is kept there alone; so is what a merge or a repair did",
}


@dataclass(frozen=True)
class Leaf:
    """One value of one record.

    Attributes:
        carrier: The carrier or machine.
        path: The record's logical path.
        line: For events, which line; else None.
        keys: The way to it.
        value: It.
    """

    carrier: str
    path: str
    line: int | None
    keys: tuple[str | int, ...]
    value: Any

    def __str__(self) -> str:
        """Name it."""
        where = "" if self.line is None else f" line {self.line + 1}"
        return f"{self.carrier} {self.path}{where}: {'.'.join(map(str, self.keys))} = {str(self.value)[:60]!r}"


def demonstration(folder: Path) -> ArchiveStore:
    """Make the archive of the demonstration, and add what that leaves out."""
    from imagekeeper.cli import run

    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        run(["demo", "--into", str(folder / "demo"), "--json"])
    archive = ArchiveStore.open(folder / "demo" / "harbour")
    session = this_session("harbour office")
    (folder / "u4.png").write_bytes(PICTURE)
    describing.add_machine(archive, "tg85", "Quillmere TG-85", session, serial="0117", note="from the outer mole")
    describing.edit_machine(archive, "tg85", {"owner": "harbour office"}, session)
    describing.add_note(archive, "tg85-u30", "the battery reads 2.9 V", session)
    describing.add_photo(archive, "tg85-u30", str(folder / "u4.png"), "in its socket", session)
    describing.edit_carrier(archive, "tg85-u30", {"label": "TIDE RAM"}, session)
    correcting.correct_read(archive, "tg85-u17", "r1", {"reader": "monitor of the recorder"}, "a better name", session)
    testifying.add_trial(archive, "tg85-u17", "passed", session, note="the screen shows all characters")
    correcting.withdraw(archive, "tg85-u5", "r2", "the pins were not clean", session)
    return archive


def leaves(archive: ArchiveStore) -> Iterator[Leaf]:
    """Give every value of every record, and of every event."""
    for carrier in archive.ids():
        inventory = archive.inventory(carrier)
        for path in sorted(inventory.state):
            if places.is_record(path):
                document = json.loads(archive.read_file(carrier, path, inventory))
                for keys, value in _walk(document):
                    yield Leaf(carrier, path, None, keys, value)
            elif path == places.EVENTS:
                for line, text in enumerate(archive.read_file(carrier, path, inventory).splitlines()):
                    for keys, value in _walk(json.loads(text)):
                        yield Leaf(carrier, path, line, keys, value)


def _walk(value: Any, keys: tuple[str | int, ...] = ()) -> Iterator[tuple[tuple[str | int, ...], Any]]:
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else None
    if items is None:
        yield keys, value
        return
    for key, inside in items:
        yield from _walk(inside, (*keys, key))


def changed(value: Any) -> Any:
    """Give another value of the same kind, which no check of the form alone would notice."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return value + 1 if isinstance(value, int) else round(value / 2, 4)
    if value is None:
        return "another"
    for names in (EVENT_TYPES, OUTCOMES, KINDS, ("single", "repeated", "independent", "corroborated"), ("whole", "no")):
        if value in names:
            others = [name for name in names if name != value]
            return others[len(value) % len(others)]
    if re.fullmatch(r"\d{4}-\d\d-\d\dT.*", value):
        return f"{int(value[:4]) - 1:04}{value[4:]}"
    if re.fullmatch(r"[0-9a-fA-F]{4,}(?:-[0-9a-fA-F]{4,})*", value):
        return value[:-1] + ("1" if value[-1] != "1" else "2")
    if re.fullmatch(r"\d+(?:\.\d+)?", value):
        return value[:-1] + ("1" if value[-1] != "1" else "2")
    return f"{value}x"


def tamper(archive: ArchiveStore, leaf: Leaf) -> None:
    """Change one value, and sign everything again that a digest is over."""
    folder = archive.object_path(leaf.carrier)
    inventory = archive.inventory(leaf.carrier)
    old = inventory.state[leaf.path]
    place = folder / inventory.by_digest()[old]
    data = place.read_bytes()
    if leaf.line is None:
        document = json.loads(data)
        new = (json.dumps(_set(document, leaf), indent=2, ensure_ascii=False) + "\n").encode()
    else:
        lines = data.splitlines()
        lines[leaf.line] = canonical(_set(json.loads(lines[leaf.line]), leaf))
        new = b"\n".join(lines) + b"\n"
    place.write_bytes(new)
    digest = hashlib.sha512(new).hexdigest()
    lines = (archive.log / COMMITS).read_bytes().splitlines()
    for number in range(1, inventory.head + 1):
        for above in (f"v{number}/", *(("",) if number == inventory.head else ())):
            text = (folder / above / INVENTORY).read_bytes().replace(old.encode(), digest.encode())
            # the inventory's members stand in the order of their digests
            text = (json.dumps(json.loads(text), indent=2, sort_keys=True, ensure_ascii=False) + "\n").encode()
            (folder / above / INVENTORY).write_bytes(text)
            signed = hashlib.sha512(text).hexdigest()
            (folder / above / SIDECAR).write_bytes(sidecar_bytes(signed))
        for at, line in enumerate(lines):
            noted = json.loads(line)
            if (noted["carrier"], noted["version"]) == (leaf.carrier, number):
                lines[at] = commit_line(leaf.carrier, number, noted["time"], signed)
    (archive.log / COMMITS).write_bytes(b"\n".join(lines) + b"\n")


def _set(document: Any, leaf: Leaf) -> Any:
    if not leaf.keys:
        return changed(document)
    inside = document
    for key in leaf.keys[:-1]:
        inside = inside[key]
    inside[leaf.keys[-1]] = changed(leaf.value)
    return document


@contextlib.contextmanager
def tampered(archive: ArchiveStore, leaf: Leaf) -> Iterator[None]:
    """Tamper with one value, and put everything back afterwards."""
    folder = archive.object_path(leaf.carrier)
    files = [path for path in folder.rglob("*") if path.suffix in (".json", ".jsonl", ".sha512")]
    before = {path: path.read_bytes() for path in [*files, archive.log / COMMITS]}
    try:
        tamper(archive, leaf)
        yield
    finally:
        for path, data in before.items():
            path.write_bytes(data)


def named(archive: ArchiveStore, leaf: Leaf) -> str | None:
    """Say how an audit that re-proves names what was tampered with; None where it does not."""
    with tampered(archive, leaf):
        found = audit_archive(archive, now(), choice=Choice((leaf.carrier,)), reprove=True)
    if found.damaged or found.missing or found.unexpected:
        return "strict"
    if found.reproof is not None and found.reproof.contradicted:
        return "re-proving"
    return None


def excuse(archive: ArchiveStore, leaf: Leaf) -> str | None:
    """Say why a value cannot be held against anything; None where it can."""
    if leaf.path != places.EVENTS:
        return None
    events = archive.read_file(leaf.carrier, places.EVENTS).splitlines()
    if leaf.line != len(events) - 1:
        return None
    if leaf.keys == ("id",):
        return "id of the last event"
    agents = json.loads(events[-1])["agents"]
    if leaf.keys[0] == "agents" and leaf.keys[-1] == "name" and agents[int(leaf.keys[1])]["kind"] == "software":
        return "program of the last event"
    if leaf.keys == ("detail",):
        return "words of the last event"
    return None


@contextlib.contextmanager
def scratch() -> Iterator[ArchiveStore]:
    """Make the archive in a folder that goes again, with a cache of its own."""
    before = os.environ.get("IMAGEKEEPER_CACHE")
    with tempfile.TemporaryDirectory() as folder:
        os.environ["IMAGEKEEPER_CACHE"] = str(Path(folder) / "cache")
        try:
            yield demonstration(Path(folder))
        finally:
            shutil.rmtree(Path(folder) / "cache", ignore_errors=True)
            if before is None:
                del os.environ["IMAGEKEEPER_CACHE"]
            else:
                os.environ["IMAGEKEEPER_CACHE"] = before


def main() -> None:
    """Tamper with all of it, and tell."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--every", type=int, default=1)
    options = parser.parse_args()
    tally: Counter[str] = Counter()
    with scratch() as archive:
        for leaf in list(leaves(archive))[:: options.every]:
            how = named(archive, leaf)
            why = None if how else excuse(archive, leaf)
            tally[how or (f"excused: {why}" if why else "unnoticed")] += 1
            if how is None:
                sys.stdout.write(f"{'excused' if why else 'UNNOTICED'}: {leaf}\n")
    total, missed = sum(tally.values()), tally["unnoticed"]
    excused = sum(count for name, count in tally.items() if name.startswith("excused"))
    for name, count in tally.most_common():
        sys.stdout.write(f"{count:6} {name}\n")
    share = 100 * (1 - missed / (total - excused))
    sys.stdout.write(f"{total} fields, {excused} excused, {missed} unnoticed: {share:.2f} % named\n")


if __name__ == "__main__":
    main()
