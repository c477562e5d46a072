"""The model of damage to a disk: hurt files, areas and tracks, and what is spare."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from imagekeeper.filesystems.model import EntryKind
from imagekeeper.units import ranges

#: What may be wrong with a stretch, the gravest first.
HurtState = Literal["lost", "missing", "bad", "doubtful", "filled"]

#: What each state means.
HURT_STATES: dict[HurtState, str] = {
    "lost": "has no place on the disk, or lies behind the end of the image",
    "missing": "not found: the image holds fill in its place",
    "bad": "read, and its check value is wrong",
    "doubtful": "read, but only after many tries, or not twice alike",
    "filled": "holds what formatting or a reader leaves: perhaps it was never read",
}

#: For what a track is read again; the first that holds is said.
TrackPurpose = Literal["files", "system", "unknown", "spare"]

@dataclass(frozen=True, kw_only=True)
class HurtStretch:
    """A part of a file, or of the file system's own area, that is hurt: on one track, of one state.

    Attributes:
        at: Where it begins in the file or area. [byte]
        length: Its size. [byte]
        state: missing, bad or doubtful, as the list says; filled, where it holds what readers leave; or lost, which has
            no place on the disk.
        cylinder: Where it lies, or null.
        head: Where it lies, or null.
        sectors: Where it lies, in the order of the file.
    """

    at: int
    length: int
    state: HurtState
    cylinder: int | None = None
    head: int | None = None
    sectors: tuple[int, ...] = ()

    @property
    def place(self) -> str:
        """Where it lies, as cylinder/head/sectors.

        Example:
            >>> HurtStretch(at=0, length=1024, state="bad", cylinder=12, head=1, sectors=(3, 4)).place
            '12/1/3-4'
        """
        return "nowhere" if self.cylinder is None else f"{self.cylinder}/{self.head}/{ranges(self.sectors)}"


@dataclass(frozen=True, kw_only=True)
class HurtFile:
    """A file or directory that damage is in.

    Attributes:
        path: As the list of files has it.
        kind: file or directory.
        partition: The number of its partition, or null.
        size_bytes: Its size. [byte]
        hurt_bytes: How much of it is hurt. [byte]
        stretches: Where, in the order of the file; of very many the first thousand.
        left_out: How many more there are.
    """

    path: str
    kind: EntryKind
    partition: int | None
    size_bytes: int
    hurt_bytes: int
    stretches: tuple[HurtStretch, ...]
    left_out: int = 0


@dataclass(frozen=True, kw_only=True)
class HurtArea:
    """A part of the file system's own that damage is in.

    Attributes:
        name: Which: boot sector, FAT 1, root directory.
        partition: The number of its partition, or null.
        size_bytes: Its size. [byte]
        hurt_bytes: How much of it is hurt. [byte]
        twin_whole: Of a FAT: whether another copy is whole wherever this one is hurt; else null.
        stretches: Where; of very many the first thousand.
        left_out: How many more there are.
    """

    name: str
    partition: int | None
    size_bytes: int
    hurt_bytes: int
    twin_whole: bool | None
    stretches: tuple[HurtStretch, ...]
    left_out: int = 0


@dataclass(frozen=True, kw_only=True)
class HurtTrack:
    """A track with sectors that are not good.

    Attributes:
        cylinder: Counted from 0.
        head: Counted from 0.
        sectors: Those that are not good, as the disk numbers them, ascending.
        purpose: What is to be had by reading it again: files; system, for the file system's own area; unknown, where no
            file system says what lies there; spare, where no file has anything.
        mends: Files and areas that are hurt on this track alone.
        helps: Files and areas that are hurt on others as well.
        left_out: How many more names there are.
    """

    cylinder: int
    head: int
    sectors: tuple[int, ...]
    purpose: TrackPurpose
    mends: tuple[str, ...] = ()
    helps: tuple[str, ...] = ()
    left_out: int = 0


@dataclass(frozen=True, kw_only=True)
class HurtSpare:
    """Damage that no file is the worse for.

    Attributes:
        kind: free, by the file system; marked-bad, which it never uses; unowned: behind the end of a file, or outside
            every volume.
        sectors: How many.
        tracks: On how many tracks.
    """

    kind: Literal["free", "marked-bad", "unowned"]
    sectors: int
    tracks: int


@dataclass(frozen=True, kw_only=True)
class DiskDamage:
    """What damage to a disk means.

    Attributes:
        files: How many the disk has.
        hurt_files: Those that are hurt, directories as well, in the order of the directories.
        areas: What is hurt of the file systems' own areas.
        spare: What harms no file.
        tracks: All tracks with sectors that are not good, in the order in which the heads move over the disk once; of
            very many the first 4096, those that files or areas need before all others.
        tracks_left_out: How many more there are.
    """

    files: int
    hurt_files: tuple[HurtFile, ...]
    areas: tuple[HurtArea, ...]
    spare: tuple[HurtSpare, ...]
    tracks: tuple[HurtTrack, ...]
    tracks_left_out: int = 0
