"""Carriers, their reads and how their evidence stands."""

from __future__ import annotations

import re
import shlex
from typing import TYPE_CHECKING

from imagekeeper.present.text import parts, records, standing
from imagekeeper.present.text.paper import page, painted
from imagekeeper.provenance.kinds import CHIPS, DISKS
from imagekeeper.units import plural, size_text

if TYPE_CHECKING:   # what makes the results is slow to load, and a list needs none of it
    from imagekeeper.archive.index.sqlite.base import CarrierRow
    from imagekeeper.jobs.archive.checking import CarrierList
    from imagekeeper.jobs.carriers.agreeing import Agreement
    from imagekeeper.jobs.carriers.urging import Todo
    from imagekeeper.provenance.agreed import Agreed
    from imagekeeper.provenance.reads import Read
    from imagekeeper.provenance.records import CarrierRecord


def added_text(record: CarrierRecord) -> str:
    """Show a carrier just added, and say so where nothing is known of its part."""
    from imagekeeper.evidence.parts import known_chip  # only where a carrier is added: a list does without

    lines = [f"{record.id}: {_place(record)}"]
    if record.kind in CHIPS and record.part is not None and known_chip(record.part) is None:
        lines += parts.wrapped(
            "  note: ", f"no table has a {record.part}: its size and pins are held against nothing; "
            f"imagekeeper chip show {shlex.quote(record.part)} names what is near it",
        )  # fmt: skip
    return page([*lines, f"  next: imagekeeper carrier read {record.id} FILE"])


def _place(record: CarrierRecord) -> str:
    what = " ".join(part for part in (record.kind, record.part) if part)
    where = ", ".join(part for part in (record.machine, record.board, record.position) if part)
    return f"{what} in {where}" if where else what


def kept_text(record: CarrierRecord, count: int = 1) -> str:
    """Show reads just added, the last `count` of the record, and how the carrier now stands."""
    lines = []
    for read in record.reads[-count:]:
        lines.append(f"{record.id} {read.id}: {read.file}, {size_text(read.image.size_bytes)}, {_container(read)}")
        lines.append(f"  SHA-256  {read.image.sha256}")
        lines += parts.insisted("  ", read.insisted)
        earlier = record.reads[: record.reads.index(read)]
        equal = [r.id for r in earlier if r.image.sha256 == read.image.sha256]
        other = [r.id for r in earlier if r.image.sha256 != read.image.sha256]
        if equal:
            lines.append(f"  {painted('agrees', 'good')} with {', '.join(equal)}")
        if other:
            lines.append(f"  {painted('differs', 'bad')} from {', '.join(other)}")
        missed = parts.not_read(read)
        lines += parts.wrapped("  list     ", missed) if missed else []
        lines += [f"  doubtful   {d.why} ({d.code})" for d in read.image.doubts[: parts.SHOWN]]
    if record.standing is not None:
        lines += standing.evidence_lines(record.standing, "as it stands")
    return page([*lines, f"  to record it: imagekeeper carrier agree {record.id}"])


def _container(read: Read) -> str:
    text = parts.container(read.container, read.wrapped_in)
    text += f", {read.parity} parity taken away" if read.parity else ""
    return text + (f", the {read.repeated} of several values" if read.repeated else "")


def _grade(agreed: Agreed, label: str) -> list[str]:
    lines = parts.wrapped("  grade    ", f"{agreed.grade} ({label}): {agreed.because}")
    if agreed.raise_by:
        lines += parts.wrapped("           ", f"to raise it: {agreed.raise_by}")
    return lines


