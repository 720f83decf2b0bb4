"""Help is read without what commands work with, and says the same as with it."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from plumbstar.cli import COMMANDS, group
from plumbstar.commands import only_help

#: Reads every command as ``--help`` reads it, and tells all helps and what was loaded for them.
ALL_OF_THEM = """
import json, sys
sys.argv = ["plumbstar", "everything", "--help"]
from plumbstar.cli import group
from tests.commands.test_help import helps
print(json.dumps([dict(helps(group)), sorted(sys.modules)]))
"""


def helps(command: click.Command, parent: click.Context | None = None) -> Iterator[tuple[str, str]]:
    """The help of a command and of all below it, by what is typed for it."""
    ctx = click.Context(command, info_name=command.name, parent=parent, terminal_width=80)
    yield ctx.command_path, command.get_help(ctx)
    if isinstance(command, click.Group):
        for name in command.list_commands(ctx):
            below = command.get_command(ctx, name)
            assert below is not None
            yield from helps(below, ctx)


def test_every_help_is_the_same_and_needs_no_arithmetic() -> None:
    root = Path(__file__).parents[2]
    done = subprocess.run(
        [sys.executable, "-c", ALL_OF_THEM], capture_output=True, text=True, check=True, cwd=root
    )
    told, loaded = json.loads(done.stdout)
    as_it_is = dict(helps(group))
    assert len(as_it_is) > len(COMMANDS) + 30
    assert told == as_it_is
    heavy = [m for m in loaded if m.partition(".")[0] in only_help.HEAVY]
    assert heavy == []
    ours = {".".join(m.split(".")[:2]) for m in loaded if m.startswith("plumbstar.")}
    assert ours == {*only_help.OURS, "plumbstar.cli", "plumbstar.sky"}


@pytest.mark.parametrize(
    ("typed", "only"),
    [
        ("tonight --help", True),
        ("log show -h", True),
        ("--help", False),  # needs none of it
        ("log note hello", False),
        ("log note --text --help", False),  # the value of an option
        ("log note -- --help", False),
        ("tonight --help --json", False),
    ],
)
def test_only_help_is_read_so(typed: str, only: bool) -> None:
    assert only_help.asked_for(typed.split()) is only
