"""A place as somebody typed it on the Prepare page: coordinates, a kept site, or a town."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from plumbstar.contract.asked import PlaceAnswer, TownRecord
from plumbstar.contract.parts import SiteRecord
from plumbstar.errors import UserError
from plumbstar.sky import coordinates
from plumbstar.sky.lists import towns
from plumbstar.sky.naming.names import fold
from plumbstar.sky.site import Site

MOST_TOWNS = 6


def site_record(s: Site) -> SiteRecord:
    """A site for the pages; ``words`` is its place to read."""
    return SiteRecord(
        lat_deg=s.lat_deg,
        lon_deg=s.lon_deg,
        elevation_m=s.elevation_m,
        name=s.name,
        time_zone=s.time_zone,
        zenith_mag=s.zenith_mag,
        words=coordinates.words(s.lat_deg, s.lon_deg, s.elevation_m),
    )


def look(kept: Sequence[Site], text: str) -> PlaceAnswer:
    """What the text may mean: coordinates, kept sites, towns; else why nothing was found.

    For the thinking thread: the list of towns takes a quarter of a second the first time.
    """
    text = text.strip()[:200]
    if not text:
        return PlaceAnswer()
    try:
        return PlaceAnswer(read=_read(Site.parse(text)))
    except UserError as e:
        refused = e
    wanted = fold(text)
    sites = tuple(site_record(s) for s in kept if wanted and wanted in fold(s.name))
    found: tuple[TownRecord, ...] = ()
    # A town's name has no figures: with some, the coordinates' own error says more.
    if wanted and not any(c.isdigit() for c in text):
        found = tuple(_town(t) for t in towns.load().find(text, MOST_TOWNS))
        refused = UserError(
            f"nothing by the name “{text[:60]}”",
            "a town of over 5,000 people, or coordinates",
            "Try a larger town near by, or type coordinates as 47.2, 11.6",
        )
    error = "" if sites or found else refused.on_pages()
    return PlaceAnswer(sites=sites, towns=found, error=error)


def _read(s: Site) -> SiteRecord:
    zone = towns.load().zone_at(s.lat_deg, s.lon_deg)
    return msgspec.structs.replace(site_record(s), time_zone=zone)


def _town(t: towns.Town) -> TownRecord:
    return TownRecord(
        label=t.label,
        lat_deg=t.lat_deg,
        lon_deg=t.lon_deg,
        time_zone=t.time_zone,
        words=coordinates.words(t.lat_deg, t.lon_deg, 0.0, 2),
    )
