"""``plumbstar log delete``, ``restore``, ``undo``, ``redo``, ``note`` and ``purge``."""

from __future__ import annotations

import click

from plumbstar.commands import options as opt
from plumbstar.commands.log.book import book_at, command, options, outing_of, utc_option
from plumbstar.commands.output import say
from plumbstar.logbook import Change


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
        {"deleted": {"outing": o.id, "sighting": sighting}},
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
    say(as_json, {"restored": {"outing": o.id, "sighting": sighting}}, f"Brought back {what}.")


def _tell(as_json: bool, verb: str, change: Change | None) -> None:
    if change is None:
        say(as_json, {verb.lower(): None}, f"Nothing to {verb.lower()}.")
        return
    answer = {"what": change.what, "at": change.at.iso(), "outing": change.outing_id}
    say(as_json, {verb.lower(): answer}, f"{verb} done: {change.what}, made {change.at.iso()}.")


@command.command("undo")
@options
def undo(path: str | None, as_json: bool) -> None:
    """Take back the last change; again, the one before. `log redo` takes the undo back."""
    with book_at(path) as book:
        _tell(as_json, "Undo", book.undo())


@command.command("redo")
@options
def redo(path: str | None, as_json: bool) -> None:
    """Take back the last undo, if nothing new was done since."""
    with book_at(path) as book:
        _tell(as_json, "Redo", book.redo())


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
    say(as_json, {"outing": o.id, "note": " ".join(text)}, f"Noted on outing {o.id}.")


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
    say(as_json, {"purged": gone}, f"Removed for good: {removed}.")
