"""The bench: the drives, readers, programmers and disks that a person owns, and what they can do for a disk."""

from __future__ import annotations

import json
import re
import tomllib
from dataclasses import dataclass
from typing import Any, ClassVar, Literal

from imagekeeper.drives.disk import DiskForDrive
from imagekeeper.drives.results import BenchAnswer, OwnVerdict, Verdict
from imagekeeper.drives.verdict import verdict
from imagekeeper.errors import InputError, UsageError
from imagekeeper.sentences.say import Phrase
from imagekeeper.tables.drives import drive_rows, medium_rows

#: What stands in the bench file, by the name of its tables.
KINDS = ("drive", "medium", "reader", "programmer")

#: A bench file is typed by a person; no larger one is read. [byte]
LIMIT = 1 << 20


def head() -> str:
    """The lines that a new bench file begins with."""
    return f"# {Phrase('step/bench-head')}\n# {Phrase('step/bench-by-hand')}\n"


@dataclass(frozen=True)
class OwnDrive:
    """A drive on the bench.

    Attributes:
        name: What its owner calls it.
        drive: The id of its class.
        speeds: At which it is known to turn; none where only its class is known. [rev/min]
        note: A remark, or null.
    """

    name: str
    drive: str
    speeds: tuple[int, ...] = ()
    note: str | None = None


@dataclass(frozen=True)
class OwnMedium:
    """Disks on the shelf.

    Attributes:
        medium: The id of their class.
        count: How many, or null where nobody counted.
        note: A remark, or null.
    """

    medium: str
    count: int | None = None
    note: str | None = None


@dataclass(frozen=True)
class Tool:
    """A reader or a programmer.

    Attributes:
        name: What its owner calls it.
        note: A remark, or null.
        qualified: What showed that it works, or null.
        qualified_on: When that was seen, or null.
    """

    name: str
    note: str | None = None
    qualified: str | None = None
    qualified_on: str | None = None


@dataclass(frozen=True)
class Bench:
    """What is at hand.

    Attributes:
        drives: The drives.
        media: The disks.
        readers: The readers.
        programmers: The programmers.
    """

    SCHEMA: ClassVar[Literal["bench/1"]] = "bench/1"

    drives: tuple[OwnDrive, ...] = ()
    media: tuple[OwnMedium, ...] = ()
    readers: tuple[Tool, ...] = ()
    programmers: tuple[Tool, ...] = ()


def parse(text: str) -> Bench:
    r"""Read a bench file.

    Args:
        text: TOML with tables `[[drive]]` (name, class, speeds, note), `[[medium]]` (class, count, note),
            `[[reader]]` and `[[programmer]]` (name, note).

    Raises:
        InputError: `bench-form`, with the table and what is wrong in it.

    Example:
        >>> parse('[[drive]]\nname = "B"\nclass = "5.25-96tpi-hd-360"').drives[0].drive
        '5.25-96tpi-hd-360'
    """
    try:
        tables = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as problem:
        raise _wrong(Phrase("bench-form/no-toml", trouble=str(problem))) from problem
    odd = [name for name in tables if name not in KINDS]
    if odd:
        raise _wrong(Phrase("bench-form/kind", kind=odd[0], known=KINDS))
    rows = {kind: _rows(tables, kind) for kind in KINDS}
    drives = tuple(
        OwnDrive(
            _text(row, where, "name"), _known(row, where, drive_rows()), _speeds(row, where), row.get("note")
        )
        for where, row in rows["drive"]
    )
    media = tuple(
        OwnMedium(_known(row, where, medium_rows()), _count(row, where), row.get("note"))
        for where, row in rows["medium"]
    )
    tools = {
        kind: tuple(
            Tool(_text(row, where, "name"), row.get("note"), row.get("qualified"), row.get("qualified_on"))
            for where, row in rows[kind]
        )
        for kind in ("reader", "programmer")
    }
    names = [one.name for one in drives] + [one.name for kind in tools.values() for one in kind]
    twice = [name for name in names if names.count(name) > 1]
    if twice:
        raise _wrong(Phrase("bench-form/name-twice", name=twice[0]))
    return Bench(drives, media, tools["reader"], tools["programmer"])


#: The members of each table.
_MEMBERS = {
    "drive": ("name", "class", "speeds", "note"), "medium": ("class", "count", "note"),
    "reader": ("name", "note", "qualified", "qualified_on"), "programmer": ("name", "note"),
}  # fmt: skip


def _rows(tables: dict[str, Any], kind: str) -> list[tuple[str, dict[str, Any]]]:
    held = tables.get(kind, [])
    if not isinstance(held, list) or not all(isinstance(row, dict) for row in held):
        raise _wrong(Phrase("bench-form/table-each", kind=kind))
    rows = [(f"{kind} {number}", row) for number, row in enumerate(held, 1)]
    for where, row in rows:
        odd = [name for name in row if name not in _MEMBERS[kind]]
        if odd:
            raise _wrong(Phrase("bench-form/member", entry=where, member=odd[0], known=_MEMBERS[kind]))
        for member in ("note", "qualified", "qualified_on"):
            if not isinstance(row.get(member, ""), str):
                raise _wrong(Phrase("bench-form/note", entry=where, member=member))
    return rows


