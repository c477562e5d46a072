"""Whether any record can stop a command: one node of an archive's JSON is spoilt, all digests are made right again, and
the commands are run on it.

    python -m tests.benchmarks.record_fuzz [--cases 10000] [--seed 1] [--every] [--processes 20]

A case fails where a command meets a fault of its own (code `internal`, a traceback), needs more than ten seconds, or
changes a file that is none of its business; where a list sets something aside and the audit says that all is well; and
where something was taken in, by import, merge, replication or repair, with which a later command then fails. Each case
that fails is named with its seed: `--seed N --cases 1 --every` runs it again, with every command.

Commands run in this process; some are run once more as a process of their own, with `--processes`.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import zlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from imagekeeper.cli import _shell, run
from tests.archive.poisons import bagged, poison

#: No command on so small an archive may need longer. [second]
TIME_LIMIT = 10

IDS = ("tg85-u4", "tg85-u5", "tg85-disk", "tg85")

#: How the archive is made that is spoilt: what a record can hold is in it.
MAKING = (
    "archive init harbour --title Harbour",
    "machine add tg85 --name Quillmere --serial 0117 --archive harbour",
    "machine photo tg85 front.png --caption front --archive harbour",
    "carrier add tg85-u4 --kind eprom --part 2716 --machine tg85 --position U4 --label EVEN --archive harbour",
    "carrier read tg85-u4 a.bin --reader bench --vcc 5.0 --date 2026-03-02 --temperature 21 --note n --archive harbour",
    "carrier read tg85-u4 a.hex --reader pocket --vcc 4.5 --operator Ann --specimen one --archive harbour",
    "carrier agree tg85-u4 --reference 00000000 --archive harbour",
    "carrier agree tg85-u4 --reference @a=label --archive harbour",
    "carrier add tg85-u5 --kind eprom --part 2716 --machine Quillmere --archive harbour",
    "carrier read tg85-u5 b.bin c.bin d.bin --reader bench --archive harbour",
    "carrier agree tg85-u5 --by-vote byte --archive harbour",
    "carrier derive tg85-u4 --join tg85-u5 --title whole --archive harbour",
    "carrier replace tg85-u4 a.bin --written a.hex --part 2716 --reader bench --vcc 5.0 --archive harbour",
    "carrier replace tg85-u4 a.bin --add-to w1 --reader pocket --vcc 4.75 --archive harbour",
    "carrier note tg85-u4 covered --archive harbour",
    "carrier photo tg85-u4 front.png --caption top --archive harbour",
    "carrier tried tg85-u4 --outcome started --note ok --with tg85-u5 --archive harbour",
    "carrier add tg85-disk --kind floppy --part 5.25 --machine tg85 --archive harbour",
    "carrier read tg85-disk disk.img --reader drive --archive harbour",
    "carrier read tg85-disk d.bin --reader drive --archive harbour",
    "carrier withdraw tg85-disk r2 --reason slip --archive harbour",
    "carrier agree tg85-disk --archive harbour",
    "carrier tried tg85-disk --outcome failed --archive harbour",
    "carrier explain tg85-disk trial-failed --reason known --archive harbour",
)

#: Commands that only look; X is what was spoilt, Y something else, OUT a place for results.
LOOKING = (
    "carrier list", "carrier list --json", "carrier list --todo --json", "carrier list --sort machine --kind eprom",
    "carrier list --sort added --grade repeated", "carrier show X", "carrier show X --json", "carrier show Y",
    "machine list", "machine list --json", "machine show tg85", "machine show X --json", "search harbour quillmere",
    "search bench --json", "search --read-after 2020", "search --file a.bin --json", "archive audit",
    "archive audit X --json", "archive audit --rebuild-derived --json", "archive export -o OUT/bag.zip --json",
    "archive export Y -o OUT/one", "archive export --machine tg85 -o OUT/bag.tar", "archive reindex",
    "report -o OUT/pages", "report X -o OUT/pages --json", "report --machine tg85 -o OUT/pages",
    "label X -o OUT/x.html", "label X Y -o OUT/xy.html --json", "archive table -o OUT/t.csv",
    "archive references refs.csv --dry-run", "archive fill-in rows.csv --dry-run", "archive replicate OUT/copy --json",
    "carrier extract X -o OUT/x.bin", "carrier extract X --image r1 -o OUT/x.hex",
    "carrier extract X --image d1 -o OUT/d.bin",
)  # fmt: skip

#: Commands that write to the archive that was spoilt.
WRITING = (
    "carrier note X more", "carrier edit X --label other", "carrier edit Y --label other",
    "carrier read X a.bin --reader third", "carrier agree X", "carrier agree X --by-vote bit",
    "carrier derive X --invert", "carrier replace X a.bin --written a.bin",
    "carrier photo X front.png", "machine note tg85 more", "machine edit X --owner office",
    "archive fill-in rows.csv", "archive references refs.csv", "archive merge museum", "archive import sound.zip",
    "archive repair", "archive repair --from sound", "archive reindex",
)  # fmt: skip

#: What must work in an archive that took something in, with nothing to complain of.
HEALTHY = (
    "carrier list --json", "machine list --json", "archive audit --json", "search harbour --json", "archive reindex",
    "carrier list --todo --json", "archive export -o OUT/health.zip", "report -o OUT/health --json",
    "archive table -o OUT/health.csv", "archive references refs.csv --dry-run",
)  # fmt: skip


#: How something is taken in, and by which archive: one that has nothing of it, one that moved on, a copy that lost it.
WAYS = ("import museum", "merge older", "repair sound", "import older", "merge museum")


@dataclass(frozen=True)
class Ran:
    """One command.

    Attributes:
        code: Its exit code.
        out: What it wrote to standard output.
        seconds: How long it took. [second]
        fault: A fault of the program's own, or an empty text.
    """

    code: int
    out: str
    seconds: float
    fault: str = ""


class _TooLongError(BaseException):
    """A command did not end; no command catches it."""


def _stop(*_: object) -> None:
    raise _TooLongError


def ran(command: str) -> Ran:
    """Run a command line in this process."""
    out, err = io.StringIO(), io.StringIO()
    faults: list[BaseException] = []
    told = _shell.report

    def report(problem: BaseException, *, as_json: bool) -> int:
        faults.append(problem)
        return told(problem, as_json=as_json)

    began = time.monotonic()
    before = signal.signal(signal.SIGALRM, _stop)
    signal.setitimer(signal.ITIMER_REAL, TIME_LIMIT)
    _shell.report = report
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = run(command.split(" "))
    except _TooLongError:
        return Ran(-1, "", TIME_LIMIT, f"more than {TIME_LIMIT} seconds")
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)
        _shell.report = told
    text = out.getvalue() + err.getvalue()
    fault = ""
    if "Traceback" in text or "not built for" in text or '"code": "internal"' in text:
        fault = f"{type(faults[-1]).__name__}: {faults[-1]}"[:300] if faults else text[-300:]
    return Ran(code, out.getvalue(), time.monotonic() - began, fault)


def tree(folder: Path) -> dict[str, bytes]:
    """Every file below a folder with its bytes."""
    found: dict[str, bytes] = {}
    pending = [str(folder)]
    while pending:
        for entry in os.scandir(pending.pop()):
            if entry.is_dir(follow_symlinks=False):
                pending.append(entry.path)
            else:
                found[entry.path] = Path(entry.path).read_bytes()
    return found


def restore(folder: Path, wanted: dict[str, bytes]) -> None:
    """Make a folder what it was."""
    now = tree(folder) if folder.exists() else {}
    for path in now.keys() - wanted.keys():
        os.unlink(path)
    for path, data in wanted.items():
        if now.get(path) != data:
            os.makedirs(os.path.dirname(path), exist_ok=True)
            Path(path).write_bytes(data)
    for above, _, _ in os.walk(folder / "carriers", topdown=False):
        with contextlib.suppress(OSError):   # it is not empty
            os.rmdir(above)


@dataclass
class Findings:
    """What was found.

    Attributes:
        cases: How many cases were run.
        commands: How many commands.
        taken: How often what was spoilt was taken in all the same, because it still fits.
        refused: How often it was set aside.
        failures: What failed.
    """

    cases: int = 0
    commands: int = 0
    taken: int = 0
    refused: int = 0
    failures: list[str] = field(default_factory=list)


class Bench:
    """A scratch folder with an archive to spoil, and others that take in what was spoilt; it is made the current one.

    Args:
        folder: An empty folder.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.found = Findings()
        os.chdir(folder)
        os.environ |= {"IMAGEKEEPER_CACHE": str(folder / "cache"), "COLUMNS": "100", "HOME": str(folder / "home")}
        _files(folder)
        self._make()
        self.pristine = {name: tree(folder / name) for name in ("harbour", "museum", "older", "sound")}
        self.foreign = {path: data for path, data in tree(folder).items() if self._is_foreign(path)}

    def _is_foreign(self, path: str) -> bool:
        top = Path(path).relative_to(self.folder).parts[0]
        return top not in (*self.pristine, "cache", "out", "home", "bag")

    def _make(self) -> None:
        crc = f"{zlib.crc32((self.folder / 'a.bin').read_bytes()):08X}"
        for command in MAKING:
            result = ran(command.replace("@a", crc))
            if result.code and "00000000" not in command:
                raise SystemExit(f"{command}: {result}")
        for command in (
            "archive init museum", "carrier add clock-u1 --kind mask-rom --archive museum",
            "archive export -o sound.zip --archive harbour", "archive replicate sound --archive harbour",
            "archive init older", "archive import sound.zip --archive older",
            "carrier note tg85-u4 here --archive older", "carrier read tg85-u5 a.bin --reader other --archive older",
            "machine edit tg85 --owner museum --archive older",
        ):  # fmt: skip
            if (result := ran(command)).code:
                raise SystemExit(f"{command}: {result}")

    def again(self) -> None:
        """Begin anew, with everything as it was."""
        self._restore(*self.pristine)
        shutil.rmtree("cache", ignore_errors=True)

    def command(self, command: str, archive: str) -> Ran:
        """Run a command in one of the archives, and note what is wrong with how it went."""
        self.found.commands += 1
        result = ran(f"{command} --archive {archive}")
        if result.fault:
            self.fail(f"{command} in {archive}: {result.fault}")
        return result

    def fail(self, why: str) -> None:
        """Note that the case failed."""
        self.found.failures.append(f"seed {self.seed}: {self.poison}: {why}")

    def case(self, seed: int, *, every: bool) -> None:
        """Spoil the archive and run commands on it: every one, or the one whose turn it is."""
        self.found.cases += 1
        self.seed = seed
        self.poison = poison(self.folder / "harbour", seed)
        x = self.poison.id or IDS[0]
        y = IDS[(IDS.index(x) + 1) % 3] if x in IDS else IDS[0]
        jobs = (self._look, self._take_in, self._look, self._write)
        for job in jobs[1:] if every else (jobs[seed % len(jobs)],):
            job(x, y, every)
        if every or seed % 50 == 0:
            if self.foreign != {path: data for path, data in tree(self.folder).items() if self._is_foreign(path)}:
                self.fail("a file that is none of the program's was changed")
            self._restore(*self.pristine)
        else:
            self._restore("harbour", within=self.poison.id)
        shutil.rmtree("cache", ignore_errors=True)

    def _turn(self, commands: Sequence[str], every: bool) -> Sequence[str]:
        return commands if every else [commands[self.seed // 4 % len(commands)]]

    def _look(self, x: str, y: str, every: bool) -> None:
        spoilt = tree(self.folder / "harbour" / "carriers") if every else {}
        for command in self._turn(LOOKING, every):
            shutil.rmtree("out", ignore_errors=True)
            os.mkdir("out")
            result = self.command(_filled(command, x, y), "harbour")
            if command.startswith(("carrier list", "machine list")) and result.code == 4:
                self._audited()
            if command.startswith("archive replicate") and not result.fault and os.path.exists("out/copy/archive.json"):
                self._healthy("out/copy", ("carrier list --json", "machine list", "archive export -o out/copied.zip"))
        if every and tree(self.folder / "harbour" / "carriers") != spoilt:
            self.fail("a command that only looks changed the carriers")

    def _write(self, x: str, y: str, every: bool) -> None:
        spoilt = tree(self.folder / "harbour")
        for command in self._turn(WRITING, every):
            self.command(_filled(command, x, y), "harbour")
            restore(self.folder / "harbour", spoilt)

    def _restore(self, *names: str, within: str = "") -> None:
        """Make archives what they were; one of them only in the folder of one carrier, and its log."""
        for name in names:
            wanted = self.pristine[name]
            if within:
                top = self.folder / name / "carriers" / within
                restore(top, {path: data for path, data in wanted.items() if path.startswith(f"{top}/")})
                restore(self.folder / name / "log", {path: data for path, data in wanted.items() if "/log/" in path})
            else:
                restore(self.folder / name, wanted)

    def _audited(self) -> None:
        if self.command("archive audit --json", "harbour").code != 4:
            self.fail("a list sets something aside, and the audit says that all is well")

    def _take_in(self, x: str, y: str, every: bool) -> None:
        """Take in what was spoilt, in one of the ways there are, or in each."""
        for way in self._turn(WAYS, every):
            how, _, target = way.partition(" ")
            if how == "import":
                shutil.rmtree("bag", ignore_errors=True)
                bagged(self.folder / "harbour", self.folder / "bag")
                result = self.command("archive import bag --json", target)
            elif how == "merge":
                result = self.command("archive merge harbour --json", target)
            else:
                shutil.rmtree(f"sound/carriers/{x}")
                result = self.command("archive repair --from harbour --json", target)
            if result.code == 0:
                self.found.taken += 1
            else:
                self.found.refused += 1
            checks = HEALTHY if every else HEALTHY[:1] + HEALTHY[1 + self.seed % (len(HEALTHY) - 1) :][:1]
            if how == "repair":   # what was not taken is missing, and the audit tells
                checks = ("carrier list --json", "machine list --json", "search harbour --json")
            shutil.rmtree("out", ignore_errors=True)
            os.mkdir("out")
            self._healthy(target, checks)
            self._restore(target)
            shutil.rmtree("cache", ignore_errors=True)

    def _healthy(self, archive: str, commands: Sequence[str]) -> None:
        for command in commands:
            result = self.command(command.replace("OUT", "out"), archive)
            if result.code not in (0, 1 if command.startswith(("search", "archive references")) else 0):
                self.fail(f"what {archive} took in: then {command} gives {result.code}: {result.out[-300:]}")


def _filled(command: str, x: str, y: str) -> str:
    return command.replace("X", x).replace("Y", y).replace("OUT", "out")


def _files(folder: Path) -> None:
    """The files of readers and keepers."""
    data = bytes((i * 37 + (i >> 3)) & 0xFF for i in range(2048))
    (folder / "a.bin").write_bytes(data)
    (folder / "b.bin").write_bytes(data[::-1])
    (folder / "c.bin").write_bytes(data[::-1][:1000] + b"\0" + data[::-1][1001:])
    (folder / "d.bin").write_bytes(data[::-1])
    (folder / "disk.img").write_bytes(b"TG85 STATION DISK".ljust(512) * 20)
    record = data.hex().upper()
    lines = []
    for at in range(0, 2048, 32):
        body = bytes([32, at >> 8, at & 255, 0]) + data[at : at + 32]
        lines.append(":" + body.hex().upper() + f"{-sum(body) & 255:02X}")
    (folder / "a.hex").write_text("\n".join([*lines, ":00000001FF"]) + "\n")
    (folder / "front.png").write_bytes(b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR")
    (folder / "refs.csv").write_text(f"name,size,crc32\nTG85 U4,2048,00000000\nu5,2048,{record[:8]}\n")
    rows = "".join(f"{one},filled in\n" for one in IDS[:3])
    (folder / "rows.csv").write_text(f"id,condition\n{rows}")


def in_processes(cases: int, seed: int, bench: Bench) -> int:
    """Run some commands as processes of their own; give how many left a traceback or did not end."""
    wrong = 0
    for at in range(seed, seed + cases):
        bench.again()
        spoilt = poison(bench.folder / "harbour", at)
        for command in ("carrier list", f"carrier show {spoilt.id or IDS[0]} --json", "archive audit"):
            call = [sys.executable, "-m", "imagekeeper", *command.split(" "), "--archive", "harbour"]
            try:
                done = subprocess.run(call, capture_output=True, timeout=TIME_LIMIT + 20, check=False)
            except subprocess.TimeoutExpired:
                done = None
            if done is None or b"Traceback" in done.stderr or b"not built for" in done.stderr + done.stdout:
                wrong += 1
                print(f"seed {at}: {spoilt}: {command} as a process: {done and done.stderr[-300:]!r}")
    return wrong


def main(arguments: Sequence[str] | None = None) -> int:
    """Run cases and name what fails."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n\n")[0])
    parser.add_argument("--cases", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--every", action="store_true", help="run every command in every case")
    parser.add_argument("--processes", type=int, default=0, metavar="N", help="cases to run as processes too")
    options = parser.parse_args(arguments)
    os.fsync = lambda handle: None   # nobody cuts the power here
    here = os.getcwd()
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder).resolve())
        began = time.monotonic()
        for seed in range(options.seed, options.seed + options.cases):
            before = len(bench.found.failures)
            bench.case(seed, every=options.every)
            for failure in bench.found.failures[before:]:
                print(failure, flush=True)
        wrong = in_processes(options.processes, options.seed, bench)
        os.chdir(here)
    found = bench.found
    kinds: Counter[Any] = Counter(failure.split("): ", 1)[-1][:80] for failure in found.failures)
    for kind, many in kinds.most_common(20):
        print(f"{many:6} {kind}")
    print(
        f"{found.cases} cases, {found.commands} commands in {time.monotonic() - began:.0f} s: "
        f"{found.taken} taken in, {found.refused} refused, "
        f"{len(found.failures) + wrong} failed"
    )
    return 1 if found.failures or wrong else 0


if __name__ == "__main__":
    sys.exit(main())
