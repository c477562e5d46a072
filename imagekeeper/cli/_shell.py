"""What every command shares: options, --json, errors to exit codes, colour, progress bars."""

from __future__ import annotations

import os
import re
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import Any, TypeVar

import click

from imagekeeper import containers, files, units
from imagekeeper.cli._terminal import beneath, paint
from imagekeeper.containers.manner import Repeated
from imagekeeper.errors import ImagekeeperError
from imagekeeper.jobs.images.loading import Options
from imagekeeper.jsonable import dumps, one_line, to_json
from imagekeeper.legible import shortened
from imagekeeper.present.text.paper import Paper, set_on
from imagekeeper.progress import Advance

Command = TypeVar("Command", bound=Callable[..., Any])

INTERRUPTED = 130

#: No sentence of a message becomes longer; the JSON document has it whole. [characters]
LONGEST_SENTENCE = 1000

#: A bar appears when a person has waited this long. [s]
PATIENCE = 0.5


def json_option(command: Command) -> Command:
    """Add --json."""
    return click.option("--json", "as_json", is_flag=True, help="Write one JSON document instead of text.")(command)


def with_options(command: Command, gathered: Callable[..., Any], options: Sequence[Callable[[Any], Any]]) -> Command:
    """Put a function around a command that gathers several options into one value, and add these options to it.

    Args:
        command: The command.
        gathered: Takes the options by their names, and calls the command with what it makes of them.
        options: From click; the last of them stands first in the help.
    """
    gathered.__name__, gathered.__doc__ = command.__name__, command.__doc__
    # click collects the options of a function in this attribute
    gathered.__click_params__ = getattr(command, "__click_params__", [])  # type: ignore[attr-defined]
    for option in options:
        option(gathered)
    return gathered  # type: ignore[return-value]  # the same command, for click


def reading_options(command: Command) -> Command:
    """Add the options of every command that takes image files: how they are to be taken.

    The command receives them as one `options`.
    """

    def gathered(
        *args: Any, kind: str | None, member: str | None, keep_doubtful: bool, repeated: Repeated, fill: int | None,
        **rest: Any,
    ) -> Any:
        options = Options(
            kind=kind, member=member, keep_doubtful=keep_doubtful, repeated=repeated, fill=fill,
            stdin=sys.stdin.buffer, patience=_patience(),
        )
        return command(*args, options=options, **rest)

    return with_options(command, gathered, (
        click.option(
            "--fill", type=BYTE, metavar="BYTE", help="Close gaps with this byte, such as FF. Gaps stay gaps otherwise."
        ),
        click.option(
            "--keep-doubtful", is_flag=True,
            help="Import what the file speaks against, and record the doubtful addresses.",
        ),
        click.option(
            "--repeated", type=click.Choice(("refuse", "first", "last")), default="refuse", metavar="CHOICE",
            help="Which value counts where a file gives an address several: first, last, or refuse (the default).",
        ),
        click.option("--member", metavar="NAME", help="Which file of a zip file."),
        click.option(
            "--from", "kind", type=click.Choice(containers.NAMES), metavar="KIND",
            help="Take the files as this kind of container instead of finding it: "
            + ", ".join(containers.NAMES) + ".",
        ),
    ))  # fmt: skip


def _patience() -> float:
    """How many times the usual time a file may take, as the environment says: for slow machines."""
    text = os.environ.get("IMAGEKEEPER_PATIENCE", "")
    if not text:
        return 1.0
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 1 <= value <= 1e6:
        raise click.UsageError(f"IMAGEKEEPER_PATIENCE is {text!r}; it must be a number from 1, such as 10")
    return value


class _Parsed(click.ParamType[int]):
    """A parameter that one of the functions in `units` understands."""

    def __init__(self, name: str, parse: Callable[[str], int]) -> None:
        self.name = name
        self._parse = parse

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        if isinstance(value, int):
            return value
        try:
            return self._parse(value)
        except ValueError as problem:
            self.fail(str(problem), param, ctx)


