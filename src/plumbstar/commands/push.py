"""``plumbstar push``: from this reading to a target."""

from __future__ import annotations

import re

import click
import msgspec

from plumbstar.commands import completing
from plumbstar.commands import options as opt
from plumbstar.commands.from_logbook import logbook_options, taken
from plumbstar.commands.naming import solve_entries
from plumbstar.commands.output import print_json
from plumbstar.errors import UserError
from plumbstar.guide import say
from plumbstar.guide.push import push
from plumbstar.sky.bodies import Body
from plumbstar.sky.minor import MinorBody
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import place_of
from plumbstar.solve.say import fix_notes
from plumbstar.targets import say_minor
from plumbstar.text import words
from plumbstar.turns import rounded_deg


def reading_pair(text: str) -> tuple[float, float]:
    """Read ``AZ,ALT`` in degrees. Raises :class:`UserError`."""
    parts = [p.strip().rstrip("°") for p in re.split(r"[,\s]+", text.strip().replace("−", "-"))]
    try:
        az, alt = (float(p) for p in parts)
    except ValueError:
        raise UserError(
            f"the reading '{text}'", "AZ,ALT in degrees", "For example --from 118.4,35.2"
        ) from None
    if not (abs(az) < 1e5 and abs(alt) <= 360):
        raise UserError(f"the reading '{text}'", "two angles in degrees", "Check both numbers")
    return az, alt


@click.command("push")
@click.argument("target", shell_complete=completing.targets)
@click.argument("sightings", metavar="SIGHTINGS.csv")
@click.option("--from", "start", required=True, metavar="AZ,ALT", help="The present reading.")
@opt.site_option(required=False, from_logbook=True)
@opt.utc_option
@opt.kit_option
@opt.solving_options
@opt.skyline_option
@opt.eyepiece_option
@opt.field_option
@click.option(
    "--seconds",
    type=float,
    metavar="X",
    help="How long the push takes, 0 to 600. Default: the kit's push_seconds.",
)
@click.option(
    "--solar-filter",
    is_flag=True,
    help="A full-aperture solar filter is on: allow pushes while the Sun is up.",
)
@logbook_options
@opt.json_option
def command(
    target: str,
    sightings: str,
    start: str,
    site_text: str | None,
    utc_text: str | None,
    kit_path: str | None,
    terms: str | None,
    flat_priors: bool,
    centring_arcmin: float | None,
    skyline_text: str | None,
    eyepiece: str | None,
    field_deg: float | None,
    seconds: float | None,
    solar_filter: bool,
    logbook: str | None,
    without: bool,
    as_json: bool,
) -> None:
    """Say how far to push from the present reading to a target, and the chance of finding it.

    Kit and site, if not given, are those of the last outing in the logbook, and what past outings
    taught of the mount is used.
    """
    found = taken(kit_path, site_text, logbook, without)
    kit, site = found.kit, found.needed_site()
    instant = opt.instant_of(utc_text)
    if seconds is not None and not 0 <= seconds <= 600:  # also true for nan
        raise UserError(f"--seconds {seconds:g}", "0 to 600", "For example --seconds 20")
    field, field_name = opt.field_of(kit, eyepiece, field_deg)
    wanted = find_target(target)
    az, alt = reading_pair(start)
    table = opt.sightings_of(sightings, site)
    repeats, entries = table.notes(), table.entries()
    taught = found.untaught if flat_priors else found.learnt(instant, entries)
    priors, noise, from_data = opt.priors_and_noise(
        kit, terms, flat_priors, centring_arcmin, taught.learnt
    )
    solved = solve_entries(entries, site, priors, noise, from_data)
    fix = solved.fix
    p = push(
        fix,
        wanted.label,
        lambda s: place_of(wanted, instant.plus_seconds(s), site),
        az,
        alt,
        field,
        sun=lambda s: place_of(Body("Sun"), instant.plus_seconds(s), site),
        filter_confirmed=solar_filter,
        seconds=kit.push_seconds if seconds is None else seconds,
        skyline=found.skyline(opt.skyline_told(skyline_text)),
        min_alt_deg=kit.telescope.min_alt_deg,
        max_alt_deg=kit.telescope.max_alt_deg,
    )
    aged = (say_minor.age(wanted, instant),) if isinstance(wanted, MinorBody) else ()
    if as_json:
        notes = [*aged, *solved.notes, *fix_notes(fix), *(f"{a}." for a in fix.advice), *repeats]
        print_json(
            msgspec.structs.replace(
                say.report(p),
                utc=instant.iso(),
                field=field_name,
                notes=tuple(notes),
                from_logbook=taught.report,
            )
        )
        return
    click.echo(say.sentence(p))
    click.echo(
        f"To reading {rounded_deg(p.to_az_deg, 2):.2f}, {p.to_alt_deg:.2f}. Chance to be in the "
        f"{field_name} field ({field:.2f}° across): {words.chance(p.hit_chance)}."
    )
    notes = [*aged, *solved.notes, *fix_notes(fix), *(f"{a}." for a in fix.advice), *repeats]
    for w in (*say.warnings(p), *notes, *taught.lines):
        click.echo(f"  {w}")