def agreement_text(result: Agreement) -> str:
    """Show what the reads of a carrier agree on."""
    from imagekeeper.present.text import comparison, vote  # both are loaded only where reads were compared

    agreed = result.agreed
    if agreed.sha256 is None:
        head = painted(f"{result.id}: disputed.", "bad") + " The reads differ, so no image was chosen."
    else:
        head = f"{result.id}: agreed image {agreed.sha256}"
    label = "recorded" if result.recorded else "nothing was recorded"
    found = result.standing
    if found is None:
        lines = [head, *_grade(agreed, label)]
    else:   # where the reads differ, the comparison below shows where, and which read comes next
        shown = result.comparison is not None and found.grade == "disputed" and found.next.passes > 0
        lines = [head, *standing.evidence_lines(found, label, advised=found.next.does if shown else "")]
    if result.vote is not None:
        lines += ["", *vote.majority_lines(result.vote, parts.SHOWN)]
    if result.comparison is not None:
        lines += ["", *comparison.comparison_lines(result.comparison, parts.SHOWN)]
    return page(lines)


def _erased(record: CarrierRecord) -> tuple[tuple[str, str], ...]:
    """Say of a stub what it is the stub of."""
    was = record.erased
    if was is None:
        return ()
    held = f"{was.of}, version {was.version}, with {plural(len(was.files), 'file')}; their digests are in the JSON"
    return (("was", held), ("inventory", f"SHA-512 {was.inventory_sha512[:16]}…"))


def carrier_text(record: CarrierRecord) -> str:
    """Show everything about a carrier."""
    rows = (
        ("kind", record.kind), ("part", record.part), ("machine", record.machine), ("board", record.board),
        ("position", record.position), ("label", record.label), ("markings", record.markings),
        ("date code", record.date_code), ("package", record.package), ("condition", record.condition),
        ("note", record.note), ("added", record.created), *_erased(record),
    )  # fmt: skip
    lines = [*([record.id] if record.standing is None else standing.strip(record, record.standing)), ""]
    lines += records.described(rows)
    lines += ["", *_read_table(record)] if record.reads else ["", "  no read yet"]
    for read in record.reads:
        between = parts.between(read)
        lines += parts.wrapped(f"  {read.id} through: ", between) if between else []
        lines += parts.insisted(f"  {read.id} ", read.insisted)
        lines += [line for note in read.notes for line in parts.wrapped(f"  {read.id} note: ", note)]
        missed = parts.not_read(read)
        lines += parts.wrapped(f"  {read.id} list: ", missed) if missed else []
        if read.image.doubts:
            lines.append(f"  {read.id} doubtful: {read.image.doubts[0].why}")
    lines += records.remarks(record)
    if record.agreed is not None:
        lines += ["", f"  agreed   {record.agreed.sha256 or 'no image'}"]
    elif record.reads:
        lines += ["", "  no agreed image yet"]
    if record.standing is not None and record.reads:
        label = "settled" if record.agreed else "as it stands"
        lines += standing.evidence_lines(record.standing, label, advised=record.standing.next.does)
    for trial in record.trials:
        with_what = f" with {', '.join(trial.together)}" if trial.together else ""
        lines += parts.wrapped(f"  {trial.id:7}  ", f"{trial.what} in the machine{with_what}: {trial.outcome}")
    for back in record.withdrawals:
        lines += parts.wrapped("  taken back ", f"{_as_called(back.what)}: {back.reason}")
    for made in record.derivations:
        sources = " and ".join(f"{source.carrier} {source.what}" for source in made.sources)
        steps = ", ".join(str(step.get("step")) for step in made.steps)
        lines.append(f"  {made.id:7}  {made.title or 'derived image'}: from {sources} by {steps}")
        lines.append(f"           {size_text(made.size_bytes)}, SHA-256 {made.sha256[:16]}…")
    if record.contents is not None:
        lines += ["", "  on the disk", *parts.disk_contents(record.contents, "    ")]
    for new in record.replacements:
        of = f"{new.part or 'replacement'} from image {new.image}" + (f", {new.placed}" if new.placed else "")
        lines.append(f"  {new.id:7}  {of}: {new.grade}")
        lines += parts.wrapped("           ", new.because)
        lines += parts.insisted("           ", new.insisted)
        for one in new.read_backs:
            lines += parts.insisted(f"           {one.file}: ", one.insisted)
    lines += records.history(record)
    for found in record.findings:
        lines += ["", *parts.finding(found)]
    return page(lines)


