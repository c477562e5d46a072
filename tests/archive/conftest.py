"""An archive with invented carriers: chips of the tide recorder "Quillmere TG-85" of a harbour office."""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Callable
from pathlib import Path

import ocfl
import pytest

from imagekeeper.addresses import Span
from imagekeeper.archive.ocfl.inventory import User
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.provenance import places
from imagekeeper.provenance.agreed import Agreed
from imagekeeper.provenance.events import Event, append_events, new_event, person, software
from imagekeeper.provenance.fields import write_json
from imagekeeper.provenance.reads import Read, ReadImage
from imagekeeper.provenance.records import Carrier

NOW = "2026-11-24T22:00:00Z"
UUID = "0195c0de-0000-7000-8000-000000000001"
USER = User("harbour office", "mailto:harbour@example.org")

Judge = Callable[[Path], list[str]]


def carrier_record(carrier_id: str = "tg85-u4") -> Carrier:
    return Carrier(
        id=carrier_id, uuid="0195c0de-0000-7000-8000-0000000000aa", kind="eprom", part="27128",
        machine="Quillmere TG-85", board="logic board", position="U4", label="TG85 V1.2", note=None, created=NOW,
    )  # fmt: skip


def read_record(data: bytes, read_id: str = "r1", **changes: object) -> Read:
    image = ReadImage(
        sha256=hashlib.sha256(data).hexdigest(), crc32=f"{zlib.crc32(data):08X}", size_bytes=len(data), first_address=0,
        segments=(Span(0, len(data)),),
    )  # fmt: skip
    members: dict[str, object] = {
        "id": read_id, "file": "u4.bin", "file_base64": None, "original": places.read_original(read_id, "u4.bin"),
        "size_bytes": len(data), "sha256": hashlib.sha256(data).hexdigest(), "modified": NOW, "container": "raw",
        "wrapped_in": None, "image": image, "image_path": places.read_image(read_id), "reader": "bench reader",
        "operator": "Ann", "date": "2026-11-24", "vcc": "5.0", "specimen": None, "software": "imagekeeper 0.1.0",
        "notes": (), "added": NOW,
    }  # fmt: skip
    return Read(**{**members, **changes})   # type: ignore[arg-type]


def event(previous: Event | str | None, number: int, kind: str = "capture") -> Event:
    return new_event(
        previous, id=f"0195c0de-0000-7000-8000-{number:012}", type=kind, time=NOW,
        agents=[person("Ann"), software("imagekeeper 0.1.0")], detail=f"event {number}",
    )  # fmt: skip


def first_files(carrier_id: str = "tg85-u4") -> dict[str, bytes]:
    return {
        places.CARRIER: write_json(carrier_record(carrier_id)),
        places.EVENTS: append_events(b"", [event(None, 1, "accession")]),
    }


def read_files(data: bytes, events: bytes, read_id: str = "r1", number: int = 2) -> dict[str, bytes]:
    from imagekeeper.provenance.events import last_digest

    return {
        places.read_record(read_id): write_json(read_record(data, read_id)),
        places.read_original(read_id, "u4.bin"): data,
        places.read_image(read_id): data,
        places.EVENTS: append_events(events, [event(last_digest(events), number)]),
    }


def add(archive: ArchiveStore, carrier_id: str, data: bytes) -> None:
    """Add a carrier with one read and its agreed image: three versions."""
    first = first_files(carrier_id)
    archive.commit(carrier_id, first, message="added", user=USER, now=NOW, expected_head=0)
    second = read_files(data, first[places.EVENTS])
    archive.commit(carrier_id, second, message="read", user=USER, now=NOW, expected_head=1)
    agreed = Agreed(
        sha256=hashlib.sha256(data).hexdigest(), grade="single", because="One read.", raise_by="read again",
        reads=("r1",), image=places.AGREED_IMAGE,
    )  # fmt: skip
    third = {places.AGREED: write_json(agreed), places.AGREED_IMAGE: data}
    archive.commit(carrier_id, third, message="agreed", user=USER, now=NOW, expected_head=2)


@pytest.fixture(params=["0002", "0003"])
def archive(tmp_path: Path, request: pytest.FixtureRequest) -> ArchiveStore:
    return ArchiveStore.create(tmp_path / "archive", uuid=UUID, title="Harbour office", now=NOW, layout=request.param)


@pytest.fixture
def filled(archive: ArchiveStore) -> ArchiveStore:
    add(archive, "tg85-u4", bytes(range(256)) * 16)
    add(archive, "tg85-u5.1", b"\xff" * 2048)
    return archive


@pytest.fixture
def judge() -> Judge:
    """An independent validator: gives its complaints about a storage root, errors and warnings alike.

    W005 is left out: the standard only recommends that ids be URIs, and ours are the folder names that people see.
    """

    def complaints(root: Path) -> list[str]:
        storage = ocfl.StorageRoot(root=str(root))
        valid = storage.validate(log_warnings=True) and storage.good_objects == storage.num_objects
        found = [str(text) for _, text in storage.errors if "[W005]" not in str(text)]
        return found if valid else [*found, "not valid"]

    return complaints
