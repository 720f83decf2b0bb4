"""``plumbstar log show``: one outing in full."""

from __future__ import annotations

import click

from plumbstar.commands.log.answers import (
    display_answer,
    find_answer,
    outing_answer,
    sighting_answer,
)
from plumbstar.commands.log.book import book_at, command, options, outing_of
from plumbstar.commands.output import say
from plumbstar.contract.answers.book import NoteReport, WholeOutingReport
from plumbstar.logbook import short
from plumbstar.logbook.shown import load_display
from plumbstar.logbook.words import (
    display_line,
    find_line,
    outing_line,
    sighting_line,
)


@command.command("show")
@click.argument("outing")
@click.option("--deleted", is_flag=True, help="Show deleted sightings and finds as well.")
@options
def show(outing: str, deleted: bool, path: str | None, as_json: bool) -> None:
    """Show outing N (or `last`): sightings, taps beside a controller, finds and notes."""
    with book_at(path) as book:
        o = outing_of(book, outing)
        sightings = book.sightings(o.id, deleted=deleted)
        finds = book.finds(o.id, deleted=deleted)
        notes = book.notes(o.id)
        beside = load_display(book.state(o.id))
    answer = WholeOutingReport(
        outing=outing_answer(o),
        sightings=tuple(sighting_answer(s) for s in sightings),
        finds=tuple(find_answer(f) for f in finds),
        notes=tuple(NoteReport(utc=short(n.utc), text=n.text) for n in notes),
        beside=tuple(display_answer(k, e) for k, e in enumerate(beside, 1)),
        kit_text=o.kit_text,
    )
    lines = [outing_line(o)]
    if sightings:
        lines += ["", "Sightings", *(sighting_line(s) for s in sightings)]
    if beside:
        lines += ["", "Beside the controller"]
        lines += [display_line(k, e) for k, e in enumerate(beside, 1)]
    if finds:
        lines += ["", "Finds", *(find_line(f) for f in finds)]
    if notes:
        lines += ["", "Notes", *(f"      {n.utc.iso()[11:19]}  {n.text}" for n in notes)]
    say(as_json, answer, *lines)
