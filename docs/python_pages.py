"""The pages on the public door: one a name, from its signature and docstring, and one with the scripts."""

from __future__ import annotations

import ast
import inspect
import re
import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import imagekeeper

EXAMPLES = Path(__file__).parent / "examples"

#: The scripts in the order of the page.
SCRIPTS = (
    "compare_reads", "vote_reads", "list_fingerprints", "which_chip", "look_into_disk", "which_drive", "keep_carrier",
    "not_independent", "verify_archive", "burn_sheet", "in_memory",
)  # fmt: skip

SCRIPTS_HEAD = (
    "# Scripts\n\nEach begins in a folder with the invented files that `imagekeeper demo --files .` makes, and the "
    "script itself. What they print here is what they printed when this page was made.\n"
)

#: The names by what they are for.
GROUPS = {
    "Images": ("read", "open_image", "encode", "convert", "Image"),
    "Reads": ("compare", "vote", "vote_image", "inspect", "selfcheck", "fingerprint", "hexdump"),
    "Own rows": ("own_rows", "check_rows"),
    "Chips": ("find_chip", "list_chips", "narrow_chip", "substitute", "plan_chip"),
    "Disks": ("find_format", "list_formats", "solve", "match_drives", "open_disk", "plan_disk"),
    "The archive": ("Archive",),
    "Results": ("text", "to_json", "svg", "html"),
    "Errors": (
        "ImagekeeperError", "ContradictionError", "UsageError", "InputError", "ArchiveError", "NotFoundError",
    ),
    "The version": ("__version__",),
}  # fmt: skip

#: Examples for what is not defined for the door alone, whose docstrings speak to those who work inside.
SHOWN = {
    "Image": """
        >>> import imagekeeper
        >>> image = imagekeeper.read(b":02000000544961\\n:0200080044456D\\n:00000001FF\\n")
        >>> image.size_bytes, image.first_address, image.end_address
        (4, 0, 10)
        >>> image.gaps
        (Span(start=2, length=6),)
        >>> image.filled(0xFF).tobytes()
        b'TI\\xff\\xff\\xff\\xff\\xff\\xffDE'
        """,
    "ImagekeeperError": """
        >>> import imagekeeper
        >>> try:
        ...     imagekeeper.read("nothing.bin")
        ... except imagekeeper.ImagekeeperError as problem:
        ...     print(problem.code, problem.what, problem.why, problem.hint, problem.where, sep="\\n")
        not-found
        there is no such file
        nothing is called nothing.bin
        check the spelling and the folder
        nothing.bin
        """,
    "ContradictionError": """
        >>> import imagekeeper
        >>> try:
        ...     imagekeeper.plan_chip(b"TIDE" * 1000, "u4.bin", "2716")
        ... except imagekeeper.ContradictionError as problem:
        ...     print(problem.code)
        does-not-fit
        """,
    "UsageError": """
        >>> import imagekeeper
        >>> try:
        ...     imagekeeper.compare(b"TIDE")
        ... except imagekeeper.UsageError as problem:
        ...     print(problem.code, problem.why, sep=": ")
        usage: 1 read was given
        """,
    "InputError": """
        >>> import imagekeeper
        >>> try:
        ...     imagekeeper.read(b":0400000054494445D5\\n:00000001FF\\n")
        ... except imagekeeper.InputError as problem:
        ...     print(problem.code, problem.where, sep=": ")
        record-sum: image, line 1
        """,
    "ArchiveError": """
        >>> import imagekeeper, pathlib
        >>> archive = imagekeeper.Archive.create("harbour", title="Harbour office")
        >>> mark = pathlib.Path("harbour/archive.json")
        >>> _ = mark.write_text(mark.read_text()[:40])
        >>> try:
        ...     imagekeeper.Archive("harbour")
        ... except imagekeeper.ArchiveError as problem:
        ...     print(problem.code)
        archive-damaged
        """,
    "NotFoundError": """
        >>> import imagekeeper
        >>> try:
        ...     imagekeeper.find_chip("TG85")
        ... except imagekeeper.NotFoundError as problem:
        ...     print(problem.code)
        chip-unknown
        """,
    "__version__": """
        >>> import imagekeeper
        >>> imagekeeper.__version__.count(".")
        2
        """,
}


