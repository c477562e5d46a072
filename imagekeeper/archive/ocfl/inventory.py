"""The inventory of an OCFL object: which version holds which paths, and where their bytes lie.

Source:
    Oxford Common File Layout Specification 1.1, section 3.5; the codes in problems are its validation codes.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

TYPE = "https://ocfl.io/1.1/spec/#inventory"
ALGORITHM = "sha512"
INVENTORY = "inventory.json"
SIDECAR = "inventory.json.sha512"
CONTENT = "content"

#: A larger inventory is refused unread. [byte]
SIZE_LIMIT = 256 * 1024 * 1024


@dataclass(frozen=True)
class User:
    """Who made a version.

    Attributes:
        name: The person's or program's name.
        address: A URI such as `mailto:...`, or None.
    """

    name: str
    address: str | None = None


@dataclass(frozen=True)
class Version:
    """One version of an object.

    Attributes:
        created: When it was made, RFC 3339.
        state: Logical paths, each with its digest.
        message: Why it was made, or None.
        user: Who made it, or None.
    """

    created: str
    state: Mapping[str, str]
    message: str | None = None
    user: User | None = None


@dataclass(frozen=True)
class Inventory:
    """The inventory of an object.

    Attributes:
        id: The object's id.
        manifest: Content paths relative to the object's folder, each with its digest.
        versions: All versions, the first first.
    """

    id: str
    manifest: Mapping[str, str]
    versions: tuple[Version, ...]

    @property
    def head(self) -> int:
        """The newest version's number."""
        return len(self.versions)

    @property
    def state(self) -> Mapping[str, str]:
        """The newest version's logical paths, each with its digest."""
        return self.versions[-1].state

    def content_path(self, logical_path: str, version: int | None = None) -> str | None:
        """Give where a logical path's bytes lie within the object's folder, or None for no such path."""
        state = self.versions[(version or self.head) - 1].state
        digest = state.get(logical_path)
        return None if digest is None else self.by_digest().get(digest)

    def by_digest(self) -> dict[str, str]:
        """Give one content path for each digest."""
        return {digest: path for path, digest in self.manifest.items()}

    def next_version(self, version: Version, added: Mapping[str, str]) -> Inventory:
        """Give the inventory with one more version.

        Args:
            version: The version.
            added: Content paths that it adds, each with its digest.
        """
        return replace(self, manifest={**self.manifest, **added}, versions=(*self.versions, version))

    def at(self, number: int) -> Inventory:
        """Give the inventory as it was when a version was the newest."""
        begun = {f"v{n}" for n in range(1, number + 1)}
        manifest = {path: digest for path, digest in self.manifest.items() if path.partition("/")[0] in begun}
        return Inventory(self.id, manifest, self.versions[:number])

    def to_bytes(self) -> bytes:
        r"""Write `inventory.json`.

        Example:
            >>> Inventory("tg85-u4", {}, (Version("2026-11-24T22:00:00Z", {}),)).to_bytes()[4:21]
            b'"digestAlgorithm"'
        """
        document = {
            "id": self.id,
            "type": TYPE,
            "digestAlgorithm": ALGORITHM,
            "head": f"v{self.head}",
            "manifest": _grouped(self.manifest),
            "versions": {f"v{n}": _version_json(version) for n, version in enumerate(self.versions, 1)},
        }
        return (json.dumps(document, indent=2, sort_keys=True, ensure_ascii=False) + "\n").encode()


def _grouped(paths: Mapping[str, str]) -> dict[str, list[str]]:
    groups: dict[str, list[str]] = {}
    for path in sorted(paths):
        groups.setdefault(paths[path], []).append(path)
    return groups


def _version_json(version: Version) -> dict[str, Any]:
    members: dict[str, Any] = {"created": version.created, "state": _grouped(version.state)}
    if version.message is not None:
        members["message"] = version.message
    if version.user is not None:
        members["user"] = {"name": version.user.name}
        if version.user.address is not None:
            members["user"]["address"] = version.user.address
    return members


def sidecar_bytes(digest: str) -> bytes:
    """Write the file that lies beside an inventory and holds its digest."""
    return f"{digest}  {INVENTORY}\n".encode()


def sidecar_digest(data: bytes) -> str | None:
    """Read that file; None where it is not in the form of OCFL 1.1, section 3.7.

    Example:
        >>> sidecar_digest(sidecar_bytes("ab" * 64)) == "ab" * 64, sidecar_digest(b"?")
        (True, None)
    """
    match = re.fullmatch(rb"([0-9A-Fa-f]{128})[ \t]+inventory\.json\r?\n?", data)
    return match[1].decode("ascii").lower() if match else None
