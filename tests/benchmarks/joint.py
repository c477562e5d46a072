"""The judge of the diagnosis of reads: faults are put into real firmware, and what is named is held against the truth.

    python -m tests.benchmarks.firmware --fetch     (once)
    python -m tests.benchmarks.joint [--half tune|aside] [--kinds known|aside|all] [--trials N] [--seed N] [--only TEXT]
                                     [--clean N] [--show] [--jobs 2] [--limits]

For each kind of fault: how many trials counted; how often the injected fault is ranked first, with its line, wiring or
value and, from three reads on, the read that is ill; how often first or another exact rule that foretells the very
same bytes; how often "cannot tell" named it among three causes at most (these are in "first" as well); how often it is
named with a confidence of 0.9 at least, and how often another is. A double trial holds two faults: "first" asks that
the first finding is one of them and that the other is named too.

Then the pairs of versions, which are clean of faults, and the calibration: of the findings that were ranked first, by
their confidence, how many were right. `--limits` measures time and memory instead.
"""

from __future__ import annotations

import argparse
import inspect
import itertools
import multiprocessing
import os
import re
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np

from imagekeeper.comparison.comparison import compare
from imagekeeper.containers.model import Image, Segment
from imagekeeper.findings import Finding
from tests.benchmarks import firmware
from tests.benchmarks.injecting import (
    Bytes,
    Cause,
    Draw,
    Kind,
    Trial,
    differing,
    exchanged_address,
    exchanged_lines,
    lines_of,
)

#: Codes that state a plain fact about the files, and no cause.
PLAIN = {"sizes-differ", "gaps-differ", "addresses-moved", "same-file", "doubtful-bytes", "not-diagnosed"}

#: The honest answer where several causes explain the reads as well; its detail names them.
CANNOT_TELL = "cannot-tell"

#: So many causes may be named there to count as an answer.
FEW = 3

#: From this confidence on a cause counts as named.
SURE = 0.9

#: Where the kinds of faults stand: those that rules may be tuned on, and those set aside.
MODULES = {
    "known": ("faults", "faults_more", "faults_further"),
    "aside": ("faults_aside",),
    "all": ("faults", "faults_more", "faults_further", "faults_aside"),
}


def found_in(trial: Trial) -> list[Finding]:
    """Ask for the causes; what the comparison does not take is not told to it."""
    names = names_of(trial)
    count = len(trial.reads)
    told: dict[str, Any] = {
        "volts": list(trial.volts or (None,) * count), "readers": list(trial.readers or (None,) * count),
        "technology": trial.technology,
    }  # fmt: skip
    taken = inspect.signature(compare).parameters
    result = compare(
        [Image.from_bytes(read.tobytes()) for read in trial.reads], names,
        **{key: value for key, value in told.items() if key in taken},
    )  # fmt: skip
    return [finding for finding in result.findings if finding.code not in PLAIN]


def names_of(trial: Trial) -> list[str]:
    return [f"r{number}.bin" for number in range(1, len(trial.reads) + 1)]


# --- judging one finding


def judged(finding: Finding, trial: Trial) -> tuple[str, int]:
    """Say `right`, `equal`, `allowed` or `wrong`, and which of the trial's faults it is; -1 where none."""
    if finding.code == CANNOT_TELL:
        named = list(finding.detail.get("causes", ()))
        for number, cause in enumerate(trial.causes):
            if cause.code in named:
                return ("right" if len(named) <= FEW else "allowed"), number
            if set(cause.also) & set(named):
                return ("equal" if len(named) <= FEW else "allowed"), number
        return "wrong", -1
    for number, cause in enumerate(trial.causes):
        if finding.code == cause.code and parameters_right(finding, cause) and reads_right(finding, cause) is not False:
            return "right", number
    for number, cause in enumerate(trial.causes):
        if finding.code in cause.also and reads_right(finding, cause) is not False:
            return "equal", number
    if foretells(finding, trial.reads):
        return "equal", 0
    if any(finding.code in cause.allowed for cause in trial.causes):
        return "allowed", -1
    return "wrong", -1


