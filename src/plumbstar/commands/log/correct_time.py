"""``plumbstar log correct-time``: an evening by a wrong clock."""

from __future__ import annotations

import re

import click

from plumbstar.commands import options as opt
from plumbstar.commands.log.book import book_at, command, options, outing_of, utc_option
from plumbstar.commands.output import say
from plumbstar.contract.answers.book import CorrectedReport
from plumbstar.errors import UserError
from plumbstar.logbook.words import (
    signed_clock,
)
from plumbstar.sky.times import Instant
from plumbstar.text.words import many

NO_FIX = "There is no sighting to solve it from."
NO_FIX_BESIDE = "The pages and the many nights now go by the corrected times."


@command.command("correct-time")
@click.argument("outing")
@click.option(
    "--by", "by_s", type=float, metavar="SECONDS", help="Added to the times; plus for a slow clock."
)
@click.option("--clock-was", metavar="T", help="What the wrong clock showed, HH:MM:SS or ISO 8601,")
@click.option("--when-it-was", metavar="T", help="when the time in truth was this.")
@click.option(
    "--up-to",
    type=int,
    metavar="K",
    help="Only sightings (without any: taps beside a controller) 1 to K: it was set then.",
)
@utc_option
@options
def correct_time(
    outing: str,
    by_s: float | None,
    clock_was: str | None,
    when_it_was: str | None,
    up_to: int | None,
    path: str | None,
    as_json: bool,
    utc: str | None,
) -> None:
    """Correct the times of outing N, made by a wrong clock, and solve it again.

    The times first saved are kept; `plumbstar log undo` takes the correction back.
    """
    from plumbstar.logbook.places import placing
    from plumbstar.web.evening.solve_again import solve_outing

    by = seconds_of(by_s, clock_was, when_it_was)
    with book_at(path) as book:
        o = outing_of(book, outing)
        shifts = book.shifts_by(o.id, by, up_to)
        n = book.correct_times(o.id, shifts, placing(o.site) if o.site else None)
        fix = solve_outing(book, o.id, opt.instant_of(utc))
    beside = f", {many(len(shifts.shown), 'line')} beside the controller" if shifts.shown else ""
    told = fix.sentence if fix is not None else NO_FIX_BESIDE if shifts.shown else NO_FIX
    say(
        as_json,
        CorrectedReport(
            outing=o.id,
            corrected_by_s=by,
            sightings=n,
            finds=len(shifts.finds),
            notes=len(shifts.notes),
            shown=len(shifts.shown),
            sentence=told,
        ),
        f"Corrected outing {o.id} by {signed_clock(by)}: {many(n, 'sighting')}, "
        f"{many(len(shifts.finds), 'find')}, {many(len(shifts.notes), 'note')}"
        f"{beside}. "
        "The times first saved are kept; `plumbstar log undo` takes the correction back.",
        told,
    )


def seconds_of(by_s: float | None, clock_was: str | None, when_it_was: str | None) -> float:
    """The correction in seconds, from either way of saying it."""
    pair = (clock_was, when_it_was)
    if (by_s is None) == (pair == (None, None)) or (clock_was is None) != (when_it_was is None):
        raise UserError(
            "no correction, or two",
            "--by SECONDS, or --clock-was T with --when-it-was T",
            "As --clock-was 18:04:10 --when-it-was 19:04:12",
        )
    if by_s is not None:
        return by_s
    assert clock_was is not None
    assert when_it_was is not None
    days = [re.fullmatch(r"\s*\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?\s*", t) is None for t in pair if t]
    if days[0] != days[1]:
        raise UserError(
            f"'{clock_was}' and '{when_it_was}'", "both with the day, or neither", "Add the day"
        )
    if days[0]:
        return Instant.parse(when_it_was).minus(Instant.parse(clock_was))
    full = (t.strip() if t.strip()[2] == ":" else f"0{t.strip()}" for t in (clock_was, when_it_was))
    a, b = (Instant.parse(f"2000-01-01T{t}") for t in full)
    # Without the day the nearer way round is meant: no clock is off by more than half a day.
    return (b.minus(a) + 43200.0) % 86400.0 - 43200.0
