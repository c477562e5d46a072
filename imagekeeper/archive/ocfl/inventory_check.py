"""Whether some bytes are an inventory that the standard allows: problems are told, never raised.

Source:
    Oxford Common File Layout Specification 1.1, section 3.5, and its Validation Codes.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from typing import Any

from imagekeeper.archive.ocfl.inventory import (
    ALGORITHM,
    CONTENT,
    SIZE_LIMIT,
    TYPE,
    Inventory,
    User,
    Version,
)
from imagekeeper.provenance.dates import is_time

_DIGEST = re.compile(r"[0-9a-fA-F]{128}")
_KEYS = {"id", "type", "digestAlgorithm", "head", "contentDirectory", "manifest", "versions", "fixity"}
_VERSION_KEYS = {"created", "state", "message", "user"}

#: No system stores a longer path. [characters]
PATH_LIMIT = 4096

#: More problems of one inventory help nobody.
PROBLEM_LIMIT = 20


@dataclass(frozen=True)
class InventoryProblem:
    """One way in which an inventory breaks the standard.

    Attributes:
        code: The standard's validation code.
        why: What was found.
    """

    code: str
    why: str


@dataclass(frozen=True)
class Parsed:
    """What was made of an inventory's bytes.

    Attributes:
        inventory: The inventory, or None where there are problems.
        problems: What breaks the standard.
    """

    inventory: Inventory | None
    problems: tuple[InventoryProblem, ...]


class _TwiceError(ValueError):
    """A member that an object holds twice, of which JSON decoders would keep the last."""


def parse_inventory(data: bytes) -> Parsed:
    """Read an inventory of our own form: SHA-512, content under `content`.

    Args:
        data: The bytes of `inventory.json`.

    Returns:
        The inventory, or the problems; never an exception, whatever the bytes.

    Example:
        >>> [problem.code for problem in parse_inventory(b"[]").problems]
        ['E033']
    """
    if len(data) > SIZE_LIMIT:
        return Parsed(None, (InventoryProblem("E033", f"it holds {len(data)} bytes, more than any inventory needs"),))
    try:
        document = json.loads(data, object_pairs_hook=_members)
    except (ValueError, RecursionError) as problem:
        return Parsed(None, (InventoryProblem("E033", f"it is not the JSON of an inventory: {problem}"),))
    check = _Check()
    inventory = check.inventory(document)
    return Parsed(None if check.problems else inventory, tuple(check.problems[:PROBLEM_LIMIT]))


def _members(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in pairs:
        if name in found:
            raise _TwiceError(f"the member {name[:40]!r} is there twice")
        found[name] = value
    return found


def path_problem(path: str) -> str | None:
    """Say why a path is not allowed, or None.

    Example:
        >>> path_problem("reads/r1/read.json"), path_problem("../x")
        (None, "'../x' holds an element that is empty, . or ..")
    """
    if len(path) > PATH_LIMIT:
        return f"{path[:60]!r} goes on for {len(path)} characters"
    if path.startswith("/") or path.endswith("/"):
        return f"{path!r} begins or ends with a slash"
    if any(part in ("", ".", "..") for part in path.split("/")):
        return f"{path!r} holds an element that is empty, . or .."
    if any(ord(c) < 32 or c == "\\" or 0xD800 <= ord(c) <= 0xDFFF for c in path):
        return f"{path!r} holds a character that not every system can store"
    return None


class _Check:
    def __init__(self) -> None:
        self.problems: list[InventoryProblem] = []

    def say(self, code: str, why: str) -> None:
        self.problems.append(InventoryProblem(code, why))

    def inventory(self, document: Any) -> Inventory | None:
        if not isinstance(document, dict):
            self.say("E033", "it is not a JSON object")
            return None
        for key in document.keys() - _KEYS:
            self.say("E102", f"{key[:40]!r} is no member of an inventory")
        for key in ("id", "type", "digestAlgorithm", "head"):
            if key not in document:
                self.say("E036", f"{key} is missing")
        for key in ("manifest", "versions"):
            if key not in document:
                self.say("E041", f"{key} is missing")
        if self.problems:
            return None
        if not isinstance(document["id"], str) or not document["id"]:
            self.say("E037", "the id is not a text")
        if document["type"] != TYPE:
            self.say("E038", "the type is not that of an OCFL 1.1 inventory")
        if document["digestAlgorithm"] != ALGORITHM:
            self.say("E025", "the digest algorithm is not sha512, the one this archive uses")
        if document.get("contentDirectory", CONTENT) != CONTENT:
            self.say("E019", "the content directory is not the one this archive uses")
        if "fixity" in document:
            self.say("E055", "there is a fixity block, which this archive does not use")
        manifest = self.paths(document["manifest"], "the manifest", "E042", "E096")
        versions = self.versions(document["versions"], document["head"])
        if self.problems:
            return None
        self.manifest(manifest, versions)
        return Inventory(document["id"], manifest, tuple(versions))

    def paths(self, block: Any, name: str, shape: str, unique: str) -> dict[str, str]:
        """Read a digest block: digests, each with the paths that have it, turned round."""
        if not isinstance(block, dict):
            self.say(shape, f"{name} is not an object")
            return {}
        found: dict[str, str] = {}
        digests: set[str] = set()
        for digest, paths in block.items():
            if not _DIGEST.fullmatch(digest):
                self.say(shape, f"{name} has {digest[:40]!r} where a SHA-512 belongs")
                continue
            if digest.lower() in digests:
                self.say(unique, f"{name} has the digest {digest[:16]} twice")
            digests.add(digest.lower())
            if not isinstance(paths, list) or not paths or not all(isinstance(p, str) for p in paths):
                self.say(shape, f"{name} has no list of paths for {digest[:16]}")
                continue
            for path in paths:
                if problem := path_problem(path):
                    self.say("E099" if shape == "E042" else "E052", f"{name}: {problem[:200]}")
                    continue
                if path in found:
                    self.say("E101" if shape == "E042" else "E095", f"{name} has {path[:200]!r} twice")
                found[path] = digest.lower()
        folders = {"/".join(parts[:n]) for p in found for parts in [p.split("/")] for n in range(1, len(parts))}
        for path in sorted(folders & found.keys()):
            self.say("E101" if shape == "E042" else "E095", f"{name} has {path[:200]!r} as file and as folder")
        return found

    def versions(self, block: Any, head: Any) -> list[Version]:
        if not isinstance(block, dict):
            self.say("E044", "versions is not an object")
            return []
        if not block:
            self.say("E008", "there is no version")
            return []
        names = [f"v{n}" for n in range(1, len(block) + 1)]
        if set(names) != block.keys():
            self.say("E010", f"the versions are not v1 to v{len(block)} without gaps")
            return []
        if head != names[-1]:
            self.say("E040", f"the head is not {names[-1]}, the newest version")
        found = [self.version(block[name], name) for name in names]
        return [version for version in found if version is not None]

    def version(self, block: Any, name: str) -> Version | None:
        if not isinstance(block, dict):
            self.say("E047", f"{name} is not an object")
            return None
        for key in block.keys() - _VERSION_KEYS:
            self.say("E102", f"{key[:40]!r} is no member of {name}")
        if "created" not in block or "state" not in block:
            self.say("E048", f"{name} lacks created or state")
            return None
        created = block["created"]
        if not isinstance(created, str) or not is_time(created):
            self.say("E049", f"{name} was not created at a time in the form of RFC 3339")
            created = ""
        state = self.paths(block["state"], f"the state of {name}", "E050", "E050")
        message = block.get("message")
        if message is not None and not isinstance(message, str):
            self.say("E094", f"the message of {name} is not a text")
            message = None
        return Version(created, state, message, self.user(block.get("user"), name))

    def user(self, block: Any, name: str) -> User | None:
        if block is None:
            return None
        if not isinstance(block, dict) or not isinstance(block.get("name"), str) or not block["name"]:
            self.say("E054", f"the user of {name} has no name")
            return None
        for key in block.keys() - {"name", "address"}:
            self.say("E102", f"{key[:40]!r} is no member of the user of {name}")
        address = block.get("address")
        if address is not None and not isinstance(address, str):
            self.say("E054", f"the address of the user of {name} is not a text")
            address = None
        return User(block["name"], address)

    def manifest(self, manifest: dict[str, str], versions: list[Version]) -> None:
        """Hold the manifest against the states: every digest of one is in the other."""
        for path in manifest:
            match = re.match(rf"v([1-9][0-9]*)/{CONTENT}/", path)
            if not match or int(match[1][:9]) > len(versions):
                self.say("E042", f"{path[:200]!r} does not lie in a version's content")
        stored = set(manifest.values())
        used = {digest for version in versions for digest in version.state.values()}
        for digest in sorted(used - stored):
            self.say("E050", f"no content is named for the digest {digest[:16]} of a state")
        for digest in sorted(stored - used):
            self.say("E107", f"no version uses the content with the digest {digest[:16]}")
