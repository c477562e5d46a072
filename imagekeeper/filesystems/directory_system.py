"""The reader of volumes that a disk parameter block describes, given or found."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from imagekeeper.containers.model import Data
from imagekeeper.errors import UsageError
from imagekeeper.filesystems.directory_content import ProposedDivision
from imagekeeper.filesystems.directory_options import Given
from imagekeeper.filesystems.directory_parameters import DiskParameters
from imagekeeper.filesystems.directory_reading import KIND, read_volume, title_of
from imagekeeper.filesystems.directory_search import search, unusual
from imagekeeper.filesystems.model import ReadingOptions, Recognised, SectorGrid, Volume
from imagekeeper.ranked import Candidate, Evidence, rank

#: No score is higher: the disk itself states nothing of its division.
_MOST = 0.92

#: What a person says is taken at least as this.
_AS_GIVEN = 0.95


@dataclass(frozen=True)
class Found:
    """What `DirectoryReader.read` needs.

    Attributes:
        parameters: How the disk is divided.
        evidence: Why it was taken for that.
    """

    parameters: DiskParameters
    evidence: tuple[Evidence, ...]


@dataclass(frozen=True)
class DirectoryReader:
    r"""Reads volumes of 8-bit machines.

    Attributes:
        given: What is known of the disk parameter block; what is not is looked for.

    Example:
        >>> entry = b"\0TIDE    DAT" + bytes([0, 0, 0, 9, 2, 3]) + bytes(14)
        >>> entries = entry + b"\0GAUGE   DAT" + bytes([0, 0, 0, 5, 4]) + bytes(15)
        >>> text = b"".join(b"%4d m at the outer gauge\r\n" % n for n in range(90))
        >>> disk = (bytes(6656) + entries.ljust(2048, b"\xe5") + text).ljust(256256, b"\xe5")
        >>> best = DirectoryReader().recognise(disk, None)[0].answer
        >>> best.title, best.detail.parameters.text
        ('directory of an 8-bit machine (block=1024,directory=64,reserved=2)', 'block=1024,directory=64,reserved=2')
        >>> [file.name for file in DirectoryReader().read(disk, best, ReadingOptions()).entries]
        ['TIDE.DAT', 'GAUGE.DAT']
    """

    given: Given = field(default_factory=Given)

    @property
    def name(self) -> str:
        """The name by which `Recognised` refers to it."""
        return KIND

    def recognise(
        self, data: Data, grid: SectorGrid | None, others: Callable[[], Sequence[SectorGrid]] = tuple
    ) -> Sequence[Candidate[Recognised]]:
        """Say how the volume may be divided, best first.

        Args:
            data: The whole of the volume.
            grid: The geometry of the disk, or None.
            others: Gives geometries that it may have, beside those that its size tells; asked where there is none.

        Raises:
            UsageError: `usage`, where what is given cannot be, or does not say which of several.
        """
        found = search(data, grid, self.given, others)
        if not found:
            if self.given.any:
                raise self._impossible(len(data), grid)
            return ()
        best = found[0].weight
        return rank(self._candidate(one, best) for one in found)

    def read(self, data: Data, found: Recognised, how: ReadingOptions) -> Volume:
        """Read what was recognised; damage is answered by findings."""
        detail = found.detail
        assert isinstance(detail, Found)
        return read_volume(data, detail.parameters, how, found.grid or how.grid, detail.evidence)

    def _candidate(self, one: ProposedDivision, best: float) -> Candidate[Recognised]:
        evidence = tuple(sorted(one.evidence, key=lambda item: -abs(item.weight)))
        score = _MOST * max(1 - math.exp(-one.weight / 4), 0.0) * 2.0 ** (one.weight - best)
        if self.given.any:
            said = Evidence("it is what was said of the disk parameter block", 5.0)
            evidence, score = (said, *evidence), max(score, _AS_GIVEN * 2.0 ** (one.weight - best))
        title = title_of(one.parameters)
        answer = Recognised(
            reader=self.name, kind=KIND, title=title, detail=Found(one.parameters, evidence), grid=one.frame.grid,
            weight=one.weight, gives=one.gives, unusual=tuple(odd.says for odd in unusual(one.parameters, self.given)),
        )  # fmt: skip
        return Candidate(answer, round(score, 4), evidence)

    def _impossible(self, size: int, grid: SectorGrid | None) -> UsageError:
        given = self.given
        if given.track is None and grid is None and given.records is None:
            return UsageError("usage/sectors-unknown", size=size)
        return UsageError("usage/no-directory")
