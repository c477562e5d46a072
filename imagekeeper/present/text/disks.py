"""What is on a disk: its files, its sectors, and what is wrong with them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from imagekeeper.filesystems.model import Boot, Entry, Extent, SectorGrid, Volume
from imagekeeper.filesystems.sector_merge import MergedSector
from imagekeeper.findings import Finding
from imagekeeper.present.text import parts
from imagekeeper.present.text.paper import page, painted
from imagekeeper.units import plural, size_text

if TYPE_CHECKING:   # each command loads what it needs
    from imagekeeper.jobs.disks.checking_files import FileCheck
    from imagekeeper.jobs.disks.extracting_files import ExtractedFile, FileExtraction
    from imagekeeper.jobs.disks.listing_files import FileList
    from imagekeeper.jobs.disks.merging_sectors import DiskMerge


#: So many stretches of a file are written with --where.
_STRETCHES = 4


#: So many reasons are given.
_REASONS = 4


#: So many sectors of a merge are listed.
_SECTORS = 40

#: So many of the files that one shares bytes with are named.
_SHARED = 3

#: So many findings of one code are told one by one.
_ALIKE = 4


def file_list_text(result: FileList, *, where: bool = False) -> str:
    """Show a listing: the conclusion, each volume with its files, what is wrong, and what to do next."""
    lines = parts.wrapped("", result.says)
    grid = result.geometry
    lines.append(f"  image     {result.name}, {size_text(result.size_bytes)}" + (f", {grid.text}" if grid else ""))
    if result.sides_from:
        lines.append(f"  sides     were {result.sides_from} in the file; offsets are those with alternating sides")
    if result.bad_sectors is not None:
        lines.append(f"  list      {plural(result.bad_sectors, 'bad sector')}")
    if len(result.geometries) > 1 and result.geometries[1].score > 0.1:
        other = result.geometries[1]
        text = f"{other.cylinders}x{other.heads}x{other.sectors}x{other.sector_bytes}"
        lines.append(f"            the geometry may also be {text} ({other.score:.2f})")
    if result.parking is not None:
        lines += parts.wrapped("  park      ", result.parking.says)
    if result.partitions:
        lines += ["", *_partitions(result)]
    for volume in result.volumes:
        lines += ["", *_volume(volume, where)]
    if result.findings:
        lines += ["", *_findings(result.findings)]
    return page([*lines, "", *parts.wrapped("  next: ", result.hint)])


def _partitions(result: FileList) -> list[str]:
    rows = [["partition", "kind", "type", "begins at byte", "bytes", ""]]
    for one in result.partitions:
        rows.append(
            [
                str(one.number), one.kind, f"{one.type} {one.title}".strip(), str(one.start), str(one.length),
                "active" if one.active else "",
            ]
        )  # fmt: skip
    return parts.table(rows, right=[0, 3, 4])


def _volume(volume: Volume, where: bool) -> list[str]:
    head = f"Partition {volume.partition}" if volume.partition is not None else "Volume"
    says = [volume.title]
    says += [f"label {volume.label}"] if volume.label else []
    says += [f"serial {volume.serial}"] if volume.serial else []
    lines = [*parts.wrapped(f"{head}: ", ", ".join(says))]
    free = volume.free_units * volume.unit_bytes
    lines.append(f"  free      {volume.free_units} of {plural(volume.units, 'unit')}, {size_text(free)}")
    if volume.runner_up is not None:
        rival = volume.runner_up
        words = f"its evidence is ahead by {rival.behind:.1f} of the next that would give other files: {rival.title}"
        lines += parts.wrapped("  margin    ", words)
    if volume.boot is not None:
        lines += _boot(volume.boot)
    if volume.entries:
        lines += ["", *_entries(volume, where)]
    else:
        lines += ["", "  no files"]
    return lines


def _boot(boot: Boot) -> list[str]:
    lines = parts.wrapped("  start     ", boot.says)
    for one in boot.evidence[:_REASONS]:
        lines += parts.wrapped("            ", f"{'for' if one.weight > 0 else 'against'}: {one.says}")
    return lines


def _entries(volume: Volume, where: bool) -> list[str]:
    grouped = any(entry.group is not None for entry in volume.entries)
    marks = [_marks(entry) for entry in volume.entries]
    heads = [*(["group"] if grouped else []), "name", "bytes", "changed", "attributes"]
    heads += [""] if any(marks) else []
    heads += ["where"] if where else []
    rows = [heads]
    for entry, mark in zip(volume.entries, marks, strict=True):
        row = [entry.group or ""] if grouped else []
        directory = entry.kind == "directory"
        row += [
            entry.path + ("/" if directory else ""), "-" if directory else str(entry.size_bytes),
            (entry.modified or "-").replace("T", " "), " ".join(entry.attributes),
        ]  # fmt: skip
        row += [mark] if any(marks) else []
        row += [_where(entry.extents, volume.grid)] if where else []
        rows.append(row)
    return parts.table(rows, right=[1 + grouped])


def _marks(entry: Entry) -> str:
    words = ["deleted"] if entry.deleted else []
    words += [] if entry.complete else ["not complete"]
    words += [plural(len(entry.bad), "bad sector")] if entry.bad else []
    return ", ".join(words)


def _where(extents: Sequence[Extent], grid: SectorGrid | None) -> str:
    """Say where a file lies: bytes, and cylinder/head/sector where the geometry is known."""
    said = []
    for one in extents[:_STRETCHES]:
        if one.start is None:
            said.append(f"{one.length} nowhere")
            continue
        text = f"{one.start}+{one.length}"
        if grid is not None:
            first, last = grid.place(one.start), grid.place(one.start + one.length - 1)
            text += f" ({first})" if first == last else f" ({first} to {last})"
        said.append(text)
    more = len(extents) - _STRETCHES
    return ", ".join(said) + (f" and {more} more" if more > 0 else "")


def file_check_text(result: FileCheck) -> str:
    """Show a check."""
    head = painted(result.says, "good" if result.ok else "bad")
    lines = [head, f"  image     {result.name}"]
    for volume in result.volumes:
        label = "volume" if volume.partition is None else f"part. {volume.partition}"
        inside = f"{plural(volume.files, 'file')}, {plural(volume.directories, 'directory', 'directories')}"
        words = f"{volume.title}; {inside}"
        lines += parts.wrapped(f"  {label:<9} ", f"{words}; {volume.free_units} of {volume.units} free")
    if result.findings:
        lines += ["", *_findings(result.findings)]
    return page(lines)


def file_extraction_text(result: FileExtraction) -> str:
    """Show what was taken out: what needs attention one by one, the rest by number."""
    lines = [*parts.wrapped("", result.says), f"  folder    {result.output}"]
    rows = [[one.path, one.written, _trouble(one)] for one in result.files if _trouble(one)]
    if rows:
        lines += ["", *parts.table([["on the disk", "written as", ""], *rows[:200]])]
        lines += [f"  and {len(rows) - 200} more"] if len(rows) > 200 else []
    if result.findings:
        lines += ["", *_findings(result.findings)]
    return page(lines)


def _trouble(one: ExtractedFile) -> str:
    words = ["renamed"] if one.renamed else []
    words += ["deleted: its content is a guess"] if one.deleted else []
    words += [] if one.complete else ["not complete: filled with 00"]
    words += [f"{plural(one.bad_bytes, 'byte')} in bad sectors"] if one.bad_bytes else []
    more = len(one.shares_with) - _SHARED
    others = ", ".join(one.shares_with[:_SHARED]) + (f" and {more} more" if more > 0 else "")
    words += [f"cross-linked with {others}: one of them at least is wrong"] if one.shares_with else []
    words += [f"see {', '.join(one.findings)}"] if one.findings else []
    return ", ".join(words)


def disk_merge_text(result: DiskMerge) -> str:
    """Show a merge, and the sectors that are still not good."""
    lines = [*parts.wrapped("", result.says), f"  written   {result.output}, {size_text(result.size_bytes)}"]
    lines += [f"  list      {result.list}"] if result.list else []
    rows = [[name, str(count)] for name, count in zip(result.reads, result.supplied, strict=True)]
    lines += ["", *parts.table([["read", "sectors taken from it"], *rows], right=[1])]
    stretches = [one for one in result.stretches if one.state == "good"]
    if stretches:
        rows = [["good in", "to", "begins at byte", "sectors", "taken from"]]
        rows += [
            [str(one.first), str(one.last), str(one.start), str(one.sectors), str(one.taken_from)]
            for one in stretches[:_SECTORS]
        ]
        lines += ["", *parts.table(rows, right=[2, 3, 4])]
        more = len(stretches) - _SECTORS
        lines += [f"  and {more} more; --json gives all"] if more > 0 else []
    if result.map:
        rows = [["sector", "begins at byte", "state", "taken from", "the reads say"]]
        for one in result.map[:_SECTORS]:
            place = f"{one.cylinder}/{one.head}/{one.sector}"
            rows.append([place, str(one.start), one.state, str(one.taken_from), _said(one)])
        lines += ["", *parts.table(rows, right=[1, 3])]
        more = len(result.map) - _SECTORS + result.left_out
        lines += [f"  and {more} more; --json gives all"] if more > 0 else []
    return page(lines)


def _said(one: MergedSector) -> str:
    words = (f"{state} (fill)" if fill else state for state, fill in zip(one.states, one.fill, strict=True))
    return ", ".join(words)


def _findings(findings: Sequence[Finding]) -> Iterator[str]:
    """Give findings, the gravest first; of many of one code only some."""
    told: Counter[str] = Counter()
    for one in sorted(findings, key=lambda one: ("fault", "warning", "note").index(one.severity)):
        told[one.code] += 1
        if told[one.code] <= _ALIKE:
            yield from parts.finding(one)
    more = [f"{count - _ALIKE} more of {code}" for code, count in told.items() if count > _ALIKE]
    if more:
        yield from parts.wrapped("  and ", ", ".join(more) + "; --json gives all")
