"""An invented collection for pages: the harbour office's tide recorder, and a carrier whose every text is hostile."""

from __future__ import annotations

import os
import struct
import zlib
from dataclasses import replace
from pathlib import Path

from imagekeeper.archive.carriers import load_record
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.digests import sha256_hex
from imagekeeper.jobs import specimen
from imagekeeper.jobs.carriers.agreeing import agree
from imagekeeper.jobs.carriers.describing import add_machine, add_note, add_photo
from imagekeeper.jobs.carriers.keeping import Conditions, add_carrier, add_reads
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jobs.session import Session, user
from imagekeeper.provenance import places
from imagekeeper.provenance.derivations import Derivation, DerivationSource
from imagekeeper.provenance.fields import from_json, read_json, write_json
from imagekeeper.provenance.records import Carrier
from imagekeeper.provenance.replacements import Replacement

NOW = "2026-03-02T12:00:00Z"
MACHINE = "Quillmere TG-85"

#: Markup, quotes, a mark that turns the direction of writing, control characters, and an address outside.
HOSTILE = (
    "<script>alert(1)</script>\"'><img src=//example.org/x onerror=alert(2)> \u202egnp\u2066 \x07\x1b[2J & </style>"
)


def session(operator: str | None = "harbour office") -> Session:
    numbers = iter(range(1, 100000))
    return Session(lambda: NOW, lambda: f"00000000-0000-4000-8000-{next(numbers):012d}", operator)


