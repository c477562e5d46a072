"""Whether the tests would notice: the pure rules are given small wrongs, one at a time, and the nearest tests are run.

    python -m tests.benchmarks.mutation [MODULE...] [--most N] [--seed 1] [--jobs 2] [--every]

MODULE is such as comparison/data_lines; without any, those of NEAREST are tried. The tests are those of the same name,
`tests/comparison/test_data_lines.py`, those that NEAREST names beside them, and the module's own examples: first the
ones that come by the changed statement, the quickest before the others, until one fails. A mutant that none of them
notices survives, and is shown. `mutants_equivalent.toml` lists the survivors that change nothing, each with its
reason. More than 5 % of others, more than 3 % listed, or a listed one that a test notices, and the exit code is 1.

No file is changed. Each mutant lives in a process of its own, forked when the tests have been collected: there the code
of the changed function is exchanged. What runs when modules are loaded is put in by an import hook instead, in a fork
from before. Properties are tried with the same examples each time, so that two runs say the same.
"""

from __future__ import annotations

import argparse
import gc
import importlib.util
import inspect
import os
import pickle
import random
import resource
import signal
import sys
import tempfile
import time
import tomllib
import warnings
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from importlib.machinery import ModuleSpec, SourceFileLoader
from pathlib import Path
from types import CodeType, FrameType, FunctionType
from typing import Any

# what takes long to load and is no part of the project is loaded once, before the forks
import hypothesis
import hypothesis.extra.numpy
import pytest

from tests.benchmarks.mutants import Module, Mutant

ROOT = Path(__file__).resolve().parents[2]
LISTED = Path(__file__).with_name("mutants_equivalent.toml")
#: The modules that are tried, and which tests are near to each beside those of the same name.
NEAREST: dict[str, tuple[str, ...]] = {
    "archive/ocfl/ledger": (),
    "comparison/data_lines": (),
    "comparison/voting": (),
    "containers/intel_hex": ("test_bulk",),
    "drives/at_hand": ("test_solutions", "test_interchange"),
    "drives/cabling": ("test_solutions",),
    "drives/controlling": ("test_solutions",),
    "drives/interchange": (),
    "drives/verdict": ("test_matrix", "test_rules", "test_solutions"),
    "filesystems/fat_check": (),
    "floppy/layout": (),
    "floppy/track": ("test_track_rules",),
    "geometry/proposals": (),
    "provenance/events": (),
    "evidence/conditions": (), "evidence/contradictions": (), "evidence/standing": (), "evidence/steps": (),
    "evidence/support": (),
    "selfchecks/chance": (),
    "substitution/lines": (),
}
MOST_SURVIVORS, MOST_LISTED = 5.0, 3.0   # [%]
MEMORY = 4 << 30   # a mutant may ask for more than there is [byte]

Key = tuple[str, str, str, str]


@dataclass
class Nearest:
    """Which tests there are, how long each takes, and by which lines it comes.

    Attributes:
        seconds: By the name of the test.
        lines: By the name of the test; "" is what runs when modules are loaded.
    """

    seconds: dict[str, float] = field(default_factory=dict)
    lines: dict[str, set[int]] = field(default_factory=dict)

    def at_load(self, mutant: Mutant) -> bool:
        """Whether it is in what runs when modules are loaded, the tests among them."""
        return not mutant.function or self._comes_by("", mutant)

    def by(self, mutant: Mutant) -> list[str]:
        """The tests that come by a mutant, the quickest first, then the others of their files.

        What a test has prepared, or a cache has kept, serves those behind it. All, for what runs when modules are
        loaded.
        """
        come = {name for name in self.seconds if self._comes_by(name, mutant)}
        files = {_file(name) for name in (self.seconds if self.at_load(mutant) else come)}
        chosen = [name for name in self.seconds if _file(name) in files]
        return sorted(chosen, key=lambda name: (name not in come, self.seconds[name]))

    def limit(self, mutant: Mutant) -> float:
        """How long its tests may take, on a machine with other work too. [s]"""
        return 20 + 10 * sum(self.seconds[name] for name in self.by(mutant))

    def _comes_by(self, name: str, mutant: Mutant) -> bool:
        first, last = mutant.lines
        return any(first <= line <= last for line in self.lines.get(name, ()))


def _file(name: str) -> str:
    return name.split("::", 1)[0]


class Watch:
    """Finds by which lines of one file each test comes."""

    def __init__(self, file: str) -> None:
        self.file, self.found, self.now = file, Nearest(), ""

    def trace(self, frame: FrameType, event: str, argument: Any) -> Any:
        if frame.f_code.co_filename != self.file:
            return None
        self.found.lines.setdefault(self.now, set()).add(frame.f_lineno)
        return self.trace

    def run(self, items: Sequence[pytest.Item]) -> Nearest:
        for item, after in zip(items, [*items[1:], None], strict=True):
            self.now, began = item.nodeid, time.perf_counter()
            sys.settrace(self.trace)
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
            sys.settrace(None)
            self.found.seconds[item.nodeid] = time.perf_counter() - began
        return self.found


