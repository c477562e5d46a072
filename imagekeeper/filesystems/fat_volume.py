"""The reader of volumes with a file allocation table: FAT12, FAT16 and FAT32."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from imagekeeper.containers.model import Data
from imagekeeper.filesystems import fat32_block, fat_layout, fat_names
from imagekeeper.filesystems.booting import boot_sector_evidence, judge, system_area_evidence
from imagekeeper.filesystems.fat_check import check
from imagekeeper.filesystems.fat_entries import entries_of, runs, stretches
from imagekeeper.filesystems.fat_layout import FatLayout
from imagekeeper.filesystems.fat_problems import reading_problems
from imagekeeper.filesystems.fat_tables import settled
from imagekeeper.filesystems.model import Area, ReadingOptions, Recognised, SectorGrid, Volume
from imagekeeper.filesystems.problems import Problems
from imagekeeper.ranked import Candidate


class FatReader:
    """Reads FAT12, FAT16 and FAT32, from disks with a parameter block and from early ones without."""

    name = "fat"

    def recognise(
        self, data: Data, grid: SectorGrid | None, others: Callable[[], Sequence[SectorGrid]] = tuple
    ) -> Sequence[Candidate[Recognised]]:
        """See `FileSystemReader.recognise`."""
        return fat_layout.recognise(data, grid)

    def read(self, data: Data, found: Recognised, how: ReadingOptions) -> Volume:
        """See `FileSystemReader.read`.

        Raises:
            UsageError: `unknown-name` for a code page that is none.
        """
        layout = found.detail
        assert isinstance(layout, FatLayout)
        page = fat_names.check_code_page(how.code_page)
        problems = Problems(how.start)
        table, tree = settled(data, layout, page, problems, deleted=how.deleted)
        reading_problems(tree, problems, full=how.check)
        if how.check:
            check(tree, problems)
        entries = entries_of(tree, how.start, problems)
        in_root = (node for node in tree.nodes[1:] if not node.parent and not node.deleted)
        root_names = [node.record.name for node in in_root if node.record is not None]
        sector = data[: min(layout.sector_bytes, 512)]
        wide, block = layout.wide, layout.block
        evidence = [*boot_sector_evidence(sector, root_names, *(() if wide is None else (fat32_block.CODE_AT,)))]
        if wide is None:   # those of FAT32 are never blank: they hold figures, and a copy of the boot sector
            reserved = data[layout.sector_bytes : min(layout.fat_start(0), layout.sector_bytes + (1 << 20))]
            weighed = system_area_evidence("the reserved sectors behind it", reserved)
            evidence += [one for one in weighed if one.weight > 0]
        label = tree.labels[0].name if tree.labels else None
        number = wide.volume_number if wide is not None else None if block is None else block.volume_number
        return Volume(
            kind=found.kind,
            title=found.title,
            start=how.start,
            length=layout.length,
            unit_bytes=layout.cluster_bytes,
            units=layout.clusters,
            free_units=table.entries.count(0) - table.entries[:2].count(0),
            entries=entries,
            areas=tuple(_areas(layout, how.start, tree.nodes[0].clusters)),
            free=stretches(layout, how.start, table, 0, problems),
            marked_bad=stretches(layout, how.start, table, table.bad, problems),
            grid=how.grid or found.grid,
            label=None if label is None else fat_names.text_of(label, page).rstrip(),
            serial=None if number is None else f"{number >> 16:04X}-{number & 0xFFFF:04X}",
            code_page=page,
            parameters=_parameters(layout),
            boot=judge(evidence),
            findings=problems.found(),
        )


def _areas(layout: FatLayout, start: int, root: Iterable[int]) -> list[Area]:
    areas = [Area("boot sector", start, layout.sector_bytes)]
    if layout.reserved_sectors > 1:
        areas.append(
            Area("reserved sectors", start + layout.sector_bytes, (layout.reserved_sectors - 1) * layout.sector_bytes)
        )
    areas += [Area(f"FAT {i + 1}", start + layout.fat_start(i), layout.fat_bytes) for i in range(layout.fats)]
    if layout.wide is None:
        areas.append(Area("root directory", start + layout.root_start, layout.data_start - layout.root_start))
    size = layout.cluster_bytes
    areas += [
        Area("root directory", start + layout.start_of(first), count * size) for first, count in runs(sorted(root))
    ]
    return areas


def _parameters(layout: FatLayout) -> dict[str, object]:
    block = layout.block
    return {
        "bytes_per_sector": layout.sector_bytes, "sectors_per_cluster": layout.cluster_sectors,
        "reserved_sectors": layout.reserved_sectors, "fats": layout.fats, "sectors_per_fat": layout.fat_sectors,
        "root_entries": layout.root_entries, "total_sectors": layout.total_sectors, "media": f"{layout.media:02X}",
        "from": "parameter block" if block is not None else layout.format,
        "creator": None if block is None else block.creator,
        "hidden_sectors": None if block is None else block.hidden_sectors,
        **({} if layout.wide is None else {"root_cluster": layout.wide.root_cluster}),
    }  # fmt: skip
