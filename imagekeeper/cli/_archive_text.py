"""Results about the archive and its carriers, as plain text for people."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from imagekeeper.cli import _text
from imagekeeper.cli._shell import paint
from imagekeeper.jsonable import one_line
from imagekeeper.units import plural, size_text

if TYPE_CHECKING:   # what makes the results is slow to load, and a list needs none of it
    from imagekeeper.jobs.archive.checking import CarrierList, Founded, Reindexed
    from imagekeeper.jobs.carriers.agreeing import Agreement
    from imagekeeper.jobs.carriers.describing import MachineList
    from imagekeeper.jobs.carriers.urging import Todo
    from imagekeeper.provenance.agreed import Agreed
    from imagekeeper.provenance.machines import MachineRecord
    from imagekeeper.provenance.reads import Read
    from imagekeeper.provenance.records import CarrierRecord
    from imagekeeper.provenance.remarks import Photo


def founded(result: Founded) -> str:
    """Show a new archive."""
    path = one_line(result.path)
    return (
        f"New archive in {path}.\n"
        f"  next: imagekeeper carrier add ID --kind KIND, from inside that folder or with --archive {path}"
    )


def added(record: CarrierRecord) -> str:
    """Show a carrier just added."""
    return f"{record.id}: {_place(record)}\n  next: imagekeeper carrier read {record.id} FILE"


def _place(record: CarrierRecord) -> str:
    what = " ".join(part for part in (record.kind, record.part) if part)
    where = ", ".join(part for part in (record.machine, record.board, record.position) if part)
    return one_line(f"{what} in {where}" if where else what)


def kept(record: CarrierRecord, count: int) -> str:
    """Show reads just added, and how the carrier now stands."""
    lines = []
    for read in record.reads[-count:]:
        lines.append(f"{record.id} {read.id}: {read.file}, {size_text(read.image.size_bytes)}, {_container(read)}")
        lines.append(f"  SHA-256  {read.image.sha256}")
        earlier = record.reads[: record.reads.index(read)]
        equal = [r.id for r in earlier if r.image.sha256 == read.image.sha256]
        other = [r.id for r in earlier if r.image.sha256 != read.image.sha256]
        if equal:
            lines.append(f"  {paint('agrees', fg='green', bold=True)} with {', '.join(equal)}")
        if other:
            lines.append(f"  {paint('differs', fg='red', bold=True)} from {', '.join(other)}")
        lines += [f"  doubtful   {d.why} ({d.code})" for d in read.image.doubts[: _text.SHOWN]]
    for found in record.findings:
        lines += [f"  {found.where.file}:", *_text.finding(found)]
    from imagekeeper.provenance.grades import grade  # slow to load, and lists do without

    standing = grade(record.reads)
    lines += [*_grade(standing, "as it stands"), f"  next: imagekeeper carrier agree {record.id} records this"]
    return "\n".join(lines)


def _container(read: Read) -> str:
    return _text.container_text(read.container, read.wrapped_in)


def _grade(agreed: Agreed, label: str) -> list[str]:
    lines = _text.wrapped("  grade    ", f"{agreed.grade} ({label}): {agreed.because}")
    if agreed.raise_by:
        lines += _text.wrapped("           ", f"to raise it: {agreed.raise_by}")
    return lines


def noted(record: CarrierRecord | MachineRecord) -> str:
    """Show the remarks, the new one last."""
    lines = [f"{record.id}: {plural(len(record.notes), 'remark')}"]
    for note in record.notes[-_text.SHOWN :]:
        lines += _text.wrapped(f"  {note.added}  ", note.text + (f" ({note.author})" if note.author else ""))
    return "\n".join(lines)


def pictured(record: CarrierRecord | MachineRecord) -> str:
    """Show the pictures, the new one last."""
    lines = [f"{record.id}: {plural(len(record.photos), 'picture')}"]
    lines += [line for photo in record.photos[-_text.SHOWN :] for line in _photo(photo)]
    return "\n".join(lines)


def _photo(photo: Photo) -> list[str]:
    return _text.wrapped("  picture  ", photo.file + (f": {photo.caption}" if photo.caption else ""))


def _notes(record: CarrierRecord | MachineRecord) -> list[str]:
    return [line for note in record.notes for line in _text.wrapped("  remark   ", note.text)]


def _history(record: CarrierRecord | MachineRecord) -> list[str]:
    lines = ["", "  history"]
    for event in record.events:
        lines += _text.wrapped(f"    {event.time}  ", f"{event.type}: {event.detail}")
    return lines


def _described(rows: Sequence[tuple[str, str | None]]) -> list[str]:
    """Lay out what is said of something; long texts hang beside their names."""
    said = [(name, text) for name, text in rows if text]
    width = max(len(name) for name, _ in said)
    return [line for name, text in said for line in _text.wrapped(f"  {name:{width}}  ", text)]


def machine(record: MachineRecord) -> str:
    """Show everything about a machine."""
    rows = (
        ("name", record.name), ("maker", record.maker), ("model", record.model), ("serial", record.serial),
        ("owner", record.owner), ("note", record.note), ("added", record.created),
    )  # fmt: skip
    lines = [record.id, *_described(rows), ""]
    own = ", ".join(record.carriers) or f"none yet: imagekeeper carrier add ID --kind KIND --machine {record.id}"
    lines += _text.wrapped("  carriers  ", own)
    lines += [*_notes(record), *(line for photo in record.photos for line in _photo(photo)), *_history(record)]
    return "\n".join(lines)


def machine_list(result: MachineList) -> str:
    """List machines."""
    if not result.machines and not result.only_named:
        return "no machines"
    lines = []
    if result.machines:
        rows = [["machine", "name", "maker", "model", "serial", "owner", "carriers"]]
        rows += [
            [
                m.id, m.name or "(its record cannot be read)", m.maker or "-", m.model or "-", m.serial or "-",
                m.owner or "-", str(m.carriers),
            ]
            for m in result.machines
        ]
        lines += _text.table(rows, right=[6], indent="")
    for name in result.only_named:
        lines.append(one_line(f"named by carriers, without a record: {name}"))
    return "\n".join(lines)


def agreement(result: Agreement) -> str:
    """Show what the reads of a carrier agree on."""
    from imagekeeper.cli import _comparison_text, _vote_text  # slow to load, and a list does without

    agreed = result.agreed
    if agreed.sha256 is None:
        head = paint(f"{result.id}: disputed.", fg="red", bold=True) + " The reads differ, so no image was chosen."
    else:
        head = f"{result.id}: agreed image {agreed.sha256}"
    lines = [head, *_grade(agreed, "recorded" if result.recorded else "nothing was recorded")]
    if result.vote is not None:
        lines += ["", _vote_text.majority(result.vote, _text.SHOWN)]
    if result.comparison is not None:
        lines += ["", _comparison_text.comparison(result.comparison, _text.SHOWN, None)]
    return "\n".join(lines)


def carrier(record: CarrierRecord) -> str:
    """Show everything about a carrier."""
    rows = (
        ("kind", record.kind), ("part", record.part), ("machine", record.machine), ("board", record.board),
        ("position", record.position), ("label", record.label), ("markings", record.markings),
        ("date code", record.date_code), ("package", record.package), ("condition", record.condition),
        ("note", record.note), ("added", record.created),
    )  # fmt: skip
    lines = [record.id, *_described(rows)]
    lines += ["", *_read_table(record)] if record.reads else ["", "  no read yet"]
    for read in record.reads:
        lines += [line for note in read.notes for line in _text.wrapped(f"  {read.id} note: ", note)]
        if read.image.doubts:
            lines.append(f"  {read.id} doubtful: {read.image.doubts[0].why}")
    lines += [*_notes(record), *(line for photo in record.photos for line in _photo(photo))]
    if record.agreed is not None:
        lines += ["", f"  agreed   {record.agreed.sha256 or 'no image'}", *_grade(record.agreed, "recorded")]
    elif record.reads:
        lines += ["", f"  no agreed image yet: imagekeeper carrier agree {record.id}"]
    for made in record.derivations:
        sources = " and ".join(f"{one.carrier} {one.what}" for one in made.sources)
        steps = ", ".join(str(step.get("step")) for step in made.steps)
        lines.append(one_line(f"  {made.id:7}  {made.title or 'derived image'}: from {sources} by {steps}"))
        lines.append(f"           {size_text(made.size_bytes)}, SHA-256 {made.sha256[:16]}…")
    if record.contents is not None:
        lines += ["", "  on the disk", *_text.disk_contents(record.contents, "    ")]
    for new in record.replacements:
        of = f"{new.part or 'replacement'} from image {new.image}" + (f", {new.placed}" if new.placed else "")
        lines.append(one_line(f"  {new.id:7}  {of}: {new.grade}"))
        lines += _text.wrapped("           ", new.because)
    lines += _history(record)
    for found in record.findings:
        lines += ["", *_text.finding(found)]
    return "\n".join(lines)


def _read_table(record: CarrierRecord) -> list[str]:
    warm = any(read.temperature for read in record.reads)   # a column that few need
    rows = [
        ["read", "file", "bytes", "container", "reader", "operator", "date", "volt", *(["°C"] if warm else []),
         "image SHA-256"]
    ]  # fmt: skip
    rows += [
        [
            read.id, read.file, str(read.image.size_bytes), _container(read), read.reader or "-", read.operator or "-",
            read.date or "-", read.vcc or "-", *([read.temperature or "-"] if warm else []),
            read.image.sha256[:16] + "…",
        ]
        for read in record.reads
    ]  # fmt: skip
    return _text.table(rows, right=[2])


def todo(result: Todo) -> str:
    """Show what to do next, the most urgent first."""
    if not result.lines:
        return f"Nothing needs to be done: {plural(result.done, 'carrier')} proved." if result.done else "no carriers"
    unread = f"; {result.unread} not read at all" if result.unread else ""
    lines = [f"{plural(len(result.lines) + result.more, 'carrier')} to see to{unread}; most urgent first.", ""]
    for line in result.lines:
        what = " ".join(part for part in (line.kind, line.part) if part)
        where = ", ".join(part for part in (line.machine, line.board, line.position) if part)
        lines.append(one_line(f"{line.id}: {what}" + (f" in {where}" if where else "")))
        lines += _text.wrapped("  because  ", line.because)
        lines += _text.wrapped("  next     ", line.next)
    if result.more:
        lines += ["", f"and {result.more} more: a higher --limit shows them"]
    return "\n".join(lines)


def carrier_list(result: CarrierList) -> str:
    """List carriers."""
    if not result.carriers:
        return "no carriers"
    rows = [["carrier", "kind", "part", "machine", "board", "position", "reads", "grade"]]
    rows += [
        [
            row.id, row.kind or "-", row.part or "-", row.machine or "-", row.board or "-", row.position or "-",
            str(row.reads), row.grade or ("not settled" if row.reads else "none"),
        ]
        for row in result.carriers
    ]  # fmt: skip
    lines = _text.table(rows, right=[6], indent="")
    for row in result.carriers:
        if row.problem:
            lines += _text.wrapped("", f"{row.id}: its record cannot be read: {row.problem}")
    if result.more:
        lines.append("there are more: without --limit all are listed")
    return "\n".join(lines)


def reindexed(result: Reindexed) -> str:
    """Show what rebuilding the index did."""
    lines = [f"{plural(result.carriers, 'carrier')} indexed."]
    lines += [f"  repaired: {repair.path}: {repair.what}" for repair in result.repairs]
    if result.problems:
        lines.append(f"  {plural(result.problems, 'record')} cannot be read: imagekeeper archive audit names them")
    return "\n".join(lines)