class Same:
    """A pytest plugin that tries properties with the same examples each time, and does not shorten what fails."""

    def pytest_configure(self) -> None:
        phases = [hypothesis.Phase.explicit, hypothesis.Phase.generate]
        hypothesis.settings.register_profile(
            "same", deadline=None, derandomize=True, database=None, phases=phases,
            suppress_health_check=list(hypothesis.HealthCheck),
        )  # fmt: skip
        hypothesis.settings.load_profile("same")


class Only:
    """A pytest plugin that runs the chosen tests in their order; one that was not there before is tried as well."""

    def __init__(self, chosen: Sequence[str], known: set[str]) -> None:
        self.rank, self.known = {name: rank for rank, name in enumerate(chosen)}, known

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        kept = [one for one in items if one.nodeid in self.rank or one.nodeid not in self.known]
        items[:] = sorted(kept, key=lambda one: self.rank.get(one.nodeid, -1))


class Instead(SourceFileLoader):
    """A pytest plugin that loads a mutant in the place of a module."""

    def __init__(self, name: str, path: Path, code: CodeType) -> None:
        super().__init__(name, str(path))
        self.code = code
        sys.meta_path.insert(0, self)

    def pytest_sessionstart(self) -> None:
        sys.meta_path.insert(0, self)   # before pytest's own, which takes what it has been given by name

    def get_code(self, fullname: str) -> CodeType:
        return self.code

    def find_spec(self, name: str, path: object = None, target: object = None) -> ModuleSpec | None:
        return importlib.util.spec_from_file_location(name, self.path, loader=self) if name == self.name else None


class Trial:
    """A pytest plugin that tries the mutants of one module in the place of running the tests."""

    def __init__(self, module: Module, path: Path, mutants: Sequence[Mutant], jobs: int) -> None:
        self.module, self.path, self.mutants, self.jobs = module, path, mutants, jobs
        self.watch = Watch(str(path))
        self.left: list[int] = []
        self.passed = False

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        sys.settrace(None)

        def as_it_is() -> tuple[Nearest, int]:
            return self.watch.run(session.items), session.testsfailed

        self.watch.found, failed = answer_of(as_it_is)
        if failed:
            return True
        self.passed = True
        now = [i for i, one in enumerate(self.mutants) if not self.watch.found.at_load(one)]
        every = [one for one in gc.get_objects() if isinstance(one, FunctionType)]
        functions = [one for one in every if one.__code__.co_filename == self.module.name]

        def notices(number: int) -> bool:
            mutant = self.mutants[number]
            code = {(one.co_name, one.co_firstlineno): one for one in _outermost(self.module.code(mutant))}
            for function in functions:
                here = (function.__code__.co_name, function.__code__.co_firstlineno)
                function.__code__ = code.get(here, function.__code__)
            by_name = {one.nodeid: one for one in session.items}
            items = [by_name[name] for name in self.watch.found.by(mutant)]
            for item, after in zip(items, [*items[1:], None], strict=True):
                item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
                if session.testsfailed:
                    return True
            return False

        self.left = unnoticed(now, notices, lambda number: self.watch.found.limit(self.mutants[number]), self.jobs)
        return True


def _outermost(code: CodeType) -> Iterator[CodeType]:
    """The functions of a module and the methods of its classes, without the functions within them."""
    for one in code.co_consts:
        if isinstance(one, CodeType):
            if one.co_flags & inspect.CO_NEWLOCALS:
                yield one
            else:   # the body of a class
                yield from _outermost(one)


def unnoticed(
    numbers: Sequence[int], notices: Callable[[int], bool], limit: Callable[[int], float], jobs: int
) -> list[int]:
    """Ask in a fork for each number, some at a time, and give those that were not noticed."""
    waiting, left = list(numbers), []
    running: dict[int, tuple[int, float]] = {}
    while waiting or running:
        while waiting and len(running) < jobs:
            number = waiting.pop(0)
            child = forked(partial(notices, number))
            running[child] = (number, time.monotonic() + limit(number))
        time.sleep(0.005)
        for child, (number, until) in list(running.items()):
            ended, status = os.waitpid(child, os.WNOHANG)
            if not ended and time.monotonic() > until:   # it goes on for ever, which is noticed
                os.kill(child, signal.SIGKILL)
                ended, status = os.waitpid(child, 0)
            if ended:
                del running[child]
                if status == 0:
                    left.append(number)
    return left


def forked(work: Callable[[], int]) -> int:
    """Do something in a process of its own, which ends with the number that it gives, and tell its id."""
    sys.stdout.flush()
    child = os.fork()
    if child:
        return child
    code = 99
    try:
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        code = int(work())
    finally:
        os._exit(code)


def answer_of(work: Callable[[], Any]) -> Any:
    """Do something in a process of its own, and get what it gives."""
    with tempfile.TemporaryFile() as told:

        def tell() -> int:
            told.write(pickle.dumps(work()))
            told.flush()
            return 0

        _, status = os.waitpid(forked(tell), 0)
        told.seek(0)
        return pickle.load(told) if status == 0 else None   # noqa: S301 - our own, written above