def photograph(width: int = 480, height: int = 320) -> bytes:
    """A drawing of a chip in a socket, as a PNG file."""
    rows = bytearray()
    for y in range(height):
        rows.append(0)
        for x in range(width):
            u, v = x / width, y / height
            colour = (52, 92, 66)   # the board
            if 0.12 < u < 0.88 and 0.3 < v < 0.7:
                colour = (112, 96, 108)   # the package
                if (u - 0.5) ** 2 * (width / height) ** 2 + (v - 0.5) ** 2 < 0.021:
                    colour = (206, 196, 160) if abs(u - 0.5) > 0.03 or abs(v - 0.5) > 0.05 else (92, 84, 88)
            elif 0.14 < u < 0.86 and (0.24 < v < 0.3 or 0.7 <= v < 0.76) and int(u * 50) % 3 == 0:
                colour = (196, 188, 150)   # the pins
            rows += bytes(min(255, max(0, c + (x * 7 + y * 13) % 9 - 4)) for c in colour)

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    data = zlib.compress(bytes(rows), 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def build(folder: Path) -> ArchiveStore:
    """Make the archive in `folder/harbour`, and the files that it was made of beside it."""
    specimen.write(folder)
    archive = ArchiveStore.create(
        folder / "harbour", uuid="0195c0de-0000-7000-8000-000000000001", title="Harbour office instruments", now=NOW
    )
    s = session()
    add_machine(
        archive, "tg85", MACHINE, s, maker="Quillmere", model="TG-85", serial="0417", owner="harbour office",
        note="Stood in the gauge house on the outer mole until 1998.",
    )  # fmt: skip
    bench = Conditions(reader="bench reader", operator="harbour office", date="2026-03-02", vcc="5.0", temperature="21")
    pocket = Conditions(
        reader="pocket reader", operator="harbour office", date="2026-03-02", vcc="4.75", temperature="21.5"
    )

    def chip(
        carrier_id: str, kind: str, part: str | None, board: str | None, position: str, label: str | None,
        note: str | None = None,
    ) -> None:  # fmt: skip
        add_carrier(
            archive, carrier_id, kind, s, part=part, machine=MACHINE, board=board, position=position, label=label,
            note=note,
        )  # fmt: skip

    def read(carrier_id: str, name: str, conditions: Conditions) -> None:
        add_reads(archive, carrier_id, [os.fspath(folder / name)], Options(keep_doubtful=True), conditions, s)

    chip("tg85-u4", "eprom", "27128", "main", "U4", "TG85 2.1\nEVEN")
    read("tg85-u4", "u4-first.bin", bench)
    read("tg85-u4", "u4-second.hex", replace(pocket, notes=("Pins cleaned before.",)))
    agree(archive, "tg85-u4", s, references={sha256_hex(specimen.program()[0::2]): "the maker's own listing"})
    chip("tg85-u5", "eprom", "27128", "main", "U5", "TG85 2.1\nODD")
    read("tg85-u5", "u5-first.bin", bench)
    read("tg85-u5", "u5-second.bin", pocket)
    agree(archive, "tg85-u5", s)
    add_note(archive, "tg85-u5", "Pin 15 is black. Clean it before the next read.", s)
    chip("tg85-u17", "eprom", "2716", "display", "U17", "CHARS")
    read("tg85-u17", "u17-first.log", Conditions(reader="own monitor", operator=None, date="2026-03"))
    read("tg85-u17", "u17-second.bin", bench)
    agree(archive, "tg85-u17", s)
    chip("tg85-u30", "ram", "6116", "main", "U30", None, "battery 2.9 V")
    read("tg85-u30", "u30-first.s19", bench)
    chip("tg85-u31", "clock-ram", None, "main", "U31", None)
    chip("tg85-u9", "mask-rom", None, "display", "U9", "KEYS")
    read("tg85-u9", "u17-second.bin", bench)
    agree(archive, "tg85-u9", s)
    chip("tg85-disk", "floppy", None, None, "drive A", "STATION 07\nOUTER MOLE 1985")
    read("tg85-disk", "disk-first.img", Conditions(reader="bench drive", operator="harbour office", date="2026-03-02"))
    read("tg85-disk", "disk-second.img", Conditions(reader="bench drive", operator="harbour office", date="2026-03-02"))
    agree(archive, "tg85-disk", s)

    (folder / "u4 from above.png").write_bytes(photograph())
    add_photo(archive, "tg85-u4", os.fspath(folder / "u4 from above.png"), "U4 in its socket, label taken off", s)
    add_photo(archive, "tg85", os.fspath(folder / "u4 from above.png"), "The main board", s)
    _describe(
        archive, "tg85-u4", s, markings="QM 27128-25\n8512 KOR", date_code="8512",
        package="28-pin ceramic DIP, window", condition="Pins 1 and 28 slightly bent, window clean",
    )  # fmt: skip
    _derive(archive, s)
    _hostile(archive, folder, s)
    return archive


def _describe(archive: ArchiveStore, carrier_id: str, s: Session, **texts: str) -> None:
    inventory = archive.inventory(carrier_id)
    raw = read_json(archive.read_file(carrier_id, places.CARRIER), places.CARRIER)
    carrier = replace(from_json(Carrier, raw, places.CARRIER), **texts)   # type: ignore[arg-type]
    archive.commit(
        carrier_id, {places.CARRIER: write_json(carrier)}, message="described", user=user(s), now=NOW,
        expected_head=inventory.head,
    )  # fmt: skip


def _derive(archive: ArchiveStore, s: Session) -> None:
    """U4 gets an image joined with U5's, and two replacements."""
    record = load_record(archive, "tg85-u4")
    even, whole = record.reads[0].image.sha256, specimen.program()
    derivation = Derivation(
        id="d1", title="whole program",
        sources=(
            DerivationSource("tg85-u4", "agreed", even),
            DerivationSource("tg85-u5", "r1", sha256_hex(specimen.program()[1::2])),
        ),
        steps=(), sha256=sha256_hex(whole), size_bytes=len(whole), path=None, software="imagekeeper 0.1.0", added=NOW,
    )  # fmt: skip
    made = [
        Replacement(
            id="w1", part="27C128", sha256=even, read_back_sha256=even, matches=True, operator="harbour office",
            date="2026-03-02", note="in the socket since", added=NOW, grade="single",
            because="One read-back is what was written.",
        ),
        Replacement(
            id="w2", part="27C128", sha256=even, read_back_sha256=None, matches=None, operator=None, date=None,
            note=None, added=NOW,
        ),
    ]
    archive.commit(
        "tg85-u4", {places.DERIVATIONS: write_json([derivation]), places.REPLACEMENTS: write_json(made)},
        message="derived", user=user(s), now=NOW, expected_head=archive.inventory("tg85-u4").head,
    )  # fmt: skip


def _hostile(archive: ArchiveStore, folder: Path, s: Session) -> None:
    add_carrier(
        archive, "hostile", "eprom", s, part=HOSTILE, machine=HOSTILE, board=HOSTILE, position=HOSTILE,
        label="A" * 10_000, note=HOSTILE,
    )  # fmt: skip
    for number in (1, 2):
        name = f"{HOSTILE[:24].replace('/', '_')}{number}.bin"
        (folder / name).write_bytes(bytes((n * number) & 0xFF for n in range(1024)))
        add_reads(
            archive, "hostile", [os.fspath(folder / name)], Options(),
            Conditions(reader=HOSTILE, operator=HOSTILE, date=None, vcc=None, specimen=HOSTILE, notes=(HOSTILE,)), s,
        )  # fmt: skip
    agree(archive, "hostile", s)
    add_note(archive, "hostile", HOSTILE + "\n" + "B" * 10_000, session(HOSTILE))
    picture = folder / "<b>.png"
    picture.write_bytes(photograph(24, 16))
    add_photo(archive, "hostile", os.fspath(picture), HOSTILE, s)
    _describe(archive, "hostile", s, markings=HOSTILE + "\n" + HOSTILE, condition=HOSTILE, package=HOSTILE)
