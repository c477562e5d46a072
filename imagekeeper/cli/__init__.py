"""The command line: every command parses, calls one job, and shows what it gave."""

from __future__ import annotations

import functools
import importlib
import sys
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import click

from imagekeeper.errors import EXIT_CODES
from imagekeeper.version import __version__

if TYPE_CHECKING:
    from imagekeeper.sentences.says import Says

#: Commands by name: the module that holds them, and the line for the list. Modules are loaded when they are called.
COMMANDS: dict[str, tuple[str, str]] = {
    "fingerprint": ("fingerprint", "Take size, sums, CRC-32 and digests of images."),
    "hexdump": ("hexdump", "Show an image's bytes, alone or against another's."),
    "inspect": ("inspect", "Tell what one image says of itself: faults, content, hints."),
    "compare": ("compare", "Tell whether independent reads agree, and where they differ."),
    "vote": ("vote", "Write the majority of three or more reads, and list what is disputed."),
    "selfcheck": ("selfcheck", "Find a ROM's built-in checks, and whether they hold."),
    "convert": ("convert", "Convert between containers; pad, trim, split, join, swap, reorder."),
    "chip": ("chip", "Look up memory chips: sizes, pins, voltages."),
    "floppy": ("floppy", "Work out what a disk is, how it is recorded, and which drive can write it."),
    "table": ("own_tables", "Keep own rows: chips, drives and disks that the tables lack or have wrong."),
    "plan": ("plan", "Plan a replacement: the file for the device, and the sheet for the bench."),
    "files": ("files", "List, take out and check the files on a disk image."),
    "machine": ("machines", "Keep what is known of one computer or instrument."),
    "carrier": ("carriers", "Keep what is known of one chip or disk: add, read, agree, show, list."),
    "search": ("search", "Find carriers by words, digests, or an image that may be kept already."),
    "archive": ("archives", "Make, check, copy, repair and hand on the archive."),
    "report": ("report", "Write pages about the archive: the collection, machines, carriers."),
    "label": ("label", "Write a sheet of labels for chips and disks."),
    "demo": ("demo", "Show the whole job on invented data, in a scratch folder."),
}


class LazyGroup(click.Group):
    """A group that loads a command's module only when that command is used."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Name the commands in the order of the job, not of the alphabet."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Load one command."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"imagekeeper.cli.{COMMANDS[cmd_name][0]}")
        command = getattr(module, cmd_name)
        assert isinstance(command, click.Command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Suggest the nearest name for one that is wrong."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            import difflib  # slow to load: only for a name that is not known

            near = self._whole_names(ctx, args[0]) or difflib.get_close_matches(args[0], COMMANDS, n=1)
            meant = f"; did you mean {' or '.join(map(repr, near))}?" if near else ""
            ctx.fail(f"there is no command {args[0]!r}{meant}")
        return super().resolve_command(ctx, args)

    def _whole_names(self, ctx: click.Context, name: str) -> list[str]:
        """Find the groups that have a command of this name, such as `carrier list` for `list`."""
        groups = ((group, self.get_command(ctx, group)) for group in COMMANDS)
        return [f"{group} {name}" for group, held in groups if isinstance(held, click.Group) and name in held.commands]

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without loading them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, about) for name, (_, about) in COMMANDS.items()])
        with formatter.section("Exit codes"):
            formatter.write_dl([(str(code), meaning) for code, meaning in EXIT_CODES.items()])


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, message="imagekeeper %(version)s")
def root(**_: Any) -> None:
    """Read, prove and keep the memory chips and floppy disks of old computers and instruments.

    Every command takes --help, which shows a real example, and most take --json, which writes one JSON document
    for programs.
    """


def _own_words() -> Mapping[str, Says]:
    from imagekeeper.cli.next_steps import NEXT  # when something has to be said, and not before

    return NEXT


def _command_meant(arguments: Sequence[str]) -> click.Context:
    """Follow the names of commands at the beginning of a command line as far as they go."""
    context = click.Context(root, info_name="imagekeeper")
    for name in arguments:
        group = context.command
        command = group.get_command(context, name) if isinstance(group, click.Group) else None
        if command is None:
            break
        context = click.Context(command, parent=context, info_name=name)
    return context


def run(arguments: Sequence[str]) -> int:
    """Run one command line and give its exit code; nothing is ever raised.

    Args:
        arguments: What follows the program's name.
    """
    from imagekeeper.cli import _shell, _terminal  # slow to load, and whoever takes the list of commands does without
    from imagekeeper.cli._own_rows import own_rows
    from imagekeeper.own import supplied
    from imagekeeper.sentences import voice

    _shell.open_missing_streams()
    with voice.speaking(_own_words), _terminal.gated(), supplied(functools.cache(own_rows)):
        try:
            answer = root.main(args=list(arguments), prog_name="imagekeeper", standalone_mode=False)
            sys.stdout.flush()
            return answer if isinstance(answer, int) else 0
        except (SystemExit, BrokenPipeError):   # click leaves so when whoever reads our output has seen enough: | head
            _shell.drop_output()
            return 0
        except (Exception, KeyboardInterrupt) as problem:
            if isinstance(problem, click.UsageError) and problem.ctx is None:   # click forgets it for a missing value
                problem.ctx = _command_meant(arguments)
            return _shell.report(problem, as_json=_shell.wants_json(arguments))
