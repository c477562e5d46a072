"""An archive of many carriers: how fast it is listed, searched and indexed, in figures against their goals.

    python -m tests.benchmarks.archive [--carriers 100000] [--layout 0003] [--folder DIR] [--runs 7] [--reindex]
                                       [--sketch]

Every carrier has two reads of 32 KiB in three versions (added, read, agreed), written by the archive's own code, only
without waiting for the medium; a sample is audited. The archive stays where `--folder` names a place, and is used
again. Times are the median over whole processes, with the files in the system's cache; `--version` is what a process
costs by itself. Peak memory is the resident set that the system accounts to the process. Nothing here is a test; pytest
does not look into this folder.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import multiprocessing
import os
import random
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from imagekeeper.addresses import Span
from imagekeeper.archive.audits.audit import audit
from imagekeeper.archive.ocfl.disk import FlushedDisk
from imagekeeper.archive.ocfl.inventory import User
from imagekeeper.archive.ocfl.reading import Source
from imagekeeper.archive.store import ArchiveStore
from imagekeeper.archive.writing import commit as writing
from imagekeeper.evidence.rules import examination_rules
from imagekeeper.evidence.settling import settled_as
from imagekeeper.evidence.standing import standing
from imagekeeper.provenance import places
from imagekeeper.provenance.events import Event, append_events, new_event, person, software
from imagekeeper.provenance.fields import write_json
from imagekeeper.provenance.machines import Machine
from imagekeeper.provenance.reads import Read, ReadImage
from imagekeeper.provenance.records import Carrier, CarrierRecord
from imagekeeper.provenance.remarks import Note
from imagekeeper.provenance.testimony import Examination

ROOT = Path(__file__).resolve().parent.parent.parent
NOW = "2026-11-24T22:00:00Z"
UUID = "0195c0de-0000-7000-8000-0000000000be"
SIZE = 32 * 1024
MACHINES = 400
PARTS = ("2716", "2732", "2764", "27128", "27256", "27C256", "82S129")
WORDS = (
    "tide", "gauge", "harbour", "office", "keypad", "display", "recorder", "paper", "drive", "motor", "quay",
    "storm", "winter", "spare", "socket", "board", "cleaned", "window", "label", "faded", "programme", "clock",
    "battery", "level", "sensor", "float", "cable", "mast", "light", "north", "south", "basin", "lock", "gate",
    "ferry",
)  # fmt: skip


class UnflushedDisk(FlushedDisk):
    """Writes as the archive does, but does not wait for the medium."""

    def write(self, path: Path, blocks: Iterable[bytes]) -> str:
        digest = hashlib.sha512()
        with open(path, "xb") as file:
            for block in blocks:
                file.write(block)
                digest.update(block)
        return digest.hexdigest()

    def append(self, path: Path, line: bytes) -> None:
        with open(path, "ab") as file:
            file.write(line)

    def sync(self, folder: Path) -> None:
        pass


def image(number: int) -> bytes:
    """The image of a carrier: a stock of routines that many share, a part of its own, its name, and fill."""
    shared = random.Random(number // 8).randbytes(SIZE // 2)
    own = random.Random(-number).randbytes(SIZE // 4)
    text = f"QUILLMERE TG-85 V{number % 9}.{number % 7} NO {number:06}".encode()
    return (shared + own + text).ljust(SIZE, b"\xff")


def identity(number: int) -> str:
    return f"0195c0de-0000-7000-8000-{number:012x}"


def read(number: int, which: int, data: bytes) -> Read:
    rng = random.Random(number * 2 + which)
    name = f"t{number:06}-{which}.bin"
    digest = hashlib.sha256(data).hexdigest()
    return Read(
        id=f"r{which}", file=name, file_base64=None, original=places.read_original(f"r{which}", name), size_bytes=SIZE,
        sha256=digest, modified=NOW, container="raw", wrapped_in=None,
        image=ReadImage(
            sha256=digest, crc32=f"{zlib.crc32(data):08X}", size_bytes=SIZE, first_address=0, segments=(Span(0, SIZE),)
        ),
        image_path=places.read_image(f"r{which}"), reader=("bench reader", "pocket reader")[which - 1], operator="Ann",
        date=f"20{rng.randrange(10, 27)}-{rng.randrange(1, 13):02}-{rng.randrange(1, 29):02}",
        vcc=("5.0", "4.75")[which - 1], specimen=None, software="imagekeeper 0.1.0", notes=(), added=NOW,
    )  # fmt: skip


def events(number: int, kinds: list[tuple[str, str]], previous: Event | None) -> list[Event]:
    made = []
    for step, (kind, detail) in enumerate(kinds):
        previous = new_event(
            previous, id=identity(number * 16 + (0 if previous is None else step + 1)), type=kind, time=NOW,
            agents=[software("imagekeeper 0.1.0"), person("Ann")], detail=detail,
        )  # fmt: skip
        made.append(previous)
    return made


def bare(carrier: Carrier, reads: list[Read], looked: list[Examination]) -> CarrierRecord:
    return CarrierRecord(
        id=carrier.id, kind=carrier.kind, machine=carrier.machine, board=None, position=None, reads=tuple(reads),
        agreed=None, replacements=(), events=(), findings=(), uuid=carrier.uuid, part=carrier.part, label=None,
        note=None, created=NOW, examinations=tuple(looked),
    )  # fmt: skip


def add(archive: ArchiveStore, number: int) -> None:
    """Write one carrier; every sixteenth has reads that differ."""
    name, rng = f"t{number:06}", random.Random(number)
    words = " ".join(rng.choices(WORDS, k=8))
    carrier = Carrier(
        id=name, uuid=identity(number), kind=rng.choice(["eprom", "eprom", "eprom", "mask-rom", "prom"]),
        part=rng.choice(PARTS), machine=f"Quillmere TG-{number % MACHINES}", board=rng.choice(["main", "logic"]),
        position=f"U{rng.randrange(1, 60)}", label=f"TG V{number % 9}.{number % 7}", note=words, created=NOW,
        markings="QM " + str(8000 + number % 1200), date_code=str(8000 + number % 1200),
    )  # fmt: skip
    data = image(number)
    second = data if number % 16 else data[:-1] + b"\xfe"
    reads = [read(number, 1, data), read(number, 2, second)]
    begin = events(number, [("accession", f"{name} was taken into the archive")], None)
    told = [("capture", f"{one.id}: {one.file} was kept as it is") for one in reads]
    told += [("message digest calculation", f"{one.id}: decoded as raw; SHA-256 {one.image.sha256}") for one in reads]
    more = events(number, told, begin[-1])
    settled = events(number + (1 << 40), [("validation", "2 reads compared")], more[-1])
    looked = [
        Examination(
            sha256=one.image.sha256, part=carrier.part, rules=examination_rules(), signs=(), checks=(),
            figures={"crc32": one.image.crc32, "sum16": "0000"},
        )
        for one in {one.image.sha256: one for one in reads}.values()
    ]  # fmt: skip
    agreed = settled_as(standing(bare(carrier, reads, looked)))
    notes = [Note(f"{rng.choice(WORDS)} {rng.choice(WORDS)} checked", "Ann", NOW)] if number % 4 == 0 else []
    versions: list[dict[str, Source | None]] = [
        {places.CARRIER: write_json(carrier), places.EVENTS: append_events(b"", begin)},
        {places.EVENTS: append_events(b"", [*begin, *more]), places.EXAMINATIONS: write_json(looked)},
        {places.EVENTS: append_events(b"", [*begin, *more, *settled]), places.AGREED: write_json(agreed)},
    ]
    for one, held in zip(reads, (data, second), strict=True):
        versions[1] |= {places.read_record(one.id): write_json(one), one.original: held, one.image_path: held}
    if number % 16:
        versions[2][places.AGREED_IMAGE] = data
    if notes:
        versions[1][places.NOTES] = write_json(notes)
    for head, changes in enumerate(versions):
        writing.commit(
            archive, name, changes, message="benchmark", user=User("Ann"), now=NOW, expected_head=head
        )


def add_machine(archive: ArchiveStore, number: int) -> None:
    machine = Machine(
        id=f"m{number:04}", uuid=identity((1 << 41) + number), name=f"Quillmere TG-{number}", maker="Quillmere",
        model=f"TG-{number}", serial=f"{number:05}", owner="harbour office", note=None, created=NOW,
    )  # fmt: skip
    begin = events(number + (1 << 42), [("accession", f"{machine.id} was taken into the archive")], None)
    files: dict[str, Source | None] = {
        places.MACHINE: write_json(machine), places.EVENTS: append_events(b"", begin)
    }
    writing.commit(archive, machine.id, files, message="benchmark", user=User("Ann"), now=NOW, expected_head=0)


def add_share(folder: str, first: int, carriers: int, step: int) -> None:
    """Add every `step`th carrier; without the lock, since no two processes touch one carrier."""
    archive = ArchiveStore.open(folder)
    archive.disk = UnflushedDisk()
    for number in range(first, carriers, step):
        add(archive, number)


def generate(folder: Path, carriers: int, layout: str) -> None:
    """Make the archive, on all processors."""
    archive = ArchiveStore.create(folder, uuid=UUID, title="Harbour office", now=NOW, layout=layout)
    archive.disk = UnflushedDisk()
    for number in range(min(MACHINES, carriers)):
        add_machine(archive, number)
    count = os.cpu_count() or 1
    workers = [
        multiprocessing.Process(target=add_share, args=(str(folder), n, carriers, count)) for n in range(count)
    ]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
        assert worker.exitcode == 0
    (folder / "made.json").write_text(json.dumps({"carriers": carriers}))


def audited_sample(archive: ArchiveStore, carriers: int) -> int:
    """Audit an archive that some of the carriers were copied into; nothing may be wrong with them."""
    chosen = [f"t{number:06}" for number in random.Random(1).sample(range(carriers), min(carriers, 100))]
    with tempfile.TemporaryDirectory() as scratch:
        layout = archive.layout.number
        sample = ArchiveStore.create(Path(scratch, "sample"), uuid=UUID, title="sample", now=NOW, layout=layout)
        for name in chosen:
            shutil.copytree(archive.object_path(name), sample.object_path(name))
        with open(archive.log / "commits.jsonl") as log:
            lines = [line for line in log if json.loads(line)["carrier"] in chosen]
        (sample.log / "commits.jsonl").write_text("".join(lines))
        result = audit(sample, now=NOW)
    assert result.ok, (result.damaged, result.missing, result.unexpected)
    return result.carriers


@dataclass(frozen=True)
class Took:
    seconds: float
    peak_mib: float


def process(environment: dict[str, str], *arguments: str, fresh: bool = False) -> Took:
    """Run our program to its end.

    Args:
        environment: Of the process.
        arguments: Of the program.
        fresh: Whether to take the index away before.
    """
    if fresh:
        shutil.rmtree(environment["IMAGEKEEPER_CACHE"], ignore_errors=True)
    start = time.perf_counter()
    child = subprocess.Popen(
        [sys.executable, "-m", "imagekeeper", *arguments], stdout=subprocess.DEVNULL, env=environment, cwd=ROOT
    )
    _, status, usage = os.wait4(child.pid, 0)
    seconds = time.perf_counter() - start
    child.returncode = os.waitstatus_to_exitcode(status)
    assert child.returncode == 0, (arguments, child.returncode)
    return Took(seconds, usage.ru_maxrss / 1024)


def median(environment: dict[str, str], runs: int, *arguments: str) -> Took:
    taken = [process(environment, *arguments) for _ in range(runs)]
    return Took(statistics.median(t.seconds for t in taken), max(t.peak_mib for t in taken))


def row(what: str, figure: str, goal: str = "", *, met: bool | None = None) -> None:
    mark = "" if met is None else "met" if met else "NOT MET"
    print(f"{what:<58} {figure:>14}  {goal:<16} {mark}", flush=True)


def measure_searching(folder: Path, carriers: int, runs: int, *, reindex: bool, sketch: bool) -> None:
    """Listing, showing, searching, and the index."""
    environment = {
        **os.environ, "PYTHONPATH": str(ROOT), "IMAGEKEEPER_ARCHIVE": str(folder), "NO_COLOR": "1",
        "IMAGEKEEPER_CACHE": str(folder.parent / f"{folder.name}-cache"),
    }  # fmt: skip
    built = process(environment, "carrier", "list", "--limit", "1", fresh=True)
    rate = carriers / built.seconds
    row("the index alone, made by a command that finds none", f"{built.seconds:.1f} s")
    row("  carriers a second", f"{rate:.0f}", "2000 or more", met=rate >= 2000)
    row("  peak memory", f"{built.peak_mib:.0f} MiB", "200 MiB at most", met=built.peak_mib <= 200)
    if reindex:
        whole = process(environment, "archive", "reindex").seconds
        rate = carriers / whole
        row("archive reindex, which first looks for interrupted work", f"{whole:.1f} s")
        row("  carriers a second", f"{rate:.0f}", "2000 or more", met=rate >= 2000)
    cache = Path(environment["IMAGEKEEPER_CACHE"])
    row("  size of the index", f"{sum(f.stat().st_size for f in cache.iterdir()) / (1 << 20):.0f} MiB")
    row("a process by itself (--version)", f"{1000 * median(environment, runs, '--version').seconds:.0f} ms")
    some = f"t{carriers // 2:06}"
    digest = hashlib.sha256(image(carriers // 2)).hexdigest()
    for arguments in (
        ("carrier", "show", some), ("carrier", "list", "--limit", "50"),
        ("carrier", "list", "--limit", "50", "--grade", "disputed"),
        ("search", some), ("search", digest[:12]), ("search", "quillmere"), ("search", "harbour", "U7"),
        ("search", "harbuor", "27c256"), ("search", "programe", "battrey"), ("search", "t"),
        ("search", "storm", "winter", "--grade", "disputed", "--read-after", "2020"),
    ):  # fmt: skip
        took = median(environment, runs, *arguments)
        row(" ".join(arguments), f"{1000 * took.seconds:.0f} ms", "under 100 ms", met=took.seconds < 0.1)
        if took.peak_mib > 200:
            row("  peak memory", f"{took.peak_mib:.0f} MiB", "200 MiB at most", met=False)
    took = median(environment, 1, "carrier", "list")
    row("carrier list (all)", f"{1000 * took.seconds:.0f} ms")
    row("  peak memory", f"{took.peak_mib:.0f} MiB", "200 MiB at most", met=took.peak_mib <= 200)
    os.utime(folder / "carriers")
    took = process(environment, "carrier", "list", "--limit", "50")
    row("carrier list --limit 50, every carrier looked at", f"{took.seconds:.2f} s")
    with tempfile.TemporaryDirectory() as scratch:
        known, near = Path(scratch, "known.bin"), Path(scratch, "near.bin")
        known.write_bytes(image(carriers // 2))
        near.write_bytes(image(carriers // 2).replace(b"QUILLMERE", b"QUILLMORE"))
        took = median(environment, runs, "search", "--file", str(known))
        row("search --file, the same image is there", f"{1000 * took.seconds:.0f} ms")
        if sketch:
            took = process(environment, "search", "--file", str(near))
            row("search --file, a near image, first time", f"{took.seconds:.1f} s")
            row("  carriers a second", f"{carriers / took.seconds:.0f}")
            row("  peak memory", f"{took.peak_mib:.0f} MiB", "200 MiB at most", met=took.peak_mib <= 200)
            took = median(environment, runs, "search", "--file", str(near))
            row("search --file, a near image, again", f"{1000 * took.seconds:.0f} ms")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--carriers", type=int, default=100_000)
    parser.add_argument("--layout", choices=["0002", "0003"], default="0003")
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--runs", type=int, default=7)
    parser.add_argument("--reindex", action="store_true", help="also the whole of archive reindex")
    parser.add_argument("--sketch", action="store_true", help="also search for near images: all are read once")
    asked = parser.parse_args()
    folder = asked.folder or Path(tempfile.mkdtemp()) / "archive"
    try:
        if not (folder / "made.json").exists():
            start = time.perf_counter()
            generate(folder, asked.carriers, asked.layout)
            row(f"made {asked.carriers} carriers", f"{time.perf_counter() - start:.0f} s")
        carriers = json.loads((folder / "made.json").read_text())["carriers"]
        row("carriers audited as a sample", str(audited_sample(ArchiveStore.open(folder), carriers)))
        measure_searching(folder, carriers, asked.runs, reindex=asked.reindex, sketch=asked.sketch)
    finally:
        if asked.folder is None:
            shutil.rmtree(folder.parent)


if __name__ == "__main__":
    main()