def parameters_right(finding: Finding, cause: Cause) -> bool:
    """Whether line, wiring, value and such are those injected; an answer may give all that nothing can tell apart."""
    if finding.detail.get("ambiguous"):
        return True
    for key, value in cause.detail.items():
        if key not in finding.detail:
            if cause.code == "contact-lost":   # a line may be named in other ways there
                continue
            return False
        found = finding.detail[key]
        if key == "wiring":   # from the one read to the other, or back
            if sorted_rows(found) not in (sorted_rows(value), sorted_rows(turned(value))):
                return False
        elif found != value and list(found if isinstance(found, list | tuple) else [found]) != value:
            return False
    return True


def sorted_rows(rows: Sequence[Mapping[str, str]]) -> list[tuple[str, str]]:
    return sorted((row["line"], row["carries"]) for row in rows)


def turned(rows: Sequence[Mapping[str, str]]) -> list[dict[str, str]]:
    return [{"line": row["carries"], "carries": row["line"]} for row in rows]


def reads_right(finding: Finding, cause: Cause) -> bool | None:
    """Whether the ill reads are named rightly; None where they cannot be told, or are not named."""
    if cause.reads is None:
        return None
    named = finding.detail.get("reads")
    if isinstance(named, list | tuple) and all(isinstance(number, int) for number in named):
        return set(named) == set(cause.reads)
    name = finding.detail.get("read") or finding.where.file
    if isinstance(name, str):
        return name in [f"r{number}.bin" for number in cause.reads]
    return None


def foretells(finding: Finding, reads: Sequence[Bytes]) -> bool:
    """Whether the cause is a rule without chance that makes one of the reads of another, byte for byte.

    The rules are worked out here, and not by what is judged.
    """
    for a, b in itertools.permutations(reads, 2):
        if differing(a, b) and any(len(made) == len(b) and not differing(made, b) for made in made_of(finding, a)):
            return True
    return False