def _as_called(what: str) -> str:
    """Name what was taken back as people do: a read-back by its number."""
    found = re.fullmatch(r"replacements/(w\d+)/back-(\d+)\.bin", what)
    return f"{found[1]}/{found[2]}" if found else what


def _read_table(record: CarrierRecord) -> list[str]:
    warm = any(read.temperature for read in record.reads)   # a column that few need
    disk = record.kind in DISKS
    rows = [
        ["read", "file", "bytes", "container", "reader", "operator", "date", "drive" if disk else "volt",
         *(["°C"] if warm else []), "image SHA-256"]
    ]  # fmt: skip
    rows += [
        [
            read.id, read.file, str(read.image.size_bytes), _container(read), read.reader or "-", read.operator or "-",
            read.date or "-", (read.drive if disk else read.vcc) or "-", *([read.temperature or "-"] if warm else []),
            read.image.sha256[:16] + "…",
        ]
        for read in record.reads
    ]  # fmt: skip
    return parts.table(rows, right=[2])


def todo_text(result: Todo) -> str:
    """Show what to do next, the most urgent first."""
    if not result.lines and result.set_aside:
        return page(parts.set_aside(result.set_aside))
    if not result.lines:
        said = f"Nothing needs to be done: {plural(result.done, 'carrier')} proved." if result.done else "no carriers"
        return page([said, *parts.left_out(result.taken_out, "carrier list --all")])
    unread = f"; {result.unread} not read at all" if result.unread else ""
    lines = [f"{plural(len(result.lines) + result.more, 'carrier')} to see to{unread}; most urgent first.", ""]
    for line in result.lines:
        what = " ".join(part for part in (line.kind, line.part) if part)
        where = ", ".join(part for part in (line.machine, line.board, line.position) if part)
        lines.append(f"{line.id}: {what}" + (f" in {where}" if where else ""))
        lines += parts.wrapped("  because  ", line.because)
        lines += parts.wrapped("  next     ", line.next)
    if result.more:
        lines += ["", f"and {result.more} more: a higher --limit shows them"]
    aside = parts.set_aside(result.set_aside)
    lines += [*parts.left_out(result.taken_out, "carrier list --all"), *([""] if aside else []), *aside]
    return page(lines)


def _row_grade(row: CarrierRow) -> str:
    grade = row.grade or ("not settled" if row.reads else "none")
    if row.taken_out is not None:
        return f"{grade}, taken out"
    return f"{grade}, open" if row.open else f"{grade}, explained" if row.explained else grade


def carrier_list_text(result: CarrierList) -> str:
    """List carriers."""
    if not result.carriers:
        return page(["no carriers", *parts.left_out(result.taken_out), *parts.set_aside(result.set_aside)])
    rows = [["carrier", "kind", "part", "machine", "board", "position", "reads", "grade"]]
    rows += [
        [
            row.id, row.kind or "-", row.part or "-", row.machine or "-", row.board or "-", row.position or "-",
            str(row.reads), _row_grade(row),
        ]
        for row in result.carriers
    ]  # fmt: skip
    lines = parts.table(rows, right=[6], indent="")
    for row in result.carriers:
        for word, codes in (("open", row.open), ("explained", row.explained)):
            if codes:
                lines += parts.wrapped("", f"{row.id}: {word}: {', '.join(codes.split())}")
        if row.problem:
            lines += parts.wrapped("", f"{row.id}: its record cannot be read: {row.problem}")
        if row.taken_out is not None:
            lines += parts.wrapped("", f"{row.id}: taken out of the collection: {row.taken_out}")
    if result.more:
        lines.append("there are more: without --limit all are listed")
    lines += parts.set_aside(result.set_aside, {row.id for row in result.carriers})
    return page([*lines, *parts.left_out(result.taken_out)])