def _text(row: dict[str, Any], where: str, member: str) -> str:
    value = row.get(member)
    if not isinstance(value, str) or not value.strip():
        raise _wrong(Phrase("bench-form/missing", entry=where, member=member))
    return value


def _known(row: dict[str, Any], where: str, known: dict[str, Any]) -> str:
    value = _text(row, where, "class")
    if value not in known:
        raise _wrong(Phrase("bench-form/class", entry=where, name=value, known=known))
    return value


def _speeds(row: dict[str, Any], where: str) -> tuple[int, ...]:
    value = row.get("speeds", [])
    if not isinstance(value, list) or not all(type(one) is int and 100 <= one <= 3600 for one in value):
        raise _wrong(Phrase("bench-form/speeds", entry=where))
    return tuple(value)


def _count(row: dict[str, Any], where: str) -> int | None:
    value = row.get("count")
    if value is not None and not (type(value) is int and 0 <= value < 1_000_000):
        raise _wrong(Phrase("bench-form/count", entry=where))
    return value


def _wrong(why: Phrase) -> InputError:
    return InputError("bench-form", trouble=why)


def entry(kind: str, **members: str | int | tuple[int, ...] | None) -> str:
    r"""Write one table of a bench file.

    Raises:
        UsageError: `unknown-name` for a kind that is not.

    Example:
        >>> print(entry("medium", **{"class": "5.25-dd", "count": 10}))
        <BLANKLINE>
        [[medium]]
        class = "5.25-dd"
        count = 10
        <BLANKLINE>
    """
    if kind not in KINDS:
        raise UsageError("unknown-name/bench", kind=kind, known=KINDS)
    lines = [f"{name} = {_value(value)}" for name, value in members.items() if value not in (None, ())]
    return "\n".join(["", f"[[{kind}]]", *lines, ""])


def without_entry(text: str, kind: str, name: str, because: str) -> str:
    r"""Take one table out of a bench file: its lines stay as comments, with the reason.

    Args:
        text: The file.
        kind: The kind of the table.
        name: The name of the thing, or the class of the disks.
        because: Why, for the comment.

    Raises:
        UsageError: `unknown-name` where there is no such thing.

    Example:
        >>> print(without_entry('[[reader]]\nname = "A"\n\n[[reader]]\nname = "B"\n', "reader", "A", "sold"))
        # taken away: sold
        # [[reader]]
        # name = "A"
        <BLANKLINE>
        [[reader]]
        name = "B"
        <BLANKLINE>
    """
    lines, begins = _tables(text)
    member = "class" if kind == "medium" else "name"
    held = tomllib.loads(text).get(kind, [])
    number = next((n for n, row in enumerate(held) if row.get(member) == name), None)
    of_kind = [at for at, named in begins.items() if named == kind]
    if number is None or number >= len(of_kind):
        known = [str(row.get(member)) for row in held] or ["none"]
        raise UsageError("unknown-name/on-bench", kind=kind, name=name, known=known)
    begin = of_kind[number]
    end = min([at for at in begins if at > begin], default=len(lines))
    while end > begin and not lines[end - 1].strip():
        end -= 1   # the blank lines before the next table stay
    gone = [f"# taken away: {' '.join(because.split())}", *(f"# {line}" for line in lines[begin:end])]
    return "\n".join([*lines[:begin], *gone, *lines[end:]])


def _tables(text: str) -> tuple[list[str], dict[int, str]]:
    """Give the lines of a bench file, and where each of its tables begins, with the table's name."""
    lines = text.split("\n")
    heads = ((at, re.match(r"\s*\[\[?\s*([\w-]+)\s*\]", line)) for at, line in enumerate(lines))
    return lines, {at: head[1] for at, head in heads if head}


def with_members(text: str, name: str, members: dict[str, str]) -> str:
    r"""Write members into the table of a reader, in the place of those of the same names.

    Raises:
        UsageError: `unknown-name` where there is no such reader.

    Example:
        >>> print(with_members('[[reader]]\nname = "A"\n', "A", {"note": "new"}))
        [[reader]]
        name = "A"
        note = "new"
        <BLANKLINE>
    """
    lines, begins = _tables(text)
    held = tomllib.loads(text).get("reader", [])
    number = next((n for n, row in enumerate(held) if row.get("name") == name), None)
    of_kind = [at for at, named in begins.items() if named == "reader"]
    if number is None or number >= len(of_kind):
        known = [str(row.get("name")) for row in held] or ["none"]
        raise UsageError("unknown-name/on-bench", kind="reader", name=name, known=known)
    begin = of_kind[number]
    end = min([at for at in begins if at > begin], default=len(lines))
    kept = [line for line in lines[begin:end] if line.partition("=")[0].strip() not in members]
    while kept and not kept[-1].strip():
        kept.pop()
    new = [f"{member} = {_value(value)}" for member, value in members.items()]
    return "\n".join([*lines[:begin], *kept, *new, "", *lines[end:]])


