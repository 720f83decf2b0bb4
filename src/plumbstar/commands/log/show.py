"""``plumbstar log show``: one outing in full."""

from __future__ import annotations

import click

from plumbstar.commands.log.answers import (
    display_answer,
    find_answer,
    look_answer,
    nameless_answer,
    nameless_line,
    outing_answer,
    sighting_answer,
    sky_answer,
)
from plumbstar.commands.log.book import book_at, command, options, outing_of
from plumbstar.commands.output import say
from plumbstar.contract.answers.book import NoteReport, WholeOutingReport
from plumbstar.logbook import short
from plumbstar.logbook.shown import load_display
from plumbstar.logbook.slips import DESK
from plumbstar.logbook.words import (
    display_line,
    find_line,
    look_line,
    outing_line,
    sighting_line,
    sky_words,
)
from plumbstar.web.evening.desk import load as load_desk


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
        looks = book.looks(o.id, deleted=deleted)
        skies = book.skies(o.id)
        sketches = book.sketches(o.id)
        beside = load_display(book.state(o.id))
        nameless = load_desk(book.state(o.id).get(DESK)).nameless
    answer = WholeOutingReport(
        outing=outing_answer(o),
        sightings=tuple(sighting_answer(s) for s in sightings),
        nameless=tuple(nameless_answer(n) for n in nameless),
        finds=tuple(find_answer(f) for f in finds),
        notes=tuple(NoteReport(utc=short(n.utc), text=n.text) for n in notes),
        looks=tuple(look_answer(x) for x in looks),
        sky=sky_answer(skies[-1]) if skies else None,
        sketches=len(sketches),
        beside=tuple(display_answer(k, e) for k, e in enumerate(beside, 1)),
        kit_text=o.kit_text,
    )
    lines = [outing_line(o)]
    if sightings:
        lines += ["", "Sightings", *(sighting_line(s) for s in sightings)]
    if nameless:
        lines += ["", "Bright stars without a name yet"]
        lines += [nameless_line(nameless_answer(n)) for n in nameless]
    if beside:
        lines += ["", "Beside the controller"]
        lines += [display_line(k, e) for k, e in enumerate(beside, 1)]
    if finds:
        lines += ["", "Finds", *(find_line(f) for f in finds)]
    if looks:
        lines += ["", "What was seen", *(look_line(x) for x in looks)]
    if sketches:
        drawn = ", ".join(dict.fromkeys(s.target for s in sketches))
        lines += ["", f"{len(sketches)} {'sketch' if len(sketches) == 1 else 'sketches'}: {drawn}"]
    if skies:
        lines += ["", f"The sky: {sky_words(skies[-1])}"]
    if notes:
        lines += ["", "Notes", *(f"      {n.utc.iso()[11:19]}  {n.text}" for n in notes)]
    say(as_json, answer, *lines)