def made_of(finding: Finding, a: Bytes) -> Iterator[Bytes]:
    """Give what an exact rule makes of a read; nothing for causes with chance in them."""
    code, detail = finding.code, finding.detail
    at = np.arange(len(a))
    if code in ("data-line-stuck", "address-line-stuck") and "line" in detail and "value" in detail:
        bit, value = 1 << int(detail["line"][1:]), detail["value"]
        if code.startswith("data"):
            yield a | np.uint8(bit) if value else a & np.uint8(255 ^ bit)
        elif bit < len(a):
            yield a[np.minimum(at | bit if value else at & ~bit, len(a) - 1)]
    elif code in ("data-lines-shorted", "address-lines-shorted") and {"lines", "wired"} <= set(detail):
        lines = [int(line[1:]) for line in detail["lines"]]
        source: Any = a if code.startswith("data") else at
        each = np.stack([(source >> line) & 1 for line in lines])
        both = each.min(axis=0) if detail["wired"] == "and" else each.max(axis=0)
        made = source & ~(source & 0 | sum(1 << line for line in lines))
        for line in lines:
            made = made | both << line
        yield made if code.startswith("data") else a[np.minimum(made, len(a) - 1)]
    elif code in ("data-lines-exchanged", "address-lines-exchanged") and "wiring" in detail:
        count = 8 if code.startswith("data") else lines_of(a)
        if code.startswith("address") and len(a) != 1 << count:
            return
        for rows in (detail["wiring"], turned(detail["wiring"])):
            lines = list(range(count))
            for row in rows:
                if int(row["line"][1:]) < count:
                    lines[int(row["line"][1:])] = int(row["carries"][1:])
            if sorted(lines) == list(range(count)):
                yield exchanged_lines(a, lines) if code.startswith("data") else exchanged_address(a, lines)
    elif code == "inverted":
        yield ~a
    elif code == "bits-reversed":
        yield exchanged_lines(a, range(7, -1, -1))
    elif code == "bytes-exchanged" and "address_xor" in detail and not len(a) & (len(a) - 1):
        yield a[at ^ (detail["address_xor"] & (len(a) - 1))]
    elif code == "mirrored":
        yield from (np.tile(a, times) for times in (2, 4, 8))
        yield from (np.tile(a[: len(a) // n], n) for n in (2, 4))
    elif code == "lane-of":
        yield from (a[start::step] for step in (2, 4) for start in range(step))
    elif code == "blank":
        yield np.full_like(a, 0xFF)
    elif code == "not-selected":
        yield from (np.full_like(a, value) for value in (0x00, 0xFF))


# --- one trial and its verdict


@dataclass(frozen=True)
class Verdict:
    """What came of one trial."""

    kind: str
    double: bool
    size: int
    first: bool
    equal: bool
    cannot: bool
    named: bool
    wrong: bool
    reads: bool | None
    top: tuple[float, bool] | None
    sure: tuple[bool, ...]
    said: str
    seconds: float


def verdict(name: str, double: bool, trial: Trial) -> Verdict:
    started = time.process_time()
    found = found_in(trial)
    seconds = time.process_time() - started
    judgements = [judged(finding, trial) for finding in found]
    good = {"right"}
    named_faults = {which for word, which in judgements if word in ("right", "equal")}
    complete = len(named_faults) == len(trial.causes)
    sure_faults = {
        which for finding, (word, which) in zip(found, judgements, strict=True)
        if word in ("right", "equal") and finding.confidence >= SURE
    }  # fmt: skip
    top = judgements[0] if judgements else ("nothing", -1)
    never = any(finding.code in trial.never and finding.confidence >= 0.05 for finding in found)
    reads: bool | None = None
    if top[0] in ("right", "equal"):
        cause = trial.causes[top[1]]
        told = reads_right(found[0], cause)
        reads = None if cause.reads is None else bool(told)
    return Verdict(
        kind=name, double=double, size=max(map(len, trial.reads)),
        first=top[0] in good and complete and not never,
        equal=top[0] in ("right", "equal") and complete and not never,
        cannot=bool(found) and found[0].code == CANNOT_TELL and top[0] == "right",
        named=len(sure_faults) == len(trial.causes),
        wrong=never or any(
            word == "wrong" and finding.confidence >= SURE for finding, (word, _) in zip(found, judgements, strict=True)
        ),
        reads=reads,
        top=(found[0].confidence, top[0] in ("right", "equal")) if found and top[0] != "allowed" else None,
        sure=tuple(
            word != "wrong" for finding, (word, _) in zip(found, judgements, strict=True)
            if finding.confidence >= SURE and word != "allowed"
        ),
        said="; ".join(
            f"{word} {finding.code} {finding.confidence:.2f}"
            for finding, (word, _) in zip(found, judgements, strict=True)
        ) or "nothing",
        seconds=seconds,
    )  # fmt: skip


class Corpus:
    """Pieces of one half, each package as likely as another and small chips likelier than large ones."""

    def __init__(self, half: firmware.Half) -> None:
        self._by_family: dict[str, list[firmware.Piece]] = defaultdict(list)
        for piece in firmware.pieces():
            if piece.half == half:
                self._by_family[piece.family].append(piece)
        self._families = sorted(self._by_family)

    def piece(self, dice: np.random.Generator) -> firmware.Piece:
        group = self._by_family[self._families[int(dice.integers(len(self._families)))]]
        weights = np.array([piece.size**-0.4 for piece in group])
        return group[int(dice.choice(len(group), p=weights / weights.sum()))]

    def other(self, size: int, dice: np.random.Generator) -> Bytes:
        """Give other content of a size: several pieces after one another where none is so long."""
        parts: list[Bytes] = []
        while sum(map(len, parts)) < size:
            parts.append(self.piece(dice).load())
        return np.concatenate(parts)[:size]


_corpus: Corpus


def begin(half: firmware.Half) -> None:
    """Prepare a process."""
    global _corpus
    _corpus = Corpus(half)


def kinds_of(modules: Sequence[str]) -> dict[str, tuple[Kind, bool]]:
    found: dict[str, tuple[Kind, bool]] = {}
    for name in modules:
        module = import_module(f"tests.benchmarks.{name}")
        found |= {kind: (make, False) for kind, make in module.KINDS.items()}
        found |= {kind: (make, True) for kind, make in module.DOUBLE.items()}
    return found


def attempt(task: tuple[tuple[str, ...], str, int, int]) -> tuple[Verdict, str] | None:
    """Make and judge one trial; None where no content was found in which the fault shows."""
    modules, name, number, seed = task
    kind, double = kinds_of(modules)[name]
    dice = np.random.default_rng([seed, number, firmware.hashed(name) & 0xFFFFFFFF])
    draw = Draw(dice, lambda size: _corpus.other(size, dice))
    for _ in range(40):
        piece = _corpus.piece(dice)
        trial = kind(piece.load(), draw)
        if trial.differing >= trial.least and len({read.tobytes() for read in trial.reads}) > 1:
            truth = " + ".join(f"{cause.code} {dict(cause.detail)} in {cause.reads}" for cause in trial.causes)
            result = verdict(name, double, trial)
            differ = ",".join(str(differing(trial.reads[0], read)) for read in trial.reads[1:])
            return result, f"{piece.name}, {len(trial.reads)} reads, {differ} differ: {truth}"
    return None


def clean(task: tuple[str, Bytes, Bytes, bool]) -> tuple[str, list[tuple[str, float]], str]:
    """Compare two versions of a program, or three reads of which one is another version."""
    name, one, two, three = task
    trial = Trial((one, one, two) if three else (one, two), ())
    found, plain = found_in(trial), "content-differs"
    said = "; ".join(f"{finding.code} {finding.confidence:.2f}" for finding in found)
    told = [
        (finding.code if plain not in finding.detail.get("causes", ()) else plain, finding.confidence)
        for finding in found
    ]
    return f"{name}, {differing(one, two)} differ", told, said


# --- printing


@dataclass
class Total:
    """Counts over trials."""

    verdicts: list[Verdict] = field(default_factory=list)

    def share(self, of: Callable[[Verdict], bool]) -> float:
        return sum(map(of, self.verdicts)) / len(self.verdicts) if self.verdicts else 0.0

    def row(self, title: str) -> str:
        told = [v.reads for v in self.verdicts if v.reads is not None]
        reads = f"{sum(told) / len(told):8.1%}" if told else f"{'-':>8}"
        return (
            f"{title:44}{len(self.verdicts):7}{self.share(lambda v: v.first):8.1%}"
            f"{self.share(lambda v: v.equal):10.1%}{self.share(lambda v: v.cannot):8.1%}"
            f"{self.share(lambda v: v.named):9.1%}{self.share(lambda v: v.wrong):8.1%}{reads}"
        )


HEAD = f"{'kind':44}{'trials':>7}{'first':>8}{'or equal':>10}{'cannot':>8}{'>= 0.9':>9}{'wrong':>8}{'reads':>8}"


def curve(points: Sequence[tuple[float, bool]]) -> Iterator[str]:
    """Give the calibration: of the findings in each bin of confidence, how many were right."""
    edges = (0.0, 0.1, 0.3, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99, 1.01)
    for low, high in itertools.pairwise(edges):
        mine = [right for confidence, right in points if low <= confidence < high]
        if mine:
            yield f"  {low:4.2f} to {min(high, 1):4.2f} {len(mine):6} {sum(mine) / len(mine):7.1%} right"
    middle = [right for confidence, right in points if 0.5 <= confidence < 0.7]
    if middle:
        yield f"  0.50 to 0.70 {len(middle):6} {sum(middle) / len(middle):7.1%} right; goal 50 % to 75 %"


def run(options: argparse.Namespace) -> None:
    modules = MODULES[options.kinds]
    kinds = {name: double for name, (_, double) in kinds_of(modules).items() if options.only in name}
    tasks = [(modules, name, number, options.seed) for name in kinds for number in range(options.trials)]
    by_kind: dict[str, Total] = {name: Total() for name in kinds}
    points: list[tuple[float, bool]] = []
    sure: list[bool] = []
    slowest = (0.0, "")
    begin(options.half)   # here first: where there is no firmware, it is said once
    with multiprocessing.Pool(options.jobs, begin, (options.half,)) as pool:
        for done in pool.imap(attempt, tasks, chunksize=4):
            if done is None:
                continue
            result, told = done
            by_kind[result.kind].verdicts.append(result)
            slowest = max(slowest, (result.seconds, f"{result.kind}, {told}"))
            if result.top is not None:
                points.append(result.top)
            sure += result.sure
            if options.show and (not result.equal or result.wrong):
                print(f"{'WRONG' if result.wrong else 'miss'} {result.kind}: {told}\n     -> {result.said}")
        print(HEAD)
        for name, total in by_kind.items():
            print(total.row(name))
        for title, double, goal in (("single faults", False, "97.0%"), ("double faults", True, "90.0%")):
            whole = Total([v for name, total in by_kind.items() if kinds[name] is double for v in total.verdicts])
            if whole.verdicts:
                print(whole.row(f"ALL {title}"))
                print(f"{'    goal':44}{'':7}{goal:>8}{'':10}{'':8}{'85.0%':>9}{'0.5%':>8}")
        print(f"slowest: {slowest[0]:.2f} s, {slowest[1]}")
        of_versions = versions_judged(options, pool, sure) if options.clean and not options.only else []
    for title, mine in (("faults", points), ("faults and versions", points + of_versions)):
        print(f"calibration of the findings ranked first, {title}:")
        for line in curve(mine):
            print(line)
    if sure:
        print(f"  of all {len(sure)} findings at 0.90 and more {sum(sure) / len(sure):.2%} are right; goal 98 %")


def versions_judged(
    options: argparse.Namespace, pool: Any, sure: list[bool]
) -> list[tuple[float, bool]]:
    """Print what is said of content that has no fault, and give the points of the curve."""
    mine = [piece for piece in firmware.pieces() if piece.half == options.half]
    same = sum(map(bool, pool.imap(equal_reads, mine[: options.clean], chunksize=16)))
    pairs = list(itertools.islice(firmware.versions(firmware.pieces(), options.half), options.clean))
    tasks = [(*pair, three) for three in (False, True) for pair in pairs][: options.clean]
    points: list[tuple[float, bool]] = []
    counts = dict.fromkeys(("first", "any", "0.5", "0.9"), 0)
    for name, found, said in pool.imap(clean, tasks, chunksize=4):
        alarms = [(code, confidence) for code, confidence in found if code != "content-differs"]
        first = not found or found[0][0] != "content-differs"
        counts["first"] += first
        counts["any"] += bool(alarms)
        for limit in ("0.5", "0.9"):
            counts[limit] += any(confidence >= float(limit) for _, confidence in alarms)
        if found:
            points.append((found[0][1], not first))
        sure += [code == "content-differs" for code, confidence in found if confidence >= SURE]
        if options.show and (first or alarms):
            print(f"{'CLEAN' if first else 'clean'} {name}\n     -> {said or 'nothing'}")
    print(
        f"clean: {min(len(mine), options.clean)} pieces read alike, {same} with a finding (goal 0); {len(tasks)} "
        f"comparisons of two versions from {len(pairs)} pairs: {counts['first']} with another cause than different "
        f"content first, {counts['any']} with another at all, {counts['0.5']} at 0.5, {counts['0.9']} at 0.9 "
        "(goal 0 in 3,000)"
    )
    return points


def equal_reads(piece: firmware.Piece) -> bool:
    data = piece.load()
    return bool(found_in(Trial((data, data, data), ())))


# --- time and memory


def limits() -> None:
    """Measure the time for 1 MiB with three reads, and the memory for 64 MiB."""
    begin("tune")
    dice = np.random.default_rng(1)
    worst: dict[str, float] = {}
    for name, (kind, _) in kinds_of(("faults",)).items():
        base = _corpus.other(1 << 20, dice)
        trial = kind(base, Draw(dice, lambda size: _corpus.other(size, dice)))
        reads = (*trial.reads, *([base] * 3))[:3]
        count = len(reads)
        three = Trial(reads, trial.causes, (trial.volts + (5.0,) * 3)[:count] if trial.volts else ())
        started = time.process_time()
        found_in(three)
        worst[name] = time.process_time() - started
    for name, seconds in sorted(worst.items(), key=lambda row: -row[1])[:12]:
        print(f"1 MiB, three reads, {name:44} {seconds:6.2f} s; goal 1 s")
    print(f"median {np.median(list(worst.values())):.2f} s")
    for fault in ("noise", "stuck_data", "unstable_address", "shifted", "other_content"):
        with tempfile.TemporaryDirectory() as folder:
            for number, read in enumerate(large_reads(fault), 1):
                (Path(folder) / f"r{number}.bin").write_bytes(read.tobytes())
            done = subprocess.run(
                [sys.executable, "-m", "tests.benchmarks.joint", "--large", folder],
                capture_output=True, text=True, cwd=Path(__file__).resolve().parents[2],
            )  # fmt: skip
        print(f"64 MiB, {fault:20} {done.stdout.strip() or done.stderr.strip()[-200:]}; goal 512 MiB")


def large_reads(fault: str) -> tuple[Bytes, Bytes]:
    """Make two reads of 64 MiB."""
    dice = np.random.default_rng(2)
    first = np.tile(_corpus.other(1 << 22, dice), 16)
    second = first.copy()
    part = slice(5 << 20, 6 << 20)
    if fault == "stuck_data":
        second |= 8
    elif fault == "unstable_address":
        source = np.arange(1 << 20) & ~8
        second[part] = np.where(dice.random(1 << 20) < 0.1, first[part][source], first[part])
    elif fault == "shifted":
        second[5 << 20 : -7] = first[(5 << 20) + 7 :]
    elif fault == "other_content":
        second[part] = _corpus.other(1 << 20, dice)
    else:
        second[dice.integers(0, len(first), 20_000)] ^= (1 << dice.integers(0, 8, 20_000)).astype(np.uint8)
    return first, second


class OnDisk:
    """A file's bytes, read where they are asked for: what is held in memory is then the comparison's own."""

    def __init__(self, path: Path) -> None:
        self._file = path.open("rb")
        self._size = path.stat().st_size

    def __len__(self) -> int:
        return self._size

    def __getitem__(self, index: Any, /) -> Any:
        wanted = range(self._size)[index]
        if isinstance(wanted, int):
            return os.pread(self._file.fileno(), 1, wanted)[0]
        return os.pread(self._file.fileno(), max(wanted.stop - wanted.start, 0), wanted.start)[:: wanted.step]


def peak_mib() -> float:
    """Give the most memory that this program had; `getrusage` would count the one that started it as well. [MiB]"""
    status = Path("/proc/self/status").read_text()
    return int(re.findall(r"^VmHWM:\s+(\d+) kB", status, re.MULTILINE)[0]) / 1024


def large(folder: Path) -> None:
    """Compare two reads on disk, and print the time and the peak of this process's memory."""
    images = [Image(segments=(Segment(0, OnDisk(path)),)) for path in sorted(folder.glob("r*.bin"))]
    before = peak_mib()
    started = time.process_time()
    found = compare(images, ["r1.bin", "r2.bin"]).findings
    peak = peak_mib()
    print(
        f"{time.process_time() - started:6.2f} s, peak {peak:5.0f} MiB (before it {before:.0f} MiB): "
        f"{found[0].code if found else 'nothing'}"
    )


def main() -> None:
    """Judge, and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--half", choices=("tune", "aside"), default="tune")
    parser.add_argument("--kinds", choices=tuple(MODULES), default="known")
    parser.add_argument("--trials", type=int, default=20, help="of each kind")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="kinds whose name holds this text")
    parser.add_argument("--clean", type=int, default=300, help="pairs of versions")
    parser.add_argument("--show", action="store_true", help="print each miss and each alarm")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--limits", action="store_true", help="measure time and memory instead")
    parser.add_argument("--large", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.large:
        large(options.large)
    elif options.limits:
        limits()
    else:
        run(options)


if __name__ == "__main__":
    main()
