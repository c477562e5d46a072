"""What is asked before something odd is recorded: a person at a terminal, or else whether it was insisted upon."""

from __future__ import annotations

import sys

import click

from imagekeeper.cli._shell import Command
from imagekeeper.jsonable import one_line
from imagekeeper.provenance.facts import Answer, Decide, OddFact, insist, refuse

#: What a person answers, and what becomes of the name.
_ANSWERS: dict[str, Answer] = {"same": "near", "another": "keep"}


def really_option(command: Command) -> Command:
    """Add --really."""
    return click.option(
        "--really", is_flag=True,
        help="Record also what cannot be so, or looks like a slip of a known name; it is shown as insisted upon.",
    )(command)  # fmt: skip


def decider(really: bool) -> Decide:
    """Give who decides about what is odd: --really everything; a person at a terminal about names; else nobody."""
    if really:
        return insist
    return _asked if at_terminal() else refuse


def at_terminal() -> bool:
    """Whether somebody is there to be asked."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def _asked(fact: OddFact) -> Answer:
    if fact.near is None:   # what cannot be is no question: whoever means it says so with --really
        return "refuse"
    click.echo(f"imagekeeper: {one_line(str(fact.says))}", err=True)
    sort = fact.says.values.get("what", "machine")
    answer = click.prompt(
        f"  is this the same {sort} as {one_line(fact.near)!r}? same records the older spelling, another this one",
        type=click.Choice(list(_ANSWERS)), err=True,
    )  # fmt: skip
    return _ANSWERS[answer]
