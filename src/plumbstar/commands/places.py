"""``plumbstar places``: where stars, objects, Sun, Moon and planets stand."""

from __future__ import annotations

import math

import click
import msgspec

from plumbstar.commands import completing, siting
from plumbstar.commands import options as opt
from plumbstar.commands.output import print_json
from plumbstar.contract.answers.sky import PlaceReport, PlacesReport
from plumbstar.errors import UserError
from plumbstar.sky import bodies, earth
from plumbstar.sky.bodies import Body
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.minor import MinorBody
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.places import magnitude_of, place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text.words import compass, magnitude
from plumbstar.turns import rounded_deg


def report(
    names: list[str], site: Site, instant: Instant, airless: bool
) -> tuple[PlacesReport, list[str]]:
    """The answer as a record, and the lines to say once."""
    notes = []
    if earth.past_table(instant):
        notes.append(
            f"The Earth-rotation table ends on {earth.table_end().iso()[:10]}; its last value is"
            " held. In the first year after, places may be 5 arcsec off in azimuth."
        )
    ended = bool(notes)
    places = tuple(_place(name, site, instant, airless) for name in names)
    if any(p.label == "Sun" and not p.below_horizon for p in places):
        notes.append(
            "Never point a telescope or its finder at or near the Sun: one look can blind you for "
            "good."
        )
    answer = PlacesReport(
        utc=instant.iso(3),
        site=msgspec.structs.replace(
            siting.site_answer(site),
            pressure_hpa=round(site.pressure, 1),
            temperature_c=site.temperature_c,
        ),
        airless=airless,
        earth_table_ended=ended,
        places=places,
    )
    return answer, notes


def _place(name: str, site: Site, instant: Instant, airless: bool) -> PlaceReport:
    target = find_target(name)
    az, alt = place_of(target, instant, site, airless)
    mag = magnitude_of(target, instant)
    lit = isinstance(target, Body) and target.name != "Sun" and not isinstance(target, MinorBody)
    return PlaceReport(
        name=name,
        label=target.label,
        kind=target.kind,
        az_deg=rounded_deg(az, 5),
        alt_deg=round(alt, 5),
        v_mag=None if math.isnan(mag) else round(mag, 2),
        below_horizon=alt < 0.0,
        designation=target.designation if isinstance(target, Star) else msgspec.UNSET,
        lit_fraction=round(bodies.illuminated_fraction(target, instant), 3)
        if lit and isinstance(target, Body)
        else msgspec.UNSET,
    )


@click.command("places")
@click.argument("stars", nargs=-1, metavar="STAR...", shell_complete=completing.targets)
@opt.site_option(required=False)
@opt.utc_option
@click.option("--airless", is_flag=True, help="Leave refraction out.")
@opt.json_option
def command(
    stars: tuple[str, ...],
    site_text: str | None,
    utc_text: str | None,
    airless: bool,
    as_json: bool,
) -> None:
    """Where each STAR stands: azimuth from north through east, and altitude as seen.

    A STAR is a star's name or designation, a Messier, NGC or IC number, Sun, Moon, a planet, or
    coordinates; put quotes around names with spaces.

    \b
    plumbstar places Betelgeuse "alf CMa" M42 Moon --site 47.2,11.6,940 \\
        --utc 2027-01-28T18:30:00Z
    """
    if not stars:
        raise UserError("No star was named", "", 'For example: plumbstar places Vega "58 Ori"')
    if not site_text:
        raise UserError(
            "No site was given",
            "",
            "Add --site with coordinates, for example --site 47.2,11.6,940, or with the name of a "
            "site you keep",
        )
    instant = opt.instant_of(utc_text)
    answer, notes = report(list(stars), opt.site_of(site_text), instant, airless)
    if as_json:
        print_json(answer)
        return
    click.echo(f"{instant.iso()}, {'without air' if airless else 'as seen through the air'}")
    width = max(len(p.label) for p in answer.places)
    for p in answer.places:
        mag = f"mag {magnitude(p.v_mag):>5}" if p.v_mag is not None else " " * 9
        where = "below the horizon" if p.below_horizon else compass(p.az_deg, 8)
        click.echo(
            f"{p.label:<{width}}  azimuth {p.az_deg:8.3f}°  altitude {p.alt_deg:+8.3f}°"
            f"  {mag}  {where}"
        )
    for note in notes:
        click.echo(note)
