"""The documentation covers the program, and the program its lists of codes."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import click
import pytest

from imagekeeper import errors, findings
from imagekeeper.cli import COMMANDS, root
from tests.sentences.calls import calls

ROOT = Path(__file__).parent.parent
SOURCE = "\n".join(p.read_text("utf-8") for p in sorted((ROOT / "imagekeeper").rglob("*.py")))

#: The codes of all sentences that some call says.
SAID = {key.partition("/")[0] for call in calls() for key in call.keys}


@pytest.mark.long
def test_nothing_generated_is_out_of_date() -> None:
    done = subprocess.run(
        [sys.executable, ROOT / "docs" / "generate.py", "--check"], capture_output=True, text=True, check=False,
        env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"},
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr


def all_commands() -> list[tuple[str, click.Command]]:
    found: list[tuple[str, click.Command]] = []
    context = click.Context(root)
    for name in COMMANDS:
        command = root.get_command(context, name)
        assert command is not None
        found += leaves(name, command)
    return found


def leaves(name: str, command: click.Command) -> list[tuple[str, click.Command]]:
    if not isinstance(command, click.Group):
        return [(name, command)]
    return [leaf for inner, below in command.commands.items() for leaf in leaves(f"{name} {inner}", below)]


@pytest.mark.parametrize(("name", "command"), all_commands())
def test_every_command_shows_an_example_and_explains_every_option(name: str, command: click.Command) -> None:
    assert command.help
    assert (command.epilog or "").startswith(f"Example: imagekeeper {name}")
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            assert parameter.help, parameter.name
    assert "as_json" in {p.name for p in command.params}


@pytest.mark.parametrize("code", sorted(errors.CODES))
def test_every_error_code_is_used(code: str) -> None:
    assert code in SAID or len(re.findall(f'"{code}"', SOURCE)) >= 2, "listed, but never raised"


@pytest.mark.parametrize("code", sorted(findings.CODES))
def test_every_finding_code_is_used(code: str) -> None:
    assert code in SAID or len(re.findall(f'"{code}"', SOURCE)) >= 2, "listed, but never found"


def test_links_between_pages_lead_somewhere() -> None:
    pages = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").rglob("*.md")]
    for page in pages:
        for target in re.findall(r"\]\(([^)#:]+)\)", page.read_text("utf-8")):
            assert (page.parent / target).exists(), f"{page.name}: {target}"
