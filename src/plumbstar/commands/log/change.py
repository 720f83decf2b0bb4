"""``plumbstar log delete``, ``restore``, ``undo``, ``redo``, ``note`` and ``purge``."""

from __future__ import annotations

import click

from plumbstar.commands import options as opt
from plumbstar.commands.log.answers import change_answer
from plumbstar.commands.log.book import book_at, command, options, outing_of, utc_option
from plumbstar.commands.output import say
from plumbstar.contract.answers.book import (
    DeletedReport,
    NotedReport,
    PurgedReport,
    RestoredReport,
    UndoneReport,
    WhichReport,
)
from plumbstar.logbook import Change
from plumbstar.logbook.changes import sentence_part


@command.command("delete")
@click.argument("outing")
@click.option("--sighting", type=int, metavar="K", help="Only its sighting K.")
@options
def delete(outing: str, sighting: int | None, path: str | None, as_json: bool) -> None:
    """Mark outing N, or one sighting of it, deleted. `log undo` brings it back."""
    with book_at(path) as book:
        o = outing_of(book, outing)
        if sighting is None:
            book.delete_outing(o.id)
        else:
            book.delete_sighting(book.sighting(o.id, sighting).id)
    what = f"outing {o.id}" if sighting is None else f"sighting {sighting} of outing {o.id}"
    say(
        as_json,
        DeletedReport(deleted=WhichReport(outing=o.id, sighting=sighting)),
        f"Deleted {what}. `plumbstar log undo` brings it back.",
    )


@command.command("restore")
@click.argument("outing")
@click.option("--sighting", type=int, metavar="K", help="Only its sighting K.")
@options
def restore(outing: str, sighting: int | None, path: str | None, as_json: bool) -> None:
    """Bring back outing N, or one sighting of it, however long ago it was deleted."""
    with book_at(path) as book:
        o = outing_of(book, outing)
        if sighting is None:
            book.restore_outing(o.id)
        else:
            book.restore_sighting(book.sighting(o.id, sighting).id)
    what = f"outing {o.id}" if sighting is None else f"sighting {sighting} of outing {o.id}"
    answer = RestoredReport(restored=WhichReport(outing=o.id, sighting=sighting))
    say(as_json, answer, f"Brought back {what}.")


def _told(verb: str, change: Change | None) -> str:
    if change is None:
        return f"Nothing to {verb}."
    return f"{verb.capitalize()} done: {sentence_part(change)}, made {change.at.iso()}."


@command.command("undo")
@options
def undo(path: str | None, as_json: bool) -> None:
    """Take back the last change; again, the one before. `log redo` takes the undo back."""
    with book_at(path) as book:
        done = book.undo()
    say(as_json, UndoneReport(undo=change_answer(done)), _told("undo", done))


@command.command("redo")
@options
def redo(path: str | None, as_json: bool) -> None:
    """Take back the last undo, if nothing new was done since."""
    with book_at(path) as book:
        done = book.redo()
    say(as_json, UndoneReport(redo=change_answer(done)), _told("redo", done))


@command.command("note")
@click.argument("outing")
@click.argument("text", nargs=-1, required=True)
@utc_option
@options
def note(
    outing: str, text: tuple[str, ...], path: str | None, as_json: bool, utc: str | None
) -> None:
    """Add a remark TEXT to outing N."""
    with book_at(path) as book:
        o = outing_of(book, outing)
        book.add_note(o.id, " ".join(text), opt.instant_of(utc))
    answer = NotedReport(outing=o.id, note=" ".join(text))
    say(as_json, answer, f"Noted on outing {o.id}.")


@command.command("purge")
@click.option("--yes", is_flag=True, help="Do not ask.")
@options
def purge(yes: bool, path: str | None, as_json: bool) -> None:
    """Remove for good what is marked deleted. This cannot be undone."""
    with book_at(path) as book:
        if not yes:
            click.confirm("Remove for good all that is marked deleted?", abort=True, err=True)
        gone = book.purge()
    removed = ", ".join(f"{n} {table}" for table, n in gone.items() if n) or "nothing"
    say(as_json, PurgedReport(purged=dict(gone)), f"Removed for good: {removed}.")