BYTE = _Parsed("byte", units.parse_byte)
ADDRESS = _Parsed("address", units.parse_address)
SIZE = _Parsed("size", units.parse_size)

#: What naming the maker of a chip is good for.
MAKER_HELP = (
    "Who made it: only its figures then. Where another maker's voltage could destroy it, none is given without."
)


def volts(text: str) -> tuple[float | None, ...]:
    """Read supply voltages, one a read, with - where one is not known.

    Raises:
        UsageError: `usage`: one is no supply voltage.

    Example:
        >>> volts("4.5,-,5.25 V")
        (4.5, None, 5.25)
    """
    from imagekeeper.provenance.reads import check_vcc  # only where voltages are given

    return tuple(None if part.strip() == "-" else float(check_vcc(part)) for part in text.split(","))


def show(result: Any, text: Callable[[Any], str], as_json: bool) -> int:
    """Write a result as text or as its JSON document, and give its exit code."""
    if as_json:
        write_json(result)
    else:
        with on_terminal():
            write(text(result))
    return int(getattr(result, "exit_code", 0))


@contextmanager
def on_terminal() -> Iterator[None]:
    """Set the texts that are made inside for the terminal: its width, and colour where it is wanted."""
    with set_on(Paper(_columns(), paint)):
        yield


def _columns() -> int:
    """Tell how wide lines may be: as the terminal, as far as lines of that width can be read. [column]

    COLUMNS, which a shell sets, counts more than what the terminal says. `shutil` asks the same, and loads a dozen
    modules for it.
    """
    asked = os.environ.get("COLUMNS", "")
    columns = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 6 else 0
    if columns == 0:
        with suppress(AttributeError, ValueError, OSError):   # no terminal, or one that is closed
            columns = os.get_terminal_size(sys.__stdout__.fileno()).columns   # type: ignore[union-attr]
    return max(min(columns or 100, 110), 40)


def write(text: str) -> None:
    """Write lines to standard output, whatever it can encode."""
    click.echo(text, color=True)   # `paint` decides about colour


def write_json(document: Any) -> None:
    """Write one JSON document to standard output, so that it can be parsed whatever the output can encode."""
    text = dumps(document)
    try:
        text.encode(sys.stdout.encoding or "utf-8")
    except UnicodeEncodeError:
        text = dumps(document, ascii_only=True)
    write(text)


def write_file(text: str, path: str, *, force: bool) -> None:
    """Write what was drawn or set, whole or not at all; the job has looked at the place before it began."""
    files.write_whole(path, [text.encode()], force=force)


def warn(text: str) -> None:
    """Write a warning to standard error."""
    click.echo(f"imagekeeper: {_line(text)}", err=True)


def wants_json(arguments: Sequence[str]) -> bool:
    """Whether --json is among the arguments, for errors that come before they are parsed."""
    before = list(arguments)
    if "--" in before:
        before = before[: before.index("--")]
    return "--json" in before


def report(problem: BaseException, *, as_json: bool) -> int:
    """Tell the user what went wrong, and give the exit code."""
    if isinstance(problem, click.exceptions.Exit):
        return problem.exit_code
    if isinstance(problem, (click.exceptions.Abort, KeyboardInterrupt)):
        return _tell(
            "interrupted", "interrupted", "the command was stopped from the keyboard", "start it again",
            None, INTERRUPTED, as_json,
        )  # fmt: skip
    if isinstance(problem, click.exceptions.NoArgsIsHelpError) and not as_json:
        problem.show()
        return 2
    if isinstance(problem, click.ClickException):
        context = getattr(problem, "ctx", None)
        path = context.command_path if context else "imagekeeper"
        return _tell(
            "usage", _plain(problem.format_message()), "the command line does not fit the command",
            f"{path} --help shows its options and an example", None, 2, as_json,
        )  # fmt: skip
    if isinstance(problem, ImagekeeperError):
        return _tell(
            problem.code, problem.what, problem.why, problem.hint, problem.where, problem.exit_code, as_json
        )
    if isinstance(problem, OSError):
        return _tell(
            "cannot-write", "the operating system refused something", f"it says: {problem.strerror or problem}",
            "look at the free space and the permissions of where this was to write", None, 2, as_json,
        )  # fmt: skip
    if os.environ.get("IMAGEKEEPER_TRACEBACK"):
        import traceback  # only where somebody asks for it

        traceback.print_exception(problem)
    return _tell(
        "internal", "the program met something it was not built for", f"{type(problem).__name__}: {problem}",
        "this is a fault of imagekeeper: please report it, with the command and, if you can, the file; "
        "IMAGEKEEPER_TRACEBACK=1 shows where it happened", None, 3, as_json,
    )  # fmt: skip


