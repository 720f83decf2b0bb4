"""``plumbstar site``: places kept under a name, and towns to start from."""

from __future__ import annotations

from dataclasses import replace

import click

from plumbstar.commands import site_gps, siting
from plumbstar.commands.options import json_option, skyline_of
from plumbstar.commands.output import say
from plumbstar.contract.answers.sky import SiteRemovedReport, SitesReport, TownReport, TownsReport
from plumbstar.errors import UserError
from plumbstar.logbook import Logbook, good_name, path_of
from plumbstar.sky import coordinates
from plumbstar.sky.lists import towns
from plumbstar.sky.local_time import zone_named
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.text.words import many

logbook_option = click.option(
    "--logbook", "path", metavar="PATH", help="The logbook that keeps the sites."
)


def site_line(site: Site) -> str:
    """A site on one line."""
    rest = [coordinates.words(site.lat_deg, site.lon_deg, site.elevation_m)]
    if site.time_zone:
        rest.append(site.time_zone)
    if site.zenith_mag is not None:
        rest.append(f"zenith {site.zenith_mag:g}")
    return f"{site.name}: {', '.join(rest)}"


@click.group("site")
def command() -> None:
    """Keep sites under a name: every command then takes `--site NAME`, with its skyline.

    \b
    plumbstar site add "Thornback Ridge" "47 12 N 11 36 E 940 m" --zone Europe/Vienna
    """


command.add_command(site_gps.command)


@command.command("add", context_settings={"ignore_unknown_options": True})
@click.argument("name")
@click.argument("coords", nargs=-1, required=True)
@click.option(
    "--zone",
    metavar="ZONE",
    help="Its time zone, as Europe/Rome, or UTC. Default: that of the nearest town.",
)
@click.option(
    "--zenith-mag",
    type=float,
    metavar="X",
    help="How dark its zenith gets, V magnitudes a square arcsecond: city 18, suburb 19.5, "
    "village 20.5, country 21.3, mountain 21.8 (common practice, no source).",
)
@click.option(
    "--skyline", "skyline_text", metavar="AZ:ALT,...", help="Its trees and roofs, or a file."
)
@click.option("--replace", "again", is_flag=True, help="Put it in place of a site of that name.")
@logbook_option
@json_option
def add(
    name: str,
    coords: tuple[str, ...],
    zone: str | None,
    zenith_mag: float | None,
    skyline_text: str | None,
    again: bool,
    path: str | None,
    as_json: bool,
) -> None:
    """Keep the place COORDS (coordinates in any usual form) under NAME."""
    name = good_name(name)
    place = Site.parse(" ".join(coords))
    if place.name:
        raise UserError(
            f"'{place.name}' among the coordinates of {name}",
            "coordinates alone",
            "Put quotes around a name of several words",
        )
    named = _zone(zone) if zone is not None else towns.load().zone_at(place.lat_deg, place.lon_deg)
    site = replace(place, name=name, time_zone=named, zenith_mag=zenith_mag)
    points = skyline_of(skyline_text).points if skyline_text else None
    with Logbook.open(path_of(path)) as book:
        old = book.site_named(name)
        if old is not None and not again:
            raise UserError(
                f"the name '{name}', under which {site_line(old)} is kept",
                "a name that is free",
                "Choose another, or add --replace",
            )
        site = book.keep_site(site)
        if points is not None:
            book.set_skyline(site, points)
        kept = book.skyline(site) or ()
    answer = siting.site_answer(site, tuple(kept))
    lines = [f"Kept {site_line(site)}."]
    if zone is None:
        lines.append(
            f"The time zone {named} is that of the nearest town; --zone names another."
            if named
            else "No town is near enough to know the time zone: times are UTC; --zone names one."
        )
    if kept:
        lines.append(f"Its skyline has {many(len(kept), 'point')}.")
    lines.append(f'Use it in any command: --site "{site.name}"')
    say(as_json, answer, *lines)


def _zone(zone: str) -> str:
    name = zone_named(zone)
    return "" if name == "UTC" else name


@command.command("list")
@logbook_option
@json_option
def list_(path: str | None, as_json: bool) -> None:
    """List the sites kept."""
    sites = siting.kept(path)
    say(
        as_json,
        SitesReport(sites=tuple(siting.site_answer(s) for s in sites)),
        *(
            [site_line(s) for s in sites]
            or ["No site is kept yet. `plumbstar site add NAME COORDINATES` keeps one."]
        ),
    )


@command.command("show", context_settings={"ignore_unknown_options": True})
@click.argument("name", nargs=-1, required=True)
@logbook_option
@json_option
def show(name: tuple[str, ...], path: str | None, as_json: bool) -> None:
    """Show the site NAME, with its skyline. NAME may also be coordinates, to see how they read."""
    site, points = siting.find(" ".join(name), path)
    lines = [site.name] if site.name else []
    lines.append(coordinates.words(site.lat_deg, site.lon_deg, 0.0, 4))
    lines.append(f"{site.elevation_m:.0f} m above the sea, air pressure {site.pressure:.0f} hPa")
    lines.append(f"Times: {site.time_zone or 'UTC'}")
    if site.zenith_mag is not None:
        lines.append(f"Zenith sky: {site.zenith_mag:g} magnitudes a square arcsecond")
    if points:
        lines.append(f"Skyline: {Skyline(points).text()}")
    say(as_json, siting.site_answer(site, points), *lines)


@command.command("remove")
@click.argument("name")
@logbook_option
@json_option
def remove(name: str, path: str | None, as_json: bool) -> None:
    """Take the site NAME off the list. Outings made there stay, and so does its skyline."""
    sites = siting.kept(path)
    if siting.kept_as(name, sites) is None:
        raise siting.unknown(name, [s.name for s in sites])
    with Logbook.open(path_of(path), create=False) as book:
        gone = book.forget_site(name)
    say(as_json, SiteRemovedReport(removed=siting.site_answer(gone)), f"Removed {site_line(gone)}.")


@command.command("find")
@click.argument("town", nargs=-1, required=True)
@click.option(
    "--show",
    "most",
    type=click.IntRange(1, 50),
    default=6,
    show_default=True,
    help="How many towns to list.",
)
@json_option
def find(town: tuple[str, ...], most: int, as_json: bool) -> None:
    """Look TOWN up in the list of towns: its place and time zone. Add its country after a comma."""
    found = towns.find(" ".join(town), most)
    width = max(len(t.label) for t in found)
    say(
        as_json,
        TownsReport(
            towns=tuple(
                TownReport(
                    name=t.name,
                    region=t.region,
                    country=t.country,
                    lat_deg=t.lat_deg,
                    lon_deg=t.lon_deg,
                    time_zone=t.time_zone,
                    people=t.thousands * 1000,
                )
                for t in found
            )
        ),
        *(
            f"{t.label:<{width}}  {coordinates.words(t.lat_deg, t.lon_deg, 0.0, 2)}  {t.time_zone}"
            for t in found
        ),
        "The height above the sea is not in the list; a map has it.",
    )
