"""From a carrier's id to its folder in the storage root, and back.

Source:
    OCFL Community Extensions 0002 (Flat Direct Storage Layout) and 0003 (Hashed Truncated N-tuple Trees with
    Object ID Encapsulating Directory).
"""

from __future__ import annotations

import hashlib
import re
import urllib.parse
from dataclasses import dataclass

from imagekeeper.errors import UsageError
from imagekeeper.provenance.fields import write_json

#: In each tuple. [hexadecimal digits]
TUPLE_SIZE = 2

#: How many folders lie above an object's.
TUPLES = 2

#: A longer encoded id is cut and completed by its digest. [characters]
ENCODED_LIMIT = 100

STORAGE_ROOT_MARK = "0=ocfl_1.1"
STORAGE_ROOT_TEXT = b"ocfl_1.1\n"
OBJECT_MARK = "0=ocfl_object_1.1"
OBJECT_TEXT = b"ocfl_object_1.1\n"
LAYOUT_FILE = "ocfl_layout.json"


@dataclass(frozen=True)
class StorageLayout:
    """How object folders are laid out.

    Attributes:
        number: `0002` or `0003`.
        extension: The registered name.
        description: What it does, in a sentence.
        depth: How many folders lie above an object's.
    """

    number: str
    extension: str
    description: str
    depth: int

    def object_folder(self, object_id: str) -> str:
        """Give an object's folder, relative to the storage root, with `/` between its parts.

        Example:
            >>> LAYOUTS["0002"].object_folder("tg85-u4"), LAYOUTS["0003"].object_folder("tg85-u4")
            ('tg85-u4', 'b3/d1/tg85-u4')
        """
        if not self.depth:
            return object_id
        digest = hashlib.sha256(object_id.encode()).hexdigest()
        tuples = [digest[i * TUPLE_SIZE : (i + 1) * TUPLE_SIZE] for i in range(TUPLES)]
        encoded = re.sub(
            rb"[^A-Za-z0-9_-]", lambda match: b"%%%02x" % match[0][0], object_id.encode()
        ).decode("ascii")
        if len(encoded) > ENCODED_LIMIT:
            encoded = f"{encoded[:ENCODED_LIMIT]}-{digest}"
        return "/".join([*tuples, encoded])

    def object_id(self, folder: str) -> str:
        """Give the id that an object's folder name stands for.

        Example:
            >>> LAYOUTS["0003"].object_id("e2/b0/disk%2e1")
            'disk.1'
        """
        name = folder.rpartition("/")[2]
        return urllib.parse.unquote(name, errors="replace") if self.depth else name

    def root_files(self) -> dict[str, bytes]:
        """Give the files of an empty storage root, by path."""
        files = {
            STORAGE_ROOT_MARK: STORAGE_ROOT_TEXT,
            LAYOUT_FILE: write_json({"extension": self.extension, "description": self.description}),
        }
        if self.depth:
            files[f"extensions/{self.extension}/config.json"] = write_json({
                "extensionName": self.extension,
                "digestAlgorithm": "sha256",
                "tupleSize": TUPLE_SIZE,
                "numberOfTuples": TUPLES,
            })
        return files


LAYOUTS: dict[str, StorageLayout] = {
    "0002": StorageLayout(
        "0002", "0002-flat-direct-storage-layout", "Each object's folder is named as its id is.", 0
    ),
    "0003": StorageLayout(
        "0003",
        "0003-hash-and-id-n-tuple-storage-layout",
        "Each object's folder is named as its id is and lies under two levels taken from the id's SHA-256.",
        TUPLES,
    ),
}


def layout_named(number: str) -> StorageLayout:
    """Find a layout by its number.

    Raises:
        UsageError: `unknown-name`.

    Example:
        >>> layout_named("0003").depth
        2
    """
    if number not in LAYOUTS:
        raise UsageError("unknown-name/layout", number=number)
    return LAYOUTS[number]


def version_number(name: str) -> int | None:
    """Give the number of the version that a folder in an object is named for, or None.

    Example:
        >>> version_number("v12"), version_number("v012"), version_number("extensions")
        (12, None, None)
    """
    return int(name[1:]) if re.fullmatch("v[1-9][0-9]{0,8}", name, re.ASCII) else None