def _plain(message: str) -> str:
    r"""Say what click says of a command line on one line, and in words of the bench.

    Example:
        >>> _plain("Missing argument 'KIND'. Choose from:\n\tchip,\n\tmaker.")
        "Missing argument 'KIND'. Choose from: chip, maker"
        >>> _plain("Invalid value for '--ranges': 'lots' is not a valid integer range.")
        "Invalid value for '--ranges': 'lots' is not a whole number"
    """
    text = " ".join(message.split()).rstrip(".")
    for kind, said in (("integer", "a whole number"), ("float", "a number")):
        text = re.sub(rf" is not a valid {kind}(?: range)?$", f" is not {said}", text)
    return text


def _tell(code: str, what: str, why: str, hint: str, where: Any, exit_code: int, as_json: bool) -> int:
    if as_json:
        document = {"schema": "error/1", "code": code, "what": what, "why": why, "hint": hint, "where": to_json(where)}
        with suppress(OSError):
            write_json(document)
            return exit_code
        drop_output()   # there is no room even for the error: people at least are told
    lines = [f"imagekeeper: {paint(_line(what), 'bad', err=True)}", f"  why:   {_line(why)}"]
    if where is not None and str(where):
        lines.append(f"  where: {_line(str(where))}")
    lines.append(f"  next:  {_line(hint)}")
    for line in lines:
        with suppress(OSError):
            click.echo(line, err=True, color=True)
    try:
        sys.stdout.flush()
    except OSError:
        drop_output()
    return exit_code


def _line(words: str) -> str:
    """Put a sentence of a message on one line; names that nobody can read to their end lose their middle."""
    return shortened(one_line(words), LONGEST_SENTENCE)


@contextmanager
def bar(label: str, total: int) -> Iterator[Advance]:
    """Show a progress bar on a terminal, once a person has waited long enough to want one."""
    if not sys.stderr.isatty():
        yield lambda done: None
        return
    started, waiting, shown = time.monotonic(), 0, None

    def advance(done: int) -> None:
        nonlocal waiting, shown
        waiting += done
        if shown is None and time.monotonic() - started > PATIENCE:
            from tqdm import tqdm  # slow to load, and short work shows no bar

            shown = tqdm(
                total=total or None, desc=shortened(one_line(label), 60), unit="B", unit_scale=True, unit_divisor=1024,
                leave=False, file=beneath(sys.stderr),   # the bar moves the cursor, which the gate would not let pass
            )
        if shown is not None:
            shown.update(waiting)
            waiting = 0

    try:
        yield advance
    finally:
        if shown is not None:
            shown.close()


def open_missing_streams() -> None:
    """Give the program all three streams, also when it was started with some of them closed (`>&-`)."""
    if sys.stdin is None:
        sys.stdin = open(os.devnull)   # noqa: SIM115  it lives as long as the program
    if sys.stdout is None:
        sys.stdout = open(os.devnull, "w")   # noqa: SIM115
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w")   # noqa: SIM115


def drop_output() -> None:
    """Send what is still to be written nowhere, so that the interpreter does not stumble over it when it ends."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
