"""What is on a disk: its volumes, the entries of their directories, the bytes of its files."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from imagekeeper.containers.manner import Repeated
from imagekeeper.door.arguments import check_typed
from imagekeeper.door.sources import Place, Source, among, given, named, options
from imagekeeper.errors import NotFoundError, Where
from imagekeeper.filesystems.model import Entry, Volume
from imagekeeper.findings import Finding
from imagekeeper.floppy.arrangement import SideOrder
from imagekeeper.jobs.disks.extracting_files import FileExtraction, extract_seen, file_blocks
from imagekeeper.jobs.disks.listing_files import FileList, listed
from imagekeeper.jobs.disks.looking_into import Look, OpenDisk, looked_into


class DiskView:
    """A disk that was looked into, good while its `with` block lasts; `open_disk` gives it.

    Attributes:
        says: The conclusion in a sentence.
        volumes: What was read, one a file system.
        entries: The files and directories of all volumes.
        findings: What is wrong.
        listing: All of that as one frozen result.
    """

    def __init__(self, seen: OpenDisk, look: Look) -> None:
        self._seen = seen
        self.listing: FileList = listed(seen, look)
        self.says: str = self.listing.says
        self.volumes: tuple[Volume, ...] = self.listing.volumes
        self.entries: tuple[Entry, ...] = tuple(entry for volume in self.volumes for entry in volume.entries)
        self.findings: tuple[Finding, ...] = self.listing.findings

    def read(self, name: str | Entry) -> bytes:
        """Give a file's bytes, zeros for what is missing of it.

        Args:
            name: An entry, or a name or path of a file as the disk has it; capitals do not matter.

        Raises:
            NotFoundError: `not-found`: nothing on the disk has that name, or several files have.
        """
        if not isinstance(name, Entry):
            check_typed("name", name, str)
        held = [(volume, one) for volume in self.volumes for one in volume.entries]
        if isinstance(name, Entry):
            found = [(volume, one) for volume, one in held if one == name]
        else:
            wanted = name.strip("/").upper()
            found = [(volume, one) for volume, one in held if one.path.upper() == wanted]
            found = found or [(volume, one) for volume, one in held if one.path.upper().endswith(f"/{wanted}")]
        asked, place = name if isinstance(name, str) else name.path, Where(file=self._seen.file.name)
        if len(found) != 1:
            raise NotFoundError("not-found/not-one-file", name=asked, files=len(found), where=place)
        if found[0][1].kind != "file":
            raise NotFoundError("not-found/is-a-directory", name=asked, where=place)
        return b"".join(file_blocks(self._seen, *found[0]))

    def extract(self, folder: Place, *names: str, text: bool = False) -> FileExtraction:
        """Write files into a folder, under safe names, with their times; nothing that is there is written over.

        Args:
            folder: Where to; it is made if it is not there.
            names: Which files and directories, also with `*` and `?`; all without any.
            text: Cut every file at its first end mark, the byte 1A: texts of some systems end there.

        Raises:
            NotFoundError: `not-found` for a name that nothing has.
            UsageError: The folder cannot be written.
        """
        return extract_seen(self._seen, named(folder), names, text=text)


@contextmanager
def open_disk(
    source: Source, *, partition: int | None = None, deleted: bool = False, check: bool = False,
    code_page: str = "cp437", bad_sectors: Place | None = None, sides_from: SideOrder | None = None,
    geometry: str | None = None, parameter_block: str | None = None, container: str | None = None,
    member: str | None = None, keep_doubtful: bool = False, repeated: Repeated = "refuse", fill: int | None = None,
) -> Iterator[DiskView]:  # fmt: skip
    """Look into a disk image: its volumes, the entries of their directories, the bytes of its files.

    The image is never written to.

    Args:
        source: A path, the bytes of a file, or an image.
        partition: Read this partition alone, or None for all.
        deleted: Also give what is marked deleted.
        check: Look for everything that can be wrong.
        code_page: The code of names.
        bad_sectors: A file that lists bad sectors.
        sides_from: The order of sides in the image; alternating without it.
        geometry: A geometry such as 40x2x9x512, or the name of a format; found without it.
        parameter_block: How the disk of an 8-bit machine is divided, as far as it is known; found without it.
        container: The kind to take the source as, instead of finding it.
        member: Which file of a zip file.
        keep_doubtful: Take what the file itself speaks against.
        repeated: Which value counts where a file gives an address several: `first`, `last`, or `refuse`.
        fill: The byte that closes gaps.

    Raises:
        NotFoundError: There is no such file, or no such partition.
        InputError: The file cannot be understood, or has gaps.
        UsageError: What is said of the disk does not fit it.

    Example:
        >>> import imagekeeper
        >>> with imagekeeper.open_disk(bytes(368640)) as disk:
        ...     print(disk.says, disk.entries)
        No file system is recognised. ()
    """
    how = options(source, container=container, member=member, keep_doubtful=keep_doubtful, repeated=repeated, fill=fill)
    if sides_from is not None:
        among("sides_from", sides_from, SideOrder)
    look = Look(
        partition=partition, deleted=deleted, check=check, code_page=code_page,
        bad_sectors=None if bad_sectors is None else named(bad_sectors), sides_from=sides_from, geometry=geometry,
        parameter_block=parameter_block,
    )  # fmt: skip
    with looked_into(given(source), how, look) as seen:
        yield DiskView(seen, look)
