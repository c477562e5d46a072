"""The reader of volumes with a file allocation table: FAT12 and FAT16."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from imagekeeper.containers.model import Data
from imagekeeper.filesystems import fat_layout, fat_names
from imagekeeper.filesystems.booting import boot_sector_evidence, judge, system_area_evidence
from imagekeeper.filesystems.fat_check import check
from imagekeeper.filesystems.fat_entries import entries_of, runs
from imagekeeper.filesystems.fat_layout import FatLayout
from imagekeeper.filesystems.fat_problems import reading_problems
from imagekeeper.filesystems.fat_table import FatTable
from imagekeeper.filesystems.fat_tables import settled
from imagekeeper.filesystems.model import Area, Extent, ReadingOptions, Recognised, SectorGrid, Volume
from imagekeeper.filesystems.problems import Problems
from imagekeeper.ranked import Candidate


class FatReader:
    """Reads FAT12 and FAT16, from disks with a parameter block and from early ones without."""

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
        entries = entries_of(tree, how.start)
        in_root = (node for node in tree.nodes[1:] if not node.parent and not node.deleted)
        root_names = [node.record.name for node in in_root if node.record is not None]
        sector = data[: min(layout.sector_bytes, 512)]
        evidence = [*boot_sector_evidence(sector, root_names)]
        reserved = data[layout.sector_bytes : layout.fat_start(0)]
        evidence += [one for one in system_area_evidence("the reserved sectors behind it", reserved) if one.weight > 0]
        label = tree.labels[0].name if tree.labels else None
        block = layout.block
        number = block.volume_number if block is not None else None
        return Volume(
            kind=found.kind,
            title=found.title,
            start=how.start,
            length=layout.length,
            unit_bytes=layout.cluster_bytes,
            units=layout.clusters,
            free_units=sum(1 for value in table.entries[2:] if value == 0),
            entries=entries,
            areas=tuple(_areas(layout, how.start)),
            free=_extents(layout, how.start, table, 0),
            marked_bad=_extents(layout, how.start, table, table.bad),
            grid=how.grid or found.grid,
            label=None if label is None else fat_names.text_of(label, page).rstrip(),
            serial=None if number is None else f"{number >> 16:04X}-{number & 0xFFFF:04X}",
            code_page=page,
            parameters=_parameters(layout),
            boot=judge(evidence),
            findings=problems.found(),
        )


def _extents(layout: FatLayout, start: int, table: FatTable, value: int) -> tuple[Extent, ...]:
    """Give the clusters whose entry has a value."""
    size = layout.cluster_bytes
    clusters = [cluster for cluster, entry in enumerate(table.entries) if entry == value and cluster >= 2]
    return tuple(Extent(start + layout.start_of(first), count * size) for first, count in runs(clusters))


def _areas(layout: FatLayout, start: int) -> list[Area]:
    areas = [Area("boot sector", start, layout.sector_bytes)]
    if layout.reserved_sectors > 1:
        areas.append(
            Area("reserved sectors", start + layout.sector_bytes, (layout.reserved_sectors - 1) * layout.sector_bytes)
        )
    areas += [Area(f"FAT {i + 1}", start + layout.fat_start(i), layout.fat_bytes) for i in range(layout.fats)]
    areas.append(Area("root directory", start + layout.root_start, layout.data_start - layout.root_start))
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
    }  # fmt: skip
