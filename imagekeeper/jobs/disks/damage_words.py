"""What damage to a disk means, in words: the verdict, the tracks to read again, and what else was hit."""

from __future__ import annotations

from collections.abc import Sequence

from imagekeeper.filesystems.damage_model import DiskDamage, HurtArea, HurtSpare, HurtStretch, HurtTrack
from imagekeeper.units import plural, ranges

#: With more stretches of cylinders than this, only the first and the last are told.
_STRETCHES = 10

#: What an area is for, by the beginning of its name.
_AREAS = {
    "boot sector": "how the disk is divided stands here, and the start of a machine from it",
    "root directory": "names, sizes and places of files stand here: a file may be missing from this list",
    "directory": "names, sizes and places of files stand here: a file may be missing from this list",
}

_SPARE = {
    "free": "harmless: no file has them",
    "marked-bad": "harmless: the file system itself marks them as bad and never uses them",
    "unowned": "harmless: behind the end of a file, or outside every volume",
}

_SPARE_NAMES = {"free": "free space", "marked-bad": "marked bad", "unowned": "in no file"}


def verdict(damage: DiskDamage, *, recognised: bool, listed: bool, heads: int) -> str:
    """Conclude which files are hurt, and what to read again.

    Args:
        damage: What the damage means.
        recognised: Whether a file system was found.
        listed: Whether a list of bad sectors was given.
        heads: How many sides the disk has.

    Example:
        >>> nothing = DiskDamage(files=3, hurt_files=(), areas=(), spare=(), tracks=())
        >>> verdict(nothing, recognised=True, listed=True, heads=2)
        'None of 3 files is hurt: the list names no sector that is not good.'
    """
    needed = [one for one in damage.tracks if one.purpose != "spare"]
    again = f"; read again {read_again(needed, heads)}" if needed else ""
    if not recognised:
        if again:
            return f"No file system is recognised, so that no file can be named{again}."
        return "No file system is recognised, and nothing says that a sector is not good."
    hurt = _hurt(damage)
    names = list(dict.fromkeys(one.name if "FAT" in one.name else f"the {one.name}" for one in damage.areas))
    areas = _and(names)
    also = f"; so {'is' if len(names) == 1 else 'are'} {areas}" if areas else ""
    if hurt:
        return f"{hurt}{also}{again}."
    if areas:
        return f"No file is hurt itself, but the file system is: {areas}{again}."
    whole = f"None of {plural(damage.files, 'file')}" if damage.files else "No file"
    if damage.spare:
        count = sum(one.sectors for one in damage.spare)
        return f"{whole} is hurt: {plural(count, 'sector is', 'sectors are')} not good, in no file."
    if listed:
        return f"{whole} is hurt: the list names no sector that is not good."
    return f"{whole} shows damage by itself; only a list of bad sectors or a second read could tell more."


def _hurt(damage: DiskDamage) -> str:
    files = sum(one.kind == "file" for one in damage.hurt_files)
    directories = len(damage.hurt_files) - files
    if not damage.hurt_files:
        return ""
    told = [f"{files} of {plural(damage.files, 'file')}"] if files else []
    told += [plural(directories, "directory", "directories")] if directories else []
    verb = "is" if files + directories == 1 else "are"
    states = {stretch.state for one in damage.hurt_files for stretch in one.stretches}
    return f"{' and '.join(told)} {verb} {'perhaps ' if states == {'filled'} else ''}hurt"


def read_again(tracks: Sequence[HurtTrack], heads: int) -> str:
    """Name tracks by cylinder and side, in the order in which the heads move over the disk once.

    Example:
        >>> tracks = [
        ...     HurtTrack(cylinder=at, head=1, sectors=(1,), purpose="files", mends=(), helps=()) for at in (12, 31, 32)
        ... ]
        >>> print(read_again(tracks, 2), "or", read_again(tracks, 1))
        cylinders 12 and 31-32, side 1 or cylinders 12 and 31-32
    """
    sides: dict[int, list[int]] = {}
    for one in tracks:
        sides.setdefault(one.head, []).append(one.cylinder)
    told = {side: ranges(cylinders) for side, cylinders in sides.items()}
    if sum(words.count(",") + 1 for words in told.values()) > _STRETCHES:
        first, last = tracks[0].cylinder, tracks[-1].cylinder
        return f"{len(tracks)} tracks of cylinders {first} to {last}, as listed"
    if heads == 2 and len(told) == 2 and len(set(told.values())) == 1:
        return f"{_cylinders(next(iter(told.values())))}, both sides"
    return "; ".join(
        _cylinders(words) + (f", side {side}" if heads > 1 else "") for side, words in sorted(told.items())
    )


def _cylinders(words: str) -> str:
    return f"cylinder{'' if words.isdecimal() else 's'} {_and(words.split(', '))}"


def _and(names: Sequence[str]) -> str:
    return " and ".join(filter(None, [", ".join(names[:-1]), *names[-1:]]))


def gives(track: HurtTrack) -> str:
    """Say what is to be had by reading a track again.

    Example:
        >>> gives(HurtTrack(cylinder=3, head=0, sectors=(2,), purpose="files", mends=("TIDE.LOG",), helps=("GAUGE",)))
        'mends TIDE.LOG; a part of GAUGE'
    """
    more = f" and {track.left_out} more" if track.left_out else ""
    told = [f"mends {', '.join(track.mends)}"] if track.mends else []
    told += [f"a part of {', '.join(track.helps)}"] if track.helps else []
    return "; ".join(told) + more or "what lies there is not known"


def area_means(area: HurtArea) -> str:
    """Say what it means that an area is hurt."""
    if area.twin_whole is not None:
        twin = "another copy is whole there" if area.twin_whole else "no other copy is: files may be made up wrongly"
        return f"where files lie stands here; {twin}"
    return _AREAS.get(area.name, "the file system's own")


def spare_means(spare: HurtSpare) -> str:
    """Say what kind of space it is, and that no file is the worse for it."""
    count = f"{plural(spare.sectors, 'sector')} on {plural(spare.tracks, 'track')}"
    return f"{_SPARE_NAMES[spare.kind]}: {count}; {_SPARE[spare.kind]}"


def stretch_words(stretch: HurtStretch) -> str:
    """Name a stretch by its place and state.

    Example:
        >>> stretch_words(HurtStretch(at=0, length=512, state="filled", cylinder=3, head=0, sectors=(2,)))
        '3/0/2 perhaps not read'
    """
    words = {"filled": "perhaps not read", "lost": "has no place"}.get(stretch.state, stretch.state)
    return words if stretch.cylinder is None else f"{stretch.place} {words}"
