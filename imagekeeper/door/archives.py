"""An archive of carriers: what is known of each chip and disk, its reads, and how good the evidence is."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from imagekeeper.archive.audits.audit import Choice
from imagekeeper.archive.audits.audit_report import Audit
from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.comparison.majority import By
from imagekeeper.containers.manner import Repeated
from imagekeeper.containers.model import Image
from imagekeeper.door.arguments import check_typed, date_text, decimal_text
from imagekeeper.door.sources import Place, Source, among, given, in_memory, named, options, texts
from imagekeeper.door.tables import with_own_rows
from imagekeeper.evidence.outdated import with_findings
from imagekeeper.jobs.archive.auditing import audit_archive
from imagekeeper.jobs.archive.checking import list_carriers
from imagekeeper.jobs.archive.recognising import search_image
from imagekeeper.jobs.archive.searching import Search, filters, search_text
from imagekeeper.jobs.bench.equipping import bench_of
from imagekeeper.jobs.carriers import agreeing, correcting, deaccessioning, describing, keeping, testifying
from imagekeeper.jobs.carriers.extracting import stored
from imagekeeper.jobs.carriers.showing import show_carrier
from imagekeeper.jobs.session import this_session
from imagekeeper.provenance.agreed import Grade
from imagekeeper.provenance.facts import Decide, insist, refuse
from imagekeeper.provenance.kinds import check_kind
from imagekeeper.provenance.machines import MachineRecord
from imagekeeper.provenance.records import CarrierRecord
from imagekeeper.provenance.testimony import TrialOutcome
from imagekeeper.transforms.step import within

if TYPE_CHECKING:
    from imagekeeper.drives.bench import Bench
    from imagekeeper.jobs.carriers.agreeing import Agreement


@with_own_rows
class Archive:
    """An archive, opened; it holds no file open, so there is nothing to close.

    Args:
        path: Its folder.
        operator: Who works; stands in every record that is made through this.

    Attributes:
        path: Its folder.
        title: What its keeper calls it.
        uuid: Its identity.

    Raises:
        NotFoundError: `archive-missing`: the folder is no archive.
        ArchiveError: `archive-newer`, `archive-damaged`.

    Example:
        >>> import imagekeeper, pathlib, random, tempfile
        >>> scratch = tempfile.TemporaryDirectory()
        >>> folder = pathlib.Path(scratch.name)
        >>> archive = imagekeeper.Archive.create(folder / "harbour", title="Harbour office", operator="Ann")
        >>> _ = archive.add_carrier("tg85-u4", "eprom", part="27128")
        >>> content = random.Random(85).randbytes(16384)
        >>> for number in (1, 2):
        ...     _ = (folder / f"read-{number}.bin").write_bytes(content)
        ...     _ = archive.add_reads("tg85-u4", folder / f"read-{number}.bin", reader=f"reader {number}")
        >>> archive.agree("tg85-u4").agreed.grade
        'independent'
        >>> [(carrier.id, len(carrier.reads)) for carrier in archive.carriers()]
        [('tg85-u4', 2)]
        >>> archive.image("tg85-u4").size_bytes, archive.audit().ok
        (16384, True)
        >>> scratch.cleanup()
    """

    def __init__(self, path: Place, *, operator: str | None = None) -> None:
        texts(operator=operator)
        self._store = ArchiveStore.open(named(path))
        self._session = this_session(operator)
        self.path: Path = self._store.path
        self.title: str = self._store.marker.title
        self.uuid: str = self._store.marker.uuid

    @classmethod
    def create(cls, path: Place, *, title: str, layout: str = "0002", operator: str | None = None) -> Archive:
        """Make an archive in a folder that is new or empty.

        Args:
            path: The folder.
            title: What its keeper calls it.
            layout: `0002`, or `0003` for tens of thousands of carriers.
            operator: Who works.

        Raises:
            UsageError: `archive-exists`, `cannot-write`, `unknown-name` for the layout.
        """
        texts(title=title, operator=operator)
        session = this_session(operator)
        ArchiveStore.create(named(path), uuid=session.new_uuid(), title=title, now=session.now(), layout=layout)
        return cls(path, operator=operator)

    def __repr__(self) -> str:
        return f"Archive({str(self.path)!r})"

    def __contains__(self, carrier_id: object) -> bool:
        return isinstance(carrier_id, str) and self._store.has(carrier_id)

    @property
    def bench(self) -> Bench | None:
        """The drives, readers, programmers and disks that are at hand, or None where nobody wrote them down."""
        return bench_of(self._store)

    def carriers(
        self, *, machine: str | None = None, kind: str | None = None, grade: str | None = None
    ) -> Iterator[CarrierRecord]:
        """Walk the carriers by id: each with its reads, its agreed image and grade, and its events.

        Those that were taken out of the collection are among them; they have `deaccessions`.

        Args:
            machine: Only those of this machine; part of its name is enough.
            kind: Only those of this kind.
            grade: Only those of this grade.

        Raises:
            UsageError: `unknown-name` for the kind.
            ArchiveError: `archive-damaged` where a record cannot be read.
        """
        if grade is not None:
            among("grade", grade, Grade)
        if kind is not None:
            check_kind(kind)
        rows = list_carriers(self._store, machine=machine, kind=kind, grade=grade, all_=True).carriers
        return (with_findings(load_record(self._store, row.id)) for row in rows)

    def carrier(self, carrier_id: str) -> CarrierRecord:
        """Give everything that is known of one carrier; of a disk also what is on it.

        Raises:
            NotFoundError: `carrier-missing`.
            ArchiveError: `archive-damaged`.
        """
        return show_carrier(self._store, carrier_id)

    def machines(self) -> Iterator[MachineRecord]:
        """Walk the machines of which there is a record; those taken out of the collection have `deaccessions`."""
        for line in describing.list_machines(self._store, all_=True).machines:
            yield describing.show_machine(self._store, line.id)

    def machine(self, machine_id: str) -> MachineRecord:
        """Give everything that is known of one machine, with the ids of its carriers.

        Raises:
            NotFoundError: `machine-missing`.
        """
        return describing.show_machine(self._store, machine_id)

    def add_machine(
        self, machine_id: str, name: str, *, maker: str | None = None, model: str | None = None,
        serial: str | None = None, owner: str | None = None, note: str | None = None, really: bool = False,
    ) -> MachineRecord:  # fmt: skip
        """Begin the record of a machine; carriers belong to it that name it by its name or id.

        Raises:
            UsageError: `carrier-id`, `carrier-exists`; `odd-facts` for the name of another machine, or one that is only
                a slip away from it, unless it is `really` so.
        """
        texts(machine_id=machine_id, name=name, maker=maker, model=model, serial=serial, owner=owner, note=note)
        return describing.add_machine(
            self._store, machine_id, name, self._session, decide=_decider(really), maker=maker, model=model,
            serial=serial, owner=owner, note=note,
        )  # fmt: skip

    def add_carrier(
        self, carrier_id: str, kind: str, *, part: str | None = None, machine: str | None = None,
        board: str | None = None, position: str | None = None, label: str | None = None, note: str | None = None,
        markings: str | None = None, date_code: str | None = None, package: str | None = None,
        condition: str | None = None, really: bool = False,
    ) -> CarrierRecord:  # fmt: skip
        """Begin the record of a carrier: a chip or a disk.

        Args:
            carrier_id: A short name that can be a folder's, such as tg85-u4.
            kind: `eprom`, `mask-rom`, `floppy`, ...
            part: The type as marked.
            machine: The machine it belongs to, by name or id.
            board: The board there.
            position: The socket or place there.
            label: What its label says.
            note: A remark.
            markings: All that is printed on it.
            date_code: When it was made, as marked.
            package: Its package.
            condition: Its condition.
            really: Record also what cannot be so, or looks like a slip of a known name.

        Raises:
            UsageError: `carrier-id`, `carrier-exists`, `unknown-name` for the kind; `odd-facts` for what is odd and not
                `really` so.
        """
        texts(
            carrier_id=carrier_id, kind=kind, part=part, machine=machine, board=board, position=position, label=label,
            note=note, markings=markings, date_code=date_code, package=package, condition=condition,
        )  # fmt: skip
        return keeping.add_carrier(
            self._store, carrier_id, kind, self._session, decide=_decider(really), part=part, machine=machine,
            board=board, position=position, label=label, note=note, markings=markings, date_code=date_code,
            package=package, condition=condition,
        )  # fmt: skip

    def add_reads(
        self, carrier_id: str, *paths: Place, reader: str | None = None, operator: str | None = None,
        date: str | datetime.date | None = None, vcc: str | float | None = None,
        temperature: str | float | None = None, specimen: str | None = None, notes: Sequence[str] = (),
        container: str | None = None, member: str | None = None, keep_doubtful: bool = False,
        repeated: Repeated = "refuse", fill: int | None = None, adapter: str | None = None, cable: str | None = None,
        drive: str | None = None, controller: str | None = None, retries: str | int | None = None,
        bad_sectors: Sequence[Place | None] = (), geometry: str | None = None, really: bool = False,
    ) -> CarrierRecord:  # fmt: skip
        """Keep reads of a carrier: each file as it is, and the image it stands for beside it; all of them or none.

        Args:
            carrier_id: The carrier.
            paths: The files. A read is evidence, so it is a file with its name and time, and never bytes alone.
            reader: The reader used.
            operator: Who read, where that is not the one who works now.
            date: When: a time, a day, a month or a year; a date of Python's also.
            vcc: The supply voltage, a number or its text: "5.00" may say more than 5. [volt]
            temperature: A number or its text. [degree Celsius]
            specimen: Which of several equal chips or disks.
            notes: Remarks.
            container: The kind to take the files as, instead of finding it.
            member: Which file of a zip file.
            keep_doubtful: Take what a file itself speaks against, and keep the doubts.
            repeated: Which value counts where a file gives an address several: `first`, `last`, or `refuse`.
            fill: The byte that closes gaps.
            adapter: The adapter between reader and chip.
            cable: The cable between reader and chip or drive.
            drive: The drive that read the disk.
            controller: What the drive hung on.
            retries: How often the drive tried a sector again at most.
            bad_sectors: For each file the list of what its reader did not read well, or None; or none at all.
            geometry: Of the disk, to place what the lists name; without it the content tells.
            really: Record also what cannot be so, or looks like a slip of a known name; the reads show it.

        Returns:
            The carrier's record, with what the new reads' images show by themselves as findings.

        Raises:
            NotFoundError: `carrier-missing`; there is no such file.
            UsageError: `usage` for a date or voltage that cannot be understood, or one file given twice; `odd-facts`
                for what cannot be so, or a name that is only a slip away from a known one, and is not `really` so.
            InputError: A file cannot be understood.
        """
        if isinstance(notes, str):
            raise TypeError("notes are several texts, not one")
        texts(
            carrier_id=carrier_id, reader=reader, operator=operator, specimen=specimen, adapter=adapter, cable=cable,
            drive=drive, controller=controller, **{f"note {number}": note for number, note in enumerate(notes, 1)},
        )  # fmt: skip
        how = options(container=container, member=member, keep_doubtful=keep_doubtful, repeated=repeated, fill=fill)
        conditions = keeping.Conditions(
            reader=reader, operator=operator, date=date_text("date", date), vcc=decimal_text("vcc", vcc),
            specimen=specimen, notes=tuple(notes), temperature=decimal_text("temperature", temperature),
            adapter=adapter, cable=cable, drive=drive, controller=controller,
            retries=None if retries is None else str(retries),
        )  # fmt: skip
        return keeping.add_reads(
            self._store, carrier_id, [named(path) for path in paths], how, conditions, self._session,
            lists=["-" if one is None else named(one) for one in bad_sectors], geometry=geometry,
            decide=_decider(really),
        )  # fmt: skip

    def add_note(self, object_id: str, text: str, *, really: bool = False) -> CarrierRecord | MachineRecord:
        """Add a remark to a carrier or a machine; remarks are never changed.

        Raises:
            NotFoundError: `carrier-missing`.
            UsageError: `odd-facts` where the one who works has a name that is only a slip away from a known one, and it
                is not `really` another.
        """
        texts(object_id=object_id, text=text)
        return describing.add_note(self._store, object_id, text, self._session, decide=_decider(really))

    def image(self, carrier_id: str, what: str = "agreed") -> Image:
        """Give an image of a carrier, in memory, its bytes held against their digest.

        Args:
            carrier_id: The carrier.
            what: `agreed`, or the id of a read (r1) or of a derived image (d1).

        Raises:
            NotFoundError: `carrier-missing`; `not-found`: the carrier has no such image.
            ArchiveError: `archive-damaged`.
        """
        with self.open_image(carrier_id, what) as image:
            return in_memory(image)

    @contextmanager
    def open_image(self, carrier_id: str, what: str = "agreed") -> Iterator[Image]:
        """Open an image of a carrier, whose bytes stay in its file until they are looked at; see `image`."""
        inventory = self._store.inventory(carrier_id)
        record = load_record(self._store, carrier_id, inventory)
        with ExitStack() as stack:
            yield stored(self._store, record, inventory, what, stack).image

    def agree(
        self, carrier_id: str, *, references: Mapping[str, str | None] | None = None, by_vote: By | None = None
    ) -> Agreement:
        """Compare all reads of a carrier, and record the image that they support with its grade.

        Where the reads differ the image is disputed, and nothing is chosen for you.

        Args:
            carrier_id: The carrier.
            references: Digests from outside (CRC-32, SHA-1, SHA-256) with where each comes from.
            by_vote: Accept the majority of three or more reads, of whole bytes (`byte`) or of bits (`bit`).

        Raises:
            NotFoundError: `carrier-missing`, `no-reads`.
            ContradictionError: `reference-mismatch`.
            ArchiveError: `archive-damaged` for a read that is not what it was.
            UsageError: `usage` for a vote that is not possible.
        """
        if by_vote is not None:
            among("by_vote", by_vote, By)
        return agreeing.agree(self._store, carrier_id, self._session, references=references, by_vote=by_vote)

    def explain(self, carrier_id: str, code: str, reason: str) -> CarrierRecord:
        """Explain why something that speaks against a carrier's image does not; the reason stays beside the grade.

        Args:
            carrier_id: The carrier.
            code: The code of what is open, as `show(carrier_id).standing.open` gives it.
            reason: Why it is none.

        Raises:
            NotFoundError: `carrier-missing`; `not-found` where nothing of that code is open.
            UsageError: `usage` for a reason without words.
        """
        texts(carrier_id=carrier_id, code=code, reason=reason)
        return testifying.explain(self._store, carrier_id, code, reason, self._session)

    def tried(
        self, carrier_id: str, outcome: TrialOutcome, *, what: str = "original", together: Sequence[str] = (),
        machine: str | None = None, date: str | datetime.date | None = None, note: str | None = None,
    ) -> CarrierRecord:  # fmt: skip
        """Record how a carrier's image did in the machine.

        Args:
            carrier_id: The carrier.
            outcome: `started`; `passed` where the machine tested it itself and found it good; `failed`.
            what: What was in the socket or drive: `original`, or the id of a replacement.
            together: Ids of the other carriers that were in the machine.
            machine: The machine; that of the record where it is not said.
            date: When.
            note: A remark, such as the message on the screen.

        Raises:
            NotFoundError: `carrier-missing`; `not-found` for a replacement that is not there, or without an image.
            UsageError: `usage` for a date or outcome that cannot be understood.
        """
        among("outcome", outcome, TrialOutcome)
        texts(carrier_id=carrier_id, what=what, machine=machine, note=note)
        return testifying.add_trial(
            self._store, carrier_id, outcome, self._session, what=what, together=tuple(together), machine=machine,
            date=date_text("date", date), note=note,
        )  # fmt: skip

    def correct_read(
        self, carrier_id: str, read_id: str, reason: str, *, really: bool = False, **texts_: str
    ) -> CarrierRecord:
        """Correct what was said of a read; the old value stays in the history.

        Args:
            carrier_id: The carrier.
            read_id: The read, such as `r2`.
            reason: Why.
            really: Record also what cannot be so, or looks like a slip of a known name.
            texts_: New values of `reader`, `operator`, `date`, `vcc`, `specimen`, `temperature`, `adapter`, `cable`,
                `drive` or `controller`; an empty one takes a value away.

        Raises:
            NotFoundError: `carrier-missing`; `not-found` for a read that is not there.
            UsageError: `usage`, `unknown-name` for what cannot be corrected so; `odd-facts` for what is odd and not
                `really` so.
        """
        texts(carrier_id=carrier_id, read_id=read_id, reason=reason, **texts_)
        return correcting.correct_read(
            self._store, carrier_id, read_id, texts_, reason, self._session, decide=_decider(really)
        )

    def withdraw(self, carrier_id: str, what: str, reason: str) -> CarrierRecord:
        """Take back a read, an explanation, a trial, a read-back or a picture: it stays, and is no evidence any more.

        Args:
            carrier_id: The carrier.
            what: `r2`, `e1`, `t1`, `w1/2` or `photo-1`; `x1` for a deaccession, which takes the carrier in again.
            reason: Why.

        Raises:
            NotFoundError: `carrier-missing`; `not-found` for what is not there.
            UsageError: `usage` for a reason without words.
        """
        texts(carrier_id=carrier_id, what=what, reason=reason)
        return correcting.withdraw(self._store, carrier_id, what, reason, self._session)

    def deaccession(self, object_id: str, reason: str) -> CarrierRecord | MachineRecord:
        """Take a carrier or a machine out of the collection: its record, its files and the reason stay.

        Args:
            object_id: The carrier or machine; the carriers of a machine stay in the collection.
            reason: Why.

        Raises:
            NotFoundError: `carrier-missing`.
            UsageError: `usage` for a reason without words, or what was taken out already.
        """
        texts(object_id=object_id, reason=reason)
        if isinstance(describing.record_of(self._store, object_id), MachineRecord):
            return deaccessioning.deaccession_machine(self._store, object_id, reason, self._session)
        return deaccessioning.deaccession_carrier(self._store, object_id, reason, self._session)

    def withdraw_of_machine(self, machine_id: str, what: str, reason: str) -> MachineRecord:
        """Take back that a machine was taken out of the collection: it is in the collection again.

        Args:
            machine_id: The machine.
            what: The deaccession, such as `x1`.
            reason: Why.

        Raises:
            NotFoundError: `machine-missing`; `not-found` for what is not there.
            UsageError: `usage` for a reason without words.
        """
        texts(machine_id=machine_id, what=what, reason=reason)
        return deaccessioning.withdraw_of_machine(self._store, machine_id, what, reason, self._session)

    def audit(
        self, *carrier_ids: str, rolling: float | None = None, rebuild_derived: bool = False, reprove: bool = False
    ) -> Audit:
        """Read everything again, or the carriers named, and tell what is damaged, missing or unexpected.

        Args:
            carrier_ids: These carriers; all without any.
            rolling: Of all carriers this share, those checked longest ago. [percent]
            rebuild_derived: Also make every derived and voted image again, and hold it against the one that is kept.
            reprove: Also derive again, from the files that were read, what the records conclude.

        Raises:
            UsageError: `archive-busy`; `usage` for what does not go together. Damage is never raised.
            NotFoundError: `carrier-missing`.
        """
        choice = Choice(carriers=carrier_ids, rolling=rolling)
        return audit_archive(
            self._store, now=self._session.now(), choice=choice, rebuild_derived=rebuild_derived, reprove=reprove
        )

    def search(
        self, *words: str, kind: str | None = None, machine: str | None = None, grade: str | None = None,
        size_bytes: int | None = None, read_after: str | None = None, read_before: str | None = None,
        added_after: str | None = None, added_before: str | None = None, limit: int = 20,
    ) -> Search:  # fmt: skip
        """Find carriers and machines by what is written about them, and by digests of what they hold.

        Args:
            words: Words, or digests or their beginnings from 8 digits on; all of them must be there.
            kind: Only this kind of carrier, or `machine`.
            machine: Only carriers of this machine; part of its name is enough.
            grade: Only carriers of this grade.
            size_bytes: Only carriers with an image or file of this size. [byte]
            read_after: Only with a read of this date or later: 2026-03-02, 2026-03, 2026.
            read_before: Only with a read of this date or earlier.
            added_after: Only what was added on this date or later.
            added_before: Only what was added on this date or earlier.
            limit: How many at most.

        Raises:
            UsageError: `usage` for nothing to search for, or a date that cannot be understood.
        """
        if grade is not None:
            among("grade", grade, Grade)
        wanted = filters(
            kind=kind, machine=machine, grade=grade, size_bytes=size_bytes, read_after=read_after,
            read_before=read_before, added_after=added_after, added_before=added_before,
        )  # fmt: skip
        within("the limit", limit, 1, 10_000)
        return search_text(self._store, words, wanted, limit=limit)

    def search_image(self, source: Source, *, limit: int = 20) -> Search:
        """Tell whether an image is kept already: the same, padded or repeated, in parts, or nearly.

        The first time this reads every image of the archive once.

        Args:
            source: A path, the bytes of a file, or an image.
            limit: How many answers at most.

        Raises:
            NotFoundError: There is no such file.
            InputError: The file cannot be understood.
        """
        how = options(source, container=None, member=None, keep_doubtful=False, fill=None)
        within("the limit", limit, 1, 10_000)
        return search_image(self._store, given(source), how, limit=limit)


def _decider(really: bool) -> Decide:
    check_typed("really", really, bool)
    return insist if really else refuse