def pages() -> dict[str, str]:
    """Every page but that of the scripts, by its file name; the examples are not run yet."""
    found = {f"{_file_of(name)}.md": _page(name) for name in imagekeeper.__all__}
    return found | {"index.md": _index()}


def _file_of(name: str) -> str:
    """Give a file name that differs also where capitals do not matter: archive and Archive."""
    return name.strip("_")


def _index() -> str:
    rows = []
    for title, names in GROUPS.items():
        rows.append(f"\n## {title}\n\n| name | what it does |\n| --- | --- |")
        rows += [f"| [`{name}`]({_file_of(name)}.md) | {_first_line(name)} |" for name in names]
    links = "\n".join(["scripts", *(_file_of(name) for names in GROUPS.values() for name in names)])
    return (
        "# The public door\n\n`import imagekeeper` gives these names, and a program needs no others. Each is loaded "
        "when it is first used. What is promised of them stands in [What stays](../../explanation/what-stays.md); "
        "whole programs in [Scripts](scripts.md).\n\nIn the signatures a `Source` is a path (`str` or `os.PathLike`), "
        "the bytes of a file, or an `Image`; a `Place` is a path. Bytes are never a path, and `-` is a file of that "
        "name. Results are frozen: nothing of them changes after they were given.\n"
        + "\n".join(rows) + f"\n\n```{{toctree}}\n:hidden:\n\n{links}\n```\n"
    )


def _first_line(name: str) -> str:
    return _docstring(name).partition("\n")[0].replace("|", "\\|")


def _docstring(name: str) -> str:
    if name == "__version__":
        return "The version, as three numbers with points between them."
    return inspect.getdoc(getattr(imagekeeper, name)) or ""


def _page(name: str) -> str:
    thing = getattr(imagekeeper, name)
    parts = [f"# {name}\n"]
    if name != "__version__":
        shown = thing.__init__ if inspect.isclass(thing) and name == "Archive" else thing
        if inspect.isfunction(shown):
            parts.append(f"```text\nimagekeeper.{_signature(name, shown)}\n```\n")
    parts += _sections(_docstring(name), SHOWN.get(name))
    parts += _result(thing)
    if inspect.isclass(thing) and not issubclass(thing, Exception):
        parts += _members(thing, examples=name == "Archive")
    if name == "open_disk":
        from imagekeeper.door.disk_files import DiskView

        parts += ["## DiskView\n", *_sections(inspect.getdoc(DiskView) or "", None), *_members(DiskView, examples=True)]
    return "\n".join(parts)


def _result(function: Any) -> Iterator[str]:
    """Tell what stands in the result of a function."""
    if not inspect.isfunction(function):
        return
    said = str(inspect.signature(function).return_annotation)
    result = eval(said, inspect.unwrap(function).__globals__)   # noqa: S307  the annotation of our own function
    if inspect.isclass(result) and hasattr(result, "__dataclass_fields__") and result is not imagekeeper.Image:
        yield f"## {result.__name__}\n"
        yield from _sections(inspect.getdoc(result) or "", None)
        if hasattr(result, "SCHEMA"):
            yield f"It is the document `{result.SCHEMA}` of [JSON documents](../json.md).\n"


