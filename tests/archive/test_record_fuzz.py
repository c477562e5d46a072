"""Four hundred spoilt records, all digests right again; `tests/benchmarks/record_fuzz.py` makes more by hand."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.benchmarks.record_fuzz import Bench, Findings, in_processes

pytestmark = pytest.mark.long

#: Cases of each of the parts, which can run on cores of their own; in each something is taken in.
CASES, PARTS = 100, (1, 101, 201, 401)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    with pytest.MonkeyPatch.context() as patch:
        folder = tmp_path_factory.mktemp("fuzz")
        patch.chdir(folder)
        for name in ("IMAGEKEEPER_CACHE", "COLUMNS", "HOME"):
            patch.setenv(name, "")   # what the bench sets is taken back at the end
        yield Bench(folder)


@pytest.fixture
def bench(made: Bench) -> Bench:
    made.found = Findings()
    made.again()
    return made


@pytest.mark.parametrize("first", PARTS)
def test_no_record_stops_a_command(bench: Bench, first: int) -> None:
    for seed in range(first, first + CASES):
        bench.case(seed, every=False)
    assert bench.found.failures == []
    assert bench.found.cases == CASES
    assert bench.found.taken >= 1, "what still fits, and follows from the reads, is taken in"
    assert bench.found.refused > 10, "what does not is set aside"


def test_no_record_stops_any_command(bench: Bench) -> None:
    bench.case(7, every=True)
    assert bench.found.failures == []


def test_as_a_process_it_is_the_same(bench: Bench) -> None:
    assert in_processes(1, 11, bench) == 0


def test_the_fuzzer_sees_a_fault(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """A check that could not fail would prove nothing."""
    def broken(*_: object, **__: object) -> None:
        raise KeyError("spoilt")

    monkeypatch.setattr("imagekeeper.jobs.archive.checking.list_carriers", broken)
    bench.seed, bench.poison = 1, None   # type: ignore[assignment]
    bench.command("carrier list", "harbour")
    assert "KeyError" in bench.found.failures[0]
