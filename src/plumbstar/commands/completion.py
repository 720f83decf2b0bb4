"""``plumbstar completion``: the shell finishes commands, options, targets and sites."""

from __future__ import annotations

import click
from click.shell_completion import get_completion_class

from plumbstar.commands.output import print_json
from plumbstar.contract.answers.running import CompletionReport

_WHERE = {
    "bash": 'eval "$(plumbstar completion bash)"    in ~/.bashrc',
    "zsh": 'eval "$(plumbstar completion zsh)"    in ~/.zshrc',
    "fish": "plumbstar completion fish > ~/.config/fish/completions/plumbstar.fish",
}


@click.command("completion")
@click.argument("shell", type=click.Choice(list(_WHERE)))
@click.option("--how", is_flag=True, help="Only say which line to add, and where.")
@click.option("--json", "as_json", is_flag=True, help="Report as one JSON object.")
@click.pass_context
def command(ctx: click.Context, shell: str, how: bool, as_json: bool) -> None:
    """Print what makes SHELL finish commands, options, targets and sites on Tab."""
    if how:
        click.echo(_WHERE[shell])
        return
    kind = get_completion_class(shell)
    assert kind is not None  # the choice above is click's own list
    source = kind(ctx.find_root().command, {}, "plumbstar", "_PLUMBSTAR_COMPLETE").source()
    if as_json:
        print_json(CompletionReport(shell=shell, source=source, where=_WHERE[shell]))
        return
    click.echo(source)
