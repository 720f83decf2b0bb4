"""``--site``: coordinates in any usual form, or the name of a site kept in the logbook.

Apart from the other options, as it needs no arithmetic: ``plumbstar serve`` is to answer at once.
"""

from __future__ import annotations

import difflib
from pathlib import Path

import msgspec

from plumbstar.contract.answers.sky import SiteReport
from plumbstar.errors import UserError
from plumbstar.sky.naming.names import either, fold
from plumbstar.sky.site import Site

#: Points (azimuth, altitude) in degrees of a skyline.
Points = tuple[tuple[float, float], ...]


def find(text: str, logbook: str | Path | None = None) -> tuple[Site, Points]:
    """The site meant, and the skyline kept with it if it was named.

    Coordinates come first: no site can be kept under a name that reads as some. Raises
    :class:`UserError`, with the likeliest names.
    """
    try:
        return Site.parse(text), ()
    except UserError as e:
        unread = e
    sites, points = _kept(text, logbook)
    kept = kept_as(text, sites)
    if kept is not None:
        return kept, points
    near = suggestions(text, [s.name for s in sites])
    # Numbers that could not be read, rather than a name.
    if not near and (any(c.isdigit() for c in text) or not fold(text)):
        raise unread
    raise unknown(text, [s.name for s in sites])


def clock_zone(site: Site | None) -> str | None:
    """By which zone's clock somebody at the site writes: its own, else that of the nearest town;
    None where neither is known."""
    if site is None or site.time_zone:
        return site.time_zone if site is not None else None
    from plumbstar.sky.lists import towns

    return towns.load().zone_at(site.lat_deg, site.lon_deg) or None


def kept_as(name: str, sites: tuple[Site, ...]) -> Site | None:
    """The one of the sites that is so called: capitals, accents and spaces are forgiven."""
    wanted = fold(name)
    return next((s for s in sites if wanted and fold(s.name) == wanted), None)


def suggestions(text: str, names: list[str]) -> list[str]:
    """The names that were most likely meant."""
    by_fold = {fold(n): n for n in names}
    wanted = fold(text)
    within = [n for k, n in by_fold.items() if wanted and (wanted in k or k in wanted)]
    close = [by_fold[k] for k in difflib.get_close_matches(wanted, by_fold, 3, 0.6)]
    return list(dict.fromkeys([*within, *close]))[:3]


def unknown(text: str, names: list[str]) -> UserError:
    """The one clear error for a name under which no site is kept."""
    near = suggestions(text, names)
    some = f" ({', '.join(names[:8])}{', …' if len(names) > 8 else ''})" if names else ""
    return UserError(
        f"the site '{text[:60]}'",
        "coordinates as 47.2,11.6,940, or the name of a site you keep"
        + (some or " (none is kept yet)"),
        f"Did you mean {either(near)}?"
        if near
        else "`plumbstar site add NAME COORDINATES` keeps one; `plumbstar site find TOWN` looks "
        "a town up",
    )


def kept(logbook: str | None = None) -> tuple[Site, ...]:
    """All sites kept."""
    return _kept("", logbook)[0]


def _kept(text: str, logbook: str | Path | None) -> tuple[tuple[Site, ...], Points]:
    from plumbstar.logbook import Logbook, path_of

    where = path_of(logbook)
    if not where.exists():
        return (), ()
    with Logbook.open(where, create=False) as book:
        kept = book.site_named(text)
        points = book.skyline(kept) if kept is not None else None
        return book.sites(), points or ()


def site_answer(site: Site, skyline: Points | msgspec.UnsetType = msgspec.UNSET) -> SiteReport:
    """A site, and its skyline where that is asked for."""
    return SiteReport(
        name=site.name,
        lat_deg=site.lat_deg,
        lon_deg=site.lon_deg,
        elevation_m=site.elevation_m,
        time_zone=site.time_zone or None,
        zenith_mag=site.zenith_mag,
        skyline=skyline,
    )
