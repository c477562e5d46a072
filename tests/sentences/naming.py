"""Tell whether a text names a command or an option of the command line."""

from __future__ import annotations

import re
from functools import cache

import click

from imagekeeper.cli import COMMANDS, root

#: The mark in an archive's own file, which only looks like a command.
_NO_COMMAND = {"imagekeeper archive"}


@cache
def _form() -> re.Pattern[str]:
    with click.Context(root) as context:
        found = {name: root.get_command(context, name) for name in COMMANDS}
    groups = {name: command for name, command in found.items() if isinstance(command, click.Group)}
    pairs = [f"{name} {sub}" for name, group in groups.items() for sub in group.commands]
    commands = "|".join(COMMANDS)
    return re.compile(
        rf"(?<![\w-])--[a-z]|\bimagekeeper (?:{commands})\b|`(?:{commands})\b|\b(?:{'|'.join(pairs)})\b"
        r"|\bwith (?:hexdump|fingerprint|inspect|selfcheck)\b|(?<![\w-])-o\b"
    )


def naming(text: str) -> bool:
    """Whether a text names a command or an option.

    Example:
        >>> naming("see `imagekeeper chip list`"), naming("see the list of chips")
        (True, False)
    """
    return text not in _NO_COMMAND and _form().search(text) is not None
