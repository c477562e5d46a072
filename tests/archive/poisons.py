"""Records that somebody spoilt on purpose, with every digest right again: one node of the JSON of an archive changed.

What is changed, and into what, follows from a seed alone. The archive lies in the layout whose folders are named by the
plain ids.
"""

from __future__ import annotations

import hashlib
import json
import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from imagekeeper.archive.ocfl.inventory import sidecar_bytes
from imagekeeper.archive.ocfl.ledger import commit_line

#: Stands where JSON is written that `json` would not write: NaN, or a member twice.
_RAW, _TWICE = "\x00raw:", "\x00twice:"

HUGE = "9" * 40

#: Texts that may be taken for something else.
TEXTS = (
    "", "x", "\ud800", "tide \udcff", "\x1b[2J\x07", "a\0b", "\u202egnp.exe", "../../../etc/passwd", "/etc/passwd",
    "CON",
    "r1", "r0", "r999999999", "agreed", "none", "0" * 64, "F" * 40, "-1", "1e999", "1800", "9999-12-31T23:59:59Z",
    "0001-01-01T00:00:00+23:59", "2026-02-30", "0000", "carriers", "tg85-u4", "eprom", "\U0010ffff", "x" * 5000, "=1+1",
    "<script>", "{id}", "%s%n", "1" * 400, "nan", "inf", "5.0", "\u0661\u0662", "reads/r1/image.bin", "\n\n", "🜁",
)

#: JSON as it is written.
RAW = (
    "NaN", "Infinity", "-Infinity", HUGE, f"-{HUGE}", "-1", "0", "1", "9223372036854775807", "9223372036854775808",
    "4294967295", "4294967296", "1e400", "1.5", "true", "false", "null", "[]", "{}", "[[]]", '[null]', '{"a":1}',
    "[" * 40 + "]" * 40, "[" * 2000 + "]" * 2000, '{"a":' * 500 + "1" + "}" * 500, "1" * 5000, '"x"', "-0", "0.1",
)  # fmt: skip


@dataclass(frozen=True)
class Poison:
    """What was done.

    Attributes:
        id: The carrier or machine, or an empty text where it is none of them.
        file: The file, relative to the archive.
        where: The node.
        what: What became of it.
    """

    id: str
    file: str
    where: str
    what: str


def poison(archive: Path, seed: int) -> Poison:
    """Change one node of one JSON file, and sign everything again."""
    dice = random.Random(seed)
    files = _candidates(archive)
    kind = dice.choices(("record", "inventory", "marker", "log"), (90, 6, 2, 2))[0]
    path = dice.choice([one for one in files if _kind(one, archive) == kind])
    name = path.relative_to(archive).as_posix()
    lines = path.suffix == ".jsonl"
    text = path.read_bytes().decode()
    number = dice.randrange(len(text.splitlines())) if lines else 0
    document = json.loads(text.splitlines()[number] if lines else text)
    where, what, changed = _changed(document, dice)
    written = _written(changed, indent=None if lines else 2, plain=dice.random() < 0.5)
    owner = "" if kind in ("marker", "log") else path.relative_to(archive / "carriers").parts[0]
    chain = kind == "record" and lines and dice.random() < 0.8
    for file in _alike(archive / "carriers" / owner, path, kind):
        if lines:
            held = file.read_bytes().decode().splitlines()
            if number >= len(held):
                continue   # an older version, which had fewer events
            held[number] = written
            data = "\n".join(_chained(held) if chain else held)
        else:
            data = written
        file.write_bytes((data + "\n").encode("utf-8", "surrogatepass"))
        if kind == "record":
            sign(archive, owner, file)
    if kind == "inventory":
        sign(archive, owner, None)
    return Poison(owner, name, where, what)


def _alike(top: Path, path: Path, kind: str) -> list[Path]:
    """Give the files that say the same: events go on over versions, the newest inventory lies in two places."""
    if kind == "record" and path.suffix == ".jsonl":
        return sorted(top.glob("v*/content/events.jsonl"))
    if kind == "inventory":
        newest = max(top.glob("v*/"), key=lambda one: int(one.name[1:])) / path.name
        both = [top / path.name, newest]
        return both if path in both else [path]
    return [path]


def _candidates(archive: Path) -> list[Path]:
    found = [path for path in archive.rglob("*") if path.suffix in (".json", ".jsonl") and path.is_file()]
    return sorted(path for path in found if "extensions" not in path.parts and path.name != "ocfl_layout.json")


def _kind(path: Path, archive: Path) -> str:
    if path == archive / "archive.json":
        return "marker"
    if not path.is_relative_to(archive / "carriers"):
        return "log"
    if path.name == "inventory.json":
        return "inventory"
    return "record"


# --- one node ---


