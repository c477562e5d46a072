"""The commands `files ...`: what is on a disk image."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from imagekeeper.cli import _shell
from imagekeeper.filesystems.directory_options import formerly
from imagekeeper.floppy.arrangement import SIDE_ORDERS
from imagekeeper.jobs.disks.checking_files import check_files
from imagekeeper.jobs.disks.extracting_files import extract_files
from imagekeeper.jobs.disks.listing_files import list_files
from imagekeeper.jobs.disks.looking_into import Look
from imagekeeper.jobs.disks.mapping_sectors import map_sectors
from imagekeeper.jobs.disks.merging_sectors import merge_files
from imagekeeper.jobs.images.loading import Options
from imagekeeper.present.text import disks

Command = TypeVar("Command", bound=Callable[..., Any])


@click.group()
def files() -> None:
    """List, take out and check the files on a disk image; say which are hurt; merge reads by sector.

    The image is only read. File systems with a file allocation table (FAT12, FAT16, FAT32) and the directories of
    earlier systems are found by what the disk says; hard disks are looked through partition by partition.
    """


def looking_options(command: Command) -> Command:
    """Add the options of every command of the group; the command receives them as one `look`."""

    def gathered(*args: Any, partition: int | None, code_page: str, bad_sectors: str | None, sides_from: Any,
                 geometry: str | None, parameter_block: str | None, interleave: int | None, deleted: bool = False,
                 **rest: Any) -> Any:  # fmt: skip
        for old, new in (formerly(parameter_block) if parameter_block is not None else {}).items():
            _shell.warn(f"{old}= is called {new}= since; it is understood all the same")
        look = Look(
            partition=partition, deleted=deleted, code_page=code_page, bad_sectors=bad_sectors, sides_from=sides_from,
            geometry=geometry, parameter_block=parameter_block, interleave=interleave,
        )  # fmt: skip
        return command(*args, look=look, **rest)

    return _shell.with_options(command, gathered, (
        click.option(
            "--geometry", metavar="GEOMETRY|FORMAT",
            help="Cylinders, heads, sectors and bytes, such as 615x4x17x512, or the name of a format, where the disk "
            "does not state them.",
        ),
        click.option(
            "--parameter-block", metavar="TEXT",
            help="How the disk of an 8-bit machine is divided, as far as you know it: block=1024,directory=64,"
            "reserved=2,skew=6, or the 15 bytes of its disk parameter block in hexadecimal. What is left out is looked "
            "for.",
        ),
        click.option(
            "--sides-from", type=click.Choice(tuple(SIDE_ORDERS)),
            help="The order of the two sides in the file, where they do not alternate.",
        ),
        click.option(
            "--interleave", type=click.IntRange(1, 62), metavar="N",
            help="The sectors of a hard disk stand as they lie on it, the next number N places on: put them in order.",
        ),
        click.option(
            "--bad-sectors", metavar="FILE.csv",
            help="A list of bad sectors, cylinder,head,sector,state, or of stretches, start,length,state in bytes: "
            "files that one touches are marked.",
        ),
        click.option(
            "--code-page", default="cp437", show_default=True, metavar="NAME", help="The code of file names."
        ),
        click.option("--partition", type=click.IntRange(1, 96), metavar="N", help="Look into this partition alone."),
    ))  # fmt: skip


_deleted = click.option("--deleted", is_flag=True, help="Also give what is marked deleted; its content is a guess.")


@files.command("list", epilog="Example: imagekeeper files list survey.img --where")
@click.argument("image", metavar="IMAGE")
@click.option("--where", is_flag=True, help="Say where each file lies: bytes, and cylinder/head/sector.")
@_deleted
@looking_options
@_shell.reading_options
@_shell.json_option
def list_(image: str, where: bool, look: Look, options: Options, as_json: bool) -> int:
    """List what is on a disk image, and say whether a machine could start from it.

    Times are those of the clock of the machine that wrote the disk, without a zone; where the file system counts by
    two seconds they are even. The exit code is 1 when nothing is recognised or something is wrong.
    """
    return _shell.show(list_files(image, options, look), lambda r: disks.file_list_text(r, where=where), as_json)


@files.command(epilog="Example: imagekeeper files extract survey.img -o survey '*.LOG'")
@click.argument("image", metavar="IMAGE")
@click.argument("names", nargs=-1, metavar="[NAME]...")
@click.option("-o", "--output", required=True, metavar="FOLDER", help="The folder to write to; it may be there.")
@click.option("--text", is_flag=True, help="Cut every file at its first end mark, the byte 1A.")
@_deleted
@looking_options
@_shell.reading_options
@_shell.json_option
def extract(
    image: str, names: tuple[str, ...], output: str, text: bool, look: Look, options: Options, as_json: bool
) -> int:
    """Take files out of a disk image into FOLDER: all, or those that NAMEs name.

    A NAME is a path or a name as the list shows it, in either case of letters; * and ? stand for anything, and a
    directory for all that is in it. Nothing is overwritten: a file whose name is taken, or not safe on this computer,
    gets another, and is reported. The disk is checked first: the exit code is 1 when a file is not complete, shares
    bytes with another one, holds what readers leave in a sector that they did not get, or is named by another finding,
    and when one concerns the disk as a whole. What can be had is written all the same.
    """
    result = extract_files(image, output, names, options, look, text=text, progress=_shell.bar)
    return _shell.show(result, disks.file_extraction_text, as_json)


@files.command(epilog="Example: imagekeeper files check survey.img")
@click.argument("image", metavar="IMAGE")
@looking_options
@_shell.reading_options
@_shell.json_option
def check(image: str, look: Look, options: Options, as_json: bool) -> int:
    """Check the file systems on a disk image; the image is never changed.

    Looked for are lost and shared clusters, chains that end badly, sizes that disagree with their chains, copies of
    the FAT that differ, and records that cannot be. The exit code is 1 when there is something.
    """
    return _shell.show(check_files(image, options, look), disks.file_check_text, as_json)


@files.command("map", epilog="Example: imagekeeper files map survey.img --bad-sectors bad.csv -o survey.svg")
@click.argument("image", metavar="IMAGE")
@click.option("-o", "--output", metavar="OUT.svg", help="Draw it as well: the picture to write.")
@click.option("--force", is_flag=True, help="Replace OUT.svg if it is there.")
@looking_options
@_shell.reading_options
@_shell.json_option
def map_(image: str, output: str | None, force: bool, look: Look, options: Options, as_json: bool) -> int:
    """Say which files of a disk image are hurt, and which tracks to read again for them.

    Each hurt file is shown from its first byte to its last, with the sectors that are not good; then the tracks to read
    again, with what each would mend, in the order in which the heads move over the disk once; then the damage to the
    file system's own area, and the damage that no file is the worse for. Without a list of bad sectors, only what files
    hold is looked at.
    """
    from imagekeeper.present.svg import damage_picture  # slow to load, and most calls want no picture
    from imagekeeper.present.text import damage  # the same

    result = map_sectors(image, output, options, look, draw=damage_picture.draw, force=force)
    return _shell.show(result, damage.sector_map_text, as_json)


@files.command(epilog="Example: imagekeeper files merge r1.img r2.img --bad-sectors b1.csv --bad-sectors - -o d.img")
@click.argument("reads", nargs=-1, required=True, metavar="READ READ...")
@click.option("-o", "--output", required=True, metavar="OUT", help="The image to write, as a raw file.")
@click.option(
    "--bad-sectors", "lists", multiple=True, metavar="FILE.csv",
    help="The list of bad sectors of a read: once for each in order, - for a read without one.",
)  # fmt: skip
@click.option("--list-to", metavar="FILE.csv", help="Write the list of sectors that are still not good.")
@click.option("--geometry", metavar="GEOMETRY|FORMAT", help="Such as 80x2x9x512, where the disk does not state it.")
@click.option("--force", is_flag=True, help="Replace what is there.")
@_shell.reading_options
@_shell.json_option
def merge(
    reads: tuple[str, ...], output: str, lists: tuple[str, ...], list_to: str | None, geometry: str | None, force: bool,
    options: Options, as_json: bool,
) -> int:  # fmt: skip
    """Merge several READs of one damaged disk, sector by sector.

    A sector is taken from a read that got it well. Where two such reads differ the majority decides, and without one
    the sector stays disputed. A sector of nothing but fill never outvotes content, unless a list that came with its
    read says that it was read well, or every read's file system leaves the sector free. The exit code is 1 when a
    sector is still not good.
    """
    result = merge_files(
        reads, output, options, lists=lists, geometry=geometry, list_to=list_to, force=force
    )
    return _shell.show(result, disks.disk_merge_text, as_json)
