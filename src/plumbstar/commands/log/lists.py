"""``plumbstar log lists``: what of a list was seen, and what is left this month."""

from __future__ import annotations

from pathlib import Path

import click

from plumbstar.commands import options as opt
from plumbstar.commands import siting
from plumbstar.commands.log.book import book_at, command, options, utc_option
from plumbstar.commands.output import say
from plumbstar.contract.answers.seen import ListReport, ListsReport
from plumbstar.errors import UserError
from plumbstar.logbook.own_lists import own_lists, put_list, read_list, remove_list
from plumbstar.logbook.seen import seen_names
from plumbstar.targets.programmes import Progress, programme_named, programmes, progress
from plumbstar.targets.wishes import known
from plumbstar.text import files

#: So many labels stand on a line of the answer.
_SHOWN = 200


def list_answer(p: Progress) -> ListReport:
    return ListReport(
        name=p.programme.name,
        objects=len(p.programme.targets),
        seen=p.seen,
        left=tuple(t.label for t in p.left),
        left_this_month=tuple(t.label for t in p.now),
        unknown=p.programme.unknown,
    )


def _line(p: Progress, placed: bool) -> str:
    month = f", {len(p.now)} of the rest stand well this month" if placed and p.left else ""
    return f"{p.programme.name}: {p.seen} of {len(p.programme.targets)} seen{month}"


@command.command("lists")
@click.argument("name", nargs=-1)
@click.option("--add", type=click.Path(path_type=Path), help="Keep the names in FILE as list NAME.")
@click.option("--remove", is_flag=True, help="Take your own list NAME away again.")
@click.option("--site", metavar="PLACE", help="Where; else as in the last outing.")
@utc_option
@options
def lists(
    name: tuple[str, ...],
    add: Path | None,
    remove: bool,
    site: str | None,
    utc: str | None,
    path: str | None,
    as_json: bool,
) -> None:
    """How far you are with Messier, Caldwell, the doubles and lists of your own; of one list NAME
    what is left, and what of it stands well this month."""
    called = " ".join(name)
    if (add is not None or remove) and not called:
        raise UserError(
            "a list without a name", "its name", "`plumbstar log lists NAME --add FILE`"
        )
    told = ""
    with book_at(path, create=add is not None) as book:
        if add is not None:
            names = read_list(files.read_text(add, wanted="a table with a column 'name'"), str(add))
            put_list(book, called, names)
            told = f"Kept as '{called}'."
        elif remove:
            remove_list(book, called)
            called, told = "", f"'{called}' is no list of yours any more. What you saw stays."
        outings = [o for o in book.outings() if o.site is not None]
        where = siting.find(site, path)[0] if site else outings[-1].site if outings else None
        every = programmes(own_lists(book))
        chosen = [programme_named(called, every)] if called else list(every)
        seen = known(set(seen_names(book)))
    done = [progress(p, seen, opt.instant_of(utc), where) for p in chosen]
    lines = [*([told] if told else []), *(_line(p, where is not None) for p in done)]
    if called:
        (one,) = done
        if one.now:
            lines += ["", "Left, and well placed this month, the first to go first:",
                      *(f"  {t.label}" for t in one.now[:_SHOWN])]  # fmt: skip
        later = [t for t in one.left if t not in one.now]
        if later:
            head = "Left for other months:" if where is not None else "Left:"
            lines += ["", head, *(f"  {t.label}" for t in later[:_SHOWN])]
        if one.programme.unknown:
            lines += ["", f"Not known by these names: {', '.join(one.programme.unknown)}"]
    if where is None:
        lines.append("With --site it is told what stands well this month.")
    say(as_json, ListsReport(lists=tuple(list_answer(p) for p in done)), *lines)
