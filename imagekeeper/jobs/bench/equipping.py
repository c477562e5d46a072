"""Keep the bench file of an archive: what a person has at hand for reading and writing disks and chips."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Literal

from imagekeeper import files
from imagekeeper.drives import bench_file, bench_form
from imagekeeper.drives.bench import Bench, OwnCable, OwnController, OwnDrive, Tool
from imagekeeper.drives.bench_file import Value
from imagekeeper.errors import ImagekeeperError, InputError, UsageError, Where
from imagekeeper.evidence.qualifying import qualify
from imagekeeper.findings import Finding
from imagekeeper.jobs.images.loading import Options, all_loaded, refuse_same
from imagekeeper.jobs.reasons import check_reason
from imagekeeper.jobs.session import Session
from imagekeeper.provenance.facts import Decide, OddFact, odd_name, refuse, settle

if TYPE_CHECKING:
    from imagekeeper.archive.store import ArchiveStore

#: Beside the archive's mark: it is the keeper's own file, to be edited by hand.
FILE = "bench.toml"


@dataclass(frozen=True, kw_only=True)
class Qualification:
    """Whether a reader was shown to work.

    Attributes:
        reader: The reader.
        holds: Whether it was.
        says: By what, in words.
        time: When, RFC 3339.
        findings: What speaks against it; then nothing was noted on the bench.
    """

    SCHEMA: ClassVar[Literal["qualification/1"]] = "qualification/1"

    reader: str
    holds: bool
    says: str
    time: str
    findings: tuple[Finding, ...]

    @property
    def exit_code(self) -> int:
        """1 where the reader is not shown to work, else 0."""
        return 0 if self.holds else 1


def bench_of(archive: ArchiveStore) -> Bench | None:
    """Read the archive's bench file, or None where there is none.

    Raises:
        InputError: `bench-form`; `too-large`; it cannot be read.
    """
    text = _text(archive)
    if text is None:
        return None
    try:
        return bench_form.parse(text)
    except InputError as problem:
        raise problem.at(file=files.display_name(archive.path / FILE)) from problem


def add_to_bench(
    archive: ArchiveStore, kind: str, *, decide: Decide = refuse, **members: Value
) -> Bench:
    """Add a drive, a controller, a cable, a reader, a programmer or disks; what stands in the file stays as it is.

    Args:
        archive: The archive.
        kind: drive, controller, cable, medium, reader or programmer.
        decide: Decides about a name that may be a slip of one on the bench or in a record.
        members: What its table holds.

    Raises:
        InputError: `bench-form`: the file is not in its form.
        UsageError: `usage` where that cannot stand beside what is there; `odd-facts` for a name that may be a slip, and
            is not insisted upon; `cannot-write`; `archive-busy`.
    """
    name = members.get("name")
    if isinstance(name, str):
        members["name"] = settle(list(_odd_name(archive, kind, name)), decide).names.get("name", name)
    return write_entry(archive, kind, **members)


def write_entry(archive: ArchiveStore, kind: str, **members: Value) -> Bench:
    """Write a table at the end of the bench file.

    Raises:
        InputError: `bench-form`: the file is not in its form.
        UsageError: `usage` where that cannot stand beside what is there; `cannot-write`; `archive-busy`.
    """
    with archive.lock():
        held = _text(archive)
        bench_of(archive)   # what is wrong in the file already is no fault of what is added
        text = (bench_file.head() if held is None else held.rstrip("\n") + "\n") + bench_file.entry(kind, **members)
        return _write(archive, text)


def take_from_bench(archive: ArchiveStore, kind: str, name: str, reason: str, session: Session) -> Bench:
    """Take something off the bench: its lines stay in the file as comments, with the reason.

    Raises:
        UsageError: `unknown-name` for what is not there; `usage` for a reason without words.
        InputError: `bench-form`.
    """
    words = check_reason(reason)
    with archive.lock():
        held = _text(archive) or ""
        bench_of(archive)
        text = bench_file.without_entry(held, kind, name, f"{words} ({session.now()[:10]})")
        return _write(archive, text)


def qualify_reader(
    archive: ArchiveStore, name: str, known: str, read: str, empty: str, options: Options, session: Session
) -> Qualification:
    """See whether a reader works, by a chip whose content is known and by its empty socket; note it on the bench.

    Args:
        archive: The archive.
        name: The reader, as the bench has it.
        known: The file with what the chip is known to hold.
        read: What the reader gave for it.
        empty: What the reader gave for its empty socket.
        options: How to take the files.
        session: Who works, and when.

    Raises:
        UsageError: `unknown-name` for a reader that is not on the bench; `usage` for a file that was given twice.
        InputError: A file cannot be understood.
    """
    with all_loaded([known, read, empty], options) as loaded:
        refuse_same(loaded)
        found = qualify(*(one.image.tobytes() for one in loaded))
    when = session.now()
    if found.holds:
        with archive.lock():
            held = _text(archive) or ""
            bench_of(archive)
            _write(archive, bench_file.with_members(held, name, {"qualified": found.says, "qualified_on": when}))
    return Qualification(reader=name, holds=found.holds, says=found.says, time=when, findings=found.findings)


def qualification_of(archive: ArchiveStore, reader: str | None) -> str | None:
    """Say what had shown that a reader works, or None; a bench file that cannot be read says nothing."""
    if reader is None:
        return None
    try:
        held = bench_of(archive)
    except ImagekeeperError:
        return None
    wanted = " ".join(reader.split()).casefold()
    for one in held.readers if held is not None else ():
        if " ".join(one.name.split()).casefold() == wanted and one.qualified:
            return one.qualified + (f", seen {one.qualified_on[:10]}" if one.qualified_on else "")
    return None


def _write(archive: ArchiveStore, text: str) -> Bench:
    try:
        result, data = bench_form.parse(text), text.encode()
    except (InputError, UnicodeEncodeError) as problem:
        why = problem.why if isinstance(problem, InputError) else "the name or note is no text"
        raise UsageError("usage/bench", trouble=why) from problem
    files.write_whole(archive.path / FILE, [data], force=(archive.path / FILE).exists())
    return result


def _odd_name(archive: ArchiveStore, kind: str, name: str) -> Iterator[OddFact]:
    bench = (bench_of(archive) or Bench()).names
    if name in bench:   # refused where the file is read again
        return
    odd = list(odd_name("name", name, bench, kind))
    if not odd:
        recorded = names_in_archive(archive, kind if kind in ("drive", "controller", "cable") else "reader")
        odd = [] if name in recorded else list(odd_name("name", name, recorded, kind))
    yield from odd


def names_on_bench(archive: ArchiveStore, sort: str) -> tuple[str, ...]:
    """Give the names of one sort on the bench, a programmer among the readers; none where its file has a fault."""
    try:
        held = bench_of(archive) or Bench()
    except InputError:   # that keeps nobody from recording what was read
        return ()
    sorts: dict[str, tuple[OwnDrive | OwnController | OwnCable | Tool, ...]] = {
        "drive": held.drives, "controller": held.controllers, "cable": held.cables,
        "reader": (*held.readers, *held.programmers),
    }  # fmt: skip
    return tuple(one.name for one in sorts.get(sort, ()))


def names_in_archive(archive: ArchiveStore, sort: str) -> tuple[str, ...]:
    """Give the names of one sort that any record of the archive has."""
    from imagekeeper.archive.index.sqlite.base import Index  # SQLite, which a look at the bench does without

    with Index(archive) as index:
        return index.names(sort)


def _text(archive: ArchiveStore) -> str | None:
    path = archive.path / FILE
    if not path.exists():
        return None
    name = files.display_name(path)
    with files.opened(path) as (file, _):
        data = files.read_limited(file, bench_form.LIMIT, name)
    try:
        return data.decode()
    except UnicodeDecodeError as problem:
        raise InputError("bench-form/not-utf8", trouble=str(problem), where=Where(file=name)) from problem