def run_tests(targets: Sequence[str], *plugins: object) -> int:
    """Run pytest in this process, unheard, and give its exit code."""
    os.chdir(ROOT)
    silent = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(silent, stream)
    own = ["-o", "addopts=", "-c", str(ROOT / "pyproject.toml"), "--rootdir", str(ROOT), "--doctest-modules", "-x"]
    own += ["-W", "ignore::pytest.PytestAssertRewriteWarning", "--import-mode=importlib", "-p", "no:cacheprovider"]
    return int(pytest.main([*own, "-q", "--tb=no", *targets], plugins=[Same(), *plugins]))


def survivors(name: str, module: Module, path: Path, mutants: Sequence[Mutant], jobs: int) -> list[Mutant]:
    """Try mutants, and give those that no test noticed."""
    room, *_, own = name.split("/")
    near = [ROOT / "tests" / room / f"{one}.py" for one in (f"test_{own}", *NEAREST.get(name, ()))]
    targets = [str(one) for one in (*near, path) if one.exists()]

    def exchanging() -> tuple[bool, list[int], Nearest]:
        trial = Trial(module, path, mutants, jobs)
        sys.settrace(trial.watch.trace)
        run_tests(targets, trial)
        return trial.passed, trial.left, trial.watch.found

    passed, left, nearest = answer_of(exchanging) or (False, [], Nearest())
    if not passed:
        raise SystemExit(f"the tests of {name} do not pass as it is: {' '.join(targets)}")

    def notices(number: int) -> bool:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            code = module.code(mutants[number])
        instead = Instead("imagekeeper." + name.replace("/", "."), path, code)
        return run_tests(targets, instead, Only(nearest.by(mutants[number]), set(nearest.seconds))) != 0

    at_load = [i for i, one in enumerate(mutants) if nearest.at_load(one)]
    left = left + unnoticed(at_load, notices, lambda number: nearest.limit(mutants[number]), jobs)
    return sorted((mutants[i] for i in left), key=lambda one: (one.line, one.after))


def listed() -> dict[Key, str]:
    """The survivors that change nothing, with the reason."""
    rows = tomllib.loads(LISTED.read_text(encoding="utf-8")).get("equivalent", [])
    return {(one["module"], one["function"], one["before"], one["after"]): one["reason"] for one in rows}


def main() -> int:
    """Try the modules, and say what survived."""
    parser = argparse.ArgumentParser()
    parser.add_argument("modules", nargs="*", default=list(NEAREST), metavar="MODULE")
    parser.add_argument("--most", type=int, help="try no more than so many mutants of a module, drawn by the seed")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--every", action="store_true", help="only list the mutants")
    options = parser.parse_args()
    sys.path.insert(0, str(ROOT))
    with tempfile.TemporaryDirectory() as scratch:
        os.environ["PYTEST_DEBUG_TEMPROOT"] = scratch   # where tests have their folders
        return _try(options)


def _try(options: argparse.Namespace) -> int:
    equal, wrong, table = listed(), 0, []
    for name in options.modules:
        path, began = ROOT / "imagekeeper" / f"{name}.py", time.monotonic()
        module = Module(path.read_text(encoding="utf-8"), str(path))
        mutants = list(module.mutants)
        keys = {one: (name, one.function, one.before, one.after) for one in mutants}
        for stale in sorted(key for key in equal if key[0] == name and key not in keys.values()):
            wrong += 1
            print(f"{name}: listed, but there is no such mutant: {stale[1]}: {stale[2]} -> {stale[3]}")
        if options.most is not None and len(mutants) > options.most:
            mutants = random.Random(options.seed).sample(mutants, options.most)
        left = mutants if options.every else survivors(name, module, path, mutants, options.jobs)
        changing = [one for one in left if keys[one] not in equal]
        for one in mutants:
            if keys[one] in equal and one not in left:
                wrong += 1
                print(f"imagekeeper/{name}.py:{one.line}: listed as changing nothing, but a test notices {one.after}")
        for one in changing:
            where = f"imagekeeper/{name}.py:{one.line}: {one.function or 'at the top'}"
            print(f"{where}\n  - {one.before}\n  + {one.after}")
        share, of = 100 / max(len(mutants), 1), len(left) - len(changing)
        wrong += len(changing) * share > MOST_SURVIVORS
        wrong += of * share > MOST_LISTED
        table.append(
            f"{name:24} {len(mutants):8} {len(changing):10} {len(changing) * share:7.1f} {of:8} {of * share:6.1f} "
            f"{time.monotonic() - began:6.0f}"
        )
        print(table[-1], flush=True)
    print(f"\n{'module':24} {'mutants':>8} {'survivors':>10} {'%':>7} {'listed':>8} {'%':>6} {'[s]':>6}")
    print("\n".join(table))
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