def _members(cls: type, *, examples: bool) -> Iterator[str]:
    for name, member in vars(cls).items():
        if name.startswith("_"):
            continue
        shown = None if examples else ""
        plain = member.__func__ if isinstance(member, classmethod) else member
        if isinstance(plain, property):
            yield f"## {cls.__name__}.{name}\n"
            yield from _sections(inspect.getdoc(plain) or "", shown)
        elif inspect.isfunction(plain):
            yield f"## {cls.__name__}.{name}\n"
            yield f"```text\n{cls.__name__}.{_signature(name, plain)}\n```\n"
            yield from _sections(inspect.getdoc(plain) or "", shown)


def _signature(name: str, function: Any) -> str:
    """Write a signature, an argument a line where they do not fit on one."""
    signature = inspect.signature(function)
    arguments, star = [], False
    for one in signature.parameters.values():
        if one.name in ("self", "cls"):
            continue
        star = star or one.kind is one.VAR_POSITIONAL
        if one.kind is one.KEYWORD_ONLY and not star:
            arguments.append("*")
            star = True
        mark = "*" if one.kind is one.VAR_POSITIONAL else ""
        default = "" if one.default is one.empty else f" = {one.default!r}"
        arguments.append(f"{mark}{one.name}: {one.annotation}{default}")
    back = "" if name == "__init__" or signature.return_annotation in (None, "None") else signature.return_annotation
    shown = "Archive" if name == "__init__" else name
    tail = f" -> {re.sub(r'^Iterator', 'context manager of ', back) if _is_context(function) else back}" if back else ""
    line = f"{shown}({', '.join(arguments)}){tail}"
    return line if len(line) < 90 else f"{shown}(\n" + "".join(f"    {one},\n" for one in arguments) + f"){tail}"


def _is_context(function: Any) -> bool:
    return hasattr(function, "__wrapped__") and inspect.isgeneratorfunction(function.__wrapped__)


_SECTION = re.compile(r"^(Args|Attributes|Returns|Raises|Example|Source|Sources|Yields):$", re.MULTILINE)


def _sections(doc: str, example: str | None) -> Iterator[str]:
    """Turn a docstring into Markdown."""
    head, *rest = _SECTION.split(doc)
    yield head.strip() + "\n"
    for title, text in zip(rest[::2], rest[1::2], strict=True):
        plain = textwrap.dedent(text.strip("\n")).rstrip()
        if title == "Example":
            if example is None:
                yield f"```python\n{plain}\n```\n"
        elif title in ("Args", "Attributes", "Raises"):
            yield f"{'Arguments' if title == 'Args' else title}:\n\n{_items(plain)}\n"
            if title == "Args" and re.search(r"^steps:", plain, re.MULTILINE):
                yield f"The steps:\n\n{_steps()}\n"
        else:
            yield f"{title}: {' '.join(plain.split())}\n"
    if example:
        yield f"```python\n{textwrap.dedent(example).strip()}\n```\n"


def _items(text: str) -> str:
    """Turn `name: what it is` with indented further lines into a list."""
    joined = re.sub(r"\n +", " ", text)
    lines = []
    for line in joined.splitlines():
        name, colon, about = line.partition(": ")
        lines.append(f"- `{name}`: {about}" if colon and re.fullmatch(r"\w+", name) else f"- {line}")
    return "\n".join(line for line in lines if not line.startswith("- `steps`"))


def _steps() -> str:
    from imagekeeper.door.steps import Steps

    text = (inspect.getdoc(Steps) or "").partition("Attributes:")[2]
    return _items(textwrap.dedent(text.strip("\n")))


def section(name: str, source: str) -> str:
    """One script with the session that runs it; `py`, because it is that session that runs it."""
    about, session = told(source)
    body = source.partition('"""\n\n')[2].strip()
    return f"## {name}.py\n\n{about}\n\n```py\n{body}\n```\n\n```console\n{session}\n```\n"


def told(source: str) -> tuple[str, str]:
    """Give what a script's docstring says, and the session that it shows."""
    about, _, session = (ast.get_docstring(ast.parse(source)) or "").partition("\n\n")
    return " ".join(about.split()), textwrap.dedent(session)
