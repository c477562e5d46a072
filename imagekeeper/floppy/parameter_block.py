"""The parameter block in the boot sector of a disk with a file allocation table (FAT): what it states, and its faults.

The standard calls the record FDC descriptor: ECMA-107, ISO/IEC 9293. Offsets of the fields: Microsoft, Q140418. Values
of the floppy disks of the PC: Microsoft, Q75131. That numbers stand low byte first is from memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

#: A sector's first bytes that hold the block, and those that hold its extension too. [byte]
BLOCK_BYTES, EXTENDED_BYTES = 36, 62

ENTRY_BYTES = 32

#: A FAT has entries of 12 bits while there are fewer clusters than this, then of 16. From memory.
FAT12_CLUSTERS = 4085


def count_clusters(
    *, sectors: int, reserved: int, fats: int, fat_sectors: int, root_sectors: int, cluster_sectors: int
) -> int:
    """Count the clusters that a disk has room for; below 0 where even its FATs and root directory find none.

    Args:
        sectors: Of the whole disk.
        reserved: Before the first FAT.
        fats: How many there are.
        fat_sectors: Of each.
        root_sectors: Of the root directory.
        cluster_sectors: Of a cluster.

    Source:
        The rule that reproduces every column for 5.25 and 3.5 inch of Microsoft, Q75131: (total - reserved - FATs
        x sectors of each - sectors of the root directory) / sectors of a cluster, rounded down. The figures which
        that article prints for 8 inch forget the root directory.

    Example:
        >>> count_clusters(sectors=720, reserved=1, fats=2, fat_sectors=2, root_sectors=7, cluster_sectors=2)
        354
    """
    return (sectors - reserved - fats * fat_sectors - root_sectors) // cluster_sectors


def sectors_for_root(entries: int, sector_bytes: int) -> int:
    """Give the sectors of a root directory of so many entries.

    Example:
        >>> sectors_for_root(112, 512)
        7
    """
    return -(-entries * ENTRY_BYTES // sector_bytes)


@dataclass(frozen=True)
class BlockFault:
    """A field that no floppy disk can have.

    Attributes:
        field: The field of `ParameterBlock`.
        says: What is wrong, with the number.
    """

    field: str
    says: str


@dataclass(frozen=True, kw_only=True)
class ParameterBlock:
    """The parameter block as it stands, nothing corrected.

    Attributes:
        jump: The first three bytes, in hexadecimal.
        creator: Eight characters of the system that formatted the disk; a dot for what is no ASCII character.
        bytes_per_sector: [byte]
        sectors_per_cluster: A power of two.
        reserved_sectors: Before the first FAT, the boot sector included.
        fats: How many FATs there are.
        root_entries: Entries of the root directory, of 32 bytes.
        small_total: Sectors of the disk in 16 bits; 0 where the large total counts.
        media: The media descriptor byte, which several formats share.
        sectors_per_fat: Of each FAT.
        sectors_per_track: How many.
        heads: How many.
        hidden_sectors: Before this disk; 0 on floppy disks. Early systems have 16 bits here, and code behind.
        large_total: Sectors of the disk in 32 bits.
        drive: 00 for a floppy disk and 80 for a fixed disk, or null without an extension.
        volume_number: Or null without an extension.
        volume_label: Or null without an extension.
        file_system: FAT12 or FAT16 where it is stated, or null without an extension.
        signature: Whether the sector ends in 55 AA at byte 510; many early disks lack it (from memory).
        faults: What cannot be; empty for a sound block.
    """

    jump: str
    creator: str
    bytes_per_sector: int
    sectors_per_cluster: int
    reserved_sectors: int
    fats: int
    root_entries: int
    small_total: int
    media: int
    sectors_per_fat: int
    sectors_per_track: int
    heads: int
    hidden_sectors: int
    large_total: int
    drive: int | None
    volume_number: int | None
    volume_label: str | None
    file_system: str | None
    signature: bool
    faults: tuple[BlockFault, ...] = ()

    @property
    def total_sectors(self) -> int:
        """Sectors of the disk: the small total, or the large one where that is 0."""
        return self.small_total or self.large_total

    @property
    def size_bytes(self) -> int:
        """[byte]."""
        return self.total_sectors * self.bytes_per_sector

    @property
    def root_sectors(self) -> int:
        """Sectors of the root directory; 0 where a sector has no size."""
        return sectors_for_root(self.root_entries, self.bytes_per_sector) if self.bytes_per_sector else 0

    @property
    def fat_start(self) -> int:
        """Where the first FAT begins. [byte]"""
        return self.reserved_sectors * self.bytes_per_sector

    @property
    def root_start(self) -> int:
        """Where the root directory begins. [byte]"""
        return self.fat_start + self.fats * self.sectors_per_fat * self.bytes_per_sector

    @property
    def data_start(self) -> int:
        """Where cluster 2 begins, which is the first. [byte]"""
        return self.root_start + self.root_sectors * self.bytes_per_sector

    @property
    def clusters(self) -> int | None:
        """Count the clusters, or None where the fields allow none.

        Example:
            >>> jump, creator = "eb3490", "494d4147454b5052"
            >>> pc_360k = bytes.fromhex(jump + creator + "0002 02 0100 02 7000 d002 fd 0200 0900 0200") + bytes(8)
            >>> read(pc_360k).clusters
            354
        """
        if not self.sectors_per_cluster:
            return None
        count = count_clusters(
            sectors=self.total_sectors, reserved=self.reserved_sectors, fats=self.fats,
            fat_sectors=self.sectors_per_fat, root_sectors=self.root_sectors, cluster_sectors=self.sectors_per_cluster,
        )  # fmt: skip
        return count if count >= 0 else None

    @property
    def cylinders(self) -> int | None:
        """Tracks of each side, or None where the sectors make no whole number of them."""
        per_cylinder = self.sectors_per_track * self.heads
        if not per_cylinder or self.total_sectors % per_cylinder:
            return None
        return self.total_sectors // per_cylinder


def read(sector: bytes) -> ParameterBlock | None:
    """Read the block at the beginning of a boot sector, whatever it says.

    Args:
        sector: The boot sector, or a longer piece of the disk.

    Returns:
        The block with its faults, or None where there are fewer bytes than a block has.

    Example:
        >>> read(bytes(512)).faults[0].says
        'a sector of 0 bytes: it should be a power of two from 128 to 4096'
        >>> read(bytes(20)) is None
        True
    """
    if len(sector) < BLOCK_BYTES:
        return None

    def number(at: int, length: int) -> int:
        return int.from_bytes(sector[at : at + length], "little")

    extended = len(sector) >= EXTENDED_BYTES and sector[38] in (0x28, 0x29)
    label = extended and sector[38] == 0x29
    stated = ParameterBlock(
        jump=sector[:3].hex(),
        creator=_text(sector[3:11]),
        bytes_per_sector=number(11, 2),
        sectors_per_cluster=sector[13],
        reserved_sectors=number(14, 2),
        fats=sector[16],
        root_entries=number(17, 2),
        small_total=number(19, 2),
        media=sector[21],
        sectors_per_fat=number(22, 2),
        sectors_per_track=number(24, 2),
        heads=number(26, 2),
        hidden_sectors=number(28, 4),
        large_total=number(32, 4),
        drive=sector[36] if extended else None,
        volume_number=number(39, 4) if extended else None,
        volume_label=_text(sector[43:54]).rstrip() if label else None,
        file_system=_text(sector[54:62]).rstrip() if label else None,
        signature=sector[510:512] == b"\x55\xaa",
    )
    return ParameterBlock(**{**stated.__dict__, "faults": tuple(_faults(stated))})


def _text(raw: bytes) -> str:
    return "".join(chr(byte) if 32 <= byte < 127 else "." for byte in raw)


def _faults(block: ParameterBlock) -> Iterator[BlockFault]:
    sector = block.bytes_per_sector
    if not 128 <= sector <= 4096 or sector & (sector - 1):
        yield BlockFault(
            "bytes_per_sector", f"a sector of {sector} bytes: it should be a power of two from 128 to 4096"
        )
    cluster = block.sectors_per_cluster
    if not 1 <= cluster <= 128 or cluster & (cluster - 1):
        yield BlockFault(
            "sectors_per_cluster", f"a cluster of {cluster} sectors: it should be a power of two from 1 to 128"
        )
    if not block.reserved_sectors:
        yield BlockFault("reserved_sectors", "no reserved sector, although this one is")
    if not 1 <= block.fats <= 2:
        yield BlockFault("fats", f"{block.fats} FATs: there should be 2, at least 1")
    if not block.root_entries:
        yield BlockFault("root_entries", "a root directory without entries")
    if not block.total_sectors:
        yield BlockFault("small_total", "a disk of 0 sectors")
    if block.small_total and block.large_total and block.small_total != block.large_total:
        yield BlockFault("large_total", f"two totals that differ: {block.small_total} and {block.large_total} sectors")
    if block.media != 0xF0 and block.media < 0xF8:
        yield BlockFault("media", f"a media byte of {block.media:02X}: it should be F0, or F8 to FF")
    if not block.sectors_per_fat:
        yield BlockFault("sectors_per_fat", "a FAT of 0 sectors")
    if not 1 <= block.sectors_per_track <= 255:
        yield BlockFault(
            "sectors_per_track", f"{block.sectors_per_track} sectors a track: it should be 1 to 255, as IDs can count"
        )
    if not 1 <= block.heads <= 2:
        yield BlockFault("heads", f"{block.heads} heads: a floppy disk has 1 or 2")
    yield from _sums(block)


def _sums(block: ParameterBlock) -> Iterator[BlockFault]:
    """Fields that exclude each other."""
    total = block.total_sectors
    used = block.reserved_sectors + block.fats * block.sectors_per_fat + block.root_sectors
    if total and used >= total:
        yield BlockFault("sectors_per_fat", f"FATs and root directory end at sector {used}, the disk has {total}")
    elif block.clusters and block.sectors_per_fat and block.bytes_per_sector:
        bits = 12 if block.clusters < FAT12_CLUSTERS else 16
        holds = block.sectors_per_fat * block.bytes_per_sector * 8 // bits
        if holds < block.clusters + 2:   # the first two entries stand for no cluster
            yield BlockFault(
                "sectors_per_fat", f"a FAT for {max(holds - 2, 0)} clusters, where the disk has {block.clusters}"
            )
    if total and block.sectors_per_track and block.heads and block.cylinders is None:
        yield BlockFault(
            "small_total", f"{total} sectors are no whole cylinders of {block.heads} x {block.sectors_per_track}"
        )
