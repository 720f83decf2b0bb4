"""``plumbstar log seen``: when did I last see it, and with what."""

from __future__ import annotations

import re

import click

from plumbstar.commands.log.book import book_at, command, options
from plumbstar.commands.output import say
from plumbstar.contract.answers.seen import SeenLogLine, SeenLogReport
from plumbstar.errors import UserError
from plumbstar.logbook import short
from plumbstar.logbook.seen import SeenEntry, SeenQuery, seen_entries
from plumbstar.logbook.words import SEEN_WORDS
from plumbstar.sky.times import Instant
from plumbstar.text.words import many

_DAY_S = 86400.0


def day_of(text: str, after: bool = False) -> Instant:
    """A day, month or year as its first moment in UTC, or with ``after`` the first after it.

    Raises :class:`UserError`.
    """
    found = re.fullmatch(r"(\d{4})(?:-(\d{2}))?(?:-(\d{2}))?", text.strip())
    if found is None:
        raise UserError(
            f"the date '{text}'", "a day, month or year", "As 2027-01-28, 2027-01 or 2027"
        )
    year, month, day = found[1], found[2] or "01", found[3] or "01"
    start = Instant.parse(f"{year}-{month}-{day}T00:00:00Z")
    if not after:
        return start
    if found[3]:
        return start.plus_seconds(_DAY_S)
    if found[2]:
        nxt = int(month) + 1
        y, m = (int(year) + 1, 1) if nxt > 12 else (int(year), nxt)
        return Instant.parse(f"{y:04d}-{m:02d}-01T00:00:00Z")
    return Instant.parse(f"{int(year) + 1:04d}-01-01T00:00:00Z")


def entry_line(x: SeenEntry) -> str:
    """For a person."""
    how = [SEEN_WORDS[x.seen], x.eyepiece, x.kit]
    drawn = f"; {x.sketches} {'sketch' if x.sketches == 1 else 'sketches'}" if x.sketches else ""
    words = f'; "{" ".join(x.words.split())}"' if x.words else ""
    day = x.utc.iso()[:16].replace("T", " ")
    return f"{x.outing_id:4d}  {day}  {x.label}: {', '.join(t for t in how if t)}{drawn}{words}"


def line_answer(x: SeenEntry) -> SeenLogLine:
    return SeenLogLine(
        outing=x.outing_id,
        name=x.name,
        label=x.label,
        kind=x.kind,
        constellation=x.constellation,
        utc=short(x.utc),
        seen=x.seen,
        eyepiece=x.eyepiece,
        kit=x.kit,
        site=x.site,
        words=x.words,
        sketches=x.sketches,
    )


@command.command("seen")
@click.argument("thing", nargs=-1)
@click.option("--kind", metavar="KIND", help="Only of that kind: galaxy, open cluster, planet ...")
@click.option("--from", "start", metavar="DATE", help="From that day, month or year on (UTC).")
@click.option("--until", "end", metavar="DATE", help="Up to that day, month or year, with it.")
@options
def seen(
    thing: tuple[str, ...],
    kind: str | None,
    start: str | None,
    end: str | None,
    path: str | None,
    as_json: bool,
) -> None:
    """What you have seen, the newest first: of one THING, of a kind, of some months, or all."""
    query = SeenQuery(
        " ".join(thing),
        kind or "",
        day_of(start) if start else None,
        day_of(end, after=True) if end else None,
    )
    with book_at(path) as book:
        found = seen_entries(book, query)
    times, objects = sum(x.counts for x in found), len({x.key for x in found if x.counts})
    missed = len({x.key for x in found}) - objects
    if not found:
        head = "Nothing of that is in the logbook."
    elif query.name:
        last = next((x for x in found if x.counts), None)
        head = f"{found[0].label}: " + (
            f"seen {times} time{'' if times == 1 else 's'}, last on {last.utc.iso()[:10]}."
            if last is not None
            else "looked for, and not seen yet."
        )
    elif not objects:
        head = f"Looked for, and not seen yet: {many(missed, 'object')}."
    else:
        more = f"; {missed} more looked for, and not seen" if missed else ""
        head = f"{many(objects, 'object')} seen, {many(times, 'look')}{more}."
    say(
        as_json,
        SeenLogReport(objects=objects, looks=tuple(line_answer(x) for x in found)),
        head,
        *(entry_line(x) for x in found),
    )
