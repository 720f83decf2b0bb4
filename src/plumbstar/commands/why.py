"""``plumbstar why``: what went wrong with one outing, and what to turn."""

from __future__ import annotations

import shutil
import textwrap
from dataclasses import replace
from pathlib import Path
from typing import Any

import click
import msgspec

from plumbstar.coach.message import read_message
from plumbstar.coach.moments import Circumstances
from plumbstar.coach.told import MessageTold
from plumbstar.commands import nights
from plumbstar.commands import options as opt
from plumbstar.commands.coached import (
    answer_message,
    circumstances,
    zone_at,
)
from plumbstar.commands.from_logbook import logbook_options, taken
from plumbstar.commands.naming import named_rows
from plumbstar.commands.output import print_json
from plumbstar.commands.shown import run_shown, shown_options
from plumbstar.diagnose.explain import Explanation, explain
from plumbstar.diagnose.explain.answer import report_of
from plumbstar.diagnose.explain.coach import Heard, listen
from plumbstar.diagnose.explain.reply import reply
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting, Unnamed
from plumbstar.mount.sightings_file import is_table, parse
from plumbstar.mount.star_places import placing
from plumbstar.sky.local_time import local, zone_or_offset
from plumbstar.sky.times import Instant
from plumbstar.text import files
from plumbstar.text.words import chance

_WANTED = "a table of sightings, or of the numbers that a controller showed"


@click.command("why")
@click.argument("sightings", metavar="[SIGHTINGS.csv]", required=False)
@click.option(
    "--coach",
    metavar="TEXT",
    help="A newcomer's numbers as they wrote them, or a text file of them.",
)
@click.option(
    "--reply", "as_reply", is_flag=True, help="Print a short reply, ready to send to the newcomer."
)
@click.option(
    "--zone", "zone_text", metavar="Z", help="Zone of the times in --coach: +1, -7, Europe/Rome."
)
@click.option("--all", "show_all", is_flag=True, help="List every cause, however unlikely.")
@opt.site_option(required=False, from_logbook=True)
@opt.utc_option
@opt.kit_option
@opt.solving_options
@shown_options
@logbook_options
@opt.json_option
def command(
    sightings: str | None,
    coach: str | None,
    as_reply: bool,
    zone_text: str | None,
    show_all: bool,
    site_text: str | None,
    utc_text: str | None,
    kit_path: str | None,
    terms: str | None,
    flat_priors: bool,
    centring_arcmin: float | None,
    logbook: str | None,
    without: bool,
    as_json: bool,
    **controller: Any,
) -> None:
    """What went wrong, how sure, how to check it, and how to mend it.

    Also for controllers that show one number only: --shown, or a file of many evenings with the
    columns shown_deg,star_a,time_a,star_b,time_b.

    SIGHTINGS.csv has the columns utc,star,az_reading_deg,alt_reading_deg, or
    true_az_deg,true_alt_deg in place of utc,star (then wrong stars, clock and site cannot be
    judged). --utc says when the next star would be sighted; with --coach it is the date.

    Kit and site, if not given, are those of the last outing in the logbook, and what past outings
    taught of the mount is used; not with --coach, which is about somebody else's telescope.

    \b
    plumbstar why outing.csv --site 47.2,11.6,940
    plumbstar why --shown 1.4 --star-a Capella --time-a 2027-01-28T18:30:00Z \\
        --star-b Deneb --time-b 2027-01-28T18:30:40Z --site 47.2,11.6
    plumbstar why --coach "Capella 7:42pm az 61.2 alt 55; Rigel 7:44pm az 141 alt 28" \\
        --site 47.2,11.6 --utc 2027-01-28 --zone +1 --reply
    """
    text = files.read_text(sightings, wanted=_WANTED) if sightings else ""
    of_shown = nights.is_table(text)
    coach = _coached(coach) if coach else coach
    # Of somebody else's telescope one's own logbook knows nothing.
    without = without or (coach is not None and logbook is None)
    if controller["numbers"] or controller["learn_sign"] or of_shown:
        if of_shown:
            controller |= {"csv_text": text, "csv_name": files.named(sightings or "-")}
        found = taken(kit_path, site_text, logbook, without)
        said, words = run_shown(kit=found.kit, site=found.site, **controller)
        if as_json:
            print_json(msgspec.structs.replace(said, from_logbook=found.untaught.report))
        else:
            click.echo("\n".join([words, *found.untaught.lines]))
        return
    if (sightings is None) == (coach is None):
        raise UserError(
            "A file and --coach were both given" if coach else "No sightings were given",
            "",
            "Leave one out" if coach else "Name a file of sightings, or give --coach",
        )
    if flat_priors:
        raise UserError(
            "--flat-priors does not go with why: causes are weighed by what the kit expects",
            "",
            "Leave it out, or use `plumbstar fix --flat-priors`",
        )
    found = taken(kit_path, site_text, logbook, without)
    kit, site = found.kit, found.site
    zone = zone_or_offset(zone_text) if zone_text else zone_at(site)
    heard: list[Heard] = []
    grain: list[tuple[float, float]] | None = None
    repeats: list[str] = []
    entries: list[Sighting | Unnamed]
    check_at = Instant.parse(utc_text) if utc_text and coach is None else None
    if coach is not None and (site is None or not is_table(coach)):
        at = circumstances(site, utc_text, zone)
        heard = _as_a_list(coach, at)
        if not heard:
            believed = opt.priors_and_noise(kit, terms, False, centring_arcmin)[:2]
            message = read_message(coach)
            _answer(message, at, kit, believed, as_reply=as_reply, as_json=as_json)
            return
        entries = [h.sighting for h in heard]
        grain = [h.grain_deg for h in heard]
    elif coach is not None:
        table = parse(coach, placing(site), "the table", opt.zone_for(coach, site))
        entries, repeats = table.entries(), table.notes()
    else:
        table = parse(text, placing(site), files.named(sightings or "-"), opt.zone_for(text, site))
        entries, repeats = table.entries(), table.notes()
    taught = found.learnt(opt.instant_of(None), entries)
    priors, noise, _ = opt.priors_and_noise(kit, terms, False, centring_arcmin, taught.learnt)
    rows, of_names = named_rows(entries, site, priors, noise)
    repeats = [*of_names, *repeats]
    if as_reply and not heard:
        heard = _as_heard(rows, zone or "")
    answer = explain(rows, priors, noise, site=site, kit=kit, grain_deg=grain, check_at=check_at)
    answer = replace(answer, notes=(*answer.notes, *repeats))
    if as_json:
        out = msgspec.structs.replace(report_of(answer), from_logbook=taught.report)
        if heard:
            out = msgspec.structs.replace(out, understood=tuple(h.understood for h in heard))
        if as_reply and site is not None:
            out = msgspec.structs.replace(out, reply=reply(answer, heard, site, zone))
        print_json(out)
        return
    if as_reply:
        if site is None:
            raise UserError("No site was given, and a reply needs it", "", "Add --site LAT,LON")
        click.echo(reply(answer, heard, site, zone))
        return
    _print(replace(answer, notes=(*answer.notes, *taught.lines)), heard, show_all)


