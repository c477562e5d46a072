"""Evidence from the parameter block in the boot sector.

Rule: the block states sector size, sectors of a track, heads and total. Where it is sound it outweighs how usual a
shape is; where it contradicts the size of the file, both stand as proposals. Source of fields: Microsoft, Q140418. How
much each weighs: our judgement.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from imagekeeper.floppy.parameter_block import ParameterBlock, read
from imagekeeper.geometry.media import says_media
from imagekeeper.geometry.proposals import HEADER_LIMIT, Proposal, against_size
from imagekeeper.geometry.shapes import Shape, shapes, usual_cylinders
from imagekeeper.ranked import Evidence

#: Without these fields nothing on the disk can be found, so the bytes are no block.
_NEEDED = ("bytes_per_sector", "sectors_per_cluster", "reserved_sectors", "fats", "root_entries", "media")

#: Beyond these no floppy drive goes. Common practice, no source.
_MOST_CYLINDERS = 100


def sound(block: ParameterBlock | None) -> bool:
    """Whether bytes are a parameter block at all: chance passes these fields once in a million sectors."""
    return (
        block is not None and not any(fault.field in _NEEDED for fault in block.faults)
        and bool(block.sectors_per_fat and block.total_sectors and block.sectors_per_track and block.clusters)
    )  # fmt: skip


def block_at(data: bytes, start: int) -> ParameterBlock | None:
    """Read the block of a disk that begins at `start`, or None where there is no sound one."""
    block = read(data[start : start + 512])
    return block if sound(block) else None


def for_fixed_disk(block: ParameterBlock) -> bool:
    """Whether the block was made as for a fixed disk, so that its heads and sectors mean nothing here.

    Some formatting programs do so for floppy disks whose size they do not know: media byte F8 and drive 80, with more
    heads and sectors of no floppy disk. The one-sided disk of 80 tracks has that byte too, and its block means what it
    states: a block that states a shape of the table is believed.
    """
    if block.media != 0xF8 or block.drive != 0x80:
        return False
    stated = (block.cylinders, block.heads, block.sectors_per_track, block.bytes_per_sector)
    return all((s.cylinders, s.heads, s.sectors, s.sector_bytes) != stated for s in shapes())


def headers(data: bytes, found: tuple[Proposal, ...]) -> Iterator[Proposal]:
    """Where a file has a few bytes too many, see whether they stand in front: a block begins behind them."""
    for one in found:
        if 0 < one.extra <= HEADER_LIMIT and not block_at(data, 0) and block_at(data, one.extra):
            says = f"a parameter block begins at byte {one.extra}: what stands before is a header"
            yield replace(one, start=one.extra).because(Evidence(says, 3.0))
        else:
            yield one


def proposed(block: ParameterBlock, size: int) -> Iterator[Proposal]:
    """Propose the shape that the block states, if a floppy drive could hold it."""
    if block.cylinders is None or not 1 <= block.cylinders <= _MOST_CYLINDERS or block.heads > 2:
        return
    if for_fixed_disk(block):
        return
    stated = (block.cylinders, block.heads, block.sectors_per_track, block.bytes_per_sector)
    in_table = [s for s in shapes() if (s.cylinders, s.heads, s.sectors, s.sector_bytes) == stated]
    candidates = in_table or [
        Shape(
            cylinders=block.cylinders, heads=block.heads, sectors=block.sectors_per_track,
            sector_bytes=block.bytes_per_sector, track=track,
        )
        for track in sorted({track for track, _ in usual_cylinders()}, key=lambda track: track.bytes)
        if track.holds(block.sectors_per_track, block.bytes_per_sector)
    ][:1]
    for shape in candidates:
        says = Evidence("the parameter block states this shape", 1.0)
        one = Proposal(shape=shape, evidence=(says,))
        off = size - shape.bytes
        yield against_size(one, size) or replace(one, short=max(-off, 0), extra=max(off, 0)).because(
            Evidence(f"the file has {size} bytes, this shape {shape.bytes}", -7.0)
        )


def weigh(one: Proposal, data: bytes) -> Iterator[Evidence]:
    """Weigh what the block states against a shape."""
    block = block_at(data, one.start)
    if block is None:
        return
    shape, sector = one.shape, block.bytes_per_sector
    if sector != shape.sector_bytes:
        yield Evidence(f"the parameter block states sectors of {sector} bytes", -6.0)
        return
    if for_fixed_disk(block):
        says = f"the parameter block states sectors of {sector} bytes; its heads and sectors are those of a fixed disk"
        yield Evidence(says, 2.0)
        return
    stated = f"{block.heads} x {block.sectors_per_track} sectors of {sector} bytes, {block.total_sectors} in all"
    pairs = (("heads", block.heads, shape.heads), ("sectors", block.sectors_per_track, shape.sectors))
    wrong = [f"{value} {name}" for name, value, mine in pairs if value != mine]
    if wrong:
        yield Evidence(f"the parameter block states {' and '.join(wrong)}", -4.0 * len(wrong))
    elif block.size_bytes == shape.bytes:
        yield Evidence(f"the parameter block states this shape: {stated}", 8.0)
    else:
        yield Evidence(f"the parameter block states as many heads and sectors, but {block.total_sectors} in all", 2.0)
    yield from says_media(block.media, shape)
    first = data[one.start + block.fat_start : one.start + block.fat_start + 1]
    if first and first[0] != block.media:
        yield Evidence(f"the FAT begins with {first[0]:02X}, the parameter block states {block.media:02X}", -1.0)
