"""``plumbstar card``: the night card for paper, phone and calendar."""

from __future__ import annotations

import time
from dataclasses import replace
from typing import cast

import click

from plumbstar.card import Card, calendar, make, paper, phone
from plumbstar.card.model import Hour
from plumbstar.card.order import order_of
from plumbstar.commands import options as opt
from plumbstar.commands import whose_eye
from plumbstar.commands.card_answer import card_answer
from plumbstar.commands.from_logbook import logbook_options, taken
from plumbstar.commands.output import print_json
from plumbstar.commands.tonight import (
    hardest_option,
    kind_option,
    seeing_option,
    sky_of,
    zenith_option,
)
from plumbstar.contract.answers.drawn import CardReport
from plumbstar.logbook import own_file
from plumbstar.sky.lists import catalogue, deepsky, doubles
from plumbstar.sky.local_time import zone_or_offset
from plumbstar.sky.naming.minor_bodies import all_bodies
from plumbstar.sky.times import Instant
from plumbstar.targets.model import Difficulty
from plumbstar.targets.wishes import Wishes, group_named
from plumbstar.text import files, words


@click.command("card")
@opt.site_option(required=False, from_logbook=True)
@click.option("--name", default="", metavar="TEXT", help="What the site is called on the card.")
@opt.utc_option
@opt.kit_option
@opt.skyline_option
@opt.eyepiece_option
@opt.field_option
@click.option(
    "--zone",
    metavar="ZONE",
    help="Time zone, as +01:00 or Europe/Rome. Default: the site's, else UTC.",
)
@click.option(
    "--hours", type=click.FloatRange(0.25, 12), default=3.0, show_default=True,
    help="How long you will look, from the first stars on.",
)  # fmt: skip
@click.option("--targets/--no-targets", default=True, help="Say what to look at, or leave it out.")
@kind_option
@hardest_option
@zenith_option
@seeing_option
@click.option("--pdf", "pdf_path", metavar="FILE", help="Write the card for paper there (PDF).")
@click.option("--html", "html_path", metavar="FILE", help="Write the card for the phone there.")
@click.option(
    "--calendar", "ics_path", metavar="FILE", help="Write the times for a calendar there."
)
@click.option(
    "--sides",
    type=click.Choice(["one", "both"]),
    default="both",
    show_default=True,
    help="Print on one side of the paper, or both.",
)
@logbook_options
@opt.json_option
def command(
    site_text: str | None,
    name: str,
    utc_text: str | None,
    kit_path: str | None,
    skyline_text: str | None,
    eyepiece: str | None,
    field_deg: float | None,
    zone: str | None,
    hours: float,
    targets: bool,
    kinds: tuple[str, ...],
    hardest: str,
    zenith_mag: float | None,
    seeing_arcsec: float | None,
    pdf_path: str | None,
    html_path: str | None,
    ics_path: str | None,
    sides: str,
    logbook: str | None,
    without: bool,
    as_json: bool,
) -> None:
    """Write the evening on one sheet: times, stars to sight, how to recognise them, targets.

    Without --pdf, --html or --calendar the cards for paper and phone are written here, named by
    the night. Kit and site, if not given, are those of the last outing in the logbook, and what
    past outings taught of the mount and of your eye is used.
    """
    found = taken(kit_path, site_text, logbook, without)
    kit, site = found.kit, found.needed_site()
    field, field_name = opt.field_of(kit, eyepiece, field_deg)
    asked = opt.instant_of(utc_text)
    skyline = found.skyline(opt.skyline_told(skyline_text))
    taught = found.learnt(asked)
    route = eye = None
    if targets:
        if found.path is not None and not found.trouble:
            eye = whose_eye.eye_of(str(found.path), site)
        own = own_file.load(own_file.default_path())
        route = order_of(
            asked, site, kit, sky_of(site, kit, zenith_mag, seeing_arcsec, eye), skyline,
            deepsky.load(), doubles.load(), own=own, bodies=all_bodies(), hours=hours,
            wishes=Wishes(
                kinds=frozenset(group_named(k) for k in kinds),
                hardest=cast("Difficulty", hardest),
                own=frozenset(o.key for o in own),
            ),
        )  # fmt: skip
    card = make(
        asked,
        replace(site, name=name or site.name),
        kit,
        skyline,
        catalogue.load(),
        field_deg=field,
        field_name=field_name,
        time_zone=zone_or_offset(zone) if zone else site.time_zone,
        route=route,
        hours=hours,
        priors=taught.learnt.priors if taught.learnt is not None else None,
        noise=taught.learnt.noise(kit) if taught.learnt is not None else None,
        nights=taught.believed,
    )
    if not (pdf_path or html_path or ics_path):
        html_path = f"night-card-{card.date}.html"
        pdf_path = f"night-card-{card.date}.pdf"
    # The phone's first: it needs nothing that may not be installed.
    if html_path:
        files.write(html_path, phone.html(card), "the card")
    if ics_path:
        made = Instant.from_unix(time.time())
        files.write(ics_path, calendar.ics(card, made), "the calendar")
    if pdf_path:
        files.write(pdf_path, paper.pdf(card, cast("paper.Sides", sides)), "the card")
    written = [p for p in (html_path, ics_path, pdf_path) if p]
    if as_json:
        answer = card_answer(card)
        print_json(
            CardReport(
                card=answer, written=tuple(written), own_eye=whose_eye.record(eye),
                from_logbook=taught.report,
            )
        )  # fmt: skip
        return
    judged = whose_eye.lines(eye, "--no-logbook")
    for line in (*lines(card), *judged, *taught.lines):
        click.echo(line)
    click.echo(f"Wrote {', '.join(written)}.")


def lines(card: Card) -> list[str]:
    """The card in short: when it is dark, the Moon, which stars."""
    by_key = {m.key: m for m in card.moments}
    dark = by_key["astronomical_dusk"]
    if dark.instant is not None:
        first = f"Dark from {card.time(dark.instant)} {card.zone}."
    elif dark.stays_below:
        first = "Dark all the time."
    else:
        first = f"It does not get fully dark: {dark.reason}."
    out = [f"Night of {card.night}. {first} {card.sky}"]
    if card.hours_note:
        out.append(card.hours_note)
    out += [f"  {card.time(h.instant)}  {_pair(h)}" for h in card.hours]
    if card.stops:
        n, s = len(card.stops), card.stops[0]
        out.append(f"{words.many(n, 'target')}, from {card.time(s.start)} with {s.name}.")
    return out


def _pair(h: Hour) -> str:
    if not h.stars:
        return h.note
    return f"{' and '.join(a.name for a in h.stars)}, {words.chance(h.chance)} targets"