def _nodes(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    yield path
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _nodes(inner, (*path, key))
    elif isinstance(value, list):
        for at, inner in enumerate(value):
            yield from _nodes(inner, (*path, at))


def _changed(document: Any, dice: random.Random) -> tuple[str, str, Any]:
    nodes = [path for path in _nodes(document) if path]
    if not nodes:
        return "", "raw", _RAW + dice.choice(RAW)
    path = dice.choice(nodes)
    holder = document
    for step in path[:-1]:
        holder = holder[step]
    key, old = path[-1], holder[path[-1]]
    how = dice.choice(("delete", "text", "raw", "raw", "retype", "number", "swap", "twice", "add", "edit", "copy"))
    where = "/".join(map(str, path))
    if how == "delete":
        del holder[key]
    elif how == "twice" and isinstance(holder, dict):
        holder[f"{_TWICE}{key}"] = dice.choice([old, None, "x", -1])
    elif how == "add" and isinstance(holder, dict):
        holder[dice.choice(("", "note", "\ud800", "more", "x" * 300))] = dice.choice(TEXTS)
    elif how == "swap":
        other = dice.choice(nodes)
        value = document
        for step in other:
            value = value[step]
        holder[key] = json.loads(json.dumps(value))
        how = f"swap with {'/'.join(map(str, other))}"
    elif how == "copy" and isinstance(holder, list):
        holder.append(json.loads(json.dumps(old)))
    elif how == "edit" and isinstance(old, str) and old:
        at = dice.randrange(len(old))
        new = dice.choice(("", "\ud800", "0", "Z", "/", "\x00", "-", old[at].swapcase()))
        holder[key] = old[:at] + new + old[at + 1 :]
        how = f"edit to {ascii(holder[key])[:60]}"
    elif how == "number" or isinstance(old, int):
        n = old if isinstance(old, int) else 1
        holder[key] = dice.choice((n + 1, -n, n - 1, n << 32, n << 64, 1 << 63, -1, 0, n * 2))
        how = f"number {holder[key]}"
    elif how == "retype":
        holder[key] = dice.choice((None, 0, 1.5, True, [], {}, [old], {"a": old}, str(old), ""))
    elif how == "text" or isinstance(old, str):
        holder[key] = dice.choice(TEXTS)
        how = f"text {ascii(holder[key])[:60]}"
    else:
        raw = dice.choice(RAW)
        holder[key] = _RAW + raw
        how = f"raw {raw[:60]}"
    return where, how, document


def _written(document: Any, *, indent: int | None, plain: bool) -> str:
    separators = (",", ":") if indent is None else None
    raws: list[str] = []

    def marked(value: Any) -> Any:
        if isinstance(value, str) and value.startswith(_RAW):
            raws.append(value.removeprefix(_RAW))
            return f"@@raw{len(raws) - 1}@@"
        if isinstance(value, dict):
            return {marked_key(key): marked(inner) for key, inner in value.items()}
        return [marked(one) for one in value] if isinstance(value, list) else value

    def marked_key(key: str) -> str:
        return f"@@twice@@{key.removeprefix(_TWICE)}" if key.startswith(_TWICE) else key

    text = json.dumps(
        marked(document), indent=indent, separators=separators, ensure_ascii=plain, sort_keys=indent is None
    )
    for number, raw in enumerate(raws):
        text = text.replace(f'"@@raw{number}@@"', raw)
    return text.replace("@@twice@@", "")


# --- signing ---


def _chained(lines: list[str]) -> list[str]:
    """Tie the events to each other again, as far as they are events."""
    previous: str | None = None
    found = []
    for line in lines:
        try:
            event = json.loads(line)
            event["previous"] = previous
            line = json.dumps(event, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
            previous = hashlib.sha256(line.encode()).hexdigest()
        except (ValueError, TypeError, RecursionError):
            previous = hashlib.sha256(b"null").hexdigest()
        found.append(line)
    return found


def sign(archive: Path, object_id: str, changed: Path | None) -> None:
    """Make the digests of a carrier right again: of the changed file in all inventories, of these, and in the log.

    Args:
        archive: The archive's folder.
        object_id: The carrier or machine.
        changed: The file of its content that was changed; None where an inventory was.
    """
    top = archive / "carriers" / object_id
    inventories = [top / "inventory.json", *sorted(top.glob("v*/inventory.json"))]
    digests: dict[str, tuple[str, str]] = {}
    for path in inventories:
        data = path.read_bytes()
        if changed is not None:
            data = _with_digest(json.loads(data), changed.relative_to(top).as_posix(), changed.read_bytes())
            path.write_bytes(data)
        digest = hashlib.sha512(data).hexdigest()
        path.with_name("inventory.json.sha512").write_bytes(sidecar_bytes(digest))
        if path.parent != top:
            try:
                created = json.loads(data)["versions"][path.parent.name]["created"]
            except (ValueError, LookupError, TypeError, RecursionError):
                continue
            digests[path.parent.name] = (str(created), digest)
    _note(archive, object_id, digests)


def _with_digest(inventory: Any, content: str, data: bytes) -> bytes:
    new = hashlib.sha512(data).hexdigest()
    old = next((digest for digest, paths in inventory["manifest"].items() if content in paths), None)
    for held in (inventory["manifest"], *(version["state"] for version in inventory["versions"].values())):
        if old in held and new != old:
            held[new] = [*held.get(new, ()), *held.pop(old)]
    return (json.dumps(inventory, indent=2, sort_keys=True, ensure_ascii=False) + "\n").encode()


def _note(archive: Path, object_id: str, digests: dict[str, tuple[str, str]]) -> None:
    log = archive / "log" / "commits.jsonl"
    lines = []
    for line in log.read_bytes().splitlines():
        noted = json.loads(line)
        found = digests.get(f"v{noted['version']}") if noted["carrier"] == object_id else None
        lines.append(line if found is None else commit_line(object_id, noted["version"], *found))
    log.write_bytes(b"".join(line + b"\n" for line in lines if b"\n" not in line))


def bagged(archive: Path, target: Path) -> None:
    """Put an archive's holdings into a bag, whatever they are."""
    data = target / "data"
    files = {f"data/{path.relative_to(archive).as_posix()}": path.read_bytes()
             for path in archive.rglob("*") if path.is_file() and path.name != "lock" and "log" not in path.parts}
    target.mkdir()
    (target / "bagit.txt").write_bytes(b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")
    manifest = "".join(f"{hashlib.sha256(held).hexdigest()}  {name}\n" for name, held in sorted(files.items()))
    (target / "manifest-sha256.txt").write_text(manifest)
    data.mkdir()
    for name, held in files.items():
        (target / name).parent.mkdir(parents=True, exist_ok=True)
        (target / name).write_bytes(held)