def _as_a_list(text: str, at: Circumstances) -> list[Heard]:
    """A list of sightings, every line understood to the last word; empty where it is none."""
    if at.site is None:
        return []
    try:
        heard = listen(text, at.site, at.when, at.whole_day, at.zone)
    except UserError:
        return []
    return heard if len(heard) > 1 else []


def _answer(
    message: MessageTold,
    at: Circumstances,
    kit: Kit,
    believed: tuple[Priors, Noise],
    *,
    as_reply: bool,
    as_json: bool,
) -> None:
    """Whatever a message tells, answered."""
    out, words = answer_message(message, at, believed, kit)
    if as_json:
        print_json(out)
    elif as_reply and out.reply:
        click.echo(out.reply)
    else:
        click.echo(words)


def _coached(coach: str) -> str:
    """The numbers themselves, or the text of the file that they are in."""
    if coach == "-" or (len(coach) < 240 and "\n" not in coach and _is_file(coach)):
        return files.read_text(coach)
    return coach


def _is_file(text: str) -> bool:
    try:
        return Path(text).is_file()
    except (OSError, ValueError):  # no name of a file
        return False


def _as_heard(rows: list[Sighting], zone: str) -> list[Heard]:
    out = []
    for s in rows:
        if s.utc is None:
            raise UserError(
                "The sightings have no times, and a reply needs them", "", "Add a utc column"
            )
        out.append(Heard(s, (0.0, 0.0), f"{s.star} at {s.utc.iso()}", local(s.utc, zone)))
    return out


def _print(answer: Explanation, heard: list[Heard], show_all: bool) -> None:
    width = min(100, shutil.get_terminal_size((96, 24)).columns)

    def say(head: str, text: str) -> None:
        """A right-hand column of text with its heading at the left."""
        click.echo(
            textwrap.fill(text, width, initial_indent=f"{head:>16}  ", subsequent_indent=" " * 18)
        )

    click.echo(textwrap.fill(answer.verdict, width))
    if heard:
        click.echo("\nUnderstood as:")
        for h in heard:
            click.echo(
                textwrap.fill(h.understood, width, initial_indent="  ", subsequent_indent="    ")
            )
    click.echo("")
    for k, c in enumerate(answer.causes):
        if not show_all and k >= 2 and c.probability < 0.02:
            continue
        say(chance(c.at_all), c.title)
        if show_all or k < 3:
            say("evidence", c.evidence)
            say("check", c.check)
            say("mend", c.mend if c.advice is None else f"{c.mend} {c.advice}.")
    for m in answer.also_measured:
        click.echo("")
        say("measured", m.sentence)
        say("mend", m.mend if m.advice is None else f"{m.mend} {m.advice}.")
    for note in answer.notes:
        click.echo("\n" + textwrap.fill(note, width))
