"""What the shell offers on Tab for targets and sites; see ``plumbstar completion``."""

from __future__ import annotations

from collections.abc import Iterable

import click
from click.shell_completion import CompletionItem

from plumbstar.errors import UserError


def targets(ctx: click.Context, param: click.Parameter, typed: str) -> list[CompletionItem]:
    """Names that the look-up would find for what was typed."""
    del ctx, param
    from plumbstar.sky.naming.lookup import search_targets

    if not typed.strip():
        return []
    return _beginning(typed, (t.label.split(" (")[0] for t in search_targets(typed, 12)))


def sites(ctx: click.Context, param: click.Parameter, typed: str) -> list[CompletionItem]:
    """Names of the sites kept in the logbook."""
    del ctx, param
    from plumbstar.commands import siting

    try:
        return _beginning(typed, (s.name for s in siting.kept()))
    except UserError:
        return []  # Tab is no place for an error; the command will say it


def _beginning(typed: str, names: Iterable[str]) -> list[CompletionItem]:
    return [CompletionItem(n) for n in names if n.casefold().startswith(typed.casefold())]
