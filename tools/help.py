"""Write down what --help of every command says. Run: python tools/help.py (with "-" it is only
shown).

The command line reads it from there (commands/written_help.py), so that help needs no arithmetic.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from typing import Any

import click

from plumbstar.cli import group
from plumbstar.commands.written_help import COLUMNS, FILE, written_down


def helps(
    command: click.Command = group, name: str = "plumbstar", parent: click.Context | None = None
) -> Iterator[tuple[str, str]]:
    """The help of each command below this one, by what is typed for it after ``plumbstar``."""
    settings: dict[str, Any] = {**command.context_settings, "terminal_width": COLUMNS}
    ctx = click.Context(command, info_name=name, parent=parent, **settings)
    if parent:
        yield ctx.command_path.partition(" ")[2], command.get_help(ctx)
    if isinstance(command, click.Group):
        for below in command.list_commands(ctx):
            found = command.get_command(ctx, below)
            assert found is not None
            yield from helps(found, below, ctx)


if __name__ == "__main__":
    told = written_down(dict(helps()))
    if sys.argv[1:] == ["-"]:
        print(told, end="")
    else:
        FILE.write_text(told, encoding="utf-8")