def _value(value: str | int | tuple[int, ...] | None) -> str:
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")   # a basic string of TOML
    return str(list(value)) if isinstance(value, tuple) else str(value)


def answer(disk: DiskForDrive, bench: Bench) -> BenchAnswer:
    """Tell what the drives of a bench can do for a disk, and what is wanting.

    Example:
        >>> from imagekeeper.floppy.formats import find
        >>> own = Bench((OwnDrive("B", "5.25-96tpi-hd-360"),), (OwnMedium("5.25-dd", 10),))
        >>> [(one.name, one.disks) for one in answer(DiskForDrive.of(find("720K 5.25")), own).drives]
        [('B', 10)]
    """
    judged = _judged(disk, bench)
    best = _best(judged)
    sentences = []
    if best is None:
        sentences.append(f"Nothing on your bench can write {disk.title}.")
        readers = [one.name for one in judged if one.verdict.can_read != "no"]
        if readers:
            sentences.append(f"Your drive {readers[0]} can read it.")
    else:
        sentences.append(f"Your drive {best.name} can write it{_how(best.verdict)}.")
        if best.disks == 0:
            sentences.append("No disk of that class is on your shelf.")
    if best is None:
        sentences.append(f"Ask for a drive of class {' or '.join(_native(disk))}.")
    elif best.verdict.can_write == "with-care":
        safer = [name for name in _native(disk) if " " not in name]   # not one that needs the same care
        sentences += [f"Safer: a drive of class {' or '.join(safer)}."] if safer else []
    return BenchAnswer(" ".join(sentences), tuple(judged))


def _judged(disk: DiskForDrive, bench: Bench) -> list[OwnVerdict]:
    counts = {one.medium: one.count for one in bench.media}
    judged = [
        OwnVerdict(own.name, found, 0 if found.settings is None else counts.get(found.settings.media, 0))
        for own in bench.drives
        for found in (own_verdict(disk, own),)
    ]
    order = ("yes", "with-care", "no")
    judged.sort(key=lambda one: (order.index(one.verdict.can_write), order.index(one.verdict.can_read)))
    return judged


def _best(judged: list[OwnVerdict]) -> OwnVerdict | None:
    return judged[0] if judged and judged[0].verdict.can_write != "no" else None


def own_verdict(disk: DiskForDrive, own: OwnDrive) -> Verdict:
    """Judge a drive of a bench: its class, and the speeds that it is known to have."""
    row = drive_rows()[own.drive]
    known = [mode.id for mode in row.modes if mode.optional and mode.rotation in own.speeds] if own.speeds else None
    return verdict(disk, row, optional_modes=known)


def _how(found: Verdict) -> str:
    care = ", with care" if found.can_write == "with-care" else ""
    if found.settings is None:
        return care
    return (
        f"{care}: {found.settings.data_rate / 1000:g} kbit/s at {found.settings.rotation:g} rev/min, "
        f"{found.settings.step} step, on a {found.settings.media} disk"
    )


def _native(disk: DiskForDrive) -> list[str]:
    """The classes that write the disk without any care; for want of these the ones of which some drives do."""
    found = {row.id: verdict(disk, row) for row in drive_rows().values()}
    sure = [name for name, one in found.items() if one.can_write == "yes"]
    if sure:
        return sure
    return [
        f"{name} (one that turns at {one.settings.rotation:g} rev/min)"
        for name, one in found.items()
        if one.can_write == "with-care" and one.settings is not None
    ]


def request(disk: DiskForDrive, bench: Bench) -> str | None:
    """Write what to ask a friend for: the drive, unless one is at hand that needs no care; the disks, unless there.

    Returns:
        A short text, or None where nothing is wanting.

    Example:
        >>> from imagekeeper.floppy.formats import find
        >>> print(request(DiskForDrive.of(find("1.44M")), Bench((OwnDrive("A", "3.5-hd"),))).splitlines()[1][:16])
        - a disk: 3.5-in
    """
    best = _best(_judged(disk, bench))
    lines = []
    if best is None or best.verdict.can_write != "yes":
        rows = drive_rows()
        lines += [f"- a drive: {rows[name.split()[0]].title}; class {name}" for name in _native(disk)[:3]]
        if len(lines) > 1:
            lines = [lines[0], *(line.replace("- a drive:", "  or") for line in lines[1:])]
    if best is None or best.disks == 0:
        medium = medium_rows()[disk.medium if best is None or best.verdict.settings is None
                               else best.verdict.settings.media]  # fmt: skip
        lines.append(f"- a disk: {medium.title} ({medium.id}). {medium.buy}")
    if not lines:
        return None
    return "\n".join([f"To write {disk.says}, I need:", *lines])
