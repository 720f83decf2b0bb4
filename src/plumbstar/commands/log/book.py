"""``plumbstar log``: the group, its options, and the logbook that it opens."""

from __future__ import annotations

import functools
import importlib
from collections.abc import Callable
from typing import Any

import click

from plumbstar.commands.log.answers import outing_answer
from plumbstar.commands.output import say
from plumbstar.contract.answers.book import OutingsReport
from plumbstar.errors import UserError
from plumbstar.logbook import ENVIRONMENT, Logbook, Outing, path_of
from plumbstar.logbook.words import (
    outing_line,
)
from plumbstar.text.words import many

utc_option = click.option("--utc", metavar="TIME", help="The time to use instead of now, ISO 8601.")


def options(function: Callable[..., Any]) -> Callable[..., Any]:
    """The options every command here takes: which file, and how to answer."""
    for option in (
        click.option(
            "--logbook",
            "path",
            metavar="PATH",
            help=f"The logbook file (else ${ENVIRONMENT}, else the usual place).",
        ),
        click.option("--json", "as_json", is_flag=True, help="Report as one JSON object."),
    ):
        function = option(function)

    @click.pass_context
    @functools.wraps(function)
    def with_inherited(ctx: click.Context, /, *args: Any, **values: Any) -> Any:
        # `log --logbook X show 1` means the same as `log show 1 --logbook X`.
        shared = ctx.parent.params if ctx.parent is not None else {}
        for name in ("path", "as_json"):
            values[name] = values[name] or shared.get(name)
        return function(*args, **values)

    return with_inherited


def book_at(path: str | None, *, create: bool = False) -> Logbook:
    """Open it. Only what adds something makes a new file."""
    where = path_of(path)
    if not create and not where.exists() and not path:
        raise UserError(
            f"There is no logbook yet (it will be at {where})",
            "",
            "`plumbstar serve` logs outings; `plumbstar log import FILE` brings in others",
        )
    return Logbook.open(where, create=create)


def outing_of(book: Logbook, text: str) -> Outing:
    """An outing by number, or ``last``."""
    if text.lower() == "last":
        all_of_them = book.outings()
        if not all_of_them:
            raise UserError("There is no outing in the logbook yet", "", "Log or import one first")
        return all_of_them[-1]
    if not text.isdigit():
        raise UserError(f"outing '{text}'", "a number, or last", "`plumbstar log` lists them")
    return book.outing(int(text))


#: Verb -> its module beside this one.
VERBS = {
    "backup": "keep",
    "correct-time": "correct_time",
    "delete": "change",
    "export": "export",
    "eye": "eye",
    "import": "bring_in",
    "lists": "lists",
    "mend": "teach",
    "note": "change",
    "priors": "teach",
    "purge": "change",
    "recover": "keep",
    "redo": "change",
    "report": "report",
    "restore": "change",
    "seen": "seen",
    "show": "show",
    "undo": "change",
}


class LogGroup(click.Group):
    """Imports a verb's module, which adds it here, only when it is asked for: all of them took
    longer than most of what one does."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name in VERBS:
            importlib.import_module(f"plumbstar.commands.log.{VERBS[cmd_name]}")
        return super().get_command(ctx, cmd_name)


@click.group(invoke_without_command=True, cls=LogGroup)
@click.option("--deleted", is_flag=True, help="List what is marked deleted as well.")
@click.option("--logbook", "path", metavar="PATH", help="The logbook file.")
@click.option("--json", "as_json", is_flag=True, help="Report as one JSON object.")
@click.pass_context
def command(ctx: click.Context, deleted: bool, path: str | None, as_json: bool) -> None:
    """The logbook. Alone, it lists the outings."""
    if ctx.invoked_subcommand is not None:
        return
    where = path_of(path)
    if not path and not where.exists():
        say(as_json, OutingsReport(logbook=str(where), outings=()), f"No outings yet ({where}).")
        return
    with book_at(path) as book:
        outings = book.outings(deleted=deleted)
    say(
        as_json,
        OutingsReport(logbook=str(where), outings=tuple(outing_answer(o) for o in outings)),
        f"{many(len(outings), 'outing')} in {where}",
        *(outing_line(o) for o in outings),
    )
